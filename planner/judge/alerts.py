"""Alerts: what raises one, and what alone ends it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from typing import Literal

from planner.judge.conditions import judge_condition, may_hold
from planner.judge.facts import view_at
from planner.judge.replay import instants_back
from planner.judge.scene import ALWAYS, Scene
from planner.rulebook.kinds.node import HIGHER, LOWER
from planner.rulebook.nodes import Condition
from planner.rulebook.shapes import AlertRule
from planner.rulebook.walk import leaves, met_once, subjects
from planner.terms.records import Answer, Trace
from planner.terms.traces import Repetitions


def judge_alert(rule: AlertRule, scene: Scene) -> Trace | None:
    """Why an alert is up; None if it is not. Evidence in doubt may raise it. Once up it is over only by a sure no: while
    the answer is unknown, the newest instant with an answer decides; and one that says what it takes to be over stays up
    until that is met, with a gap once a first good reading is there."""
    trace = judge_condition(rule.when, scene)
    if trace.answer == Answer.YES or (rule.unknown_holds and trace.answer == Answer.UNKNOWN and not _no_either_way(rule.when, scene)):
        return trace
    if trace.answer == Answer.UNKNOWN and scene.facts.journal.unreadable:
        damaged = judge_condition(rule.when, replace(scene, damaged="named"))
        if damaged.answer == Answer.YES:
            return damaged
    if rule.over is not None:
        return _until_over(rule, trace, scene)
    if rule.unknown_holds or trace.answer == Answer.NO:
        return None
    first = may_hold(rule.when, scene)(ALWAYS)
    if first > scene.facts.cut:  # an age that ends tomorrow raises nothing today
        return None
    for instant in instants_back(subjects(rule.when, scene.rules), first, scene.facts):
        if instant[1] == float("-inf"):
            continue
        then = replace(scene, facts=view_at(scene.facts, instant))
        trace = judge_condition(rule.when, then)
        if trace.answer == Answer.NO:
            return None
        up = replace(trace, kept=True) if trace.answer == Answer.YES else _in_doubt(rule.when, then)
        if up is not None:
            return up
    return None


def _no_either_way(when: Condition, scene: Scene) -> bool:
    """No, whichever way a test soon after a dose, or two that disagree, are taken: only what was written leaves nothing open."""
    return all(judge_condition(when, s).answer == Answer.NO for s in (replace(scene, doubtful="highest"), replace(scene, doubtful="lowest")))


def last_rungs(alerts: list[tuple[AlertRule, Trace]], scene: Scene) -> list[tuple[AlertRule, Trace]]:
    """Of the alarms of one reading that only wait to be over, none beside one that is up, and of several the last one; the
    first by name where both look at the same test. A change of water after the newest test brings back none that an older test raised."""
    waiting = {rule.alert for rule, _ in alerts if rule.over is not None and judge_condition(rule.when, scene).answer == Answer.NO}
    found = []
    for rule, trace in alerts:
        if _graver_by_the_same_test(rule, [r for r, _ in alerts], scene):
            continue
        if trace.kept and any(r is not rule and _last(t) > _last(trace) and r.over is not None and _ladder(r) == _ladder(rule) for r, t in alerts):
            continue
        others = [(r, t) for r, t in alerts if r is not rule and r.over is not None and _ladder(r) == _ladder(rule)] if rule.alert in waiting else []
        if not any(r.alert not in waiting or _last(t) > _last(trace) or (_last(t) == _last(trace) and r.alert < rule.alert) for r, t in others):
            found.append((rule, trace))
    return found


def _graver_by_the_same_test(rule: AlertRule, up: list[AlertRule], scene: Scene) -> bool:
    """Where two readings of one instant differ, each may raise an alarm of its own. The worse one counts, and with it the graver alarm alone."""
    worse = _worse_end(rule, scene)
    if worse is None or judge_condition(rule.when, scene).answer != Answer.UNKNOWN:
        return False
    then = replace(scene, doubtful=worse)
    return judge_condition(rule.when, then).answer == Answer.NO and any(
        r is not rule and _ladder(r) == _ladder(rule) and _worse_end(r, scene) == worse and judge_condition(r.when, then).answer == Answer.YES for r in up)


def _worse_end(rule: AlertRule, scene: Scene) -> Literal["highest", "lowest"] | None:
    """The end of its readings that an alert with an end of its own is against, by what its limits are declared to protect from; None where they do not say, or not alike."""
    tests = [(leaf, test[0]) for leaf, _ in leaves(rule.when) if (test := leaf.tested()) is not None and test in _ladder(rule)]
    declared = {scene.rules.numbers[t.name].protects for leaf, name in tests for t in leaf.thresholds() if t.measure == name}
    return "highest" if declared == {LOWER} else "lowest" if declared == {HIGHER} else None


def _last(trace: Trace) -> tuple[date, float]:
    return max(((r.day, r.latest) for r in trace.rows), default=(date.min, 0.0))


def _ladder(rule: AlertRule) -> frozenset[tuple[str, str]]:
    """The readings that end an alert, with their water."""
    return frozenset(test for leaf, _ in leaves(rule.over) if (test := leaf.tested()) is not None) if rule.over is not None else frozenset()


def _is_over(over: Condition, scene: Scene) -> bool:
    """Is what ends an alert there, also by those of its readings that disagree?"""
    return all(judge_condition(over, s).answer == Answer.YES for s in (scene, replace(scene, doubtful="highest"), replace(scene, doubtful="lowest")))


def _until_over(rule: AlertRule, now: Trace, scene: Scene) -> Trace | None:
    """Why an alert with an end of its own is still up: it was raised, and since then its end was never reached."""
    assert rule.over is not None
    if _is_over(rule.over, scene):
        return None
    first = may_hold(rule.when, scene)(ALWAYS)
    if first > scene.facts.cut:  # an age that ends tomorrow raises nothing today
        return None
    watched = subjects(rule.when, scene.rules) | subjects(rule.over, scene.rules)
    for instant in instants_back(watched, first, scene.facts):
        if instant[1] == float("-inf"):
            continue
        then = replace(scene, facts=view_at(scene.facts, instant))
        if _is_over(rule.over, then):
            return None
        raised = judge_condition(rule.when, then)
        if raised.answer == Answer.YES:
            return _still(raised, now, rule.over, scene)
        if raised.answer == Answer.UNKNOWN and (doubt := _in_doubt(rule.when, then)) is not None:
            return _still(doubt, now, rule.over, scene)
    return None


def _still(raised: Trace, now: Trace, over: Condition, scene: Scene) -> Trace:
    """Once good, a second test is all that is missing. Between the two levels the remedy goes on, by the newest reading."""
    if now.answer != Answer.NO:
        return replace(raised, kept=True)
    if judge_condition(met_once(over), scene).answer == Answer.YES:
        gaps = list(_repetitions(judge_condition(over, scene)))
        return replace(raised, kept=True, gap=max(gaps, key=lambda g: g.next_from or 0.0, default=Repetitions(1, 2)))
    return replace(raised, rows=now.rows or raised.rows, evidence=now.evidence or raised.evidence)


def _repetitions(trace: Trace) -> Iterator[Repetitions]:
    if isinstance(trace.gap, Repetitions):
        yield trace.gap
    for part in trace.parts:
        yield from _repetitions(part)


def _in_doubt(condition: Condition, scene: Scene) -> Trace | None:
    """The yes that readings taken too soon, or one of those that disagree, would give."""
    for which in ("highest", "lowest"):
        trace = judge_condition(condition, replace(scene, doubtful=which))
        if trace.answer == Answer.YES:
            return replace(trace, kept=True)
    return None


__all__ = ["judge_alert", "last_rungs"]
