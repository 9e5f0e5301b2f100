"""What a plan still takes: what is behind it costs nothing more."""

from __future__ import annotations

from datetime import date

import pytest

from planner.judge.figures import salt_g
from planner.plan.effort import Effort, effort_of
from planner.plan.make import make_plan
from tests.engine_desk import journal_of, tank_with
from tests.rulecases import rulebook


def effort(**tank: object) -> Effort:
    made = tank_with(**tank)
    journal = journal_of(tank=made)
    return effort_of(make_plan(made, journal, rulebook(), date(2026, 3, 10)), made, journal, rulebook())


def test_salt_is_for_the_water_that_is_still_to_be_made() -> None:
    """Once the water of the first fill is mixed, every litre of salt water that is counted needs its own salt."""
    tank = tank_with()
    before, after = effort(), effort(already={"water": "2026-03-09"})
    assert after.salt_g == pytest.approx(salt_g(after.salt_water_l, tank.water.salinity, tank), abs=1e-6)
    assert before.salt_water_l > after.salt_water_l and before.salt_g > after.salt_g


def test_ready_mixed_water_needs_no_salt_and_is_carried_home() -> None:
    assert effort(water__source="ready_mixed").salt_g == 0 < effort().salt_g
    assert effort(water__source="ready_mixed").carried_l > effort().carried_l


def test_each_change_of_a_series_takes_its_time() -> None:
    """A bin so small that its first batch would grow old makes two changes, and each takes as long as one large one."""
    gone = {"water": "2026-03-09", "scape": "2026-03-09", "start-up": "2026-03-09"}
    one, series = effort(already=gone), effort(already=gone, equipment__bin="5 L")
    more = series.water_changes - one.water_changes
    assert more >= 1
    assert (series.hours - one.hours) * 60 > more * rulebook().tasks["big-change/change"].minutes
