"""What a plan says beside its tasks."""

from __future__ import annotations

from datetime import date

import pytest

from planner.show.words.causes import all_words
from tests.engine_desk import plan_with, tank_with
from tests.rulecases import rulebook


def test_a_missing_zone_and_a_missing_start_are_said() -> None:
    notices = plan_with(rulebook(), on="2026-03-08", tank=tank_with(timezone=None, start=None)).notices
    assert any("UTC" in n for n in notices) and any("starts on 2026-03-08" in n for n in notices)


def test_an_unreadable_row_is_said() -> None:
    assert any("line 2 cannot be read" in n for n in all_words(plan_with(rulebook(), "!2026-03-04,reading,ammonia,zero,mg/L,display,", on="2026-03-08", problems=1).notices, "metric"))


def test_a_tank_that_is_said_to_hold_animals_asks_which_until_one_is_noted() -> None:
    said, running = "Note each kind with its number", tank_with(already={"fish": date(2026, 3, 1)})
    assert any(said in n for n in all_words(plan_with(rulebook(), on="2026-03-08", tank=running).notices, "metric"))
    assert not any(said in n for n in all_words(plan_with(rulebook(), "2026-03-03 12:00,added,amphiprion-ocellaris,2,,display,", on="2026-03-08", tank=running).notices, "metric"))
    assert not any(said in n for n in all_words(plan_with(rulebook(), on="2026-03-08", tank=tank_with(already={"cycle": date(2026, 3, 1)})).notices, "metric"))


def test_alarms_that_only_a_damaged_line_raised_may_be_false_and_a_read_one_is_not() -> None:
    """Whoever writes a word that is no kind has no leak; nobody may take a real alarm for a slip of the pen."""
    said, stocked = "false alarms then go", "2026-03-03 12:00,added,trochus-maculatus,3,,display,"
    slip = plan_with(rulebook(), stocked, "!2026-03-04,blob,nitrite,0,mg/L,display,", on="2026-03-05", problems=1)
    hot = plan_with(rulebook(), stocked, "2026-03-05 18:00,reading,temperature,30.5,C,display,", on="2026-03-05")
    assert any(said in n for n in all_words(slip.notices, "metric"))
    assert not any(said in n for n in all_words(hot.notices, "metric"))


def test_after_the_first_good_test_an_alarm_orders_nothing_and_says_what_ends_it() -> None:
    """Who is told to cool goes on cooling (common practice, no source)."""
    rows = ("2026-03-03 12:00,added,trochus-maculatus,3,,display,", "2026-03-05 18:00,reading,temperature,30.5,C,display,")
    passed = tank_with(already={"big-change": date(2026, 3, 1)})
    hot = plan_with(rulebook(), *rows, on="2026-03-05", tank=passed)
    assert any("slow cooling" in str(n) for n in hot.notices) and not any("ends this alarm" in str(n) for n in hot.notices)
    cooler = plan_with(rulebook(), *rows, "2026-03-06 18:00,reading,temperature,26,C,display,", on="2026-03-06", tank=passed)
    half_over = "The last test is good. A second one from Sat 7 Mar 14:00 on ends this alarm."
    assert any(half_over in str(n) for n in cooler.notices) and not any("slow cooling" in str(n) for n in cooler.notices)
    assert any(h.do == half_over for h in cooler.holds)


@pytest.mark.parametrize(("tests", "on", "told"), [
    (("03-06 22:00",), "03-06", "The last test is good. A second one from Sat 7 Mar 18:00 on ends this alarm."),
    (("03-06 02:00",), "03-06", "The last test is good. A second one from Sat 7 Mar on ends this alarm."),
    (("03-06",), "03-06", "The last test is good. A second one from Sat 7 Mar on ends this alarm."),
    (("03-06 22:00", "03-07 09:00"), "03-07", "The last tests are good, but too close together to count as two. One more from Sat 7 Mar 18:00 on ends this alarm."),
    (("03-06 22:00", "03-07 17:59"), "03-07", "The last tests are good, but too close together to count as two. One more from Sat 7 Mar 18:00 on ends this alarm."),
    (("03-06 22:00",), "03-08", "The last test is good. A second one ends this alarm."),
    (("03-06 22:00", "03-07 09:00", "03-07 18:00"), "03-07", None),
])
def test_an_alarm_says_from_which_hour_a_second_good_test_ends_it_and_why_an_earlier_one_did_not(tests: tuple[str, ...], on: str, told: str | None) -> None:
    """20 h apart, on two days of the calendar: 22:00 and 20 h are 18:00."""
    rows = ("2026-03-03 12:00,added,trochus-maculatus,3,,display,", "2026-03-05 18:00,reading,temperature,30.5,C,display,",
            *(f"2026-{t},reading,temperature,26,C,display," for t in tests))
    said = all_words(plan_with(rulebook(), *rows, on=f"2026-{on}", tank=tank_with(already={"big-change": date(2026, 3, 1)})).notices, "metric")
    assert [n for n in said if "ends this alarm" in n] == ([told] if told else [])


