"""Is a figure inside its limit? A billionth of slack, since limits are converted between units."""

from __future__ import annotations

from collections.abc import Callable

SLACK = 1e-9


def ge(value: float) -> Callable[[float], bool]:
    return lambda x: value >= x - SLACK


def le(value: float) -> Callable[[float], bool]:
    return lambda x: value <= x + SLACK


def gt(value: float) -> Callable[[float], bool]:
    return lambda x: value > x + SLACK


def lt(value: float) -> Callable[[float], bool]:
    return lambda x: value < x - SLACK
