"""Amounts as people read them: rounded to what a keeper can measure, in metric or US units."""

from __future__ import annotations

from collections.abc import Iterable

from planner.terms.units import POUND_G, US_GALLON_L


def listed(words: Iterable[str], joined: str = "and") -> str:
    """`a`, `a and b`, `a, b and c`."""
    *first, last = list(words) or [""]
    return f"{', '.join(first)} {joined} {last}" if first else last


def format_amount(value: float, internal_unit: str, units: str = "metric") -> str:
    """An amount for people, rounded as a keeper can measure it: kg from 1000 g, and gal, lb, in, °F where `units` is
    `us`. Masses under an ounce stay in grams: that is what doses are weighed in."""
    us = units == "us"
    match internal_unit:
        case "L":
            return (
                _volume_us(value)
                if us
                else f"{_trim(value * 1000, 0)} mL"
                if 0 < abs(value) < 1
                else f"{_trim(value, 1 if abs(value) < 20 else 0)} L"
            )
        case "g":
            if us and abs(value) >= POUND_G:
                return f"{_trim(value / POUND_G, 1)} lb"
            if us and abs(value) >= POUND_G / 16:
                return f"{_trim(value / POUND_G * 16, 2)} oz"
            if abs(value) >= 1000:
                return f"{_trim(value / 1000, 2 if abs(value) < 10_000 else 1)} kg"
            return f"{_trim(value, 2 if abs(value) < 10 else 1 if abs(value) < 100 else 0)} g"
        case "cm":
            return f"{_trim(value / 2.54, 1)} in" if us else f"{_trim(value, 1)} cm"
        case "°C":
            return f"{_trim(value * 1.8 + 32, 1)} °F" if us else f"{_trim(value, 1)} °C"
        case "K":  # a step of temperature, which has no zero to start from
            return f"{_trim(value * 1.8, 1)} °F" if us else f"{_trim(value, 1)} °C"
        case "L/h" | "L/day":
            per = "h" if internal_unit == "L/h" else "day"
            return (
                f"{_trim(value / US_GALLON_L, 1)} gal/{per}"
                if us
                else f"{_trim(value, 1 if abs(value) < 20 else 0)} L/{per}"
            )
        case "mg/L as N":
            return f"{_trim(value, 2)} mg/L as N"
        case "pH":
            return f"pH {_trim(value, 2)}"
        case "%":
            return f"{_trim(value, 1)} %"
        case "ppt" | "dKH":
            return f"{_trim(value, 1)} {internal_unit}"
        case "mg/L":
            return f"{_trim(value, 0 if abs(value) >= 100 else 2)} mg/L"
        case "h":
            return (
                f"{_trim(value / 24, 1)} days"
                if value > 48
                else f"{_trim(value * 60, 0)} min"
                if 0 < value < 1
                else f"{_trim(value, 1)} h"
            )
        case "W":
            return f"{_trim(value, 0)} W"
        case _:
            return f"{value:.4g} {internal_unit}".rstrip()


def _trim(value: float, digits: int) -> str:
    text = f"{value:.{digits}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _volume_us(litres: float) -> str:
    gallons = litres / US_GALLON_L
    if 0 < abs(gallons) < 0.25:
        return f"{_trim(gallons * 128, 1)} fl oz"
    return f"{_trim(gallons, 2 if abs(gallons) < 1 else 1)} gal"


__all__ = ["format_amount", "listed"]
