"""The kinds of value a tank file holds, each a type with a reader that turns text into our units or refuses it in our
words."""

from __future__ import annotations

import re
import uuid
from calendar import monthrange
from collections.abc import Callable
from datetime import date
from typing import Annotated, Any, Literal, TypeVar
from zoneinfo import ZoneInfo, available_timezones

from planner.files.checked import Checked, ReadBy
from planner.frozen import dataclass
from planner.terms.days import DAY_NAMES, YEARS
from planner.terms.problems import nearest
from planner.terms.units import Refusal
from planner.terms.written_amounts import parse_amount
from planner.terms.written_numbers import parse_number


@dataclass(frozen=True, slots=True)
class Light:
    """A light as described. Its power and mere words are kept as they were written: nothing is worked out from them."""

    text: str
    par: float | None = None


Reads = TypeVar("Reads", bound=Callable[..., Any])


def written(**schema: Any) -> Callable[[Reads], Reads]:
    """Notes beside a reader what may be written where it reads, as JSON Schema, for `show.fileschema`. `amount` there
    stands for an amount of a dimension."""

    def note(read: Reads) -> Reads:
        vars(read)["written"] = schema
        return read

    return note


def written_of(read: Callable[[Any], Any]) -> dict[str, Any] | None:
    """What was noted beside a reader; None if nothing was."""
    found: dict[str, Any] | None = getattr(read, "written", None)
    return found


def amount(dimension: str, low: float, high: float, *, scale: float = 1.0, unit: str = "", example: str, bare: bool = False) -> Callable[[Any], Any]:
    """A reader of amounts between `low` and `high` (in the attribute's unit: the internal unit divided by `scale`)."""

    @written(amount=dimension, low=low, high=high, unit=unit, example=example, bare=bare)
    def read(given: Any) -> float:
        found = parse_amount(_text(given, f"write an amount such as `{example}`"), dimension, bare=bare)
        if isinstance(found, Refusal):
            raise found
        value = found.value / scale
        if not low - 1e-9 <= value <= high + 1e-9:
            raise Refusal(
                "impossible-value",
                f"{given} cannot be right: it lies between {low:g} and {high:g} {unit or found.unit}",
                f"check the number and its unit; it is something like `{example}`",
            )
        return value

    return read


def yes_or(read: Callable[[Any], Any]) -> Callable[[Any], Any]:
    """Yes, no, or an amount."""

    @written(anyOf=[written_of(read_yes_no), written_of(read)])
    def read_either(given: Any) -> Any:
        return _YES_NO[given.lower()] if isinstance(given, str) and given.lower() in _YES_NO else read(given)

    return read_either


def _beginnings(word: str) -> str:
    """A pattern for the word and its beginnings of two letters and more, in any case: `[mM][oO]([nN]([dD])?)?`."""
    found = ""
    for sign in reversed(word[2:]):
        found = f"([{sign}{sign.upper()}]{found})?"
    return "".join(f"[{sign}{sign.upper()}]" for sign in word[:2]) + found


def several(read: Callable[[Any], Any]) -> Callable[[Any], tuple[Any, ...]]:
    """One value or a list of them, as a tuple."""

    @written(anyOf=[written_of(read), {"type": "array", "items": written_of(read)}])
    def read_all(given: Any) -> tuple[Any, ...]:
        if not isinstance(given, list):
            return (read(given),)
        found = []
        for index, item in enumerate(given):
            try:
                found.append(read(item))
            except Refusal as refusal:
                raise Refusal(refusal.code, refusal.message, refusal.fix, at=(index,)) from None
        return tuple(found)

    return read_all


def added(read: Callable[[Any], Any]) -> Callable[[Any], float]:
    """One amount, or the sum of a list of them."""
    read_all = several(read)

    @written(**(written_of(read_all) or {}))
    def read_sum(given: Any) -> float:
        return float(sum(read_all(given)))

    return read_sum


@written(type=["string", "boolean"], pattern="^ *([yY][eE][sS]|[nN][oO]|[tT][rR][uU][eE]|[fF][aA][lL][sS][eE]|[oO][nN]|[oO][fF][fF]) *$")
def read_yes_no(given: Any) -> bool:
    text = _text(given, "write `yes` or `no`")
    if text.lower() not in _YES_NO:
        raise Refusal("not-yes-or-no", f"{text!r} is neither yes nor no", "write `yes` or `no`")
    return _YES_NO[text.lower()]


