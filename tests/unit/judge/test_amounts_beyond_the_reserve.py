"""Amounts that alarms and quarantine ask for, against sums by hand."""

from __future__ import annotations

import pytest

from planner.judge.figures import quantity
from tests.engine_desk import facts_of, tank_with
from tests.rulecases import rulebook


@pytest.mark.parametrize(("units", "source", "grams"), [("metric", "ro", 380.0), ("us", "ro", 143.8), ("metric", "ready_mixed", 380.0)])
def test_salt_is_told_for_ten_litres_or_for_a_gallon_also_to_who_buys_water_ready_mixed(units: str, source: str, grams: float) -> None:
    """38 g of mix a litre at 35 ppt (common practice, no source); a US gallon is 3.785 L (NIST Handbook 44, appendix C)."""
    made = quantity("salt_each", facts_of(on="2026-03-05", tank=tank_with(units=units, water={"source": source})), rulebook())
    assert made is not None and made.value == pytest.approx(grams, abs=0.1)


def test_the_feed_of_a_quarantine_filter_is_twice_its_proof() -> None:
    """2 mg/L as N in 40 L: 80 mg of N, times 53.491 / 14.007 (standard atomic weights, IUPAC)."""
    facts = facts_of(on="2026-03-05", tank=tank_with(equipment={"quarantine_tank": "40 L"}))
    feed, proof = (quantity(name, facts, rulebook()) for name in ("quarantine_feed_ammonia", "quarantine_ammonia"))
    assert feed is not None and proof is not None
    assert feed.value == pytest.approx(0.080 * 53.491 / 14.007, rel=1e-3)
    assert feed.value == pytest.approx(2 * proof.value)
