"""`reading`: a test result within limits."""

from __future__ import annotations

from collections.abc import Iterable

from planner.files.checked import Field
from planner.rulebook.kinds.node import HIGHER, LOWER, TIME, UNCLEAR, Known, Node, Subject, Tests, Threshold, given, limits, named


class ReadingNode(Node):
    """A reading within limits. `times` readings on different days (`apart` hours apart where both rows carry a
    time), none outside the limits between them. `fresh` names a number in hours; without it the freshness of the
    reading's kind holds. `through_changes` names a share of water: no smaller change after the newest test ends anything, because a change lies between any two of
    a series of weekly tests. `clear` asks for the kit's own zero. `free` (ammonia
    alone) judges the free ammonia, mg/L as NH3 by the upper published value, at the last pH, temperature and salinity. `at_35` (calcium,
    magnesium, alkalinity) judges the value as it would be at 35 ppt, by the salinity read nearest to it in time. `ever` asks whether any reading so far, old ones too, lay within. `since` counts only readings after the last `done`
    of a task or the last fact 'dosed:ammonia'. `lately`: one reading of so long a time within the limits is enough, whatever followed. `not_of`
    leaves out what answered this test, whose water is another one that bears the same name."""

    name: str
    where: str = "display"
    at_least: str | None = None
    at_most: str | None = None
    above: str | None = None
    below: str | None = None
    clear: bool = False
    free: bool = False
    at_35: bool = False
    times: int = Field(default=1, ge=1, le=6)
    apart: str | None = None
    fresh: str | None = None
    through_changes: str | None = None
    any_age: bool = False
    ever: bool = False
    since: str | None = None
    lately: str | None = None
    not_of: str | None = None

    def thresholds(self) -> tuple[Threshold, ...]:
        of = "" if self.free else self.name
        found = limits((self.at_least, HIGHER, of), (self.at_most, LOWER, of), (self.above, HIGHER, of), (self.below, LOWER, of), (self.apart, HIGHER, TIME), (self.lately, HIGHER, TIME), (self.through_changes, LOWER, ""))
        if self.at_35:
            found += (Threshold("standard_salinity", UNCLEAR, "salinity", written=False),)
        if self.times > 1 and not self.apart:
            found += (Threshold("spacing", HIGHER, TIME, written=False),)
        if self.fresh:
            found += (Threshold(self.fresh, LOWER, TIME, fresh=True),)
        elif not (self.any_age or self.ever):
            found += (Threshold(f"fresh_{self.name}", LOWER, TIME, fresh=True, written=False),)
        return found

    def names(self) -> tuple[tuple[str, str], ...]:
        return (("reading", self.name), *named(self.since), *named(self.not_of))

    def moments(self) -> tuple[str, ...]:
        return given(self.since)

    def watches(self, known: Known) -> tuple[Subject, ...]:  # noqa: ARG002
        return (("reading", self.name), *((("reading", "salinity"),) if self.at_35 else ()))

    def waits_for(self, tests: Tests, proof: str) -> Iterable[str]:  # noqa: ARG002
        return tests(self.name, self.where)

    def tested(self) -> tuple[str, str]:
        return self.name, self.where

    def once(self) -> ReadingNode:
        return self.model_copy(update={"times": 1})

    def water(self) -> str:
        return self.where
