"""The replay of a journal: the first instant at which a condition was yes.

Nothing here looks at a date to open anything: only what was written can.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from heapq import merge
from itertools import chain, groupby

from planner.judge.conditions import judge_condition, may_hold
from planner.judge.facts import Facts, Instant, instant_of, view_at
from planner.judge.scene import NEVER, Scene
from planner.rulebook.kinds.node import Subject
from planner.rulebook.nodes import Condition
from planner.rulebook.shapes import Rulebook
from planner.terms.records import Answer, Row, Trace


def instants(watched: frozenset[Subject], after: Instant, facts: Facts) -> Iterator[Instant]:
    """The instants after which something watched changed, oldest first, each once, from `after` on. They are merged as
    they are asked for: a gate that opens on its first day never looks at the years that follow."""
    yield after
    last = after
    tails = (map(instant_of, _since(facts.rows(kind, what), after)) for kind, what in sorted(watched))
    for instant in merge(*tails):
        if instant > last:
            last = instant
            yield instant


def instants_back(watched: frozenset[Subject], down_to: Instant, facts: Facts) -> Iterator[Instant]:
    """The same instants, newest first."""
    heads = (map(instant_of, reversed(_since(facts.rows(kind, what), down_to))) for kind, what in sorted(watched))
    return (instant for instant, _ in groupby(merge(*heads, [down_to], reverse=True)))


def _since(rows: Sequence[Row], after: Instant) -> Sequence[Row]:
    return rows[bisect_left(rows, after, key=instant_of) :]


def _written(watched: frozenset[Subject], instant: Instant, facts: Facts) -> bool:
    """Does a watched row stand at this very instant?"""
    return any(instant_of(row) == instant for kind, what in watched for row in _since(facts.rows(kind, what), instant)[:1])


def first_yes(condition: Condition, watched: frozenset[Subject], started: Instant, facts: Facts, rules: Rulebook, opened: Mapping[str, Instant],
              floor: float) -> tuple[Instant, Trace] | None:
    """The first instant from `started` on at which the condition was yes. Only instants at which it may be are replayed."""
    possible = may_hold(condition, Scene(facts, rules, opened))
    begin = possible(started)
    while begin < NEVER:
        for instant in instants(watched, begin, facts):
            if (next_begin := possible(instant)) > instant:
                begin = next_begin
                break
            # An age that ends between two rows opens nothing by itself: the next row does.
            if instant[1] == float("-inf") or (instant == begin > started and not _written(watched, begin, facts)):
                continue
            view = replace(view_at(facts, instant), floor=floor)
            trace = judge_condition(condition, Scene(view, rules, opened))
            if trace.answer == Answer.YES:
                return instant, trace
        else:
            return None
    return None


def first_lapse(condition: Condition, watched: frozenset[Subject], opened_at: Instant, facts: Facts, rules: Rulebook,
                 opened: Mapping[str, Instant], animal: Row | None) -> tuple[Instant, Trace] | None:
    """The first moment after opening at which the gate lapsed, while no animal was in: judged just before and at each
    journal instant, and at the end of the plan's day."""
    stop = instant_of(animal) if animal is not None else NEVER
    until = view_at(facts, stop) if animal is not None else facts
    first = may_hold(condition, Scene(until, rules, opened))((opened_at[0], opened_at[1] - 1.0))
    if first > stop or first == NEVER:
        return None
    for instant in chain(instants(watched, opened_at, facts), [(facts.on, facts.now)]):
        if instant <= opened_at:
            continue
        if instant >= stop:
            instant = stop
        if instant < first:
            continue
        # Just before the instant: what happened then may have ended the lapse, but the lapse was there.
        view = view_at(facts, (instant[0], instant[1] - 1.0), instant[1] - 1.0)
        trace = judge_condition(condition, Scene(view, rules, opened))
        if trace.answer == Answer.YES:
            return (instant[0], instant[1] - 1.0), trace
        if instant == stop:
            return None
        view = view_at(facts, instant)
        trace = judge_condition(condition, Scene(view, rules, opened))
        if trace.answer == Answer.YES:
            return instant, trace
    return None


__all__ = ["first_lapse", "first_yes", "instants", "instants_back"]
