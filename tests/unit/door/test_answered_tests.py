"""Readings and the open tests that they answer. Contract of this project; no outside figures."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from planner.door.answered_tests import choose_water, fulfilled, too_early
from planner.rulebook.shapes import Rulebook
from planner.rulebook.task_rule import Anchor, TaskRule
from planner.terms.records import State, Task
from tests.rulecases import rulebook
from tests.unit.door.test_entry_words import journal, tank
from tests.unit.plan_builder import ON, plan, task

EMPTY = Rulebook((), (), {}, {}, {})


def due(id: str, *reads: str, where: str = "display", day: date = ON, state: State = State.DUE) -> Task:
    return task(id, day, reads=reads, where=where, state=state, role="test")


def test_no_open_test_means_the_display() -> None:
    assert choose_water(["ph"], plan(), ON) == ("display",)
    assert choose_water(["ph"], plan(due("care/test", "ph", where="curing", state=State.PLANNED)), ON) == ("display",)


@pytest.mark.parametrize("ticked", [False, True])
def test_a_test_after_a_dose_of_ammonia_is_answered_once_that_dose_is_ticked(ticked: bool) -> None:
    """A tick of the test would hide that the dose is open, and the plan would order it a second time."""
    rules = rulebook()
    rows = ["2026-03-02T18:00+01:00,done,cycle/first-dose,,,display,"] if ticked else []
    read = journal("2026-03-02T19:30+01:00,reading,ammonia,2.5,mg/L as N,display,").rows
    found = fulfilled(plan(due("cycle/check-test", "ammonia")), rules, journal(*rows), read)
    assert [t.id for t, _ in found] == (["cycle/check-test"] if ticked else [])


def test_the_open_test_names_the_water() -> None:
    assert choose_water(["ammonia"], plan(due("rock/test", "ammonia", "nitrite", where="curing")), ON) == ("curing",)


def test_the_display_wins_where_it_is_asked_for_too() -> None:
    both = plan(due("rock/test", "ammonia", where="curing"), due("cycle/test", "ammonia"))
    assert choose_water(["ammonia"], both, ON) == ("display",)


def test_two_other_waters_are_for_the_keeper_to_tell() -> None:
    both = plan(due("rock/test", "ammonia", where="curing"), due("quarantine/test", "ammonia", where="quarantine"))
    assert choose_water(["ammonia"], both, ON) == ("quarantine", "curing")


def test_another_water_asks_but_the_display_was_tested_of_late_so_the_keeper_tells() -> None:
    asks = plan(due("quarantine/test", "ammonia", where="quarantine"))
    days = {7: ("display", "quarantine"), 14: ("display", "quarantine"), 15: ("quarantine",)}
    for before, waters in days.items():
        tested = journal(f"{(ON - timedelta(days=before)).isoformat()},reading,ammonia,0.25,mg/L as N,display,")
        assert choose_water(["ammonia"], asks, ON, tested) == waters
    elsewhere = journal(f"{ON.isoformat()},reading,ammonia,0.25,mg/L as N,curing,")
    assert choose_water(["ammonia"], asks, ON, elsewhere) == ("quarantine",)


def test_a_reading_that_the_open_test_does_not_ask_for_may_be_of_the_display() -> None:
    assert choose_water(["tds", "ph"], plan(due("water/test", "tds", where="source")), ON) == ("display", "source")


def test_a_test_is_answered_by_readings_of_one_day_and_one_water() -> None:
    open_test = plan(due("cycle/tests#2", "ammonia", "nitrite"))
    before = journal("2026-03-02,reading,ammonia,0.25,mg/L as N,,", "2026-03-01,reading,nitrite,0,mg/L as N,,")
    nitrite = journal("2026-03-02,reading,nitrite,0,mg/L as N,,").rows
    assert [(t.id, d) for t, d in fulfilled(open_test, EMPTY, before, nitrite)] == [("cycle/tests#2", ON)]
    assert fulfilled(open_test, EMPTY, before, journal("2026-03-02,reading,nitrite,0,mg/L as N,mixing,").rows) == ()
    assert fulfilled(open_test, EMPTY, before, journal("2026-03-01,reading,ammonia,0,mg/L as N,,").rows) == ()
    assert fulfilled(open_test, EMPTY, before, journal("2026-03-02,reading,ph,8,,,").rows) == ()


def test_a_late_test_is_answered_on_the_day_of_its_readings() -> None:
    late = plan(due("care/tests#1", "ph", day=date(2026, 2, 25), state=State.LATE))
    assert [d for _, d in fulfilled(late, EMPTY, journal(), journal("2026-02-27,reading,ph,8,,,").rows)] == [date(2026, 2, 27)]
    assert fulfilled(late, EMPTY, journal(), journal("2026-02-24,reading,ph,8,,,").rows) == ()


def test_a_reading_from_before_the_dose_is_no_test_of_the_dose() -> None:
    rule = TaskRule(id="check", title="Check", anchor=Anchor(task="cycle/dose"), reads=("ammonia",))
    rules = Rulebook((), (), {}, {}, {}, tasks={"cycle/check": rule})
    open_test = plan(due("cycle/check", "ammonia"))
    dosed = journal("2026-03-02T12:00+01:00,done,cycle/dose,,,,")
    early, after = (journal(f"2026-03-02T{hour}+01:00,reading,ammonia,1,mg/L as N,,").rows for hour in ("11:00", "13:00"))
    assert fulfilled(open_test, rules, dosed, early) == ()
    assert [t.id for t, _ in fulfilled(open_test, rules, dosed, after)] == ["cycle/check"]


def test_one_reading_answers_one_test_and_of_several_the_one_that_asks_for_the_most() -> None:
    both = plan(due("cycle/tests#1", "ammonia"), due("cycle/tests-two#1", "ammonia"), due("cycle/weekly#1", "ammonia", "nitrite"))
    rows = journal("2026-03-02T10:00+01:00,reading,ammonia,0,mg/L as N,,", "2026-03-02T10:00+01:00,reading,nitrite,0,mg/L as N,,").rows
    assert [t.id for t, _ in fulfilled(both, EMPTY, journal(), rows)] == ["cycle/weekly#1"]
    assert [t.id for t, _ in fulfilled(both, EMPTY, journal(), [r for r in rows if r.what == "ammonia"])] == ["cycle/tests#1"]


@pytest.mark.parametrize(("row", "answers"), [("1", False), (">5", False), ("12", True), ("1,mg/L as N,,five times 0.2 diluted", True)])
def test_only_a_reading_of_a_diluted_sample_answers_the_test_that_asks_for_one(row: str, answers: bool) -> None:
    rule = TaskRule(id="dilute", title="Dilute", reads=("nitrite",), diluted=True)
    rules = Rulebook((), (), {}, {}, {}, tasks={"over/dilute": rule})
    rows = journal(f"2026-03-02,reading,nitrite,{row}" + ("" if "," in row else ",mg/L as N,,")).rows
    kit = tank("{nitrite: {basis: N, step: 0.25, highest: 5}}")
    assert bool(fulfilled(plan(due("over/dilute", "nitrite")), rules, journal(), rows, kit)) is answers


def test_one_log_answers_both_tests_that_follow_one_arrival() -> None:
    tasks = {f"fish/stage-test-{name}": TaskRule(id=f"stage-test-{name}", title="Test", per_stage="fish", anchor=Anchor(task="fish/stage"), wait=name, reads=("ammonia", "nitrite"))
             for name in ("day", "week")}
    rules = Rulebook((), (), {}, {}, {}, tasks=tasks)
    both = plan(due("fish/stage-test-day#1", "ammonia", "nitrite"), due("fish/stage-test-week#1", "ammonia", "nitrite"), due("fish/stage-test-week#2", "ammonia", "nitrite"))
    rows = journal("2026-03-02T10:00+01:00,reading,ammonia,0,mg/L as N,,", "2026-03-02T10:00+01:00,reading,nitrite,0,mg/L as N,,").rows
    assert [t.id for t, _ in fulfilled(both, rules, journal(), rows)] == ["fish/stage-test-day#1", "fish/stage-test-week#1"]


def test_readings_tick_a_test_and_never_the_remedy_that_asks_for_the_same() -> None:
    both = plan(task("gasping/air#1", ON, reads=("ammonia", "ph"), role="remedy"), due("gasping/retest#1", "ammonia", "ph"))
    rows = journal("2026-03-02,reading,ammonia,0,mg/L as N,,", "2026-03-02,reading,ph,8.1,,,").rows
    assert [t.id for t, _ in fulfilled(both, EMPTY, journal(), rows)] == ["gasping/retest#1"]
    assert fulfilled(plan(both.tasks[0]), EMPTY, journal(), rows) == ()


@pytest.mark.parametrize(("changed", "asks", "hour", "answers"), [
    ("", True, "08:10", False), ("", False, "08:10", True), ("09:00", True, "08:10", False), ("09:00", True, "10:00", True)])
def test_the_test_beside_a_large_change_is_answered_by_readings_after_the_change(changed: str, asks: bool, hour: str, answers: bool) -> None:
    """What raised the alarm, and pH written ten minutes later, say nothing of a change that comes after them."""
    change = task("ammonia-three/change#1", ON, role="remedy", state=State.DONE if changed else State.DUE)
    both = plan(change, due("ammonia-three/retest#1", "ammonia", "ph"))
    rows = [f"2026-03-02T{changed}+01:00,changed_water,water,100,L,display,"] if changed else []
    before = journal("2026-03-02T08:00+01:00,reading,ammonia,2,mg/L as N,display,", *rows)
    read = journal(*(["2026-03-02T10:00+01:00,reading,ammonia,1,mg/L as N,display,"] if hour == "10:00" else []), f"2026-03-02T{hour}+01:00,reading,ph,8.2,,display,").rows
    assert bool(fulfilled(both, rulebook(), before, read, None, lambda _: asks)) is answers


@pytest.mark.parametrize(("hour", "answers"), [("09:20", False), ("09:59", False), ("10:00", True)])
def test_within_the_hour_after_a_large_change_no_test_tells_what_it_left(hour: str, answers: bool) -> None:
    """Contract of this project (engine.md 9): within the hour a test is no evidence. Too early a test says from when on one counts."""
    both = plan(task("ammonia-three/change#1", ON, role="remedy", state=State.DONE), due("ammonia-three/retest#1", "ammonia", "ph"))
    before = journal("2026-03-02T09:00+01:00,changed_water,water,100,L,display,")
    read = journal(f"2026-03-02T{hour}+01:00,reading,ammonia,1,mg/L as N,display,", f"2026-03-02T{hour}+01:00,reading,ph,8.2,,display,").rows
    assert bool(fulfilled(both, rulebook(), before, read)) is answers
    assert too_early(both, rulebook(), before, read) == (None if answers else before.rows[0].earliest + 3600)


@pytest.mark.parametrize(("hour", "answers"), [("10:05", False), ("20:59", False), ("21:00", True)])
def test_the_test_twelve_hours_later_is_answered_no_sooner(hour: str, answers: bool) -> None:
    later = plan(due("ammonia-three/second", "ammonia", "ph"))
    before = journal("2026-03-02T09:00+01:00,changed_water,water,100,L,display,", "2026-03-02T10:01+01:00,done,ammonia-three/retest#1,,,display,")
    read = journal(f"2026-03-02T{hour}+01:00,reading,ammonia,1,mg/L as N,display,", f"2026-03-02T{hour}+01:00,reading,ph,8.2,,display,").rows
    assert bool(fulfilled(later, rulebook(), before, read)) is answers
