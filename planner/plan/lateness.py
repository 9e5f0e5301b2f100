"""When a job is late: once a whole day has passed on which it could have been done.

What the entries of an evening called has its first day on the next one, whatever its rule waits for: a reading that asks for it,
the tick of what comes before it, the gate that opened, the purchase, or the end of what excused it.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta

from planner.judge.conditions import newest_day
from planner.judge.facts import Facts
from planner.judge.gates import Verdicts
from planner.plan.dues import Due
from planner.plan.goods import PART_OF
from planner.rulebook.shapes import Rulebook
from planner.rulebook.walk import keys_of, subjects


def first_day(due: Due, facts: Facts, rules: Rulebook, verdicts: Verdicts) -> date | None:
    """The first day on which all that a job waits for stood in the journal in the morning, its due day at the earliest."""
    if due.due is None:
        return None
    return max((due.due, *(day + timedelta(days=1) for day in _freed(due, facts, rules, verdicts) if day <= facts.on)))


def _freed(due: Due, facts: Facts, rules: Rulebook, verdicts: Verdicts) -> Iterator[date]:
    """The days whose entries freed a job."""
    rule, anchor = due.rule, due.rule.anchor
    if due.trace is not None and (called := newest_day(due.trace)) is not None:
        yield called
    hangs_on = [spec for spec in (anchor.task.partition("#")[0] if anchor is not None and anchor.task is not None else None, rule.not_before) if spec is not None]
    parts = {PART_OF[good] for good in rule.uses if good in PART_OF}
    if parts:
        hangs_on += [f"{phase.phase}/{task.id}" for phase in verdicts.phases for task in phase.tasks if task.buys in parts]
    yield from (row.day for spec in hangs_on for key in keys_of(spec, rules) if (row := facts.last("done", key)) is not None)
    gates = {spec.partition("/")[2] for spec in hangs_on if spec.startswith("gate/")} | ({anchor.gate} if anchor is not None and anchor.gate is not None else set())
    yield from (opened[0] for gate in gates if gate in verdicts.gates and (opened := verdicts.gates[gate].opened) is not None)
    begun = {due.phase, anchor.phase if anchor is not None else None} & set(verdicts.started)
    yield from (verdicts.started[phase] for phase in begun if phase is not None and verdicts.started[phase] != facts.start)
    if rule.unless is not None:  # its end is no row of its own, so the last that it looks at counts
        yield from (row.day for kind, what in subjects(rule.unless, rules) if (row := facts.last(kind, what)) is not None)


__all__ = ["first_day"]
