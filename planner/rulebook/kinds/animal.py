"""`animal`: somebody lives in this water."""

from __future__ import annotations

from planner.rulebook.kinds.node import Known, Node, Subject


class AnimalNode(Node):
    """Is any animal in this water (added or moved in, and not lost or moved out)? `groups`: one of these groups of the catalogue."""

    where: str = "display"
    what: str | None = None
    groups: tuple[str, ...] = ()

    def watches(self, known: Known) -> tuple[Subject, ...]:  # noqa: ARG002
        return (("added", "*"), ("moved", "*"), ("lost", "*"))

    def water(self) -> str:
        return self.where
