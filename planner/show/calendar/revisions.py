"""Revisions: the entries of a plan against the log of what was exported.

What stands still: a provisional entry moves only by two days or more, a late one only when the journal has
changed, and with something late in the plan and no new journal row the rest slides by two days or more only.
Otherwise one late task would give every entry a new number each day.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta

from planner.files.calendar_log import DIGEST_LENGTH, Exported, ExportLog
from planner.show.calendar.entries import STATUS, Entry, full_text, summary

KEEP_DAYS = 90
STILL_DAYS = 2


@dataclass(frozen=True, slots=True)
class RevisedEntry:
    """An entry with the numbers it goes out under, and its row of the log."""

    entry: Entry
    row: Exported


@dataclass(frozen=True, slots=True)
class Change:
    """What an export changed. `what` is new, moved, edited, done, cancelled or back; `without_journal_row`
    marks a move that no new journal row explains (time went by, or the rules or the tank file changed)."""

    key: str
    title: str
    what: str
    before: date | None
    after: date | None
    without_journal_row: bool


@dataclass(frozen=True, slots=True)
class Revision:
    """`entries` go into the file, sorted by start and UID; `rows` are to be appended to the log before it
    (none with --on); `last_modified` is the newest revision of any entry ever, None if nothing was ever
    exported."""

    entries: tuple[RevisedEntry, ...]
    rows: tuple[Exported, ...]
    changes: tuple[Change, ...]
    last_modified: datetime | None


def revise(
    entries: Iterable[Entry], log: ExportLog, *, on: date, now: datetime | None, journal: str = ""
) -> Revision:
    """Compare with the log and number what changed. `now` is the time of writing (with offset), None under
    --on: then changed entries are stamped 00:00 UTC of `on` and no rows are returned. `journal` is
    `journal_mark`.

    SEQUENCE rises for another date, length or status alone; the stamp for any change, always past the one
    before. An exported entry that is no longer planned is cancelled; one that was done says so, without an
    alarm, rather than being cancelled, because the keeper's diary should show what was done. Both stay 90
    days."""
    stamp = datetime.combine(on, time(), UTC) if now is None else now.astimezone(UTC).replace(microsecond=0)
    known = log.latest()
    news = journal != log.journal
    shown: list[RevisedEntry] = []
    rows: list[Exported] = []
    changes: list[Change] = []
    stamps = [row.stamp for row in known.values()]
    wanted = {entry.uid: entry for entry in entries}
    gone = [_entry_from_row(row) for uid, row in known.items() if uid not in wanted]
    for entry in sorted([*wanted.values(), *gone], key=lambda e: (e.day, e.uid)):
        before = known.get(entry.uid)
        if before is None and entry.state == "done":
            continue
        if before is not None:
            entry = _settled(entry, before, news)
        row = _row_from_entry(entry, before, stamp, now is None, journal)
        if row is not before:
            rows.append(row)
            changes.append(_change(entry, before, bool(log.journal) and not news))
        stamps.append(row.stamp)
        if entry.state in ("firm", "provisional") or (on - row.stamp.date()).days <= KEEP_DAYS:
            shown.append(RevisedEntry(entry, row))
    shown.sort(key=lambda r: (r.row.start, r.entry.uid))
    return Revision(tuple(shown), () if now is None else tuple(rows), tuple(changes), max(stamps, default=None))


def _entry_from_row(row: Exported) -> Entry:
    """What the log knows of an entry that the plan no longer has: done stays done, all else is cancelled."""
    day, _, rest = row.start.partition(" ")
    hour, _, zone = rest.partition(" ")
    state = "done" if row.state == "done" else "cancelled"
    return Entry(row.uid, row.key, state, row.title, date.fromisoformat(day), hour, zone or "UTC", row.minutes)


def _settled(entry: Entry, before: Exported, news: bool) -> Entry:
    """The entry with the dates it goes out under: those written before, where it should stand still."""
    if entry.state == "done":
        return _entry_from_row(before) if before.state == "done" and before.day == entry.day else entry
    if entry.state != before.state:
        return entry
    shift = abs((entry.day - before.day).days)
    if entry.late:
        still = not news
    else:
        still = (entry.state == "provisional" or (entry.sliding and not news)) and shift < STILL_DAYS
    if still:
        entry = replace(entry, day=before.day)
    near = _is_near(entry.earliest, before.earliest) and _is_near(entry.latest, before.latest)
    if entry.day == before.day and (near or (entry.late and still)):
        entry = replace(entry, earliest=before.earliest, latest=before.latest)
    return entry


def _is_near(one: date | None, other: date | None) -> bool:
    if one is None or other is None:
        return one is other
    return abs((one - other).days) < STILL_DAYS


def _row_from_entry(
    entry: Entry, before: Exported | None, stamp: datetime, pretend: bool, journal: str
) -> Exported:
    """The row that stands for this entry: the one before if it says the same, else a new one."""
    digest = _digest(entry)
    if before is None:
        sequence, created = 0, stamp
    elif before.state == entry.state and (before.digest == digest or entry == _entry_from_row(before)):
        return before
    else:
        created = before.created
        moved = (before.start, before.minutes) != (entry.start, entry.minutes)
        sequence = before.sequence + (1 if moved or STATUS[before.state] != STATUS[entry.state] else 0)
        stamp = stamp if pretend else max(stamp, before.stamp + timedelta(seconds=1))
    return Exported(
        entry.uid,
        sequence,
        stamp,
        created,
        entry.key,
        entry.state,
        entry.start,
        entry.minutes,
        entry.earliest,
        entry.latest,
        journal,
        entry.title,
        digest,
    )


def _change(entry: Entry, before: Exported | None, unexplained: bool) -> Change:
    if before is None:
        return Change(entry.key, entry.title, "new", None, entry.day, False)
    moved = before.day != entry.day
    if entry.state != before.state and entry.state in ("done", "cancelled"):
        what = entry.state
    elif before.state == "cancelled":
        what = "back"
    else:
        what = "moved" if moved else "edited"
    return Change(entry.key, entry.title, what, before.day, entry.day, moved and unexplained)


def _digest(entry: Entry) -> str:
    """Over everything the file says about the entry, the alarm included, but its numbers."""
    told = [
        entry.key,
        STATUS[entry.state],
        summary(entry),
        full_text(entry),
        entry.start,
        entry.minutes,
        entry.alarm_minutes,
        entry.category,
    ]
    return hashlib.sha256(json.dumps(told).encode()).hexdigest()[:DIGEST_LENGTH]
