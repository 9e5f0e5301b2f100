"""The registry of figures: a rule text says `{salt_first_fill}`, and the maker of that name works it out for this tank."""

from __future__ import annotations

from collections.abc import Callable

from planner.judge.facts import Facts
from planner.rulebook.shapes import Rulebook
from planner.science.formula import Formula
from planner.terms.records import Quantity

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
