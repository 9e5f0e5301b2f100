"""Conditions in three-valued logic, each answer with its trace.

A missing, stale, unreadable or disagreeing reading is unknown; unknown never becomes yes, also not under `not`. What a
kind of condition means stands in `kinds`; here they are joined and turned.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace
from datetime import date
from typing import Literal

from planner.judge.kinds import KINDS
from planner.judge.possible import EVER, NOWHERE, Possible, possible_in_all, possible_in_any
from planner.judge.scene import NO, UNKNOWN, YES, Scene, both, either, negation
from planner.rulebook.kinds.age import AgeNode
from planner.rulebook.kinds.animal import AnimalNode
from planner.rulebook.kinds.done import DoneNode
from planner.rulebook.nodes import Condition
from planner.terms.records import Answer, Trace
from planner.terms.traces import Joined


def judge_condition(condition: Condition, scene: Scene) -> Trace:
    """The answer to a condition with every part's answer behind it."""
    if condition.all is not None:
        parts = tuple(judge_condition(c, scene) for c in condition.all)
        trace = _joined("all", both([p.answer for p in parts]), parts)
    elif condition.any is not None:
        parts = tuple(judge_condition(c, scene) for c in condition.any)
        trace = _joined("any", either([p.answer for p in parts]), parts)
    elif condition.not_ is not None:
        inner = judge_condition(condition.not_, scene)
        trace = Trace(Joined(how="not"), negation(inner.answer), inner.evidence, inner.rows, (inner,), inner.gap, context=inner.context)
    else:
        leaf = condition.leaf
        assert leaf is not None
        trace = KINDS[type(leaf)].answer(leaf, scene)
    return replace(trace, say=condition.say) if condition.say else trace


def _joined(how: Literal["all", "any"], answer: Answer, parts: tuple[Trace, ...]) -> Trace:
    rows = tuple(row for part in parts for row in part.rows)
    # What the tank file settles by itself is no evidence, and a whole that it settles is context too.
    told = tuple(e for part in parts if not part.context for e in part.evidence)
    settling = YES if how == "any" else NO
    settled = [p for p in parts if p.context]
    if any(p.answer == settling for p in settled) or (settled and len(settled) == len(parts) and answer != UNKNOWN):
        return Trace(Joined(how=how), answer, told, rows, parts, context=True)
    return Trace(Joined(how=how), answer, told, rows, parts, next((p.gap for p in parts if p.gap is not None and not p.context and p.answer != YES), None))


def holds_once_done(condition: Condition, tasks: Collection[str], scene: Scene) -> bool:
    """Is a condition met, or will it be as soon as these tasks are ticked, and have been for as long as it asks?"""
    if condition.all is not None:
        return all(holds_once_done(c, tasks, scene) for c in condition.all)
    if condition.any is not None:
        return any(holds_once_done(c, tasks, scene) for c in condition.any)
    leaf = condition.leaf
    named = leaf.task if isinstance(leaf, DoneNode) else leaf.of if isinstance(leaf, AgeNode) else ""
    return named in tasks or judge_condition(condition, scene).answer == YES


def may_hold(condition: Condition, scene: Scene) -> Possible:
    """At other instants the condition is never yes. It spares the replay of years of daily readings for a gate that
    waits for a tick, or for one reading that stays bad."""
    if condition.all is not None:
        return possible_in_all(may_hold(c, scene) for c in condition.all)
    if condition.any is not None:
        return possible_in_any(may_hold(c, scene) for c in condition.any)
    asked = condition.not_ or condition
    if asked.leaf is None:
        return EVER
    kind = KINDS[type(asked.leaf)]
    if kind.lasting:
        return EVER if judge_condition(condition, scene).answer == YES else NOWHERE
    return kind.may_hold(asked.leaf, scene) if asked is condition else EVER


def may_hold_animals(where: str, scene: Scene) -> bool:
    """Is an animal in this water, or can nobody rule it out?"""
    return judge_condition(Condition.model_construct(animal=AnimalNode.model_construct(where=where)), scene).answer != NO


def newest_day(trace: Trace) -> date | None:
    """The day of the newest journal row behind a trace."""
    return max((row.day for row in trace.rows), default=None)


__all__ = ["Scene", "holds_once_done", "judge_condition", "may_hold", "may_hold_animals", "newest_day"]
