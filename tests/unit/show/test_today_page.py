"""The page of one day: how much of it there is, in which order, and that no protective sentence is lost on it."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any, get_args

import pytest
from click.testing import CliRunner

from planner.cli import newtank
from planner.judge.kinds.done import DoneAsked
from planner.plan.day_jobs import Day, Job, Since
from planner.rulebook.kinds.event import EventNode
from planner.rulebook.provenance import Caution
from planner.rulebook.read import shipped
from planner.rulebook.shapes import AlertRule, Rulebook
from planner.rulebook.task_rule import TaskRule
from planner.rulebook.walk import leaves
from planner.rulebook.what_jobs_do import Act, only_forbids
from planner.show.terminal.joblines import standing_words
from planner.show.terminal.today import today_lines
from planner.show.terminal.today_tail import changed_words
from planner.show.words.together import NOT_TODAY
from planner.show.words.words import plain_text
from planner.terms.causes import Amount, Cause, cause
from planner.terms.problems import Place, Problem
from planner.terms.records import Answer, Hold, Moved, Need, Plan, State, Task, Trace, Waiting, Yielded
from planner.terms.texts import on_day
from planner.terms.traces import Asked, Disagree, Gap, Joined, Stale
from tests.rulecases import rulebook
from tests.unit.plan_builder import ON, hold, jobs_of_plan, need, phase, plan, quantity, task, window

MAINS = Caution(title="Mains beside water", line="Power off first.", weight="danger", text="Salt water conducts.", defer="Ask a licensed electrician.")
STINGS = Caution(title="Stings", weight="care", text="Wear gloves.", defer="Ask a doctor.")
ALERT = AlertRule.model_validate({"alert": "ammonia-alarm", "title": "Ammonia with animals", "rank": "ammonia", "when": {"event": "smell"}, "say": "Act now."})
RULES = Rulebook((), (ALERT,), {}, {}, {"mains": MAINS, "stings": STINGS}, words=rulebook().words)


def page(p: Plan, *, known: bool = True, width: int = 80, steps: bool = False, rules: Rulebook = RULES, folder: str = "", jobs: tuple[Job, ...] | None = None) -> str:
    """The page of a plan; `known`: each of its jobs was done before."""
    ticked = {t.key for t in p.tasks} if known else set()
    return plain_text(today_lines(Day(p, jobs_of_plan(p, rules, ticked) if jobs is None else jobs), rules, width, folder=folder, steps=steps))


def replace_text(caution: Caution, text: str) -> Caution:
    return caution.model_copy(update={"text": text})


def joined(text: str) -> str:
    return " ".join(text.split())


def due(id: str, **changes: object) -> Task:
    return task(id, ON, **({"state": State.DUE, "title": f"Do {id}", "minutes": 10} | changes))


# --- how much


def test_ten_jobs_known_by_heart_fit_into_45_lines_at_80_columns() -> None:
    rules = rulebook()
    ten = [due(key, title=rule.title, cautions=rule.cautions) for key, rule in list(rules.tasks.items())[:40:4]]
    week = [task(f"care/t{n}", ON + timedelta(days=n), title=f"Something else of some length, number {n}") for n in range(1, 6)]
    text = page(plan(*ten, *week, phase("animals")), rules=rules)
    assert all(f"{n:>3}  " in text for n in range(1, 11)) and len(text.splitlines()) <= 45


def test_a_job_known_by_heart_is_one_line_and_a_new_one_has_its_steps() -> None:
    job = due("water/mix", steps=("Stir slowly.",), watch=("Cloudy water needs an hour.",))
    assert "Stir slowly." not in page(plan(job))
    assert "Stir slowly." in page(plan(job), known=False) and "Cloudy water needs an hour." in page(plan(job), known=False)


def test_steps_of_every_job_are_there_on_request() -> None:
    text = page(plan(*(due(f"water/t{n}", steps=(f"Step of {n}.",), cautions=("mains",)) for n in range(9))), steps=True)
    assert all(f"Step of {n}." in text for n in range(9)) and "Salt water conducts." in text


def test_a_caution_told_in_full_bears_the_number_of_its_job() -> None:
    """Behind the steps of one job the warning of the next would be read as their end."""
    text = page(plan(due("water/t0", steps=("Step.",)), due("water/t1", steps=("Step.",), cautions=("mains",))), steps=True)
    assert "  2: Danger    Mains" in text and "  1: Danger" not in text


def test_new_jobs_that_find_no_room_say_where_their_steps_are() -> None:
    text = joined(page(plan(*(due(f"water/t{n}", steps=(f"Step of {n}.",) * 8) for n in range(9))), known=False))
    assert "Step of 0." in text and "Step of 8." not in text
    assert "Read all steps and cautions of each first, job " in text and " for instance: newtank today " in text


def test_the_first_remedy_of_an_alarm_has_its_steps_however_long_they_are() -> None:
    text = page(plan(due("ammonia-alarm/change", role="remedy", steps=("Step of it.",) * 60)), known=False)
    assert text.count("Step of it.") == 60


def test_of_several_remedies_that_are_new_those_that_find_no_room_keep_their_cautions_and_say_where_their_steps_are() -> None:
    jobs = [due(f"ammonia-alarm/t{n}", role="remedy", cautions=("mains", "stings"), steps=(f"Step of {n}.",) * 18) for n in range(4)]
    text = page(plan(*jobs), known=False)
    assert "Step of 0." in text and "Step of 3." not in text and len(text.splitlines()) <= 42
    assert "New to you: 2 to 4. Read all steps and cautions of each first, job 2 for instance: newtank today 2" in joined(text)
    assert "(as above: mains, stings) Do ammonia-alarm/t3" in text


def test_a_new_job_without_room_for_its_cautions_in_full_has_its_steps_behind_their_lines() -> None:
    job = due("site/a", cautions=("mains",), steps=("Begin.",) * 24)
    full, steps = page(plan(replace(job, steps=("Begin.",))), known=False), page(plan(job), known=False, rules=Rulebook((), (), {}, {}, {"mains": replace_text(MAINS, "Salt water conducts. " * 60)}))
    assert "Salt water conducts." in full and "newtank today 1" not in full.partition("newtank done")[0]
    assert "Begin." in steps and "Danger, mains: Power off first." in steps and "Salt water conducts." not in steps
    assert "New to you: 1. Read all steps and cautions first: newtank today 1" in joined(steps)


def test_what_only_ends_an_alarm_is_a_line_behind_its_remedies_where_the_page_is_full() -> None:
    jobs = [due(f"ammonia-alarm/{role}", role=role, steps=(f"How to {role}.",) * 30) for role in ("remedy", "step")]
    text = joined(page(plan(*jobs), known=False))
    assert "How to remedy." in text and "How to step." not in text and "New to you: 2. Read all steps" in text


def test_in_danger_the_page_tells_neither_what_comes_soon_nor_what_changed() -> None:
    text = page(plan(phase("animals", state="open", started=ON), due("ammonia-alarm/change"), task("site/later", date(2026, 3, 4), title="Later")))
    assert "Soon" not in text and "Where we are" not in text and "Buy no animals and begin no next step until the alarm is over." in joined(text)


def test_jobs_out_of_their_numbers_are_said_to_stand_in_the_order_to_do_them() -> None:
    jobs = (Job(2, due("ammonia-alarm/change"), "open", True), Job(1, due("ammonia-alarm/look", role="step"), "open", True))
    assert "in the order to do them" in page(plan(*(j.task for j in jobs)), jobs=jobs)
    assert "in the order to do them" not in page(plan(*(j.task for j in jobs)))


def test_no_more_than_three_terms_are_explained_on_a_page() -> None:
    text = page(plan(due("water/mix", steps=("Fill with RO water at 35 ppt and 8 dKH, by a refractometer, into the sump, with a siphon.",))), known=False)
    assert text.count("meaning   ") == 3


@pytest.mark.parametrize("width", [60, 80, 120])
def test_no_line_is_longer_than_the_terminal(width: int) -> None:
    long = "A very long title that has to go over several lines because somebody wrote all of it down in one single breath"
    t = due("water/mix", state=State.LATE, due=date(2026, 1, 1), title=long, steps=(long * 3,), watch=(long,), cautions=("mains", "stings"))
    p = plan(phase("water", title=long, state="open", started=ON, window=window(None), needs=(need(long),)), t, task("water/x", date(2026, 3, 4), title=long), hold("water", long), name=long, notices=(long,))
    for text in (page(p, width=width), page(p, width=width, known=False), page(p, width=width, steps=True)):
        assert max(len(line) for line in text.splitlines()) <= width


# --- the order


def test_on_a_day_of_danger_its_jobs_come_before_not_yet_and_three_commands_last() -> None:
    alarm = due("ammonia-alarm/change")
    p = plan(phase("animals", state="open", started=ON), due("site/level"), alarm, task("site/later", date(2026, 3, 4), title="Later"),
             Hold("fish", ON, "Ammonia with animals.", ("ammonia-alarm/change",), do="Ammonia is high."), waiting_for=(Waiting("animals", "t", (), window(date(2026, 4, 1))),))
    text = page(p)
    order = [text.index(w) for w in ("Danger       Ammonia with animals. Ammonia is high.", "Today", "Do ammonia-alarm/change", "1 ordinary job can wait", "Not yet", "newtank done 1", "newtank round", "newtank today 1 ")]
    assert order == sorted(order)
    assert [line.partition("  # ")[0].split() for line in text.splitlines()[-3:]] == [["newtank", "done", "1"], ["newtank", "round"], ["newtank", "today", "1"]]


def test_the_alarm_that_protects_people_stands_before_one_that_only_tests() -> None:
    rules = Rulebook((), tuple(AlertRule.model_validate({"alert": id, "title": f"Title {id}", "rank": rank, "when": {"event": "smell"}, "say": "Act."})
                               for id, rank in (("a", "nutrients"), ("b", "people"))), {}, {}, {})
    text = page(plan(due("a/act"), due("b/act")), rules=rules)
    assert text.index("Danger       Title b") < text.index("Care         Title a")


ALARMED = (Job(1, due("site/level"), "open", True), Job(2, due("site/room"), "open", True), Job(3, due("ammonia-alarm/change"), "open", True))
MILD = AlertRule.model_validate({"alert": "mild-alarm", "title": "Nitrate is up", "rank": "nutrients", "when": {"event": "smell"}, "say": "Look."})


def test_while_hands_stay_out_the_page_says_why_a_remedy_waits_and_who_may_act() -> None:
    """The animals may die meanwhile, so the exception has to stand on the short page too."""
    rules = rulebook()
    line = next(line for line in rules.apart if line.id == "hands-out-of-leak")
    waits = task("ammonia-three/change", ON + timedelta(days=1), role="remedy", yielded=(Yielded("put_off", line.id, until=ON + timedelta(days=1), because=line.say),))
    care = task("care/weekly-change", ON + timedelta(days=1), role="care", yielded=waits.yielded)
    told = joined(page(plan(due("leak/stop", role="remedy"), waits), rules=rules))
    assert told.count("What helps the animals without power") == 1
    assert "What helps the animals without power" not in joined(page(plan(due("leak/stop", role="remedy"), care), rules=rules))


def test_an_alarms_job_stands_first_and_keeps_its_number_while_ordinary_jobs_wait_in_one_line() -> None:
    text = page(plan(*(j.task for j in ALARMED)), jobs=ALARMED)
    assert "Today        1 job now, 10 minutes" in text and "  3  Do ammonia-alarm/change" in text
    assert "2 ordinary jobs can wait until tomorrow. See them: newtank today --steps" in joined(text) and "Do site/" not in text
    assert [line.partition("  # ")[0].strip() for line in text.splitlines()[-3:]] == ["newtank done 3", "newtank round", "newtank today 3"]


def test_on_the_day_of_an_alarm_a_test_that_another_job_makes_says_which_one() -> None:
    """“No need today, or on hold: Test the water” was read as leave to test nothing."""
    retest = due("ammonia-alarm/retest", title="Test ammonia")
    weekly = due("care/tests", title="Test the water", state=State.ON_HOLD, yielded=(Yielded("tested_with", to=retest.id, title="Test ammonia"),))
    asleep = due("care/feed", title="Feed", state=State.ON_HOLD)
    text = joined(page(plan(retest, weekly, asleep), jobs=(Job(1, weekly, "held", True), Job(2, retest, "open", True), Job(3, asleep, "held", True))))
    assert "Job 2 takes the place of: Test the water. On hold: Feed." in text and "No need today" not in text


def test_what_waits_beside_an_alarm_stands_below_it_on_request() -> None:
    text = page(plan(*(j.task for j in ALARMED)), jobs=ALARMED, steps=True)
    assert "can wait" not in text and text.index("Do ammonia-alarm/change") < text.index("Do site/level") < text.index("Do site/room")


def test_a_job_that_ends_a_hold_does_not_wait_beside_an_alarm() -> None:
    text = page(plan(*(j.task for j in ALARMED), Hold("fish", ON, "The room is open.", ("site/room",))), jobs=ALARMED)
    assert "  2  Do site/room" in text and "1 ordinary job can wait until tomorrow" in text


def test_beside_an_alarm_that_kills_nothing_soon_the_other_jobs_are_listed_below_its_own() -> None:
    rules = Rulebook((), (MILD,), {}, {}, {})
    jobs = (Job(1, due("site/level"), "open", True), Job(2, due("mild-alarm/change"), "open", True))
    text = page(plan(*(j.task for j in jobs)), jobs=jobs, rules=rules)
    assert "2 jobs, 20 minutes" in text and "can wait" not in text and text.index("  2  Do mild-alarm/change") < text.index("  1  Do site/level")


def test_once_the_remedy_is_ticked_and_no_test_shows_the_poison_the_other_jobs_are_back() -> None:
    jobs = (*ALARMED[:2], Job(3, due("ammonia-alarm/change"), "done", True), Job(4, due("ammonia-alarm/retest", role="test"), "open", True))
    text = page(plan(*(j.task for j in jobs if j.number != 3)), jobs=jobs)
    assert "Do site/level" in text and "can wait" not in text and text.index("  4  Do ammonia-alarm/retest") < text.index("  1  Do site/level")


def test_on_the_evening_of_the_remedy_the_other_jobs_still_wait_while_what_raised_the_alarm_stands() -> None:
    """“5 ordinary jobs can wait until tomorrow” came back an hour later as “5 jobs now”, below the same danger."""
    jobs = (*ALARMED[:2], Job(3, due("ammonia-alarm/change"), "done", True), Job(4, due("ammonia-alarm/retest", role="test", later=True), "open", True))
    def told(trace: Trace) -> str:
        return joined(page(replace(plan(*(j.task for j in jobs if j.number != 3)), traces={"ammonia-alarm/retest": trace}), jobs=jobs))
    read = told(Trace(Asked(), Answer.YES))
    assert "2 ordinary jobs can wait until tomorrow" in read and "Do site/level" not in read and "Later: Do ammonia-alarm/retest" in read
    assert "can wait" not in told(Trace(Asked(), Answer.UNKNOWN, gap=Disagree()))


def test_jobs_stand_in_the_order_of_the_evening() -> None:
    text = page(plan(*(due(key, title=key) for key in ("care/pumps", "cycle/re-dose", "care/weekly-change", "cycle/tests", "start-up/top-up", "cycle/look"))), rules=rulebook())
    found = [line.split()[-1] for line in text.splitlines() if line[:3].strip().isdigit()]
    assert found == ["cycle/look", "start-up/top-up", "cycle/tests", "care/pumps", "care/weekly-change", "cycle/re-dose"]


def test_nothing_to_do_names_the_next_job_and_what_the_gate_waits_for() -> None:
    waiting = Waiting("cycle", "The filter works", (need("nitrite clear", Answer.NO), need("ammonia clear", Answer.YES)), window(date(2026, 4, 1)))
    text = joined(page(plan(phase("cycle"), task("water/mix", date(2026, 3, 20), title="Mix the salt"), waiting_for=(waiting,))))
    assert "Nothing to do. Next: Mix the salt, Fri 20 Mar, in 18 days." in text
    assert "Still open To end “Cycle”: nitrite clear." in text


def test_a_job_that_the_gate_asks_for_is_no_second_thing_to_wait_for() -> None:
    tick = Need(Trace(DoneAsked(title="Level the stand", task="site/level"), Answer.NO))
    assert "Still open" not in joined(page(plan(phase("site"), waiting_for=(Waiting("site", "The place", (tick,), window(date(2026, 4, 1))),))))


def test_nothing_to_do_names_what_the_next_animals_wait_for_before_what_the_gate_asks() -> None:
    def waits(*because: Cause, state: State = State.WAITING, opened: date | None = date(2026, 2, 27)) -> str:
        snails = task("crew/stage#1", date(2026, 3, 20), title="Bring in 4 snails", animals=(("turbo-fluctuosa", 4),), state=state, because=because)
        waiting = Waiting("fish", "The first fish", (need("bring in the first fish", Answer.NO),), window(date(2026, 4, 1)))
        return joined(page(plan(phase("animals", opened=opened), phase("fish"), snails, waiting_for=(waiting,))))
    film = cause("open_guards", guards=(need("film was seen", Answer.NO).trace,))
    assert "Still open “Bring in 4 snails” waits until film was seen." in waits(film) and "first fish" not in waits(film)
    # In a tank that is not open for animals yet snails are no matter of today.
    for other in (waits(), waits(film, state=State.DONE), waits(film, opened=None)):
        assert "Still open To end “Fish”: bring in the first fish." in other and "film" not in other


def test_an_empty_plan_still_answers() -> None:
    assert "Nothing to do. No task is dated ahead." in joined(page(plan()))


# --- the lines of jobs


def test_the_amount_that_a_tick_would_write_stands_in_the_line_in_the_buyers_units() -> None:
    rules = Rulebook((), (), {}, {}, {}, tasks={"cycle/dose": TaskRule.model_validate({"id": "dose", "title": "Dose", "writes": {"kind": "dosed", "what": "ammonia", "amount": "dose_g"}})})
    job = due("cycle/dose", title="Dose", amounts=(("rise", quantity("rise", 2, "mg/L as N")), ("dose_g", quantity("dose_g", 37.854, "L"))))
    assert "Dose, 10 gal" in page(plan(job, units="us"), rules=rules) and "Dose, 38 L" in page(plan(job), rules=rules)


def test_a_line_that_may_hide_an_alarm_is_told_before_the_alarms() -> None:
    told = replace(plan(due("ammonia-alarm/change", role="remedy")), problems=(Problem(Place("journal.csv", 7, 1), "unknown-kind", "unknown kind", "write `reading`"),), notices=(cause("may_be_false"),))
    text = joined(page(told))
    assert text.count("Mend the line first") == 1 and text.index("Mend the line first") < text.index("Danger")


def test_a_late_job_says_by_how_much() -> None:
    assert "3 days late" in page(plan(due("water/mix", due=date(2026, 2, 27), state=State.LATE)))


@pytest.mark.parametrize(("days", "said"), [(28, "28 days late"), (29, "late")])
def test_nobody_counts_the_days_of_a_job_that_is_late_by_more_than_four_weeks(days: int, said: str) -> None:
    row = next(line for line in page(plan(due("care/stony-tests", due=ON - timedelta(days=days), state=State.LATE))).splitlines() if "Do care" in line)
    assert row.endswith(f" {said}") and (days <= 28 or str(days) not in row)


def test_an_animal_is_never_late() -> None:
    assert " late" not in page(plan(due("corals/stage", role="animals", due=ON - timedelta(days=7), state=State.LATE)))


def test_a_ticked_job_keeps_its_number_and_says_so() -> None:
    jobs = (Job(1, due("a/one"), "done", True), Job(2, due("a/two"), "open", True))
    text = page(plan(due("a/two")), jobs=jobs)
    assert "  1  Do a/one" in text and "done" in text.splitlines()[next(n for n, line in enumerate(text.splitlines()) if "Do a/one" in line)]
    assert [line.partition("  # ")[0].strip() for line in text.splitlines()[-2:]] == ["newtank done 2", "newtank round"]


def test_what_was_ticked_or_fell_away_stands_below_the_open_jobs_after_a_blank_line() -> None:
    jobs = (Job(1, due("a/one"), "done", True), Job(2, due("a/two"), "open", True), Job(3, due("a/three"), "gone", True))
    lines = page(plan(due("a/two")), jobs=jobs).splitlines()
    begun = lines.index("Today        1 job, 10 minutes")
    assert [line[:3].strip() for line in lines[begun + 1 : begun + 5]] == ["2", "", "1", "3"]
    assert "no longer asked for" in lines[begun + 4]


def test_the_step_that_falls_away_is_named_with_the_number_of_the_job_that_goes_first() -> None:
    care = due("care/look", yielded=(Yielded("step_left_out", "fasting", "ammonia-alarm/change", "Change half", None, "Meals become ammonia.", ("feeds",)),))
    jobs = (Job(1, care, "open", True), Job(2, due("ammonia-alarm/change"), "open", True))
    text = joined(page(plan(*(j.task for j in jobs)), jobs=jobs, steps=True))
    assert "Do not feed today. Meals become ammonia." in text


def test_each_act_whose_step_can_fall_away_has_its_words() -> None:
    assert set(NOT_TODAY) == set(get_args(Act))


def test_the_command_to_copy_never_ticks_what_ends_an_alarm() -> None:
    """Of each task that the rules name as the end of an event, beside a job that ends nothing."""
    rules = rulebook()
    ends = sorted({leaf.ended_by for a in rules.alerts for leaf, _ in leaves(a.when) if isinstance(leaf, EventNode) and leaf.ended_by})
    assert {"heater-off/replaced", "pump-stopped/running", "electric-shock/found", "animal-missing/found", "power-cut-stocked/restart"} <= set(ends)
    for end in ends:
        beside = f"{end.partition('/')[0]}/other"
        jobs = jobs_of_plan(plan(due(beside), due(end)), rules, set())
        number = next(j.number for j in jobs if j.task.id == beside)
        assert [line for line in page(plan(due(beside), due(end)), rules=rules).splitlines() if re.match(rf"newtank done {number} +# ", line)]
        assert "newtank done" not in page(plan(due(end)), rules=rules)


def test_commands_stand_below_each_other_in_a_folder_with_a_long_name_too() -> None:
    text = page(plan(due("a/one")), folder="somewhere/under/a/long/path/my-tank", known=False)
    assert [line.split("  ")[0] for line in text.splitlines()[-3:]] == [f"newtank {c} somewhere/under/a/long/path/my-tank{n}" for c, n in (("done", " 1"), ("round", ""), ("today", " 1"))]


def test_an_order_that_gave_way_says_why() -> None:
    gone = task("cycle/dose", date(2026, 3, 4), due=ON, title="Dose", yielded=(Yielded("put_off", "x", "", "Add fish", date(2026, 3, 4), "Ammonia kills."),))
    text = joined(page(plan(gone)))
    assert "Dose. " in text and "Wed 4 Mar 2026" in text and "“Add fish” goes first" in text and text.count("Ammonia kills.") == 1


def test_nobody_is_asked_about_animals_whose_day_is_ahead() -> None:
    ahead = task("fish/stage#2", ON + timedelta(days=8), title="Bring the fish", yielded=(Yielded("asked", to="fish/stage#2"),))
    assert "Did they come?" not in page(plan(ahead))


def test_animals_whose_day_passed_are_asked_for_first_in_a_line_each() -> None:
    asked = [due(f"fish/stage#{n}", title=f"Bring in the fish of stage {n}", yielded=(Yielded("asked", to=f"fish/stage#{n}"),)) for n in (1, 2, 3)]
    lines = page(plan(*asked)).splitlines()
    questions = [n for n, line in enumerate(lines) if "Did they come?" in line]
    assert questions == list(range(questions[0], questions[0] + 3)) and "Today" in "".join(lines[questions[-1]:])
    assert "newtank done 1" in joined(page(plan(*asked))) and "newtank postpone 1 --to DATE" in joined(page(plan(*asked)))


# --- holds


def test_a_hold_tells_its_reason_which_job_clears_it_and_what_it_keeps_back() -> None:
    held = [task(f"fish/t{n}", date(2026, 3, 5), state=State.ON_HOLD, title=f"Buy fish {n}") for n in range(5)]
    text = joined(page(plan(phase("leak-test"), due("site/shop"), due("leak-test/restart"), *held, Hold("leak-test", ON, "It leaked.", ("leak-test/restart",)))))
    assert "It leaked. Do 2 instead." in text and "On hold: Buy fish 0; Buy fish 1; Buy fish 2 and 2 more." in text


@pytest.mark.parametrize(("gap", "day", "state", "told"), [(Stale(24.0), 20, State.PLANNED, False), (Stale(24.0), 2, State.ON_HOLD, True), (Stale(24.0), 20, State.ON_HOLD, False), (Disagree(), 20, State.PLANNED, True)])
def test_a_missing_test_is_no_news_while_nothing_comes_in_that_it_stops(gap: Gap, day: int, state: State, told: bool) -> None:
    """What another cause holds for weeks does not wait for a test of today."""
    reading = Trace(Asked(), Answer.UNKNOWN, (gap,), gap=gap, say="ammonia clear")
    untested = Hold("animals", ON, "Not tested within a day.", (), Trace(Joined(how="not"), Answer.UNKNOWN, (gap,), parts=(reading,), gap=gap))
    assert ("Not tested within a day." in page(plan(phase("animals"), task("fish/stage", date(2026, 3, day), role="animals", state=state), untested))) == told


def test_what_an_alarm_holds_stands_beside_its_cause() -> None:
    """It was read as held for want of a test of ammonia, while alkalinity was what had to come back."""
    reading = Trace(Asked(), Answer.UNKNOWN, (Stale(24.0),), gap=Stale(24.0))
    untested = Hold("animals", ON, "Not tested within a day.", (), Trace(Joined(how="not"), Answer.UNKNOWN, (Stale(24.0),), parts=(reading,), gap=Stale(24.0)))
    corals = task("corals/stage", date(2026, 3, 20), role="animals", state=State.ON_HOLD, title="Bring in the corals")
    text = joined(page(plan(phase("animals", opened=ON), due("mild-alarm/act"), corals, untested, Hold("corals", ON, "Nitrate is up.", ("mild-alarm/act",), do="Look.")), rules=Rulebook((), (MILD,), {}, {}, {})))
    assert "Not yet Nitrate is up. On hold: Bring in the corals." in text and "Not tested" not in text


# --- what changed


def test_what_moved_is_told_as_the_sum_of_what_was_entered_since_yesterday() -> None:
    """A test may put a day off and the dose that it calls bring it forward: each was answered with its own part, and none is the whole."""
    cycle = phase("cycle", title="Grow the filter", role="proves_filter", state="open", started=ON)
    def said(role: str, later: int) -> str:
        moved = Moved("gate/cycle", "Grow the filter", date(2026, 3, 15), date(2026, 3, 15 + later), "")
        return changed_words(Day(plan(replace(cycle, role=role)), (), since=Since(moved=(moved,))), 80)
    assert said("proves_filter", 2) == "Filter ready 2 days later in all since Sun 1, about Tue 17 Mar."
    assert said("step", -1) == "“Grow the filter” over 1 day earlier in all since Sun 1, about Sat 14 Mar."
    assert said("proves_filter", 0) == ""


# --- soon


def test_soon_holds_five_jobs_of_one_week_and_no_repetition() -> None:
    week = [task(f"care/look#{n}", date(2026, 3, 2 + n), title="Look at the tank") for n in range(1, 7)]
    more = [task(f"care/t{n}", date(2026, 3, 4), title=f"Thing {n}") for n in range(6)] + [task("care/far", date(2026, 3, 10), title="Far away")]
    text = page(plan(*week, *more))
    assert text.split("Soon")[1].count("Look at the tank") == 1 and "Thing 3" in text and "Thing 4" not in text and "Far away" not in text


def test_what_may_come_soon_says_maybe() -> None:
    assert "maybe: Dose ammonia" in page(plan(task("cycle/dose", date(2026, 3, 5), state=State.WAITING, tentative=True, title="Dose ammonia")))


def test_the_first_job_that_waits_for_the_end_of_the_phase_in_hand_says_so() -> None:
    waiting = Waiting("site", "The place", (need("level", Answer.NO),), window(date(2026, 4, 1)))
    seams, fill = (task(f"leak-test/{id}", date(2026, 3, 5), state=State.WAITING, tentative=True, depends_on="site", title=id) for id in ("seams", "fill"))
    text = joined(page(plan(phase("site"), phase("leak-test"), seams, fill, waiting_for=(waiting,))))
    assert "once this phase is done: seams" in text and "maybe: fill" in text


def test_of_two_doses_of_one_thing_on_one_day_the_test_calls_one() -> None:
    def soon(day: date = date(2026, 3, 5), **second: object) -> str:
        dose: dict[str, Any] = {"state": State.WAITING, "tentative": True, "writes": ("dosed", "ammonia")}
        both = task("cycle/a", date(2026, 3, 5), **dose, title="Feed the filter"), task("cycle/b", day, **(dose | {"title": "Prove the filter"} | second))
        return page(plan(*both)).partition("Soon")[2]
    assert "maybe: Feed the filter " in soon() and "or, as the test says: Prove the filter " in soon()
    for other in (soon(date(2026, 3, 6)), soon(writes=("dosed", "alkalinity")), soon(writes=None)):
        assert "maybe: Prove the filter " in other and "as the test says" not in other
    assert "maybe: Prove" not in soon(tentative=False) and "as the test says" not in soon(tentative=False)


# --- protective sentences


def test_a_caution_stands_in_its_line_once_and_as_a_keyword_before_each_further_job() -> None:
    text = page(plan(*(due(f"site/{n}", cautions=("mains",)) for n in "abc")))
    assert text.count("Danger, mains: Power off first.") == 1 and text.count("(as above: mains) Do site/") == 2
    assert text.index("Danger, mains") < text.index("Do site/a")


def test_a_caution_stands_directly_above_the_job_that_it_guards_with_its_number() -> None:
    """Without the number it was read as the end of the job above it."""
    lines = page(plan(due("site/a", cautions=("mains",)), due("site/b", cautions=("mains", "stings")))).splitlines()
    begun = lines.index("Today        2 jobs, 20 minutes")
    assert [" ".join(line.split()) for line in lines[begun + 1 : begun + 5]] == ["1: Danger, mains: Power off first.", "1 Do site/a", "2: Care: Stings", "2 (as above: mains) Do site/b"]


def test_a_caution_without_a_line_of_its_own_is_told_by_its_title_and_weight() -> None:
    assert "Care: Stings" in page(plan(due("site/a", cautions=("stings",))))


def test_a_new_job_has_its_cautions_in_full_before_its_steps() -> None:
    text = joined(page(plan(due("site/a", cautions=("mains",), steps=("Begin.",))), known=False))
    assert text.index("Mains beside water. Salt water conducts. Ask a licensed electrician.") < text.index("Begin.")


def test_a_quiet_day_fits_in_twenty_four_lines_of_eighty_columns(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """The old size of a terminal window, and the most that a quiet day may take."""
    story = shipped("scenarios") / "dry-rock-us"
    (tmp_path / "tank.yaml").write_bytes((story / "tank.yaml").read_bytes())
    head, *rows = (story / "journal.csv").read_text(encoding="utf-8").splitlines()
    (tmp_path / "journal.csv").write_text("\n".join([head, *(r for r in rows if r[:10] <= "2026-02-13")]) + "\n", encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    told = CliRunner().invoke(newtank, ["today", "--on", "2026-02-13"], env={"COLUMNS": "80"}).output.splitlines()
    assert "Today        2 jobs, 7 minutes" in told
    assert len(told) <= 24 and max(map(len, told)) <= 80, "\n".join(told)


DAYS_OF_A_STORY = [date(2026, 1, 10) + timedelta(days=n) for n in range(0, 145, 4)]


@pytest.mark.parametrize("on", [day if n % 9 == 0 else pytest.param(day, marks=pytest.mark.slow) for n, day in enumerate(DAYS_OF_A_STORY)], ids=str)
def test_the_morning_page_of_every_quiet_day_fits_in_twenty_four_lines(on: date, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """A day is quiet if it has three jobs at most of an hour or so, none of them new, and no alarm is up; with more to do it may take six lines more."""
    story = shipped("scenarios") / "dry-rock-us"
    (tmp_path / "tank.yaml").write_bytes((story / "tank.yaml").read_bytes())
    head, *rows = (story / "journal.csv").read_text(encoding="utf-8").splitlines()
    (tmp_path / "journal.csv").write_text("\n".join([head, *(r for r in rows if r[:10] < on.isoformat())]) + "\n", encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    told = CliRunner().invoke(newtank, ["today", "--on", on.isoformat()], env={"COLUMNS": "80"}).output.splitlines()
    new = any(re.search(r"  new(, \d+ days? late)?$", line) or line.startswith(("Danger", "Care", "Alarm")) for line in told)
    jobs = sum(bool(re.match(r"  \d  ", line)) for line in told)
    much = jobs > 3 or any(line.startswith("Today") and "hours" in line for line in told)
    assert new or len(told) <= (30 if much else 24), "\n".join(told)


def test_what_lies_ahead_of_the_filter_waits_for_the_plan_where_a_quiet_page_would_grow_long(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(shipped("scenarios").parent)
    today, plan_ = (CliRunner().invoke(newtank, [*command, "--on", "2026-02-13"], env={"COLUMNS": "80"}).output for command in (["today", "scenarios/dry-rock-us"], ["plan", "scenarios/dry-rock-us", "cycle"]))
    assert "your kit stops at" not in joined(today) and "your kit stops at" in joined(plan_)


def test_an_alarm_says_what_was_read_and_how_to_log_the_test_that_ends_it(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """In a folder with so long a name that four commands find no room on a line."""
    folder = tmp_path / "the-reef-in-the-study"
    folder.mkdir()
    story = shipped("scenarios") / "dry-rock-us"
    (folder / "tank.yaml").write_bytes((story / "tank.yaml").read_bytes())
    head, *rows = (story / "journal.csv").read_text(encoding="utf-8").splitlines()
    read = "2026-05-10T19:00-05:00,reading,ammonia,0.75,mg/L as NH3,display,"
    (folder / "journal.csv").write_text("\n".join([head, *(r for r in rows if r[:10] <= "2026-05-10"), read]) + "\n", encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    told = CliRunner().invoke(newtank, ["today", folder.name, "--on", "2026-05-10"], env={"COLUMNS": "80"}).output
    assert "Tested: ammonia 0.75 mg/L as NH3. This much ammonia harms gills" in joined(told)
    later = CliRunner().invoke(newtank, ["today", folder.name, "--on", "2026-05-11"], env={"COLUMNS": "80"}).output
    assert "Tested: ammonia 0.75 mg/L as NH3 (10 May). This much" in joined(later)
    assert f"newtank log {folder.name}" in [line.split("  ")[0] for line in told.splitlines()]


def test_before_its_first_day_nobody_is_told_that_the_tank_runs() -> None:
    """A plan of phases that are all ahead, with its first job on a day to come."""
    ahead = plan(phase("site"), phase("leak-test"), due("site/place", date=ON + timedelta(days=3), state=State.PLANNED), waiting_for=())
    text = page(ahead)
    assert "The tank runs" not in text and "The plan begins on Thursday 5 March." in text


# --- what only forbids, what is milder, what is short


def test_half_a_meal_is_given_and_so_is_a_job() -> None:
    """An order that only forbids stands above the jobs; who reads half a meal there would fast the fish."""
    halved = [key for key, task in rulebook().tasks.items() if set(task.acts) & {"feeds_half", "feeds_less"}]
    assert len(halved) > 3 and [key for key in halved if only_forbids(rulebook().tasks[key])] == []


def test_an_order_that_only_forbids_is_no_job_and_stands_above_what_would_break_it() -> None:
    rules = rulebook()
    pause = due("cycle/pause", title=rules.tasks["cycle/pause"].title, steps=("Keep testing as planned.",))
    meal = task("cycle/re-dose", ON + timedelta(days=2), state=State.WAITING, tentative=True, title="Feed the filter")
    other = task("cycle/weekly-tests", ON + timedelta(days=3), title="Test the water")
    text = page(plan(phase("cycle", state="open", started=ON), pause, due("cycle/look"), meal, other), rules=rules)
    assert "Give no ammonia and no food until the readings come down. Keep testing as planned." in joined(text.partition("Today ")[0])
    assert "1 job, 10 minutes" in text and "Give no ammonia" not in text.partition("Today ")[2]
    assert "Test the water" in text and "Feed the filter" not in text


def test_beside_a_danger_a_milder_alarm_is_care_and_stands_below_it_by_its_name() -> None:
    rules = rulebook()
    mild, grave = due("nitrite-doubt/retest", role="test"), due("ammonia-three/change", role="remedy")
    both, alone = page(plan(mild, grave), rules=rules), page(plan(mild), rules=rules)
    assert both.index("Danger       Ammonia with animals in") < both.index("Care         A little nitrite shows.\n")
    assert "Care         A little nitrite shows." in alone and "Danger       A little" not in alone


def test_beside_a_danger_a_milder_alarm_that_says_what_to_feed_says_it() -> None:
    rules = rulebook()
    say = next(a.say for a in rules.alerts if a.alert == "ammonia-doubt")
    told = replace(plan(due("ammonia-doubt/retest", role="test"), due("leak/stop", role="remedy")), notices=(cause("alarm", alert="ammonia-doubt", told=say),))
    assert "Until then feed nothing and add nothing." in joined(page(told, rules=rules))


def test_in_danger_what_is_good_to_know_waits_for_the_plan_but_not_a_line_that_cannot_be_read() -> None:
    told = replace(plan(due("ammonia-alarm/change", role="remedy")), notices=("Palytoxin waits.", cause("damaged_line", told="Journal line 7 cannot be read: what it says is unknown.")))
    text = joined(page(told))
    assert "Palytoxin" not in text and "Journal line 7 cannot be read" in text
    assert "Palytoxin" in joined(page(told, jobs=()))


@pytest.mark.parametrize("on", [date(2027, 1, 1), date(2026, 12, 28)])
def test_a_day_of_the_next_year_keeps_its_distance_from_the_job(on: date) -> None:
    told = replace(plan(task("care/a", date(2027, 1, 3), title="Test nitrate")), on=on)
    assert "Sun 3   Test nitrate" in page(told)


def test_a_long_day_of_known_jobs_tells_less_of_what_is_far_and_keeps_two_lines_of_it() -> None:
    week = [task(f"care/t{n}", ON + timedelta(days=n), title=f"Thing {n}") for n in range(1, 6)]
    long = [due(f"site/j{n}") for n in range(12)]
    short, full = page(plan(*long[:1], *week)), page(plan(*long, *week))
    assert "Thing 5" in short and "Thing 2" in full and "Thing 5" not in full
    assert len(full.splitlines()) <= 24


def test_of_two_meals_the_page_names_the_job_that_feeds_and_how_much() -> None:
    line = next(a for a in rulebook().apart if a.id == "one-meal")
    assert "{food_minutes}" in line.say
    why = Yielded("step_left_out", line.id, "fish/test", "Test after the fish", None, line.say, instead=line.instead, what=("feeds",))
    text = joined(page(plan(due("fish/test"), due("care/look", yielded=(why,)))))
    assert "Feed once today, not twice. Job 1 sets today's meal. Give no more than they eat in" in text


def test_one_figure_alone_says_on_a_page_when_ammonia_is_given_again() -> None:
    """The highest step of the kit below the limit, which stands among what must not happen yet, and in the job's steps."""
    meal = rulebook().tasks["cycle/re-dose"]
    assert "{" not in meal.title and any("{fed_again_at}" in step for step in meal.steps) and not any("{redose_below}" in text for text in (*meal.steps, *meal.because))


