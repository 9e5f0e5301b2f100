"""`tank`: what the tank file says."""

from __future__ import annotations

from planner.files.checked import Field
from planner.rulebook.kinds.node import HIGHER, LOWER, Node, Threshold, limits


class TankNode(Node):
    """A key of the tank file. Unknown while the key is not described."""

    key: str
    equals: tuple[str, ...] = Field(default=(), alias="is")
    at_least: str | None = None
    at_most: str | None = None
    described: bool = False

    def thresholds(self) -> tuple[Threshold, ...]:
        return limits((self.at_least, HIGHER, ""), (self.at_most, LOWER, ""))

    def names(self) -> tuple[tuple[str, str], ...]:
        return (("tank-key", self.key),)
