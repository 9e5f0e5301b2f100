"""Revisions: the entries of a plan against the log of what was exported.

What stands still: a provisional entry moves by two days or more only, a late one not at all, and with something late in
the plan and no new journal row the rest slides by two days or more only. Otherwise one late task would give every entry a
new number each day. What is late is told by one entry, which alone moves by the day.
"""

from __future__ import annotations

import hashlib
import json
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta

from planner.files.calendar_log import DIGEST_LENGTH, Exported, ExportLog
from planner.rulebook.shapes import Rulebook
from planner.show.calendar.days import EXPORT_AGAIN, Ending, day_entries, is_of_days
from planner.show.calendar.entries import STATUS, STILL_DAYS, WEIGHT, Entry, entries_from_plan, full_text, summary
from planner.terms.records import Plan

KEEP_DAYS = 90
WEEK_MOST = 12
"""Entries of one week, Monday to Sunday. The lighter jobs beyond that stand in the entry of their day alone."""
FIRST_MINUTE = datetime(2020, 1, 1, tzinfo=UTC)
LIVING = ("firm", "provisional")


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
    exported. `pretended`: made with --on."""

    entries: tuple[RevisedEntry, ...]
    rows: tuple[Exported, ...]
    changes: tuple[Change, ...]
    last_modified: datetime | None
    pretended: bool = False


def sequence_at(stamp: datetime) -> int:
    """The SEQUENCE of a moment: minutes from the begin of 2020. Below 2^31 (RFC 5545 3.3.8) for four thousand years."""
    return max(int((stamp - FIRST_MINUTE).total_seconds() // 60), 0)


def planned_entries(plan: Plan, rules: Rulebook, known: Mapping[str, Exported], *, news: bool = True, timed: bool = True, ending: Ending = EXPORT_AGAIN) -> tuple[Entry, ...]:
    """Everything that a calendar is to hold beside what is cancelled: own entries where they stand still, with a limit for each
    week, and the entries of the days. `known`: what was exported, by UID; nothing of it for a feed."""
    own: list[Entry] = []
    stands: dict[str, date] = {}
    for entry in entries_from_plan(plan, rules, timed=timed):
        before = known.get(entry.uid)
        if before is not None:
            entry = _settled(entry, before, news, plan.on)
        elif entry.state == "done" or entry.overdue:
            continue
        if entry.state == "firm" and not entry.overdue:
            stands[entry.key] = entry.day
        if not entry.beyond or (before is not None and before.state in LIVING):
            own.append(entry)
    here = {entry.uid for entry in own}
    own += [_entry_from_row(row) for uid, row in known.items() if row.state == "done" and uid not in here and not is_of_days(row.key)]
    days = day_entries(plan, rules, stands, timed=timed, ending=ending)
    return (*_thinned(own, days, known, plan.on), *days)


def revise(plan: Plan, rules: Rulebook, log: ExportLog, *, now: datetime | None, journal: str = "", timed: bool = True) -> Revision:
    """Compare with the log and number what changed. `now` is the time of writing (with offset), None under
    --on: then changed entries are stamped 00:00 UTC of the plan's day and no rows are returned. `journal` is
    `journal_mark`.

    SEQUENCE rises for another date, length or status alone; the stamp for any change, always past the one
    before. An exported entry that is no longer planned is cancelled; one that was done says so, without an
    alarm, rather than being cancelled, because the keeper's diary should show what was done. Both stay 90
    days. The entries of days that have passed are left as they were."""
    on = plan.on
    stamp = datetime.combine(on, time(), UTC) if now is None else now.astimezone(UTC).replace(microsecond=0)
    known = log.latest()
    news = journal != log.journal
    shown: list[RevisedEntry] = []
    rows: list[Exported] = []
    changes: list[Change] = []
    stamps = [row.stamp for row in known.values()]
    wanted = {entry.uid: entry for entry in planned_entries(plan, rules, known, news=news, timed=timed)}
    gone = [_entry_from_row(row, "cancelled") for uid, row in known.items() if uid not in wanted and not (is_of_days(row.key) and row.day < on and row.state != "cancelled")]
    for entry in sorted([*wanted.values(), *gone], key=lambda e: (e.day, e.uid)):
        before = known.get(entry.uid)
        row = _row_from_entry(entry, before, stamp, now is None, journal)
        if row is not before:
            rows.append(row)
            changes.append(_change(entry, before, bool(log.journal) and not news))
        stamps.append(row.stamp)
        if entry.state in LIVING or (on - row.stamp.date()).days <= KEEP_DAYS:
            shown.append(RevisedEntry(entry, row))
    shown.sort(key=lambda r: (r.row.start, r.entry.uid))
    return Revision(tuple(shown), () if now is None else tuple(rows), tuple(changes), max(stamps, default=None), now is None)


def _entry_from_row(row: Exported, state: str = "") -> Entry:
    """What the log knows of an entry that the plan no longer has; in another `state` if one is given."""
    day, _, rest = row.start.partition(" ")
    hour, _, zone = rest.partition(" ")
    return Entry(row.uid, row.key, state or row.state, row.title, date.fromisoformat(day), hour, zone or "UTC", row.minutes)


def _settled(entry: Entry, before: Exported, news: bool, on: date) -> Entry:
    """The entry with the dates it goes out under: those written before, where it should stand still."""
    if entry.state == "done":
        return _entry_from_row(before) if before.state == "done" and before.day == entry.day else entry
    if entry.state != before.state or entry.overdue:
        return entry
    slack = entry.slack if news else max(entry.slack, entry.idle_slack)
    if abs((entry.day - before.day).days) < slack and before.day >= on:
        entry = replace(entry, day=before.day)
    near = _is_near(entry.earliest, before.earliest) and _is_near(entry.latest, before.latest)
    if entry.day == before.day and near:
        entry = replace(entry, earliest=before.earliest, latest=before.latest)
    return entry


def _is_near(one: date | None, other: date | None) -> bool:
    if one is None or other is None:
        return one is other
    return abs((one - other).days) < STILL_DAYS


def _thinned(own: Iterable[Entry], days: Iterable[Entry], known: Mapping[str, Exported], on: date) -> list[Entry]:
    """The entries that have a place in their week. The days come first; then what was exported before, so that nothing comes and
    goes; then phases and jobs by their weight, which leave room for all days that have passed (another machine may have written
    them); then what was done in another week than it stood in. Nothing is taken out of a week that is over."""
    this = _monday(on)
    passed = [r for r in known.values() if is_of_days(r.key) and r.day < on and r.state != "cancelled" and r.uid not in {e.uid for e in days}]
    taken = Counter(_monday(day) for day in (*(r.day for r in passed), *(e.day for e in days)))
    written = Counter(_monday(r.day) for r in passed if r.key.startswith("day/"))
    kept = []
    for rank, entry in sorted(((_rank(e, known.get(e.uid)), e) for e in own), key=lambda one: (one[0], one[1].day, one[1].uid)):
        week = _monday(entry.day)
        unseen = min(max((on - week).days, 0), 7) - written[week] if rank >= 0 else 0
        full = taken[week] + unseen >= WEEK_MOST
        if full and (rank >= 0 or week >= this):
            continue
        taken[week] += 1
        kept.append(entry)
    return kept


def _rank(entry: Entry, before: Exported | None) -> int:
    if before is not None and before.state != "cancelled" and _monday(before.day) == _monday(entry.day):
        return -1
    if entry.state == "done":
        return 3 * len(WEIGHT)
    return entry.weight if entry.key.partition("/")[0] not in ("gate", "phase") else len(WEIGHT)


def _monday(day: date) -> date:
    return day - timedelta(days=day.weekday())


def _row_from_entry(
    entry: Entry, before: Exported | None, stamp: datetime, pretend: bool, journal: str
) -> Exported:
    """The row that stands for this entry: the one before if it says the same, else a new one."""
    digest = digest_of_entry(entry)
    if before is None:
        sequence, created = sequence_at(stamp), stamp
    elif before.state == entry.state and (before.digest == digest or entry == _entry_from_row(before)):
        return before
    else:
        created = before.created
        moved = (before.start, before.minutes) != (entry.start, entry.minutes)
        stamp = stamp if pretend else max(stamp, before.stamp + timedelta(seconds=1))
        sequence = max(before.sequence + 1, sequence_at(stamp)) if moved or STATUS[before.state] != STATUS[entry.state] else before.sequence
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
    return Change(entry.key, entry.title, what, before.day, entry.day, moved and unexplained and not is_of_days(entry.key))


def digest_of_entry(entry: Entry) -> str:
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
