"""A journal row as a short sentence: what notices, traces and the machine form show of it."""

from __future__ import annotations

from planner.terms.amounts import format_amount
from planner.terms.readings import READINGS
from planner.terms.records import Row
from planner.terms.written_amounts import told_unit


def in_words(value: str) -> str:
    """A result off the end of its scale as it is read aloud: `over 5 mg/L`."""
    return value.replace(">", "over ").replace("<", "under ")


def tell(row: Row) -> str:
    """A journal row as a short sentence with its day and line."""
    return f"{tell_when(row)} {tell_fact(row)}, line {row.line}"


def tell_fact(row: Row) -> str:
    """What happened, without its day and line: `dosed ammonia 0.88 g`."""
    word = "" if row.kind in ("reading", "event") else row.kind.replace("_", " ") + " "
    return word + tell_value(row)


def tell_value(row: Row, units: str | None = None) -> str:
    """What a row is about, with its value: `ammonia 0.75 mg/L as NH3`. `units`: a temperature in those of the page, however it was typed."""
    value = f" {in_words(row.value)} {told_unit(row.what, row.unit)}".rstrip() if row.value else ""
    if units is not None and row.what == "temperature" and row.low is not None and row.low == row.high:
        value = f" {format_amount(row.low, '°C', units)}"
    where = "" if row.where == "display" else f" ({row.where})"
    title = READINGS[row.what].title if row.kind == "reading" and row.what in READINGS else row.what.replace("_", " ")
    return f"{title}{value}{where}"


def tell_when(row: Row) -> str:
    """Day and time as written."""
    return row.at.strftime("%Y-%m-%d %H:%M") if row.at is not None else row.day.isoformat()


def tell_hours(hours: float) -> str:
    """Hours as people say them."""
    if hours >= 72 and hours % 24 == 0:
        return f"{hours / 24:g} days"
    return f"{hours:g} hour{'s' if hours != 1 else ''}"


__all__ = ["in_words", "tell", "tell_fact", "tell_hours", "tell_value", "tell_when"]
