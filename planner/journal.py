"""The journal: what happened, read from a file that people, spreadsheets and commands write.

A line that cannot be read is reported with its number and left alone; what it may have said is unknown from its day on
(`Unreadable`). Everything a row says is put into internal units here, so that nothing after it asks for units again.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta, timezone, tzinfo
from typing import TYPE_CHECKING

from planner.journalform import COLUMNS, HEADER, Form, NewRow, cut_line, decode_lines, form_of, print_row
from planner.model import WATERS, Journal, Row, Unreadable, index_journal
from planner.problems import Place, Problem, nearest, sort_problems
from planner.quantities import (
    NITROGEN,
    READINGS,
    Refusal,
    convert_unit,
    one_of,
    parse_number,
    read_reading,
)
from planner.units import DIMENSIONS, fold_unit

if TYPE_CHECKING:
    from planner.tankfile import Tank

KINDS = ("reading", "done", "skipped", "postponed", "dosed", "changed_water", "poured", "added", "moved", "lost",
         "event", "undo")
TAG = re.compile(r"\[([a-z0-9]{4,})\]$")
_ANIMALS = ("added", "moved", "lost")
_ISO = re.compile(r"([0-9]{4})-([0-9]{2})-([0-9]{2})")
_SLASHED = re.compile(r"([0-9]{1,4})([/.\-])([0-9]{1,2})\2([0-9]{1,4})")
_CLOCK = re.compile(r"([0-9]{1,2}):([0-9]{2})(?::([0-9]{2})(?:\.[0-9]+)?)?\s*([ap]m)?\s*(z|utc|[+\-][0-9]{2}:?[0-9]{2})?", re.I)

Bounds = tuple[float | None, float | None]
Instant = tuple[date, datetime | None, float, float]


def read_journal(
    content: str | bytes, file: str, tank: Tank | None, zone: tzinfo
) -> tuple[Journal, tuple[Problem, ...]]:
    """A journal file into rows and problems. `tank` gives the kits' bases, `zone` the local days."""
    lines = decode_lines(content)
    reader = _Reader(file, form_of(lines), tank, zone)
    last = len(lines) if lines[-1] else 0  # a last line without an end; 0 if the file ends properly
    if reader.form.header_line == 0 and any(line.strip() for line in lines):
        reader.complain(1, "header-missing", "the journal does not begin with its header", f"put this above the first row: `{HEADER}`", lines[0])
    for number, line in enumerate(lines, 1):
        if line and number != reader.form.header_line:
            reader.read_line(number, line, torn=number == last)
    rows = reader.without_undone()
    return index_journal(rows, reader.unreadable, file), sort_problems(reader.problems)


def read_row(row: NewRow, file: str, tank: Tank | None, zone: tzinfo) -> Row | Problem:
    """One row that is about to be written, judged exactly as it will be when it is read back."""
    form = Form(header_line=0)
    reader = _Reader(file, form, tank, zone)
    reader.read_line(1, print_row(row, form), torn=False)
    if reader.problems:
        return reader.problems[0]
    return (reader.rows or reader.undo)[0]


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


