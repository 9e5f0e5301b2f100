"""The days of a plan that a keeper waits for, each as quick, likely and slow, read off its gates and tasks."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date

from planner.terms.records import CLOSED, Plan, Task, Window

NEVER = Window(None, None, None)
WINDOW_DAYS = ("earliest", "likely", "latest")


def open_tasks(plan: Plan) -> tuple[Task, ...]:
    """What is neither done nor skipped."""
    return tuple(t for t in plan.tasks if t.state not in CLOSED)


def gate_window(plan: Plan, phase: str) -> Window:
    """The day on which a gate opens; the three in one where it has opened."""
    found = plan.phase(phase)
    if found is None:
        return NEVER
    return Window(found.opened, found.opened, found.opened) if found.opened is not None else found.window


def first_animal(plan: Plan) -> Window:
    """When the first animal still to come enters the display tank. Quarantine does not count: its water is not this tank's."""
    return _first([t for t in open_tasks(plan) if t.role == "animals" and t.where == "display"])


def first_fish(plan: Plan) -> Window:
    """When the first stage of fish still to come enters the display tank."""
    return _first([t for t in open_tasks(plan) if t.role == "animals" and t.phase == "fish"])


def _first(tasks: Sequence[Task]) -> Window:
    """In each scenario the first of them: which one that is may differ."""
    return Window(*(min((d for t in tasks if (d := getattr(t.window, name)) is not None), default=None) for name in WINDOW_DAYS))


def wish_list_done(plan: Plan) -> Window:
    """When the last stage of the wish list is in; no date as soon as one stage has none."""
    stages = [t.window for t in plan.tasks if t.animals and t.phase != "quarantine"]
    return Window(*(_last(getattr(w, name) for w in stages) for name in WINDOW_DAYS)) if stages else NEVER


def _last(days: Iterable[date | None]) -> date | None:
    known = list(days)
    return max(d for d in known if d is not None) if known and None not in known else None


__all__ = ["NEVER", "WINDOW_DAYS", "first_animal", "first_fish", "gate_window", "open_tasks", "wish_list_done"]
