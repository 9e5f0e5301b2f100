"""A reading within limits: grouped by instant, not too soon, not too old, not in dispute, and often enough."""

from __future__ import annotations

from dataclasses import dataclass

from planner.judge import evidence
from planner.judge.evidence import LeveledReading
from planner.judge.facts import Instant
from planner.judge.kinds.bounds import ge, gt, le, lt
from planner.judge.kinds.kind import Days, Diary, JudgedKind
from planner.judge.scene import NO, UNKNOWN, YES, Scene, both, first_instant, last_instant
from planner.rulebook.kinds.reading import ReadingNode
from planner.terms.readings import unit_factor
from planner.terms.records import Amount, Answer, Trace
from planner.terms.traces import Asked, Disagree, NoReading, NothingSince, Outside, Repetitions, Unread


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingAsked(Asked):
    """Limits as the rules write them, unit included. `basis`: how the keeper's kit counts, None where nobody said."""

    name: str
    where: str
    free: bool
    clear: bool
    times: int
    at_least: Amount | None
    at_most: Amount | None
    above: Amount | None
    below: Amount | None
    basis: str | None
    units: str


def asked(node: ReadingNode, scene: Scene) -> ReadingAsked:
    """What is asked, with its limits."""
    def limit(name: str | None) -> Amount | None:
        return Amount(scene.rules.numbers[name].value, scene.rules.numbers[name].unit) if name else None

    kit = scene.facts.tank.test_kits.get(node.name)
    return ReadingAsked(name=node.name, where=node.where, free=node.free, clear=node.clear, times=node.times, at_least=limit(node.at_least), at_most=limit(node.at_most),
                        above=limit(node.above), below=limit(node.below), basis=kit.basis if kit is not None else None, units=scene.facts.tank.units)


def answer(node: ReadingNode, scene: Scene) -> Trace:
    facts, rules = scene.facts, scene.rules
    what = asked(node, scene)
    hidden = facts.unreadable(node.name, node.where)
    if hidden is not None:
        damaged = Unread(facts.journal.file, hidden.line)
        return Trace(what, UNKNOWN, (damaged,), gap=damaged)
    since = last_instant(node.since, scene) if node.since else None
    if node.since and since is None:
        return Trace(what, UNKNOWN, (NothingSince(node.since),), gap=NothingSince(node.since))
    soon = evidence.too_soon(node.name, node.where, facts, rules, since) if not scene.doubtful else None
    if soon is not None:
        return Trace(what, UNKNOWN, soon, (soon[0],), gap=soon[1])
    groups = evidence.reading_groups(node.name, node.where, facts, rules, since, unsettled=bool(scene.doubtful))
    newest = next(groups, None)
    if newest is None:
        return Trace(what, UNKNOWN, (NoReading(),), gap=NoReading())
    told = newest.worst
    if newest.disagree and scene.doubtful:
        newest = evidence.outermost(newest, highest=scene.doubtful == "highest")
    limit_h = float("inf") if scene.ageless else rules.hours(node.fresh) if node.fresh else evidence.freshness_h(node.name, rules)
    stale = None if node.any_age else evidence.stale_because(newest, facts, rules, limit_h)
    if stale is not None:
        return Trace(what, UNKNOWN, (told, stale), newest.rows, gap=stale)
    if newest.disagree:
        return Trace(what, UNKNOWN, (told, Disagree()), newest.rows, gap=Disagree())
    found = _within(node, newest, scene)
    if found != YES or node.times == 1:
        return Trace(what, found, (told,), newest.rows, gap=None if found == YES else Outside())
    kept = [newest]
    for group in groups:
        if group.disagree or _within(node, group, scene) != YES:
            break
        if evidence.apart(group, kept[-1], rules.hours(node.apart) if node.apart else rules.hours("spacing")):
            kept.append(group)
            if len(kept) == node.times:
                break
    seen = tuple(g.worst for g in reversed(kept))
    rows = tuple(row for g in reversed(kept) for row in g.rows)
    if len(kept) == node.times:
        return Trace(what, YES, seen, rows)
    missing = Repetitions(len(kept), node.times)
    return Trace(what, UNKNOWN, (*seen, missing), rows, gap=missing)


def _within(node: ReadingNode, group: LeveledReading, scene: Scene) -> Answer:
    """Every limit named, against an interval: yes only if the whole interval lies inside."""
    if node.free:
        group = evidence.as_free(group, node.where, scene.facts, scene.rules)
    low, high = group.low, group.high
    answers = []
    if node.clear:
        answers.append(evidence.clear_answer(node.name, group, scene.facts.tank, scene.rules))
    for bound, inside, outside in (
        (node.at_least, ge(low), lt(high)), (node.at_most, le(high), gt(low)), (node.above, gt(low), le(high)), (node.below, lt(high), ge(low)),
    ):
        if bound is not None:
            factor = 1.0 if node.free else unit_factor(node.name, scene.rules.numbers[bound].unit)
            x = round(scene.rules.number(bound) * factor, 9)
            answers.append(YES if inside(x) else NO if outside(x) else UNKNOWN)
    return both(answers) if answers else YES


def possible_from(node: ReadingNode, scene: Scene) -> Instant:
    return first_instant(scene.facts, "reading", node.name)


def days_needed(node: ReadingNode, trace: Trace, diary: Diary) -> Days:
    """The next test that reads it, with the repetitions still missing."""
    missing = trace.gap.missing if isinstance(trace.gap, Repetitions) else node.times
    gap_days = max(1, diary.rules.days(node.apart)) if node.apart else 1
    found = [diary.of_test(node.name, node.where, missing, gap_days)]
    # A row of clear readings begins when the forecast expects the first.
    return found + diary.of_clear(node.name, (missing - 1) * gap_days) if node.clear else found


KIND = JudgedKind(answer, possible_from, days_needed)
