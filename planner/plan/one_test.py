"""One test a day of each reading in each water: tests of one day that share a reading become one job. That of the
gravest alarm, else the one that asks for the most, stands and reads for all; the others count as made with it, and what they
ask for besides the test goes along."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from planner.judge.facts import Facts
from planner.judge.gates import Verdicts
from planner.judge.kinds.reading import ReadingAsked
from planner.plan.dues import Due
from planner.plan.orders import Order, Orders
from planner.rulebook.what_jobs_do import RANKS
from planner.terms.records import Answer, Trace, Yielded

A_LITTLE = 1e-6


def merge_tests(orders: Orders, verdicts: Verdicts) -> None:
    """In each water the tests of today that share a reading, one job of them."""
    left = [o for o in orders.all if orders.is_today(o) and _may_join(orders, o)]
    while left:
        group = [left.pop(0)]
        while near := [o for o in left if any(_share(o, g, verdicts) for g in group)]:
            group += near
            left = [o for o in left if o not in near]
        if len(group) > 1:
            _join(orders, group, verdicts)


def readings_asked(due: Due, verdicts: Verdicts) -> tuple[str, ...]:
    """What a test reads; with `reads_unmet` only what its gate does not know, or knows to be out of its band."""
    gate = verdicts.gates.get(due.phase)
    if not due.rule.reads_unmet or gate is None or gate.opened is not None:
        return due.rule.reads
    open_names = {t.asked.name for t in all_traces(gate.trace) if isinstance(t.asked, ReadingAsked) and t.answer != Answer.YES}
    return tuple(n for n in due.rule.reads if n in open_names) or due.rule.reads


def all_traces(trace: Trace) -> Iterator[Trace]:
    yield trace
    for part in trace.parts:
        yield from all_traces(part)


def off_scale(names: tuple[str, ...], where: str, facts: Facts) -> tuple[str, ...]:
    """Readings of which the last test lay at or beyond the end of the kit's scale: the next one is of a diluted sample."""
    found = []
    for name in names:
        kit, row = facts.tank.test_kits.get(name), next((r for r in reversed(facts.rows("reading", name)) if r.where == where), None)
        highest = kit.highest_internal(name) if kit is not None else None
        if row is not None and highest and (row.low or 0.0) >= highest * (1 - A_LITTLE):
            found.append(name)
    return tuple(found)


def steps_besides(due: Due) -> tuple[int, ...]:
    """The steps of a test that another job's test does not do: those it names, and those of its acts."""
    acts = {n for steps in due.rule.act_steps.values() for n in steps}
    return tuple(n for n in sorted(acts.union(due.rule.besides)) if n not in due.without)


def _may_join(orders: Orders, order: Order) -> bool:
    """Not a diluted sample, nor one of a vessel of its own; and no test that follows something of today: a reading from before it would say nothing of it."""
    rule = order.due.rule
    if rule.role != "test" or not rule.reads or rule.diluted or rule.own_sample:
        return False
    cause = rule.anchor.task if rule.anchor is not None and rule.per_stage is None else None
    after = [o for o in orders.all if o.due.key == cause or (o.due.phase == order.due.phase and o.due.rule.again is not None)]
    return not any(orders.is_today(o) or (o.due.closed is not None and o.due.closed.day == orders.on) for o in after)


def _looks_after_change(orders: Orders, order: Order) -> bool:
    """Does this test wait an hour after a change of water of today? Where it is one of several, all of them wait with it."""
    changes = [o.due.key for o in orders.all if o.due.phase == order.due.phase and o.due.rule.again is not None]
    return order.due.rule.anchor is None and any(row.day == orders.on for key in changes for row in orders.facts.rows("done", key))


def _share(one: Order, other: Order, verdicts: Verdicts) -> bool:
    return one.due.rule.where == other.due.rule.where and not set(readings_asked(one.due, verdicts)).isdisjoint(readings_asked(other.due, verdicts))


def _join(orders: Orders, group: list[Order], verdicts: Verdicts) -> None:
    """The test of the gravest alarm stands; without one what asks for the most, and of equal ones what has a cause of today."""
    first, *rest = sorted(group, key=lambda o: (o.due.phase not in orders.alerts, RANKS.index(o.rank), not _looks_after_change(orders, o), -len(readings_asked(o.due, verdicts)), o.due.trace is None, o.place, o.due.occurrence))
    first.due = replace(first.due, stands_for=tuple(o.due for o in rest))
    for order in rest:
        order.yielded.append(Yielded("tested_with", to=first.due.id, title=first.due.rule.title))
        order.due = replace(order.due, left_out=True)


__all__ = ["all_traces", "merge_tests", "off_scale", "readings_asked", "steps_besides"]
