"""What rings: one entry a day with the day's jobs in its text, and one for what is late.

There is one alarm a day, at the keeper's hour, and none on a day without a job that may be done. The days of four weeks
are written whether or not the jobs before them were ticked, so that a phone goes on ringing for somebody who falls behind;
the last of them asks for a new export.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from planner.rulebook.shapes import Rulebook
from planner.show.calendar.entries import WORK, Entry, beat_of, by_key, has_entry, is_overdue, keepers_hour, last_day, own_hour, standing, uid_for
from planner.show.calendar.text import day_in_words, guard, how_to, one_line
from planner.terms.records import Plan, Task

LENGTH_MINUTES = 30
"""Of the entry of a day, always: its length is no estimate, and so never moves."""
LATE_KEY, END_KEY = "late", "end"
"""Of what is late, and of the end of the calendar where no job stands on its last day: one entry each, that moves."""
LATE_DAYS = (1, 3, 7, 14)
"""How many days after a job became late its entry stands; then every fourteen."""


@dataclass(frozen=True, slots=True)
class Ending:
    """What the last day of a calendar says: in its title, and in its text."""

    title: str
    text: str


EXPORT_AGAIN = Ending("Export again", "This calendar ends here. Run newtank calendar in the tank's folder again, and import the new file.")
FEED_ENDS = Ending("Feed ends", "This feed ends here, and should have renewed itself long before. Publish it again, or see that what serves it still runs.")


def day_key(day: date) -> str:
    """The one key with a date in it."""
    return f"day/{day.isoformat()}"


def is_of_days(key: str) -> bool:
    return key in (LATE_KEY, END_KEY) or key.startswith("day/")


def day_entries(plan: Plan, rules: Rulebook, stands: Mapping[str, date], *, timed: bool = True, ending: Ending = EXPORT_AGAIN) -> tuple[Entry, ...]:
    """The entries of the days from `plan.on` on, and that of what is late. `stands`: the day on which the own entry of a job
    stands, by its id, where that is not the plan's. With `timed` they stand at the keeper's hour and ring then; without they
    are all-day, and ring at that hour of the evening before."""
    assert plan.tank_id is not None
    end = last_day(plan.on)
    jobs: dict[date, list[Task]] = {end: []}
    late: list[Task] = []
    for task in plan.tasks:
        if standing(task) == "done" and task.closed_on == plan.on:
            jobs.setdefault(plan.on, []).append(task)
    for tasks in by_key(plan).values():
        tasks = [t for t in tasks if not t.tested_with]
        beat = beat_of(tasks, plan, rules) if tasks else []
        for n, day in enumerate(beat):
            if plan.on <= day <= end:
                jobs.setdefault(day, []).append(tasks[min(n, len(tasks) - 1)])
        for task in [] if beat else tasks:
            # A remedy is never merely late: it stands among today's jobs until it is done.
            today = is_overdue(task, plan.on) and task.role == "remedy"
            day = plan.on if today else stands.get(task.id, task.date or plan.on)
            if today or (plan.on <= day <= end and not is_overdue(task, plan.on)):
                jobs.setdefault(day, []).append(task)
        late += [t for t in tasks[:1] if is_overdue(t, plan.on) and (has_entry(t, rules) if beat else t.role != "remedy")]
    found = {day: _of_day(plan, rules, plan.tank_id, day, tasks, ending if day == end else None) for day, tasks in jobs.items()}
    rung = [_ringing(e, plan, timed) for e in found.values()]
    if late:
        entry = _of_late(plan, rules, plan.tank_id, late)
        silent = any(e.day == entry.day and e.alarm_minutes is not None for e in rung)
        rung.append(entry if silent else _ringing(entry, plan, timed))
    return tuple(sorted(rung, key=lambda e: (e.day, e.uid)))


def _of_day(plan: Plan, rules: Rulebook, tank_id: str, day: date, tasks: Sequence[Task], ending: Ending | None) -> Entry:
    tasks = sorted(tasks, key=lambda t: (own_hour(t, plan), t.role == "care", t.id))
    still_open = [t for t in tasks if standing(t) == "firm"]
    done = bool(tasks) and not still_open and ending is None
    counted = _counted(tasks if done else still_open)
    title = (f"{ending.title}: {_counted(still_open, minutes=False)}" if still_open else ending.title) if ending is not None else f"Reef: {counted}"
    parts = [ending.text] if ending is not None else []
    parts += ["\n".join(_line(t, plan) for t in tasks)] if tasks else []
    parts += ["\n\n".join([one_line(t.title) + ":", *how_to(t, plan.units)]) for t in still_open if not has_entry(t, rules)]
    key = day_key(day) if tasks else END_KEY
    return Entry(uid_for(tank_id, key), key, "done" if done else "firm", counted if done else title, day, zone=plan.timezone or "UTC", category=WORK, tells_when=False,
                 guard=guard((c for t in still_open for c in t.cautions), rules.cautions), text="\n\n".join(parts))


def _of_late(plan: Plan, rules: Rulebook, tank_id: str, late: Sequence[Task]) -> Entry:
    late = sorted(late, key=lambda t: (t.due or plan.on, t.id))
    text = "Still open, the oldest first:\n" + "\n".join(f"- {one_line(t.title)} ({t.minutes} min, from {day_in_words(t.due or plan.on)})" for t in late)
    return Entry(uid_for(tank_id, LATE_KEY), LATE_KEY, "firm", f"Late: {_counted(late)}", min(late_day(t.due or plan.on, plan.on) for t in late), zone=plan.timezone or "UTC", category=WORK,
                 tells_when=False, guard=guard((c for t in late for c in t.cautions), rules.cautions), text=text)


def late_day(due_on: date, on: date) -> date:
    """The next of the days on which a job is told as late, counted from the day on which it was due."""
    passed = (on - due_on).days
    told = next((n for n in LATE_DAYS if n >= passed), None)
    return due_on + timedelta(days=told if told is not None else -(-passed // LATE_DAYS[-1]) * LATE_DAYS[-1])


def _ringing(entry: Entry, plan: Plan, timed: bool) -> Entry:
    hour = keepers_hour(plan)
    alarm = (0 if timed else 24 * 60 - int(hour[:2]) * 60 - int(hour[3:])) if entry.state == "firm" else None
    return replace(entry, time=hour if timed else "", minutes=LENGTH_MINUTES if timed else 0, alarm_minutes=alarm)


def _line(task: Task, plan: Plan) -> str:
    hour = own_hour(task, plan)
    return f"- {'done: ' if standing(task) == 'done' else ''}{f'{hour} ' if hour else ''}{one_line(task.title)} ({task.minutes} min)"


def _counted(tasks: Iterable[Task], minutes: bool = True) -> str:
    """`3 jobs, 40 min`."""
    found = list(tasks)
    jobs = f"{len(found)} job{'s' if len(found) != 1 else ''}"
    total = sum(t.minutes for t in found)
    return jobs if not minutes else f"{jobs}, {total} min" if total < 100 else f"{jobs}, {round(total / 60)} h"


__all__ = ["END_KEY", "EXPORT_AGAIN", "FEED_ENDS", "LATE_KEY", "Ending", "day_entries", "day_key", "is_of_days", "late_day"]
