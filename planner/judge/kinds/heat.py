"""Warmth that adds up over weeks, as reefs remember it."""

from __future__ import annotations

from collections import defaultdict
from datetime import timedelta

from planner.frozen import dataclass
from planner.judge.facts import Facts, instant_of
from planner.judge.kinds.kind import JudgedKind
from planner.judge.possible import Possible, since
from planner.judge.scene import NEVER, NO, UNKNOWN, YES, Scene
from planner.rulebook.kinds.heat import HeatNode
from planner.science.trouble import heat_memory
from planner.terms.records import Row, Trace
from planner.terms.traces import Asked, NoReading

DAYS = 84
HELD_DAYS = 3
"""So long a day without a reading is taken to be as warm as the last one read (common practice, no source)."""
MONTH_READINGS = 10
"""A month with fewer readings says nothing of the tank's usual warmth."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatAsked(Asked):
    """Degree-weeks asked for and added up, above the tank's usual."""

    at_least: float
    found: float


def answer(node: HeatNode, scene: Scene) -> Trace:
    rows, wanted = _read(scene.facts), scene.rules.number(node.at_least)
    usual = usual_summer_c(rows, scene.facts, scene.rules.number(node.usual))
    if not rows:
        return Trace(HeatAsked(at_least=wanted, found=0.0), UNKNOWN, (NoReading(),), gap=NoReading())
    found = heat_memory([warm - usual for warm in daily_warmth(rows, scene.facts)])
    what = HeatAsked(at_least=wanted, found=found)
    return Trace(what, YES if found >= wanted - 1e-9 else NO, (rows[-1],), (rows[-1],))


def daily_warmth(rows: list[Row], facts: Facts) -> list[float]:
    """The warmest reading of each of the last twelve weeks' days; a day without one takes the last, for some days."""
    last = facts.cut[0].toordinal()
    warmest: dict[int, float] = {}
    for row in reversed(rows):
        if (day := row.day.toordinal()) <= last - DAYS - HELD_DAYS:
            break
        warmest[day] = max(warmest.get(day, float("-inf")), row.low or 0.0)
    found, held, since_day = [], float("-inf"), 0
    for day in range(last - DAYS + 1 - HELD_DAYS, last + 1):
        if day in warmest:
            held, since_day = warmest[day], day
        found.append(held if day - since_day <= HELD_DAYS else float("-inf"))
    return found[HELD_DAYS:]


def usual_summer_c(rows: list[Row], facts: Facts, otherwise: float) -> float:
    """The mean of the warmest month that was read well, before the last twelve weeks; else what the rules take."""
    months: dict[tuple[int, int], list[float]] = defaultdict(list)
    last = facts.cut[0] - timedelta(days=DAYS)
    for row in rows:
        if row.day <= last:
            months[(row.day.year, row.day.month)].append(row.low or 0.0)
    return max((sum(m) / len(m) for m in months.values() if len(m) >= MONTH_READINGS), default=otherwise)


def _read(facts: Facts) -> list[Row]:
    return [r for r in facts.rows("reading", "temperature") if r.where == "display" and r.low is not None and r.low == r.high]


def may_hold(node: HeatNode, scene: Scene) -> Possible:  # noqa: ARG001
    rows = _read(scene.facts)
    return since(instant_of(rows[0]) if rows else NEVER)


KIND = JudgedKind(answer, may_hold)
