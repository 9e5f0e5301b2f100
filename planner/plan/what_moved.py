"""The difference between two plans of one day: which dates moved, what came and what went."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from planner.terms.records import Moved, Plan, State

Dated = tuple[str, date | None]
"""A title, and the likely day."""


def what_moved(before: Plan, after: Plan, because: str) -> tuple[Moved, ...]:
    """Tasks and gates whose likely date differs between two plans of one day, and those that came or went. Done ones
    are left out; of repeating tasks only the next occurrence counts."""
    return _moved(_dates(before), _dates(after), after, because)


def gates_moved(before: Mapping[str, Dated], after: Plan) -> tuple[Moved, ...]:
    """The gates among them, where of the first plan the days of its shut gates are at hand."""
    return _moved(before, gate_dates(after), after, "")


def _moved(old: Mapping[str, Dated], new: Mapping[str, Dated], after: Plan, because: str) -> tuple[Moved, ...]:
    moved = []
    for id in sorted(old.keys() | new.keys()):
        title, then = old.get(id, (new.get(id, ("", None))[0], None))
        _, now = new.get(id, (title, None))
        if then != now and (id in new or not _closed(after, id)):
            moved.append(Moved(id, title, then, now, because))
    return tuple(sorted(moved, key=lambda m: (m.after or m.before or date.max, m.id)))


def _dates(plan: Plan) -> dict[str, Dated]:
    found: dict[str, Dated] = {}
    seen: set[str] = set()
    for task in plan.tasks:
        if task.state in (State.DONE, State.SKIPPED) or task.key in seen:
            continue
        if task.id != task.key:
            seen.add(task.key)
        found[task.id] = (task.title, task.date)
    return found | gate_dates(plan)


def gate_dates(plan: Plan) -> dict[str, Dated]:
    """The shut gates of a plan as `gate/phase`, with the title of the phase that each ends and its likely day."""
    return {f"gate/{p.id}": (p.title, p.window.likely) for p in plan.phases if p.opened is None}


def _closed(plan: Plan, id: str) -> bool:
    task = plan.task(id)
    if id.startswith("gate/"):
        phase = plan.phase(id.removeprefix("gate/"))
        return phase is not None and phase.opened is not None
    return task is None or task.state in (State.DONE, State.SKIPPED)


__all__ = ["Dated", "gate_dates", "gates_moved", "what_moved"]
