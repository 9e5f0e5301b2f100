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


FED = "2026-01-26"
BUILT: dict[str, Any] = {**DRY, "start": "2026-01-05", "already": {"start-up": FED}}
DOSE = ("2026-01-27 18:00,dosed,ammonia,2,mg/L as N,display", "2026-01-27 18:00,done,cycle/first-dose")


def estimate(*rows: str, on: str = FED, away: tuple[tuple[str, str], ...] = ()) -> Plan:
    return plan_with(rulebook(), *rows, on=on, tank=tank_with(**BUILT, keeper__away=[{"from": first, "to": last} for first, last in away]))


def cycle_days(plan: Plan) -> tuple[date | None, ...]:
    found = plan.phase("cycle")
    assert found is not None
    return found.window.earliest, found.window.likely, found.window.latest


def test_an_absence_that_has_begun_puts_the_cycle_off_as_far_as_its_first_dose() -> None:
    """Back on the 3rd, eight days after the 26th: everything that the dose begins is eight days later."""
    at_home, gone = estimate(), estimate(away=(("2026-01-24", "2026-02-02"),))
    assert [next(t.date for t in plan.tasks if t.key == "cycle/first-dose") for plan in (at_home, gone)] == [date(2026, 1, 26), date(2026, 2, 3)]
    assert [day + timedelta(days=8) for day in cycle_days(at_home) if day] == list(cycle_days(gone))
    begun = gone.forecast.events["ammonia_clear"].window.likely, at_home.forecast.events["ammonia_clear"].window.likely
    assert begun[0] and begun[1] and (begun[0] - begun[1]).days == 8


@pytest.mark.parametrize("parts", [(("2026-02-25", "2026-03-10"), ("2026-02-27", "2026-03-04")), (("2026-02-25", "2026-03-02"), ("2026-03-02", "2026-03-10")), (("2026-02-25", "2026-03-02"), ("2026-03-03", "2026-03-10"))])
def test_absences_that_overlap_or_adjoin_count_as_one(parts: tuple[tuple[str, str], ...]) -> None:
    assert cycle_days(estimate(away=parts)) == cycle_days(estimate(away=(("2026-02-25", "2026-03-10"),)))


@pytest.mark.parametrize("away", [(), (("2026-02-06", "2026-02-15"),), (("2026-02-25", "2026-03-10"),)])
def test_the_first_dose_leaves_the_days_foretold_where_they_were(away: tuple[tuple[str, str], ...]) -> None:
    """Dosed a day later than foretold: nothing else is new, so the dates move by a few days at most."""
    before, after = cycle_days(estimate(away=away)), cycle_days(estimate(*DOSE, on="2026-01-27", away=away))
    assert all(a is not None and b is not None and abs((a - b).days) <= 4 for a, b in zip(after, before, strict=True)), (before, after)


def test_an_absence_while_the_filter_is_proven_puts_its_end_off_until_the_keeper_is_back() -> None:
    at_home, gone = (cycle_days(estimate(away=away))[1] for away in ((), (("2026-03-08", "2026-03-20"),)))
    assert at_home is not None and gone is not None and at_home <= date(2026, 3, 20) < gone


def test_a_first_dose_put_off_takes_the_days_after_it_along() -> None:
    at_once, later = estimate(), estimate("2026-01-26 18:00,postponed,cycle/first-dose,2026-02-03")
    assert [day + timedelta(days=8) for day in cycle_days(at_once) if day] == list(cycle_days(later))


def test_food_takes_longer_than_weighed_ammonia() -> None:
    """Food has to rot first, and no proof is tried before something was read (common practice, no source)."""
    dosed, food = (likely(plan_with(rulebook(), on=START, tank=tank_with(**{**DRY, "cycle": {"ammonia": ammonia}})), "cycle") for ammonia in ("dosed", "food"))
    assert (food - dosed).days >= 10
