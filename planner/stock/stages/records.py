"""The stages of a list and the days that they depend on. Days are ordinals (`date.toordinal`)."""

from __future__ import annotations

from dataclasses import dataclass

from planner.stock.stages.ammonia import Rise
from planner.stock.stages.search import NextDay
from planner.stock.verdict import Wish
from planner.terms.causes import Cause


@dataclass(frozen=True, slots=True)
class QuarantineTank:
    """One quarantine tank, ready to take fish from the day `ready_day` on."""

    ready_day: int


@dataclass(frozen=True, slots=True)
class StageDays:
    """The days that the list depends on: the gate to animals opens, salt water first stood in the tank, and what day
    may be used. `next_day_allowed(d)` = first usable day not before d, or None; it must never fall as d grows.
    `floors`: days before which no fish, no coral, no crew may come for other reasons, which `floors_why` tells where they
    are not those of the rules; `group_floors`: the same by group of the catalogue. `last_day`, `last_fish_day`: the last day on which animals, or fish, came in already. `today`: no stage
    is put before it. `next_ids`: the animals of the next stage, which stands once its way is clear: they come together, none of their
    kind with or before them, and not before `next_day`. `least_gap`: days between stages, where the rules ask for more than the figures. `waiting`: fish that
    are in the quarantine tank already, by id."""

    gate_day: int
    first_salt_day: int
    next_day_allowed: NextDay
    floors: tuple[int, int, int] = (0, 0, 0)
    last_day: int | None = None
    last_fish_day: int | None = None
    floors_why: tuple[Cause | None, Cause | None, Cause | None] = (None, None, None)
    group_floors: tuple[tuple[str, int], ...] = ()
    today: int = 0
    least_gap: int = 0
    waiting: frozenset[str] = frozenset()
    next_ids: frozenset[str] = frozenset()
    next_day: int = 0


@dataclass(frozen=True, slots=True)
class Stage:
    """One stage. Nitrogen in mg/day: what it adds, and what all animals in by then give. `quarantine_from` is the day on
    which its fish enter the quarantine tank (None = no fish, or no such tank). `sorts`: fish, coral or crew, by wish; a
    shrimp that comes with its goby counts as fish. `rise`: total and free ammonia after it (None: not reckoned), the
    newcomers on `ration` of their usual food (1 = all of it), which `feeding` asks for."""

    number: int
    day: int
    wishes: tuple[Wish, ...]
    quarantine_from: int | None
    nitrogen_added_mg_per_day: float
    nitrogen_mg_per_day: float
    why_then: Cause
    why_together: Cause
    risk: Cause | None
    sorts: tuple[int, ...] = ()
    rise: Rise | None = None
    ration: float = 1.0
    why_load: Cause | None = None
    feeding: Cause | None = None

    @property
    def because(self) -> tuple[Cause, ...]:
        """What explains this stage."""
        return tuple(s for s in (self.why_then, self.why_together, self.feeding, self.why_load, self.risk) if s is not None)


@dataclass(frozen=True, slots=True)
class StagePlan:
    """All stages. `proved`: no better plan exists.
    `not_placed` holds wishes without a stage, each with its reason."""

    stages: tuple[Stage, ...]
    proved: bool
    not_placed: tuple[tuple[Wish, Cause], ...]


__all__ = ["QuarantineTank", "Stage", "StageDays", "StagePlan"]