@written(anyOf=[written_of(read_yes_no), {"type": "string", "pattern": "^ *[nN][eE][tT] *$"}])
def read_lid(given: Any) -> Any:
    """A net keeps animals in; warmth and water leave it as they leave an open tank."""
    text = _text(given, "write `yes`, `net` or `no`").lower()
    if text != "net" and text not in _YES_NO:
        raise Refusal("not-yes-or-no", f"{text!r} is neither yes, net nor no", "write `yes` for a lid, `net` or `no`")
    return "net" if text == "net" else _YES_NO[text]


@written(type="string", pattern="^ *(199[0-9]|2[01][0-9]{2})-(0[1-9]|1[0-2])-(0[1-9]|[12][0-9]|3[01]) *$", examples=["2026-03-04"])
def read_day(given: Any) -> date:
    """A date as YYYY-MM-DD."""
    text = _text(given, "write a date such as `2026-03-04`")
    if re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", text):
        try:
            day = date.fromisoformat(text)
        except ValueError:
            raise Refusal(
                "not-a-date", f"{text} is not in the calendar", "check the month and the day"
            ) from None
        if day.year not in YEARS:
            raise Refusal("impossible-value", f"{text} cannot be right: it lies outside {YEARS[0]} to {YEARS[-1]}", "mend the year")
        return day
    raise Refusal("not-a-date", f"{text!r} is not a date", "write it as year-month-day, such as `2026-03-04`")


@written(type="string", pattern="^ *(199[0-9]|2[01][0-9]{2})-(0[1-9]|1[0-2])(-(0[1-9]|[12][0-9]|3[01]))? *$", examples=["2027-05", "2027-05-31"])
def read_expiry(given: Any) -> date:
    """A date, or a month (its last day), as kits print it."""
    text = _text(given, "write a date such as `2027-05-31`, or a month such as `2027-05`")
    if found := re.fullmatch(r"([0-9]{4})-(0[1-9]|1[0-2])", text):
        year, month = int(found[1]), int(found[2])
        return read_day(f"{text}-{monthrange(max(year, 1), month)[1]}")
    return read_day(text)


@written(type="string", pattern="^ *([01]?[0-9]|2[0-3])[:.][0-5][0-9] *$", examples=["18:00"])
def read_clock(given: Any) -> str:
    text = _text(given, "write a time such as `18:00`")
    found = re.fullmatch(r"([01]?[0-9]|2[0-3])[:.]([0-5][0-9])", text)
    if not found:
        raise Refusal("not-a-time", f"{text!r} is not a time of day", "write it as `18:00`")
    return f"{int(found[1]):02d}:{found[2]}"


@written(type="string", pattern=f"^ *({'|'.join(map(_beginnings, DAY_NAMES))}) *$", examples=[*DAY_NAMES])
def read_weekday(given: Any) -> str:
    text = _text(given, "write a day of the week such as `saturday`").lower()
    matches = [d for d in DAY_NAMES if len(text) >= 2 and d.startswith(text)]
    if len(matches) != 1:
        near = nearest(text, DAY_NAMES)
        raise Refusal("not-a-weekday", f"{text!r} is not a day of the week", f"write `{near or 'saturday'}`")
    return matches[0]


@written(type="string", pattern="[A-Za-z]", examples=["Europe/Berlin"])
def read_zone(given: Any) -> str:
    text = _text(given, "write a time zone such as `Europe/Berlin`")
    try:
        ZoneInfo(text)
    except (ValueError, OSError, KeyError):
        near = nearest(text, available_timezones())
        raise Refusal(
            "unknown-timezone",
            f"unknown time zone {text!r}",
            f"write `{near}`" if near else "write a zone by its region and city, such as `Europe/Berlin`",
        ) from None
    return text


@written(type="string", pattern="^[^0-9a-fA-F]*([0-9a-fA-F][^0-9a-fA-F]*){32}$")
def read_uuid(given: Any) -> str:
    text = _text(given, "write the id that `newtank start` made")
    try:
        return str(uuid.UUID(text))
    except ValueError:
        raise Refusal("not-an-id", f"{text!r} is not an id", "take the line out, and paste the one that `newtank calendar` prints") from None


@written(type=["string", "integer"], pattern="^ *0*[1-9][0-9]{0,3} *$", minimum=1, maximum=9999)
def read_count(given: Any) -> int:
    text = _text(given, "write a whole number such as `2`")
    if not re.fullmatch(r"[0-9]{1,4}", text) or int(text) < 1:
        raise Refusal("not-a-whole-number", f"{text!r} is not a whole number from 1 up", "write a whole number such as `2`")
    return int(text)


