"""A reading that moved too far in too short a time, with no cause between that the journal knows."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass
from datetime import timedelta
from operator import attrgetter

from planner.judge.facts import Facts, instant_of
from planner.judge.kinds.kind import JudgedKind
from planner.judge.possible import Possible, since
from planner.judge.scene import NEVER, NO, UNKNOWN, YES, Scene
from planner.rulebook.kinds.swing import SwingNode
from planner.terms.readings import unit_factor
from planner.terms.records import Amount, Row, Trace
from planner.terms.traces import Asked, NoReading, Unread


@dataclass(frozen=True, slots=True, kw_only=True)
class SwingAsked(Asked):
    name: str
    by: Amount
    within_h: float
    units: str


def answer(node: SwingNode, scene: Scene) -> Trace:
    facts, number = scene.facts, scene.rules.numbers[node.by]
    hours = scene.rules.hours(node.within)
    what = SwingAsked(name=node.name, by=Amount(number.value, number.unit), within_h=hours, units=facts.tank.units)
    if (hidden := facts.unreadable(node.name, node.where)) is not None:
        damaged = Unread(facts.journal.file, hidden.line)
        return Trace(what, UNKNOWN, (damaged,), gap=damaged)
    rows = _exact(node, facts)
    if not rows:
        return Trace(what, UNKNOWN, (NoReading(),), gap=NoReading())
    newest, limit = rows[-1], number.value * unit_factor(node.name, number.unit)
    between = [r for kind in node.unless_between for r in facts.rows(kind) if r.where == node.where]
    for other in _since(rows, newest, hours):
        if newest.earliest - other.latest > hours * 3600 or any(other.earliest <= cause.latest and cause.earliest <= newest.latest for cause in between):
            continue
        if abs((newest.low or 0.0) - (other.low or 0.0)) > limit * 1.000001:
            return Trace(what, YES, (other, newest), (other, newest))
    return Trace(what, NO, (newest,), (newest,))


def _since(rows: list[Row], newest: Row, hours: float) -> list[Row]:
    """The rows before the newest that may lie within so many hours of it, oldest first: two offsets may name one instant by two days."""
    return rows[bisect_left(rows, newest.day - timedelta(hours=hours, days=3), key=attrgetter("day")) : -1]


def _exact(node: SwingNode, facts: Facts) -> list[Row]:
    return [r for r in facts.rows("reading", node.name) if r.where == node.where and r.low is not None and r.low == r.high]


def may_hold(node: SwingNode, scene: Scene) -> Possible:
    rows = _exact(node, scene.facts)
    return since(instant_of(rows[1]) if len(rows) > 1 else NEVER)


KIND = JudgedKind(answer, may_hold)
