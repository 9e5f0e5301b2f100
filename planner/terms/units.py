"""Units people write, and the one internal unit of each dimension they are turned into.

Nothing here knows what is measured; `readings` does. A dimension is a word such as `length` or `ammonia`; its units
are looked up without regard to case, spaces or the degree sign. Factors are exact by definition unless a source is
named beside them.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

from planner.frozen import dataclass
from planner.science import molar

NH3_PER_N, NH4_PER_N, NO2_PER_N, NO3_PER_N = (ion / molar.N for ion in (molar.NH3, molar.NH4, molar.NO2, molar.NO3))
PO4_PER_P = molar.PO4 / molar.P

# Reference-Composition Salinity of practical salinity 35 (IOC, SCOR and IAPSO 2010, TEOS-10 manual, section 2.4).
_REFERENCE_SALINITY_35 = 35.16504

US_GALLON_L = 231 * 2.54**3 / 1000  # 231 cubic inches
IMPERIAL_GALLON_L = 4.54609
POUND_G = 453.59237


class Refusal(ValueError):
    """Why something written cannot be used: a stable code, what was found, and one fix. Returned as a value by the
    parsers and raised by validators; `at` names the key inside the checked object that is to blame."""

    def __init__(self, code: str, message: str, fix: str, at: tuple[str | int, ...] = ()) -> None:
        super().__init__(message)
        self.code, self.message, self.fix, self.at = code, message, fix, at


@dataclass(frozen=True, slots=True)
class Unit:
    """`internal = (value + shift) * factor`."""

    name: str
    factor: float
    shift: float = 0.0

    def to_internal(self, value: float) -> float:
        return (value + self.shift) * self.factor


@dataclass(frozen=True, slots=True)
class Dimension:
    """`usual` are the units named to a reader who wrote none or an unknown one."""

    name: str
    title: str
    internal: str
    units: Mapping[str, Unit]
    usual: tuple[str, ...]


def fold_unit(text: str) -> str:
    """The look-up form of a unit: lower case, no degree signs, one kind of micro, single spaces, none round `/`."""
    text = text.strip().lower()
    for old, new in (
        ("°", ""),
        ("º", ""),
        ("µ", "u"),
        ("μ", "u"),
        ("³", "3"),
        ("₃", "3"),
        ("₄", "4"),
        ("₂", "2"),
    ):
        text = text.replace(old, new)
    text = re.sub(r"\s+", " ", text)
    return re.sub(r" ?([/%]) ?", r"\1", text).strip(" .")


def _dimension(
    name: str, title: str, internal: str, usual: tuple[str, ...], *rows: tuple[str, float, float, str]
) -> Dimension:
    """Each row: name, factor, shift, further spellings parted by `|`."""
    units: dict[str, Unit] = {}
    for spelled, factor, shift, aliases in rows:
        unit = Unit(spelled, factor, shift)
        for alias in (spelled, *filter(None, aliases.split("|"))):
            units[fold_unit(alias)] = unit
    return Dimension(name, title, internal, units, usual)


def _nitrogen(name: str, title: str, ions: tuple[tuple[str, float], ...]) -> Dimension:
    """The same mg/L or ppm, said of nitrogen or of a named ion. `mg/L as ion` is the first of `ions`."""

    def spellings(word: str) -> str:
        bare = (
            f"mg/L as {word}",
            f"mg/L {word}",
            f"ppm as {word}",
            f"ppm {word}",
            f"mg {word}/L",
            f"mg/L-{word}",
            f"ppm-{word}",
            f"mg/L ({word})",
            f"ppm ({word})",
            f"mg/L {word}+",
            f"mg/L {word}-",
            f"ppm {word}+",
            f"ppm {word}-",
            f"mg/L as {word}+",
            f"mg/L as {word}-",
        )
        return "|".join(bare)

    as_n = [
        spellings(word)
        for word in ("N", *(f"{ion}-N" for ion, _ in ions), *(("TAN",) if name == "ammonia" else ()))
    ]
    rows = [("mg/L as N", 1.0, 0.0, "|".join(as_n))]
    first = ions[0]
    rows.append((f"mg/L as {first[0]}", 1 / first[1], 0.0, f"{spellings(first[0])}|{spellings('ion')}"))
    rows += [(f"mg/L as {ion}", 1 / per_n, 0.0, spellings(ion)) for ion, per_n in ions[1:]]
    return _dimension(name, title, "mg/L as N", ("mg/L as N", *(f"mg/L as {ion}" for ion, _ in ions)), *rows)


_MG_L = ("mg/L", 1.0, 0.0, "ppm|mg/litre|mg/liter|mg per litre")
_GPH = "gph|gal/h|gal/hr|gal/hour|US gal/h|gallons per hour"

DIMENSIONS: dict[str, Dimension] = {
    d.name: d
    for d in (
        _dimension(
            "length",
            "a length",
            "cm",
            ("cm", "mm", "m", "in", "ft"),
            ("cm", 1.0, 0.0, "centimetre|centimetres|centimeter|centimeters"),
            ("mm", 0.1, 0.0, "millimetre|millimetres|millimeter|millimeters"),
            ("m", 100.0, 0.0, "metre|metres|meter|meters"),
            ("in", 2.54, 0.0, 'inch|inches|"|″'),
            ("ft", 30.48, 0.0, "foot|feet|'|′"),
        ),
        _dimension(
            "volume",
            "a volume",
            "L",
            ("L", "mL", "gal", "imp gal"),
            ("L", 1.0, 0.0, "litre|litres|liter|liters|ltr"),
            ("mL", 0.001, 0.0, "millilitre|millilitres|ml"),
            ("gal", US_GALLON_L, 0.0, "gals|gallon|gallons|US gal|US gallon|US gallons|gal (US)"),
            (
                "imp gal",
                IMPERIAL_GALLON_L,
                0.0,
                "imperial gal|imperial gallon|imperial gallons|UK gal|imp gallons",
            ),
            ("m3", 1000.0, 0.0, "cubic metre|cubic metres|m^3"),
            ("fl oz", US_GALLON_L / 128, 0.0, "floz|US fl oz"),
        ),
        _dimension(
            "mass",
            "a mass",
            "g",
            ("kg", "g", "lb", "oz"),
            ("g", 1.0, 0.0, "gram|grams|gramme|grammes"),
            ("kg", 1000.0, 0.0, "kgs|kilo|kilos|kilogram|kilograms"),
            ("mg", 0.001, 0.0, "milligram|milligrams"),
            ("lb", POUND_G, 0.0, "lbs|pound|pounds"),
            ("oz", POUND_G / 16, 0.0, "ounce|ounces"),
        ),
        _dimension(
            "temperature",
            "a temperature",
            "°C",
            ("°C", "°F"),
            ("°C", 1.0, 0.0, "C|deg C|degrees C|celsius"),
            ("°F", 5 / 9, -32.0, "F|deg F|degrees F|fahrenheit"),
        ),
        _dimension(
            "power",
            "a power",
            "W",
            ("W", "kW"),
            ("W", 1.0, 0.0, "watt|watts"),
            ("kW", 1000.0, 0.0, "kilowatt"),
        ),
        _dimension(
            "flow",
            "a flow",
            "L/h",
            ("L/h", "gph", "L/min"),
            ("L/h", 1.0, 0.0, "lph|L/hr|L/hour|litres per hour"),
            ("gph", US_GALLON_L, 0.0, _GPH),
            ("L/min", 60.0, 0.0, "lpm"),
            ("m3/h", 1000.0, 0.0, ""),
        ),
        _dimension(
            "daily_flow",
            "litres or gallons per day",
            "L/day",
            ("L/day", "gal/day"),
            ("L/day", 1.0, 0.0, "L/d|lpd|litres per day"),
            ("gal/day", US_GALLON_L, 0.0, "gal/d|gpd|US gal/day|gallons per day"),
            ("L/h", 24.0, 0.0, "lph|L/hr"),
            ("gph", 24 * US_GALLON_L, 0.0, _GPH),
        ),
        _dimension(
            "salinity",
            "a salinity",
            "ppt",
            ("ppt", "SG 25/25", "mS/cm at 25 C"),
            ("ppt", 1.0, 0.0, "‰|psu|practical salinity|SP|per mille"),
            ("g/kg", 35 / _REFERENCE_SALINITY_35, 0.0, ""),
        ),
        _nitrogen("ammonia", "an amount of ammonia", (("NH4", NH4_PER_N), ("NH3", NH3_PER_N))),
        _nitrogen("nitrite", "an amount of nitrite", (("NO2", NO2_PER_N),)),
        _nitrogen("nitrate", "an amount of nitrate", (("NO3", NO3_PER_N),)),
        _dimension(
            "alkalinity",
            "an alkalinity",
            "dKH",
            ("dKH", "meq/L", "mg/L CaCO3"),
            ("dKH", 1.0, 0.0, "KH|dH|deg KH|deg dKH"),
            ("meq/L", molar.DKH_PER_MEQ, 0.0, "meq|mEq|mmol/L HCO3"),
            (
                "mg/L CaCO3",
                molar.DKH_PER_MEQ / molar.CACO3_MG_PER_MEQ,
                0.0,
                "ppm CaCO3|mg/L as CaCO3|ppm as CaCO3|mg CaCO3/L",
            ),
        ),
        _dimension("concentration", "a concentration", "mg/L", ("mg/L", "ppm"), _MG_L),
        _dimension(
            "phosphate",
            "an amount of phosphate",
            "mg/L",
            ("mg/L", "ppm", "mg/L as P"),
            ("mg/L", 1.0, 0.0, f"{_MG_L[3]}|mg/L PO4|mg/L as PO4|ppm PO4|mg/L as ion"),
            ("mg/L as P", PO4_PER_P, 0.0, "mg/L P|ppm P|ppm as P|mg/L PO4-P"),
            ("ug/L as P", PO4_PER_P / 1000, 0.0, "ug/L P|ppb P|ppb as P"),
        ),
        _dimension(
            "duration",
            "a length of time",
            "h",
            ("h", "d", "min"),
            ("h", 1.0, 0.0, "hr|hrs|hour|hours"),
            ("d", 24.0, 0.0, "day|days"),
            ("min", 1 / 60, 0.0, "minute|minutes|mins"),
            ("week", 168.0, 0.0, "weeks|wk"),
        ),
        _dimension("percent", "a share in percent", "%", ("%",), ("%", 1.0, 0.0, "percent|per cent|pct")),
        _dimension("par", "light in PAR", "PAR", ("PAR",), ("PAR", 1.0, 0.0, "umol/m2/s|umol")),
        _dimension("ph", "a pH", "pH", ("pH",), ("pH", 1.0, 0.0, "ph nbs|nbs")),
        _dimension(
            "salt",
            "grams of salt per finished litre",
            "g/L",
            ("g/L",),
            ("g/L", 1.0, 0.0, "grams per litre|g per L"),
        ),
    )
}