@written(type="string", pattern="^[a-z][a-z0-9-]*$", examples=["leak-test"])
def read_phase(given: Any) -> str:
    """The name of a phase; whether there is one of that name the rules know."""
    text = _text(given, "write a phase such as `leak-test`")
    if not re.fullmatch(r"[a-z][a-z0-9-]*", text):
        raise Refusal("not-a-name", f"a phase cannot be called {text!r}", "use small letters, digits and hyphens, beginning with a letter")
    return text


@written(type="string", pattern="[^0-9., ]", examples=["60 W", "150 PAR"])
def read_light(given: Any) -> Light:
    text = _text(given, "write the light's power (`60 W`), its PAR (`150 PAR`) or a few words")
    for dimension in ("power", "par"):
        found = parse_amount(text, dimension)
        if not isinstance(found, Refusal):
            return Light(text) if dimension == "power" else Light(text, found.value)
    number = parse_number(text)
    if not isinstance(number, Refusal):
        raise Refusal("unit-missing", f"{text} has no unit", f"write `{text} W` or `{text} PAR`")
    return Light(text)


@written(type=["string", "number", "boolean"], pattern=r"[^\s]")
def read_text(given: Any) -> str:
    return _text(given, "write one line of text")


def _text(given: Any, fix: str) -> str:
    if not isinstance(given, str):
        raise Refusal("not-text", "a single value is wanted here, not a list or a block of keys", fix)
    if not given.strip() or not any(c.isprintable() and not c.isspace() for c in given):  # signs that nobody can see name nothing
        raise Refusal("empty-value", "there is no value here", fix)
    return given.strip()


class Part(Checked):
    """Base of every block of the tank file."""


_YES_NO = {"yes": True, "no": False, "true": True, "false": False, "on": True, "off": False}
_flow = amount("flow", 1, 1_000_000, example="2000 L/h")
_litres = amount("volume", 0.5, 100_000, example="60 L")

YesNo = Annotated[bool, ReadBy(read_yes_no)]
Lid = Annotated[bool | Literal["net"], ReadBy(read_lid)]
PhaseName = Annotated[str, ReadBy(read_phase)]
Day = Annotated[date, ReadBy(read_day)]
Expiry = Annotated[date, ReadBy(read_expiry)]
Clock = Annotated[str, ReadBy(read_clock)]
Zone = Annotated[str, ReadBy(read_zone)]
Uuid = Annotated[str, ReadBy(read_uuid)]
Text = Annotated[str, ReadBy(read_text)]
Count = Annotated[int, ReadBy(read_count)]
Weekdays = Annotated[tuple[str, ...], ReadBy(several(read_weekday))]
LightField = Annotated[Light, ReadBy(read_light)]
SideCm = Annotated[float, ReadBy(amount("length", 8, 1000, example="80 cm"))]
GlassMm = Annotated[float, ReadBy(amount("length", 2, 60, scale=0.1, unit="mm", example="8 mm"))]
BelowRimCm = Annotated[float, ReadBy(amount("length", 0, 50, example="3 cm"))]
DepthCm = Annotated[float, ReadBy(amount("length", 0, 60, example="3 cm"))]
TankL = Annotated[float, ReadBy(amount("volume", 4, 50_000, example="180 L"))]
Litres = Annotated[float, ReadBy(_litres)]
SumpL = Annotated[float, ReadBy(amount("volume", 0, 20_000, example="40 L"))]
MassKg = Annotated[float, ReadBy(amount("mass", 0, 5000, scale=1000, unit="kg", example="12 kg"))]
Celsius = Annotated[float, ReadBy(amount("temperature", -10, 50, example="21 °C"))]
TankCelsius = Annotated[float, ReadBy(amount("temperature", 20, 31, example="25.5 °C"))]
TankSalinity = Annotated[float, ReadBy(amount("salinity", 25, 40, example="35 ppt"))]
SaltGrams = Annotated[float, ReadBy(amount("salt", 35.9, 42.5, example="38 g/L", bare=True))]
DoseN = Annotated[float, ReadBy(amount("ammonia", 0.1, 5, example="2 mg/L as N"))]
Heaters = Annotated[tuple[float, ...], ReadBy(several(amount("power", 1, 10_000, example="100 W")))]
Flow = Annotated[float, ReadBy(added(_flow))]
YesNoFlow = Annotated[bool | float, ReadBy(yes_or(_flow))]
YesNoLitres = Annotated[bool | float, ReadBy(yes_or(_litres))]
DailyFlow = Annotated[float, ReadBy(amount("daily_flow", 1, 50_000, example="200 L/day"))]
