"""Words for a line of the shopping list, for the terminal and for paper."""

from __future__ import annotations

from planner.plan.shopping_list import Purchase
from planner.plan.texts import shown_amount, told_amount
from planner.terms.texts import TANK_FILE, joined

IN_TANK_FILE = joined("already in ", TANK_FILE)


def quantity_words(line: Purchase, units: str) -> str:
    """`7.3 kg`, `2`, or `?` where it cannot be known."""
    if line.quantity is None:
        return "?"
    return f"{line.quantity:g}" if line.unit == "each" else shown_amount(line.quantity, line.unit, units, side="up")


def name_words(line: Purchase, units: str) -> str:
    """The name with the size that is wanted: `heater for the tank, 75 W each`, `pumps for the flow, 1768 L/h together`."""
    if line.size is None:
        return line.name
    shown = told_amount(line.size, units)
    return f"{line.name}, {shown}" + (" together" if line.together else " each" if (line.quantity or 0) > 1 else "")


def remark_words(line: Purchase) -> str:
    """Why that much, and what would settle what is not known."""
    return joined(*filter(None, (line.note, IN_TANK_FILE if line.described else line.unknown)), by="; ")


__all__ = ["name_words", "quantity_words", "remark_words"]
