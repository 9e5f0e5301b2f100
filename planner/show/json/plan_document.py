"""A Plan in its machine form: the objects behind `plan --json` and `today --json`.

`schema` says the same in JSON Schema.
"""

from __future__ import annotations

from planner.plan.day_jobs import Day
from planner.rulebook.shapes import Rulebook
from planner.show.json.record_objects import (
    Json,
    caution_texts,
    forecast_document,
    hold_document,
    job_document,
    moved_document,
    phase_document,
    problem_document,
    quantity_document,
    tank_document,
    task_document,
    waiting_document,
)
from planner.show.terminal.agenda import next_tasks
from planner.show.words.causes import all_words
from planner.terms.records import Plan, State


def plan_document(plan: Plan, rules: Rulebook | None = None) -> Json:
    """The whole plan. With `rules` the cautions that its tasks name are given in full."""
    return {
        "on": plan.on.isoformat(),
        "tank": tank_document(plan),
        "quantities": {q.name: quantity_document(q) for q in plan.quantities},
        "phases": [phase_document(p, plan.units) for p in plan.phases],
        "tasks": [task_document(t, plan.units) for t in plan.tasks],
        "holds": [hold_document(h) for h in plan.holds],
        "waiting_for": [waiting_document(w) for w in plan.waiting_for],
        "problems": [problem_document(p) for p in plan.problems],
        "notices": all_words(plan.notices, plan.units),
        "forecast": forecast_document(plan.forecast),
        "cautions": caution_texts(plan.tasks, rules),
    }


def today_document(day: Day, rules: Rulebook | None = None) -> Json:
    """What there is to do on one day. `jobs`: the numbers of its list, in the order to do them."""
    plan = day.plan
    late = [t for t in plan.tasks if t.state == State.LATE]
    due = [t for t in plan.tasks if t.state == State.DUE]
    coming = next_tasks(plan)
    return {
        "on": plan.on.isoformat(),
        "tank": tank_document(plan),
        "late": [task_document(t, plan.units) for t in late],
        "due": [task_document(t, plan.units) for t in due],
        "next": [task_document(t, plan.units) for t in coming],
        "jobs": [job_document(j) for j in day.jobs],
        "waiting_for": [waiting_document(w) for w in plan.waiting_for],
        "holds": [hold_document(h) for h in plan.holds],
        "problems": [problem_document(p) for p in plan.problems],
        "notices": all_words(plan.notices, plan.units),
        "cautions": caution_texts([*late, *due, *coming], rules),
    }


__all__ = ["moved_document", "plan_document", "today_document"]
