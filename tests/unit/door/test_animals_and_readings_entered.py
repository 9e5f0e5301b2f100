"""Animals, medicine and test results at the edge of what is asked about, refused or told. Contract of this project; no outside figures but where a test names one."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from planner.door.acts import Act, log_readings, read_results, tick_tasks
from planner.door.animal_warnings import of_arrival, of_loss
from planner.door.answered_tests import choose_water, fulfilled, open_tests
from planner.door.entry_words import (
    Entry,
    checked,
)
from planner.door.questions import collisions, doubt_of
from planner.files.journal_form import NewRow
from planner.rulebook.shapes import Rulebook
from planner.rulebook.task_rule import Anchor, TaskRule
from planner.terms.records import State
from planner.terms.units import Refusal
from tests.engine_desk import journal_of, tank_with
from tests.rulecases import rulebook
from tests.unit.door.test_answered_tests import EMPTY, due
from tests.unit.door.test_entries_at_their_limits import desk
from tests.unit.door.test_entry_words import journal, tank
from tests.unit.door.test_ticks_and_arrivals import animals, said, tick
from tests.unit.plan_builder import ON, hold, phase, plan, task

# --- ammonia, medicine and animals


QUARANTINED = ("2026-02-20,added,amphiprion-ocellaris,2,,quarantine",)
SNAIL = ("2026-02-20,added,trochus-maculatus,2",)


@pytest.mark.parametrize(
    ("rows", "kind", "what", "where", "part"),
    [
        (SNAIL, "dosed", "ammonia", "display", "Animals live in the tank"), (SNAIL, "dosed", "ammonia", "", "Animals live in the tank"), (SNAIL, "dosed", "ammonia", "quarantine", ""), ((), "dosed", "ammonia", "display", ""), (SNAIL, "dosed", "calcium", "display", ""),
        (("2026-03-02,added,trochus-maculatus,2",), "dosed", "ammonia", "display", "on the same day (journal line 2)"), (("2026-03-02,added,trochus-maculatus,2,,quarantine",), "dosed", "ammonia", "display", ""), (("2026-03-02,moved,trochus-maculatus,2",), "dosed", "ammonia", "display", "on the same day"),
        (SNAIL, "dosed", "copper", "display", "Copper in the reef tank"), (SNAIL, "dosed", "medicine", "display", "Medicine in the reef tank"), ((), "dosed", "copper", "display", ""), (SNAIL, "event", "medicated", "display", "Medicine in the reef tank"), (SNAIL, "event", "leak", "display", ""), (SNAIL, "poured", "copper", "display", ""),
        (("2026-03-02,dosed,ammonia,1,g",), "added", "trochus-maculatus", "display", "Ammonia was dosed on the same day (journal line 2)"), (("2026-03-02,dosed,ammonia,1,g",), "moved", "trochus-maculatus", "display", "Ammonia was dosed"), (("2026-03-01,dosed,ammonia,1,g",), "added", "trochus-maculatus", "display", ""),
        (QUARANTINED, "dosed", "ammonia", "quarantine", "Animals live in the quarantine tank"), (QUARANTINED, "dosed", "ammonia", "display", ""), (QUARANTINED, "dosed", "medicine", "quarantine", ""),
        (("2026-03-02,added,amphiprion-ocellaris,2,,quarantine",), "dosed", "ammonia", "quarantine", "on the same day (journal line 2)"),
        (("2026-03-02,dosed,ammonia,1,g,quarantine",), "added", "trochus-maculatus", "display", ""), (("2026-03-02,dosed,ammonia,1,g",), "lost", "trochus-maculatus", "display", ""), (("2026-03-02,dosed,ammonia,1,g",), "poured", "water", "display", ""),
    ],
)
def test_ammonia_or_medicine_where_animals_live_is_asked_about(rows: tuple[str, ...], kind: str, what: str, where: str, part: str) -> None:
    asked = list(collisions(desk(rows=rows), NewRow("2026-03-02", kind, what, "", "", where)))  # type: ignore[arg-type]
    assert len(asked) == bool(part) and part in "".join(asked)


@pytest.mark.parametrize("where", ["display", "quarantine"])
def test_behind_a_damaged_line_animals_may_be_in(where: str) -> None:
    made = tank_with()
    at = replace(desk(), journal=journal_of(f"2026-02-20,added,amphiprion-ocellaris,many,,{where}", tank=made, problems=1))
    assert "journal line 2 cannot be read" in "".join(collisions(at, NewRow("2026-03-02", "dosed", "ammonia", "", "", where))).lower()


# --- arrivals and losses


def test_an_open_gate_and_no_hold_say_nothing_of_an_arrival() -> None:
    def told(*parts: object) -> str:
        return said(list(of_arrival(desk(*parts), animals(), "fish", 1)))

    gate = next(p.phase for p in rulebook().phases if p.role == "opens_to_animals")
    shut, open_one = (phase(gate, role="opens_to_animals", opened=opened) for opened in (None, ON))
    assert "not open to animals" in told(shut) and "not open" not in told(open_one) and "not open" not in told()
    assert "on hold: it leaks" in told(open_one, hold(gate, "it leaks")) and "on hold" not in told(open_one, hold("other", "it leaks"))


@pytest.mark.parametrize(("ago", "told"), [(0, ""), (1, "came 1 day ago"), (2, "came 2 days ago")])
def test_the_days_since_the_last_animals_are_told(ago: int, told: str) -> None:
    found = said(list(of_arrival(desk(rows=(f"{(ON - timedelta(days=ago)).isoformat()},added,trochus-maculatus,2",)), animals(), "fish", 1)))
    assert (told in found) if told else "ago" not in found


@pytest.mark.parametrize(("lost", "refuses"), [(1, False), (2, False), (3, True)])
def test_what_is_lost_may_be_all_that_lived_there_under_either_name(lost: int, refuses: bool) -> None:
    known = animals().get("trochus-maculatus")
    assert known is not None
    for name in ("trochus-maculatus", known.name):
        found = of_loss(desk(rows=(*SNAIL, "2026-02-21,added,amphiprion-ocellaris,1")), animals(), name, lost, "display")
        assert isinstance(found, Refusal) if refuses else found is None
    strange = desk(rows=("2026-02-20,added,odd fish,1",))
    assert of_loss(strange, animals(), "odd fish", 1, "display") is None and isinstance(of_loss(strange, animals(), "odd fish", 2, "display"), Refusal)
    assert "knows of no" in str(of_loss(strange, animals(), "other fish", 1, "display"))


# --- what a reading ticks


@pytest.mark.parametrize(("state", "day", "reads", "asks"), [(State.DUE, ON, ("ph",), True), (State.LATE, ON - timedelta(days=1), ("ph",), True), (State.DUE, ON + timedelta(days=1), ("ph",), False), (State.PLANNED, ON, ("ph",), False), (State.DUE, ON, (), False), (State.DUE, None, ("ph",), False)])
def test_an_open_test_asks_from_its_day_on(state: State, day: date | None, reads: tuple[str, ...], asks: bool) -> None:
    assert bool(open_tests(plan(task("a/b", day, reads=reads, state=state)), ON)) is asks


def test_a_water_that_is_asked_for_all_readings_goes_before_one_that_is_asked_for_some() -> None:
    both = plan(due("rock/test", "ammonia", "nitrite", where="curing"), due("quarantine/test", "ammonia", where="quarantine"))
    assert choose_water(["ammonia", "nitrite"], both, ON) == ("curing",) and choose_water(["nitrite"], both, ON) == ("curing",)
    assert choose_water(["ammonia", "ph"], both, ON) == ("display", "quarantine", "curing")


@pytest.mark.parametrize(("value", "answers"), [("5", False), ("5.0001", True), ("5.5", True)])
def test_a_figure_beyond_the_end_of_the_scale_was_diluted(value: str, answers: bool) -> None:
    rules = Rulebook((), (), {}, {}, {}, tasks={"over/dilute": TaskRule(id="dilute", title="Dilute", reads=("nitrite",), diluted=True)})
    rows = journal(f"2026-03-02,reading,nitrite,{value},mg/L as N,,").rows
    assert bool(fulfilled(plan(due("over/dilute", "nitrite")), rules, journal(), rows, tank("{nitrite: {basis: N, step: 0.25, highest: 5}}"))) is answers
    assert fulfilled(plan(due("over/dilute", "nitrite")), rules, journal(), rows, tank()) == fulfilled(plan(due("over/dilute", "nitrite")), rules, journal(), rows) == ()


def test_of_two_tests_that_ask_for_the_same_the_oldest_is_answered() -> None:
    both = plan(due("a/new", "ph", day=ON), due("b/old", "ph", day=ON - timedelta(days=2), state=State.LATE))
    assert [t.id for t, _ in fulfilled(both, EMPTY, journal(), journal("2026-03-02,reading,ph,8,,,").rows)] == ["b/old"]


@pytest.mark.parametrize(("changes", "answered"), [({}, True), ({"anchor": Anchor(task="fish/other")}, False), ({"wait": None}, False), ({"anchor": None}, False)])
def test_tests_that_follow_one_thing_are_answered_together_and_others_are_not(changes: dict[str, object], answered: bool) -> None:
    first = {"title": "Test", "anchor": Anchor(task="fish/stage"), "wait": "day", "reads": ("ammonia",)}
    tasks = {"fish/one": TaskRule(id="one", **first), "fish/two": TaskRule(id="two", **(first | {"wait": "week"} | changes))}  # type: ignore[arg-type]
    found = fulfilled(plan(due("fish/one", "ammonia"), due("fish/two", "ammonia")), Rulebook((), (), {}, {}, {}, tasks=tasks), journal(), journal("2026-03-02,reading,ammonia,0,mg/L as N,,").rows)
    assert ("fish/two" in [t.id for t, _ in found]) is answered and found[0][0].id in ("fish/one", "fish/two")


# --- readings far from what is usual


@pytest.mark.parametrize(("value", "rows", "questions", "warnings"), [("8.7", (), 0, 0), ("8.8", (), 1, 0), ("7.5", (), 0, 0), ("7.4", (), 1, 0), ("8.8", SNAIL, 0, 1), ("8.7", SNAIL, 0, 0)])
def test_an_unusual_result_is_asked_about_and_where_animals_live_written_and_told(value: str, rows: tuple[str, ...], questions: int, warnings: int) -> None:
    """A pH of 7.5 to 8.7 is usual in a tank (common practice, no source)."""
    at = desk(rows=rows)
    read = read_results(at, [("ph", value, "", "display")])
    assert isinstance(read, list)
    act = log_readings(at, read)
    assert isinstance(act, Act)
    assert (len(act.questions), len(act.warnings)) == (questions, warnings)
    tap = read_results(at, [("ph", value, "", "source")])
    assert isinstance(tap, list) and isinstance(of_tap := log_readings(at, tap), Act) and not of_tap.questions and not of_tap.warnings


# --- ticks


@pytest.mark.parametrize(("rows", "id", "asks"), [((), "cycle/pause#1", False), (("2026-03-02,done,cycle/pause#1",), "cycle/pause#2", True), (("2026-03-01,done,cycle/pause#1",), "cycle/pause#2", False), (("2026-03-01,done,cycle/pause#1",), "cycle/pause#1", True), (("2026-03-01,skipped,cycle/pause#1",), "cycle/pause#1", False)])
def test_a_second_tick_of_a_day_or_of_a_round_is_asked_about(rows: tuple[str, ...], id: str, asks: bool) -> None:
    at = desk(task(id, ON, state=State.DUE), rows=rows)
    act_questions = tick(replace(at, plan=plan(task(id, ON, state=State.DUE, writes=None))), id)[1]
    assert ("ticked already" in act_questions) is asks


@pytest.mark.parametrize(("state", "animals_in_it", "asks", "tells"), [(State.WAITING, (), False, True), (State.WAITING, (("trochus-maculatus", 1),), True, False), (State.ON_HOLD, (), True, False), (State.DUE, (), False, False)])
def test_a_tick_behind_a_shut_gate_is_told_and_one_that_brings_animals_is_asked_about(state: State, animals_in_it: tuple[tuple[str, int], ...], asks: bool, tells: bool) -> None:
    key = next(key for key, r in rulebook().tasks.items() if key.startswith("site/") and r.anchor is None and not r.reads and r.writes is None)
    _, questions, told = tick(desk(task(key, ON, state=state, animals=animals_in_it)), key)
    assert bool(questions) is asks and ("still open" in told) is tells


@pytest.mark.parametrize(("minute", "answers"), [("11:59", False), ("12:00", True), ("12:01", True)])
def test_a_reading_of_the_instant_of_its_cause_answers_the_test(minute: str, answers: bool) -> None:
    rules = Rulebook((), (), {}, {}, {}, tasks={"cycle/check": TaskRule(id="check", title="Check", anchor=Anchor(task="cycle/dose"), reads=("ammonia",))})
    found = fulfilled(plan(due("cycle/check", "ammonia")), rules, journal("2026-03-02T12:00+01:00,done,cycle/dose,,,,"), journal(f"2026-03-02T{minute}+01:00,reading,ammonia,1,mg/L as N,,").rows)
    assert bool(found) is answers


@pytest.mark.parametrize(("rows", "litres", "asks"), [((), 1.0, False), ((), 0.5, False), ((), 1.3, True), (("2026-03-01,poured,water,0.8,NET",), 0.5, True), (("2026-03-01,poured,water,0.5,NET",), 0.4, False)])
def test_a_tank_is_filled_in_parts_and_asked_about_beyond_a_quarter_more(rows: tuple[str, ...], litres: float, asks: bool) -> None:
    net = desk().facts.net_volume_l
    at = desk(rows=tuple(f"2026-03-01,poured,water,{float(row.split(',')[3]) * net:.4g},L" for row in rows))
    made = checked(NewRow("2026-03-02", "poured", "water", f"{litres * net:.4g}", "L", "display", ""), at.tank, at.facts.zone)
    assert isinstance(made, Entry) and (doubt_of(at, made.row) is not None) is asks


def test_a_stage_writes_its_one_animal_in_the_number_that_came_and_of_several_each_as_wished() -> None:
    key = next(key for key, r in rulebook().tasks.items() if r.is_arrival)

    def ticked(animals_in_it: tuple[tuple[str, int], ...], amount: str | None) -> object:
        at = desk(task(f"{key}#1", ON, state=State.DUE, animals=animals_in_it))
        act = tick_tasks(at, [f"{key}#1"], amounts={f"{key}#1": amount} if amount else None)
        return [(e.new.what, e.new.value) for e in act.entries if e.new.kind == "added"] if isinstance(act, Act) else act.code

    assert ticked((("gramma-loreto", 1),), None) == [("gramma-loreto", "1")] and ticked((("gramma-loreto", 1),), "2") == [("gramma-loreto", "2")]
    assert ticked((("gramma-loreto", 1), ("trochus-maculatus", 3)), None) == [("gramma-loreto", "1"), ("trochus-maculatus", "3")] and ticked((("gramma-loreto", 1), ("trochus-maculatus", 3)), "2") == "amount-unclear"
