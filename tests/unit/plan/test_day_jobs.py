"""The numbers of a day's list: they stand still while the day goes on, and nothing remembers them but the journal."""

from __future__ import annotations

from datetime import date

from planner.plan.day_jobs import Day, day_of
from planner.plan.make import make_plan
from planner.show.paper.wall import not_yet
from planner.show.terminal.today import stands_words
from planner.show.words.conditions import food_words
from planner.terms.records import URGENT, Journal, Plan
from tests.engine_desk import journal_of, tank_with
from tests.rulecases import rulebook

ON = date(2026, 3, 9)
TANK = tank_with(already={"start-up": date(2026, 3, 1)})
BEFORE = ("2026-03-02 09:00,done,cycle/first-dose", "2026-03-02 09:00,dosed,ammonia,2,mg/L as N", "2026-03-07 09:00,reading,ammonia,1,mg/L as N", "2026-03-07 09:00,reading,nitrite,1,mg/L as N",
          "2026-03-07 09:00,done,cycle/tests#1")


def day(*today: str, on: date = ON) -> Day:
    """The day of a cycling tank after these rows of today."""
    journal = journal_of(*BEFORE, *today)

    def make(rows: Journal, day: date) -> Plan:
        return make_plan(TANK, rows, rulebook(), day)

    return day_of(TANK, journal, rulebook(), make(journal, on), make)


def numbers(day: Day) -> dict[str, int]:
    return {j.task.key: j.number for j in day.jobs}


def standing(day: Day) -> dict[str, str]:
    return {j.task.key: j.standing for j in day.jobs}


def test_the_list_has_everything_that_is_late_or_due_and_counts_from_1() -> None:
    found = day()
    assert {j.task.id for j in found.jobs} == {t.id for t in found.plan.tasks if t.state in URGENT}
    assert [j.number for j in found.jobs] == list(range(1, len(found.jobs) + 1)) and len(found.jobs) >= 3


def test_a_tick_changes_no_number_and_the_job_is_done_until_midnight() -> None:
    before = day()
    first = before.jobs[0].task
    after = day(f"2026-03-09 18:00,done,{first.id}")
    assert numbers(after) == numbers(before)
    assert after.jobs[0].standing == "done" and all(j.standing == "open" for j in after.jobs[1:])
    tomorrow = day(f"2026-03-09 18:00,done,{first.id}", on=date(2026, 3, 10))
    assert all(j.standing == "open" for j in tomorrow.jobs)


def test_what_comes_up_during_the_day_is_appended_in_the_order_of_the_journal() -> None:
    leak, high = "2026-03-09 18:00,event,leak", "2026-03-09 18:00,reading,ammonia,6,mg/L as N"
    morning = numbers(day())
    one, other = day(leak), day(high)
    by_one, by_other = ({k for k in numbers(d) if k not in morning} for d in (one, other))
    assert by_one and by_other and not by_one & by_other
    both = day(leak, high)
    assert {k: n for k, n in numbers(both).items() if k in morning} == morning
    assert {k: n for k, n in numbers(both).items() if k in by_one} == {k: n for k, n in numbers(one).items() if k in by_one}
    assert all(n > len(one.jobs) for k, n in numbers(both).items() if k in by_other)
    turned = numbers(day(high, leak))
    assert max(turned[k] for k in by_other if k in turned) <= len(other.jobs) < min(turned[k] for k in by_one - by_other if k in turned)


def test_a_job_ticked_twice_on_its_day_leaves_the_numbers_of_the_others() -> None:
    """The second large change of an evening: both ticks are done jobs, though the plan has dated the next one already."""
    rows = ("2026-03-09 17:00,added,ocellaris clownfish,2,", "2026-03-09 18:00,reading,ammonia,2,mg/L as N", "2026-03-09 18:30,done,ammonia-three/change#1,,", "2026-03-09 18:30,changed_water,water,50,%",
            "2026-03-09 19:35,reading,ammonia,1,mg/L as N", "2026-03-09 19:35,done,ammonia-three/retest#1,,", "2026-03-09 20:00,done,ammonia-three/change#2,,", "2026-03-09 20:00,changed_water,water,50,%")
    before, after = day(*rows), day(*rows, "2026-03-09 21:05,reading,ammonia,1,mg/L as N", "2026-03-09 21:05,done,ammonia-three/retest#2,,")
    assert numbers(after)["ammonia-three/second"] == numbers(before)["ammonia-three/second"]
    assert {"ammonia-three/change#1", "ammonia-three/change#2"} <= {j.task.id for j in after.jobs if j.standing == "done"}


