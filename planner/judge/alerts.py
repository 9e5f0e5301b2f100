"""Alerts: what raises one, and what alone ends it."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

from planner.judge.conditions import judge_condition, may_hold
from planner.judge.facts import view_at
from planner.judge.replay import instants_back
from planner.judge.scene import ALWAYS, NEVER, Scene
from planner.rulebook.kinds.reading import ReadingNode
from planner.rulebook.nodes import Condition
from planner.rulebook.shapes import AlertRule
from planner.rulebook.walk import subjects
from planner.terms.records import Answer, Trace
from planner.terms.traces import Repetitions


def judge_alert(rule: AlertRule, scene: Scene) -> Trace | None:
    """Why an alert is up; None if it is not. Evidence in doubt may raise it. Once up it is over only by a sure no: while
    the answer is unknown, the newest instant with an answer decides. Of one that asks for two clear readings the first is a gap."""
    trace = judge_condition(rule.when, scene)
    if trace.answer == Answer.YES or (rule.unknown_holds and trace.answer == Answer.UNKNOWN):
        return trace
    if trace.answer == Answer.UNKNOWN and scene.facts.journal.unreadable:
        damaged = judge_condition(rule.when, replace(scene, damaged="named"))
        if damaged.answer == Answer.YES:
            return damaged
    if rule.over is not None:
        return _until_over(rule, rule.over, trace, scene)
    if rule.unknown_holds or (trace.answer == Answer.NO and not _clear_once(rule, scene)):
        return None
    sure = trace.answer == Answer.NO
    first = may_hold(rule.when, scene)(ALWAYS)
    if first == NEVER:
        return None
    for instant in instants_back(subjects(rule.when, scene.rules), first, scene.facts):
        if instant[1] == float("-inf"):
            continue
        then = replace(scene, facts=view_at(scene.facts, instant))
        trace = judge_condition(rule.when, then)
        if trace.answer == Answer.NO and not (sure and _clear_once(rule, then)):
            return None
        up = replace(trace, kept=True) if trace.answer == Answer.YES else _in_doubt(rule.when, then)
        if up is not None:
            return replace(up, gap=Repetitions(1, 2)) if sure else up
    return None


def _until_over(rule: AlertRule, over: Condition, now: Trace, scene: Scene) -> Trace | None:
    """Why an alert with an end of its own is still up: it was raised, and since then its end was never reached."""
    if judge_condition(over, scene).answer == Answer.YES:
        return None
    first = may_hold(rule.when, scene)(ALWAYS)
    if first == NEVER:
        return None
    watched = subjects(rule.when, scene.rules) | subjects(over, scene.rules)
    for instant in instants_back(watched, first, scene.facts):
        if instant[1] == float("-inf"):
            continue
        then = replace(scene, facts=view_at(scene.facts, instant))
        if judge_condition(over, then).answer == Answer.YES:
            return None
        raised = judge_condition(rule.when, then)
        if raised.answer == Answer.YES:
            return _still(raised, now, over, scene)
        if raised.answer == Answer.UNKNOWN and (doubt := _in_doubt(rule.when, then)) is not None:
            return doubt
    return None


def _still(raised: Trace, now: Trace, over: Condition, scene: Scene) -> Trace:
    """Once good, a second test is all that is missing. Between the two levels the remedy goes on, by the newest reading."""
    if now.answer != Answer.NO:
        return replace(raised, kept=True)
    if judge_condition(_met_once(over), scene).answer == Answer.YES:
        return replace(raised, kept=True, gap=Repetitions(1, 2))
    return replace(raised, rows=now.rows or raised.rows, evidence=now.evidence or raised.evidence)


@cache
def _met_once(condition: Condition) -> Condition:
    """The same end with one reading for each."""
    if condition.reading is not None:
        return condition.model_copy(update={"reading": condition.reading.model_copy(update={"times": 1})})
    if condition.parts and condition.not_ is None:
        key = "all" if condition.all else "any"
        return condition.model_copy(update={key: tuple(map(_met_once, condition.parts))})
    return condition


def _clear_once(rule: AlertRule, scene: Scene) -> bool:
    """Is the reading that ends this alert clear by now, and not yet on two days?"""
    if rule.clear_twice is None:
        return False
    if judge_condition(_clear(rule.clear_twice, 1), scene).answer != Answer.YES:
        return False
    # A reading in doubt between the two is no clear one.
    return any(judge_condition(_clear(rule.clear_twice, 2), s).answer != Answer.YES for s in (scene, replace(scene, doubtful="highest")))


@cache
def _clear(name: str, times: int) -> Condition:
    # Made without the checker, whose making would cost a page a tenth of its time: the rules come checked from where they are kept.
    return Condition.model_construct(reading=ReadingNode.model_construct(name=name, clear=True, times=times, any_age=True))


def _in_doubt(condition: Condition, scene: Scene) -> Trace | None:
    """The yes that readings taken too soon, or one of those that disagree, would give."""
    for which in ("highest", "lowest"):
        trace = judge_condition(condition, replace(scene, doubtful=which))
        if trace.answer == Answer.YES:
            return replace(trace, kept=True)
    return None


__all__ = ["judge_alert"]
