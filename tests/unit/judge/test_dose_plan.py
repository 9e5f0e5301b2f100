"""The dose that holds alkalinity: none before the use is known, small at first, and ending of itself."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from planner.files.journal import read_journal
from planner.files.tank import read_tank
from planner.judge.daily_doses import DailyDoses
from planner.judge.dose_plan import DosePlan, plan_dose
from planner.judge.facts import Facts, gather, reaches, zone_of
from planner.judge.water_use import alkalinity_use
from planner.plan.rule_cases import HEADER
from planner.science.use import next_dose
from tests.rulecases import rulebook

ON = date(2026, 6, 30)


def day(before: int) -> str:
    return (ON - timedelta(days=before)).isoformat()


def facts(*rows: str) -> Facts:
    tank, _ = read_tank("tank: {volume: 200 L}\ntest_kits:\n  alkalinity: {step: 0.5}\n", "tank.yaml")
    assert tank is not None
    journal, wrong = read_journal(HEADER + "".join(r + "\n" for r in rows), "journal.csv", tank, zone_of(tank))
    assert wrong == ()
    return gather(tank, journal, ON)


def dose(*rows: str, alarms: tuple[str, ...] = ()) -> DosePlan:
    seen = facts(*rows)
    return plan_dose(alkalinity_use(seen, rulebook()), seen, rulebook(), {id.partition("/")[0] for id in alarms})


def falling(*levels: float, last: int = 1) -> list[str]:
    every = 4
    return [f"{day(last + every * (len(levels) - 1 - n))},reading,alkalinity,{v},dKH,display," for n, v in enumerate(levels)]


STONY = f"{day(60)},added,acropora-millepora,3,,display,"
CALCIUM = f"{day(1)},reading,calcium,420,mg/L,display,"
KNOWN = falling(10.0, 9.5, 9.0, 8.5, 8.0, 7.5)  # 0.125 dKH a day


def test_nothing_is_dosed_before_the_use_is_known() -> None:
    found = dose(*falling(8.5, 8.0))
    assert (found.state, found.bicarbonate_g) == ("not_known", 0.0)


def test_the_first_week_gives_four_fifths_of_the_use() -> None:
    """0.8 x 0.125 dKH in 200 L: 5.992 g of NaHCO3 lift it by 1 dKH (molar masses)."""
    found = dose(*KNOWN)
    assert found.state == "dose"
    assert found.dose_dkh == pytest.approx(0.1, abs=0.002)
    assert found.bicarbonate_g == pytest.approx(0.5992, abs=0.012)
    assert not (found.halved or found.capped or found.test_early or found.chalk)


def test_calcium_goes_with_it_in_both_forms() -> None:
    """A third more of the dihydrate than of the salt without water (147.01/110.98)."""
    found = dose(STONY, CALCIUM, *KNOWN)
    assert found.calcium_g / found.calcium_anhydrous_g == pytest.approx(1.3247, abs=1e-3)


@pytest.mark.parametrize("rows", [(), ("STONY",), ("CALCIUM",)])
def test_no_calcium_without_a_stony_coral_and_a_reading(rows: tuple[str, ...]) -> None:
    """Soft corals build no skeleton, and nothing is dosed that nobody measured (common practice, no source)."""
    found = dose(*({"STONY": STONY, "CALCIUM": CALCIUM}[r] for r in rows), *KNOWN)
    assert found.state == "dose" and found.calcium_g == found.calcium_anhydrous_g == 0


def test_what_nitrate_takes_of_the_dose_brings_no_calcium() -> None:
    """1 mg/L of nitrate a day takes 0.090 dKH; 7.147 mg/L of calcium go with 1 dKH, 3.668 g of the dihydrate lift 100 L by 10 mg/L."""
    made = [f"{day(n)},reading,nitrate,{40 - n},mg/L as ion,display," for n in (28, 21, 14, 7, 0)]
    found = dose(STONY, CALCIUM, *KNOWN, *made)
    assert found.calcium_g == pytest.approx((found.dose_dkh - 0.0904) * 7.147 * 0.7336, rel=0.02)


@pytest.mark.parametrize(("given", "expected"), [(None, 0.24), (0.2, 0.25), (0.28, 0.30), (0.5, 0.375), (0.9, 0.675)])
def test_a_dose_moves_towards_the_use_by_a_quarter_a_week_at_most(given: float | None, expected: float) -> None:
    assert next_dose(0.3, given, first_share=0.8, most_step=0.25, most=1.0) == pytest.approx(expected)


def ticked(task: str, before: int, grams: float) -> list[str]:
    return [f"{day(before)} 19:00,done,{task},,,display,", f"{day(before)} 19:00,dosed,bicarbonate,{grams},g,display,"]


def test_what_lifted_a_low_level_is_no_daily_dose() -> None:
    """Ten days of daily doses of 0.1 dKH (0.599 g in 200 L), and two lifts of 0.5 dKH between them: the mean is still 0.1."""
    daily = [row for n in range(10, 0, -1) if n not in (4, 5) for row in ticked("care/daily-dose", n, 0.5992)]
    lifts = [row for n in (4, 5) for row in ticked("alkalinity-low/raise", n, 2.996)]
    assert DailyDoses(facts(*daily, *lifts), rulebook()).a_day() == pytest.approx(0.1, abs=0.001)


def test_daily_doses_that_began_this_week_say_nothing_of_what_is_given() -> None:
    assert DailyDoses(facts(*(row for n in range(5, 0, -1) for row in ticked("care/daily-dose", n, 0.5992))), rulebook()).a_day() is None


def test_a_dose_that_holds_the_level_goes_on_although_flat_readings_tell_no_use() -> None:
    """Three weeks of 0.1 dKH a day (0.599 g in 200 L) and the level stands: nobody stops what works (common practice, no source)."""
    rows = [row for n in range(20, 0, -1) for row in ticked("care/daily-dose", n, 0.5992)]
    flat = [f"{day(n)},reading,alkalinity,8,dKH,display," for n in (11, 4)]
    assert alkalinity_use(facts(*flat, *rows), rulebook()).verdict != "known"
    assert dose(*flat, *rows).dose_dkh == pytest.approx(0.1, abs=0.002)
    assert dose(*flat).state == "not_known"


def test_no_dose_passes_the_most_for_a_first_tank() -> None:
    assert next_dose(2.0, 0.95, first_share=0.8, most_step=0.25, most=1.0) == 1.0


@pytest.mark.parametrize("alarm", ["ammonia-two/change", "heat/cool", "salinity-severe/raise"])
def test_an_alarm_that_goes_first_stops_the_dose(alarm: str) -> None:
    found = dose(*KNOWN, alarms=(alarm,))
    assert found.state == "stopped" and [kind for kind, _ in found.stops] == ["alarm"]


def test_without_a_reading_for_ten_days_half_is_given_and_for_fourteen_none() -> None:
    assert dose(*falling(10.0, 9.5, 9.0, 8.5, 8.5, last=9)).halved is False
    late = dose(*falling(10.5, 10.0, 9.5, 9.0, last=10))
    assert late.state == "dose" and late.halved
    assert dose(*falling(10.5, 10.0, 9.5, 9.0, last=14)).stops[0][0] == "no_reading"


def test_a_large_change_of_today_stops_it_for_the_day() -> None:
    assert [k for k, _ in dose(*KNOWN, f"{day(0)},changed_water,water,20,%,display,").stops] == ["large_change"]


def test_twenty_percent_in_litres_rounded_to_a_tenth_is_a_large_change() -> None:
    """39.9995 of 200 L are 19.99975 %."""
    assert [k for k, _ in dose(*KNOWN, f"{day(0)},changed_water,water,39.9995,L,display,").stops] == ["large_change"]
    assert dose(*KNOWN, f"{day(0)},changed_water,water,38.9,L,display,").state == "dose"


@pytest.mark.parametrize(("share", "large"), [(0.199994, True), (0.1998, True), (0.1951, True), (0.1949, False), (0.2, True)])
def test_a_share_reaches_a_limit_to_half_a_percent(share: float, large: bool) -> None:
    """46.6 of 233.007 L are 19.9994 %, 40.6 of 203.184 L 19.98 %: what was ordered as 20 %, in litres as a tick writes them."""
    assert reaches(share, 20) is large


def test_after_a_large_change_the_dose_waits_for_a_test_of_a_later_day() -> None:
    change = f"{day(1)} 20:00,changed_water,water,25,%,display,"
    waits = dose(*KNOWN, change)
    assert [k for k, _ in waits.stops] == ["test_first"] and waits.test_due
    tested = dose(*KNOWN, change, f"{day(0)},reading,alkalinity,7.9,dKH,display,")
    assert tested.state == "dose" and not tested.test_due


def test_a_dose_wants_a_test_twice_a_week_where_the_tank_uses_much() -> None:
    assert not dose(*KNOWN).test_due
    late = falling(10.0, 9.5, 9.0, 8.5, 8.0, 7.5, last=4)
    assert dose(*late).test_due


def test_a_low_level_is_lifted_first() -> None:
    assert dose(*falling(8.5, 8.0, 7.5, 7.0, 6.5, 6.0)).state == "lift_first"


def test_where_changes_hold_the_level_there_is_no_dose() -> None:
    changes = [f"{day(n)},changed_water,water,25,%,display," for n in (3, 10, 17, 24)]
    mixing = [f"{day(25)},reading,alkalinity,12,dKH,mixing,"]
    level = [f"{day(n)},reading,alkalinity,{v},dKH,display," for n, v in ((26, 10.5), (20, 10.0), (18, 9.5), (13, 10.0), (11, 9.5), (6, 10.0), (4, 9.5), (1, 10.0))]
    found = dose(*level, *changes, *mixing)
    assert found.state == "changes_hold"
    assert found.held_use == pytest.approx(0.25 * (12 - 7) / 7)
    assert dose(STONY, *level, *changes, *mixing).held_use == pytest.approx(0.25 * (12 - 7.5) / 7)


def test_without_stony_corals_alkalinity_may_sink_to_seven_before_anything_is_dosed() -> None:
    """0.05 dKH a day and changes of 25 % a week with 8.5 dKH: it sinks to 8.5 - 7 x 0.05 / 0.25 = 7.1, within 7 to 11."""
    rows, level = [f"{day(27)},reading,alkalinity,8.5,dKH,mixing,"], 8.0
    for n in range(26, -1, -1):
        level -= 0.05
        if n % 7 == 3:
            rows += [f"{day(n)} 18:00,reading,alkalinity,{level:.2f},dKH,display,", f"{day(n)} 20:00,changed_water,water,24.9,%,display,"]
            level += 0.249 * (8.5 - level)
        elif n % 7 == 0:
            rows.append(f"{day(n)} 18:00,reading,alkalinity,{level:.2f},dKH,display,")
    daily = [row for n in range(13, 0, -1) for row in ticked("care/daily-dose", n, 0.01)]
    assert dose(*rows, *daily).state == "changes_hold" and dose(*rows, *daily).rests
    assert dose(*rows).state in ("changes_hold", "not_known") and dose(STONY, *rows, *daily).lowest == 7.5


def test_while_the_use_is_not_known_the_last_dose_goes_on_and_no_mean_of_older_ones() -> None:
    """Two weeks of 0.2 dKH, then 0.1 (0.599 g in 200 L): it is 0.1 that goes on."""
    rows = [row for n in range(13, 0, -1) for row in ticked("care/daily-dose", n, 1.1984 if n > 2 else 0.5992)]
    flat = [f"{day(n)},reading,alkalinity,8,dKH,display," for n in (10, 3)]
    found = dose(*flat, *rows)
    assert found.goes_on and found.dose_dkh == pytest.approx(0.1, abs=0.002)


def test_a_dose_that_stops_because_the_count_begins_anew_is_tested_until_the_use_is_known_again() -> None:
    """A change of half the water: what was known of the use before it tells nothing of now."""
    doses = [row for n in range(13, 4, -1) for row in ticked("care/daily-dose", n, 0.5992)]
    change = f"{day(4)} 12:00,changed_water,water,50,%,display,"
    waits = dose(*KNOWN[:4], *doses, change, f"{day(3)},reading,alkalinity,8,dKH,display,")
    assert waits.state != "dose" or waits.goes_on
    assert waits.test_due, "no dose without a test, and no test without a job"


@pytest.mark.parametrize(("number", "due"), [(1, True), (2, False)])
def test_a_shop_says_how_soon_a_dose_that_lost_its_use_is_tested(number: float, due: bool) -> None:
    book = rulebook()
    book = replace(book, numbers=book.numbers | {"dose_test_soon": book.numbers["dose_test_soon"].model_copy(update={"value": number})})
    doses = [row for n in range(13, 4, -1) for row in ticked("care/daily-dose", n, 0.5992)]
    seen = facts(*KNOWN[:4], *doses, f"{day(4)} 12:00,changed_water,water,50,%,display,", f"{day(1)},reading,alkalinity,8,dKH,display,")
    assert plan_dose(alkalinity_use(seen, book), seen, book).test_due is due


def test_a_dose_that_goes_on_stops_above_the_aim() -> None:
    rows = [row for n in range(13, 0, -1) for row in ticked("care/daily-dose", n, 0.5992)]
    found = dose(*(f"{day(n)},reading,alkalinity,{level},dKH,display," for n, level in ((10, 8), (3, 11))), *rows)
    assert (found.state, found.stops) == ("stopped", (("too_high", ""),))


def test_a_use_that_nobody_knows_is_not_held_by_changes() -> None:
    """Of two readings after a change of half the water nothing follows, and they may look like no use at all."""
    doses = [row for n in range(13, 4, -1) for row in ticked("care/daily-dose", n, 0.5992)]
    found = dose(*KNOWN[:4], *doses, f"{day(4)} 12:00,changed_water,water,50,%,display,", f"{day(2)},reading,alkalinity,8,dKH,display,", f"{day(1)},reading,alkalinity,8.5,dKH,display,")
    assert found.state != "changes_hold"


def test_a_growing_dose_stays_within_a_quarter_of_the_week_before() -> None:
    """0.04 dKH a day until a week ago and 0.05 since: no more than 0.05 now, though the tank uses 0.2 and more."""
    rows = [row for n in range(14, 0, -1) for row in ticked("care/daily-dose", n, 0.04 * 5.992 if n > 7 else 0.05 * 5.992)]
    assert dose(*KNOWN, *rows).dose_dkh == pytest.approx(0.05, abs=0.003)


def test_no_dose_where_chalk_would_fall_out() -> None:
    """About 8 dKH, calcium 580 and pH 8.6: the saturation of aragonite is above 9 (PyCO2SYS has 11.9 at 10 dKH)."""
    hot = [f"{day(1)},reading,calcium,580,mg/L,display,", f"{day(1)},reading,ph,8.6,pH,display,"]
    assert [k for k, _ in dose(*KNOWN, *hot).stops] == ["chalk"]
    assert dose(*KNOWN, f"{day(1)},reading,calcium,420,mg/L,display,", f"{day(1)},reading,ph,8.1,pH,display,").state == "dose"
