"""Amounts as people write them, such as `80 cm`, `1 1/2 in`, `0.25 ppm` or `1.026 SG 25/25`, in internal units."""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import cache
from typing import Literal

from planner.terms.amounts import listed
from planner.terms.causes import Amount
from planner.terms.problems import nearest
from planner.terms.units import DIMENSIONS, Dimension, Refusal, fold_unit
from planner.terms.written_numbers import parse_number, split_amount, split_fraction

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
        return value if bare or dimension == "ph" else unit_missing(value, wanted)
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


def told_unit(reading: str, unit: str) -> str:
    """The unit of a row as people say it: what a kit counts by its molecule, where the row says "ion"."""
    return f"mg/L as {IONS[reading]}" if reading in IONS and fold_unit(unit) == fold_unit("mg/L as ion") else unit


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


_US = re.compile(r"\d\s*(?:in|inch|inches|\"|ft|feet|gal|gallons?|qt|lb|lbs|oz|°?F)\b", re.IGNORECASE)
_METRIC = re.compile(r"\d\s*(?:cm|mm|m|L|litres?|liters?|kg|g|°?C)\b", re.IGNORECASE)


def system_of(texts: Iterable[str]) -> Literal["metric", "us"] | None:
    """The system in which somebody wrote amounts: None where nothing tells, or both were used."""
    said = list(texts)
    us, metric = (any(pattern.search(text) for text in said) for pattern in (_US, _METRIC))
    return None if us == metric else "us" if us else "metric"


def unit_missing(value: float, wanted: Dimension) -> Refusal:
    """What to write where a number stands without its unit."""
    if wanted.name == "salinity" and 0.99 <= value <= 1.08:
        return _pair_missing(value)
    if wanted.name == "salinity" and 1 < value < 2:  # a digit of a specific gravity is missing, such as 1.26 for 1.026
        return Refusal("unit-missing", f"{value:g} has no unit, and as a specific gravity it lies far beyond sea water", "look at the scale once more, and write the number with its unit, such as `1.026 SG 25/25` or `35 ppt`")
    code = "basis-missing" if wanted.name in NITROGEN else "unit-missing"
    options = [f"{value:g} {name}" for name in (("ppt",) if wanted.name == "salinity" else wanted.usual)]
    leaflet = ", as your kit's leaflet has it" if wanted.name in NITROGEN else ""
    return Refusal(code, f"{value:g} has no unit", f"write {one_of(options)}{leaflet}")


def _pair_missing(value: float) -> Refusal:
    return Refusal(
        "sg-pair-missing",
        f"a specific gravity of {value:g} means little without its pair of temperatures",
        f"write the pair printed on the hydrometer or refractometer: "
        f"{one_of([f'{value:g} SG {pair}' for pair in SG_PAIRS])}. If it shows ppt beside it, write what you read there, such as `35 ppt`, which needs no pair",
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


__all__ = ["IONS", "MOLECULES", "NITROGEN", "SG_PAIRS", "WITH_FRACTIONS", "convert_unit", "nitrogen_factor", "one_of", "parse_amount", "system_of", "told_unit", "unit_missing"]
