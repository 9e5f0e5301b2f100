"""`use`: the daily use of the tank, as its readings prove it."""

from __future__ import annotations

from typing import Literal

from planner.rulebook.kinds.node import Known, Node, Subject


class UseNode(Node):
    """Does a daily dose hold the level: is the daily use known and more than water changes make up for, or does the last dose go on until
    it is known? `asks: test`: does that dose want a test, for which it waits or which its week is due?"""

    name: Literal["alkalinity"]
    asks: Literal["dose", "test"] = "dose"

    def names(self) -> tuple[tuple[str, str], ...]:
        return (("reading", self.name),)

    def watches(self, known: Known) -> tuple[Subject, ...]:  # noqa: ARG002
        return (("reading", self.name), ("dosed", "*"), ("changed_water", "*"))

    def water(self) -> str:
        return "display"
