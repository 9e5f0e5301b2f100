"""How a day is said, and which days there are."""

from __future__ import annotations

from datetime import date

DAY_NAMES = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
WEEKDAYS = tuple(name[:3].capitalize() for name in DAY_NAMES)
MONTH_NAMES = ("January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November", "December")
YEARS = range(1990, 2200)
"""No tank is older, and no plan reaches further."""
MONTHS = tuple(name[:3] for name in MONTH_NAMES)


def day_words(day: date) -> str:
    """`Mon 2 Mar 2026`; the names are ours, so that no locale changes them."""
    return f"{WEEKDAYS[day.weekday()]} {day.day} {MONTHS[day.month - 1]} {day.year}"


def short_day(day: date, on: date) -> str:
    """`Mon 2 Mar`, with the year where it is not that of `on`."""
    return day_words(day) if day.year != on.year else day_words(day).rpartition(" ")[0]


__all__ = ["DAY_NAMES", "MONTHS", "MONTH_NAMES", "WEEKDAYS", "YEARS", "day_words", "short_day"]
