"""From when on something may hold: what spares the replay of all the rest.

A `Possible` is asked in the order of time: from this instant on, what is the first at which the answer may be yes? It is
generous: at the instants that it passes over the answer is never yes. It looks no further than it must, so a reading that
stays good for ten years costs one look.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from planner.judge.facts import Instant
from planner.judge.scene import ALWAYS, NEVER

Possible = Callable[[Instant], Instant]
"""The first instant from one on at which something may hold, which may be that very one; NEVER if there is none."""


def since(instant: Instant) -> Possible:
    """From an instant on; nowhere if it never comes."""
    return lambda after: max(after, instant)


EVER: Possible = since(ALWAYS)
NOWHERE: Possible = since(NEVER)


def possible_in_all(parts: Iterable[Possible]) -> Possible:
    """Where every one may hold."""
    every = tuple(parts)

    def first(after: Instant) -> Instant:
        while True:
            latest = after
            for part in every:
                latest = part(latest)
            if latest in (after, NEVER):
                return latest
            after = latest

    return first


def possible_in_any(parts: Iterable[Possible]) -> Possible:
    """Where at least one may hold. What a part said last stands until that instant has come."""
    every = tuple(parts)
    said = [ALWAYS] * len(every)

    def first(after: Instant) -> Instant:
        for n, part in enumerate(every):
            if said[n] <= after:
                said[n] = part(after)
        return min(said, default=NEVER)

    return first


__all__ = ["EVER", "NOWHERE", "Possible", "possible_in_all", "possible_in_any", "since"]