def test_what_came_up_today_and_was_ticked_keeps_its_number_too() -> None:
    high = "2026-03-09 18:05,reading,ammonia,6,mg/L as N"
    up = [j for j in day(high).jobs if j.task.key not in numbers(day())]
    ticked = day(high, f"2026-03-09 18:30,done,{up[0].task.id}")
    again = next(j for j in ticked.jobs if j.task.id == up[0].task.id)
    assert (again.number, again.standing) == (up[0].number, "done")


def test_what_came_up_last_and_was_ticked_stands_on_the_list_as_done() -> None:
    """A dose that only the test of the day had called was missing among the jobs that were done, and its keeper asked whether it was written."""
    read = ("2026-03-09 18:00,reading,ammonia,0,mg/L as N,,[aaaa]", "2026-03-09 18:00,reading,nitrite,1,mg/L as N,,[aaaa]")
    asked = day(*read)
    assert standing(asked)["cycle/re-dose"] == "open"
    done = day(*read, "2026-03-09 19:00,done,cycle/re-dose#1,,,,[bbbb]", "2026-03-09 19:00,dosed,ammonia,0.4,g,display,[bbbb]")
    assert standing(done)["cycle/re-dose"] == "done" and numbers(done)["cycle/re-dose"] == numbers(asked)["cycle/re-dose"]


def test_what_was_ticked_ahead_of_its_day_stands_on_the_list_as_done_and_moves_no_number() -> None:
    ahead = next(t for t in day().plan.tasks if t.key == "cycle/weekly-tests" and t.state not in URGENT)
    ticked = day(f"2026-03-09 18:00,done,{ahead.id},,,,[aaaa]")
    assert [j.standing for j in ticked.jobs if j.task.id == ahead.id] == ["done"]
    later = day(f"2026-03-09 18:00,done,{ahead.id},,,,[aaaa]", "2026-03-09 19:00,event,leak,,,,[bbbb]")
    assert {k: n for k, n in numbers(later).items() if k in numbers(ticked)} == numbers(ticked) and len(later.jobs) > len(ticked.jobs)


def test_a_job_that_a_reading_made_needless_stays_on_the_list_as_such() -> None:
    tests = next(j for j in day().jobs if j.task.key == "cycle/tests")
    after = day("2026-03-09 18:00,postponed,cycle/tests#2,2026-03-11")
    assert standing(after)["cycle/tests"] == "put_off" and numbers(after)["cycle/tests"] == tests.number


def test_a_job_is_known_by_heart_once_its_kind_was_ticked() -> None:
    known = {j.task.key: j.known for j in day().jobs}
    assert known["cycle/tests"] and not known["cycle/look"]


def test_the_journal_in_another_order_gives_the_same_list() -> None:
    rows = ("2026-03-09 18:00,reading,chlorine,1,mg/L", "2026-03-09 18:05,done,cycle/look#1")
    one = day(*rows)

    def make(rows: Journal, day: date) -> Plan:
        return make_plan(TANK, rows, rulebook(), day)

    journal = journal_of(*reversed(BEFORE), *rows)
    other = day_of(TANK, journal, rulebook(), make(journal, ON), make)
    assert numbers(one) == numbers(other)


def test_where_the_filter_stands_is_told_in_steps_and_its_next_meal_in_the_kits_own_step() -> None:
    found = day().standing
    assert found is not None and (found.number, found.step, found.day) == (2, "nitrite", 7)
    kit = tank_with(already={"start-up": date(2026, 3, 1)}, test_kits={"ammonia": {"basis": "NH3", "step": "0.25"}})
    journal = journal_of(*BEFORE)
    told = day_of(kit, journal, rulebook(), make_plan(kit, journal, rulebook(), ON), lambda rows, on: make_plan(kit, rows, rulebook(), on)).standing
    # Fed again below 0.5 mg/L as N, which is 0.61 of NH3 (17.031 / 14.007): the highest step of 0.25 below that is 0.5.
    assert told is not None and told.meal is not None and (told.meal.most, told.meal.basis, told.meal.read.value) == (0.5, "NH3", "1")


