"""The outer form of a journal: its separator, columns, decimal sign and line ends, and how one row is printed and cut
into fields. Reader and writer share it, so that a file a spreadsheet has touched keeps its own form."""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence

from planner.frozen import dataclass

COLUMNS = ("when", "kind", "what", "value", "unit", "where", "note")
HEADER = ",".join(COLUMNS)
_STEERING = re.compile("[\\x00-\\x1f\\x7f-\\x9f\\u2028\\u2029]")


@dataclass(frozen=True, slots=True)
class NewRow:
    """A row to be written: seven texts. `when` is a date or a local time with its offset."""

    when: str
    kind: str
    what: str
    value: str = ""
    unit: str = ""
    where: str = ""
    note: str = ""

    @property
    def fields(self) -> tuple[str, ...]:
        return (self.when, self.kind, self.what, self.value, self.unit, self.where, self.note)


@dataclass(frozen=True, slots=True)
class Form:
    """`order[i]` is the position of column i in the file; None if the columns stand in the usual order. `width` is the
    number of columns, extra ones included. `header_line` is 0 in a file without a header."""

    separator: str = ","
    decimal_comma: bool = False
    newline: str = "\n"
    order: tuple[int, ...] | None = None
    width: int = len(COLUMNS)
    header_line: int = 1


def decode_lines(content: str | bytes) -> list[str]:
    """Physical lines without their ends. Lines that are not UTF-8 are read as the western code page that spreadsheets
    save in, so that a degree sign costs no row."""
    if isinstance(content, str):
        text = content
    else:
        try:
            text = content.decode("utf-8")
        except UnicodeDecodeError:
            text = "\n".join(_decode_line(line) for line in re.split(b"\r\n|\n|\r", content))
    text = text.removeprefix("\ufeff")
    if "\r" in text:
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    return text.split("\n")


def _decode_line(line: bytes) -> str:
    try:
        return line.decode("utf-8")
    except UnicodeDecodeError:
        return line.decode("cp1252", errors="replace")


def form_of(lines: Sequence[str], newline: str = "\n") -> Form:
    """The form of a file, told from its header, or from its first line if it has none."""
    for number, line in enumerate(lines, 1):
        if not line.strip():
            continue
        for separator in (",", ";", "\t"):
            cells = [c.strip().strip('"').strip().lower() for c in line.split(separator)]
            if set(COLUMNS) <= set(cells):
                order = tuple(cells.index(c) for c in COLUMNS)
                usual = order == tuple(range(len(COLUMNS)))
                comma = separator != "," and _decimal_comma(lines[number:], separator, order[3])
                return Form(separator, comma, newline, None if usual else order, len(cells), number)
        separator = max((",", ";", "\t"), key=line.count)
        comma = separator != "," and _decimal_comma(lines[number - 1 :], separator, 3)
        return Form(separator, comma, newline, header_line=0)
    return Form(newline=newline, header_line=0)


def _decimal_comma(lines: Sequence[str], separator: str, column: int) -> bool:
    """A file parted by `;` has decimal commas unless its own values show decimal points."""
    for line in lines:
        cells = line.split(separator)
        value = cells[column].strip(' "<>') if len(cells) > column else ""
        if re.fullmatch(r"[0-9]+[.,][0-9]+", value):
            return "," in value
    return separator == ";"


def cut_line(line: str, form: Form) -> list[str] | None:
    """The seven fields of one line, stripped; None if a quotation mark is left open. Fewer or more than seven come
    back as they are, for the caller to judge; empty extra columns are dropped."""
    if '"' in line:
        start = line.find('"')
        head = line[:start].split(form.separator)
        if (
            form.order is None
            and line[-1] == '"'
            and line.find('"', start + 1) == len(line) - 1
            and len(head) == len(COLUMNS)
            and not head[-1]
        ):  # a quoted note, as the commands write it
            head[-1] = line[start + 1 : -1]
            return [c.strip() for c in head]
        try:
            cells = next(csv.reader([line], delimiter=form.separator, strict=True))
        except (csv.Error, StopIteration):
            return None
    else:
        cells = line.split(form.separator)
    cells = list(map(str.strip, cells))
    if form.order is not None and len(cells) >= form.width:
        return [cells[i] for i in form.order]
    if len(cells) > len(COLUMNS) and (form.width > len(COLUMNS) or not any(cells[len(COLUMNS) :])):
        return cells[: len(COLUMNS)]
    return cells


def plain_field(text: str) -> str:
    """What a field keeps of a text: one line, single spaces, single quotes, nothing that a terminal would obey."""
    return " ".join(_STEERING.sub(" ", text).replace('"', "'").split())


def print_row(row: NewRow, form: Form) -> str:
    """One line, without its end. The note always stands in quotes: a line torn inside it shows an open quotation mark
    and cannot be taken for a whole one."""
    cells = [""] * form.width
    for index, (name, field) in enumerate(zip(COLUMNS, row.fields, strict=True)):
        plain = plain_field(field)
        if (name == "value" and form.decimal_comma and re.fullmatch(r"[<>]?[+-]?[0-9]*\.[0-9]+(?:[eE][+-]?[0-9]+)?", plain)):
            plain = plain.replace(".", ",")
        quoted = name == "note" or form.separator in plain
        cells[form.order[index] if form.order is not None else index] = f'"{plain}"' if quoted else plain
    return form.separator.join(cells)


__all__ = ["COLUMNS", "HEADER", "Form", "NewRow", "cut_line", "decode_lines", "form_of", "plain_field", "print_row"]
