"""`heat`: warmth that adds up over weeks."""

from __future__ import annotations

from planner.rulebook.kinds.node import HIGHER, Known, Node, Subject, Threshold


class HeatNode(Node):
    """Have the days of the last twelve weeks that were a degree or more above the tank's usual summer added up to `at_least`
    degree-weeks? `usual` names the temperature taken while no warmest month is known."""

    at_least: str
    usual: str

    def thresholds(self) -> tuple[Threshold, ...]:
        return (Threshold(self.at_least, HIGHER), Threshold(self.usual, HIGHER, "temperature"))

    def names(self) -> tuple[tuple[str, str], ...]:
        return (("reading", "temperature"),)

    def watches(self, known: Known) -> tuple[Subject, ...]:  # noqa: ARG002
        return (("reading", "temperature"),)

    def water(self) -> str:
        return "display"
