"""What a journal row says, apart from its time: kind, subject, value and unit checked against what they can be, and the
value's bounds in internal units."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping

from planner.files.journal_time import read_day
from planner.frozen import dataclass
from planner.terms.journal_words import DOSES, EVENTS, fold, one_word
from planner.terms.problems import nearest
from planner.terms.readings import READINGS, read_reading
from planner.terms.records import WATERS, Row
from planner.terms.units import DIMENSIONS, Refusal, fold_unit
from planner.terms.written_amounts import NITROGEN, convert_unit, one_of
from planner.terms.written_numbers import parse_number, split_amount

KINDS = ("reading", "done", "skipped", "postponed", "dosed", "changed_water", "poured", "added", "moved", "lost", "event", "undo")
UNDO_LINE = "line:"
"""An undo row of `line:12` takes back a line that cannot be read; its value is the mark of that line's text."""
SLIP = 0.7
"""How alike a word must be to a known one to be taken for it: `shop_closed` is not `tank_closed`."""
_ANIMALS = ("added", "moved", "lost")

Bounds = tuple[float | None, float | None]


@dataclass(frozen=True, slots=True)
class Said:
    """A row but its time and note, as the plan spells it. `value` has a decimal point, whatever the file has."""

    kind: str
    what: str
    value: str
    unit: str
    where: str
    low: float | None
    high: float | None
    doubt: Refusal | None = None
    """A word that nobody knows: the row counts only where its note says that it is meant."""


@dataclass(frozen=True, slots=True)
class Context:
    """What a row cannot say itself: the kits' bases, whether a comma in a number is surely its decimal sign, and whether it stands in
    no file yet: whoever types writes number and unit in one."""

    bases: Mapping[str, str | None]
    comma_is_decimal: bool
    events: frozenset[str] = EVENTS
    typed: bool = False

    def with_unit(self, wanted: Iterable[str]) -> str:
        """How to write a number with its unit."""
        return f"write {one_of([*wanted])}" + ("" if self.typed else ": the unit has a field of its own")


def _unknown(code: str, what: str, given: str, known: Collection[str], field: int) -> Refusal:
    near = nearest(given, known)
    return Refusal(code, f"unknown {what} {given!r}", f"write `{near}`" if near else f"use one of: {', '.join(known)}", (field,))


def judge_row(kind: str, what: str, value: str, unit: str, where: str, context: Context) -> Said | Refusal:
    """All of a row but its time and note. A refusal's `at` is the number of the field to blame."""
    word = one_word("kind", kind)
    if word not in KINDS:
        return _unknown("unknown-kind", "kind", kind, KINDS, 1)
    water = one_word("water", where) or "display"
    if water not in WATERS:
        return _unknown("unknown-water", "water", where, WATERS, 5)
    if word == "undo" and what.startswith(UNDO_LINE):
        return Said("undo", what, value, "", water, None, None)
    if word == "undo":
        taken, _, rest = what.partition(":")
        if one_word("kind", taken) not in KINDS or one_word("kind", taken) == "undo" or ":" not in what:
            return Refusal(
                "undo-unclear",
                f"{what!r} does not say which row is taken back",
                "write the kind and the subject of that row, such as `reading:ammonia`",
                (2,),
            )
        inner = judge_row(taken, rest, value, unit, where, context)
        if isinstance(inner, Refusal):
            return inner
        return Said(
            "undo", f"{inner.kind}:{inner.what}", inner.value, inner.unit, water, inner.low, inner.high
        )
    what = subject(word, what, context.events)
    if not what and word not in ("changed_water", "poured"):
        return Refusal("what-missing", f"this row does not say what was {_PAST.get(word, word)}", _WHAT_FIX.get(word, "fill in the third field"), (2,))
    if not unit and word in ("reading", "dosed", "changed_water", "poured"):
        value, unit = _part_unit(value)
    bounds = _bounds(word, what, value, unit, context)
    doubt = _doubt(word, what, context.events)
    if isinstance(bounds, Refusal):
        return doubt or bounds
    # The value is kept with a decimal point: a spreadsheet's comma does not make it another row.
    plain = value.replace(",", ".") if bounds[0] is not None else value
    if word == "postponed":
        day = read_day(value)
        plain = value if isinstance(day, Refusal) else day.isoformat()
    return Said(word, what, plain, unit, water, *bounds, doubt)


