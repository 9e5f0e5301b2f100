"""Amounts as people read them: rounded to what a keeper can measure, in metric or US units."""

from __future__ import annotations

import math
from collections.abc import Iterable
from fractions import Fraction

from planner.terms.units import POUND_G, US_GALLON_L


def listed(words: Iterable[str], joined: str = "and") -> str:
    """`a`, `a and b`, `a, b and c`."""
    *first, last = list(words) or [""]
    return f"{', '.join(first)} {joined} {last}" if first else last


def numbers_words(numbers: Iterable[int]) -> str:
    """`1 to 3, 5 and 6`: three or more in a row by the first and the last."""
    runs: list[list[int]] = []
    for n in numbers:
        if runs and n == runs[-1][-1] + 1:
            runs[-1].append(n)
        else:
            runs.append([n])
    return listed(word for run in runs for word in ([f"{run[0]} to {run[-1]}"] if len(run) > 2 else [str(n) for n in run]))


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
        case "m":
            return f"{_trim(value / 0.3048, 1)} ft" if us else f"{_trim(value, 1)} m"
        case "mm":
            return _sixteenths(value / 25.4) if us else f"{_trim(value, 1)} mm"
        case "K":  # a step of temperature, which has no zero to start from
            return f"{_trim(value * 1.8, 1)} °F" if us else f"{_trim(value, 1)} °C"
        case "L/h" | "L/day":
            per = "h" if internal_unit == "L/h" else "day"
            return (
                f"{_trim(value / US_GALLON_L, 1)} gal/{per}"
                if us
                else f"{_trim(value, 1 if abs(value) < 20 else 0)} L/{per}"
            )
        case "mg/L as N" | "mg/L as NH3" | "mg/L as NH4" | "mg/L as NO2" | "mg/L as NO3":
            return f"{_trim(value, 2)} {internal_unit}"
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


def format_bare(value: float, internal_unit: str, units: str = "metric") -> str:
    """The same where its name stands beside it: a pH is a number alone."""
    return _trim(value, 2) if internal_unit == "pH" else format_amount(value, internal_unit, units)


def card_figure(value: float) -> float:
    """As fine as a colour card is read: two digits."""
    return float(f"{value:.2g}")


def three_digits(value: float) -> str:
    """`0.95`, `133`, `1770`: as much as somebody measures, never with an exponent."""
    return _trim(value, 2 - math.floor(math.log10(abs(value)))) if value else "0"


def _trim(value: float, digits: int) -> str:
    """At most so many digits behind the point, and no more than three in all from 10 on."""
    if abs(value) >= 10:
        digits = min(digits, 2 - math.floor(math.log10(abs(value))))
    text = f"{round(value, digits):.{max(digits, 0)}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _sixteenths(inches: float) -> str:
    """The nearest mark of a tape measure that is not nothing: `1/8 in`."""
    marks = Fraction(max(1, round(inches * 16)), 16)
    return f"{marks} in"


def _volume_us(litres: float) -> str:
    gallons = litres / US_GALLON_L
    if 0 < abs(gallons) < 0.25:
        return f"{_trim(gallons * 128, 1)} fl oz"
    return f"{_trim(gallons, 2 if abs(gallons) < 1 else 1)} gal"


__all__ = ["card_figure", "format_amount", "format_bare", "listed", "numbers_words", "three_digits"]
