"""The chart, what an entry did and what a tank uses, on both sides of each place where the words change. Contract of this project; 2 March 2026 is a Monday (cal(1))."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from planner.judge.dose_plan import DosePlan
from planner.judge.water_use import DailyUse, Missing, TopUp
from planner.science.use import Change, Dose, Fit
from planner.show.terminal.chart import BAND, LIKELY, OFF_SCALE, READING, TODAY, Scale, days_below, draw, extent
from planner.show.terminal.effect import Effect, effect_lines, effect_of, row_words, written_words
from planner.show.terminal.uselist import Uses, use_lines
from planner.show.words.words import (
    plain_text,
)
from planner.terms.records import CurvePoint, Event, Forecast, State
from tests.engine_desk import journal_of
from tests.unit.plan_builder import hold, phase, plan, quantity, task, window
from tests.unit.show.test_words_at_their_limits import ON, day

# --- the chart


def curve(days: int, ammonia: float = 1.0, nitrite: float = 0.0) -> tuple[CurvePoint, ...]:
    return tuple(CurvePoint(day(n), (0.0, ammonia, ammonia * 1.5), (0.0, nitrite if n < 20 else 0.0, nitrite), (0, 0, 0)) for n in range(days))


@pytest.mark.parametrize(("nitrite", "on", "days"), [(0.0, 0, 28), (0.25, 0, 28), (0.3, 0, 30), (0.0, 17, 28), (0.0, 18, 29), (0.0, 60, 71)])
def test_a_chart_shows_four_weeks_or_ten_days_beyond_nitrite_and_today(nitrite: float, on: int, days: int) -> None:
    assert len(extent("ammonia", curve(100, nitrite=nitrite), (), day(on))[0]) == days


@pytest.mark.parametrize(("most", "top"), [(0.1, 0.5), (0.95, 1), (0.96, 2), (1.9, 2), (1.95, 2.5), (7.6, 8), (190, 200), (300, 315)])
def test_a_chart_ends_at_a_round_figure_above_all_of_it(most: float, top: float) -> None:
    rows = journal_of(f"2026-03-03,reading,nitrate,{most},mg/L as N").rows
    assert extent("ammonia", curve(40, ammonia=0.0), rows, ON)[1] == pytest.approx(top)
    assert extent("ammonia", curve(40, ammonia=0.0), journal_of("2026-03-01,reading,nitrate,99,mg/L as N").rows, ON)[1] == 0.5


def test_the_marks_of_a_chart_stand_on_their_days_and_levels() -> None:
    rows = journal_of("2026-03-02,reading,ammonia,0,mg/L as N", "2026-03-05,reading,ammonia,>1.9,mg/L as N").rows
    lines = draw("ammonia", curve(28), rows, day(1), 28 + 8, Scale(clear=0.1, ceiling=1.9))
    grid = [line[7:].ljust(28) for line in lines[1:-1]]
    assert lines[0] == "ammonia, mg/L as N" and len(grid) == 9 and lines[1].startswith("     2 ") and lines[5].startswith("     1 ") and lines[9].startswith("     0 ") and lines[2][:7] == " " * 7
    assert grid[8][0] == READING and grid[0][3] == OFF_SCALE and grid[4][0] == LIKELY and grid[6][5] == BAND and grid[2][5] == BAND and grid[0][1] == TODAY and grid[0][20] == "~" and "".join(grid).count(OFF_SCALE) == 1
    wide = draw("ammonia", curve(28), rows, day(1), 56 + 8)
    assert len(wide[5]) == 56 + 7 and draw("ammonia", curve(100), (), day(70), 48)[5].count(LIKELY) == 40


def test_dates_below_a_chart_stand_where_their_days_begin() -> None:
    assert days_below(ON, 1.0, 28, ON) == " " * 7 + "2 Mar         16 Mar" and days_below(ON, 0.5, 28, ON).split() == ["2", "Mar", "9", "Mar"] and days_below(ON, 1.0, 5, ON).strip() == "2 Mar" and days_below(ON, 1.0, 4, ON).strip() == ""


# --- what an entry did


def told(effect: Effect) -> str:
    return plain_text(effect_lines(effect, plan(), 78))


def written(*rows: str) -> Any:
    return journal_of(*rows).rows


READ = "2026-03-02 08:00,reading,ph,8.1,,display,"


@pytest.mark.parametrize(("row", "words"), [(READ, "pH 8.1"), ("2026-03-02,done,a/b#2", "ticked “B”"), ("2026-03-02,skipped,a/c", "left out a/c"), ("2026-03-02,postponed,a/b,2026-03-05", "put off “B” to 2026-03-05"), ("2026-03-02,changed_water,water,10,%", "10 % of water changed"), ("2026-03-02,poured,fresh,10,L", "10 L of fresh poured in"), ("2026-03-02,event,power_cut,", "power cut"), ("2026-03-02,event,failed,,,,a/b [ab12]", "failed: “B”"), ("2026-03-02,added,snail,2", "snail added 2"), ("2026-03-02,added,snail", "snail added")])
def test_a_row_is_told_in_words(row: str, words: str) -> None:
    assert row_words(*written(row), {"a/b": "B"}) == words


def test_water_that_was_written_in_litres_is_told_in_the_gallons_of_the_plan() -> None:
    """1 US gallon is 3.785411784 L (NIST Handbook 44, appendix C)."""
    assert row_words(*written("2026-03-02,changed_water,water,113.56,L"), units="us") == "30 gal of water changed"


def test_rows_share_their_water_and_their_time() -> None:
    assert written_words(written(READ)) == "pH 8.1 (tank water), Mon 2 Mar 2026 08:00" and written_words(written("2026-03-02,done,a/b")) == "ticked a/b, Mon 2 Mar 2026"
    assert written_words(written(READ, "2026-03-02 08:00,reading,ph,8.2,,mixing,")) == "pH 8.1 (tank) and pH 8.2 (mixing), Mon 2 Mar 2026 08:00"
    assert written_words(written(READ, "2026-03-02 09:00,reading,alkalinity,8,dKH,display,")) == "pH 8.1 and alkalinity 8 dKH (tank water)"


def moved_of(before: Any, after: Any) -> str:
    return told(effect_of(plan(*before), plan(*after), written(READ)))


def test_dates_that_moved_are_counted_and_told() -> None:
    a = [task(f"a/t{n}", day(8), title=f"T{n}") for n in range(6)]
    later = [replace(t, due=day(9), date=day(9)) for t in a]
    found = moved_of(a, [*later[:2], *a[2:]])
    assert "2 dates 1 day later" in found and "- T0: Tue 10 Mar to Wed 11 Mar" in found
    assert "1 date 1 day sooner" in moved_of(later[:1], a[:1]) and "no date" in moved_of(a, a)
    many = moved_of(a, later)
    assert "6 dates 1 day later" in many and many.count("- T") == 4
    assert "1 new on the plan" in moved_of([], a[:1]) and "new, Tue 10 Mar" in moved_of([], a[:1])


def test_what_became_due_what_is_held_and_what_opened_is_told() -> None:
    due = [task("a/t", ON, title="T", state=State.DUE)]
    assert "now due   T" in moved_of([replace(due[0], state=State.PLANNED)], due) and "now due" not in moved_of(due, due)
    shut, opened = phase("cycle", title="Cycle"), phase("cycle", title="Cycle", opened=ON)
    assert "finished  “Cycle”" in moved_of([shut], [opened]) and "no longer finished" in moved_of([opened], [shut]) and "finished" not in moved_of([opened], [opened])
    held = hold("cycle", "It leaks.")
    assert "It leaks." in moved_of([], [held]) and "This no longer stands in the way: It leaks." in moved_of([held], []) and "leaks" not in moved_of([held], [held])
    two = plan(quantities=(quantity("net_volume", 100.0, "L"),)), plan(quantities=(quantity("net_volume", 120.0, "L"),)), plan(quantities=(quantity("net_volume", 100.2, "L"),))
    assert "counts as 120 L now, not 100 L" in told(effect_of(two[0], two[1], written(READ))) and "counts as" not in told(effect_of(two[0], two[2], written(READ))) and "counts as" not in told(effect_of(two[0], two[0], written(READ)))


def forecast(likely: int | None, happened: date | None = None) -> Any:
    return plan(forecast=Forecast({"cycle_done": Event(window(None) if likely is None else window(day(likely - 3), day(likely), day(likely + 3)), happened)}), on=ON)


@pytest.mark.parametrize(("before", "after", "row", "part"), [(forecast(30), forecast(35), READ, "Filter ready: now expected about 6 Apr (3 to 9 Apr); before this reading 1 Apr"), (forecast(30), forecast(30), "2026-03-02,reading,ammonia,1,mg/L as N", "This reading moves nothing: filter ready is expected about 1 Apr"), (forecast(30), forecast(30), READ, ""), (forecast(30), forecast(30, ON), READ, "Filter ready: read on 2 Mar; before this reading it was expected about 1 Apr"), (forecast(None), forecast(None, ON), READ, "Filter ready: read on 2 Mar."), (forecast(30, ON), forecast(30), READ, "no longer so"), (forecast(30, ON), forecast(35, ON), READ, ""), (forecast(None), forecast(None), "2026-03-02,reading,ammonia,1,mg/L as N", ""), (forecast(30), forecast(None), "2026-03-02,event,leak", "beyond the forecast; before this entry 1 Apr")])
def test_what_an_entry_did_to_the_cycle_is_told(before: Any, after: Any, row: str, part: str) -> None:
    found = " ".join(effect_of(before, after, written(row)).forecast)
    assert part in found and bool(found) is bool(part)


# --- what a tank uses


FIT = Fit(8.0, 0.3, 0.05, 5, 14.0, None)
NONE_KNOWN = DailyUse("nitrate", "not_known", None, (), (), (), (), None)
PLAIN_DOSE = DosePlan("not_known", 0.2, None, 0.1, 7.0)


def used(alkalinity: DailyUse = NONE_KNOWN, dose: DosePlan = PLAIN_DOSE, nitrate: DailyUse = NONE_KNOWN, top: TopUp | None = None, calcium: Any = None) -> str:
    return " ".join(plain_text(use_lines(Uses(alkalinity, calcium, nitrate, NONE_KNOWN, top, dose), plan(), 200)).split())


@pytest.mark.parametrize(("verdict", "part", "band"), [("known", "The tank uses 0.30 dKH a day. That is known.", True), ("about", "not sure enough to dose by", True), ("none", "No use can be measured.", False), ("adds", "Something adds 0.30 dKH a day", False), ("not_known", "Not known yet", False)])
def test_a_use_is_said_as_far_as_it_is_known(verdict: Any, part: str, band: bool) -> None:
    found = used(DailyUse("alkalinity", verdict, FIT, (), (), (Dose(1, 1),), (Change(1, 0.1, 8.0), Change(2, 0.1, 8.0)), None, (8.0, 0.1)))
    assert part in found and ("Four of five tanks" in found) is band and "Level now about 8.0 dKH (give or take 0.2)" in found and ("From 5 readings over 14 days. 1 dose and 2 water changes counted in." in found) is (verdict != "not_known") and "each bucket of salt" in found
    assert ("Five readings over 14 days" in found) is (verdict == "about")


@pytest.mark.parametrize(("missing", "part"), [(Missing("few_readings", 1, 3), "It takes 3 exact readings, and there is 1."), (Missing("few_readings", 2, 3), "there are 2."), (Missing("short", 1.2, 5), "The readings cover 1 day; it takes 5."), (Missing("no_line"), "do not lie on one line"), (Missing("damaged"), "Journal line ? cannot be read")])
def test_what_keeps_a_use_unknown_is_said(missing: Missing, part: str) -> None:
    assert part in used(replace(NONE_KNOWN, missing=(missing,)))


@pytest.mark.parametrize(("use", "new", "changes", "share", "part"), [(-0.5, 2.0, (), 0.1, "Rises by 0.5 mg/L a day beside the water changes. From 5 readings over 14 days. At this feeding and these changes it settles at about 37 mg/L"), (-0.5, None, (), 0.1, "about 35 mg/L"), (0.5, None, (), 0.1, "Falls by 0.5 mg/L a day beside the water changes. From 5 readings over 14 days. A fall without changes"), (0.5, None, (Change(1, 0.1, 8.0),), 0.1, "1 water change counted in.")])
def test_a_nutrient_rises_or_falls_between_changes(use: float, new: float | None, changes: tuple[Change, ...], share: float, part: str) -> None:
    found = used(nitrate=DailyUse("nitrate", "known", replace(FIT, use=use), (), (), (), changes, new), dose=replace(PLAIN_DOSE, share=share))
    assert part in found and ("A fall without" in found) is (use > 0 and not changes)


@pytest.mark.parametrize(("last", "fall", "part"), [((2, 2), None, "Usually 2 L a day; more than 3 L on two days running"), ((3.1, 3.1), None, "Measure salinity"), ((3.1, 3.1), (0.1, 0.1), "salinity is level"), ((0.9, 0.9), None, "less than half"), ((2, 2), (0.3, 0.1), "about 2.5 L a day. Look under the stand now"), ((2, 2), (0.2, 0.1), "Usually 2 L")])
def test_a_top_up_out_of_the_ordinary_is_told(last: tuple[float, float], fall: tuple[float, float] | None, part: str) -> None:
    found = used(top=TopUp(2.0, 3.0, last, fall, 2.5))
    assert part in found and ("tank water is lost" in found) is (fall == (0.3, 0.1))


@pytest.mark.parametrize(("use", "part"), [(0.2, "They alone hold alkalinity."), (0.21, "alkalinity would sink to 6.5 dKH")])
def test_changes_alone_hold_a_use_up_to_what_they_bring(use: float, part: str) -> None:
    assert part in used(DailyUse("alkalinity", "known", replace(FIT, use=use), (), (), (), (), 9.0), replace(PLAIN_DOSE, trough=6.5)) and "Calcium About 2.1 mg/L a day (give or take 0.4), reckoned from alkalinity and from your own readings." in used(calcium=(2.1, 0.2, True))
    assert "from your own readings" not in used(calcium=(2.1, 0.2, False))


@pytest.mark.parametrize(("state", "part"), [("not_known", "Nothing is dosed before"), ("nothing_used", "None needed."), ("changes_hold", "stays at 7 dKH or more"), ("lift_first", "Not yet."), ("stopped", "Stop dosing.")])
def test_no_dose_says_why(state: Any, part: str) -> None:
    assert part in used(dose=replace(PLAIN_DOSE, state=state))


@pytest.mark.parametrize(("flag", "part"), [("given_dkh", "Given so far: 0.10 dKH a day"), ("halved", "Half of what it would be"), ("capped", "experienced keeper"), ("chalk", "chalk falls out"), ("test_early", "asks for a test sooner")])
def test_a_dose_says_what_limits_it(flag: str, part: str) -> None:
    plain = replace(PLAIN_DOSE, state="dose", dose_dkh=0.25, bicarbonate_g=1.5, calcium_g=1.3, calcium_anhydrous_g=1.0, ahead=(7.5, 8.0, 8.5))
    assert part in used(dose=replace(plain, **{flag: 0.1 if flag == "given_dkh" else True})) and part not in used(dose=plain) and "1.5 g of sodium bicarbonate a day, for 0.25 dKH" in used(dose=plain) and "about 8.0 dKH (7.5 to 8.5)" in used(dose=plain)
    assert "calcium chloride" in used(dose=plain) and "calcium chloride" not in used(dose=replace(plain, calcium_g=0.0)) and "Top up that much less." in used(dose=plain)
    on = used(DailyUse("alkalinity", "about", FIT, (), (), (), (), None, (8.0, 0.1)), replace(plain, goes_on=True, given_dkh=0.1))
    assert "not sure enough to change the dose by" in on and "The last dose goes on until tests show the use: 1.5 g" in on and "Given so far" not in on
    assert ("less than the tank uses, on purpose" in used(dose=plain)) and "on purpose" not in used(dose=replace(plain, given_dkh=0.1))
