"""The filter beside the stages: what the stage search may ask of it, and what the stages found do to it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from planner.stock.room_and_load import StockFigures
from planner.stock.stages.ammonia import Proof, Rise, Water, nh3_after_stage, slow_strength, tanks_ahead
from planner.stock.stages.search import Filter, Unit

RATIONS = (1.0, 3 / 4, 2 / 3, 1 / 2, 1 / 3, 1 / 4)
MG_PER_UNIT = 0.001  # the search counts whole micrograms of nitrogen


@dataclass(frozen=True, slots=True)
class FilterCare:
    """The filter ahead. `proof` None: animals came before any proof. `already`: days (ordinals) on which animals of the
    tank came or went, with the nitrogen in mg/day that they brought or took."""

    water: Water
    proof: Proof | None
    already: tuple[tuple[int, float], ...] = ()

    @property
    def load_in(self) -> float:
        """Nitrogen in mg/day of the animals in."""
        return max(0.0, sum(mg for _, mg in self.already))


@dataclass(frozen=True, slots=True)
class StageRise:
    """What is expected after one stage with its newcomers on `ration` of their usual food (1 = all of it)."""

    rise: Rise
    ration: float


def filter_for_search(care: FilterCare, units: Sequence[Unit], gap: int, figures: StockFigures) -> Filter:
    """The slow filter in the whole numbers of the search for these units. `gap`: days between two stages at least."""
    settle = int(figures.value("settle_days"))
    strength = slow_strength(care.proof, care.water, figures.value("stage_free_ammonia"), settle, gap)
    began = min((day for day, _ in care.already), default=min(u.release for u in units))
    per_unit = MG_PER_UNIT / care.water.net_l
    in_the_end = (care.load_in / MG_PER_UNIT + sum(u.gives for u in units)) * per_unit

    def room(before: int, day: int) -> int:
        return math.floor(strength.room(before * per_unit, day - began, in_the_end) / per_unit)

    return Filter(room, round(care.load_in / MG_PER_UNIT), settle, figures.value("ration_least"))


def reckon_stages(stages: Sequence[tuple[int, float]], care: FilterCare, figures: StockFigures) -> list[StageRise]:
    """The ammonia expected after each stage (day, nitrogen added in mg/day), in order, on the largest ration that keeps
    free ammonia within the limit in the slow case. It ends before a stage that no ration makes bearable."""
    settle, limit, least = int(figures.value("settle_days")), figures.value("stage_free_ammonia"), figures.value("ration_least")
    changes = sorted(care.already)
    ahead = tanks_ahead(care.proof, care.water, max(0.0, changes[0][1]) if changes else 0.0)
    at, load = changes[0][0] if changes else stages[0][0], 0.0
    for day, change in changes:
        ahead, at, load = ahead.live(day - at, load), day, max(0.0, load + change)
    told: list[StageRise] = []
    for n, (day, added) in enumerate(stages):
        ahead = ahead.live(day - at, load)
        days = settle if n + 1 == len(stages) else min(settle, stages[n + 1][0] - day)
        for ration in (r for r in RATIONS if r == 1 or r >= least):
            rise, after = nh3_after_stage(ahead, load + ration * added, days)
            if rise.nh3_mg_l[2] <= limit:
                break
        else:
            return told
        told.append(StageRise(rise, ration))
        ahead, at, load = after, day + days, load + added
    return told
