"""A keeper lives with a virtual tank by the page on the phone alone: every job is seen on it, and every row is written through its forms."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.keepers.keeper import Keeper
from tests.keepers.lives import make_life
from tests.keepers.phone import PhoneDoor
from tests.keepers.runs import judge_life

SEED = 12
"""An obedient keeper with dry rock and bottled bacteria, whose tank smells of rot one day."""


def by_phone(tmp_path: Path, days: int) -> Keeper:
    keeper = Keeper(make_life(SEED, days), tmp_path)
    keeper.door = PhoneDoor(keeper.folder, keeper.life.start)
    return keeper


def test_the_first_days_are_lived_by_phone_alone(tmp_path: Path) -> None:
    keeper = by_phone(tmp_path, 6)
    days = keeper.live()
    assert [said for day in days for said in day.said if said.startswith("refused")] == []
    assert sum(len(day.done) for day in days) > 10


@pytest.mark.slow
@pytest.mark.long
def test_a_whole_cycle_is_lived_by_phone_alone(tmp_path: Path) -> None:
    """From the empty glass box until the filter is proven, with the chemistry of a tank behind it that the planner knows nothing of."""
    keeper, days = by_phone(tmp_path, 110), []
    proven = None
    for _ in range(110):
        days += keeper.live_for(1, first=len(days))
        plan = keeper.door.plan
        gate = plan.phase_as("proves_filter") if plan is not None else None
        if gate is not None and gate.opened is not None:
            proven = gate.opened
            break
    assert proven is not None, days[-1].said
    assert [said for day in days for said in day.said if said.startswith("refused")] == []
    grave = [o for o in judge_life(keeper.life, days) if o.kind in ("colliding orders", "harm by obeying", "refused or wrong facts")]
    assert grave == []
