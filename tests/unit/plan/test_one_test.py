"""Tests of one day that ask for the same reading are one job: what it holds, what one log ticks, and what stays apart.

How tests are grouped is the contract of the plan; common practice, no source."""

from __future__ import annotations

from datetime import date, datetime
from zoneinfo import ZoneInfo

import pytest

from planner.door.acts import Desk, log_readings, read_results
from planner.door.answered_tests import fulfilled
from planner.door.entry_words import Stamp, reading_row
from planner.show.terminal.joblines import job_words
from planner.show.words.causes import all_words
from planner.terms.records import Plan, Row, State, Task
from planner.terms.units import Refusal
from tests.engine_desk import journal_of, open_task, plan_with, tank_with
from tests.rulecases import rulebook

TANK = tank_with(already={"big-change": "2026-03-01"})
OPEN = [f"2026-03-02 09:00,reading,{name},{value},{unit},display" for name, value, unit in (
    ("ammonia", 0, "mg/L"), ("nitrite", 0, "mg/L"), ("nitrate", 5, "mg/L"), ("ph", 8.2, ""), ("alkalinity", 8, "dKH"), ("salinity", 35, "ppt"), ("temperature", 25.5, "C"))]
LOST = [*OPEN, "2026-03-03 09:00,added,trochus-maculatus,3,,display", "2026-03-20 07:00,lost,trochus-maculatus,1,,display"]
"""A snail died today, two weekly tests are missing, and fish wait for a test."""


def plan_of(*rows: str, on: str = "2026-03-20") -> Plan:
    return plan_with(rulebook(), *rows, on=on, tank=TANK)


def jobs(plan: Plan, reading: str) -> list[Task]:
    return [t for t in plan.tasks if t.state in (State.DUE, State.LATE) and reading in t.reads and t.where == "display"]


def ticks(rows: list[str], *typed: tuple[str, str], on: str = "2026-03-20") -> set[str]:
    """The tests that these results tick."""
    zone = ZoneInfo("Europe/London")
    stamp = Stamp(datetime(2026, 3, 20, 19, 0, tzinfo=zone))
    read: list[Row] = []
    for name, value in typed:
        entry = reading_row(name, value, "", stamp, "display", "", TANK, zone)
        assert hasattr(entry, "row"), entry
        read.append(entry.row)
    return {t.id for t, _ in fulfilled(plan_of(*rows, on=on), rulebook(), journal_of(*rows, tank=TANK), read, TANK)}


ALL = (("ammonia", "0"), ("nitrite", "0"), ("nitrate", "5"), ("ph", "8.2"), ("alkalinity", "8"), ("salinity", "35"), ("temperature", "25.5"))


@pytest.mark.parametrize("reading", ["ammonia", "nitrite", "temperature"])
def test_a_page_holds_one_job_for_a_reading_that_several_alarms_and_rules_ask_for(reading: str) -> None:
    plan = plan_of(*LOST)
    asking = [t for t in plan.tasks if reading in t.reads and t.where == "display" and t.date == plan.on]
    assert len(asking) >= 3
    assert len(jobs(plan, reading)) == 1


def test_the_job_is_that_of_the_alarm_and_reads_for_the_others_too() -> None:
    [job] = jobs(plan_of(*LOST), "ammonia")
    assert job.key == "animal-lost/test"
    assert {"ammonia", "nitrite", "nitrate", "ph", "alkalinity", "salinity", "temperature"} == set(job.reads)
    assert "Test nitrate, pH and alkalinity too, and log it with the rest." in all_words(job.steps, "metric")


def test_the_job_names_the_tests_that_it_stands_for() -> None:
    [job] = jobs(plan_of(*LOST), "ammonia")
    assert "“Log one full set of tests”" in " ".join(all_words(job.because, "metric"))