class _Reader:
    """One pass over the lines. Most rows of a long journal repeat one another's texts, so times and values are
    remembered."""

    def __init__(self, file: str, form: Form, tank: Tank | None, zone: tzinfo) -> None:
        self.file, self.form, self.zone = file, form, zone
        kits = tank.test_kits if tank is not None else {}
        self.bases: dict[str, str | None] = {name: kit.basis for name, kit in kits.items()}
        self.rows: list[Row] = []
        self.undo: list[Row] = []
        self.unreadable: list[Unreadable] = []
        self.problems: list[Problem] = []
        self._when: dict[str, Instant | Refusal] = {}
        self._days: dict[date, tuple[float, float]] = {}
        self._said: dict[tuple[str, str, str, str, str], tuple[str, str, str, str, Bounds] | Refusal] = {}

    def complain(self, number: int, code: str, message: str, fix: str, line: str, column: int = 1) -> None:
        self.problems.append(Problem(Place(self.file, number, column), code, message, fix, line.replace("\t", " ")))

    def read_line(self, number: int, line: str, torn: bool) -> None:
        cells = cut_line(line, self.form)
        if cells is None or len(cells) != len(COLUMNS):
            if cells is None or any(cells):
                self._misshapen(number, line, cells, torn)
            return
        if not any(cells):
            return
        when, kind, what, value, unit, where, note = cells
        instant = self._when.get(when)
        if instant is None:
            instant = self._when[when] = self._instant(when)
        key = (kind, what, value, unit, where)
        said = self._said.get(key)
        if said is None:
            said = self._said[key] = self._judge(*key)
        if not isinstance(instant, tuple) or not isinstance(said, tuple):
            refusal, column = (instant, 0) if not isinstance(instant, tuple) else (said, 3)
            assert isinstance(refusal, Refusal)
            self._refuse(number, line, refusal, cells, int(refusal.at[0]) if refusal.at else column)
            return
        kind, what, value, where, (low, high) = said
        if kind == "event" and what == "failed" and not note:
            refusal = Refusal("failed-without-task", "this row does not say which check failed",
                              "write the task's id in the note, such as `leak-test/watch`")
            self._refuse(number, line, refusal, cells, 6)
            return
        day, at, earliest, latest = instant
        row = Row(day, at, kind, what, value, unit, where, note, number, low, high, earliest, latest)
        (self.undo if kind == "undo" else self.rows).append(row)

    def without_undone(self) -> list[Row]:
        """The rows that stand: each undo row takes back one equal row, the last of them in the file."""
        if not self.undo:
            return self.rows
        wanted: Counter[tuple[object, ...]] = Counter()
        lines: dict[tuple[object, ...], list[int]] = {}
        for row in self.undo:
            kind, _, what = row.what.partition(":")
            key = _identity(row, kind, what)
            wanted[key] += 1
            lines.setdefault(key, []).append(row.line)
        kept: list[Row] = []
        for row in reversed(self.rows):
            key = _identity(row, row.kind, row.what)
            if wanted.get(key):
                wanted[key] -= 1
            else:
                kept.append(row)
        for key, left in wanted.items():
            for number in lines[key][len(lines[key]) - left :] if left else ():
                self.problems.append(Problem(
                    Place(self.file, number, 1), "undo-without-row", "this undo row takes back a row that is not there",
                    "make it equal to the row that it takes back, or take it out"))
        return kept[::-1]

    def _misshapen(self, number: int, line: str, cells: list[str] | None, torn: bool) -> None:
        """A line of too few or too many fields, or with an open quotation mark."""
        told = cells if cells is not None else [c.strip(' "') for c in line.split(self.form.separator)]
        if torn or (cells is not None and len(cells) < len(COLUMNS)) or cells is None:
            cause = "a quotation mark is left open" if cells is None else f"it has {len(told)} of {len(COLUMNS)} fields"
            code = "torn-row" if torn else "row-incomplete"
            message = f"this row was cut off: {cause}" if torn else f"this row is not whole: {cause}"
            fix = f"complete the row ({', '.join(COLUMNS)}), or take the line out"
        else:
            code, message = "row-too-long", f"this row has {len(told)} fields, not {len(COLUMNS)}"
            fix = f"put quotes round the field that contains `{self.form.separator}`"
        # Only fields that are followed by a separator are known to be whole; a longer row has slipped after `what`.
        sure = told[:3] if len(told) > len(COLUMNS) else told[:-1]
        self._refuse(number, line, Refusal(code, message, fix), sure + [""] * (len(COLUMNS) - len(sure)), 0, len(sure))

    def _refuse(
        self, number: int, line: str, refusal: Refusal, cells: list[str], column: int, known: int = len(COLUMNS)
    ) -> None:
        """Report a row, and note as much of what it hides as can be told from its first `known` fields."""
        self.complain(number, refusal.code, refusal.message, refusal.fix, line, self._column(line, column))
        instant = self._instant(cells[0])
        kind, what, where = cells[1].lower(), cells[2], cells[5].lower()
        hidden: str | None = None
        if kind == "reading" or kind == "dosed":
            hidden = what.lower() if what.lower() in READINGS or (kind == "dosed" and what) else None
        elif kind in KINDS and kind not in ("changed_water", "poured", "undo"):
            hidden = what or kind
        if kind == "undo" and what.lower().startswith("reading:") and what[8:].lower() in READINGS:
            hidden = what[8:].lower()
        water = (where or "display") if known > 5 and (where or "display") in WATERS else None
        self.unreadable.append(Unreadable(number, instant[0] if isinstance(instant, tuple) else None, hidden, water))

    def _column(self, line: str, index: int) -> int:
        """Where a field begins, counted from 1; 1 in lines with quotation marks, whose fields are not so easily found."""
        if self.form.order is not None:
            index = self.form.order[index]
        cells = line.split(self.form.separator)
        if '"' in self.form.separator.join(cells[: index + 1]) or index >= len(cells):
            return 1
        start = sum(len(c) + 1 for c in cells[:index])
        return start + len(cells[index]) - len(cells[index].lstrip()) + 1

    def _instant(self, text: str) -> Instant | Refusal:
        """When it happened: a day, the time if one is given, and the two instants it lies between."""
        day_text, clock_text = _split_when(text)
        day = _read_day(day_text)
        if isinstance(day, Refusal):
            return day
        if not clock_text:
            earliest, latest = self._day_bounds(day)
            return day, None, earliest, latest
        at = self._at(day, clock_text, text)
        if isinstance(at, Refusal):
            return at
        stamp = at.timestamp()
        return at.date(), at, stamp, stamp

    def _day_bounds(self, day: date) -> tuple[float, float]:
        found = self._days.get(day)
        if found is None:
            midnight = datetime(day.year, day.month, day.day, tzinfo=self.zone)
            found = self._days[day] = (midnight.timestamp(), (midnight + timedelta(days=1)).timestamp())
        return found

    def _at(self, day: date, clock: str, text: str) -> datetime | Refusal:
        parts = _CLOCK.fullmatch(clock.strip())
        wanted = f"write it as `{day.isoformat()}T18:00+01:00`, or the date alone"
        if parts is None:
            return Refusal("not-a-time", f"{text!r} has no time that can be read", wanted)
        hour = int(parts[1])
        if parts[4]:
            if not 1 <= hour <= 12:
                return Refusal("not-a-time", f"{clock!r} is no time of day", wanted)
            hour = hour % 12 + (12 if parts[4].lower() == "pm" else 0)
        try:
            naive = datetime(day.year, day.month, day.day, hour, int(parts[2]), int(parts[3] or 0))
            if parts[5]:
                return naive.replace(tzinfo=_offset(parts[5]))
        except ValueError:
            return Refusal("not-a-time", f"{clock!r} is no time of day", wanted)
        first, second = naive.replace(tzinfo=self.zone, fold=0), naive.replace(tzinfo=self.zone, fold=1)
        if first.utcoffset() != second.utcoffset():
            return Refusal("ambiguous-time", f"at {clock} on that day the clocks were changed, so the time needs its offset",
                           f"write one of {one_of([_print_at(first), _print_at(second)])}")
        return naive.replace(tzinfo=timezone(first.utcoffset() or timedelta()))

    def _judge(
        self, kind: str, what: str, value: str, unit: str, where: str
    ) -> tuple[str, str, str, str, Bounds] | Refusal:
        """All of a row but its time and note: kind, what, value and water as the plan spells them, and the bounds.
        A refusal's `at` is the number of the field to blame."""
        word = kind.lower()
        if word not in KINDS:
            near = nearest(kind, KINDS)
            return Refusal("unknown-kind", f"unknown kind {kind!r}", f"write `{near}`" if near else f"use one of: {', '.join(KINDS)}", (1,))
        water = where.lower() or "display"
        if water not in WATERS:
            near = nearest(where, WATERS)
            return Refusal("unknown-water", f"unknown water {where!r}", f"write `{near}`" if near else f"use one of: {', '.join(WATERS)}", (5,))
        if word == "undo":
            taken, _, rest = what.partition(":")
            if taken.lower() not in KINDS or taken.lower() == "undo" or ":" not in what:
                return Refusal("undo-unclear", f"{what!r} does not say which row is taken back",
                               "write the kind and the subject of that row, such as `reading:ammonia`", (2,))
            inner = self._judge(taken, rest, value, unit, where)
            if isinstance(inner, Refusal):
                return inner
            return "undo", f"{inner[0]}:{inner[1]}", inner[2], water, inner[4]
        if word == "reading":
            what = what.lower()
        if not what and word not in ("changed_water", "poured"):
            return Refusal("what-missing", f"this row does not say what was {_PAST.get(word, word)}", _WHAT_FIX.get(word, "fill in the third field"), (2,))
        bounds = _BOUNDS.get(word, _plain_bounds)(self, what, value, unit)
        if isinstance(bounds, Refusal):
            return bounds
        # The value is kept with a decimal point: a spreadsheet's comma does not make it another row.
        plain = value.replace(",", ".") if bounds[0] is not None else value
        if word == "postponed":
            day = _read_day(value)
            plain = day.isoformat() if isinstance(day, date) else value
        return word, what, plain, water, bounds

    def _number(self, text: str) -> float | Refusal:
        found = parse_number(text, comma_is_decimal=self.form.separator != ",")
        if isinstance(found, Refusal):
            return _blame(found, 3)
        if found < 0:
            return Refusal("impossible-value", f"{text} is below zero", "check the number", (3,))
        return found

    def reading_bounds(self, what: str, value: str, unit: str) -> Bounds | Refusal:
        if what not in READINGS:
            near = nearest(what, READINGS)
            return Refusal("unknown-reading", f"unknown reading {what!r}",
                           f"write `{near}`" if near else f"use one of: {', '.join(READINGS)}", (2,))
        found = read_reading(what, value, unit, basis=self.bases.get(what), comma_is_decimal=self.form.separator != ",")
        if isinstance(found, Refusal):
            return _blame(found, 4 if found.code in ("unit-unknown", "unit-missing", "basis-missing", "sg-pair-missing", "temperature-missing") else 3)
        return found

    def water_bounds(self, what: str, value: str, unit: str, share: bool) -> Bounds | Refusal:
        number = self._number(value)
        if isinstance(number, Refusal):
            return number
        if share and fold_unit(unit) in DIMENSIONS["percent"].units:
            if number > 100:
                return Refusal("impossible-value", f"{value} % of the water is impossible", "check the number", (3,))
            return number, number
        if share and not unit:
            return Refusal("unit-missing", f"{value} has no unit", f"write {one_of([f'{value} %', f'{value} L'])}: the unit has a field of its own", (4,))
        litres = convert_unit(number, unit, "volume", bare=True)
        if isinstance(litres, Refusal):
            return _blame(litres, 4)
        if litres > 50_000:
            return Refusal("impossible-value", f"{value} {unit} is more than any tank holds", "check the number and its unit", (3,))
        return litres, litres

    def dose_bounds(self, what: str, value: str, unit: str) -> Bounds | Refusal:
        if not value:
            return None, None
        number = self._number(value)
        if isinstance(number, Refusal):
            return number
        dimension = _dose_dimension(what, unit)
        if dimension is None:
            wanted = {"ammonia": ("mg/L as N", "g", "mL"), "bicarbonate": ("dKH", "g")}.get(what.lower(), ("mg/L", "g", "mL"))
            return Refusal("unit-unknown" if unit else "unit-missing", f"a dose of {value} {unit}".rstrip() + " cannot be understood",
                           f"write {one_of([f'{value} {u}' for u in wanted])}: the unit has a field of its own", (4,))
        # A dose in plain mg/L is meant as nitrogen: every dose the plan writes is.
        found = convert_unit(number, unit, dimension, basis="N")
        if isinstance(found, Refusal):
            return _blame(found, 4)
        limit = READINGS[dimension].possible[1] if dimension in READINGS else 100_000
        if found > limit:
            return Refusal("impossible-value", f"a dose of {value} {unit} is impossible", "check the number and its unit", (3,))
        return found, found

    def count_bounds(self, what: str, value: str, unit: str) -> Bounds | Refusal:
        if not value:
            return 1.0, 1.0
        if not re.fullmatch(r"[0-9]{1,4}(?:[.,]0+)?", value) or float(value.replace(",", ".")) < 1:
            return Refusal("not-a-whole-number", f"{value!r} is not a number of animals", "write a whole number such as `2`", (3,))
        count = float(value.replace(",", "."))
        return count, count

    def postponed_bounds(self, what: str, value: str, unit: str) -> Bounds | Refusal:
        day = _read_day(value)
        return _blame(day, 3) if isinstance(day, Refusal) else (None, None)


