"""What the science rooms share: the refusal of a number out of range, and the printed form of a formula.

Nothing here computes. `require` is the one guard that every formula calls on its inputs; `Formula` lets a
face print "formula" and "source" beside a result without repeating them.
"""

from __future__ import annotations

import math

from planner.frozen import dataclass

__all__ = ["Formula", "OutOfRange", "require"]


class OutOfRange(ValueError):
    """A number lies outside the range in which a formula holds. Carries `name, value, low, high, unit`."""

    def __init__(self, name: str, value: float, low: float, high: float, unit: str = "") -> None:
        self.name = name
        self.value = value
        self.low = low
        self.high = high
        self.unit = unit
        tail = f" {unit}" if unit else ""
        super().__init__(f"{name} is {value:g}{tail}; the formula holds from {low:g} to {high:g}{tail}")

    def __reduce__(self) -> tuple[type[OutOfRange], tuple[str, float, float, float, str]]:
        return type(self), (self.name, self.value, self.low, self.high, self.unit)


@dataclass(frozen=True, slots=True)
class Formula:
    """How a number is worked out: function name, formula in words, source with place, valid range."""

    name: str
    text: str
    source: str
    valid: str


def require(name: str, value: float, low: float, high: float, unit: str = "") -> float:
    """Return `value` as a float if low <= value <= high; raise `OutOfRange` otherwise (also for NaN)."""
    number = float(value)
    if math.isnan(number) or number < low or number > high:
        raise OutOfRange(name, number, low, high, unit)
    return number
