"""A dose that only a test may call says for which it waits. One dose, then a test, then the next dose (common practice, no source)."""

from __future__ import annotations

from datetime import date, datetime
from zoneinfo import ZoneInfo

from planner.door.acts import Act, Desk, tick_tasks
from planner.door.entry_words import Stamp
from planner.plan.day_jobs import Day
from planner.plan.make import make_plan
from planner.show.terminal.today import task_lines, today_lines
from planner.show.words.words import plain_text
from planner.terms.records import CLOSED, Plan, State
from tests.engine_desk import journal_of, open_task, tank_with
from tests.rulecases import rulebook
from tests.unit.plan_builder import jobs_of_plan

TANK = tank_with(already={"start-up": "2026-03-01"}, cycle={"ammonia": "dosed"})
TESTS = ((5, 2, 0.5), (8, 1, 2), (11, 0.25, 3), (14, 0, 4))
ROWS = ("2026-03-02 18:00,done,cycle/first-dose,,,display", "2026-03-02 18:00,dosed,ammonia,2,mg/L as N", "2026-03-03 18:00,reading,ammonia,2,mg/L as N", "2026-03-03 18:00,done,cycle/check-test,,,display", *(f"2026-03-{day:02} 18:00,reading,{name},{value},mg/L as N" for day, ammonia, nitrite in TESTS for name, value in (("ammonia", ammonia), ("nitrite", nitrite))))
FED = ("2026-03-14 18:30,done,cycle/re-dose#1,,,display", "2026-03-14 18:30,dosed,ammonia,1,mg/L as N,display")
ON = "2026-03-15"


def plan_of(*rows: str, on: str = ON) -> Plan:
    return make_plan(TANK, journal_of(*ROWS, *rows, tank=TANK), rulebook(), date.fromisoformat(on))


def test_the_next_dose_is_dated_on_the_next_test_and_waits_for_its_ammonia() -> None:
    plan = plan_of(*FED)
    dose, test = open_task(plan, "cycle/re-dose"), open_task(plan, "cycle/tests")
    assert (dose.state, dose.date) == (State.WAITING, test.date) and test.date is not None and test.date > plan.on
    assert dose.awaited_test is not None and dict(dose.awaited_test.values)["readings"] == ("ammonia",)


def test_a_test_of_an_hour_that_nobody_ticked_is_none_to_wait_for_once_a_later_one_was_made() -> None:
    plan = make_plan(TANK, journal_of(*(r for r in (*ROWS, *FED) if "check-test" not in r), tank=TANK), rulebook(), date.fromisoformat(ON))
    dose, test = open_task(plan, "cycle/re-dose"), open_task(plan, "cycle/tests")
    assert dose.awaited_test is not None and dose.date == test.date != plan.on
    assert not any(t.key == "cycle/check-test" and t.state not in CLOSED for t in plan.tasks)


def test_a_dose_that_a_test_has_called_waits_for_none() -> None:
    dose = open_task(plan_of(on="2026-03-14"), "cycle/re-dose")
    assert (dose.state, dose.awaited_test) == (State.DUE, None)


def test_the_page_of_a_quiet_morning_says_what_the_next_dose_waits_for_and_when() -> None:
    plan = plan_of(*FED)
    page = " ".join(plain_text(today_lines(Day(plan, jobs_of_plan(plan, rulebook())), rulebook(), 80)).split())
    assert "No more ammonia before the test of ammonia on " in page
    assert "Soon today" not in page, "nothing that waits for a later test stands under today"


def test_on_the_day_of_the_test_its_dose_stands_under_what_follows_and_says_that_this_test_decides() -> None:
    def soon(on: str) -> str:
        plan = plan_of(*FED, on=on)
        return " ".join(plain_text(today_lines(Day(plan, jobs_of_plan(plan, rulebook())), rulebook(), 80)).split()).partition("Soon ")[2]

    assert "today if today's test allows it: Feed the filter" in soon(on="2026-03-17")
    assert "if today's test" not in soon(on=ON)


def test_the_job_names_its_test_and_offers_no_tick() -> None:
    plan = plan_of(*FED)
    told = " ".join(plain_text(task_lines(plan, rulebook(), open_task(plan, "cycle/re-dose"), 80)).split())
    assert "Only if the test of ammonia on " in told and "something before it is still open" not in told
    assert "newtank done" not in told


def test_a_dose_ticked_before_its_test_asks_first_and_is_told_what_to_do_now() -> None:
    plan = plan_of(*FED)
    desk = Desk(TANK, journal_of(*ROWS, *FED, tank=TANK), rulebook(), plan.on, plan, Stamp(datetime(2026, 3, 15, 18, 0, tzinfo=ZoneInfo("Europe/London"))), None)
    act = tick_tasks(desk, [open_task(plan, "cycle/re-dose").id])
    assert isinstance(act, Act)
    assert [q for q in act.questions if "waits for a test of ammonia" in q]
    assert any("Test ammonia an hour after the dose" in str(w) for w in act.warnings)
    assert not any("cycle/" in str(w) for w in act.warnings)
