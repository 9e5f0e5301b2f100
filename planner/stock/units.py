"""The verdict on a wish list in the buyer's units: its sentences are written in litres, centimetres, kilograms and °C."""

from __future__ import annotations

import re
from dataclasses import replace

from planner.stock.verdict import StockVerdict
from planner.terms.amounts import format_amount

_AMOUNT = re.compile(r"(?<![\w.])(\d+(?:\.\d+)?)(?: to (\d+(?:\.\d+)?))? (L|cm|kg|°C)(?![\w/²])")
_INTERNAL = {"L": ("L", 1.0), "cm": ("cm", 1.0), "kg": ("g", 1000.0), "°C": ("°C", 1.0)}


def text_in_units(text: str, units: str) -> str:
    """`65 L` as `17.2 gal`, `22 to 25 °C` as `71.6 to 77 °F` where `units` is `us`; any other text as it is."""
    return text if units != "us" else _AMOUNT.sub(_told, text)


def _told(found: re.Match[str]) -> str:
    unit, factor = _INTERNAL[found[3]]
    last = _rounded(float(found[2] or found[1]) * factor, unit)
    return last if found[2] is None else f"{_rounded(float(found[1]) * factor, unit).split()[0]} to {last}"


def _rounded(value: float, unit: str) -> str:
    """Judgements are round: from ten on in whole gallons, inches and pounds."""
    number, _, name = format_amount(value, unit, "us").partition(" ")
    return f"{round(float(number))} {name}" if float(number) >= 10 and unit != "°C" else f"{number} {name}"


def verdict_in_units(verdict: StockVerdict, units: str) -> StockVerdict:
    """Every sentence of the verdict in these units (`metric` or `us`); numbers and ids stay."""
    if units != "us":
        return verdict

    def told(text: str) -> str:
        return text_in_units(text, units)

    animals = tuple(replace(a, reasons=tuple(replace(r, text=told(r.text), change=told(r.change)) for r in a.reasons)) for a in verdict.animals)
    left = tuple(replace(x, why=told(x.why), smallest_change=told(x.smallest_change)) for x in verdict.left_out)
    sums = replace(verdict.sums, nitrogen_text=told(verdict.sums.nitrogen_text), room_text=told(verdict.sums.room_text))
    return replace(verdict, animals=animals, conflicts=tuple(replace(c, why=told(c.why)) for c in verdict.conflicts), left_out=left, sums=sums)
