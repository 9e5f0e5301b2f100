"""What tests of the calendar share: an export, and ways to look at what it wrote."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import icalendar

from planner.files.calendar_log import Exported, ExportLog
from planner.show.calendar.calendar import Entry, Revision, calendar_from_plan, entries_from_plan, planned_entries, revise
from planner.show.calendar.days import is_of_days
from planner.show.calendar.revisions import sequence_at
from planner.terms.records import Plan, State, Task
from tests.rulecases import rulebook
from tests.unit.plan_builder import ON, task

NOW = datetime(2026, 3, 2, 20, 15, 30, tzinfo=UTC)
NOTHING = ExportLog()
FIRST = sequence_at(NOW)
"""The number of what is written at NOW."""
RULES = rulebook()


def export(p: Plan, log: ExportLog = NOTHING, journal: str = "j1", now: datetime | None = NOW) -> tuple[Revision, ExportLog]:
    revision = revise(p, RULES, log, now=now, journal=journal)
    return revision, replace(log, rows=log.rows + revision.rows)


def own_rows(revision: Revision) -> list[Exported]:
    """The rows of entries that are not of the days."""
    return [r for r in revision.rows if not is_of_days(r.key)]


def own(revision: Revision) -> list[tuple[date, int]]:
    return [(r.entry.day, r.row.sequence) for r in revision.entries if not is_of_days(r.entry.key)]


def only(p: Plan, **how: bool) -> Entry:
    """The one entry beside those of the days."""
    (entry,) = entries_from_plan(p, RULES, **how)
    return entry


def of_day(p: Plan, day: date = date(2026, 3, 10), **how: bool) -> Entry:
    return next(e for e in planned_entries(p, RULES, {}, **how) if e.key == f"day/{day}")


def events(p: Plan, log: ExportLog = NOTHING, timed: bool = True, now: datetime | None = NOW) -> dict[str, icalendar.Event]:
    """The entries of a file by the key of what they stand for."""
    data, revision = calendar_from_plan(p, RULES, log, now=now, timed=timed)
    found = {str(e["UID"]): e for e in icalendar.Calendar.from_ical(data).events}
    return {r.entry.key: found[r.entry.uid] for r in revision.entries}


JOB = "water/mix-salt"
DAY = "day/2026-03-10"


def late(days: int, id: str = JOB) -> Task:
    """A job that was due so many days before ON."""
    return task(id, ON, due=ON - timedelta(days=days), state=State.LATE)
