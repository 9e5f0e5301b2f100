"""From when on something may hold: small answers worked out by hand, and a replay that passes over nothing that counts."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from functools import partial
from random import Random
from typing import Any

import pytest

import planner.judge.alerts as alerts
import planner.judge.challenge as proof
import planner.judge.evidence as evidence
import planner.judge.replay as replay
from planner.judge.conditions import judge_condition, may_hold
from planner.judge.facts import Facts, Instant, instant_of, view_at
from planner.judge.gates import judge
from planner.judge.possible import EVER, NOWHERE, Possible, possible_in_all, possible_in_any, since
from planner.judge.scene import ALWAYS, NEVER, Scene
from planner.rulebook.nodes import Condition
from planner.rulebook.walk import subjects
from planner.terms.records import Answer
from tests.engine_desk import book_with, facts_of, tank_with
from tests.rulecases import rulebook

ON = "2026-04-30"


def day(number: int) -> Instant:
    return (date(2026, 4, number), float(number))


def on_days(*days: int) -> Possible:
    """Something that may hold on these days of April alone."""
    return lambda after: next((day(n) for n in days if day(n) >= after), NEVER)


def asked_daily(possible: Possible) -> list[int]:
    """The days of April on which it may hold, asked in their order."""
    return [n for n in range(1, 29) if possible(day(n)) == day(n)]


def test_what_never_comes_is_nowhere() -> None:
    assert NOWHERE(ALWAYS) == since(NEVER)(day(1)) == NEVER and EVER(day(3)) == day(3)
    assert since(day(3))(day(1)) == day(3) and since(day(3))(day(5)) == day(5)


def test_all_may_hold_where_every_one_may() -> None:
    assert asked_daily(possible_in_all([on_days(1, 2, 4, 8, 9, 11), on_days(3, 4, 5, 8, 11, 12)])) == [4, 8, 11]
    assert possible_in_all([on_days(1, 3), on_days(2, 4)])(ALWAYS) == NEVER
    assert possible_in_all([])(day(3)) == day(3)


def test_any_may_hold_where_one_may() -> None:
    assert asked_daily(possible_in_any([on_days(1, 2, 8), on_days(4, 5, 8)])) == [1, 2, 4, 5, 8]
    assert possible_in_any([on_days(8), on_days(4)])(ALWAYS) == day(4)
    assert possible_in_any([])(day(3)) == NEVER


def test_any_asks_a_part_again_only_when_its_instant_has_come() -> None:
    """A reading that never comes in is looked for once, not at each row of the journal."""
    calls: list[Instant] = []
    asked_daily(possible_in_any([on_days(*range(1, 29)), lambda after: calls.append(after) or NEVER]))
    assert calls == [day(1)]


ROWS = (
    "2026-04-01 18:00,reading,ammonia,1,mg/L as N", "2026-04-02 18:00,reading,ammonia,0,mg/L as N", "2026-04-03,reading,ammonia,0,mg/L as N",
    "2026-04-03 18:00,reading,ammonia,2,mg/L as N", "2026-04-04 18:00,reading,ammonia,2,mg/L as N", "2026-04-04 19:00,dosed,ammonia,2,mg/L as N",
    "2026-04-05 18:00,reading,ammonia,0,mg/L as N", "2026-04-05 18:00,reading,nitrite,0,mg/L as N", "2026-04-06 18:00,reading,ammonia,<0.25,mg/L as N",
    "2026-04-06 19:00,event,leak", "2026-04-07,done,site/level", "2026-04-08 18:00,reading,ammonia,>5,mg/L as N", "2026-04-09 18:00,reading,ammonia,0,mg/L as N",
    "2026-04-10 09:00,reading,ammonia,0,mg/L as N", "2026-04-10 10:00,reading,ammonia,0,mg/L as N", "2026-04-10,reading,ammonia,2,mg/L as N",  # two of three agree
)


@pytest.mark.parametrize("node", [
    {"reading": {"name": "ammonia", "clear": "yes"}}, {"reading": {"name": "ammonia", "at_most": "x"}}, {"reading": {"name": "ammonia", "above": "x"}},
    {"reading": {"name": "ammonia", "free": "yes", "at_most": "x"}}, {"reading": {"name": "ammonia", "clear": "yes", "times": 2}},
    {"all": [{"reading": {"name": "ammonia", "clear": "yes"}}, {"done": "site/level"}]}, {"any": [{"event": "leak"}, {"reading": {"name": "nitrite"}}]},
    {"not": {"reading": {"name": "ammonia", "clear": "yes"}}}, {"challenge": {"dose": "d", "hours": "h", "times": 1}}, {"not": {"tank": {"key": "rock.kind", "is": ["live"]}}},
], ids=str)
def test_no_condition_is_yes_where_it_is_passed_over(node: dict[str, Any]) -> None:
    facts = facts_of(*ROWS, on=ON)
    condition, scene = Condition.model_validate(node), Scene(facts, book_with(x=(0.5, "mg/L as N"), d=(2, "mg/L as N"), h=(24, "h")), {})
    possible = may_hold(condition, scene)
    passed_over = [i for i in sorted({instant_of(r) for r in facts.journal.rows}) if possible(i) > i]
    yes = {i for i in map(instant_of, facts.journal.rows) if judge_condition(condition, Scene(view_at(facts, i), scene.rules, {})).answer == Answer.YES}
    assert yes and not yes & set(passed_over)


def test_a_reading_that_never_comes_down_leaves_nothing_to_replay() -> None:
    facts = facts_of(*(f"2026-04-{n:02} 18:00,reading,ammonia,1,mg/L as N" for n in range(1, 29)), on=ON)
    clear = Condition.model_validate({"all": [{"reading": {"name": "ammonia", "clear": "yes"}}, {"not": {"event": "leak"}}]})
    assert may_hold(clear, Scene(facts, book_with(), {}))(ALWAYS) == NEVER


def test_a_reading_that_stays_good_is_looked_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """What keeps a journal of ten years as quick as one of ten rows: nobody looks for the end of a long good time."""
    facts = facts_of(*(f"2026-04-{n:02} 18:00,reading,ammonia,0,mg/L as N" for n in range(1, 29)), on=ON)
    looked: list[int] = []
    plain = evidence.newest_of
    monkeypatch.setattr(evidence, "newest_of", lambda rows, last: looked.append(last) or plain(rows, last))
    assert may_hold(Condition.model_validate({"reading": {"name": "ammonia", "clear": "yes"}}), Scene(facts, book_with(), {}))(ALWAYS) == instant_of(facts.journal.rows[0])
    assert looked == [0]


def test_one_instant_may_bear_two_names_of_days_two_apart() -> None:
    rows = facts_of("2026-04-02T23:00-12:00,reading,ammonia,1,mg/L as N", "2026-04-03 11:00,reading,ammonia,1,mg/L as N", "2026-04-04T01:00+14:00,reading,ammonia,1,mg/L as N", on=ON).rows("reading", "ammonia")
    assert [r.line for r in evidence.newest_of(rows, 2)] == [4, 2]  # the one between is an hour earlier: April has summer time


NODES = (
    {"reading": {"name": "ammonia", "clear": "yes", "times": 2}}, {"reading": {"name": "ammonia", "at_most": "x", "since": "dosed:ammonia"}},
    {"any": [{"reading": {"name": "nitrite", "above": "x"}}, {"all": [{"reading": {"name": "ammonia", "at_least": "x"}}, {"reading": {"name": "nitrite", "clear": "yes"}}]}]},
    {"all": [{"reading": {"name": "ammonia", "clear": "yes"}}, {"done": "site/level"}, {"not": {"event": "leak"}}]},
    {"challenge": {"dose": "d", "hours": "h", "times": 1}}, {"challenge": {"dose": "d", "hours": "h", "times": 1, "failed": "yes"}},
    {"all": [{"age": {"of": "dosed:ammonia", "at_least": "h"}}, {"reading": {"name": "ammonia", "below": "x"}}]},
)


def written(rng: Random) -> Iterator[str]:
    """Rows as careless as people write them: bare dates, times without and with an offset of any zone, tests that
    disagree, doses and changes between them."""
    for _ in range(rng.randint(5, 50)):
        when = f"2026-04-{rng.randint(1, 9):02}"
        if rng.random() < 0.7:
            when += f"{'T' if (zone := rng.choice(('', '', '+14:00', '-12:00'))) else ' '}{rng.randint(0, 23):02}:{rng.choice(('00', '30'))}{zone}"
        yield when + rng.choice((
            *(f",reading,{name},{value},mg/L as N" for name in ("ammonia", "nitrite") for value in ("0", "0", "0.25", "0.6", "1", "<0.25", ">5")),
            ",dosed,ammonia,2,mg/L as N", ",dosed,ammonia,0.5,mg/L as N", ",changed_water,water,30,%", ",done,site/level", ",event,leak", ",reading,ammonia,0,mg/L as N,quarantine"))


def journals(count: int, **tank: Any) -> Iterator[Facts]:
    for number in range(count):
        yield facts_of(*written(Random(number)), on=ON, tank=tank_with(**tank))


@pytest.mark.parametrize("node", NODES, ids=str)
def test_a_replay_finds_what_a_walk_over_every_row_finds(node: dict[str, Any], monkeypatch: pytest.MonkeyPatch) -> None:
    condition, book = Condition.model_validate(node), book_with(x=(0.5, "mg/L as N"), d=(2, "mg/L as N"), h=(24, "h"))
    found = 0
    for facts in journals(50):
        watched, first, last = subjects(condition, book), facts.journal.rows[0], facts.journal.rows[-1]
        yes = partial(replay.first_yes, condition, watched, (facts.start, float("-inf")), facts, book, {}, float("-inf"))
        lapses = [partial(replay.first_lapse, condition, watched, instant_of(first), facts, book, {}, animal) for animal in (None, last)]
        quick = yes(), *(lapse() for lapse in lapses)
        with monkeypatch.context() as plainly:
            plainly.setattr(replay, "may_hold", lambda *_: EVER)
            assert (yes(), *(lapse() for lapse in lapses)) == quick
        found += None not in quick
    assert found, "none of the journals shows the answers"


def test_shipped_gates_and_alarms_are_judged_as_by_a_walk_over_every_row(monkeypatch: pytest.MonkeyPatch) -> None:
    for facts in journals(12, already={"start-up": "2026-04-01"}):
        quick = judge(rulebook(), facts)
        with monkeypatch.context() as plainly:
            plainly.setattr(replay, "may_hold", lambda *_: EVER)
            plainly.setattr(alerts, "may_hold", lambda *_: EVER)
            plainly.setattr(proof, "_near", lambda rows, *_: rows)
            plainly.setattr("planner.judge.evidence._close_after", plain_close_after)
            assert judge(rulebook(), facts) == quick
        assert "start-up" in quick.opened


def plain_close_after(row: Any, doses: Any, hours: float, counts: Any = lambda _: True) -> Any:
    """The newest dose within so many hours before a timed row, in the same water, both ways of counting spelled out."""
    return next((d for d in reversed(doses) if d.day <= row.day and d.where == row.where and row.at is not None and d.at is not None
                 and timedelta() <= row.at - d.at < timedelta(hours=hours) and counts(d)), None)