def test_the_day_of_a_return_is_not_called_a_day_with_nothing_to_do() -> None:
    quiet = Day(plan(), ())
    told = {back: plain_text(today_lines(quiet, rulebook(), 100, back=back)) for back in (True, False)}
    assert "Do what your return asks for" in told[True] and "Nothing to do" not in told[True] and "Nothing to do" in told[False]


def test_a_date_within_a_sentence_is_written_as_on_the_rest_of_the_page() -> None:
    notice = cause("spike", day=on_day(ON, "on "), clear=cause("not_clear_yet"), quiet=on_day(ON + timedelta(days=14)))
    told = joined(page(replace(plan(), notices=(notice,))))
    assert "on Mon 2 Mar, after animals came" in told and "after Mon 16 Mar at the earliest" in told


def test_what_is_done_hours_later_stands_behind_what_is_done_now_and_takes_none_of_its_minutes() -> None:
    look = due("stray/look", title="Look at the tank", minutes=5)
    retest = due("ammonia-one/retest", role="test", minutes=20, later=True)  # an alarm's jobs come before all others, but for this
    text = page(plan(retest, look), rules=rulebook(), jobs=(Job(1, retest, "open", True), Job(2, look, "open", True)))
    assert "1 job now, 5 minutes, and 1 later" in text and text.index("Look at the tank") < text.index("Later: Do ammonia-one/retest")


