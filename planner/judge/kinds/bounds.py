"""Is an interval inside a limit? Yes if all of it is, no if none of it is. A billionth of slack, since limits are converted
between units."""

from __future__ import annotations

from planner.judge.scene import NO, UNKNOWN, YES
from planner.terms.records import Answer

SLACK = 1e-9


def at_least(limit: float, low: float, high: float) -> Answer:
    return YES if low >= limit - SLACK else NO if high < limit - SLACK else UNKNOWN


def at_most(limit: float, low: float, high: float) -> Answer:
    return YES if high <= limit + SLACK else NO if low > limit + SLACK else UNKNOWN


def above(limit: float, low: float, high: float) -> Answer:
    return YES if low > limit + SLACK else NO if high <= limit + SLACK else UNKNOWN


def below(limit: float, low: float, high: float) -> Answer:
    return YES if high < limit - SLACK else NO if low >= limit - SLACK else UNKNOWN
