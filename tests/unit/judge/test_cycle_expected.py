"""What the forecast takes for now: the midnight that ends the plan's day, and never a reading after it."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from planner.judge.cycle_expected import Expectation, expect
from planner.judge.gates import judge
from tests.engine_desk import facts_of, tank_with
from tests.rulecases import rulebook

TANK = tank_with(start="2026-02-20", already={"start-up": "2026-03-01"})
DOSE = "2026-03-02 12:00,dosed,ammonia,2,mg/L as N"


def expected(*rows: str, on: str) -> Expectation:
    facts = facts_of(*rows, on=on, tank=TANK)
    return expect(rulebook(), facts, judge(rulebook(), facts))


def test_the_curves_run_a_fixed_time_on_from_the_midnight_that_ends_the_day() -> None:
    """From noon of the 2nd to the midnight after the 12th are ten days and a half; the forecast looks 120 days on."""
    made = expected(DOSE, on="2026-03-12")
    assert made.model is not None
    assert made.model.days[-1] == 130
    assert [p.day for p in made.curve][-1] == date(2026, 3, 2) + timedelta(days=130)


@pytest.mark.parametrize(("when", "counted"), [("2026-03-12 00:00", 1), ("2026-03-12 23:59", 1), ("2026-03-12", 1), ("2026-03-13 00:00", 0)])
def test_a_reading_counts_until_the_day_ends(when: str, counted: int) -> None:
    assert expected(DOSE, f"{when},reading,ammonia,1,mg/L as N", on="2026-03-12").readings_used == counted


@pytest.mark.parametrize(("dose", "on", "told"), [
    # A bare date counts as its noon: to the midnight after day 364 it is 364.5 days, after day 365 it is 365.5.
    ("2026-03-02,dosed,ammonia,2,mg/L as N", "2027-03-01", False), ("2026-03-02,dosed,ammonia,2,mg/L as N", "2027-03-02", True),
    # From midnight to midnight 365 days are whole, and still in.
    ("2026-03-02 00:00,dosed,ammonia,2,mg/L as N", "2027-03-01", False), ("2026-03-02 00:00,dosed,ammonia,2,mg/L as N", "2027-03-02", True)])
def test_after_more_than_a_year_without_a_passed_cycle_nothing_is_forecast(dose: str, on: str, told: bool) -> None:
    made = expected(dose, on=on)
    assert (made.basis == "more than a year without a passed cycle: begin anew") == told
    assert (made.model is None) == told