def test_once_an_engineer_approved_the_floor_no_page_asks_for_one() -> None:
    tank, said = tank_with(room__floor="suspended"), "Have a structural engineer judge it"
    approved = plan_with(rulebook(), "2026-03-03 12:00,done,site/engineer", on="2026-03-04", tank=tank)
    assert any(said in str(n) for n in plan_with(rulebook(), on="2026-03-04", tank=tank).notices) and not any(said in str(n) for n in approved.notices)


def test_weak_heaters_are_told_with_what_to_buy_and_where_to_write_it() -> None:
    (said,) = (str(n) for n in plan_with(rulebook(), on="2026-03-04", tank=tank_with(equipment__heater=["50 W", "50 W"])).notices if "Your heaters give 100 W" in str(n))
    assert "Buy two of 150 W each" in said and "tank.yaml" in said


FALLING = ("2026-03-04 12:00,added,discosoma-spp,3,,display,", *(f"2026-03-{5 + 4 * n:02} 18:00,reading,alkalinity,{10.5 - n / 2},dKH,display," for n in range(6)))
CLEAR = tuple(f"2026-03-03,reading,{name},{value},{unit},display," for name, value, unit in (("ammonia", 0, "mg/L"), ("nitrite", 0, "mg/L"), ("nitrate", 10, "mg/L"), ("ph", 8.1, "pH"), ("alkalinity", 8.5, "dKH"), ("salinity", 35, "ppt"), ("temperature", 25.5, "C")))
LEVEL = (FALLING[0], *(row.replace(row.split(",")[3], "8") for row in FALLING[1:]))
DOSED = ("2026-03-25 19:00,done,care/daily-dose,,,display,", "2026-03-25 19:00,dosed,bicarbonate,0.6,g,display,")


@pytest.mark.parametrize(("rows", "said"), [
    ((*FALLING, *DOSED), ""),
    ((*FALLING, *DOSED, "2026-03-26 12:00,changed_water,water,20,%,display,"), "a large change moves it by itself. Test it tomorrow"),
    ((*LEVEL, *DOSED), "your tests show no use of it"),
    ((*FALLING, "2026-03-26 12:00,changed_water,water,20,%,display,"), ""),
])
def test_a_daily_dose_that_stops_says_why(rows: tuple[str, ...], said: str) -> None:
    """Common practice, no source: a dose that is left off without a word is taken for a fault of the page."""
    told = [n for n in all_words(plan_with(rulebook(), *CLEAR, *sorted(rows), on="2026-03-26", tank=tank_with(test_kits__alkalinity={"step": 0.5}, already={phase: date(2026, 3, 3) for phase in ("big-change", "animals", "crew", "fish", "corals", "lights")})).notices, "metric") if "daily dose" in n]
    assert (said in told[0]) if said else told == []


CARE = tank_with(already={"big-change": date(2026, 3, 1)})
OPEN = ("2026-03-03,reading,ammonia,0,mg/L,display,", "2026-03-03,reading,nitrite,0,mg/L,display,", "2026-03-03,reading,nitrate,10,mg/L,display,", "2026-03-03,reading,ph,8.1,pH,display,",
        "2026-03-03,reading,alkalinity,8,dKH,display,", "2026-03-03,reading,salinity,35,ppt,display,", "2026-03-03,reading,temperature,25.5,C,display,")


@pytest.mark.parametrize(("on", "told"), [("2026-03-08", False), ("2026-03-09", True), ("2026-03-10", False)])
def test_the_day_before_a_weekly_change_its_salt_water_is_to_be_mixed(on: str, told: bool) -> None:
    """Salt water is mixed a day before it is used (common practice, no source)."""
    assert told == any(str(n).startswith("Mix ") and "for the change tomorrow." in str(n) for n in plan_with(rulebook(), *OPEN, on=on, tank=CARE).notices)


@pytest.mark.parametrize(("bought", "told"), [("salt 0.1 kg", True), ("salt 200 kg", False), ("", False)])
def test_what_is_to_be_ordered_now_is_said_with_the_day(bought: str, told: bool) -> None:
    rows = (*OPEN, f"2026-03-07,event,bought,{bought},,display,") if bought else OPEN
    assert told == any(str(n).startswith("Order salt mix now.") for n in plan_with(rulebook(), *rows, on="2026-03-08", tank=CARE).notices)
