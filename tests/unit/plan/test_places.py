"""The order in which the jobs of alarms stand, whatever was written first. Contract of this project; no outside figures."""

from __future__ import annotations

from itertools import permutations

from planner.plan.day_jobs import Day, Job
from planner.plan.places import in_order
from planner.show.terminal.joblines import as_printed
from planner.terms.records import State
from tests.rulecases import rulebook
from tests.unit.plan_builder import ON, plan, task

BY_DANGER = ["sting/first-aid", "leak/stop", "ammonia-three/bind", "ammonia-three/change", "ammonia-three/retest", "leak/repaired"]
"""Somebody who is hurt, what may kill a keeper, the binder before the change that its own text follows, the test of both, and what only ends an alarm."""


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
    assert [t.id for t in in_order(tasks, rules)] == ["electric-shock/act", "sting/first-aid", "leak/stop"]


def test_who_is_hurt_beside_a_leak_switches_off_at_the_fuse_box_first() -> None:
    """People come before the leak, and the mains before people (common practice, no source)."""
    for key in ("sting/first-aid", "palytoxin/help", "chemical-splash/helped"):
        assert "fuse box" in str(rulebook().tasks[key].steps[0]), key


def test_help_for_every_alarm_comes_before_the_test_of_the_gravest() -> None:
    rules = rulebook()
    tasks = [task(id, ON, state=State.DUE, role=rules.tasks[id].role) for id in ("oxygen-severe/retest", "ammonia-three/change", "oxygen-severe/air", "ammonia-three/retest")]
    asked = ["oxygen-severe/air", "ammonia-three/change", "oxygen-severe/retest", "ammonia-three/retest"]
    assert [t.id for t in in_order(tasks, rules)] == asked
    assert [j.task.id for j in as_printed(Day(plan(*tasks), tuple(Job(n, t, "open", True) for n, t in enumerate(tasks, 1))), rules)[0]] == asked


def test_a_change_that_may_save_an_animal_comes_before_the_tests_of_an_alarm_of_its_own_rank() -> None:
    """Half an hour of tests is time that a fish in ammonia has not (common practice, no source)."""
    rules = rulebook()
    tasks = [task(id, ON, state=State.DUE, role=rules.tasks[id].role) for id in ("animal-early/test", "ammonia-three/change")]
    asked = ["ammonia-three/change", "animal-early/test"]
    assert [t.id for t in in_order(tasks, rules)] == asked
    assert [j.task.id for j in as_printed(Day(plan(*tasks), tuple(Job(n, t, "open", True) for n, t in enumerate(tasks, 1))), rules)[0]] == asked


def test_a_test_that_decides_on_the_change_comes_before_it_and_after_the_help_for_a_graver_alarm() -> None:
    rules = rulebook()
    asked = ["oxygen-severe/air", "ammonia-one/retest", "ammonia-one/change"]
    tasks = [task(id, ON, state=State.DUE, role=rules.tasks[id].role, leads=id == "ammonia-one/retest") for id in reversed(asked)]
    assert [t.id for t in in_order(tasks, rules)] == asked


def test_a_test_that_is_all_an_alarm_asks_for_waits_for_no_milder_help() -> None:
    rules = rulebook()
    tasks = [task(id, ON, state=State.DUE, role=rules.tasks[id].role) for id in ("phosphate-high/lower", "animal-lost/test")]
    assert [t.id for t in in_order(tasks, rules)] == ["animal-lost/test", "phosphate-high/lower"]


def test_a_batch_is_tested_and_adjusted_before_the_next_one_takes_its_bin() -> None:
    rules = rulebook()
    tasks = [task(id, ON, state=State.DUE, role=rules.tasks[id].role) for id in ("water/look", "water/mix-more", "water/measure", "water/trim", "water/alkalinity")]
    assert [t.id for t in in_order(tasks, rules)][-1] == "water/mix-more"