def subject(kind: str, what: str, events: frozenset[str]) -> str:
    """What a row of this kind speaks of, in the one spelling. An event that the rules know by that name keeps it."""
    if kind in ("reading", "dosed"):
        return one_word(kind, what)
    if kind == "event":
        return fold(what) if fold(what) in events else one_word(kind, what)
    return what.lower()


def _doubt(kind: str, what: str, events: frozenset[str]) -> Refusal | None:
    """An event or a dose that is most likely a known one, misspelled."""
    known = events if kind == "event" else DOSES if kind == "dosed" else None
    near = nearest(what, known, SLIP) if known is not None and what not in known else None
    if near is None:
        return None
    fix = f"write `{near}`, or `confirmed` in the note if it is meant as it stands"
    if kind == "dosed":
        return Refusal("unknown-dose", f"nobody knows the dose {what!r}", fix, (2,))
    return Refusal("unknown-event", f"nobody knows the event {what!r}", fix, (2,))


def _bounds(kind: str, what: str, value: str, unit: str, context: Context) -> Bounds | Refusal:
    match kind:
        case "reading":
            return _reading_bounds(what, value, unit, context)
        case "dosed":
            return _dose_bounds(what, value, unit, context)
        case "changed_water" | "poured":
            return _water_bounds(value, unit, context, share=kind == "changed_water")
        case "added" | "moved" | "lost":
            return _count_bounds(f"{value},{unit}" if unit[:1].isdigit() else value)  # a comma that was not in quotes
        case "postponed":
            return _postponed_bounds(value)
        case _:
            return _plain_bounds(value)


def _part_unit(value: str) -> tuple[str, str]:
    """A unit that was written into the value's field, taken out of it."""
    sign = re.match(r"(?:[<>]|over|under)?\s*", value, re.I)
    start = sign.end() if sign else 0
    number, unit = split_amount(value[start:])
    return (value[:start] + number, unit) if number else (value, "")


def _number(text: str, context: Context) -> float | Refusal:
    found = parse_number(text, comma_is_decimal=context.comma_is_decimal)
    if isinstance(found, Refusal):
        return _blame(found, 3)
    if found < 0:
        return Refusal("impossible-value", f"{text} is below zero", "check the number", (3,))
    return found


def _reading_bounds(what: str, value: str, unit: str, context: Context) -> Bounds | Refusal:
    if what not in READINGS:
        return _unknown("unknown-reading", "reading", what, READINGS, 2)
    found = read_reading(
        what, value, unit, basis=context.bases.get(what), comma_is_decimal=context.comma_is_decimal
    )
    if isinstance(found, Refusal):
        return _blame(found, 3 if found.code in _VALUE_CODES else 4)
    return found


def _water_bounds(value: str, unit: str, context: Context, *, share: bool) -> Bounds | Refusal:
    number = _number(value, context)
    if isinstance(number, Refusal):
        return number
    if share and fold_unit(unit) in DIMENSIONS["percent"].units:
        if number > 100:
            return Refusal(
                "impossible-value", f"{value} % of the water is impossible", "check the number", (3,)
            )
        return number, number
    if not unit:  # a gallon is nearly four litres, and every dose follows what was poured
        return Refusal("unit-missing", f"{value} has no unit", context.with_unit([*([f"{value} %"] if share else []), f"{value} L", f"{value} gal"]), (4,))
    litres = convert_unit(number, unit, "volume")
    if isinstance(litres, Refusal):
        return _blame(litres, 4)
    if litres > 50_000:
        return Refusal("impossible-value", f"{value} {unit} is more than any tank holds", "check the number and its unit", (3,))
    return litres, litres


