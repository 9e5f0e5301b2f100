"""Dilution: one water change, a series of them, what one bin can do, and where regular changes settle.

Concentrations are in any one unit (mg/L, ppt): the same for the water now, the target and the new water.
"""

from __future__ import annotations

import math

from planner.frozen import dataclass
from planner.science.formula import Formula, OutOfRange, require

__all__ = [
    "FORMULAS",
    "ChangeStep",
    "change_fraction",
    "changes_needed",
    "concentration_after_changes",
    "equal_change_fraction",
    "water_change_series",
]

_VOLUME_MAX_L = 100_000.0


@dataclass(frozen=True, slots=True)
class ChangeStep:
    """One water change of a series: its number, litres exchanged, concentration before and after."""

    number: int
    litres: float
    before: float
    after: float


def _concentration(name: str, value: float) -> float:
    return require(name, value, 0.0, 1e6)


def change_fraction(now: float, target: float, make_up: float = 0.0) -> float:
    """Fraction of the water to change at once to get from `now` to `target` with new water at `make_up`.

    Valid: concentrations 0-1e6, target between `now` and `make_up`. Raises OutOfRange.
    Source: mixing of two volumes, f = (c0 - c)/(c0 - c_in).
    """
    c_0, c_in = (
        _concentration("concentration now", now),
        _concentration("concentration of the new water", make_up),
    )
    c = require("target concentration", target, min(c_0, c_in), max(c_0, c_in))
    return 0.0 if c == c_0 else (c_0 - c) / (c_0 - c_in)


def concentration_after_changes(now: float, fraction: float, count: int, make_up: float = 0.0) -> float:
    """Concentration after `count` changes of `fraction` each, with new water at `make_up`.

    Valid: fraction 0-1, count 0-10 000. Raises OutOfRange. Source: c = c_in + (c0 - c_in)(1 - f)^n.
    """
    f = require("fraction changed", fraction, 0.0, 1.0)
    n = int(require("number of changes", count, 0, 10_000))
    c_in = _concentration("concentration of the new water", make_up)
    return c_in + (_concentration("concentration now", now) - c_in) * (1.0 - f) ** n


def changes_needed(now: float, target: float, fraction: float, make_up: float = 0.0) -> int:
    """How many changes of `fraction` each bring `now` to `target` or past it.

    Valid: fraction 0.001-1; a target equal to the new water is reached by a full change only. Raises
    OutOfRange.
    Source: n = ln[(c - c_in)/(c0 - c_in)]/ln(1 - f), rounded up.
    """
    f = require("fraction changed", fraction, 0.001, 1.0)
    whole = change_fraction(now, target, make_up)
    if whole <= 0.0:
        return 0
    if f >= whole:
        return 1
    if whole >= 1.0:
        raise OutOfRange("target concentration", target, min(now, make_up), max(now, make_up))
    return math.ceil(math.log1p(-whole) / math.log1p(-f) - 1e-9)


def equal_change_fraction(now: float, target: float, count: int, make_up: float = 0.0) -> float:
    """Fraction of each of `count` equal changes that together bring `now` to `target`.

    Valid: count 1-10 000. Raises OutOfRange. Source: c = c_in + (c0 - c_in)(1 - f)^n, solved for f.
    """
    n = int(require("number of changes", count, 1, 10_000))
    return float(1.0 - (1.0 - change_fraction(now, target, make_up)) ** (1.0 / n))


def water_change_series(
    volume_l: float, now: float, target: float, bin_l: float, make_up: float = 0.0
) -> tuple[ChangeStep, ...]:
    """The changes that bring `now` to `target`: full bins of `bin_l` litres, the last one smaller.

    Valid: volume above 0, bin above 0; target off the new water unless one bin holds the whole tank. Raises
    OutOfRange.
    Source: `change_fraction` and `concentration_after_changes`, step by step.
    """
    litres = require("volume", volume_l, 1e-9, _VOLUME_MAX_L, "L")
    bin_fraction = min(1.0, require("bin", bin_l, litres * 0.001, _VOLUME_MAX_L, "L") / litres)
    count = changes_needed(now, target, bin_fraction, make_up)
    steps: list[ChangeStep] = []
    before = now
    for number in range(1, count + 1):
        fraction = min(bin_fraction, change_fraction(before, target, make_up))
        after = target if number == count else concentration_after_changes(before, fraction, 1, make_up)
        steps.append(ChangeStep(number, fraction * litres, before, after))
        before = after
    return tuple(steps)


FORMULAS: dict[str, Formula] = {
    f.name: f
    for f in (
        Formula(
            "change_fraction",
            "f = (now - target) / (now - new water)",
            "mixing of two volumes",
            "target between the two",
        ),
        Formula(
            "changes_needed",
            "n = ln[(target - new)/(now - new)] / ln(1 - f), rounded up",
            "batch dilution",
            "f 0.001 to 1",
        ),
        Formula(
            "equal_change_fraction",
            "f = 1 - [(target - new)/(now - new)]^(1/n)",
            "batch dilution",
            "n from 1",
        ),
        Formula(
            "water_change_series",
            "full bins of f = bin / litres, the last one smaller",
            "batch dilution",
            "bin from 0.1 %",
        ),
    )
}
