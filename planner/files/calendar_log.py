"""calendar-log.csv: what was exported to a calendar, under which revision number, and when.

The file lies beside the journal and only ever grows: one row per entry that changed, so that a phone can be
told "this is the third version of that entry" for ever, whatever rules or program version made the plan.
Every row is one line and ends in a digest of fixed length; a row torn by a crash is therefore always
recognised. The log is written before the calendar file: a crash in between costs one revision number and
nothing else.
"""

from __future__ import annotations

import csv
import hashlib
import io
import os
import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time
from enum import StrEnum
from pathlib import Path

import filelock

from planner.files.read_file import JOURNAL_MOST_BYTES, read_plain_file
from planner.files.whole_file import sync_folder, write_all
from planner.terms.problems import Place, Problem
from planner.terms.records import Journal

EXPORT_LOG_NAME = "calendar-log.csv"
HEADER = ("uid", "sequence", "stamp", "created", "key", "state", "start", "minutes", "earliest", "latest", "journal", "title", "digest")
STATES = ("firm", "provisional", "done", "cancelled")
DIGEST_LENGTH = 16
_FORMULA = re.compile(r"^'*[=+@\t-]")
"""A title that a spreadsheet would take for a formula is written behind one apostrophe more."""
_TORN = ("calendar-log-torn", "the last row was cut off while it was written and is left out",
         "Nothing needs doing: the entry is written again; you may delete this line.")
_UNREADABLE = ("calendar-log-row", "this row cannot be read and is left out",
               "Delete this line, or put it back as it was written.")


@dataclass(frozen=True, slots=True)
class Exported:
    """One revision of one entry. `start` is `2026-03-01` or `2026-03-01 18:00 Europe/Berlin`; `minutes` is 0
    for an all-day entry; `digest` covers everything the calendar file said about it; `journal` is the mark
    of the journal it was made from (see `journal_mark`)."""

    uid: str
    sequence: int
    stamp: datetime
    created: datetime
    key: str
    state: str
    start: str
    minutes: int
    earliest: date | None
    latest: date | None
    journal: str
    title: str
    digest: str

    @property
    def day(self) -> date:
        return date.fromisoformat(self.start[:10])


@dataclass(frozen=True, slots=True)
class ExportLog:
    """All readable rows in file order. With a problem of code `calendar-log-header` no row could
    be read, and nothing may be exported: numbers would start again at 0."""

    rows: tuple[Exported, ...] = ()
    problems: tuple[Problem, ...] = ()
    size_bytes: int = 0

    @property
    def journal(self) -> str:
        """The mark of the journal at the last export that changed anything; empty without one."""
        return self.rows[-1].journal if self.rows else ""

    def seeded(self, rows: tuple[Exported, ...]) -> ExportLog:
        """This log with rows read back from a calendar file put before its own. They still have to be
        appended."""
        return replace(self, rows=rows + self.rows)

    def better_of(self, rows: tuple[Exported, ...]) -> tuple[Exported, ...]:
        """Those of the rows of a calendar file that this log does not know, or knows only in an older revision."""
        held = self.latest()
        return tuple(r for r in rows if r.uid not in held or (r.sequence, r.stamp) > (held[r.uid].sequence, held[r.uid].stamp))

    def latest(self) -> dict[str, Exported]:
        """Per UID the row that holds: highest sequence, then latest stamp, then last in the file (merged
        logs)."""
        newest: dict[str, Exported] = {}
        for row in self.rows:
            held = newest.get(row.uid)
            if held is None or (row.sequence, row.stamp) >= (held.sequence, held.stamp):
                newest[row.uid] = row
        return newest


class Appended(StrEnum):
    """How an append ended. CHANGED: another export wrote in the meantime, read and revise again. BUSY:
    another program holds the lock."""

    WRITTEN = "written"
    CHANGED = "changed"
    BUSY = "busy"


def read_export_log(path: Path) -> ExportLog:
    """Read the log; a missing or empty file is an empty log. Rows that cannot be read are reported by line
    and left where they are. Raises OSError if the file is there but cannot be opened."""
    try:
        data = read_plain_file(path, JOURNAL_MOST_BYTES)
    except FileNotFoundError:
        return ExportLog()
    lines = data.removeprefix(b"\xef\xbb\xbf").decode("utf-8", "replace").split("\n")
    if not data:
        return ExportLog()
    name, header, first = path.name, ",".join(HEADER), lines[0].rstrip("\r")
    if len(lines) == 1 and header.startswith(first) and first != header:
        torn = Problem(Place(name, 1, 1), "calendar-log-torn", "the first line was cut off while it was written",
                       "Nothing needs doing: the next export completes it.", first)
        return ExportLog((), (torn,), len(data))
    if first != header:
        foreign = Problem(Place(name, 1, 1), "calendar-log-header", f"the first line is not {header}",
                          f"Put the first line back as it was, or delete {name}: it is then refilled from the"
                          " calendar file.", first)
        return ExportLog((), (foreign,), len(data))
    rows: list[Exported] = []
    problems: list[Problem] = []
    for number, raw in enumerate(lines[1:], start=2):
        line = raw.rstrip("\r")
        row = row_from_line(line) if line.strip() else None
        if row is not None:
            rows.append(row)
        elif line.strip():
            is_last = number == len(lines)
            code, what, fix = _TORN if is_last else _UNREADABLE
            problems.append(Problem(Place(name, number, 1), code, what, fix, line))
    return ExportLog(tuple(rows), tuple(problems), len(data))


