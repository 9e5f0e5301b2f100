"""Stretches of a journal in which something may hold: what spares the replay of all the rest.

A span runs from an instant up to, and not including, another. Spans are sorted, apart, and generous: outside them the
answer is never yes.
"""

from __future__ import annotations

from collections.abc import Iterable

from planner.judge.facts import Instant
from planner.judge.scene import ALWAYS, NEVER

Spans = tuple[tuple[Instant, Instant], ...]
EVER: Spans = ((ALWAYS, NEVER),)
NOWHERE: Spans = ()


def since(instant: Instant) -> Spans:
    """From an instant on; nowhere if it never comes."""
    return ((instant, NEVER),) if instant < NEVER else NOWHERE


def within_all(parts: Iterable[Spans]) -> Spans:
    """What lies in every one."""
    found = EVER
    for part in parts:
        found = tuple(_shared(found, part))
        if not found:
            break
    return found


def _shared(one: Spans, other: Spans) -> Iterable[tuple[Instant, Instant]]:
    a = b = 0
    while a < len(one) and b < len(other):
        start, stop = max(one[a][0], other[b][0]), min(one[a][1], other[b][1])
        if start < stop:
            yield start, stop
        if one[a][1] <= other[b][1]:
            a += 1
        else:
            b += 1


def within_any(parts: Iterable[Spans]) -> Spans:
    """What lies in at least one."""
    found: list[tuple[Instant, Instant]] = []
    for start, stop in sorted(span for part in parts for span in part):
        if found and start <= found[-1][1]:
            found[-1] = (found[-1][0], max(found[-1][1], stop))
        else:
            found.append((start, stop))
    return tuple(found)


__all__ = ["EVER", "NOWHERE", "Spans", "since", "within_all", "within_any"]