def _dose_bounds(what: str, value: str, unit: str, context: Context) -> Bounds | Refusal:
    if not value:
        return None, None
    number = _number(value, context)
    if isinstance(number, Refusal):
        return number
    dimension = _dose_dimension(what, unit)
    if dimension is None:
        wanted = {"ammonia": ("mg/L as N", "g", "mL"), "bicarbonate": ("dKH", "g")}.get(
            what.lower(), ("mg/L", "g", "mL")
        )
        return Refusal(
            "unit-unknown" if unit else "unit-missing",
            f"a dose of {value} {unit}".rstrip() + " cannot be understood",
            context.with_unit(f"{value} {u}" for u in wanted),
            (4,),
        )
    # A dose in plain mg/L is meant as nitrogen: every dose the plan writes is.
    found = convert_unit(number, unit, dimension, basis="N")
    if isinstance(found, Refusal):
        return _blame(found, 4)
    limit = READINGS[dimension].possible[1] if dimension in READINGS else 100_000
    if found > limit:
        return Refusal("impossible-value", f"a dose of {value} {unit} is impossible", "check the number and its unit", (3,))
    return found, found


def _count_bounds(value: str) -> Bounds | Refusal:
    if not value:
        return 1.0, 1.0
    if not re.fullmatch(r"[0-9]{1,4}(?:[.,]0+)?", value) or float(value.replace(",", ".")) < 1:
        return Refusal("not-a-whole-number", f"{value!r} is not a number of animals", "write a whole number such as `2`", (3,))
    count = float(value.replace(",", "."))
    return count, count


def _postponed_bounds(value: str) -> Bounds | Refusal:
    day = read_day(value)
    return _blame(day, 3) if isinstance(day, Refusal) else (None, None)


def _plain_bounds(value: str) -> Bounds:
    """Kinds whose value is free: a number is kept as one, anything else stays text."""
    number = parse_number(value, comma_is_decimal=True) if value else None
    return (number, number) if isinstance(number, float) else (None, None)


_VALUE_CODES = ("empty-value", "not-a-number", "ambiguous-number", "impossible-value")
_PAST = {"reading": "tested", "event": "happening"}
_WHAT_FIX = {
    "reading": f"write one of: {', '.join(READINGS)}",
    "dosed": "write what was dosed, such as `ammonia`",
    "event": "write what happened, such as `leak` or `power_cut`",
    **dict.fromkeys(("done", "skipped", "postponed"), "write the task's id, such as `leak-test/watch`"),
    **dict.fromkeys(_ANIMALS, "write the animal's id, such as `amphiprion-ocellaris`"),
}
_ALKALINE = ("bicarbonate", "alkalinity", "carbonate", "soda")


def _dose_dimension(what: str, unit: str) -> str | None:
    """A dose is a mass, a volume, or a rise in what it raises."""
    folded = fold_unit(unit)
    rise = (
        "alkalinity"
        if fold(what) in _ALKALINE
        else what.lower()
        if what.lower() in NITROGEN
        else (READINGS[what.lower()].dimension if what.lower() in READINGS else "concentration")
    )
    if folded in DIMENSIONS[rise].units or (rise in NITROGEN and folded in ("mg/l", "ppm")):
        return rise
    return next((name for name in ("mass", "volume") if folded in DIMENSIONS[name].units), None)


def _blame(refusal: Refusal, field: int) -> Refusal:
    refusal.at = (field,)
    return refusal


def row_unit(row: Row) -> str:
    """The internal unit of `row.low` and `row.high`: of a dose `mg/L as N`, `dKH`, `mg/L`, `g` or `L`; of a water change
    `%` or `L`; empty for a count or a plain number."""
    if row.low is None:
        return ""
    if row.kind == "reading":
        return READINGS[row.what].unit
    if row.kind in ("changed_water", "poured"):
        return "%" if fold_unit(row.unit) in DIMENSIONS["percent"].units else "L"
    if row.kind == "dosed":
        return DIMENSIONS[_dose_dimension(row.what, row.unit) or "volume"].internal
    return ""


__all__ = ["KINDS", "UNDO_LINE", "Bounds", "Context", "Said", "judge_row", "row_unit", "subject"]