def test_under_an_alarm_a_job_that_was_put_off_is_named() -> None:
    jobs = (Job(1, due("ammonia-alarm/change", role="remedy"), "open", True), Job(2, due("lights/longer", title="Leave the light on longer"), "put_off", True))
    assert "Put off because of the alarm: Leave the light on longer." in joined(page(plan(*(j.task for j in jobs)), jobs=jobs))


@pytest.mark.parametrize("folder", ["", "somewhere/far/away/on/this/machine"])
def test_commands_say_what_they_do(folder: str) -> None:
    def said(known: bool) -> list[str]:
        return [line.partition("  # ")[2] for line in page(plan(due("water/mix")), folder=folder, known=known).splitlines() if "  # " in line]

    assert said(False) == ["tick what you did", "be asked job by job", "read all of job 1"]
    assert said(True) == ["tick what you did", "be asked job by job"]


def test_what_is_poured_is_ticked_with_its_amount() -> None:
    """Every dose is worked out from it; a line that ticks it with the rest would write down the plan's own figure."""
    text = page(plan(due("scape/rock"), due("scape/fill", writes=("poured", "water"))))
    assert "newtank done 1 " in text and "newtank done 2 --amount AMOUNT" in text and "done 1 2" not in text


def test_the_commands_keep_their_remarks_in_a_folder_with_a_long_name_and_an_amount_is_shown_as_it_is_typed() -> None:
    change = due("ammonia-one/change", role="remedy", writes=("changed_water", "water"), amounts=(("ammonia_change", Amount(35.6, "L", side="up")),))
    for folder in ("", "/home/somebody/reef-in-the-hall"):
        *_, tick, does = page(plan(change), rules=rulebook(), folder=folder).partition("--amount AMOUNT")
        assert "# what you really changed, such as 36L" in does
        others = [line for line in f"newtank{does}".splitlines()[1:] if line.startswith("newtank")]
        assert others and all("  # " in line for line in others)


