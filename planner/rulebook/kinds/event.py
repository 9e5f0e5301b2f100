"""`event`: something that happened, as the keeper noted it."""

from __future__ import annotations

from planner.rulebook.kinds.node import LOWER, TIME, Known, Node, Subject, Threshold, given, limits, named
from planner.terms.journal_words import WIDER_EVENTS


class EventNode(Node):
    """A journal event. With `since` (a task key) only events after that task was last done count; an event is over
    once `ended_by` (a task key) is done after it; with `looks` (a number) only once that was ticked on so many later days. An event of a narrower
    name counts too, unless `exact`: spots are an illness."""

    what: str
    where: str | None = None
    since: str | None = None
    ended_by: str | None = None
    looks: str | None = None
    within: str | None = None
    task: str | None = None
    exact: bool = False

    def thresholds(self) -> tuple[Threshold, ...]:
        return limits((self.within, LOWER, TIME), (self.looks, LOWER, ""))

    def called(self) -> tuple[str, ...]:
        """The event and the narrower ones."""
        return (self.what, *(() if self.exact else WIDER_EVENTS.get(self.what, ())))

    def names(self) -> tuple[tuple[str, str], ...]:
        return named(*self.moments(), self.task)

    def moments(self) -> tuple[str, ...]:
        return given(self.since, self.ended_by)

    def watches(self, known: Known) -> tuple[Subject, ...]:  # noqa: ARG002
        return tuple(("event", name) for name in self.called())

    def water(self) -> str | None:
        return self.where
