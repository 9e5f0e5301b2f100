"""The calendar file at the target, read back: whose it is, and what the export log should know of it.

Read line by line, since all that is asked for stands in lines of our own; a file that was cut off still gives what is whole
in it.
"""

from __future__ import annotations

import re
import uuid
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from planner.files.calendar_log import Exported, row_from_line
from planner.files.read_file import JOURNAL_MOST_BYTES, read_plain_file
from planner.terms.problems import Place, Problem

PRODID = "-//newtank//reef tank plan//EN"
ROW_PROPERTY = "X-NEWTANK-ROW"
CALENDAR_PROPERTY = "X-NEWTANK-CALENDAR"
"""Whose calendar it is. Not as UID, which RFC 7986 5.3 allows here: some programs that subscribe take it for the UID of every entry."""
PRETENDED_PROPERTY = "X-NEWTANK-PRETENDED"
ROWS_PROPERTY = "X-NEWTANK-ROWS"
"""In a published feed whose numbers ran ahead of its rows: up to when the rows go."""
_FOLD = re.compile(rb"\r?\n[ \t]")  # RFC 5545 3.1


def calendar_uid(tank_id: str, feed: str = "") -> str:
    """The id of a tank's calendar, or of one of its feeds."""
    return str(uuid.uuid5(uuid.UUID(tank_id), f"calendar/{feed}" if feed else "calendar"))


@dataclass(frozen=True, slots=True)
class Target:
    """What stands at the place of a calendar file. `uid`: the calendar's; empty where no newtank wrote it. `pretended`: it was
    made with --on. `rows_until`: how far the journal went from which a feed was made. `rows`: the newest of each entry, the oldest first; `unread`: entries that could not be read back."""

    there: bool
    uid: str = ""
    pretended: bool = False
    last_modified: datetime | None = None
    rows_until: datetime | None = None
    rows: tuple[Exported, ...] = ()
    unread: int = 0

    def refused(self, path: Path, uid: str) -> Problem | None:
        """Why a calendar with this id may not be written here."""
        if not self.there or self.uid == uid:
            return None
        if self.uid:
            return Problem(Place(path.name), "calendar-foreign", "this calendar file belongs to another tank, or is another of its calendars",
                           "Choose another file name; this one is left as it is.")
        return Problem(Place(path.name), "calendar-foreign", "this calendar file was not written by newtank",
                       "Choose another file name; this one is left as it is.")


def read_target(path: Path) -> Target:
    """The file at this place, or that there is none. Raises OSError."""
    try:
        data = read_plain_file(path, JOURNAL_MOST_BYTES)
    except FileNotFoundError:
        return Target(False)
    lines = _FOLD.sub(b"", data).decode("utf-8", "replace").replace("\r\n", "\n").split("\n")
    if f"PRODID:{PRODID}" not in lines[:9]:
        return Target(True)
    first = next((n for n, line in enumerate(lines) if line == "BEGIN:VEVENT"), len(lines))
    head = dict(line.partition(":")[::2] for line in lines[:first] if ":" in line)
    rows: list[Exported] = []
    for line in lines[first:]:
        if line.startswith(f"{ROW_PROPERTY}:"):
            # RFC 5545 3.3.11 escapes with a backslash.
            row = row_from_line(re.sub(r"\\(.)", r"\1", line.partition(":")[2]))
            rows += [row] if row is not None else []
    rows.sort(key=lambda row: (row.stamp, row.uid))
    modified = _utc(head.get("LAST-MODIFIED", ""))
    return Target(True, head.get(CALENDAR_PROPERTY) or head.get("UID", ""), PRETENDED_PROPERTY in head, modified, _utc(head.get(ROWS_PROPERTY, "")) or modified, tuple(rows),
                  lines.count("BEGIN:VEVENT") - len(rows))


def seed_from_target(target: Target, path: Path) -> tuple[tuple[Exported, ...], tuple[Problem, ...]]:
    """The rows of a file that was really exported, and a problem where some of its entries cannot be read back."""
    if target.pretended:
        return (), ()
    unread = Problem(Place(path.name), "calendar-entry", f"{target.unread} entries cannot be read back", "Delete these entries on the phone if they show twice.")
    return target.rows, (unread,) if target.unread > 0 else ()


def other_targets(folders: tuple[Path, ...], uid: str, path: Path) -> list[Path]:
    """Calendars of this tank in these folders, other than the one at `path`."""
    found = sorted({p.resolve() for folder in folders for p in folder.glob("*.ics") if p.is_file()} - {path.resolve()})
    return [p for p in found if (target := read_target(p)).uid == uid and not target.pretended]


def _utc(text: str) -> datetime | None:
    try:
        return datetime.strptime(text, "%Y%m%dT%H%M%SZ").replace(tzinfo=UTC)
    except ValueError:
        return None


__all__ = ["CALENDAR_PROPERTY", "PRETENDED_PROPERTY", "PRODID", "ROWS_PROPERTY", "ROW_PROPERTY", "Target", "calendar_uid", "other_targets", "read_target", "seed_from_target"]
