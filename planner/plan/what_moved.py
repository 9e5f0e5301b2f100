"""The difference between two plans of one day: which dates moved, what came and what went."""

from __future__ import annotations

from datetime import date

from planner.terms.records import Moved, Plan, State


def what_moved(before: Plan, after: Plan, because: str) -> tuple[Moved, ...]:
    """Tasks and gates whose likely date differs between two plans of one day, and those that came or went. Done ones
    are left out; of repeating tasks only the next occurrence counts."""
    moved = []
    old, new = _dates(before), _dates(after)
    for id in sorted(old.keys() | new.keys()):
        title, then = old.get(id, (new.get(id, ("", None))[0], None))
        _, now = new.get(id, (title, None))
        if then != now and (id in new or not _closed(after, id)):
            moved.append(Moved(id, title, then, now, because))
    return tuple(sorted(moved, key=lambda m: (m.after or m.before or date.max, m.id)))


def _dates(plan: Plan) -> dict[str, tuple[str, date | None]]:
    found: dict[str, tuple[str, date | None]] = {}
    seen: set[str] = set()
    for task in plan.tasks:
        if task.state in (State.DONE, State.SKIPPED) or task.key in seen:
            continue
        if task.id != task.key:
            seen.add(task.key)
        found[task.id] = (task.title, task.date)
    for phase in plan.phases:
        if phase.opened is None:
            found[f"gate/{phase.id}"] = (f"gate: {phase.title}", phase.window.likely)
    return found


def _closed(plan: Plan, id: str) -> bool:
    task = plan.task(id)
    if id.startswith("gate/"):
        phase = plan.phase(id.removeprefix("gate/"))
        return phase is not None and phase.opened is not None
    return task is None or task.state in (State.DONE, State.SKIPPED)


__all__ = ["what_moved"]
