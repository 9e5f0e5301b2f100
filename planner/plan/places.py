"""Where a job has its place in an evening beside the tank.

Look first, top up, test; then whatever else; change and clean with the power off; dose, let animals in, feed. What an
alarm asks for comes before all that, in the order of what kills first.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

from planner.rulebook.shapes import AlertRule, Rulebook
from planner.rulebook.task_rule import TaskRule
from planner.rulebook.what_jobs_do import acts_of
from planner.terms.records import Task

Place = Literal["look", "top_up", "test", "other", "hands_in", "dose", "animals", "feed"]
PLACES: tuple[Place, ...] = ("look", "top_up", "test", "other", "hands_in", "dose", "animals", "feed")
DOSES = frozenset({"adds_ammonia", "moves_alkalinity", "keeps_alkalinity", "moves_calcium", "moves_magnesium", "moves_salinity", "medicates"})


def place_of(rule: TaskRule | None) -> Place:
    """Where in the walk a task belongs, by what it reads and does."""
    if rule is None:
        return "other"
    acts = acts_of(rule)
    if rule.evening is not None:
        return rule.evening
    if "adds_animals" in acts:
        return "animals"
    if acts & {"changes_water", "cleans_filter"}:
        return "hands_in"
    if rule.reads:
        return "test"
    if acts & DOSES:
        return "dose"
    return "feed" if "feeds" in acts else "other"


def alarm_place(task: Task, alert: AlertRule | None) -> tuple[int, int, bool, bool]:
    """Among the jobs of alarms: help for all of them comes first, then the tests beside it, then what only tells that one is over; in each
    the gravest first, and among those for people somebody who is hurt. A test that is all an alarm asks for counts as its help, and so does one that
    decides on its change. The same for every job of no alarm."""
    if alert is None:
        return 0, 0, False, False
    beside = task.role == "test" and not task.leads and any(t.role == "remedy" for t in alert.tasks)
    return (2 if task.role in ("step", "care") else int(beside), *alert.order)


def alarm_order(task: Task, rules: Rulebook) -> tuple[int, int, bool, bool, int, int]:
    """The same, then alarms that keep hands out of the water in the order of their lines, and the jobs of an alarm as its rule has them.
    Nothing for a job of no alarm."""
    alert = next((a for a in rules.alerts if a.alert == task.phase), None)
    if alert is None:
        return 0, 0, False, False, 0, 0
    in_rule = -1 if task.leads else next((n for n, t in enumerate(alert.tasks) if f"{alert.alert}/{t.id}" == task.key), 0)
    return (*alarm_place(task, alert), hands_out_place(alert.alert, rules), in_rule)


def hands_out_place(alert: str, rules: Rulebook) -> int:
    """Where among the lines that keep hands out an alarm stands; behind them all one that is in none."""
    lines = [line for line in rules.apart if line.hands_out]
    return next((n for n, line in enumerate(lines) if alert in line.while_alerts), len(lines))


def in_order(tasks: Iterable[Task], rules: Rulebook) -> list[Task]:
    """Tasks in the order in which they are done. What hangs on another one of them never comes before it."""
    tasks = list(tasks)
    alerts = {a.alert for a in rules.alerts}
    by_key = {t.key: t for t in tasks}

    def walked(task: Task, seen: frozenset[str] = frozenset()) -> tuple[int, int]:
        rule = rules.tasks.get(task.key)
        mine = 0 if task.phase in alerts else 1 + PLACES.index(place_of(rule))
        cause = by_key.get(rule.anchor.task) if rule is not None and rule.anchor is not None and rule.anchor.task is not None else None
        if cause is None or cause.key in seen or cause is task:
            return mine, 0
        before, depth = walked(cause, seen | {task.key})
        return (before, depth + 1) if before >= mine else (mine, 0)

    def key(task: Task) -> tuple[int, tuple[int, int, bool, bool, int], bool, int]:
        place, depth = walked(task)
        return place, alarm_order(task, rules)[:5], not task.leads, depth

    return sorted(tasks, key=key)  # the plan's own order where the walk has none


def asks_first(task: Task, rules: Rulebook) -> bool:
    """A dose, a change of water or an animal: what a slip of a number must not write."""
    rule = rules.tasks.get(task.key)
    return bool(task.animals) or (rule is not None and (rule.role == "animals" or bool(acts_of(rule) & (DOSES | {"adds_animals", "changes_water"}))))


__all__ = ["DOSES", "PLACES", "Place", "alarm_order", "alarm_place", "asks_first", "hands_out_place", "in_order", "place_of"]
