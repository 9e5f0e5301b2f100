"""What went into the water or out of it: whether, lately, and how much in all."""

from __future__ import annotations

from planner.frozen import dataclass
from planner.judge.facts import share_changed
from planner.judge.kinds.kind import JudgedKind
from planner.judge.possible import Possible, since
from planner.judge.scene import NO, UNKNOWN, YES, Scene, first_instant, in_damage, last_instant, not_over
from planner.rulebook.kinds.fact import FactNode
from planner.terms.records import Trace
from planner.terms.traces import Asked, NoTime


@dataclass(frozen=True, slots=True, kw_only=True)
class FactAsked(Asked):
    """`total` of `wanted`: what there was, and what there has to be."""

    kind: str
    what: str
    within_h: float | None = None
    total: float | None = None
    wanted: float | None = None


def answer(node: FactNode, scene: Scene) -> Trace:
    facts, rules = scene.facts, scene.rules
    rows = [r for r in facts.rows(node.kind, node.what or "*") if r.where == node.where]
    limit = rules.hours(node.within) if node.within else None
    what = FactAsked(kind=node.kind, what=node.what or "", within_h=limit)
    if node.since:
        begin = last_instant(node.since, scene)
        rows = [r for r in rows if begin is not None and r.latest > begin[1]]
    if limit is not None:
        sure = [r for r in rows if facts.now - r.earliest <= limit * 3600]
        maybe = [r for r in rows if facts.now - r.latest <= limit * 3600]
        if not sure and maybe:
            return Trace(what, UNKNOWN, (maybe[-1], NoTime()), (maybe[-1],), gap=NoTime())
        rows = sure
    rows = list(not_over(rows, node.ended_by, node.looks, scene))
    hidden = in_damage(node.kind, node.what, node.where, scene, last_instant(node.since, scene) if node.since else None, limit)
    if node.total_at_least:
        wanted = rules.number(node.total_at_least)
        # Litres poured against a share of the water, where the number is one.
        share = node.kind == "changed_water" or rules.numbers[node.total_at_least].unit == "%"
        total = sum(share_changed(r, facts) * 100 if share else (r.low or 0) for r in rows)
        what = FactAsked(kind=node.kind, what=node.what or "", within_h=limit, total=total, wanted=wanted)
        if total < wanted and hidden is not None:  # a dose that cannot be read counts as the full one
            return Trace(what, hidden[0], (*rows[-3:], hidden[1]), tuple(rows[-3:]), gap=hidden[1])
        return Trace(what, YES if total >= wanted else NO, tuple(rows[-3:]), tuple(rows[-3:]))
    if not rows:
        return Trace(what, NO) if hidden is None else Trace(what, hidden[0], (hidden[1],), gap=hidden[1])
    return Trace(what, YES, (rows[-1],), (rows[-1],))


def may_hold(node: FactNode, scene: Scene) -> Possible:
    return since(first_instant(scene.facts, node.kind, node.what or "*"))


KIND = JudgedKind(answer, may_hold)
