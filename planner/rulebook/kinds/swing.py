"""`swing`: a reading that moved too far in too short a time."""

from __future__ import annotations

from planner.files.checked import Field, check
from planner.rulebook.kinds.node import HIGHER, LOWER, TIME, Known, Node, Subject, Threshold, limits


class SwingNode(Node):
    """Did the newest reading move by more than `by` against any other of the time `within` before it? What lies on both sides of
    a row of one of these kinds has its cause and is left out: `unless_between` for a move of either way, `rises_by` for a rise
    (a dose explains no fall). A change of water counts only where it took more than the share `large`: a smaller one cannot move
    the reading so far. From above `falls_from` a fall of `fall_a_day` is expected and taken off. `single`: only as long as the newest
    reading stands alone; another one of that time within half of `by` bears it out, and what is left is no doubt any more.
    `two_refute`: a reading that stands alone counts no more once two later ones of different days agree with each other and with the one
    before it. `at_35`: of a salt, judged as it would be at 35 ppt, so that it does not jump with the salinity. `home_least`, `home_most`: a move from outside
    of this range towards it is the way back that a remedy asked for. `days`: only once it happened on so many days of the time `lately`."""

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
    two_refute: bool = False
    at_35: bool = False
    home_least: str | None = None
    home_most: str | None = None
    days: str | None = None
    lately: str | None = None

    @check
    def _fall_has_its_pace(self) -> None:
        if (self.falls_from is None) != (self.fall_a_day is None):
            raise ValueError("`falls_from` and `fall_a_day` belong together")
        if (self.home_least is None) != (self.home_most is None):
            raise ValueError("`home_least` and `home_most` belong together")
        if (self.days is None) != (self.lately is None):
            raise ValueError("`days` and `lately` belong together")

    def thresholds(self) -> tuple[Threshold, ...]:
        return (Threshold(self.by, HIGHER, self.name), Threshold(self.within, LOWER, TIME),
                *limits((self.large, LOWER, ""), (self.falls_from, LOWER, self.name), (self.fall_a_day, HIGHER, self.name),
                        (self.home_least, LOWER, self.name), (self.home_most, HIGHER, self.name), (self.days, HIGHER, ""), (self.lately, LOWER, TIME)))

    def names(self) -> tuple[tuple[str, str], ...]:
        return (("reading", self.name),)

    def watches(self, known: Known) -> tuple[Subject, ...]:  # noqa: ARG002
        return (("reading", self.name), *((("reading", "salinity"),) if self.at_35 else ()), *((kind, "*") for kind in (*self.unless_between, *self.rises_by)))

    def water(self) -> str:
        return self.where
