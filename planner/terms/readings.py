"""The one dictionary: what each reading is called, its internal unit, what it can be and what it usually is, and how its
value is read from people.

Internal units: litre, gram, centimetre, °C, W, L/h, L/day, practical salinity ("ppt"), mg/L as N, dKH, mg/L, pH, hours.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import lru_cache

from planner.frozen import dataclass
from planner.terms.amounts import card_figure
from planner.terms.units import DIMENSIONS, Refusal, fold_unit
from planner.terms.written_amounts import NITROGEN, convert_unit, told_unit, unit_missing
from planner.terms.written_numbers import parse_number


@dataclass(frozen=True, slots=True)
class ReadingName:
    """`possible`: outside it a value is refused as a slip. `probable`: outside it a command asks whether it is meant.
    Both in the internal unit."""

    name: str
    title: str
    dimension: str
    unit: str
    possible: tuple[float, float]
    probable: tuple[float, float]


# Ranges: common practice, no source. "Possible" is what any water around a tank can show, from RO water to a curing bin.
READINGS: dict[str, ReadingName] = {
    r.name: r
    for r in (
        ReadingName("ammonia", "ammonia", "ammonia", "mg/L as N", (0, 50), (0, 8)),
        ReadingName("nitrite", "nitrite", "nitrite", "mg/L as N", (0, 100), (0, 15)),
        ReadingName("nitrate", "nitrate", "nitrate", "mg/L as N", (0, 300), (0, 60)),
        ReadingName("salinity", "salinity", "salinity", "ppt", (0, 60), (25, 42)),
        ReadingName("temperature", "temperature", "temperature", "°C", (0, 45), (15, 35)),
        ReadingName("ph", "pH", "ph", "pH", (4, 12), (7.5, 8.7)),
        ReadingName("alkalinity", "alkalinity", "alkalinity", "dKH", (0, 40), (2, 15)),
        ReadingName("calcium", "calcium", "concentration", "mg/L", (0, 2000), (250, 600)),
        ReadingName("magnesium", "magnesium", "concentration", "mg/L", (0, 4000), (900, 1700)),
        ReadingName("phosphate", "phosphate", "phosphate", "mg/L", (0, 20), (0, 2)),
        ReadingName("oxygen", "dissolved oxygen", "concentration", "mg/L", (0, 30), (4, 12)),
        ReadingName("tds", "dissolved solids (TDS)", "concentration", "mg/L", (0, 60000), (0, 600)),
        ReadingName("chlorine", "chlorine", "concentration", "mg/L", (0, 20), (0, 3)),
    )
}

OTHER_NAMES = {"kh": "alkalinity", "dkh": "alkalinity", "alk": "alkalinity", "nh3": "ammonia", "nh4": "ammonia", "no2": "nitrite", "no3": "nitrate", "po4": "phosphate",
               "ca": "calcium", "mg": "magnesium", "temp": "temperature", "sg": "salinity", "o2": "oxygen", "cl2": "chlorine"}
"""What a kit's box calls a reading (common practice, no source)."""

GUESSED_LEAST = 7.0
"""dKH. A bare alkalinity is guessed to be in another unit only from here on: below it a dose would rest on the guess, and 80 is as likely an
8.0 that lost its point (engine's own, no source)."""

SG_LIKE = (1.0, 1.05)
"""Nobody's tank holds so little salt in ppt, and every hydrometer of the trade shows a specific gravity in this range (common practice, no source)."""


def to_internal_factor(reading: str, unit: str) -> float:
    """Factor from `unit` to the internal unit of a reading. Raises KeyError for an unknown unit or one that needs more
    than a factor (°F, SG)."""
    found = DIMENSIONS[READINGS[reading].dimension].units
    if not unit:
        return 1.0
    known = found[fold_unit(unit)]
    if known.shift:
        raise KeyError(f"{unit} is more than a factor")
    return known.factor


def read_reading(
    name: str, value: str, unit: str, *, basis: str | None = None, comma_is_decimal: bool = False
) -> tuple[float, float] | Refusal:
    """The bounds of a reading in its internal unit: `0.25` gives (0.25, 0.25), `>5` (5, inf), `<0.25` (0, 0.25).

    A number without unit is taken only where a single unit makes it a probable value: 25 is °C and 78 °F, but 3 may be
    dKH or meq/L and is asked about. Values outside the possible range are refused."""
    reading = READINGS[name]
    sign, rest = _off_scale(value)
    if not rest:
        return Refusal(
            "empty-value",
            f"the {reading.title} reading has no value",
            "write the value that the test showed, or take the line out",
        )
    number = parse_number(rest, comma_is_decimal=comma_is_decimal)
    if isinstance(number, Refusal):
        return number
    if not unit.strip() and not (name in NITROGEN and basis is not None):
        found = _bare_reading(reading, number)
    else:
        found = convert_unit(number, unit, reading.dimension, basis=basis)
    if isinstance(found, Refusal):
        return found
    low, high = reading.possible
    if not low - 1e-9 <= found <= high + 1e-9:
        shown = f"{value.strip()} {unit.strip()}".strip()
        unit_name = "" if reading.unit == "pH" else f" {reading.unit}"
        if name in NITROGEN and unit.strip() and found:  # on the scale on which it was written
            high, unit_name = card_figure(high * number / found), f" {unit.strip()}"
        return Refusal(
            "impossible-value",
            f"{reading.title} of {shown} is impossible (it can be {low:g} to {high:g}{unit_name})",
            "check the number and its unit",
        )
    found = max(found, 0.0)
    return (found, math.inf) if sign == ">" else (low, found) if sign == "<" else (found, found)


