"""`event`: something that happened, as the keeper noted it."""

from __future__ import annotations

from planner.rulebook.kinds.node import LOWER, TIME, Known, Node, Subject, Threshold, given, limits, named


class EventNode(Node):
    """A journal event. With `since` (a task key) only events after that task was last done count; an event is over
    once `ended_by` (a task key) is done after it."""

    what: str
    where: str | None = None
    since: str | None = None
    ended_by: str | None = None
    within: str | None = None
    task: str | None = None

    def thresholds(self) -> tuple[Threshold, ...]:
        return limits((self.within, LOWER, TIME))

    def names(self) -> tuple[tuple[str, str], ...]:
        return named(*self.moments(), self.task)

    def moments(self) -> tuple[str, ...]:
        return given(self.since, self.ended_by)

    def watches(self, known: Known) -> tuple[Subject, ...]:  # noqa: ARG002
        return (("event", self.what),)

    def water(self) -> str | None:
        return self.where
