"""What a plan says as calendar entries of their own: its jobs of weight, and one for each phase that is still to come.

None of them rings: the entry of the day does (`days`). A job that comes more often than every third day, or that its rule
keeps off the calendar, stands in the entry of the day alone.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, time, timedelta

from planner.rulebook.shapes import Rulebook
from planner.show.calendar.text import (
    begin_text,
    description,
    gate_text,
    guard,
    leading,
    one_line,
    task_text,
    title_of,
    window_in_words,
)
from planner.terms.causes import cause
from planner.terms.records import Phase, Plan, State, Task

OFTEN_HOURS = 72
"""What comes more often than this stands in the entry of the day alone."""
STILL_DAYS = 2
"""A provisional entry moves by so many days or more."""
SHORTEST_MINUTES = 15
LONGEST_MINUTES = 240
STATUS = {"firm": "CONFIRMED", "provisional": "TENTATIVE", "done": "CONFIRMED", "cancelled": "CANCELLED"}
CATEGORY = {"shopping": "Shopping", "test": "Test", "animals": "Animals"}
WORK, MILESTONE = "Work", "Milestone"
"""With the three above the five words that an entry may be filed under. Everything else that is done is work."""
WEIGHT = ("animals", "remedy", "step", "shopping", "test", "care")


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry as the plan has it. `tells_when`: its text says when, in words. `time` is HH:MM in `zone`, empty for an all-day entry (`minutes` 0). The alarm is
    `alarm_minutes` before the start, None for none. `guard`: the sentences that protect; `lead`: the word before the title.
    `slack`: it moves by so many days or more only, or without a new journal row by `idle_slack`. `overdue`: it stands on the
    day on which it was due. `beyond`: further ahead than anything new is written. `weight`: the lower the sooner it has a place."""

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
    guard: str = ""
    lead: str = ""
    slack: int = 0
    idle_slack: int = 0
    overdue: bool = False
    beyond: bool = False
    weight: int = 0
    tells_when: bool = True

    @property
    def start(self) -> str:
        """As the log writes it."""
        return f"{self.day.isoformat()} {self.time} {self.zone}" if self.time else self.day.isoformat()


def uid_for(tank_id: str, key: str) -> str:
    """UUID version 5 of the tank's id and the task id: the same for ever. ValueError if the id is no UUID."""
    return str(uuid.uuid5(uuid.UUID(tank_id), key))


def last_day(on: date) -> date:
    """How far ahead the calendar goes: the Sunday after four whole weeks. It moves once a week, so that a day that goes by
    changes nothing."""
    return on + timedelta(days=6 - on.weekday() + 28)


def standing(task: Task) -> str:
    """firm, held, maybe, done, or nothing for what has no place in a calendar."""
    if task.state is State.DONE:
        return "done"
    if task.date is None or task.state is State.SKIPPED:
        return ""
    if task.state is State.ON_HOLD and not task.tested_with:
        return "held"
    return "maybe" if task.tentative or task.state is State.WAITING else "firm"


def is_overdue(task: Task, on: date) -> bool:
    return task.due is not None and task.due < on and standing(task) == "firm"


def has_entry(task: Task, rules: Rulebook) -> bool:
    """Whether a job has an entry of its own beside the one of the day."""
    rule = rules.tasks.get(task.key)
    if not task.calendar or rule is None:
        return task.calendar
    return rule.days is None and hours_between(task, rules) >= OFTEN_HOURS


def hours_between(task: Task, rules: Rulebook) -> float:
    """After how many hours a job comes again by its rule; without end for one that comes once."""
    rule = rules.tasks.get(task.key)
    return rules.hours(rule.every) if rule is not None and rule.every in rules.numbers else float("inf")


def stands_on(plan: Plan, rules: Rulebook) -> dict[str, date]:
    """The day on which each open job that may be done stands, by its id: the day on which it was due, if that has passed, and
    else the plan's. Behind a repeating job that was not done the plan moves all later ones every day; here they stand where
    they would have stood, so that a day that goes by changes nothing."""
    found: dict[str, date] = {}
    for tasks in by_key(plan).values():
        beat = beat_of(tasks, plan, rules)
        for n, task in enumerate(tasks):
            due = task.due if is_overdue(task, plan.on) else None
            found[task.id] = (beat[n] if n < len(beat) else None) or due or task.date or plan.on
    return found


def by_key(plan: Plan) -> dict[str, list[Task]]:
    """The open jobs that may be done, by key, in the order of their numbers."""
    found: dict[str, list[Task]] = {}
    for task in sorted((t for t in plan.tasks if standing(t) == "firm"), key=lambda t: (t.key, t.occurrence)):
        found.setdefault(task.key, []).append(task)
    return found


def beat_of(tasks: Sequence[Task], plan: Plan, rules: Rulebook) -> list[date]:
    """The days of a repeating job whose first open occurrence is overdue, from that one to the last that the plan has; nothing
    for others, which keep the plan's days."""
    first, hours = tasks[0], hours_between(tasks[0], rules)
    last = max(t.date or plan.on for t in tasks)
    if hours == float("inf") or first.due is None or not is_overdue(first, plan.on):
        return []
    days = (first.due + timedelta(days=round(hours * n / 24)) for n in range(int((last - first.due).days * 24 / hours) + 1))
    return [day for day in days if day <= last]


