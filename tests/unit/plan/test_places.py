"""The order in which the jobs of alarms stand, whatever was written first. Contract of this project; no outside figures."""

from __future__ import annotations

from itertools import permutations

from planner.plan.day_jobs import Day, Job
from planner.plan.places import in_order
from planner.show.terminal.joblines import as_printed
from planner.terms.records import State
from tests.rulecases import rulebook
from tests.unit.plan_builder import ON, plan, task

BY_DANGER = ["leak/stop", "sting/first-aid", "ammonia-three/bind", "ammonia-three/change", "ammonia-three/retest", "leak/repaired"]
"""What may kill a keeper, what hurts one, the binder before the change that its own text follows, the test of both, and what only ends an alarm."""


def test_jobs_of_alarms_stand_by_danger_and_not_by_age() -> None:
    rules = rulebook()
    tasks = [task(id, ON, state=State.DUE, role=rules.tasks[id].role) for id in BY_DANGER]
    for number, order in enumerate(permutations(tasks)):
        if number % 7:
            continue  # every seventh of 720 is enough
        jobs = tuple(Job(n, t, "open", True) for n, t in enumerate(order, 1))
        assert [j.task.id for j in as_printed(Day(plan(*order), jobs), rules)[0]] == BY_DANGER


def test_the_walk_begins_with_what_may_kill_the_keeper() -> None:
    rules = rulebook()
    tasks = [task(id, ON, state=State.DUE, role=rules.tasks[id].role) for id in ("sting/first-aid", "leak/stop", "electric-shock/act")]
    assert [t.id for t in in_order(tasks, rules)] == ["electric-shock/act", "leak/stop", "sting/first-aid"]
