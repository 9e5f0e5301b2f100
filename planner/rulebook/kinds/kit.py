"""`kit`: is a test kit still good?"""

from __future__ import annotations

from planner.rulebook.kinds.node import Node


class KitNode(Node):
    """Is the kit of this reading past the month on its box (`expired: no`: not past it)? Unknown while the tank file
    does not say."""

    name: str
    expired: bool

    def names(self) -> tuple[tuple[str, str], ...]:
        return (("reading", self.name),)
