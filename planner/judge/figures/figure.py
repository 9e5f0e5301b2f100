"""One figure: who works it out for this tank, and the numbers of the rules on which it rests."""

from __future__ import annotations

from collections.abc import Callable

from planner.frozen import dataclass
from planner.judge.facts import Facts
from planner.rulebook.shapes import Rulebook
from planner.science.formula import Formula
from planner.terms.amounts import format_amount
from planner.terms.records import Amount, Quantity
from planner.terms.texts import TANK_FILE, ByUnits, Text

Maker = Callable[[Facts, Rulebook], Quantity | None]


@dataclass(frozen=True, slots=True)
class Figure:
    """`make` returns None where the tank file does not say enough. `rests_on`: every number of the rules that it looks up.
    `key`: what the tank file has to say for it, where one key alone is missing."""

    make: Maker
    rests_on: tuple[str, ...] = ()
    key: str = ""


DESCRIBED = TANK_FILE
"""The source of what the keeper wrote down."""


def made(name: str, value: float, unit: str, formula: str | Formula, source: str = "common practice", **inputs: str | Amount) -> Quantity:
    """`inputs`: what went in, under its name. An amount is told in the buyer's units."""
    told = tuple((key.replace("_", " "), text_of(given) if isinstance(given, Amount) else given) for key, given in inputs.items())
    if isinstance(formula, Formula):
        return Quantity(name, value, unit, formula.text, told, formula.source)
    return Quantity(name, value, unit, formula, told, source)


def text_of(*parts: str | Amount | ByUnits) -> str:
    """A text with amounts in it; as a `str` it is metric."""
    return Text("".join(format_amount(p.value, p.unit) if isinstance(p, Amount) else p.metric if isinstance(p, ByUnits) else p for p in parts), parts)


__all__ = ["Figure", "Maker", "made", "text_of"]