def own_hour(task: Task, plan: Plan) -> str:
    """The hour of a job that has one of its own, HH:MM; else empty."""
    return "" if task.time == plan.reminder_time else _clock(task.time)


def keepers_hour(plan: Plan) -> str:
    return _clock(plan.reminder_time) or "09:00"


def entries_from_plan(plan: Plan, rules: Rulebook, *, timed: bool = True) -> tuple[Entry, ...]:
    """The entries of a plan beside those of its days, sorted by day and UID; all-day but for jobs with an hour of their own
    (with `timed`; else the hour is told in words). Done jobs and opened gates come along in state `done`. Raises ValueError
    if the tank has no id."""
    if plan.tank_id is None:
        raise ValueError("a calendar needs the tank's id")
    late = any(is_overdue(t, plan.on) for t in plan.tasks)
    days = stands_on(plan, rules)
    found = [_of_task(plan, plan.tank_id, t, rules, timed, late, days) for t in plan.tasks if has_entry(t, rules) and standing(t)]
    found += [e for phase in plan.phases for e in _of_phase(plan, plan.tank_id, phase, rules)]
    return tuple(sorted(found, key=lambda e: (e.day, e.uid)))


def _of_task(plan: Plan, tank_id: str, task: Task, rules: Rulebook, timed: bool, late: bool, days: Mapping[str, date]) -> Entry:
    how, rule = standing(task), rules.tasks.get(task.key)
    day = (task.closed_on if how == "done" else days.get(task.id)) or task.date or plan.on
    overdue = how == "firm" and day < plan.on
    beaten = how == "firm" and day != task.date
    title = title_of(rule.short if rule is not None else "", task.title)
    weight = WEIGHT.index(task.role) if task.role in WEIGHT else len(WEIGHT)
    entry = Entry(uid_for(tank_id, task.id), task.id, "done", title, day, zone=plan.timezone or "UTC")
    if how == "done":
        return replace(entry, weight=weight)
    hour = own_hour(task, plan)
    holds = [h for h in plan.holds if cause("on_hold", because=h.because) in task.because] if how == "held" else []
    repeats = hours_between(task, rules) < float("inf")
    return replace(
        entry,
        state="firm" if how == "firm" else "provisional",
        time=hour if timed else "",
        minutes=min(max(task.minutes, SHORTEST_MINUTES), LONGEST_MINUTES) if hour and timed else 0,
        earliest=None if beaten else task.window.earliest,
        latest=None if beaten else task.window.latest,
        text=task_text(task, plan.units, holds, "" if timed else hour),
        category=CATEGORY.get(task.role, WORK),
        guard=guard(task.cautions, rules.cautions),
        lead="held" if how == "held" else "",
        slack=STILL_DAYS if how != "firm" else 0,
        idle_slack=STILL_DAYS if late and not overdue else 0,
        overdue=overdue,
        beyond=day > last_day(plan.on) and (how != "firm" or repeats),
        weight=weight + (0 if how == "firm" else len(WEIGHT) + 1),
    )


def _of_phase(plan: Plan, tank_id: str, phase: Phase, rules: Rulebook) -> Iterator[Entry]:
    """The gate of a phase that has begun, and the begin of one that has not."""
    rule = next((p for p in rules.phases if p.phase == phase.id), None)
    name = title_of(rule.short if rule is not None else "", phase.title)
    begin, gate = f"phase/{phase.id}", f"gate/{phase.id}"
    blank = Entry("", "", "provisional", name, plan.on, category=MILESTONE, slack=STILL_DAYS)
    opened = phase.opened if phase.opened is not None else phase.started if phase.state == "done" else None
    if phase.started is not None or opened is not None:
        yield replace(blank, uid=uid_for(tank_id, begin), key=begin, state="done", title=f"{name} begun", day=phase.started or opened or plan.on, category="")
    if opened is not None or phase.state == "done":
        yield replace(blank, uid=uid_for(tank_id, gate), key=gate, state="done", title=name, day=opened or plan.on, category="")
    elif phase.started is not None:
        if phase.window.likely is not None and phase.role != "without_end":
            yield replace(blank, uid=uid_for(tank_id, gate), key=gate, title=f"{name} done", day=phase.window.likely, earliest=phase.window.earliest,
                          latest=phase.window.latest, text=gate_text(phase))
    else:
        first = min((t for t in plan.tasks if t.phase == phase.id and t.date is not None), key=lambda t: (t.date, t.id), default=None)
        window = first.window if first is not None else phase.window
        if window.likely is not None:
            yield replace(blank, uid=uid_for(tank_id, begin), key=begin, day=window.likely, earliest=window.earliest, latest=window.latest,
                          text=begin_text(one_line(phase.title), one_line(phase.intro)))


def summary(entry: Entry) -> str:
    return leading(entry.lead or entry.state, entry.title)


def full_text(entry: Entry) -> str:
    when = window_in_words(entry.state, entry.day, entry.earliest, entry.latest, entry.overdue) if entry.tells_when else ""
    return description(entry.guard, when, entry.text)


def _clock(text: str) -> str:
    """HH:MM, or empty if the text is no time of day."""
    try:
        return time.fromisoformat(text.strip()).strftime("%H:%M")
    except ValueError:
        return ""
