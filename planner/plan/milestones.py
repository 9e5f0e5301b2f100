"""The days of a plan that a keeper waits for, each as quick, likely and slow, read off its gates and tasks."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date

from planner.rulebook.shapes import PhaseRole, Rulebook
from planner.terms.causes import cause
from planner.terms.records import CLOSED, Phase, Plan, State, Task, Window

NEVER = Window(None, None, None)
WINDOW_DAYS = ("earliest", "likely", "latest")


def open_tasks(plan: Plan) -> tuple[Task, ...]:
    """What is neither done nor skipped."""
    return tuple(t for t in plan.tasks if t.state not in CLOSED)


def gate_window(plan: Plan, role: PhaseRole) -> Window:
    """The day on which the gate of a phase opens; the three in one where it has opened."""
    found = plan.phase_as(role)
    if found is None:
        return NEVER
    return Window(found.opened, found.opened, found.opened) if found.opened is not None else found.window


def unplanned(phase: Phase, plan: Plan) -> bool:
    """A phase for animals of which the wish list has none."""
    sort = phase.role.removeprefix("stocks_") if phase.role.startswith("stocks_") else ""
    return bool(sort) and cause("none_wished", sort=sort) in plan.notices


def next_animal(plan: Plan) -> Window:
    """When the first animal still to come enters the display tank. Quarantine does not count: its water is not this tank's."""
    return _first([t for t in open_tasks(plan) if t.role == "animals" and t.where == "display"])


def first_animal(plan: Plan) -> Window:
    """The same, and no day where snails that nobody wished for may come before it: they come with the first film, which no plan can date."""
    crew = plan.phase_as("stocks_crew")
    undated = crew is not None and crew.opened is None and not any(t.phase == crew.id and t.role == "animals" for t in plan.tasks)
    return NEVER if undated else next_animal(plan)


def next_fish(plan: Plan) -> Window:
    """When the first stage of fish still to come enters the display tank."""
    return _first([t for t in open_tasks(plan) if brings_fish(t, plan)])


def fish_came(plan: Plan) -> bool:
    """Is a stage of fish in already?"""
    return any(brings_fish(t, plan) and t.state == State.DONE for t in plan.tasks)


def brings_fish(task: Task, plan: Plan) -> bool:
    """Does the task bring fish into the display tank?"""
    phase = plan.phase_as("stocks_fish")
    return task.role == "animals" and phase is not None and task.phase == phase.id


def _first(tasks: Sequence[Task]) -> Window:
    """In each scenario the first of them: which one that is may differ."""
    return Window(*(min((d for t in tasks if (d := getattr(t.window, name)) is not None), default=None) for name in WINDOW_DAYS))


def over_window(phase: str, gate: Window, tasks: Iterable[Task], rules: Rulebook) -> Window:
    """When a phase is over: its gate has opened, and each of its stages of animals has had its last test."""
    stages = [t.window for t in tasks if t.state not in CLOSED and t.phase == phase and t.key in rules.tasks and rules.tasks[t.key].per_stage is not None]
    return Window(*(_last((getattr(gate, name), *(getattr(w, name) for w in stages))) for name in WINDOW_DAYS))


def wish_list_done(plan: Plan) -> Window:
    """When the last stage of the wish list is in; no date as soon as one stage has none."""
    stages = [t.window for t in plan.tasks if t.animals and t.where == "display"]
    return Window(*(_last(getattr(w, name) for w in stages) for name in WINDOW_DAYS)) if stages else NEVER


def _last(days: Iterable[date | None]) -> date | None:
    known = list(days)
    return max(d for d in known if d is not None) if known and None not in known else None


__all__ = ["NEVER", "WINDOW_DAYS", "brings_fish", "first_animal", "next_animal", "next_fish", "fish_came", "gate_window", "open_tasks", "over_window", "wish_list_done"]
