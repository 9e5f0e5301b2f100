"""`age`: how long ago something happened."""

from __future__ import annotations

from collections.abc import Iterable

from planner.rulebook.kinds.node import FIRST_AMMONIA, HIGHER, TIME, Known, Node, Subject, Tests, Threshold, given, limits, named


class AgeNode(Node):
    """Days since a gate opened, or since a task was last done (an entry into quarantine: or was noted there without a tick). `first:ammonia`: since the cycle began, with the first
    dose or with the rock that cures in the tank."""

    of: str
    at_least: str

    def thresholds(self) -> tuple[Threshold, ...]:
        return limits((self.at_least, HIGHER, TIME))

    def names(self) -> tuple[tuple[str, str], ...]:
        return named(self.of)

    def moments(self) -> tuple[str, ...]:
        return given(self.of) if self.of != FIRST_AMMONIA else ()

    def watches(self, known: Known) -> tuple[Subject, ...]:
        began = (("dosed", "ammonia"), ("reading", "ammonia"), ("event", "fed"), *(("done", key) for key in known("rock_in")))
        return began if self.of == FIRST_AMMONIA else ()

    def waits_for(self, tests: Tests, proof: str) -> Iterable[str]:  # noqa: ARG002
        return () if ":" in self.of else (self.of if "/" in self.of else f"gate/{self.of}",)
