"""Alerts: what raises one, and what alone ends it."""

from __future__ import annotations

from dataclasses import replace

from planner.judge.conditions import judge_condition, may_hold
from planner.judge.facts import view_at
from planner.judge.replay import instants
from planner.judge.scene import Scene
from planner.rulebook.nodes import Condition
from planner.rulebook.shapes import AlertRule
from planner.rulebook.walk import subjects
from planner.terms.records import Answer, Trace


def judge_alert(rule: AlertRule, scene: Scene) -> Trace | None:
    """Why an alert is up; None if it is not. Evidence in doubt may raise it. Once up it is over only by a sure no: while
    the answer is unknown, the newest instant with an answer decides."""
    trace = judge_condition(rule.when, scene)
    if trace.answer == Answer.YES or (rule.unknown_holds and trace.answer == Answer.UNKNOWN):
        return trace
    if trace.answer == Answer.UNKNOWN and scene.facts.journal.unreadable:
        damaged = judge_condition(rule.when, replace(scene, damaged="named"))
        if damaged.answer == Answer.YES:
            return damaged
    if trace.answer == Answer.NO or rule.unknown_holds:
        return None
    spans = may_hold(rule.when, scene)
    if not spans:
        return None
    for instant in reversed(list(instants(subjects(rule.when, scene.rules), spans[0][0], scene.facts))):
        if instant[1] == float("-inf"):
            continue
        then = replace(scene, facts=view_at(scene.facts, instant))
        trace = judge_condition(rule.when, then)
        if trace.answer == Answer.NO:
            return None
        if trace.answer == Answer.YES:
            return replace(trace, kept=True)
        if (doubtful := _in_doubt(rule.when, then)) is not None:
            return doubtful
    return None


def _in_doubt(condition: Condition, scene: Scene) -> Trace | None:
    """The yes that readings taken too soon, or one of those that disagree, would give."""
    for which in ("highest", "lowest"):
        trace = judge_condition(condition, replace(scene, doubtful=which))
        if trace.answer == Answer.YES:
            return replace(trace, kept=True)
    return None


__all__ = ["judge_alert"]
