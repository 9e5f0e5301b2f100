"""What a plan says as calendar entries: one per dated task of weight and one per shut gate.

Nothing behind a shut gate, and nothing on hold, has an alarm; its title says that the date depends on a test.
"""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, time

from planner.rulebook.provenance import Caution
from planner.show.calendar.text import (
    description,
    gate_text,
    gate_title,
    task_text,
    task_title,
    titled,
    window_in_words,
)
from planner.terms.causes import cause
from planner.terms.records import Phase, Plan, State, Task

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


def uid_for(tank_id: str, key: str) -> str:
    """UUID version 5 of the tank's id and the task id: the same for ever. ValueError if the id is no UUID."""
    return str(uuid.uuid5(uuid.UUID(tank_id), key))


def entries_from_plan(
    plan: Plan, *, timed: bool = True, cautions: Mapping[str, Caution] | None = None
) -> tuple[Entry, ...]:
    """The entries of a plan, sorted by day and UID. `cautions` are the rulebook's, by the keys that tasks name;
    without them a caution is given by its key. Raises ValueError if the tank has no id.

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
    entries = [_entry_from_task(plan, plan.tank_id, task, timed, late, cautions) for task in plan.tasks if task.calendar]
    entries += [_entry_from_gate(plan, plan.tank_id, phase) for phase in plan.phases]
    return tuple(sorted((e for e in entries if e is not None), key=lambda e: (e.day, e.uid)))


def _entry_from_task(
    plan: Plan, tank_id: str, task: Task, timed: bool, late_in_plan: bool, cautions: Mapping[str, Caution] | None
) -> Entry | None:
    day = (task.closed_on or task.date or plan.on) if task.state is State.DONE else task.date
    if day is None or task.state is State.SKIPPED:
        return None
    on_hold = task.state is State.ON_HOLD and not task.tested_with
    phase = plan.phase(task.phase)
    hour = _clock(task.time) or _clock(plan.reminder_time) or "09:00"
    holds = [h for h in plan.holds if cause("on_hold", because=h.because) in task.because] if on_hold else []
    own_hour = "" if timed or task.time == plan.reminder_time else _clock(task.time)
    text = task_text(task, plan.units, holds, own_hour, cautions)
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
        sliding=late_in_plan and task.state in (State.PLANNED, State.DUE),
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


def summary(entry: Entry) -> str:
    return titled(entry.title, entry.state)


def full_text(entry: Entry) -> str:
    return description(window_in_words(entry.state, entry.day, entry.earliest, entry.latest), entry.text)


def _clock(text: str) -> str:
    """HH:MM, or empty if the text is no time of day."""
    try:
        return time.fromisoformat(text.strip()).strftime("%H:%M")
    except ValueError:
        return ""
