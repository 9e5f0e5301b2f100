"""How a day is said."""

from __future__ import annotations

from datetime import date

DAY_NAMES = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
WEEKDAYS = tuple(name[:3].capitalize() for name in DAY_NAMES)
MONTH_NAMES = ("January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November", "December")
MONTHS = tuple(name[:3] for name in MONTH_NAMES)


def day_words(day: date) -> str:
    """`Mon 2 Mar 2026`; the names are ours, so that no locale changes them."""
    return f"{WEEKDAYS[day.weekday()]} {day.day} {MONTHS[day.month - 1]} {day.year}"


__all__ = ["DAY_NAMES", "MONTHS", "MONTH_NAMES", "WEEKDAYS", "day_words"]
