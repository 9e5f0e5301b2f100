"""Which tasks a page or a document shows: what comes next, the first of each, which belong to alarms."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import timedelta

from planner.judge.holds import only_untested
from planner.rulebook.shapes import Rulebook
from planner.terms.records import Hold, Plan, State, Task

CLOSED = (State.DONE, State.SKIPPED)
URGENT = (State.LATE, State.DUE)
NEXT_DAYS, NEXT_TASKS = 7, 5


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


def told_holds(plan: Plan) -> list[Hold]:
    """The holds of a page: a missing test is no news while nothing comes in today that it would stop, and stands behind what needs more than a test."""
    stopped = any(t.state == State.ON_HOLD and t.role in ("animals", "shopping") and t.date is not None and t.date <= plan.on for t in plan.tasks)
    untested = [h for h in plan.holds if only_untested(h)]
    return [*(h for h in plan.holds if h not in untested), *(untested if stopped else ())]


def alarm_ids(plan: Plan, rules: Rulebook) -> set[str]:
    """The alerts that are up: those whose tasks the plan has."""
    return {t.phase for t in plan.tasks} & {a.alert for a in rules.alerts}
