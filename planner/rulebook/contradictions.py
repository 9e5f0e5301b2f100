"""Orders of the rules that shut each other out by what `together.yaml` says: in one task, or in two that always fall on
one day, of which one would never be done."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from planner.rulebook.shapes import Rulebook
from planner.rulebook.task_rule import TaskRule
from planner.rulebook.what_jobs_do import Act, Apart, acts_of
from planner.terms.problems import Place, Problem


def contradictions(book: Rulebook) -> Iterator[Problem]:
    """Each pair once, at the place of the task that would give way."""
    lines = [line for line in book.apart if line.first and line.how != "merge"]
    for owner, tasks in [(p.phase, p.tasks) for p in book.phases] + [(a.alert, a.tasks) for a in book.alerts]:
        in_alert = any(a.alert == owner for a in book.alerts)
        for task in tasks:
            for line in lines:
                if (pair := _clash(line, acts_of(task), acts_of(task), within=True)) is not None:
                    yield _problem(book, f"{owner}/{task.id}", f"{owner}/{task.id} both {_said(pair[0])} and {_said(pair[1])}, which never stand on one day", line)
                    break
        for one, other in combinations(tasks, 2):
            if _one_day(one, other, f"{owner}/{one.id}", f"{owner}/{other.id}", in_alert):
                for line in lines:
                    for goes, waits in ((one, other), (other, one)):
                        if (pair := _clash(line, acts_of(goes), acts_of(waits))) is not None:
                            yield _problem(book, f"{owner}/{waits.id}", f"{owner}/{goes.id} {_said(pair[0])} and {owner}/{waits.id} {_said(pair[1])}, always on one day", line)
                            break


def _clash(line: Apart, goes: frozenset[Act], waits: frozenset[Act], within: bool = False) -> tuple[Act, Act] | None:
    """The two acts that the line keeps apart; one act against itself needs two tasks."""
    return next(((a, b) for a in line.first if a in goes for b in line.yields if b in waits and not (within and a == b)), None)


def _one_day(one: TaskRule, other: TaskRule, key: str, other_key: str, in_alert: bool) -> bool:
    """Do both always fall on one day, in one water, for the same tanks?"""
    if one.where != other.where or one.only_when != other.only_when or one.unless_stages != other.unless_stages or one.per_stage != other.per_stage:
        return False
    if any(t.when is not None or t.unless is not None for t in (one, other)):
        return False
    for task, before in ((one, other_key), (other, key)):
        if task.anchor is not None and task.anchor.task == before:
            return task.wait is None
    return one.wait == other.wait and one.every == other.every and (one.anchor == other.anchor if not in_alert else True)


def _problem(book: Rulebook, at: str, message: str, line: Apart) -> Problem:
    return Problem(book.places.get(at, Place("rules")), "acts-collide", f"{message} ({book.places.get(f'together/{line.id}', 'together')})",
                   "give one of the two a day of its own, or take the act out")


def _said(act: Act) -> str:
    return act.replace("_", " ")


__all__ = ["contradictions"]
