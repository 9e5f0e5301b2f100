"""A Plan as an iCalendar file (RFC 5545, 7986; revision rules of RFC 5546).

Pure steps: `planned_entries` (what is to stand in the calendar), `revise` (what changed since the log was last written),
`calendar_bytes` (the file). Each entry keeps its UID for ever; what a phone does with it is the phone's.
"""

from __future__ import annotations

from datetime import datetime

from planner.files.calendar_log import ExportLog
from planner.rulebook.shapes import Rulebook
from planner.show.calendar.entries import Entry, entries_from_plan, uid_for
from planner.show.calendar.revisions import KEEP_DAYS, Change, RevisedEntry, Revision, planned_entries, revise
from planner.terms.records import Plan


def calendar_bytes(revision: Revision, *, tank_id: str, name: str) -> bytes:
    """The file: UTF-8, CRLF, folded at 75 octets, no METHOD (a snapshot needs none and CalDAV forbids it).
    The same revision gives the same bytes. A VTIMEZONE per zone used."""
    # Imported here because it loads icalendar (50 ms), which no other command needs.
    from planner.show.calendar.write_ics import file_from_entries

    return file_from_entries(revision.entries, revision.last_modified, tank_id, name, pretended=revision.pretended)


def calendar_from_plan(plan: Plan, rules: Rulebook, log: ExportLog, *, now: datetime | None, journal: str = "", timed: bool = True) -> tuple[bytes, Revision]:
    """The steps in one: the file's bytes, and the revision whose rows go into the log before it."""
    revision = revise(plan, rules, log, now=now, journal=journal, timed=timed)
    return calendar_bytes(revision, tank_id=plan.tank_id or "", name=plan.name), revision


__all__ = [
    "KEEP_DAYS",
    "Change",
    "Entry",
    "RevisedEntry",
    "Revision",
    "calendar_bytes",
    "calendar_from_plan",
    "entries_from_plan",
    "planned_entries",
    "revise",
    "uid_for",
]
