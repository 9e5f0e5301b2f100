"""What the first day says of the days to come: the waits and tests that a usual course really takes."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest

from planner.terms.records import Plan
from tests.engine_desk import plan_with, tank_with
from tests.rulecases import rulebook

START = "2026-03-02"
DRY: dict[str, Any] = {"start": START, "rock": {"kind": "dry", "mass": "20 kg"}, "cycle": {"ammonia": "dosed"}, "water": {"source": "ro", "salinity": "35 ppt"}}


def likely(plan: Plan, phase: str) -> date:
    found = plan.phase(phase)
    assert found is not None and found.window.likely is not None
    return found.window.likely


def test_rock_that_gives_off_phosphate_for_a_week_is_ready_on_the_day_foretold() -> None:
    """Soaked on the 10th, high on the 11th and the 18th: low on the 25th and on the 1st at the earliest, three weeks after the first test (1 to 8 weeks: common
    practice, no source)."""
    soaked = ("2026-03-10 18:00,done,rock/rinse", "2026-03-10 18:30,done,rock/soak")
    first = tuple(f"2026-03-11 18:{n:02d},{row}" for n, row in enumerate(("reading,phosphate,0.6,mg/L,curing", "done,rock/phosphate#1", "changed_water,water,60,L,curing", "done,rock/soak-change#1")))
    second = tuple(f"2026-03-18 18:{n:02d},{row}" for n, row in enumerate(("reading,phosphate,0.15,mg/L,curing", "done,rock/phosphate#2", "changed_water,water,60,L,curing", "done,rock/soak-change#2")))
    told = [likely(plan_with(rulebook(), *rows, on=on, tank=tank_with(**DRY)), "rock").isoformat() for rows, on in ((soaked, "2026-03-10"), ((*soaked, *first), "2026-03-12"), ((*soaked, *first, *second), "2026-03-19"))]
    assert told == ["2026-04-01"] * 3


@pytest.mark.parametrize(("first", "ready"), [(0.02, "2026-03-18"), (0.2, "2026-04-01")])
def test_rock_whose_first_test_is_low_is_ready_with_the_test_of_the_next_week(first: float, ready: str) -> None:
    rows = ("2026-03-10 18:00,done,rock/rinse", "2026-03-10 18:30,done,rock/soak", f"2026-03-11 18:00,reading,phosphate,{first},mg/L,curing", "2026-03-11 18:01,done,rock/phosphate#1")
    assert likely(plan_with(rulebook(), *rows, on="2026-03-12", tank=tank_with(**DRY)), "rock").isoformat() == ready


@pytest.mark.parametrize("mixed_in", ["bin", "tank"])
def test_two_steady_days_of_a_heated_tank_count_no_test_from_before_the_heater(mixed_in: str) -> None:
    """Water that was mixed in the bare tank is tested there for weeks before the rock comes, and none of these tests says that heater and room are in balance."""
    plan = plan_with(rulebook(), on=START, tank=tank_with(**{**DRY, "water": {**DRY["water"], "mixed_in": mixed_in}}))
    heated = next(t.date for t in plan.tasks if t.key == "start-up/heater")
    assert heated is not None and likely(plan, "start-up") >= heated + timedelta(days=2)


@pytest.mark.parametrize(("away", "later"), [(("2026-05-01", "2026-05-06"), 6), (("2026-03-04", "2026-03-05"), None), (("2026-10-01", "2026-10-06"), 0)])
def test_an_absence_in_the_weeks_of_the_cycle_puts_its_end_off(away: tuple[str, str], later: int | None) -> None:
    """Before its first day the forecast does not know its dates: nobody feeds, tests or proves in these days."""
    at_home, gone = (likely(plan_with(rulebook(), on=START, tank=tank_with(**DRY, **more)), "cycle") for more in ({}, {"keeper__away": [{"from": away[0], "to": away[1]}]}))
    assert later is None or (gone - at_home).days == later
    assert gone >= at_home


def test_food_takes_longer_than_weighed_ammonia() -> None:
    """Food has to rot first, and no proof is tried before something was read (common practice, no source)."""
    dosed, food = (likely(plan_with(rulebook(), on=START, tank=tank_with(**{**DRY, "cycle": {"ammonia": ammonia}})), "cycle") for ammonia in ("dosed", "food"))
    assert (food - dosed).days >= 10
