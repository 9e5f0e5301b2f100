"""The journal: what happened, read from a file that people, spreadsheets and commands write.

A line that cannot be read is reported with its number and left alone; what it may have said is unknown from its day on
(`Unreadable`). Everything a row says is put into internal units here, so that nothing after it asks for units again.
"""

from __future__ import annotations

import hashlib
import re
from collections import Counter
from dataclasses import replace
from datetime import date, tzinfo
from difflib import get_close_matches
from math import inf, nextafter
from typing import TYPE_CHECKING

from planner.files.journal_form import COLUMNS, HEADER, Form, NewRow, cut_line, decode_lines, form_of, plain_field, print_row
from planner.files.journal_time import Clock, Instant, earliest_day
from planner.files.journal_values import KINDS, UNDO_LINE, Context, Said, judge_row, row_unit, subject
from planner.files.read_file import UTF16, is_utf16
from planner.terms.journal_words import DOSES, EVENTS, one_word
from planner.terms.problems import NAME_SLIP, Place, Problem, nearest, sort_problems
from planner.terms.readings import READINGS
from planner.terms.records import WATERS, Journal, Row, Unreadable, index_journal
from planner.terms.units import Refusal

if TYPE_CHECKING:
    from planner.files.tank import Tank

TAG = re.compile(r"\[([a-z0-9]{4,})\]$")
"""The mark at the end of a note that ties the rows of one command together."""

NEAR = 0.75
"""How alike a misspelt reading has to be, from 0 to 1, for the line to hide that reading alone."""

FIELD_MOST = 10_000
"""Characters of the longest field that is read."""


def read_journal(
    content: str | bytes, file: str, tank: Tank | None, zone: tzinfo, events: frozenset[str] = EVENTS
) -> tuple[Journal, tuple[Problem, ...]]:
    """A journal file into rows and problems. `tank` gives the kits' bases, `zone` the local days, `events` the events that the
    rules know."""
    if isinstance(content, bytes) and is_utf16(content):
        problem = Problem(Place(file), *UTF16)
        return Journal((), (Unreadable(1, None, None, None, wrong=problem.message, fix=problem.fix),), file, length=len(content)), (problem,)
    lines = decode_lines(content)
    reader = _Reader(file, form_of(lines), tank, zone, events)
    last = len(lines) if lines[-1] else 0  # a last line without an end; 0 if the file ends properly
    if reader.form.header_line == 0 and any(line.strip() for line in lines):
        reader.complain(1, "header-missing", "the journal does not begin with its header", f"put this above the first row: `{HEADER}`", lines[0])
    for number, line in enumerate(lines, 1):
        if line and number != reader.form.header_line:
            reader.read_line(number, line, torn=number == last)
    written = [*reader.rows, *reader.undo]
    rows = reader.without_undone()
    standing = {row.line for row in rows}
    taken_back = tuple((row.day, row.earliest) for row in written if row.line not in standing)
    length = len(content if isinstance(content, bytes) else content.encode("utf-8", "surrogatepass"))
    return replace(index_journal(rows, reader.unreadable, file), length=length, taken_back=taken_back), sort_problems(reader.problems)


def line_mark(text: str) -> str:
    """A short mark of a line's text, by which an undo row finds it again."""
    return f"#{hashlib.sha256(text.strip().encode('utf-8', 'replace')).hexdigest()[:10]}"


def is_confirmed(note: str) -> bool:
    """Does the note say that the row is meant as it stands?"""
    return "confirmed" in note.split()


def confirmed(note: str) -> str:
    """A note that says so."""
    return note if is_confirmed(note) else f"{note} confirmed".strip()


def read_row(row: NewRow, file: str, tank: Tank | None, zone: tzinfo) -> Row | Problem:
    """One row that is about to be written, judged exactly as it will be when it is read back."""
    form = Form(header_line=0)
    reader = _Reader(file, form, tank, zone, EVENTS, typed=True)
    reader.read_line(1, print_row(row, form), torn=False)
    if reader.problems:
        return reader.problems[0]
    return (reader.rows or reader.undo)[0]


