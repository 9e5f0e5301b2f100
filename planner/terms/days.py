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


__all__ = ["DAY_NAMES", "MONTHS", "MONTH_NAMES", "WEEKDAYS", "YEARS", "day_words"]