def _plain_bounds(reader: _Reader, what: str, value: str, unit: str) -> Bounds | Refusal:
    """Kinds whose value is free: a number is kept as one, anything else stays text."""
    number = parse_number(value, comma_is_decimal=True) if value else None
    return (number, number) if isinstance(number, float) else (None, None)


_BOUNDS: dict[str, Callable[[_Reader, str, str, str], Bounds | Refusal]] = {
    "reading": _Reader.reading_bounds,
    "dosed": _Reader.dose_bounds,
    "changed_water": lambda reader, what, value, unit: reader.water_bounds(what, value, unit, True),
    "poured": lambda reader, what, value, unit: reader.water_bounds(what, value, unit, False),
    "postponed": _Reader.postponed_bounds,
    **dict.fromkeys(_ANIMALS, _Reader.count_bounds),
}
_PAST = {"reading": "tested", "event": "happening"}
_WHAT_FIX = {
    "reading": f"write one of: {', '.join(READINGS)}", "dosed": "write what was dosed, such as `ammonia`",
    "event": "write what happened, such as `leak` or `power_cut`",
    **dict.fromkeys(("done", "skipped", "postponed"), "write the task's id, such as `leak-test/watch`"),
    **dict.fromkeys(_ANIMALS, "write the animal's id, such as `amphiprion-ocellaris`"),
}
_ALKALINE = ("bicarbonate", "alkalinity", "carbonate", "soda", "sodium bicarbonate", "baking soda")


