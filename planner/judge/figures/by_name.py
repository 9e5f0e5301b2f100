"""The figures that a plan names, each for this tank, with its formula, inputs and source.

Formulas live in the science rooms; the makers (`tank`, `water`, `cycle`) put this tank's figures in.
A maker returns None where the tank file does not say enough.
"""

from __future__ import annotations

from planner.files.tank import Tank
from planner.judge.facts import Facts
from planner.judge.figures import cycle as figures_cycle
from planner.judge.figures import tank as figures_tank
from planner.judge.figures import water as figures_water
from planner.judge.figures.maker import MAKERS
from planner.rulebook.shapes import Rulebook
from planner.science import salt
from planner.science.formula import OutOfRange
from planner.terms.records import Quantity


def quantity(name: str, facts: Facts, rules: Rulebook) -> Quantity | None:
    """The named figure, or None where it cannot be had (not described, or outside its formula's range)."""
    try:
        return MAKERS[name](facts, rules)
    except OutOfRange:
        return None


def salt_g(litres: float, salinity: float, tank: Tank) -> float:
    """Grams of this tank's salt mix for so many litres (0 or more) of `salinity` ppt; 0 outside the formula's range."""
    try:
        return salt.salt_mass_g(litres, salinity, tank.water.salt_per_litre_g)
    except OutOfRange:
        return 0.0


__all__ = ["MAKERS", "figures_cycle", "figures_tank", "figures_water", "quantity", "salt_g"]
