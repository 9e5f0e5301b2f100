"""Alerts: what raises one, and what alone ends it."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

from planner.judge.conditions import judge_condition, may_hold
from planner.judge.facts import view_at
from planner.judge.replay import instants_back
from planner.judge.scene import ALWAYS, NEVER, Scene
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
    return Condition.model_validate({"reading": {"name": name, "clear": True, "times": times, "any_age": True}})


def _in_doubt(condition: Condition, scene: Scene) -> Trace | None:
    """The yes that readings taken too soon, or one of those that disagree, would give."""
    for which in ("highest", "lowest"):
        trace = judge_condition(condition, replace(scene, doubtful=which))
        if trace.answer == Answer.YES:
            return replace(trace, kept=True)
    return None


__all__ = ["judge_alert"]
