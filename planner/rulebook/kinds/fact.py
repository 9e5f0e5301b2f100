"""`fact`: what went into the water or out of it."""

from __future__ import annotations

from typing import Literal

from planner.rulebook.kinds.node import HIGHER, LOWER, TIME, Known, Node, Subject, Threshold, given, limits, named


class FactNode(Node):
    """A `dosed`, `changed_water`, `poured`, `added` or `lost` row. `within` names a number in days or hours. With `ended_by` (a
    task key) and `looks` (a number) it is over as an event is: once the task is done after it, or ticked on so many later days."""

    kind: Literal["dosed", "changed_water", "poured", "added", "moved", "lost"]
    what: str | None = None
    where: str = "display"
    within: str | None = None
    since: str | None = None
    total_at_least: str | None = None
    ended_by: str | None = None
    looks: str | None = None

    def thresholds(self) -> tuple[Threshold, ...]:
        return limits((self.within, LOWER, TIME), (self.total_at_least, HIGHER, ""), (self.looks, LOWER, ""))

    def names(self) -> tuple[tuple[str, str], ...]:
        return named(*self.moments())

    def moments(self) -> tuple[str, ...]:
        return given(self.since, self.ended_by)

    def watches(self, known: Known) -> tuple[Subject, ...]:  # noqa: ARG002
        return ((self.kind, self.what or "*"),)

    def water(self) -> str:
        return self.where
