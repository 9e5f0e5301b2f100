"""Which tasks a page or a document shows: what comes next, the first of each, which belong to alarms."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import timedelta

from planner.rulebook.shapes import Rulebook
from planner.terms.records import Plan, State, Task

CLOSED = (State.DONE, State.SKIPPED)
URGENT = (State.LATE, State.DUE)
NEXT_DAYS, NEXT_TASKS = 7, 5
FULL_MINUTES, FULL_TASKS, FULL_LATE = 180, 6, 2
"""How much is told step by step: more is not done in one day anyway, and much of what is late was only never ticked."""


def in_full(plan: Plan, tasks: Sequence[Task]) -> list[Task]:
    """Which of the late and due tasks are told step by step, in the order given: first what clears a hold, then what no
    routine is, and of what is alike the tasks of today before late ones, as many as fit into a day."""
    instead = {key for hold in plan.holds for key in hold.instead}
    chosen: list[Task] = []
    for task in sorted(tasks, key=lambda t: (t.key not in instead and t.id not in instead, t.role == "care", t.state == State.LATE)):
        if task.state == State.LATE and sum(t.state == State.LATE for t in chosen) == FULL_LATE:
            continue
        if not chosen or (len(chosen) < FULL_TASKS and sum(t.minutes for t in chosen) + task.minutes <= FULL_MINUTES):
            chosen.append(task)
    return sorted((t for t in tasks if t in chosen), key=lambda t: t.key not in instead and t.id not in instead)


def next_tasks(plan: Plan) -> list[Task]:
    """The next few dated tasks within a week, the first occurrence of each."""
    limit = plan.on + timedelta(days=NEXT_DAYS)
    seen = {t.key for t in plan.tasks if t.state in URGENT}
    found: list[Task] = []
    for task in plan.tasks:
        if task.state in (State.PLANNED, State.WAITING) and task.date and task.date <= limit and task.key not in seen:
            seen.add(task.key)
            found.append(task)
    return found[:NEXT_TASKS]


def next_of_each(tasks: Iterable[Task]) -> list[tuple[Task, list[Task]]]:
    """Open tasks, each with its later occurrences, in the plan's order. Every late or due one stands for itself, and so
    does every stage of the wish list: each brings other animals."""
    found: list[tuple[Task, list[Task]]] = []
    last: dict[str, list[Task]] = {}
    for task in tasks:
        if task.key in last and task.state not in URGENT and not task.animals:
            last[task.key].append(task)
        else:
            last[task.key] = []
            found.append((task, last[task.key]))
    return found


def alarm_ids(plan: Plan, rules: Rulebook) -> set[str]:
    """The alerts that are up: those whose tasks the plan has."""
    return {t.phase for t in plan.tasks} & {a.alert for a in rules.alerts}
