"""The size of a remedy's change of water, by hand from the mixing of two volumes: f = (now - aim) / (now - new water).

The aims are the levels that raise or end the alarm, the ranges those of the rules; both common practice, no source."""

from __future__ import annotations

import pytest

from planner.judge.figures import quantity
from tests.engine_desk import facts_of
from tests.rulecases import rulebook

ON = "2026-03-20"


def share(figure: str, reading: str, now: str, new: str | None, mixed_on: str = "2026-03-18") -> float:
    """The share of the net water, in per cent."""
    rows = [f"2026-03-20 08:00,reading,{reading},{now},mg/L,display"] + ([f"{mixed_on},reading,{reading},{new},mg/L,mixing"] if new is not None else [])
    facts = facts_of(*rows, on=ON)
    made = quantity(figure, facts, rulebook())
    assert made is not None
    return round(made.value / facts.net_volume_l * 100, 1)


@pytest.mark.parametrize(("figure", "reading", "now", "new", "expected"), [
    ("ammonia_change", "ammonia", "0.3", "0", 36.7),   # (0.3 - 0.19) / 0.3
    ("ammonia_change", "ammonia", "0.4", "0.1", 50.0),  # (0.4 - 0.19) / 0.3 is 70 %, more than a change may be
    ("ammonia_change", "ammonia", "0.2", "0", 20.0),   # 5 %, less than the least
    ("nitrite_change", "nitrite", "0.32", "0", 21.9),  # (0.32 - 0.25) / 0.32
    ("nitrate_change", "nitrate", "40", "5", 28.6),    # (40 - 30) / 35
    ("nitrate_change", "nitrate", "80", "0", 33.0),    # 62.5 %, and a third is the most in a day
    ("nitrate_change", "nitrate", "50", "35", 33.0),   # such water never reaches the aim: as much as may be
    ("nitrate_change", "nitrate", "50", "60", 20.0),   # worse than the tank: as little as may be
])
def test_the_change_follows_the_reading_the_aim_and_the_new_water(figure: str, reading: str, now: str, new: str, expected: float) -> None:
    assert share(figure, reading, now, new) == expected


@pytest.mark.parametrize(("now", "new", "mixed_on"), [("40", None, "2026-03-18"), (">80", "0", "2026-03-18"), ("40", "5", "2026-03-05")])
def test_without_a_figure_for_the_tank_or_for_water_that_is_still_kept_the_usual_share_stays(now: str, new: str | None, mixed_on: str) -> None:
    assert share("nitrate_change", "nitrate", now, new, mixed_on) == 25.0