def test_what_a_contained_test_asks_for_besides_the_test_goes_along() -> None:
    plan = plan_of(*OPEN, "2026-03-12 09:00,done,fish/stage-1,,,display", "2026-03-12 09:00,added,amphiprion-ocellaris,1,,display", on="2026-03-20")
    [job] = jobs(plan, "ammonia")
    assert job.key != "fish/test-week"
    assert any("white spots" in step for step in all_words(job.steps, "metric"))


def test_no_caution_of_a_contained_test_is_lost() -> None:
    plan = plan_of(*LOST)
    [job] = jobs(plan, "ammonia")
    assert all(set(t.cautions) <= set(job.cautions) for t in plan.tasks if t.tested_with == job.id)


def test_one_log_ticks_the_job_and_all_that_it_stands_for() -> None:
    contained = {t.id for t in plan_of(*LOST).tasks if t.tested_with == "animal-lost/test#1"}
    assert len(contained) >= 2
    assert ticks(LOST, *ALL) == contained | {"animal-lost/test#1"}


def test_part_of_the_readings_ticks_only_the_tests_that_ask_for_no_more() -> None:
    found = ticks(LOST, ("ammonia", "0"), ("nitrite", "0"), ("salinity", "35"), ("temperature", "25.5"))
    assert "animal-lost/test#1" in found
    assert not any(id.startswith(("missed-tests", "care/weekly-tests")) for id in found)


def test_the_test_after_a_dose_is_not_made_with_the_test_before_it() -> None:
    plan = plan_with(rulebook(), on="2026-03-05", tank=tank_with(already={"start-up": "2026-03-01"}))
    assert {open_task(plan, key).state for key in ("cycle/tests", "cycle/check-test")} <= {State.DUE, State.LATE}


def test_a_reading_off_the_scale_makes_the_next_test_one_of_a_diluted_sample() -> None:
    tank = tank_with(already={"start-up": "2026-03-01"}, test_kits__nitrite={"basis": "N", "step": "0.25", "highest": "5"})
    def steps(last: str) -> str:
        plan = plan_with(rulebook(), "2026-03-02 09:00,dosed,ammonia,2,mg/L,display", "2026-03-10 09:00,reading,ammonia,1,mg/L,display", f"2026-03-10 09:00,reading,nitrite,{last},mg/L,display", on="2026-03-12", tank=tank)
        return " ".join(all_words(open_task(plan, "cycle/tests").steps, "metric"))
    assert "test that for nitrite. Multiply the result by 5 and log that." in steps(">5")
    assert "test that for nitrite. Multiply the result by 5 and log that." in steps("12.5")
    assert "by 5" not in steps("4.5")


def test_the_short_line_of_a_test_says_of_what_the_sample_is_diluted() -> None:
    tank = tank_with(already={"start-up": "2026-03-01"}, test_kits__nitrite={"basis": "N", "step": "0.25", "highest": "5"})
    rows = ("2026-03-02 09:00,dosed,ammonia,2,mg/L,display", "2026-03-10 09:00,reading,ammonia,1,mg/L,display", "2026-03-10 09:00,reading,nitrite,>5,mg/L,display")
    plan = plan_with(rulebook(), *rows, on="2026-03-12", tank=tank)
    assert job_words(open_task(plan, "cycle/tests"), rulebook(), "metric").endswith(", diluted for nitrite")


def test_a_diluted_sample_beyond_its_own_scale_still_ticks_the_diluted_test() -> None:
    tank = tank_with(already={"start-up": "2026-03-01"}, test_kits__nitrite={"basis": "N", "step": "0.25", "highest": "1"})
    rows = ["2026-03-02 09:00,dosed,ammonia,2,mg/L,display", "2026-03-10 09:00,reading,ammonia,1,mg/L,display", "2026-03-10 09:00,done,cycle/tests#1,,,display", "2026-03-10 09:00,reading,nitrite,>1,mg/L,display"]
    plan = plan_with(rulebook(), *rows, on="2026-03-10", tank=tank)
    zone = ZoneInfo("Europe/London")
    entry = reading_row("nitrite", ">5", "", Stamp(datetime(2026, 3, 10, 19, 0, tzinfo=zone)), "display", "", tank, zone)
    assert hasattr(entry, "row"), entry
    assert {t.key for t, _ in fulfilled(plan, rulebook(), journal_of(*rows, tank=tank), [entry.row], tank)} == {"nitrite-off-scale/dilute"}
    assert date(2026, 3, 10) == plan.on


