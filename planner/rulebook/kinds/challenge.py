"""`challenge`: the filter handled a dose of ammonia in time."""

from __future__ import annotations

from collections.abc import Iterable

from planner.files.checked import Field
from planner.rulebook.kinds.node import HIGHER, LOWER, TIME, Known, Node, Subject, Tests, Threshold, limits


class ChallengeNode(Node):
    """Ammonia dosed to at least `dose` mg/L as N (or what the judged wish list asks for, if that is more) and found handled (ammonia and nitrite clear, or at most one kit
    step) within `hours`, `times` times on different days, no water change in between."""

    dose: str
    hours: str
    times: int = Field(default=2, ge=1, le=4)
    within: str | None = None
    failed: bool = False
    """asks instead whether too much was left of the newest dose of this size, with none dosed since"""

    def thresholds(self) -> tuple[Threshold, ...]:
        return limits((self.dose, HIGHER, ""), (self.hours, LOWER, TIME), (self.within, LOWER, TIME))

    def watches(self, known: Known) -> tuple[Subject, ...]:  # noqa: ARG002
        return (("reading", "ammonia"), ("reading", "nitrite"), ("dosed", "ammonia"))

    def waits_for(self, tests: Tests, proof: str) -> Iterable[str]:  # noqa: ARG002
        return (proof,)
