"""How much a life asked of its keeper."""

from __future__ import annotations

from dataclasses import dataclass

from tests.keepers.animals import group_of
from tests.keepers.record import Day


@dataclass(frozen=True)
class Effort:
    """How much a life asked for."""

    tests_a_week: float
    minutes_a_week: float
    water_to_animals: int | None
    first_fish: int | None
    most_steps: int


def effort(days: list[Day]) -> Effort:
    weeks = len(days) / 7
    filled = next((d.number for d in days if "scape" in d.pages[-1].opened), None)
    gate = next((d.number for d in days if "animals" in d.pages[-1].opened), None)
    fish = next((d.number for d in days if any(r[0] in ("added", "moved") and r[4] == "display" and group_of(r[1]) == "fish" for r in d.rows)), None)
    return Effort(
        round(sum(len(d.readings) for d in days) / weeks, 1), round(sum(d.minutes for d in days) / weeks, 0), None if gate is None or filled is None else gate - filled, fish,
        max((d.pages[0].steps for d in days), default=0))
