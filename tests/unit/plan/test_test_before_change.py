"""Between two changes of water stands a test: what a row without an hour cannot tell, the next day's test does.

One dose, then a reading, then the next dose; a test speaks an hour after the change (common practice, no source)."""

from __future__ import annotations

from datetime import date

import pytest

from planner.plan.make import make_plan
from planner.stock.catalogue import load_catalogue
from planner.terms.records import Plan, State
from tests.engine_desk import day_of, journal_of, plan_with, tank_with
from tests.rulecases import RULES, rulebook

OPEN = [f"2026-03-02 09:00,reading,{name},{value},{unit},display" for name, value, unit in (
    ("ammonia", 0, "mg/L"), ("nitrite", 0, "mg/L"), ("nitrate", 5, "mg/L"), ("ph", 8.2, ""), ("alkalinity", 8, "dKH"), ("salinity", 35, "ppt"), ("temperature", 25.5, "C"))]
STOCKED = [*OPEN, "2026-03-03 09:00,added,trochus-maculatus,3,,display", "2026-03-10 08:00,reading,ammonia,0.75,mg/L,display"]
ON = "2026-03-11"


def after_a_change(at: str, *tests: str, on: str = ON) -> Plan:
    rows = [*STOCKED, f"2026-03-10{at},done,ammonia-two/change#1,,,display", f"2026-03-10{at},changed_water,water,50,%,display", *(f"{t},mg/L,display" for t in tests)]
    return plan_with(rulebook(), *rows, on=on, tank=tank_with(already={"big-change": "2026-03-01"}))


@pytest.mark.parametrize("at", ["", " 09:00"])
def test_a_change_and_a_test_of_one_day_without_hours_ask_for_a_test_before_the_next_change(at: str) -> None:
    assert day_of(after_a_change(at, "2026-03-10,reading,ammonia,0.5", on="2026-03-10"), "ammonia-two/change") == ON
    plan = after_a_change(at, "2026-03-10,reading,ammonia,0.5")
    assert day_of(plan, "ammonia-two/change") == "2026-03-12"
    assert day_of(plan, "ammonia-two/retest") == ON


def test_the_change_comes_without_that_test_a_day_later_all_the_same() -> None:
    assert day_of(after_a_change("", "2026-03-10,reading,ammonia,0.5", on="2026-03-12"), "ammonia-two/change") == "2026-03-12"


def test_a_change_that_nobody_tested_after_comes_again_the_next_day() -> None:
    assert day_of(after_a_change(" 09:00"), "ammonia-two/change") == ON


@pytest.mark.parametrize(("tests", "day"), [
    (("2026-03-10 09:59,reading,ammonia,0.5",), "2026-03-12"),  # too soon to tell
    (("2026-03-10 10:00,reading,ammonia,0.5",), ON),
    (("2026-03-10 09:30,reading,ammonia,0.5", "2026-03-11,reading,ammonia,0.5"), ON),
    (("2026-03-10,reading,ammonia,0.5", "2026-03-11 08:00,reading,ammonia,0.5"), ON),
], ids=str)
def test_the_next_change_stands_as_soon_as_a_test_an_hour_after_the_last_one_asks_for_it(tests: tuple[str, ...], day: str) -> None:
    assert day_of(after_a_change(" 09:00", *tests), "ammonia-two/change") == day


def test_a_small_change_and_a_test_within_its_hour_ask_for_a_test_first() -> None:
    """After a quarter the test counts, but it says nothing yet of what the water will hold tomorrow."""
    rows = [*STOCKED[:-1], "2026-03-10 08:00,reading,ammonia,0.38,mg/L,display", "2026-03-10 09:00,done,ammonia-one/change#1,,,display", "2026-03-10 09:00,changed_water,water,25,%,display",
            "2026-03-10 09:10,reading,ammonia,0.38,mg/L,display"]
    plan = plan_with(rulebook(), *rows, on=ON, tank=tank_with(already={"big-change": "2026-03-01"}))
    assert (day_of(plan, "ammonia-one/change"), day_of(plan, "ammonia-one/retest")) == ("2026-03-12", ON)


@pytest.mark.parametrize(("wish", "nitrate", "litres", "asked"), [
    ("montipora-digitata", 20, 50, True), ("montipora-digitata", 21, 50, False), ("montipora-digitata", 21, 80, True), ("gramma-loreto", 21, 50, True), ("gramma-loreto", 41, 50, False)])
def test_far_above_the_aim_of_the_list_a_batch_of_the_big_change_needs_no_test_before_the_next(wish: str, nitrate: int, litres: int, asked: bool) -> None:
    """Twice the aim, 10 mg/L with stony corals and 20 without, is out of reach of a change of up to 30 %."""
    tank = tank_with(already={"cycle": "2026-03-01"}, wish_list=[{"animal": wish}])
    rows = (f"2026-03-03 09:00,reading,nitrate,{nitrate},mg/L,display", "2026-03-03 09:00,reading,nitrite,0,mg/L,display", f"2026-03-03 10:00,changed_water,water,{litres},L,display")
    plan = make_plan(tank, journal_of(*rows, tank=tank), rulebook(), date(2026, 3, 5), catalogue=load_catalogue([RULES / "livestock"]))
    today = {t.key for t in plan.tasks if t.state in (State.DUE, State.LATE)}
    assert ("big-change/nitrate-test" in today) is asked and (asked or "big-change/mix" in today)
