"""The one dictionary: what each reading is called, its internal unit, what it can be and what it usually is; and how
amounts are read from people and shown to people.

Internal units: litre, gram, centimetre, °C, W, L/h, L/day, practical salinity ("ppt"), mg/L as N, dKH, mg/L, pH, hours.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import cache, lru_cache

from planner.terms.amounts import format_amount, listed
from planner.terms.problems import nearest
from planner.terms.records import Amount
from planner.terms.units import (
    DIMENSIONS,
    Dimension,
    Refusal,
    fold_unit,
    parse_number,
    split_amount,
    split_fraction,
)


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

MOLECULES: dict[str, tuple[str, ...]] = {"ammonia": ("NH3", "NH4"), "nitrite": ("NO2",), "nitrate": ("NO3",)}
"""What a kit may count beside nitrogen, the ion last."""
NITROGEN = tuple(MOLECULES)
IONS = {name: molecules[-1] for name, molecules in MOLECULES.items()}
WITH_FRACTIONS = ("length", "volume", "mass")
SG_PAIRS = ("25/25", "20/20", "20/4", "15/15", "60F/60F")
_PAIR = re.compile(r"([0-9]+(?:\.[0-9]+)?)([cf]?)/([0-9]+(?:\.[0-9]+)?)([cf]?)")


def parse_amount(
    text: str, dimension: str, *, basis: str | None = None, bare: bool = False, comma_is_decimal: bool = False
) -> Amount | Refusal:
    """An amount with its unit, such as `80 cm`, `1 1/2 in` or `1.026 SG 25/25`, in the internal unit of `dimension`.

    `basis` (`N`, `ion`, `NH3`...) settles plain mg/L for nitrogen. With `bare` a number without unit is taken in the
    internal unit. Refused with what was wanted: no number, no unit, an unknown unit, an undecided basis."""
    wanted = DIMENSIONS[dimension]
    if dimension in WITH_FRACTIONS and (parted := split_fraction(text)) is not None:
        if isinstance(parted, Refusal):
            return parted
        whole = convert_unit(*parted, dimension, basis=basis, bare=bare)
        return whole if isinstance(whole, Refusal) else Amount(whole, wanted.internal)
    number, unit = split_amount(text)
    if not number:
        return Refusal(
            "not-a-number",
            f"{text.strip()!r} is not {wanted.title}",
            f"write a number and a unit, such as `{_example(wanted)}`",
        )
    value = parse_number(number, comma_is_decimal=comma_is_decimal)
    if isinstance(value, Refusal):
        return value
    if dimension == "length" and unit:
        joined = _feet_and_inches(value, unit)
        if joined is not None:
            return Amount(joined, "cm")
    factor = convert_unit(value, unit, dimension, basis=basis, bare=bare)
    return factor if isinstance(factor, Refusal) else Amount(factor, wanted.internal)


def convert_unit(
    value: float, unit: str, dimension: str, *, basis: str | None = None, bare: bool = False
) -> float | Refusal:
    """A number and a unit into the internal unit of `dimension`; see `parse_amount`."""
    wanted = DIMENSIONS[dimension]
    folded = fold_unit(unit)
    known = wanted.units.get(folded)
    if known is not None:
        return known.to_internal(value)
    if dimension in NITROGEN and folded in ("", "mg/l", "ppm"):
        if basis is not None:
            return value / nitrogen_factor(dimension, basis)
        if folded:
            return Refusal(
                "basis-missing",
                f"{unit.strip()} does not say whether {dimension} is counted as nitrogen or as the ion",
                f"write {one_of(wanted.usual)}, or give the kit's `basis` under `test_kits`",
            )
    if dimension == "salinity":
        special = _special_salinity(value, folded, unit)
        if special is not None:
            return special
    if not folded:
        return value if bare or dimension == "ph" else _unit_missing(value, wanted)
    if dimension == "alkalinity" and folded in ("ppm", "mg/l"):
        return Refusal(
            "unit-unknown",
            f"{unit.strip()} does not say of what alkalinity is counted",
            "write `mg/L CaCO3`, `dKH` or `meq/L`",
        )
    near = nearest(unit.strip(), (u.name for u in wanted.units.values()))
    other = _dimension_of(folded)
    if other is not None and near is None:
        message = f"{unit.strip()!r} is a unit of {other.title.split(' ', 1)[-1]}, but this is {wanted.title}"
    else:
        message = f"unknown unit {unit.strip()!r} for {wanted.title}"
    return Refusal("unit-unknown", message, f"write `{near}`" if near else f"write {one_of(wanted.usual)}")


@cache
def nitrogen_factor(reading: str, basis: str) -> float:
    """mg/L on `basis` (`N`, `ion`, `NH3`, `NH4`, `NO2`, `NO3`) per mg/L as N."""
    unit = DIMENSIONS[reading].units.get(fold_unit(f"mg/L as {basis}"))
    if unit is None:
        raise KeyError(f"{reading} has no basis {basis!r}")
    return 1 / unit.factor


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
        return Refusal(
            "impossible-value",
            f"{reading.title} of {shown} is impossible (it can be {low:g} to {high:g}{unit_name})",
            "check the number and its unit",
        )
    found = max(found, 0.0)
    return (found, math.inf) if sign == ">" else (low, found) if sign == "<" else (found, found)


def question_reading(name: str, low: float, high: float) -> str | None:
    """A question to put to the keeper when a possible value is not a probable one; None if it is."""
    reading = READINGS[name]
    least, most = reading.probable
    value = low if math.isinf(high) else high
    if least <= value <= most:
        return None
    return f"{reading.title} is usually {least:g} to {most:g} {reading.unit}; this is {value:.3g} {reading.unit}. Is that right?"


def one_of(words: tuple[str, ...] | list[str]) -> str:
    """`a`, `b` or `c`, in backquotes."""
    return listed((f"`{w}`" for w in words), "or")


def _example(wanted: Dimension) -> str:
    return {
        "length": "80 cm",
        "volume": "100 L",
        "mass": "10 kg",
        "temperature": "25 °C",
        "power": "100 W",
        "flow": "1000 L/h",
        "daily_flow": "200 L/day",
        "salinity": "35 ppt",
        "alkalinity": "8 dKH",
        "ph": "8.1",
        "duration": "48 h",
        "percent": "10 %",
        "par": "150 PAR",
        "salt": "38 g/L",
    }.get(wanted.name, f"1 {wanted.usual[0]}")


def _unit_missing(value: float, wanted: Dimension) -> Refusal:
    if wanted.name == "salinity" and 0.99 <= value <= 1.08:
        return _pair_missing(value)
    code = "basis-missing" if wanted.name in NITROGEN else "unit-missing"
    options = [f"{value:g} {name}" for name in (("ppt",) if wanted.name == "salinity" else wanted.usual)]
    return Refusal(code, f"{value:g} has no unit", f"write {one_of(options)}")


def _pair_missing(value: float) -> Refusal:
    return Refusal(
        "sg-pair-missing",
        f"a specific gravity of {value:g} means little without its pair of temperatures",
        f"write the pair printed on the hydrometer or refractometer: "
        f"{one_of([f'{value:g} SG {pair}' for pair in SG_PAIRS])}",
    )


def _special_salinity(value: float, folded: str, unit: str) -> float | Refusal | None:
    """Specific gravity and conductivity, by the sea-water formulas; None if the unit is neither."""
    is_sg = folded.startswith(("sg", "specific gravity")) or _PAIR.match(folded)
    is_conductivity = "ms/cm" in folded or "us/cm" in folded
    if not is_sg and not is_conductivity:
        return None
    # The one look upwards: these two units are formulas, and loading them costs more than reading a whole journal.
    from planner.science.water import salinity_from_conductivity, salinity_from_sg

    try:
        if is_sg:
            pair = _PAIR.search(folded.replace(" ", ""))
            if pair is None:
                return _pair_missing(value)
            first = (
                "f" if pair[2] == "f" or (not pair[2] and pair[4] == "f" and float(pair[1]) > 40) else pair[2]
            )
            second = (
                "f" if pair[4] == "f" or (not pair[4] and first == "f" and float(pair[3]) > 40) else pair[4]
            )
            return salinity_from_sg(value, _celsius(pair[1], first), _celsius(pair[3], second))
        at = re.search(r"(?:at|@) ?([0-9]+(?:\.[0-9]+)?) ?(?:deg )?([cf]?)$", folded)
        if at is None:
            return Refusal(
                "temperature-missing",
                f"a conductivity of {value:g} {unit.strip()} means little without its temperature",
                f"write `{value:g} mS/cm at 25 C` if the meter corrects to 25 °C, else the water's temperature",
            )
        ms_cm = value / 1000 if "us/cm" in folded else value
        return salinity_from_conductivity(ms_cm, _celsius(at[1], at[2]))
    except ValueError:
        return Refusal(
            "impossible-value",
            f"{value:g} {unit.strip()} is outside what sea-water formulas cover",
            "check the number, the unit and the temperatures",
        )


def _celsius(number: str, letter: str) -> float:
    return (float(number) - 32) / 1.8 if letter == "f" else float(number)


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
        return _unit_missing(value, wanted)
    low, high = reading.probable
    units = {wanted.units[fold_unit(name)] for name in wanted.usual if fold_unit(name) in wanted.units}
    fits = [unit for unit in units if low <= unit.to_internal(value) <= high]
    return fits[0].to_internal(value) if len(fits) == 1 else _unit_missing(value, wanted)


def _feet_and_inches(feet: float, unit: str) -> float | None:
    """`2 ft 6 in` or `2 ft 6 1/2 in` as centimetres, given the 2 and the rest; None if it is not of that form."""
    parts = re.fullmatch(
        r"(?:ft|feet|foot|'|′)\s*([0-9]+(?:\.[0-9]+)?|[0-9 ]+/[0-9 ]+)\s*(?:in|inch|inches|\"|″)", unit.strip().lower()
    )
    if parts is None:
        return None
    if "/" not in parts[1]:
        return feet * 30.48 + float(parts[1]) * 2.54
    inches = split_fraction(parts[1])
    return feet * 30.48 + inches[0] * 2.54 if isinstance(inches, tuple) else None


def _dimension_of(folded: str) -> Dimension | None:
    return next((d for d in DIMENSIONS.values() if folded in d.units), None)


@lru_cache(maxsize=256)
def unit_factor(reading: str, unit: str) -> float:
    """Factor from a rule number's unit to the reading's internal unit. Rules count nitrogen as N unless they say ion."""
    internal = READINGS[reading].unit
    return 1.0 if unit in ("", internal, internal.removesuffix(" as N"), internal.removeprefix("°")) else to_internal_factor(reading, unit)


__all__ = [
    "IONS",
    "MOLECULES",
    "NITROGEN",
    "READINGS",
    "SG_PAIRS",
    "Amount",
    "ReadingName",
    "Refusal",
    "convert_unit",
    "format_amount",
    "nitrogen_factor",
    "one_of",
    "parse_amount",
    "parse_number",
    "question_reading",
    "read_reading",
    "split_amount",
    "to_internal_factor",
    "unit_factor",
]
