"""`swing`: a reading that moved too far in too short a time."""

from __future__ import annotations

from planner.files.checked import Field, check
from planner.rulebook.kinds.node import HIGHER, LOWER, TIME, Known, Node, Subject, Threshold, limits


class SwingNode(Node):
    """Did the newest reading move by more than `by` against any other of the time `within` before it? What lies on both sides of
    a row of one of these kinds has its cause and is left out: `unless_between` for a move of either way, `rises_by` for a rise
    (a dose explains no fall). A change of water counts only where it took more than the share `large`: a smaller one cannot move
    the reading so far. From above `falls_from` a fall of `fall_a_day` is expected and taken off. `single`: only as long as the newest
    reading stands alone; another one of that time within half of `by` bears it out, and what is left is no doubt any more."""

    name: str
    where: str = "display"
    by: str
    within: str
    unless_between: tuple[str, ...] = Field(default=())
    rises_by: tuple[str, ...] = Field(default=())
    large: str | None = None
    falls_from: str | None = None
    fall_a_day: str | None = None
    single: bool = False

    @check
    def _fall_has_its_pace(self) -> None:
        if (self.falls_from is None) != (self.fall_a_day is None):
            raise ValueError("`falls_from` and `fall_a_day` belong together")

    def thresholds(self) -> tuple[Threshold, ...]:
        return (Threshold(self.by, HIGHER, self.name), Threshold(self.within, LOWER, TIME),
                *limits((self.large, LOWER, ""), (self.falls_from, LOWER, self.name), (self.fall_a_day, HIGHER, self.name)))

    def names(self) -> tuple[tuple[str, str], ...]:
        return (("reading", self.name),)

    def watches(self, known: Known) -> tuple[Subject, ...]:  # noqa: ARG002
        return (("reading", self.name), *((kind, "*") for kind in (*self.unless_between, *self.rises_by)))

    def water(self) -> str:
        return self.where