def append_exported(path: Path, rows: Iterable[Exported], log: ExportLog, timeout_s: float = 10.0) -> Appended:
    """Append whole rows to the log that was read as `log`, under a lock, and return once they are on the
    disk. Writes the header into a new file, and takes away a last row that was cut off while it was written. If the disk fills
    up the file is cut back to its old length and the OSError goes on to the caller. No rows, and nothing cut off:
    nothing is touched."""
    lines = [line_from_row(row) for row in rows]
    if not lines and not any(p.code == "calendar-log-torn" for p in log.problems):
        return Appended.WRITTEN
    try:
        with filelock.FileLock(f"{path}.lock", timeout=timeout_s):
            return _append_locked(path, lines, log)
    except filelock.Timeout:
        return Appended.BUSY


def _append_locked(path: Path, lines: list[str], log: ExportLog) -> Appended:
    flags = os.O_RDWR | os.O_CREAT | os.O_APPEND | getattr(os, "O_BINARY", 0)
    handle = os.open(path, flags, 0o666)
    try:
        size = os.fstat(handle).st_size
        if size != log.size_bytes:
            return Appended.CHANGED
        header = (",".join(HEADER) + "\n").encode()
        if size < len(header) and os.read(handle, size) == header[:size]:
            missing = header[size:]  # all of it in a new file, its end after a first write that was cut off
        else:
            os.lseek(handle, 0, os.SEEK_SET)
            last = b"".join(iter(lambda: os.read(handle, 1 << 20), b"")).rpartition(b"\n")[2]
            missing = b"\n" if last else b""
            if last and row_from_line(last.decode("utf-8", "replace")) is None:  # nobody was told of this row: it goes
                size -= len(last)
                os.ftruncate(handle, size)
                missing = b""
        try:
            write_all(handle, missing + "".join(lines).encode())
            os.fsync(handle)
        except OSError:
            os.ftruncate(handle, size)
            raise
    finally:
        os.close(handle)
    if size == 0:
        sync_folder(path.parent)
    return Appended.WRITTEN


def journal_mark(journal: Journal) -> str:
    """A short fingerprint of everything the journal says, the same for the same rows in any order. It tells
    a plan that moved because of a new row from one that moved because a day went by or the rules changed."""
    told = hashlib.sha256()
    for row in journal.rows:
        told.update(repr((row.day.isoformat(), row.sort_key)).encode("utf-8", "backslashreplace"))
    for bad in sorted((b.line, str(b.day), str(b.kind), str(b.what), str(b.where)) for b in journal.unreadable):
        told.update(repr(bad).encode("utf-8", "backslashreplace"))
    return told.hexdigest()[:12]


def line_from_row(row: Exported) -> str:
    """The row as one line of the log, ended by a line feed. ValueError if a text in it holds a line break."""
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerow(
        (
            row.uid,
            row.sequence,
            _utc_text(row.stamp),
            _utc_text(row.created),
            row.key,
            row.state,
            row.start,
            row.minutes,
            row.earliest.isoformat() if row.earliest else "",
            row.latest.isoformat() if row.latest else "",
            row.journal,
            _FORMULA.sub(r"'\g<0>", row.title),
            row.digest,
        )
    )
    line = out.getvalue()
    if line.count("\n") != 1 or "\r" in line:
        raise ValueError(f"a calendar-log row must be one line: {row.key!r}")
    return line


def row_from_line(line: str) -> Exported | None:
    """A line of the log read back; None if it is no sound row."""
    try:
        cells = next(csv.reader([line], strict=True))
        (uid, sequence, stamp, created, key, state, start, minutes, earliest, latest, journal, title, digest) = (
            cells
        )
        row = Exported(
            uid,
            int(sequence),
            _utc_from_text(stamp),
            _utc_from_text(created),
            key,
            state,
            start,
            int(minutes),
            date.fromisoformat(earliest) if earliest else None,
            date.fromisoformat(latest) if latest else None,
            journal,
            title[1:] if title.startswith("'") and _FORMULA.match(title[1:]) else title,
            digest,
        )
    except (ValueError, csv.Error, StopIteration):
        return None
    return row if _is_sound(row) else None


def _is_sound(row: Exported) -> bool:
    parts = row.start.split(" ")
    try:
        date.fromisoformat(parts[0])
        if len(parts) == 3:
            time.fromisoformat(parts[1])
    except ValueError:
        return False
    return (
        len(parts) in (1, 3)
        and bool(row.uid)
        and 0 <= row.sequence < 2**31
        and row.state in STATES
        and row.minutes >= 0
        and (row.minutes > 0) == (len(parts) == 3)
        and len(row.digest) == DIGEST_LENGTH
    )


def _utc_text(moment: datetime) -> str:
    return moment.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def _utc_from_text(text: str) -> datetime:
    return datetime.strptime(text, "%Y-%m-%dT%H:%M:%SZ").replace(tzinfo=UTC)
