"""The calendar file at the target, read back when the export log is lost."""

from __future__ import annotations

import re
from pathlib import Path

from planner.files.calendar_log import Exported, row_from_line
from planner.files.read_file import JOURNAL_MOST_BYTES, read_plain_file
from planner.terms.problems import Place, Problem

PRODID = "-//newtank//reef tank plan//EN"
ROW_PROPERTY = "X-NEWTANK-ROW"


def is_foreign(path: Path) -> bool:
    """Whether a file is there that another program wrote, told from its PRODID alone (a whole reading takes 60 ms)."""
    try:
        head = read_plain_file(path, JOURNAL_MOST_BYTES)[:2000]
    except FileNotFoundError:
        return False
    return f"PRODID:{PRODID}".encode() not in head.splitlines()


def foreign_problem(path: Path) -> Problem:
    return Problem(Place(path.name), "calendar-foreign", "this calendar file was not written by newtank",
                   "Choose another file name; this one is left as it is.")


def seed_from_calendar(path: Path) -> tuple[tuple[Exported, ...], tuple[Problem, ...]]:
    """The rows of a lost log, read back from the calendar file at the target. Append them with the new rows.

    A missing file gives nothing. A file that another program wrote is a problem of code `calendar-foreign`,
    and the command must not overwrite it. Entries without our key are left out, reported in one problem."""
    try:
        data = read_plain_file(path, JOURNAL_MOST_BYTES)
    except FileNotFoundError:
        return (), ()
    import icalendar  # 50 ms, and only a lost log needs it here

    foreign = foreign_problem(path)
    try:
        calendar = icalendar.Calendar.from_ical(data)
    except ValueError:
        return (), (foreign,)
    if not isinstance(calendar, icalendar.Calendar) or str(calendar.get("PRODID", "")) != PRODID:
        return (), (foreign,)
    rows: list[Exported] = []
    unknown = 0
    for event in calendar.events:
        try:
            rows.append(_row_from_event(event))
        except (KeyError, ValueError, TypeError, AttributeError):
            unknown += 1
    rows.sort(key=lambda row: (row.stamp, row.uid))
    if not unknown:
        return tuple(rows), ()
    return tuple(rows), (
        Problem(
            Place(path.name),
            "calendar-entry",
            f"{unknown} entries cannot be read back",
            "Delete these entries on the phone if they show twice.",
        ),
    )


def _row_from_event(event: object) -> Exported:
    """Our own entry read back: its X- line is the log's row."""
    import icalendar

    if not isinstance(event, icalendar.Event):
        raise TypeError("not an event")
    # Read back as written: the library knows no type for this line. RFC 5545 3.3.11 escapes with a backslash.
    row = row_from_line(re.sub(r"\\(.)", r"\1", str(event[ROW_PROPERTY])))
    if row is None or row.uid != str(event["UID"]):
        raise ValueError("not one of our entries")
    return row