def test_what_hangs_on_a_job_on_hold_is_not_told_as_coming_soon() -> None:
    def soon(state: State) -> str:
        coming = task("rock/inspect", ON + timedelta(days=1), title="Smell the rock", state=State.WAITING)
        return page(plan(due("care/look"), task("rock/receive", ON, title="Unpack it", state=state), coming), rules=rulebook())

    assert "Smell the rock" in soon(State.PLANNED) and "Smell the rock" not in soon(State.ON_HOLD)


def test_a_day_with_a_test_says_how_to_write_it_down() -> None:
    """Whoever has a long folder saw `done 1` for a job and nothing for the test beside it."""
    text = page(plan(due("water/mix"), due("cycle/tests", role="test", reads=("ammonia", "nitrite"))), folder="somewhere/far/away/on/this/machine")
    assert "newtank log somewhere/far/away/on/this/machine" in text and "# write down the results of 2" in text


def test_a_job_that_waits_for_a_test_of_today_is_not_said_to_be_moved_to_today() -> None:
    waits, moved = task("cycle/re-dose#1", ON, state=State.WAITING), task("cycle/re-dose#1", ON + timedelta(days=1), state=State.PLANNED)
    assert [standing_words(Job(1, t, "put_off", True), plan(t)) for t in (waits, moved)] == ["not today", "moved to Tue 3 Mar"]


@pytest.mark.parametrize(("due_day", "told"), [(2, True), (5, False)])
def test_what_gives_way_on_a_later_day_is_not_told_before_that_day(due_day: int, told: bool) -> None:
    """Seven pages said “Not today” of a job that was not due on any of them."""
    until = date(2026, 3, 7)
    pumps = task("care/pumps", until, due=date(2026, 3, due_day), role="care", title="Clean pumps and heater",
                 yielded=(Yielded("put_off", "change-then-cleaning", "care/weekly-change", "Change the water", until, "Leave 3 days between them."),))
    text = joined(page(plan(pumps, due("site/level"))))
    assert ("Not today: Clean pumps and heater. Moved to Sat 7 Mar" in text) == told and "Clean pumps and heater" in text
