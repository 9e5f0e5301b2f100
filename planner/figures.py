"""The registry of figures: a rule text says `{salt_first_fill}`, and the maker of that name works it out for this tank."""

from __future__ import annotations

from collections.abc import Callable

from planner.formula import Formula
from planner.gather import Facts
from planner.model import Quantity
from planner.rulebook import Rulebook

Maker = Callable[[Facts, Rulebook], Quantity | None]
MAKERS: dict[str, Maker] = {}


def maker(function: Maker) -> Maker:
    MAKERS[function.__name__] = function
    return function


def made(name: str, value: float, unit: str, formula: str | Formula, source: str = "common practice", **inputs: str) -> Quantity:
    told = tuple((key.replace("_", " "), text) for key, text in inputs.items())
    if isinstance(formula, Formula):
        return Quantity(name, value, unit, formula.text, told, formula.source)
    return Quantity(name, value, unit, formula, told, source)
