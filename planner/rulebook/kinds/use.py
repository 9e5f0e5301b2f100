"""`use`: the daily use of the tank, as its readings prove it."""

from __future__ import annotations

from typing import Literal

from planner.rulebook.kinds.node import Known, Node, Subject


class UseNode(Node):
    """Is the daily use of this known, and more than water changes make up for, so that a daily dose holds the level?"""

    name: Literal["alkalinity"]

    def names(self) -> tuple[tuple[str, str], ...]:
        return (("reading", self.name),)

    def watches(self, known: Known) -> tuple[Subject, ...]:  # noqa: ARG002
        return (("reading", self.name), ("dosed", "*"), ("changed_water", "*"))

    def water(self) -> str:
        return "display"