def test_what_another_test_does_first_is_the_first_step_of_the_joined_one() -> None:
    plan = plan_of(*LOST)
    steps = [s for t in plan.tasks if t.reads and t.date == plan.on for s in [all_words(t.steps, "metric")] if any(w.startswith("First top up") for w in s)]
    assert steps and all(s[0].startswith("First ") for s in steps)


MIXED = ["2026-03-01,reading,tds,2,mg/L,source", "2026-03-01,reading,chlorine,0,mg/L,source", "2026-03-02 18:00,done,water/mix,,,display", "2026-03-03 18:00,done,water/look,,,display", "2026-03-03 18:05,reading,salinity,35,ppt,mixing",
         "2026-03-03 18:05,reading,temperature,25,C,mixing", "2026-03-03 18:05,done,water/measure#1,,,mixing", "2026-03-03 18:20,done,water/trim,,,display", "2026-03-03 18:30,done,water/mix-more#1,,,display"]
"""The first batch waits in containers for its second test, the next one is in the bin."""


def test_results_that_two_vessels_wait_for_are_asked_about_and_at_its_own_job_each_ticks_that_one() -> None:
    """What is read in the bin must not pass for the second reading of the batch beside it, nor the other way round."""
    tank, zone, on = tank_with(already={"leak-test": "2026-03-01"}), ZoneInfo("Europe/London"), date(2026, 3, 4)
    desk = Desk(tank, journal_of(*MIXED, tank=tank), rulebook(), on, plan_with(rulebook(), *MIXED, on=str(on), tank=tank), Stamp(datetime(2026, 3, 4, 19, 0, tzinfo=zone)), None)
    read = read_results(desk, [("salinity", "31.4", "ppt", "mixing"), ("temperature", "25", "C", "mixing")])
    assert not isinstance(read, Refusal)
    act = log_readings(desk, read)
    assert not isinstance(act, Refusal) and len(act.questions) == 1 and "Are these the results of “Test the first batch once more, outside the bin”?" in act.questions[0]
    for meant in ("water/measure#2", "water/measure-more#1"):
        told = log_readings(desk, read, meant)
        assert not isinstance(told, Refusal) and told.questions == ()
        assert [e.row.what for e in told.entries if e.row.kind == "done"] == [meant]


def test_the_waters_of_two_vessels_are_tested_and_logged_one_by_one() -> None:
    tank, zone = tank_with(already={"leak-test": "2026-03-01"}), ZoneInfo("Europe/London")
    written = list(MIXED)
    for at, ticked in ((18, "water/measure#2"), (19, "water/measure-more#1")):
        plan = plan_with(rulebook(), *written, on="2026-03-04", tank=tank)
        assert {t.id for t in plan.tasks if t.state == State.DUE and "salinity" in t.reads and not t.tested_with} == {"water/measure#2", "water/measure-more#1"} - {row.split(",")[2] for row in written}
        stamp = Stamp(datetime(2026, 3, 4, at, 0, tzinfo=zone))
        read = [entry.row for name, value in (("salinity", "35"), ("temperature", "25")) if hasattr(entry := reading_row(name, value, "", stamp, "mixing", "", tank, zone), "row")]
        assert [t.id for t, _ in fulfilled(plan, rulebook(), journal_of(*written, tank=tank), read, tank)] == [ticked]
        written.append(f"2026-03-04 {at}:00,done,{ticked},,,mixing")