def test_the_lowest_step_of_a_kit_that_was_read_is_a_trace_and_not_nothing() -> None:
    """0.25 mg/L as the ion is 0.076 as N (14.007 / 46.005), which counts as clear; whoever read it was told that none shows."""
    def told(nitrite: str) -> str:
        kit = tank_with(already={"start-up": date(2026, 3, 1)}, test_kits={n: {"basis": "ion", "step": "0.25"} for n in ("ammonia", "nitrite")})
        journal = journal_of(*BEFORE[:2], "2026-03-07 09:00,reading,ammonia,2,mg/L as ion", f"2026-03-07 09:00,reading,nitrite,{nitrite},mg/L as ion")
        found = day_of(kit, journal, rulebook(), make_plan(kit, journal, rulebook(), ON), lambda rows, on: make_plan(kit, rows, rulebook(), on))
        assert found.standing is not None
        return f"{stands_words(found.standing)} {' '.join(found.plan.forecast.sentences[:2])}"
    for read, said, not_said in (("0.25", "only a trace of nitrite", "no nitrite"), ("0", "no nitrite", "trace"), ("<0.25", "no nitrite", "trace")):
        assert told(read).count(said) == 2 and not_said not in told(read), read


def test_with_an_animal_in_no_reading_lets_ammonia_in() -> None:
    """Ammonia poisons animals at any reading of a kit, and whoever reads that a low one frees the next dose may give it (common practice, no source)."""
    shown = day("2026-03-09 18:00,added,ocellaris clownfish,2,", "2026-03-09 18:05,reading,ammonia,1,mg/L as N")
    assert shown.standing is not None and shown.standing.animals and shown.standing.meal is None
    assert "No ammonia into the tank while an animal is in it" in food_words(shown.standing) and "or less" not in food_words(shown.standing)
    assert not_yet(shown.plan, rulebook(), shown.standing)["also"] == [food_words(shown.standing)], "what hangs on the wall says it too"


def test_with_an_animal_in_no_page_says_that_a_dose_of_ammonia_is_left() -> None:
    clear = [f"2026-03-{d} 18:05,reading,{name},0,mg/L as N" for d in ("09", "10", "11") for name in ("ammonia", "nitrite")]
    without, aboard = day(*clear, on=date(2026, 3, 11)), day("2026-03-09 18:00,added,ocellaris clownfish,2,", *clear, on=date(2026, 3, 11))
    assert aboard.standing is not None and aboard.standing.step == "both_clear"
    assert "dosing" not in stands_words(aboard.standing) and "feeding" in stands_words(aboard.standing)
    assert without.standing is not None and "proof by dosing is left" in stands_words(without.standing)
    told = " ".join(aboard.plan.forecast.sentences)
    assert "proof dose is left" not in told and "a proof dose that" not in told and "no proof dose is given" in told
    assert "Only the proof dose is left" in " ".join(without.plan.forecast.sentences)


def test_on_a_day_without_food_no_title_says_to_feed() -> None:
    shown = day("2026-03-09 18:00,added,ocellaris clownfish,2,", "2026-03-09 18:05,reading,ammonia,0.6,mg/L as N")
    (aboard,) = (t for t in shown.plan.tasks if t.key == "cycle/animals-aboard")
    assert any(y.rule == "fasting" for y in aboard.yielded) and "eed" not in aboard.title and not any("Feed" in str(s) for s in aboard.steps)


def test_what_changed_since_yesterday_is_told_by_two_plans() -> None:
    opened = day("2026-03-09 18:05,reading,ammonia,0,mg/L as N", "2026-03-09 18:05,reading,nitrite,0,mg/L as N").since
    assert any(m.id == "gate/cycle" for m in opened.moved)


def test_what_changed_is_counted_from_the_page_of_last_evening() -> None:
    """“2 days earlier since Wed 6, about 1 February” stood where the page of that evening had said 1 February, too."""
    read = ("2026-03-09 18:05,reading,ammonia,0,mg/L as N", "2026-03-09 18:05,reading,nitrite,0,mg/L as N")
    evening = {m.id: m.after for m in day(*read).since.moved}
    morning = day(*read, on=date(2026, 3, 10))
    cycle = next(p for p in morning.plan.phases if p.id == "cycle")
    told = {m.id: m.before for m in morning.since.moved}
    assert evening["gate/cycle"] == told.get("gate/cycle", cycle.window.likely)


def test_what_the_last_evening_freed_is_not_late_on_its_first_morning() -> None:
    tank = tank_with(already={"site": date(2026, 3, 1)})
    rows = ("2026-03-05 18:00,done,leak-test/rinse", "2026-03-06 18:00,done,leak-test/fill")

    def state(on: date, key: str = "leak-test/tissue") -> str:
        plan = make_plan(tank, journal_of(*rows, tank=tank), rulebook(), on)
        return next(t.state for t in plan.tasks if t.key == key)

    assert [state(date(2026, 3, d)) for d in (6, 7, 8)] == ["due", "due", "late"]
