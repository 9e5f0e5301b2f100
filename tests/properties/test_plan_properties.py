"""What must hold of every plan: order does not matter, time can be shifted, tests decide, the future is unseen.

Journals are random but plausible; few and small, so that the tier stays quick."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, timedelta
from functools import cache
from random import Random

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from planner.files.tank import Tank
from planner.judge.conditions import Scene, judge_condition
from planner.judge.facts import gather, instant_of, view_at
from planner.judge.gates import judge
from planner.plan.make import make_plan
from planner.rulebook.read import load_rules
from planner.rulebook.shapes import Rulebook
from planner.show.words.conditions import need_words
from planner.terms.records import Answer, Plan, State, Task, index_journal
from tests.engine_desk import journal_of, tank_with
from tests.rulecases import RULES, rulebook

START = date(2026, 3, 2)
FEW = settings(max_examples=8, deadline=None, suppress_health_check=[HealthCheck.too_slow])
READINGS = ("ammonia,0", "ammonia,0.25", "ammonia,2", "nitrite,0", "nitrite,1", "nitrate,5", "nitrate,40", "ph,8.1", "alkalinity,8", "salinity,35", "salinity,31", "temperature,25.5")
UNITS = {"ph": "pH", "alkalinity": "dKH", "salinity": "ppt", "temperature": "C"}
TIMES = ("", " 08:15", " 19:40")


@cache
def keys() -> tuple[str, ...]:
    """Tasks of the set-up that a keeper may tick, in the order of the rules."""
    return tuple(f"{p.phase}/{t.id}" for p in rulebook().phases for t in p.tasks if p.order < 100 and t.when is None and t.every is None)


def row(day: date, time: str, what: str) -> str:
    kind, _, rest = what.partition(":")
    if kind == "reading":
        name, value = rest.split(",")
        return f"{day}{time},reading,{name},{value},{UNITS.get(name, 'mg/L')},display,"
    if kind == "done":
        return f"{day}{time},done,{rest},,,display,"
    return f"{day}{time},{rest},display,"


FACTS = st.one_of(
    st.sampled_from(READINGS).map("reading:{}".format),
    st.deferred(lambda: st.sampled_from(keys())).map("done:{}".format),
    st.sampled_from(("dosed,ammonia,2,mg/L as N", "dosed,ammonia,1,mg/L as N", "changed_water,water,30,%", "event,smell,,", "added,snail,4,", "poured,water,20,L")).map("fact:{}".format),
)
EVENTS = st.lists(st.tuples(st.integers(0, 40), st.sampled_from(TIMES), FACTS), max_size=14)
PASSED = st.sampled_from((None, "site", "leak-test", "scape", "start-up", "cycle", "big-change"))
Events = list[tuple[int, str, str]]


def tank_of(start: date, passed: str | None) -> Tank:
    return tank_with(start=start.isoformat(), timezone="UTC", **({f"already__{passed}": (start - timedelta(days=1)).isoformat()} if passed else {}))


def rows_of(events: Events, start: date = START) -> list[str]:
    return [row(start + timedelta(days=n), time, what) for n, time, what in events]


def plan_of(events: Events, on: int, passed: str | None, start: date = START, rules: Rulebook | None = None) -> Plan:
    tank = tank_of(start, passed)
    return make_plan(tank, journal_of(*rows_of(events, start), tank=tank), rules or rulebook(), start + timedelta(days=on))


def skeleton(plan: Plan) -> list[tuple[object, ...]]:
    """What a reader acts on, without journal line numbers (they change when lines change places)."""
    tasks = [(t.id, t.due, t.date, t.window, t.state, t.tentative, tuple((n, round(q.value, 9)) for n, q in t.amounts), t.title, t.steps) for t in plan.tasks]
    phases = [(p.id, p.state, p.started, p.opened, p.window, p.advice, tuple((need_words(n), n.met) for n in p.needs)) for p in plan.phases]
    return [*tasks, *phases, *((h.gate, h.since, re.sub(r"\bLine \d+", "Line", h.because), h.instead) for h in plan.holds), *((w.gate, w.expected) for w in plan.waiting_for), *plan.forecast.events.items()]


@FEW
@given(EVENTS, PASSED, st.integers(0, 45), st.randoms(use_true_random=False))
def test_rows_in_another_order_give_the_same_plan(events: Events, passed: str | None, on: int, dice: Random) -> None:
    shuffled = list(events)
    dice.shuffle(shuffled)
    for hour in {e[:2] for e in events if e[1]}:  # of one exact instant the lines say which came first
        places, own = [n for n, e in enumerate(shuffled) if e[:2] == hour], [e for e in events if e[:2] == hour]
        for n, event in zip(places, own, strict=True):
            shuffled[n] = event
    assert skeleton(plan_of(shuffled, on, passed)) == skeleton(plan_of(events, on, passed))


def monthly() -> set[str]:
    """Tasks whose interval is written in months; they follow the calendar and not the week."""
    book = rulebook()
    return {key for key, rule in book.tasks.items() for name in (rule.every, rule.wait) if name in book.numbers and book.numbers[name].unit == "months"}


@FEW
@given(EVENTS, PASSED, st.integers(0, 45), st.integers(1, 60))
def test_moving_everything_by_whole_weeks_moves_the_plan_by_as_much(events: Events, passed: str | None, on: int, weeks: int) -> None:
    away, skip = timedelta(weeks=weeks), monthly()
    here, there = plan_of(events, on, passed), plan_of(events, on, passed, START + away)

    def dates(plan: Plan, by: timedelta) -> list[tuple[object, ...]]:
        def at(day: date | None) -> date | None:
            return day + by if day else None

        tasks = [(t.id, at(t.due), at(t.date), at(t.window.earliest), at(t.window.latest), t.state) for t in plan.tasks if t.key not in skip]
        return [*tasks, *((p.id, p.state, at(p.opened), at(p.window.likely)) for p in plan.phases)]

    assert dates(here, away) == dates(there, timedelta(0))


@FEW
@given(EVENTS, st.sampled_from((None, "leak-test", "start-up", "big-change")), st.integers(0, 45), st.integers(300, 500), st.integers(0, 40))
def test_a_reading_that_no_rule_asks_for_yet_changes_nothing(events: Events, passed: str | None, on: int, calcium: int, day: int) -> None:
    before = plan_of(events, on, passed)
    tank = tank_of(START, passed)
    rows = [*rows_of(events), f"{START + timedelta(days=day)},reading,calcium,{calcium},mg/L,display,"]
    assert skeleton(make_plan(tank, journal_of(*rows, tank=tank), rulebook(), before.on)) == skeleton(before)


def brings_animals(task: Task) -> bool:
    return task.role == "animals" and task.closed_on is None and task.where == "display"


@settings(FEW, max_examples=12)
@given(EVENTS, PASSED, st.integers(0, 45))
def test_no_animal_is_asked_for_before_the_gate_to_animals(events: Events, passed: str | None, on: int) -> None:
    plan = plan_of(events, on, passed)
    gate = plan.phase("animals")
    assert gate is not None
    animals = [t for t in plan.tasks if brings_animals(t)]
    if gate.opened is None:
        assert [t.id for t in animals if t.state in (State.DUE, State.LATE) or (t.state == State.PLANNED and not t.tentative)] == []
    else:
        needed = {row for row in journal_of(*rows_of(events), tank=tank_of(START, passed)).rows if row.kind == "reading" and row.day <= gate.opened}
        assert {"ammonia", "nitrite", "nitrate", "ph", "alkalinity", "salinity", "temperature"} <= {row.what for row in needed}


def test_the_property_of_animals_has_animals_to_speak_of() -> None:
    assert any(brings_animals(t) for t in plan_of([], 0, None).tasks)
    good = ["ammonia,0", "nitrite,0", "nitrate,5", "ph,8.1", "alkalinity,8", "salinity,35", "temperature,25.5"]
    opened = plan_of([(0, "", f"reading:{name}") for name in good], 0, "big-change")
    assert opened.phase("animals").opened == START  # type: ignore[union-attr]
    assert any(brings_animals(t) and not t.tentative for t in opened.tasks)


@FEW
@given(EVENTS, PASSED, st.integers(0, 45), st.lists(st.tuples(st.integers(1, 30), st.sampled_from(TIMES), FACTS), min_size=1, max_size=6))
def test_what_is_dated_after_the_day_of_the_plan_is_unseen(events: Events, passed: str | None, on: int, later: Events) -> None:
    past = [e for e in events if e[0] <= on]
    future = [(on + n, time, what) for n, time, what in later]
    assert skeleton(plan_of(past + future, on, passed)) == skeleton(plan_of(past, on, passed))


@FEW
@given(EVENTS, PASSED, st.integers(0, 45), st.randoms(use_true_random=False))
def test_phases_and_alerts_in_another_order_give_the_same_plan(events: Events, passed: str | None, on: int, dice: Random) -> None:
    book = rulebook()
    phases, alerts, tasks = list(book.phases), list(book.alerts), list(book.tasks.items())
    for part in (phases, alerts, tasks):
        dice.shuffle(part)
    turned = replace(book, phases=tuple(phases), alerts=tuple(alerts), tasks=dict(tasks))
    assert sorted(map(str, skeleton(plan_of(events, on, passed, rules=turned)))) == sorted(map(str, skeleton(plan_of(events, on, passed))))


def test_rule_files_read_under_other_names_give_the_same_plan(tmp_path) -> None:  # type: ignore[no-untyped-def]
    """The names turn the order of reading round."""
    for path in RULES.rglob("*.yaml"):
        if path.name.endswith(".cases.yaml") or path.parent.name == "livestock":
            continue
        fixed = path.name in ("sources.yaml", "cautions.yaml", "common.yaml", "numbers.yaml", "together.yaml", "words.yaml")
        name = path.name if fixed else f"{999 - len(path.stem) * 31 - ord(path.stem[0])}-{path.name}"
        target = tmp_path / path.parent.relative_to(RULES) / name
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_text(path.read_text(encoding="utf-8"), encoding="utf-8")
    other, problems = load_rules(tmp_path)
    assert problems == ()
    events = [(0, "", "done:site/place"), (3, "", "reading:ammonia,1"), (5, "", "fact:event,smell,,")]
    assert skeleton(plan_of(events, 8, "start-up", rules=other)) == skeleton(plan_of(events, 8, "start-up"))


@FEW
@given(EVENTS, PASSED, st.integers(0, 45))
def test_a_gate_opens_at_the_first_of_all_instants_that_prove_it(events: Events, passed: str | None, on: int) -> None:
    """Every instant of the journal judged one by one, without the engine's short cuts."""
    tank, book = tank_of(START, passed), rulebook()
    facts = gather(tank, journal_of(*rows_of(events), tank=tank), START + timedelta(days=on))
    verdicts = judge(book, facts)
    instants = sorted({instant_of(r) for r in facts.journal.rows if r.day <= facts.on})
    for phase in verdicts.phases:
        gate = verdicts.gates[phase.phase]
        before = [p for p in phase.after if p in verdicts.gates]
        if gate.on_word or gate.lapsed is not None or any(p not in verdicts.opened for p in before):
            continue
        started = max((verdicts.opened[p] for p in before), default=(facts.start, float("-inf")))
        earlier = {p: at for p, at in verdicts.opened.items() if p != phase.phase}
        candidates = [started] * (started[1] > float("-inf")) + [i for i in instants if i > started]
        proofs = [i for i in candidates if judge_condition(phase.gate.opens_when, Scene(view_at(facts, i), book, earlier)).answer == Answer.YES]
        assert gate.opened == (proofs[0] if proofs else None), phase.phase


