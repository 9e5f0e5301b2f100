"""The journal: what happened, read from a file that people, spreadsheets and commands write.

A line that cannot be read is reported with its number and left alone; what it may have said is unknown from its day on
(`Unreadable`). Everything a row says is put into internal units here, so that nothing after it asks for units again.
"""

from __future__ import annotations

import re
from collections import Counter
from datetime import tzinfo
from typing import TYPE_CHECKING

from planner.files.journal_form import COLUMNS, HEADER, Form, NewRow, cut_line, decode_lines, form_of, plain_field, print_row
from planner.files.journal_time import Clock, Instant, earliest_day
from planner.files.journal_values import KINDS, Context, Said, judge_row, row_unit
from planner.terms.problems import Place, Problem, sort_problems
from planner.terms.readings import READINGS
from planner.terms.records import WATERS, Journal, Row, Unreadable, index_journal
from planner.terms.units import Refusal

if TYPE_CHECKING:
    from planner.files.tank import Tank

TAG = re.compile(r"\[([a-z0-9]{4,})\]$")
"""The mark at the end of a note that ties the rows of one command together."""


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


class _Reader:
    """One pass over the lines. Most rows of a long journal repeat one another's texts, so dates and values are
    remembered."""

    def __init__(self, file: str, form: Form, tank: Tank | None, zone: tzinfo) -> None:
        self.file, self.form, self.clock = file, form, Clock(zone)
        kits = tank.test_kits if tank is not None else {}
        bases = {name: kit.basis for name, kit in kits.items()}
        self.context = Context(bases, comma_is_decimal=form.separator != ",")
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
        day, at, earliest, latest = instant
        row = Row(day, at, said.kind, said.what, said.value, said.unit, said.where, note, number, said.low, said.high, earliest, latest)
        if said.kind == "undo":
            self.undo.append(row)
            self.lines[number] = line
        else:
            self.rows.append(row)

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
                self.complain(
                    number,
                    "undo-without-row",
                    "this undo row takes back a row that is not there",
                    "make it equal to the row that it takes back, or take it out",
                    self.lines[number],
                )
        return kept[::-1]

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
        kind, what, where = cells[1].lower(), cells[2], cells[5].lower()
        hidden: str | None = None
        if kind == "reading" or kind == "dosed":
            hidden = what.lower() if what.lower() in READINGS or (kind == "dosed" and what) else None
        elif kind in KINDS and kind not in ("changed_water", "poured", "undo"):
            hidden = what or kind
        if kind == "undo" and what.lower().startswith("reading:") and what[8:].lower() in READINGS:
            hidden = what[8:].lower()
        water = (where or "display") if known > 5 and (where or "display") in WATERS else None
        self.unreadable.append(Unreadable(number, earliest_day(cells[0]), hidden, water))

    def _column(self, line: str, index: int) -> int:
        """Where a field begins, counted from 1; 1 in lines with quotation marks, whose fields are not so easily found."""
        if self.form.order is not None:
            index = self.form.order[index]
        cells = line.split(self.form.separator)
        if '"' in self.form.separator.join(cells[: index + 1]) or index >= len(cells):
            return 1
        start = sum(len(c) + 1 for c in cells[:index])
        return start + len(cells[index]) - len(cells[index].lstrip()) + 1


def _identity(row: Row, kind: str, what: str) -> tuple[object, ...]:
    """What an undo row shares with the row it takes back: texts as the commands print them, whoever wrote that row."""
    return (row.earliest, row.latest, kind, plain_field(what), row.value, row.unit, row.where, plain_field(row.note))


__all__ = ["COLUMNS", "HEADER", "KINDS", "TAG", "Journal", "NewRow", "read_journal", "read_row", "row_unit"]
