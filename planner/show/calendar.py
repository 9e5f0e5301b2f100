"""A Plan as calendar entries, their revisions, and the iCalendar file (RFC 5545, 7986; revision rules of
5546).

Three pure steps: `entries_from_plan` (what the plan says), `revise` (what changed since the log was last
written), `calendar_bytes` (the file). One entry per dated task of weight and one per shut gate; each keeps
its UID for ever. Nothing behind a shut gate, and nothing on hold, has an alarm; its title says that the date
depends on a test.

What stands still: a provisional entry moves only by two days or more, a late one only when the journal has
changed, and with something late in the plan and no new journal row the rest slides by two days or more only.
Otherwise one late task would give every entry a new number each day.
"""

from __future__ import annotations

import hashlib
import json
import uuid
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta

from planner.exportlog import DIGEST_LENGTH, Exported, ExportLog
from planner.model import Phase, Plan, State, Task
from planner.show.calendar_text import (
    description,
    gate_text,
    gate_title,
    task_text,
    task_title,
    titled,
    window_in_words,
)

KEEP_DAYS = 90
STILL_DAYS = 2
SHORTEST_MINUTES = 15
LONGEST_MINUTES = 240
STATUS = {"firm": "CONFIRMED", "provisional": "TENTATIVE", "done": "CONFIRMED", "cancelled": "CANCELLED"}


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry as the plan has it. `time` is HH:MM in `zone`, empty for an all-day entry (`minutes` 0). The
    alarm is `alarm_minutes` before the start, None for none. `late` and `sliding` say how it may move."""

    uid: str
    key: str
    state: str
    title: str
    day: date
    time: str = ""
    zone: str = "UTC"
    minutes: int = 0
    earliest: date | None = None
    latest: date | None = None
    text: str = ""
    category: str = ""
    alarm_minutes: int | None = None
    late: bool = False
    sliding: bool = False

    @property
    def start(self) -> str:
        """As the log writes it."""
        return f"{self.day.isoformat()} {self.time} {self.zone}" if self.time else self.day.isoformat()


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


def uid_for(tank_id: str, key: str) -> str:
    """UUID version 5 of the tank's id and the task id: the same for ever. ValueError if the id is no UUID."""
    return str(uuid.uuid5(uuid.UUID(tank_id), key))


def entries_from_plan(plan: Plan, *, timed: bool = True) -> tuple[Entry, ...]:
    """The entries of a plan, sorted by day and UID. Raises ValueError if the tank has no id.

    With `timed` (the default) a firm task stands at its own time or the keeper's reminder hour, in the
    tank's zone, and rings at that moment: the only form in which phones can remind on the day itself,
    because an alarm after the start of an all-day entry is turned round, dropped or refused by several of
    them. A phone that drops the alarms of a subscription then falls back on its own setting for timed
    entries, near the right hour. Without `timed` every entry is all-day and rings at the reminder hour of
    the evening before, which suits people who want their day view free. Entries without an alarm are all-day
    in both.

    Done tasks and opened gates come along in state `done`; `revise` writes them only if they were exported
    before. An hour that a clock change leaves out is moved forward when the file is written."""
    if plan.tank_id is None:
        raise ValueError("a calendar needs the tank's id")
    late = any(task.state is State.LATE for task in plan.tasks)
    entries = [
        _entry_from_task(plan, plan.tank_id, task, timed, late) for task in plan.tasks if task.calendar
    ]
    entries += [_entry_from_gate(plan, plan.tank_id, phase) for phase in plan.phases]
    return tuple(sorted((e for e in entries if e is not None), key=lambda e: (e.day, e.uid)))