@pytest.mark.parametrize(("zone", "days"), [("Europe/London", ("2026-03-29", "2026-10-25")), ("America/New_York", ("2026-03-08", "2026-11-01"))])
def test_a_plan_on_the_day_of_a_clock_change_is_that_of_any_other_day(zone: str, days: tuple[str, str]) -> None:
    """The days of the change: Summer Time Order 2002 (London), Energy Policy Act of 2005 section 110 (New York)."""
    for text in days:
        start = date.fromisoformat(text) - timedelta(days=3)
        rows = [f"{start + timedelta(days=n)} 12:00,reading,{name},{value},mg/L,display," for n in range(4) for name, value in (("ammonia", 1), ("nitrite", 0))]

        def tasks(zone: str, start: date = start, rows: list[str] = rows) -> list[tuple[str, date | None, State]]:
            tank = tank_with(start=start.isoformat(), timezone=zone, **{"already__start-up": start.isoformat()})
            return [(t.id, t.date, t.state) for t in make_plan(tank, journal_of(*rows, tank=tank), rulebook(), start + timedelta(days=3)).tasks]

        assert tasks(zone) == tasks("UTC")


def test_an_index_of_the_same_rows_does_not_depend_on_their_order() -> None:
    journal = journal_of(*rows_of([(n % 7, TIMES[n % 3], f"reading:{READINGS[n % 12]}") for n in range(40)]))
    assert [r.sort_key for r in index_journal(journal.rows[::-1]).rows] == [r.sort_key for r in journal.rows]
