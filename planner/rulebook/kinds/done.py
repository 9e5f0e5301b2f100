"""`done`: a task that was ticked."""

from __future__ import annotations

from collections.abc import Iterable

from planner.rulebook.kinds.node import HIGHER, LOWER, TIME, Node, Tests, Threshold, given, limits, named


class DoneNode(Node):
    """A tick of a task. `since` another task was last done: by day, since two ticks of one sitting may be written in
    either order. `after` it: by the instants written, and `apart` from it by so much at least. `or_read`: it also counts
    as done once all that it reads was read in its water, whoever asked for it. `times`: a figure; it was ticked so often."""

    task: str
    since: str | None = None
    after: str | None = None
    apart: str | None = None
    within: str | None = None
    or_read: bool = False
    times: str | None = None

    def thresholds(self) -> tuple[Threshold, ...]:
        return limits((self.apart, HIGHER, TIME), (self.within, LOWER, TIME))

    def names(self) -> tuple[tuple[str, str], ...]:
        return (*named(self.task, *self.moments()), *((("quantity", self.times),) if self.times else ()))

    def moments(self) -> tuple[str, ...]:
        return given(self.since, self.after)

    def ticks(self) -> tuple[str, ...]:
        return (self.task,)

    def waits_for(self, tests: Tests, proof: str) -> Iterable[str]:  # noqa: ARG002
        return (self.task,)
