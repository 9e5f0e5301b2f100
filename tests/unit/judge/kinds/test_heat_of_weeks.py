"""The warmest reading of each of the last twelve weeks' days, and the month that a tank is used to."""

from __future__ import annotations

from datetime import date, timedelta
from math import inf

import pytest

from planner.judge.kinds.heat import DAYS, HELD_DAYS, daily_warmth, usual_summer_c
from planner.terms.records import Row
from tests.engine_desk import facts_of

ON = date(2026, 6, 30)


def warmth(*readings: tuple[int, float]) -> tuple[list[Row], list[float]]:
    """Readings as (days ago, °C), and the twelve weeks up to today."""
    facts = facts_of(*(f"{ON - timedelta(days=ago)} 12:{n:02},reading,temperature,{c},C" for n, (ago, c) in enumerate(readings)), on=ON.isoformat())
    rows = list(facts.rows("reading", "temperature"))
    return rows, daily_warmth(rows, facts)


@pytest.mark.parametrize(("ago", "days"), [(0, [DAYS - 1]), (40, [43, 44, 45, 46]), (83, [0, 1, 2, 3]), (86, [0]), (87, [])])
def test_a_reading_holds_for_its_day_and_three_more(ago: int, days: list[int]) -> None:
    found = warmth((ago, 30.0))[1]
    assert len(found) == DAYS and [n for n, c in enumerate(found) if c == 30.0] == days and set(found) <= {30.0, -inf}
    assert HELD_DAYS == 3


def test_the_warmest_of_a_day_counts_and_an_older_one_ends_with_the_next_day_that_was_read() -> None:
    found = warmth((10, 26.0), (10, 29.0), (9, 25.0))[1]
    assert found[-11:-7] == [29.0, 25.0, 25.0, 25.0] and found[-12] == -inf


def test_a_tank_is_used_to_its_warmest_month_before_the_twelve_weeks() -> None:
    facts = facts_of(*(f"2025-{month:02}-{day:02} 12:00,reading,temperature,{c},C" for month, c in ((7, 27), (8, 28)) for day in range(1, 12 if month == 7 else 10)),
                     f"{ON} 12:00,reading,temperature,31,C", on=ON.isoformat())
    rows = list(facts.rows("reading", "temperature"))
    assert usual_summer_c(rows, facts, 26.0) == pytest.approx(27.0), "nine readings of August say nothing"
    assert usual_summer_c(rows[-1:], facts, 26.0) == 26.0