def question_reading(name: str, low: float, high: float, value: str = "", unit: str = "") -> str | None:
    """A question to put to the keeper when a possible value is not a probable one; None if it is."""
    told = unusual_reading(name, low, high, value, unit)
    return f"{told} Is that right?" if told is not None else None


def unusual_reading(name: str, low: float, high: float, value: str = "", unit: str = "") -> str | None:
    """What is unusual about a possible value that is not a probable one; None if it is. `value` and `unit`: as the keeper has them, so that
    number and range stand on the scale of the kit. A unit that is more than a factor, such as SG, is told in the internal one."""
    reading = READINGS[name]
    least, most = reading.probable
    found = low if math.isinf(high) else high
    if least <= found <= most:
        return None
    hint = " A number such as 1.026 is a specific gravity (SG), not ppt." if name == "salinity" and SG_LIKE[0] <= found <= SG_LIKE[1] else ""
    known = DIMENSIONS[reading.dimension].units.get(fold_unit(unit)) if value and unit else None
    if known is None:
        value, unit = f"{found:.3g}", reading.unit
    elif known.name != reading.unit:
        least, most = (_two_digits(end / known.factor - known.shift, way) for end, way in ((least, math.ceil), (most, math.floor)))
    told = "" if reading.unit == "pH" else f" {told_unit(name, unit)}"
    return f"{value.lstrip('<>')}{told} is unusual: {reading.title} is usually {least:g} to {most:g}{' on that scale' if name in NITROGEN else told}.{hint}"


def _two_digits(value: float, way: Callable[[float], int]) -> float:
    """An end of a range as a card is read, inside the range: what is asked about is never said to be usual."""
    step = 10 ** (math.floor(math.log10(abs(value))) - 1) if value else 1.0
    return float(f"{way(round(value / step, 6)) * step:.3g}")


def _off_scale(text: str) -> tuple[str, str]:
    """The sign of a value off the kit's scale, and the rest: `>5`, `<0.25`, and the command line's `over5`, `under0.25`."""
    text = text.strip()
    lowered = text.lower()
    for word, sign in ((">", ">"), ("<", "<"), ("over", ">"), ("under", "<")):
        if lowered.startswith(word):
            return sign, text[len(word) :].strip()
    return "", text


def _bare_reading(reading: ReadingName, value: float) -> float | Refusal:
    wanted = DIMENSIONS[reading.dimension]
    if reading.dimension in ("concentration", "phosphate", "ph") or (
        value == 0 and reading.name != "temperature"
    ):
        return value
    if reading.dimension in NITROGEN:
        return unit_missing(value, wanted)
    low, high = reading.probable
    units = {wanted.units[fold_unit(name)] for name in wanted.usual if fold_unit(name) in wanted.units}
    fits = [unit for unit in units if low <= unit.to_internal(value) <= high]
    missing = unit_missing(value, wanted)
    if len(fits) == 1:
        taken = fits[0].to_internal(value)
        if reading.name == "alkalinity" and fits[0].name != reading.unit and taken < GUESSED_LEAST:
            return Refusal(missing.code, missing.message, f"if the point got lost write `{value / 10:g} dKH`, else write `{value:g} {fits[0].name}`" if value > high else missing.fix)
        return taken
    slipped = reading.name == "temperature" and any(low <= unit.to_internal(value / 10) <= high for unit in units)
    return Refusal(missing.code, missing.message, f"if the point got lost write `{value / 10:g}`, else {missing.fix}") if slipped and not fits else missing


@lru_cache(maxsize=256)
def unit_factor(reading: str, unit: str) -> float:
    """Factor from a rule number's unit to the reading's internal unit. Rules count nitrogen as N unless they say ion. A step of
    temperature is in K, which is one degree Celsius."""
    internal = READINGS[reading].unit
    return 1.0 if (unit, internal) == ("K", "°C") or unit in ("", internal, internal.removesuffix(" as N"), internal.removeprefix("°")) else to_internal_factor(reading, unit)


__all__ = ["OTHER_NAMES", "READINGS", "ReadingName", "question_reading", "read_reading", "to_internal_factor", "unit_factor", "unusual_reading"]
