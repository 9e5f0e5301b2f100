"""`swing`: a reading that moved too far in too short a time."""

from __future__ import annotations

from pydantic import Field

from planner.rulebook.kinds.node import HIGHER, LOWER, TIME, Known, Node, Subject, Threshold


class SwingNode(Node):
    """Did the newest reading move by more than `by` against any other of the time `within` before it? What lies on both sides of
    one of `unless_between` (a kind of row, such as `dosed`) is left out: that move has its cause."""

    name: str
    where: str = "display"
    by: str
    within: str
    unless_between: tuple[str, ...] = Field(default=())

    def thresholds(self) -> tuple[Threshold, ...]:
        return (Threshold(self.by, HIGHER, self.name), Threshold(self.within, LOWER, TIME))

    def names(self) -> tuple[tuple[str, str], ...]:
        return (("reading", self.name),)

    def watches(self, known: Known) -> tuple[Subject, ...]:  # noqa: ARG002
        return (("reading", self.name), *((kind, "*") for kind in self.unless_between))

    def water(self) -> str:
        return self.where
