"""How a reading was understood, where its unit was left out or is another one than the plan counts in."""

from __future__ import annotations

import math

from planner.terms.amounts import format_amount
from planner.terms.readings import READINGS
from planner.terms.records import Row
from planner.terms.written_amounts import told_unit


def understood_words(row: Row, typed_unit: str, units: str, typed_value: str = "") -> str:
    """`160 ppm is 8.9 dKH`, `ammonia 0.5 is taken as mg/L as NH3`; nothing where there was nothing to understand."""
    if row.low is None or row.high is None or row.what not in READINGS:
        return ""
    reading, unit = READINGS[row.what], told_unit(row.what, row.unit)
    if is_taken_as_more(row, typed_value):
        return f"{reading.title} over {typed_value} {unit}, because your kit ends at {typed_value} and the water may hold more"
    if not typed_unit:
        shown = f", {format_amount(row.low if math.isinf(row.high) else row.high, reading.unit, units)}" if reading.name == "alkalinity" and row.unit != reading.unit else ""
        return f"{reading.title} {row.value} is taken as {row.value} {unit}{shown}" if row.unit and row.unit != "pH" else ""
    value = row.low if math.isinf(row.high) else row.high
    shown = format_amount(value, reading.unit, units)
    typed = f"{row.value} {typed_unit}"
    assumed = f" (taken as {unit})" if _folded(row.unit) != _folded(typed_unit) else ""
    if _folded(shown) == _folded(typed) or reading.unit.endswith("as N"):
        return f"{typed}{assumed}" if assumed else ""
    return f"{typed}{assumed} is {'over ' if math.isinf(row.high) else ''}{shown}"


def is_taken_as_more(row: Row, typed_value: str) -> bool:
    """Was the last colour of a card typed, which is that of every stronger water too?"""
    return row.value.startswith(">") and typed_value[:1] not in "<>"


def unit_question(row: Row, typed_unit: str, units: str) -> str | None:
    """A question where a number without its unit was taken for one of a unit that this keeper does not use: a temperature of the other
    scale, or an alkalinity that makes no sense in degrees."""
    if typed_unit or row.low is None or row.what not in ("temperature", "alkalinity"):
        return None
    usual = READINGS[row.what].unit
    if (row.unit == usual) == (units == "metric" or row.what == "alkalinity"):
        return None
    return f"{row.value} is taken as {row.value} {row.unit or '°F'}, {format_amount(row.low, usual, units)}. Is that right?"


def _folded(text: str) -> str:
    return "".join(text.lower().replace("°", "").split())


__all__ = ["is_taken_as_more", "understood_words", "unit_question"]
