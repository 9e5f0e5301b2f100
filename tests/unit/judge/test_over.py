"""What ends an alarm, a remedy and a hold: a later reading, never a tick or time alone; and when a missing test holds."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from planner.rulebook.nodes import Condition
from planner.rulebook.walk import met_once
from planner.show.words.conditions import seen_words
from planner.terms.records import Answer, State
from tests.engine_desk import answer_to, open_task, plan_with, rulebook, small_book, trace_of, verdicts_of
from tests.story_facts import plan_of

REMEDY = """
- phase: site
  tasks:
    - {id: salt, role: remedy, when: {reading: {name: salinity, below: low}}}
    - {id: look, when: {reading: {name: salinity, below: low}}}
"""
ALERT = "[{alert: thin, title: Thin, when: {reading: {name: salinity, below: low, any_age: yes}}, say: Add salt., holds: [site], tasks: [{id: salt, title: Salt, role: remedy}]}]"
LOW = {"low": (33.0, "ppt")}
BOOK = small_book(REMEDY, **LOW)
WATCH = small_book("- phase: site", ALERT, **LOW)


def open_keys(*rows: str, on: str) -> set[str]:
    return {t.key for t in plan_with(BOOK, *rows, on=on).tasks if t.closed_on is None}


def alarms(*rows: str, on: str = "2026-03-20", problems: int = 0) -> list[str]:
    return [a.alert for a, _ in verdicts_of(WATCH, *rows, on=on, problems=problems).alerts]


# --- remedies

def test_a_remedy_that_was_called_for_stays_when_its_reading_is_stale_and_a_step_does_not() -> None:
    assert open_keys("2026-03-10,reading,salinity,31,ppt", on="2026-03-20") == {"site/salt"}


def test_a_remedy_goes_with_a_later_reading_that_clears_it() -> None:
    assert open_keys("2026-03-10,reading,salinity,31,ppt", "2026-03-12,reading,salinity,35,ppt", on="2026-03-20") == set()


def test_a_remedy_that_was_done_comes_again_only_with_a_later_reading() -> None:
    done = ("2026-03-10 10:00,reading,salinity,31,ppt", "2026-03-10 12:00,done,site/salt#1")
    assert open_keys(*done, on="2026-03-10") == {"site/look"}
    again = plan_with(BOOK, *done, "2026-03-11 12:00,reading,salinity,32,ppt", on="2026-03-11")
    assert open_task(again, "site/salt").occurrence == 2


def test_a_large_change_of_water_asks_for_a_test_before_the_remedy_comes_again() -> None:
    assert open_keys("2026-03-10 10:00,reading,salinity,31,ppt", "2026-03-10 12:00,changed_water,water,50,%", on="2026-03-20") == set()


# --- readings that are taken too soon

NOT_YET = {"reading": {"name": "alkalinity", "at_least": "alarm_alkalinity_low", "any_age": True}}
OLD = "2026-03-01 18:00,reading,alkalinity,8,dKH"
DOSE = "2026-03-10 18:00,dosed,bicarbonate,3,g"


@pytest.mark.parametrize(("at", "answer"), [("18:00", Answer.UNKNOWN), ("23:00", Answer.UNKNOWN)])
def test_a_reading_soon_after_a_dose_is_unknown_and_no_older_one_speaks_for_it(at: str, answer: Answer) -> None:
    trace = trace_of(NOT_YET, OLD, DOSE, f"2026-03-10 {at},reading,alkalinity,5,dKH", on="2026-03-12")
    assert trace.answer == answer
    assert seen_words(trace.evidence[-1]) == "taken within 12 hours of the bicarbonate of 2026-03-10 18:00, so test again"


@pytest.mark.parametrize("row", ["2026-03-10 17:59,reading,alkalinity,5,dKH", "2026-03-11 06:00,reading,alkalinity,5,dKH"])
def test_a_reading_before_a_dose_or_long_enough_after_it_counts(row: str) -> None:
    assert answer_to(NOT_YET, OLD, DOSE, row, on="2026-03-12") == Answer.NO


def test_a_reading_in_the_hour_after_a_large_change_names_the_change() -> None:
    trace = trace_of(NOT_YET, OLD, "2026-03-10 18:00,changed_water,water,26,%", "2026-03-10 18:30,reading,alkalinity,5,dKH", on="2026-03-12")
    assert seen_words(trace.evidence[-1]) == "taken within 1 hour of the water change of 2026-03-10 18:00, so test again"


@pytest.mark.parametrize(("changes", "answer"), [(("25,%",), Answer.NO), (("26,%",), Answer.UNKNOWN), (("26,%", "10,%"), Answer.UNKNOWN)])
def test_a_change_of_a_quarter_at_most_leaves_a_reading_what_it_is(changes: tuple[str, ...], answer: Answer) -> None:
    rows = [f"2026-03-10 18:0{n},changed_water,water,{share}" for n, share in enumerate(changes)]
    assert answer_to(NOT_YET, OLD, *rows, "2026-03-10 18:30,reading,alkalinity,5,dKH", on="2026-03-12") == answer


# --- alarms

BAD, GOOD = "2026-03-10 18:00,reading,salinity,31,ppt", "2026-03-12 18:00,reading,salinity,35,ppt"


def test_an_alarm_stays_until_a_later_reading_is_good() -> None:
    assert alarms(BAD) == ["thin"]
    assert alarms(BAD, "2026-03-10 18:00,done,thin/salt#1", "2026-03-10 18:00,changed_water,water,50,%") == ["thin"]
    assert alarms(BAD, GOOD) == []


def test_a_line_that_cannot_be_read_does_not_end_an_alarm_and_raises_none() -> None:
    broken = "!2026-03-12,reading,salinity,about 35,ppt,display,\n"
    assert alarms(BAD, broken.strip(), problems=1) == ["thin"]
    assert alarms("2026-03-10 18:00,reading,salinity,35,ppt", broken.strip(), problems=1) == []


def test_a_good_reading_in_the_hour_after_a_large_change_ends_no_alarm_and_a_bad_one_raises_it() -> None:
    change = "2026-03-12 17:30,changed_water,water,30,%"
    assert alarms(BAD, change, GOOD) == ["thin"]
    assert alarms("2026-03-10 18:00,reading,salinity,35,ppt", change, "2026-03-12 18:00,reading,salinity,31,ppt") == ["thin"]


TWICE = small_book("- phase: site", "[{alert: foul, title: Foul, over: {reading: {name: ammonia, clear: yes, times: 2, any_age: yes}}, when: {reading: {name: ammonia, at_least: much, any_age: yes}}, say: Test., tasks: ["
                   "{id: change, title: Change, role: remedy}, {id: test, title: Test, role: test, reads: [ammonia]}]}]", much=(0.5, "mg/L"))
FOUL = "2026-03-10 18:00,reading,ammonia,1,mg/L"


@pytest.mark.parametrize(("later", "open_now"), [
    ((), {"foul/change", "foul/test"}),
    (("2026-03-11 18:00,reading,ammonia,0,mg/L",), {"foul/test"}),
    (("2026-03-11 18:00,reading,ammonia,0,mg/L", "2026-03-11 20:00,reading,ammonia,0,mg/L"), {"foul/test"}),
    (("2026-03-11 18:00,reading,ammonia,0,mg/L", "2026-03-12 18:00,reading,ammonia,0,mg/L"), set()),
    (("2026-03-11 18:00,reading,ammonia,0.25,mg/L", "2026-03-12 18:00,reading,ammonia,0.25,mg/L"), {"foul/change", "foul/test"}),
])  # fmt: skip
def test_an_alarm_that_asks_for_two_clear_readings_keeps_its_test_and_drops_its_remedy_after_one(later: tuple[str, ...], open_now: set[str]) -> None:
    # The last: what is no longer much and not clear yet ends nothing either, and the remedy goes on.
    assert {t.key for t in plan_with(TWICE, FOUL, *later, on="2026-03-13").tasks if t.closed_on is None} == open_now


RUNGS = small_book("- phase: site", "[{alert: foul, title: Foul, over: {reading: {name: ammonia, clear: yes, times: 2, any_age: yes}}, when: {reading: {name: ammonia, at_least: much, any_age: yes}}, say: Test., tasks: []},"
                   "{alert: dull, title: Dull, over: {reading: {name: ammonia, clear: yes, times: 2, any_age: yes}}, when: {all: [{reading: {name: ammonia, at_least: some, any_age: yes}}, {reading: {name: ammonia, below: much, any_age: yes}}]}, say: Test., tasks: []}]",
                   much=(0.5, "mg/L"), some=(0.2, "mg/L"))


@pytest.mark.parametrize(("later", "up"), [
    (("2026-03-11 18:00,reading,ammonia,0.25,mg/L",), ["dull"]),
    (("2026-03-11 18:00,reading,ammonia,0.25,mg/L", "2026-03-12 18:00,reading,ammonia,0,mg/L"), ["dull"]),
    (("2026-03-12 18:00,reading,ammonia,0,mg/L",), ["foul"]),
])  # fmt: skip
def test_of_a_ladder_of_alarms_one_rung_stands(later: tuple[str, ...], up: list[str]) -> None:
    assert [a.alert for a, _ in verdicts_of(RUNGS, FOUL, *later, on="2026-03-13").alerts] == up


@pytest.mark.parametrize(("declared", "up"), [("lower_is_stricter", ["foul"]), ("higher_is_stricter", ["dull"]), (None, ["dull", "foul"])])
def test_of_two_readings_of_one_moment_that_raise_two_rungs_the_worse_one_counts(declared: str | None, up: list[str]) -> None:
    """A page named one reading under the mildest and under the middle level at once. What nobody declared is told twice rather than not at all."""
    book = replace(RUNGS, numbers=RUNGS.numbers | {name: RUNGS.numbers[name].model_copy(update={"protects": declared}) for name in ("much", "some")})
    twice = ("2026-03-13 18:00,reading,ammonia,0.25,mg/L", "2026-03-13 18:00,reading,ammonia,1,mg/L")
    for rows in (twice, twice[::-1]):
        assert [a.alert for a, _ in verdicts_of(book, *rows, on="2026-03-13").alerts] == up


def test_of_two_readings_of_one_moment_the_shipped_ladder_of_ammonia_tells_the_graver_level() -> None:
    rows = ("2026-03-02 12:00,added,trochus-maculatus,3", "2026-03-13 18:00,reading,ammonia,0.4,mg/L", "2026-03-13 18:00,reading,ammonia,0.8,mg/L")
    assert [a.alert for a, _ in verdicts_of(rulebook(), *rows, on="2026-03-13").alerts if a.alert.startswith("ammonia-")] == ["ammonia-two"]


def test_two_clear_readings_before_the_bad_one_end_nothing() -> None:
    rows = [f"2026-03-0{day} 18:00,reading,ammonia,0,mg/L" for day in (6, 7)]
    assert [a.alert for a, _ in verdicts_of(TWICE, *rows, FOUL, "2026-03-11 18:00,reading,ammonia,0,mg/L", on="2026-03-11").alerts] == ["foul"]


def test_of_readings_of_one_moment_that_disagree_one_is_enough_to_raise_an_alarm() -> None:
    assert alarms("2026-03-10 18:00,reading,salinity,35,ppt", "2026-03-12 18:00,reading,salinity,31,ppt", GOOD) == ["thin"]


def test_without_any_reading_there_is_no_alarm() -> None:
    assert alarms("2026-03-10 18:00,reading,ph,8.1") == []


# --- holds on arrivals

@pytest.mark.parametrize(("on", "states"), [
    ("2026-04-02", {"crew/stage#1": State.PLANNED, "fish/stage#1": State.PLANNED}),
    ("2026-04-03", {"crew/stage#1": State.PLANNED, "fish/stage#1": State.PLANNED}),
])  # fmt: skip
def test_a_missing_test_holds_nothing_that_comes_in_later(on: str, states: dict[str, State]) -> None:
    # The crew of this story is due on Saturday 4 April, the fish a fortnight later; ammonia was last tested on 30 March, and the test of that day is on the plan.
    plan = plan_of("dry-rock-us", date.fromisoformat(on))
    assert {t.id: t.state for t in plan.tasks if t.id in states} == states
    assert [h.gate for h in plan.holds] == ["animals"]


def test_the_end_of_an_alarm_met_once_is_what_a_rule_file_would_write() -> None:
    """It is made without the checker, so it is checked here; the leaf that was looked up before is not kept."""
    twice, once = (Condition.model_validate({"all": [{"reading": {"name": "nitrite", "clear": "yes", "times": times, "any_age": "yes"}}]}) for times in (2, 1))
    assert [part.leaf for part in twice.parts] != [part.leaf for part in once.parts]
    made = met_once(twice)
    assert made == once and [part.leaf for part in made.parts] == [part.leaf for part in once.parts]


def test_what_is_missing_within_a_time_counts_from_the_last_time_it_was_done() -> None:
    asked = {"not": {"done": {"task": "site/look", "within": "week"}}}
    book = small_book(REMEDY, **LOW, week=(7.0, "d"))
    trace = trace_of(asked, "2026-03-01,done,site/look", "2026-03-05,done,site/look", on="2026-03-20", book=book)
    assert trace.answer == Answer.YES
    assert [row.day for row in trace.rows] == [date(2026, 3, 5)]
    assert answer_to(asked, "2026-03-14,done,site/look", on="2026-03-20", book=book) == Answer.NO