def _dose_dimension(what: str, unit: str) -> str | None:
    """A dose is a mass, a volume, or a rise in what it raises."""
    folded = fold_unit(unit)
    rise = "alkalinity" if what.lower() in _ALKALINE else what.lower() if what.lower() in NITROGEN else (
        READINGS[what.lower()].dimension if what.lower() in READINGS else "concentration")
    if folded in DIMENSIONS[rise].units or (rise in NITROGEN and folded in ("mg/l", "ppm")):
        return rise
    return next((name for name in ("mass", "volume") if folded in DIMENSIONS[name].units), None)


def _blame(refusal: Refusal, field: int) -> Refusal:
    refusal.at = (field,)
    return refusal


def _identity(row: Row, kind: str, what: str) -> tuple[object, ...]:
    return (row.earliest, row.latest, kind, what, row.value, row.unit, row.where, row.note)


def _split_when(text: str) -> tuple[str, str]:
    found = re.match(r"([0-9]{1,4}[-/.][0-9]{1,2}[-/.][0-9]{1,4})[T ,]?\s*(.*)", text, re.I)
    return (found[1], found[2]) if found else (text, "")


def _read_day(text: str) -> date | Refusal:
    """A date as we write it, or as a spreadsheet may have rewritten it, where only one reading is possible."""
    iso = "write it as year-month-day, such as `2026-03-04`"
    if not text:
        return Refusal("date-missing", "there is no date", iso)
    parts = _ISO.fullmatch(text)
    if parts:
        options = [_day(int(parts[1]), int(parts[2]), int(parts[3]))]
    elif parts := _SLASHED.fullmatch(text):
        a, sign, b, c = int(parts[1]), parts[2], int(parts[3]), int(parts[4])
        if len(parts[1]) == 4:
            options = [_day(a, b, c)]
        elif len(parts[4]) == 4:
            # Points are written only where the day comes first; strokes and hyphens everywhere.
            options = [_day(c, b, a)] if sign == "." else [_day(c, b, a), _day(c, a, b)]
        elif len(parts[4]) == 2 and len(parts[1]) <= 2:
            options = [_day(2000 + c, b, a), _day(2000 + c, a, b), _day(2000 + a, b, c) if sign == "-" else None]
        else:
            options = []
    else:
        return Refusal("not-a-date", f"{text!r} is not a date", iso)
    found = sorted({day for day in options if day is not None})
    if len(found) == 1:
        return found[0]
    if found:
        return Refusal("ambiguous-date", f"{text} may be {' or '.join(d.isoformat() for d in found)}",
                       f"write {one_of([d.isoformat() for d in found])}")
    return Refusal("not-a-date", f"{text} is not in the calendar", iso)


def _day(year: int, month: int, day: int) -> date | None:
    try:
        return date(year, month, day) if 1990 <= year <= 2199 else None
    except ValueError:
        return None


def _offset(text: str) -> tzinfo:
    if text.lower() in ("z", "utc"):
        return UTC
    hours, minutes = int(text[1:3]), int(text[-2:])
    if minutes > 59:
        raise ValueError(text)
    delta = timedelta(hours=hours, minutes=minutes)
    return timezone(-delta if text[0] == "-" else delta)


def _print_at(at: datetime) -> str:
    return at.isoformat(timespec="minutes")


__all__ = ["COLUMNS", "HEADER", "KINDS", "TAG", "Journal", "NewRow", "read_journal", "read_row", "row_unit"]