def _entry_from_task(plan: Plan, tank_id: str, task: Task, timed: bool, late_in_plan: bool) -> Entry | None:
    day = (task.closed_on or task.date or plan.on) if task.state is State.DONE else task.date
    if day is None or task.state is State.SKIPPED:
        return None
    on_hold = task.state is State.ON_HOLD
    phase = plan.phase(task.phase)
    hour = _clock(task.time) or _clock(plan.reminder_time) or "09:00"
    holds = [h for h in plan.holds if h.gate in (task.phase, task.depends_on)] if on_hold else []
    text = task_text(task, plan.units, holds, "" if timed else _clock(task.time))
    entry = Entry(
        uid_for(tank_id, task.id),
        task.id,
        "firm",
        task_title(task, on_hold),
        day,
        zone=plan.timezone or "UTC",
        earliest=task.window.earliest,
        latest=task.window.latest,
        text=text,
        category=phase.title if phase else task.phase,
        late=task.state is State.LATE,
        sliding=late_in_plan and task.state is State.PLANNED,
    )
    if task.state is State.DONE:
        entry = replace(entry, state="done", text="", category="", earliest=None, latest=None)
    elif task.tentative or on_hold or task.state is State.WAITING:
        return replace(entry, state="provisional")
    else:
        minutes = (24 * 60 - int(hour[:2]) * 60 - int(hour[3:])) if not timed else 0
        entry = replace(entry, alarm_minutes=minutes)
    if timed:
        length = min(max(task.minutes, SHORTEST_MINUTES), LONGEST_MINUTES)
        entry = replace(entry, time=hour, minutes=length)
    return entry


def _entry_from_gate(plan: Plan, tank_id: str, phase: Phase) -> Entry | None:
    key = f"gate/{phase.id}"
    entry = Entry(
        uid_for(tank_id, key),
        key,
        "provisional",
        gate_title(phase),
        phase.window.likely or plan.on,
        earliest=phase.window.earliest,
        latest=phase.window.latest,
        text=gate_text(phase),
        category=phase.title,
    )
    if phase.opened is not None or phase.state == "done":
        return replace(
            entry,
            state="done",
            day=phase.opened or phase.started or plan.on,
            earliest=None,
            latest=None,
            text="",
            category="",
        )
    return entry if phase.window.likely is not None else None


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
    return Revision(
        tuple(shown), () if now is None else tuple(rows), tuple(changes), max(stamps, default=None)
    )


def _entry_from_row(row: Exported) -> Entry:
    """What the log knows of an entry that the plan no longer has: done stays done, all else is cancelled."""
    day, _, rest = row.start.partition(" ")
    hour, _, zone = rest.partition(" ")
    state = "done" if row.state == "done" else "cancelled"
    return Entry(
        row.uid, row.key, state, row.title, date.fromisoformat(day), hour, zone or "UTC", row.minutes
    )


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


def summary(entry: Entry) -> str:
    return titled(entry.title, entry.state)


def full_text(entry: Entry) -> str:
    return description(window_in_words(entry.state, entry.day, entry.earliest, entry.latest), entry.text)


def calendar_bytes(revision: Revision, *, tank_id: str, name: str) -> bytes:
    """The file: UTF-8, CRLF, folded at 75 octets, no METHOD (a snapshot needs none and CalDAV forbids it).
    The same revision gives the same bytes. A VTIMEZONE per zone used, limited to the years of its
    entries."""
    # Imported here because it loads icalendar (50 ms), which no other command needs.
    from planner.show.icalendar_file import file_from_entries

    return file_from_entries(revision.entries, revision.last_modified, tank_id, name)


def calendar_from_plan(
    plan: Plan, log: ExportLog, *, now: datetime | None, journal: str = "", timed: bool = True
) -> tuple[bytes, Revision]:
    """The three steps in one: the file's bytes, and the revision whose rows go into the log before it."""
    revision = revise(entries_from_plan(plan, timed=timed), log, on=plan.on, now=now, journal=journal)
    return calendar_bytes(revision, tank_id=plan.tank_id or "", name=plan.name), revision


def _clock(text: str) -> str:
    """HH:MM, or empty if the text is no time of day."""
    try:
        return time.fromisoformat(text.strip()).strftime("%H:%M")
    except ValueError:
        return ""


__all__ = [
    "KEEP_DAYS",
    "STATUS",
    "Change",
    "Entry",
    "RevisedEntry",
    "Revision",
    "calendar_bytes",
    "calendar_from_plan",
    "entries_from_plan",
    "full_text",
    "revise",
    "summary",
    "uid_for",
]
