"""The checklist on the terminal: what a beginner reads, in which order, and that every line fits."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from planner.rulebook.provenance import Caution
from planner.rulebook.shapes import AlertRule, Rulebook
from planner.rulebook.words import Word
from planner.show.terminal.checklist import plan_lines, since_lines
from planner.show.terminal.today import today_lines
from planner.show.words.words import Line, Page, day_words, plain_text, short_day, window_words, wrap
from planner.terms.records import Answer, Hold, Moved, Plan, State, Trace, Waiting
from planner.terms.traces import Asked, Disagree, Gap, Joined, Stale
from tests.unit.plan_builder import ON, hold, need, phase, plan, quantity, task, window

MAINS = Caution(title="Mains beside water", text="Salt water conducts.", defer="Ask a licensed electrician; local code comes first.")
ALERT = AlertRule.model_validate({"alert": "ammonia-alarm", "title": "Ammonia with animals", "when": {"event": "smell"}, "say": "Act now."})
RULES = Rulebook((), (ALERT,), {}, {}, {"mains": MAINS}, words={"ro": Word(term="RO", says="nearly pure water")})


def text_of(lines: tuple[Line, ...]) -> str:
    return plain_text(lines)


def today(p: Plan, width: int = 80, folder: str = "") -> str:
    return text_of(today_lines(p, RULES, width, folder=folder))


def whole(p: Plan, width: int = 80, only: str | None = None) -> str:
    return text_of(plan_lines(p, RULES, width, phase=only))


def joined(text: str) -> str:
    """The text without its line breaks, so that a sentence can be looked for wherever it wraps."""
    return " ".join(text.split())


# --- words -----------------------------------------------------------------------------------------------------

def test_a_day_is_written_out_without_any_locale() -> None:
    assert day_words(date(2026, 3, 2)) == "Mon 2 Mar 2026"


def test_a_year_is_said_only_where_it_is_another_one() -> None:
    assert short_day(date(2026, 12, 31), ON) == "Thu 31 Dec"
    assert short_day(date(2027, 1, 1), ON) == "Fri 1 Jan 2027"


def test_a_window_names_likely_quick_and_slow() -> None:
    assert window_words(window(date(2026, 2, 27), date(2026, 3, 2), date(2026, 3, 9)), ON) == "likely Mon 2 Mar (quick 27 Feb, slow 9 Mar)"


def test_a_window_of_one_day_is_said_once() -> None:
    assert window_words(window(date(2026, 3, 9)), ON) == "likely Mon 9 Mar"


def test_a_date_that_cannot_be_had_gives_its_reason() -> None:
    assert window_words(window(None), ON, "away for two years") == "no date can be given: away for two years"


def test_a_number_stays_beside_its_unit_at_the_end_of_a_line() -> None:
    for width in range(20, 60):
        for line in wrap("Fill the bin with 165 L of water and stir in 6.27 kg of salt until 35 ppt is reached.", width):
            assert not line.rstrip().endswith(("165", "6.27", "35")), f"torn at {width}: {line!r}"


# --- today -----------------------------------------------------------------------------------------------------

def test_a_day_without_tasks_says_so_and_names_the_next_one() -> None:
    text = joined(today(plan(task("water/mix", date(2026, 3, 20), title="Mix the salt"))))
    assert "Nothing to do today. The next is 'Mix the salt' on Fri 20 Mar 2026, in 18 days." in text


def test_an_empty_plan_still_answers() -> None:
    assert "Nothing to do today. No task is dated ahead." in joined(today(plan()))


def test_a_due_task_tells_what_how_much_how_what_to_watch_and_why() -> None:
    t = task("water/mix", ON, state=State.DUE, title="Mix the salt", amounts=(("salt_first_fill", quantity("salt_first_fill", 6270, "g")),), steps=("Stir slowly.",),
             watch=("Cloudy water needs another hour.",), because=("Salt needs time.",))
    text = joined(today(plan(t)))
    for part in ("Mix the salt", "due today", "salt for the first fill: 6.27 kg", "1. Stir slowly.", "Cloudy water needs another hour.", "Salt needs time.", "newtank done water/mix"):
        assert part in text, part


def test_amounts_are_shown_in_the_buyers_units() -> None:
    t = task("water/mix", ON, state=State.DUE, amounts=(("weekly_change", quantity("weekly_change", 37.854, "L")),))
    assert "10 gal" in today(plan(t, units="us")) and "10 gal" not in today(plan(t))


def test_a_reading_task_gives_the_log_command_with_its_water() -> None:
    t = task("water/measure", ON, state=State.DUE, reads=("salinity", "temperature"), where="mixing")
    assert "newtank log reef salinity=VALUE temperature=VALUE --where mixing" in joined(today(plan(t), folder="reef"))


def test_a_late_task_says_by_how_much_and_comes_before_what_is_due() -> None:
    late = task("water/mix", date(2026, 3, 2), due=date(2026, 2, 27), state=State.LATE, title="Mix the salt")
    text = today(plan(task("site/level", ON, state=State.DUE, title="Level the stand"), late))
    assert "late by 3 days" in text and "was due Fri 27 Feb" in text
    assert text.index("Mix the salt") < text.index("Level the stand")


def test_what_clears_a_hold_stands_first_among_the_late() -> None:
    shop = task("site/shop", ON, due=date(2026, 2, 20), state=State.LATE, title="Buy towels")
    remedy = task("leak-test/restart", ON, due=date(2026, 3, 1), state=State.LATE, title="Empty the tank")
    text = today(plan(phase("leak-test"), shop, remedy, Hold("leak-test", ON, "It leaked.", ("leak-test/restart",))))
    assert text.index("[ ] Empty the tank") < text.index("[ ] Buy towels")
    assert "instead   Empty the tank (leak-test/restart)" in text and "It leaked." in text


def test_what_a_hold_keeps_back_is_named() -> None:
    held = [task(f"fish/t{n}", date(2026, 3, 5), state=State.ON_HOLD, title=f"Buy fish {n}") for n in range(8)]
    text = joined(today(plan(phase("fish"), hold("animals", "Ammonia is high."), *held)))
    assert "Held back until then: Buy fish 0;" in text and "Buy fish 5 and 2 more." in text and "Buy fish 6" not in text


def test_a_caution_stands_in_full_once_and_by_name_afterwards() -> None:
    tasks = [task(f"site/{n}", ON, state=State.DUE, cautions=("mains",)) for n in ("a", "b", "c")]
    text = joined(today(plan(*tasks)))
    assert text.count("Salt water conducts.") == 1 and text.count("Ask a licensed electrician") == 1
    assert text.count("as said above: Mains beside water.") == 2


def test_a_term_of_the_trade_is_explained_once_and_after_it_appeared() -> None:
    tasks = [task(f"site/{n}", ON, state=State.DUE, steps=("Fill with RO water.",)) for n in ("a", "b")]
    text = today(plan(*tasks))
    assert text.count("RO: nearly pure water") == 1
    assert text.index("Fill with RO water") < text.index("RO: nearly pure water")


def test_an_alarm_comes_before_everything_else() -> None:
    alarm = task("ammonia-alarm/change", ON, state=State.DUE, title="Change a quarter of the water")
    text = today(plan(phase("site"), task("site/level", ON, state=State.DUE, title="Level the stand"), alarm))
    assert text.index("Alarm: Ammonia with animals") < text.index("Change a quarter of the water") < text.index("Level the stand")


def test_an_alarm_tells_why_before_its_steps_and_what_it_holds_after_them() -> None:
    alarm = task("ammonia-alarm/change", ON, state=State.DUE, title="Change a quarter of the water")
    p = plan(phase("fish", state="open", started=ON), alarm, Hold("fish", ON, "This harms gills.", ("ammonia-alarm/change",)))
    text = today(p)
    assert text.index("This harms gills.") < text.index("[ ] Change a quarter") < text.index("holds     Fish")
    assert text.count("This harms gills.") == 1 and "On hold" not in text
    assert whole(p).index("Alarm: Ammonia with animals") < whole(p).index("When each phase may be over")


def test_the_alarm_that_protects_people_stands_first_and_one_that_only_tests_last() -> None:
    def alert(id: str, **task: object) -> AlertRule:
        return AlertRule.model_validate({"alert": id, "title": f"Title {id}", "when": {"event": "smell"}, "say": "Act.", "tasks": [{"id": "act", "title": "Act", **task}]})

    rules = Rulebook((), (alert("a", role="test"), alert("b", role="remedy"), alert("c", role="remedy", protects=True)), {}, {}, {})
    tasks = [task(f"{id}/act", ON, state=State.DUE) for id in "abc"]
    text = text_of(today_lines(plan(*tasks), rules, 80))
    assert text.index("Title c") < text.index("Title b") < text.index("Title a")


def test_while_an_alarm_is_up_all_else_stands_in_a_line() -> None:
    alarm = task("ammonia-alarm/change", ON, state=State.DUE, title="Change a quarter of the water", steps=("Siphon it out.",))
    text = today(plan(task("site/level", ON, state=State.DUE, title="Level the stand", steps=("Use a spirit level.",)), alarm))
    assert "Siphon it out." in text and "Use a spirit level." not in text
    assert "[ ] Level the stand, about 30 min (site/level)" in text


def test_steps_are_told_for_what_fits_into_a_day_and_a_line_for_the_rest() -> None:
    tasks = [task(f"site/t{n}", ON, state=State.DUE, title=f"Thing {n}", minutes=50, steps=(f"Step of {n}.",)) for n in range(5)]
    text = today(plan(*tasks))
    assert [n for n in range(5) if f"Step of {n}." in text] == [0, 1, 2]
    assert "[ ] Thing 4, about 50 min (site/t4)" in text and "newtank today TASK" in text


def test_of_much_that_is_late_the_first_two_are_told_in_full() -> None:
    tasks = [task(f"site/t{n}", ON, due=date(2026, 2, 1), state=State.LATE, title=f"Thing {n}", minutes=10, steps=(f"Step of {n}.",)) for n in range(9)]
    text = today(plan(*tasks))
    assert [n for n in range(9) if f"Step of {n}." in text] == [0, 1] and all(f"Thing {n}" in text for n in range(9))


def test_what_holds_phases_that_are_over_or_not_begun_counts_them() -> None:
    phases = [phase("fish", state="open", started=ON), *(phase(f"p{n}", state="done", started=ON, opened=ON) for n in range(3)), phase("corals")]
    text = joined(today(plan(*phases, *(Hold(p.id, ON, "Water is on the floor.", ()) for p in phases))))
    assert "holds Fish and 4 phases that are finished or not begun" in text


@pytest.mark.parametrize(("gap", "state", "told"), [(Stale(24.0), State.PLANNED, False), (Stale(24.0), State.ON_HOLD, True), (Disagree(), State.PLANNED, True)])
def test_a_missing_test_is_no_news_while_nothing_comes_in_that_it_stops(gap: Gap, state: State, told: bool) -> None:
    reading = Trace(Asked(), Answer.UNKNOWN, (gap,), gap=gap, say="ammonia clear")
    untested = Hold("animals", ON, "Not tested within a day.", (), Trace(Joined(how="not"), Answer.UNKNOWN, (gap,), parts=(reading,), gap=gap))
    text = today(plan(phase("animals"), task("fish/stage", date(2026, 3, 20), role="animals", state=state), untested))
    assert ("Not tested within a day." in text) == told


def test_the_next_days_hold_five_tasks_of_one_week_and_no_repetition() -> None:
    week = [task(f"care/look#{n}", date(2026, 3, 2 + n), title="Look at the tank") for n in range(1, 7)]
    more = [task(f"care/t{n}", date(2026, 3, 4), title=f"Thing {n}") for n in range(6)] + [task("care/far", date(2026, 3, 10), title="Far away")]
    text = today(plan(*week, *more))
    assert text.count("[ ] Look at the tank") == 1 and "Thing 3" in text and "Thing 4" not in text and "Far away" not in text


def test_the_next_days_end_after_a_week() -> None:
    text = today(plan(task("care/a", ON + timedelta(days=7), title="Seventh day"), task("care/b", ON + timedelta(days=8), title="Eighth day")))
    assert "[ ] Seventh day" in text and "[ ] Eighth day" not in text


def test_a_provisional_task_is_called_so_in_words() -> None:
    t = task("cycle/dose", date(2026, 3, 5), state=State.WAITING, tentative=True, depends_on="scape", title="Dose ammonia")
    assert "[?] Dose ammonia" in today(plan(t)) and "Thu 5 Mar, provisional" in today(plan(t))


def test_what_the_plan_waits_for_is_told_with_its_evidence() -> None:
    needs = (need("nitrite clear", Answer.NO), need("salinity 33 to 36 ppt", Answer.UNKNOWN, ("2026-02-01 salinity 35 ppt, line 4", "older than 3 days")),
             need("ammonia clear", Answer.YES))
    text = joined(today(plan(waiting_for=(Waiting("cycle", "The filter works", needs, window(date(2026, 4, 1))),))))
    assert "not yet nitrite clear" in text
    assert "unknown salinity 33 to 36 ppt (so far: 2026-02-01 salinity 35 ppt, line 4; older than 3 days)" in text
    assert "ammonia clear" not in text


# --- plan ------------------------------------------------------------------------------------------------------

def test_the_header_gives_litres_salinity_with_its_pair_and_weight() -> None:
    figures = (quantity("net_volume", 203.2, "L"), quantity("gross_volume", 250, "L"), quantity("target_salinity", 35, "ppt"), quantity("target_sg", 1.02643, "SG 25/25"),
               quantity("total_weight", 336_700, "g"), quantity("floor_load", 6.6, "kN/m²"))
    text = joined(whole(plan(quantities=figures)))
    assert "203 L net" in text and "250 L" in text and "35 ppt, that is SG 1.0264 at 25/25" in text and "337 kg when full, 6.6 kN/m²" in text


def test_the_time_line_has_a_row_a_phase_with_three_dates() -> None:
    p = plan(phase("cycle", title="Grow the filter", window=window(date(2026, 4, 1), date(2026, 4, 20), date(2027, 1, 5))))
    row = next(line for line in whole(p).splitlines() if line.startswith("Grow the filter  "))
    assert row.split()[3:] == ["ahead", "1", "Apr", "20", "Apr", "5", "Jan", "2027"]


def test_a_wide_terminal_draws_the_band_from_quick_to_slow() -> None:
    p = plan(phase("cycle", title="Grow the filter", window=window(date(2026, 4, 1), date(2026, 4, 20), date(2026, 6, 5))))
    row = next(line for line in whole(p, 120).splitlines() if line.startswith("Grow the filter  "))
    band = row.split("5 Jun")[1]
    assert band.strip().startswith("|") and "o" in band and band.index("|") < band.index("-") < band.index("o") < band.rindex("-")


def test_what_is_done_is_folded_into_one_line() -> None:
    done = [task(f"site/{n}", date(2026, 2, 20), state=State.DONE, closed_on=date(2026, 2, 21), title=f"Step {n}", steps=("Do it well.",)) for n in "ab"]
    text = whole(plan(phase("site", state="open", started=date(2026, 2, 20)), *done))
    assert "[x] done: Step a (21 Feb); Step b (21 Feb)" in text and "Do it well." not in text


def test_steps_are_told_for_the_current_phase_and_not_for_a_later_one() -> None:
    now = task("site/level", date(2026, 3, 12), steps=("Use a spirit level.",))
    later = task("cycle/dose", date(2026, 4, 12), steps=("Weigh the salt.",), state=State.WAITING, tentative=True, title="Dose ammonia")
    p = plan(phase("site", state="open", started=ON), phase("cycle"), now, later)
    assert "Use a spirit level." in whole(p)
    assert "Weigh the salt." not in whole(p) and "Dose ammonia" in whole(p)
    assert "Weigh the salt." in whole(p, only="cycle") and "Use a spirit level." not in whole(p, only="cycle")


def test_a_gate_says_what_is_met_and_what_is_not_known() -> None:
    p = plan(phase("site", state="open", started=ON, needs=(need("stand is level", Answer.YES), need("floor is known", Answer.UNKNOWN), need("RCD tested", Answer.NO))))
    lines = [line.strip() for line in whole(p).splitlines()]
    assert "met      stand is level" in lines and "unknown  floor is known" in lines and "not yet  RCD tested" in lines


def test_a_phase_passed_on_word_says_that_no_evidence_backs_it() -> None:
    p = plan(phase("site", state="done", opened=date(2026, 2, 1), started=date(2026, 1, 20), on_word=True))
    assert "on your word, not on evidence" in joined(whole(p))


def test_later_times_of_a_repeating_task_are_dates_alone() -> None:
    tasks = [task(f"care/test#{n}", ON + timedelta(days=7 * n), title="Test nitrate", steps=("Shake the bottle.",)) for n in range(1, 8)]
    text = whole(plan(phase("care", state="open", started=ON), *tasks))
    assert text.count("Shake the bottle.") == 1 and "16 Mar, 23 Mar, 30 Mar and so on (3 more until 20 Apr)" in joined(text)


def test_moved_dates_tell_from_to_and_by_how_much() -> None:
    moved = (Moved("cycle/dose", "Dose ammonia", date(2026, 3, 5), date(2026, 3, 9), "journal line 7"), Moved("x/y", "New thing", None, date(2026, 3, 6), "journal line 7"),
             Moved("x/z", "Old thing", date(2026, 3, 6), None, "journal line 7"))
    text = joined(text_of(since_lines(plan(), date(2026, 2, 20), ["2026-03-01 ammonia 2, line 7"], moved, 80)))
    assert "Dose ammonia: Thu 5 Mar to Mon 9 Mar, 4 days later" in text and "New thing: new: Fri 6 Mar" in text and "Old thing: Fri 6 Mar no longer holds" in text
    assert "1 journal entry since: - 2026-03-01 ammonia 2, line 7" in text and "because journal line 7" in text


def test_nothing_moved_is_said() -> None:
    assert "No date moved." in text_of(since_lines(plan(), ON, [], (), 80))


@pytest.mark.parametrize("width", [60, 80, 100, 120])
def test_no_line_is_longer_than_the_terminal(width: int) -> None:
    long = "A very long title that has to go over several lines because somebody wrote all of it down in one single breath"
    t = task("water/mix", ON, state=State.LATE, due=date(2026, 1, 1), title=long, steps=(long * 3,), watch=(long,), because=("https://" + "x" * 200,), cautions=("mains",),
             amounts=(("salt_first_fill", quantity("salt_first_fill", 6270, "g")),))
    p = plan(phase("water", title=long, state="open", started=ON, reason=long, window=window(None), needs=(need(long),)), t, hold("water", long), name=long, notices=(long,))
    for text in (today(p, width), whole(p, width)):
        assert max(len(line) for line in text.splitlines()) <= width


def test_a_plain_page_has_no_escape_codes_and_no_trailing_spaces() -> None:
    text = whole(plan(phase("water", state="open", started=ON), task()))
    assert "\x1b" not in text and all(line == line.rstrip() for line in text.splitlines())


def test_a_page_never_opens_with_an_empty_line_nor_holds_two() -> None:
    page = Page(80)
    page.gap()
    page.say("one")
    page.gap()
    page.gap()
    page.say("two")
    assert plain_text(page.lines) == "one\n\ntwo"
