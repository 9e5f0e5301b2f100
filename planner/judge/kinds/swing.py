"""A reading that moved too far in too short a time, with no cause between that the journal knows."""

from __future__ import annotations

from bisect import bisect_left
from datetime import timedelta
from operator import attrgetter

from planner.frozen import dataclass
from planner.judge.evidence import at_35, days_apart, kit_step, unread
from planner.judge.facts import Facts, instant_of, share_changed
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
    what = SwingAsked(name=node.name, by=Amount(number.value, number.unit), within_h=scene.rules.hours(node.within), units=facts.tank.units)
    if (hidden := unread(node.name, node.where, facts, scene.rules)) is not None:
        damaged = Unread(facts.journal.file, hidden.line)
        return Trace(what, UNKNOWN, (damaged,), gap=damaged)
    rows = _exact(node, facts)
    if not rows:
        return Trace(what, UNKNOWN, (NoReading(),), gap=NoReading())
    newest = rows[-1]
    if node.days is None or node.lately is None:
        pair = _moved(node, scene, rows, len(rows) - 1)
        return Trace(what, YES if pair else NO, pair or (newest,), pair or (newest,))
    lately = scene.rules.hours(node.lately) * 3600
    swings = [p for n in range(len(rows)) if newest.earliest - rows[n].latest <= lately and (p := _moved(node, scene, rows, n)) is not None]
    if len({newest_of_pair.day for _, newest_of_pair in swings}) < scene.rules.number(node.days):
        return Trace(what, NO, (newest,), (newest,))
    return Trace(what, YES, swings[-1], swings[-1])


def _moved(node: SwingNode, scene: Scene, rows: list[Row], at: int) -> tuple[Row, Row] | None:
    """The pair that shows that the reading at this place moved too far; None where it did not."""
    number, hours = scene.rules.numbers[node.by], scene.rules.hours(node.within)
    newest, limit = rows[at], number.value * unit_factor(node.name, number.unit)
    both, rises = _causes(node.unless_between, node, scene), _causes(node.rises_by, node, scene)
    lately = [r for r in _since(rows[: at + 1], newest, hours) if newest.earliest - r.latest <= hours * 3600]
    if node.single and any(abs(_value(node, scene, newest) - _value(node, scene, r)) <= limit / 2 * 1.000001 for r in lately):
        return None
    for other in lately:
        if node.two_refute and _refuted(node, scene, rows[: at + 1], other, limit):
            continue
        moved = _value(node, scene, newest) - _value(node, scene, other)
        causes = both + rises if moved > 0 else both
        if any(other.earliest <= cause.latest and cause.earliest <= newest.latest for cause in causes) or _goes_home(node, scene, other, newest):
            continue
        if abs(moved) - (_expected_fall(node, scene, other, newest) if moved < 0 else 0.0) > limit * 1.000001:
            return other, newest
    return None


def _refuted(node: SwingNode, scene: Scene, rows: list[Row], odd: Row, limit: float) -> bool:
    """Does no reading bear this one out, and do the newest and one of an earlier day after it agree, and show what was read before it?"""
    near, same = limit / 2 * 1.000001, max(limit / 2, kit_step(node.name, scene.facts.tank, scene.rules)) * 1.000001
    place, newest, value = rows.index(odd), rows[-1], _value(node, scene, odd)
    if place == 0 or any(abs(_value(node, scene, r) - value) <= near for r in rows if r is not odd and abs(r.earliest - odd.earliest) <= scene.rules.hours(node.within) * 3600):
        return False
    good = _value(node, scene, newest)
    return abs(_value(node, scene, rows[place - 1]) - good) <= same and any(
        abs(_value(node, scene, r) - good) <= same and days_apart(r, newest, scene.rules.hours("spacing")) for r in rows[place + 1 : -1])


def _value(node: SwingNode, scene: Scene, row: Row) -> float:
    return (row.low or 0.0) * (at_35(row, scene.facts, scene.rules) if node.at_35 else 1.0)


def _goes_home(node: SwingNode, scene: Scene, other: Row, newest: Row) -> bool:
    """Did it come from outside of its range, and is now nearer to it, or in it?"""
    if node.home_least is None or node.home_most is None:
        return False
    least, most = (scene.rules.number(n) * unit_factor(node.name, scene.rules.numbers[n].unit) for n in (node.home_least, node.home_most))
    was, now = other.low or 0.0, newest.low or 0.0
    return (was > most and least <= now < was) or (was < least and was < now <= most)


def _causes(kinds: tuple[str, ...], node: SwingNode, scene: Scene) -> list[Row]:
    """What may have moved it: rows of these kinds in this water."""
    share = scene.rules.number(node.large) / 100 if node.large else 0.0
    return [r for kind in kinds for r in scene.facts.rows(kind)
            if r.where == node.where and not (kind == "changed_water" and share_changed(r, scene.facts) <= share * 1.000001)]


def _expected_fall(node: SwingNode, scene: Scene, other: Row, newest: Row) -> float:
    """How far it may fall between the two by itself, where it stood so high that it was left to fall."""
    if node.falls_from is None or node.fall_a_day is None:
        return 0.0
    start, pace = scene.rules.numbers[node.falls_from], scene.rules.numbers[node.fall_a_day]
    if (other.low or 0.0) <= start.value * unit_factor(node.name, start.unit):
        return 0.0
    days = max(0.0, newest.earliest - other.latest) / 86400
    return days * pace.value * unit_factor(node.name, pace.unit)


def _since(rows: list[Row], newest: Row, hours: float) -> list[Row]:
    """The rows before the newest that may lie within so many hours of it, oldest first: two offsets may name one instant by two days."""
    return rows[bisect_left(rows, newest.day - timedelta(hours=hours, days=3), key=attrgetter("day")) : -1]


def _exact(node: SwingNode, facts: Facts) -> list[Row]:
    return [r for r in facts.rows("reading", node.name) if r.where == node.where and r.low is not None and r.low == r.high]


def may_hold(node: SwingNode, scene: Scene) -> Possible:
    rows = _exact(node, scene.facts)
    return since(instant_of(rows[1]) if len(rows) > 1 else NEVER)


KIND = JudgedKind(answer, may_hold)
