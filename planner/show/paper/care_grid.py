"""Weekly care as a grid for the first twelve weeks, with room for the weekly readings."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from planner.files.tank import Tank
from planner.judge.kinds.reading import ReadingAsked
from planner.plan.milestones import gate_window
from planner.rulebook.shapes import Rulebook
from planner.show.json.record_objects import Json
from planner.show.paper.cycle_sheet import title, unit_of
from planner.show.paper.needs import LAST_GATE
from planner.show.paper.often import first_day, interval_days, interval_words
from planner.show.terminal.agenda import CLOSED, next_of_each
from planner.show.words.conditions import bounds_words
from planner.show.words.words import bare_day
from planner.terms.records import Plan, Task

WEEKS, WEEK = 12, 7
TITLE = "Twelve weeks of care"
READ = ("ammonia", "nitrite", "nitrate", "ph", "alkalinity", "salinity", "temperature")


def care_data(plan: Plan, tank: Tank, rules: Rulebook) -> Json | None:
    """None where the rules have no phase without end, or nothing of it is open."""
    phase = plan.phase_as("without_end")
    tasks = [t for t in plan.tasks if phase is not None and t.phase == phase.id and t.state not in CLOSED]
    if phase is None or not tasks:
        return None
    start = first_day(tasks)
    jobs = next_of_each(tasks)
    seen: dict[str, tuple[Task, Sequence[Task]]] = {}
    for task, later in jobs:
        seen.setdefault(task.key, (task, later))
    begins = gate_window(plan, LAST_GATE).likely or start
    return {
        "title": TITLE, "from": f"about {bare_day(begins, plan.on)}" if begins is not None and begins > plan.on else "",
        "rows": [_row(task, later, start, rules) for task, later in seen.values()], "weeks": WEEKS,
        "reads": [(title(name), "" if unit_of(name, tank) in (band := _band(name, plan)) else unit_of(name, tank), band) for name in READ],
    }


def _row(task: Task, later: Sequence[Task], start: date | None, rules: Rulebook) -> Json:
    """How many boxes each week has: one a day, one where it falls due, none."""
    days = interval_days(task, later, rules) or 0
    first = (task.date - start).days if task.date is not None and start is not None else 0
    due = [first + n * days for n in range(WEEKS * WEEK // days + 1)] if days else [first]
    rule = rules.tasks.get(task.key)
    return {"title": rule.short if rule is not None and rule.short else task.title, "often": (interval_words(days) if days else "once") + (f", first in week {first // WEEK + 1}" if first >= WEEKS * WEEK else ""), "boxes": [sum(w * WEEK <= d < (w + 1) * WEEK for d in due) for w in range(WEEKS)]}


def _band(name: str, plan: Plan) -> str:
    """What the gate to animals asks of this reading."""
    gate = plan.phase_as(LAST_GATE)
    for need in gate.needs if gate is not None else ():
        if isinstance(need.trace.asked, ReadingAsked) and need.trace.asked.name == name:
            return bounds_words(need.trace.asked, "your kit's zero")
    return ""


__all__ = ["care_data"]