class _Reader:
    """One pass over the lines. Most rows of a long journal repeat one another's texts, so dates and values are
    remembered."""

    def __init__(self, file: str, form: Form, tank: Tank | None, zone: tzinfo, events: frozenset[str], typed: bool = False) -> None:
        self.file, self.form, self.clock = file, form, Clock(zone)
        kits = tank.test_kits if tank is not None else {}
        bases = {name: kit.basis for name, kit in kits.items()}
        self.context = Context(bases, comma_is_decimal=form.separator != ",", events=events, typed=typed)
        self.rows: list[Row] = []
        self.undo: list[Row] = []
        self.unreadable: list[Unreadable] = []
        self.problems: list[Problem] = []
        self.lines: dict[int, str] = {}  # of undo rows
        self._dates: dict[str, Instant | Refusal] = {}
        self._said: dict[tuple[str, str, str, str, str], Said | Refusal] = {}

    def complain(self, number: int, code: str, message: str, fix: str, line: str, column: int = 1) -> None:
        self.problems.append(
            Problem(Place(self.file, number, column), code, message, fix, line.replace("\t", " "))
        )

    def read_line(self, number: int, line: str, torn: bool) -> None:
        if len(line) > FIELD_MOST and self._too_long(number, line):
            return
        cells = cut_line(line, self.form)
        if cells is None or len(cells) != len(COLUMNS):
            if cells is None or any(cells):
                self._misshapen(number, line, cells, torn)
            return
        if not any(cells):
            return
        when, kind, what, value, unit, where, note = cells
        instant = self._dates.get(when)
        if instant is None:
            instant = self.clock.instant(when)
            if len(when) <= 10:
                self._dates[when] = instant
        key = (kind, what, value, unit, where)
        said = self._said.get(key)
        if said is None:
            said = self._said[key] = judge_row(*key, self.context)
        if isinstance(instant, Refusal):
            self._refuse(number, line, instant, cells, 0)
            return
        if isinstance(said, Refusal):
            self._refuse(number, line, said, cells, int(said.at[0]))
            return
        if said.kind == "event" and said.what == "failed" and not note:
            refusal = Refusal("failed-without-task", "this row does not say which check failed", "write the task's id in the note, such as `leak-test/watch`")
            self._refuse(number, line, refusal, cells, 6)
            return
        if said.doubt is not None and not is_confirmed(note):
            self._refuse(number, line, said.doubt, cells, 2)
            return
        day, at, earliest, latest = instant
        row = Row(day, at, said.kind, said.what, said.value, said.unit, said.where, note, number, said.low, said.high, earliest, latest)
        if said.kind == "undo":
            self.undo.append(row)
            self.lines[number] = line
        else:
            self.rows.append(row)

    def without_undone(self) -> list[Row]:
        """The rows that stand: each undo row takes back one equal row, the last of them in the file, or one damaged line."""
        for row in [r for r in self.undo if r.what.startswith(UNDO_LINE)]:
            self.undo.remove(row)
            self._without_damaged(row)
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
                self.complain(
                    number,
                    "undo-without-row",
                    "this undo row takes back a row that is not there",
                    "make it equal to the row that it takes back, or take it out",
                    self.lines[number],
                )
        return kept[::-1]

    def _without_damaged(self, undo: Row) -> None:
        """Take a damaged line out. Lines may have moved since: the mark of its text finds it."""
        same = [bad for bad in self.unreadable if line_mark(bad.text) == undo.value]
        bad = min(same, key=lambda b: (str(b.line) != undo.what.removeprefix(UNDO_LINE), b.line), default=None)
        if bad is None:
            self.complain(undo.line, "undo-without-row", "this undo row takes back a row that is not there",
                          "take this row out if the line was mended", self.lines[undo.line])
            return
        self.unreadable.remove(bad)
        self.problems = [p for p in self.problems if p.place.line != bad.line]

    def _too_long(self, number: int, line: str) -> bool:
        """Whether there is a field that no keeper wrote; it is refused, and what stands before it is known."""
        cells = line.split(self.form.separator)
        at = next((n for n, cell in enumerate(cells) if len(cell.strip(' "')) > FIELD_MOST), None)
        if at is None:
            return False
        refusal = Refusal("field-too-long", f"a field of this row has {len(cells[at]):,} characters".replace(",", " "), f"cut it to {FIELD_MOST} characters, or take the line out")
        sure = [cell.strip(' "') for cell in cells[:at]][: len(COLUMNS)]
        self._refuse(number, line[:FIELD_MOST], refusal, sure + [""] * (len(COLUMNS) - len(sure)), 0, len(sure))
        return True

    def _misshapen(self, number: int, line: str, cells: list[str] | None, torn: bool) -> None:
        """A line of too few or too many fields, or with an open quotation mark."""
        told = cells if cells is not None else [c.strip(' "') for c in line.split(self.form.separator)]
        if torn or (cells is not None and len(cells) < len(COLUMNS)) or cells is None:
            cause = (
                "a quotation mark is left open"
                if cells is None
                else f"it has {len(told)} of {len(COLUMNS)} fields"
            )
            code = "torn-row" if torn else "row-incomplete"
            message = f"this row was cut off: {cause}" if torn else f"this row is not whole: {cause}"
            fix = f"complete the row ({', '.join(COLUMNS)}), or take the line out"
        else:
            code, message = "row-too-long", f"this row has {len(told)} fields, not {len(COLUMNS)}"
            fix = f"put quotes round the field that contains `{self.form.separator}`"
        # Only fields that are followed by a separator are known to be whole; a longer row has slipped after `what`.
        sure = told[:3] if len(told) > len(COLUMNS) else told[:-1]
        self._refuse(
            number, line, Refusal(code, message, fix), sure + [""] * (len(COLUMNS) - len(sure)), 0, len(sure)
        )

    def _refuse(self, number: int, line: str, refusal: Refusal, cells: list[str], column: int, known: int = len(COLUMNS)) -> None:
        """Report a row, and note as much of what it hides as can be told from its first `known` fields."""
        self.complain(number, refusal.code, refusal.message, refusal.fix, line, self._column(line, column))
        kind, what, where = one_word("kind", cells[1]), cells[2], one_word("water", cells[5])
        if kind == "undo":  # it may have taken back what it names; a loss taken back is an animal that lives
            kind, _, what = what.partition(":")
            kind = "added" if one_word("kind", kind) == "lost" else one_word("kind", kind)
        sure = kind if kind in KINDS and kind != "undo" else self._kind_meant(kind, what)
        what = subject(sure or kind, what, self.context.events)
        hidden: str | None = None
        if sure == "reading":
            hidden = what if what in READINGS else _one_meant(what)
        elif sure not in (None, "changed_water", "poured"):
            called: frozenset[str] = DOSES if sure == "dosed" else self.context.events if sure == "event" else frozenset()
            hidden = what if not called or what in called else nearest(what, called)
            hidden = hidden or None
        water = (where or "display") if known > 5 and (where or "display") in WATERS else None
        day, moment = self._since(cells[0])
        self.unreadable.append(Unreadable(number, day, hidden, water, sure, moment, refusal.message, refusal.fix, line))

    def _kind_meant(self, kind: str, what: str) -> str | None:
        """The one kind of which a misspelt word is a slip, if what the row names fits no other: `readng` of `ammonia` is a reading of it."""
        meant = nearest(kind, KINDS, NAME_SLIP)
        named = {"reading": READINGS, "event": self.context.events, "dosed": DOSES}.get(meant or "", ())
        return meant if meant is not None and subject(meant, what, self.context.events) in named else None

    def _since(self, when: str) -> tuple[date | None, float]:
        """From when a damaged row speaks: its own instant, else after the line above. What was proved before it stays proved."""
        day, instant = earliest_day(when), self.clock.instant(when)
        if not isinstance(instant, Refusal):
            return instant[0], instant[3]
        above = self.rows[-1] if self.rows else None
        if above is not None and day in (None, above.day):
            return above.day, nextafter(above.latest, inf)
        return day, -inf

    def _column(self, line: str, index: int) -> int:
        """Where a field begins, counted from 1; 1 in lines with quotation marks, whose fields are not so easily found."""
        if self.form.order is not None:
            index = self.form.order[index]
        cells = line.split(self.form.separator)
        if '"' in self.form.separator.join(cells[: index + 1]) or index >= len(cells):
            return 1
        start = sum(len(c) + 1 for c in cells[:index])
        return start + len(cells[index]) - len(cells[index].lstrip()) + 1


def _one_meant(name: str) -> str | None:
    """The reading that a slip of the pen meant; None where two are as near, as with nitrite and nitrate."""
    found = get_close_matches(name.lower(), list(READINGS), n=2, cutoff=NEAR)
    return found[0] if len(found) == 1 else None


def _identity(row: Row, kind: str, what: str) -> tuple[object, ...]:
    """What an undo row shares with the row it takes back: texts as the commands print them, whoever wrote that row."""
    return (row.earliest, row.latest, kind, plain_field(what), row.value, row.unit, row.where, plain_field(row.note))


__all__ = ["COLUMNS", "FIELD_MOST", "HEADER", "KINDS", "TAG", "Journal", "NewRow", "confirmed", "is_confirmed", "line_mark", "read_journal", "read_row", "row_unit"]
