"""Writing the journal: rows are only ever added, whole, under a lock, in the file's own form.

A last line that lacks its end is given one before the next append, so that what follows is not glued to it. How a crash
at any byte is survived stands in `journal_file`.
"""

from __future__ import annotations

import hashlib
from collections.abc import Container, Sequence
from datetime import date, datetime
from pathlib import Path

from planner.files.journal import TAG, line_mark
from planner.files.journal_file import add_to_journal
from planner.files.journal_form import HEADER, Form, NewRow, decode_lines, form_of, print_row
from planner.files.journal_values import UNDO_LINE
from planner.files.read_file import UTF16, FileRefused, is_utf16
from planner.terms.records import Journal, Row

_DIGITS = "abcdefghijkmnpqrstuvwxyz23456789"  # no l, o, 0, 1: tags are read aloud


def append_rows(path: Path | str, rows: Sequence[NewRow], length: int | None = None) -> bytes:
    """Append rows, all or none, and return the journal as it then stands. Makes the file with its header if it is missing or
    empty. `length`: how long the journal was from which the rows were made, if they mean nothing once it has changed.
    Raises OSError if they are not written."""

    def block(before: bytes) -> bytes:
        if is_utf16(before):
            code, message, fix = UTF16
            raise FileRefused(Path(path), code, message, f"{fix[:1].upper()}{fix[1:]}, then enter this again.")
        form, start = _form_and_start(before)
        return (start + "".join(print_row(row, form) + form.newline for row in rows)).encode("utf-8")

    return add_to_journal(Path(path), block, length) if rows else b""


def _form_and_start(before: bytes) -> tuple[Form, str]:
    """The file's form, and what must stand before new rows: the header of an empty file, the missing end of a last line."""
    if not before.removeprefix(b"\xef\xbb\xbf").strip():
        return Form(), (HEADER + "\n") if not before or before.endswith((b"\n", b"\xbf")) else "\n" + HEADER + "\n"
    newline = "\r\n" if b"\r\n" in before else "\r" if b"\r" in before and b"\n" not in before else "\n"
    form = form_of(decode_lines(before), newline)
    return form, "" if before.endswith((b"\n", b"\r")) else newline


def make_tag(token: str, taken: Container[str] = ()) -> str:
    """Four signs that tie the rows of one command together, made from a token (any text that differs from command to
    command). A tag that is `taken` is not given again."""
    for turn in range(1000):
        digest = hashlib.sha256(f"{token}\n{turn}".encode()).digest()
        tag = "".join(_DIGITS[byte % len(_DIGITS)] for byte in digest[: 4 + turn // 100])
        if tag not in taken:
            return tag
    raise ValueError("no free tag")


def tag_of(note: str) -> str | None:
    """The tag at the end of a note."""
    found = TAG.search(note)
    return found[1] if found else None


def tags_in(journal: Journal) -> frozenset[str]:
    """Every tag that standing rows carry."""
    return frozenset(tag for row in journal.rows if (tag := tag_of(row.note)) is not None)


def with_tag(note: str, tag: str) -> str:
    """A note with its tag at the end."""
    return f"{note.strip()} [{tag}]".strip()


def last_entry(journal: Journal) -> tuple[Row, ...]:
    """The rows that the last command wrote and that still stand, in file order: those that share the tag of the last
    row, or that row alone if it was written by hand."""
    if not journal.rows:
        return ()
    last = max(journal.rows, key=lambda row: row.line)
    tag = tag_of(last.note)
    if tag is None:
        return (last,)
    return tuple(sorted((row for row in journal.rows if tag_of(row.note) == tag), key=lambda row: row.line))


def undo_rows(journal: Journal) -> tuple[NewRow, ...]:
    """The rows that take back the last command's rows, newest first; none if there is nothing to take back."""
    return tuple(_undo_row(row) for row in reversed(last_entry(journal)))


def undo_entry(journal: Journal, tag: str) -> tuple[NewRow, ...]:
    """The rows that take back every row with this tag that still stands, newest first."""
    return tuple(_undo_row(row) for row in sorted(journal.rows, key=lambda row: -row.line) if tag_of(row.note) == tag)


def undo_line(journal: Journal, line: int, on: date) -> NewRow | None:
    """The row that takes back one line of the file, also a damaged one; None if no row stands there."""
    row = next((r for r in journal.rows if r.line == line), None)
    if row is not None:
        return _undo_row(row)
    bad = next((b for b in journal.unreadable if b.line == line), None)
    return None if bad is None else NewRow(write_when(on), "undo", f"{UNDO_LINE}{line}", line_mark(bad.text))


def _undo_row(row: Row) -> NewRow:
    return NewRow(write_when(row.at or row.day), "undo", f"{row.kind}:{row.what}", row.value, row.unit, row.where, row.note)


def write_when(when: date | datetime) -> str:
    """A day, or a local time with its offset, as the journal writes it. Raises ValueError for a time without offset."""
    if isinstance(when, datetime):
        if when.utcoffset() is None:
            raise ValueError("a time in the journal carries its offset")
        return when.isoformat(timespec="minutes" if when.second == 0 and when.microsecond == 0 else "seconds")
    return when.isoformat()


__all__ = ["NewRow", "append_rows", "last_entry", "make_tag", "tag_of", "tags_in", "undo_entry", "undo_line", "undo_rows", "with_tag", "write_when"]
