"""Spans in which something may hold: sums of small intervals worked out by hand, and a replay that leaves nothing out."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from planner.judge.conditions import judge_condition, may_hold
from planner.judge.facts import Instant, instant_of, view_at
from planner.judge.scene import NEVER, Scene
from planner.judge.spans import EVER, NOWHERE, Spans, since, within_all, within_any
from planner.rulebook.nodes import Condition
from planner.terms.records import Answer
from tests.engine_desk import book_with, facts_of

ON = "2026-04-30"


def day(number: int) -> Instant:
    return (date(2026, 4, number), float(number))


def spans(*pairs: tuple[int, int]) -> Spans:
    return tuple((day(a), day(b)) for a, b in pairs)


def test_what_never_comes_is_nowhere() -> None:
    assert since(NEVER) == NOWHERE and since(day(3)) == ((day(3), NEVER),)


def test_all_share_what_lies_in_every_one() -> None:
    assert within_all([spans((1, 5), (8, 12)), spans((3, 9), (11, 20))]) == spans((3, 5), (8, 9), (11, 12))
    assert within_all([]) == EVER and within_all([spans((1, 2)), spans((2, 3))]) == NOWHERE


def test_any_joins_what_touches() -> None:
    assert within_any([spans((1, 3), (8, 9)), spans((3, 5), (6, 7))]) == spans((1, 5), (6, 7), (8, 9))
    assert within_any([]) == NOWHERE


ROWS = (
    "2026-04-01 18:00,reading,ammonia,1,mg/L as N", "2026-04-02 18:00,reading,ammonia,0,mg/L as N", "2026-04-03,reading,ammonia,0,mg/L as N",
    "2026-04-03 18:00,reading,ammonia,2,mg/L as N", "2026-04-04 18:00,reading,ammonia,2,mg/L as N", "2026-04-04 19:00,dosed,ammonia,2,mg/L as N",
    "2026-04-05 18:00,reading,ammonia,0,mg/L as N", "2026-04-05 18:00,reading,nitrite,0,mg/L as N", "2026-04-06 18:00,reading,ammonia,<0.25,mg/L as N",
    "2026-04-06 19:00,event,leak", "2026-04-07,done,site/level", "2026-04-08 18:00,reading,ammonia,>5,mg/L as N", "2026-04-09 18:00,reading,ammonia,0,mg/L as N",
)


@pytest.mark.parametrize("node", [
    {"reading": {"name": "ammonia", "clear": "yes"}}, {"reading": {"name": "ammonia", "at_most": "x"}}, {"reading": {"name": "ammonia", "above": "x"}},
    {"reading": {"name": "ammonia", "free": "yes", "at_most": "x"}}, {"reading": {"name": "ammonia", "clear": "yes", "times": 2}},
    {"all": [{"reading": {"name": "ammonia", "clear": "yes"}}, {"done": "site/level"}]}, {"any": [{"event": "leak"}, {"reading": {"name": "nitrite"}}]},
    {"not": {"reading": {"name": "ammonia", "clear": "yes"}}}, {"challenge": {"dose": "d", "hours": "h", "times": 1}}, {"not": {"tank": {"key": "rock.kind", "is": ["live"]}}},
], ids=str)
def test_no_condition_is_yes_outside_its_spans(node: dict[str, Any]) -> None:
    facts = facts_of(*ROWS, on=ON)
    condition, scene = Condition.model_validate(node), Scene(facts, book_with(x=(0.5, "mg/L as N"), d=(2, "mg/L as N"), h=(24, "h")), {})
    found = may_hold(condition, scene)
    yes = {i for i in map(instant_of, facts.journal.rows) if judge_condition(condition, Scene(view_at(facts, i), scene.rules, {})).answer == Answer.YES}
    assert yes and all(any(start <= i < stop for start, stop in found) for i in yes)


def test_a_reading_that_never_comes_down_leaves_nothing_to_replay() -> None:
    facts = facts_of(*(f"2026-04-{n:02} 18:00,reading,ammonia,1,mg/L as N" for n in range(1, 29)), on=ON)
    assert may_hold(Condition.model_validate({"all": [{"reading": {"name": "ammonia", "clear": "yes"}}, {"not": {"event": "leak"}}]}), Scene(facts, book_with(), {})) == NOWHERE
