"""Conditions: three values, limits against intervals, the kit's zero, repetition, freshness, the challenge.

The truth table is Kleene's strong logic (S. C. Kleene, Introduction to Metamathematics, 1952, section 64), written out
by hand. What counts as evidence (20 h apart, 48 h fresh, half a kit step) is the contract of the plan: common practice,
no source.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from planner.judge.conditions import both, either, judge_condition, negation
from planner.judge.scene import Scene
from planner.rulebook.nodes import Condition
from planner.terms.records import Answer
from planner.terms.traces import Disagree, NoTime, Unread
from tests.engine_desk import answer_to, book_with, facts_of, small_book, tank_with, trace_of

Y, N, U = Answer.YES, Answer.NO, Answer.UNKNOWN

#      a  b  a and b  a or b
TABLE = [
    (Y, Y, Y, Y), (Y, N, N, Y), (Y, U, U, Y),
    (N, Y, N, Y), (N, N, N, N), (N, U, N, U),
    (U, Y, U, Y), (U, N, N, U), (U, U, U, U),
]


@pytest.mark.parametrize(("a", "b", "conjunction", "disjunction"), TABLE)
def test_all_and_any_follow_kleene(a: Answer, b: Answer, conjunction: Answer, disjunction: Answer) -> None:
    assert both([a, b]) == conjunction
    assert either([a, b]) == disjunction


@pytest.mark.parametrize(("a", "inverse"), [(Y, N), (N, Y), (U, U)])
def test_not_follows_kleene(a: Answer, inverse: Answer) -> None:
    assert negation(a) == inverse


LEAF = {Y: {"event": "leak"}, N: {"event": "smell"}, U: {"reading": {"name": "calcium"}}}


@pytest.mark.parametrize(("a", "b", "conjunction", "disjunction"), TABLE)
def test_nodes_of_a_rule_follow_kleene_too(a: Answer, b: Answer, conjunction: Answer, disjunction: Answer) -> None:
    scene: dict[str, Any] = {"on": "2026-03-05"}
    leak = "2026-03-03,event,leak"
    assert answer_to({"all": [LEAF[a], LEAF[b]]}, leak, **scene) == conjunction
    assert answer_to({"any": [LEAF[a], LEAF[b]]}, leak, **scene) == disjunction
    assert answer_to({"not": {"not": LEAF[a]}}, leak, **scene) == a


def test_no_reading_under_a_not_never_becomes_yes() -> None:
    high = {"reading": {"name": "nitrate", "above": "ten"}}
    assert answer_to({"not": high}, on="2026-03-05", book=book_with(ten=(10, "mg/L"))) == U


def test_no_row_means_no_for_events_ticks_and_animals() -> None:
    for node in ({"event": "leak"}, {"done": "site/level"}, {"animal": {}}):
        assert answer_to(node, on="2026-03-05") == N


def test_an_undescribed_tank_key_is_unknown() -> None:
    warm = {"tank": {"key": "room.temperature", "at_least": "twenty"}}
    book = book_with(twenty=(20, "C"))
    assert answer_to(warm, on="2026-03-05", tank=tank_with(room__temperature=None), book=book) == U
    assert answer_to(warm, on="2026-03-05", tank=tank_with(room__temperature="20 C"), book=book) == Y
    assert answer_to(warm, on="2026-03-05", tank=tank_with(room__temperature="19 C"), book=book) == N
    seed = {"tank": {"key": "cycle.seed", "is": ["bottled"]}}
    assert answer_to(seed, on="2026-03-05", tank=tank_with(cycle__seed="bottled")) == Y
    assert answer_to(seed, on="2026-03-05", tank=tank_with(cycle__seed="media_marine")) == N


def test_a_wish_is_no_without_a_list_and_unknown_until_the_list_is_judged() -> None:
    stony = {"wish": {"groups": ["large_polyp", "small_polyp"]}}
    assert answer_to(stony, on="2026-03-05", tank=tank_with(wish_list=[])) == N
    assert answer_to(stony, on="2026-03-05", tank=tank_with(wish_list=[{"animal": "gramma-loreto"}])) == U


@pytest.mark.parametrize(("wished", "answer"), [
    ({"small_polyp"}, Y), ({"fish", "large_polyp"}, Y), ({"fish"}, N), (set(), N), ({"fish", ""}, U), ({"small_polyp", ""}, Y)])
def test_a_judged_list_says_what_it_asks_for_and_an_unclear_name_may_be_anything(wished: set[str], answer: Answer) -> None:
    facts = replace(facts_of(on="2026-03-05", tank=tank_with(wish_list=[{"animal": "gramma-loreto"}])), wished=frozenset(wished))
    stony = Condition.model_validate({"wish": {"groups": ["large_polyp", "small_polyp"]}})
    assert judge_condition(stony, Scene(facts, book_with(), {})).answer == answer


@pytest.mark.parametrize(("calcium", "salinity", "answer"), [("400", "35", Y), ("399", "35", N), ("378", "33", Y), ("377", "33", N), ("422", "37", N), ("423", "37", Y)])
def test_calcium_taken_at_35_ppt_goes_with_the_salinity(calcium: str, salinity: str, answer: Answer) -> None:
    """400 x 33 / 35 is 377.1, and 400 x 37 / 35 is 422.9 mg/L (constant proportions of sea water)."""
    node = {"reading": {"name": "calcium", "at_least": "least", "at_35": True}}
    rows = (f"2026-03-05 08:00,reading,salinity,{salinity},ppt,display,", f"2026-03-05 08:10,reading,calcium,{calcium},mg/L,display,")
    assert answer_to(node, *rows, on="2026-03-05", book=book_with(least=(400, "mg/L"), standard_salinity=(35, "ppt"))) == answer


@pytest.mark.parametrize(("step", "alkalinity", "salinity", "answer"), [
    ("1 dKH", "7", "35.6", Y), ("1 dKH", "7", "34.4", Y), ("1 dKH", "7", "36.6", N), ("0.1 dKH", "7", "35.6", Y), ("0.1 dKH", "7", "35.8", N), (None, "7", "35.6", Y), (None, "7", "36.6", N)])
def test_what_salinity_moves_by_less_than_the_kit_is_off_by_is_left_as_it_was_read(step: str | None, alkalinity: str, salinity: str, answer: Answer) -> None:
    """7 dKH at 35.6 ppt would be 6.88 at 35, and a kit is off by 0.15 to 0.3 dKH (common practice, no source)."""
    node = {"reading": {"name": "alkalinity", "at_least": "least", "at_35": True}}
    rows = (f"2026-03-05 08:00,reading,salinity,{salinity},ppt,display,", f"2026-03-05 08:10,reading,alkalinity,{alkalinity},dKH,display,")
    tank = tank_with(test_kits__alkalinity={"step": step}) if step else tank_with()
    assert answer_to(node, *rows, on="2026-03-05", tank=tank, book=book_with(least=(7, "dKH"))) == answer


@pytest.mark.parametrize(("size", "litres", "within_the_hour", "from_before"), [
    ("40 L", "4,L", Y, Y), ("40 L", "10,L", Y, U), ("40 L", "11,L", U, U), ("40 L", "20,L", U, U), ("40 L", "25,%", Y, U), ("yes", "4,L", U, U), ("yes", "25,%", Y, U)])
def test_a_change_of_the_quarantine_water_counts_by_the_size_of_that_tank(size: str, litres: str, within_the_hour: Answer, from_before: Answer) -> None:
    """More than a quarter spoils a test of its hour, and more than a tenth makes the tests from before it old."""
    tank = tank_with(equipment__quarantine_tank=size)
    change = f"2026-03-05 08:00,changed_water,water,{litres},quarantine"
    zero = {"reading": {"name": "ammonia", "where": "quarantine", "clear": True}}
    assert answer_to(zero, change, "2026-03-05 08:30,reading,ammonia,0,mg/L,quarantine", on="2026-03-05", tank=tank) == within_the_hour
    assert answer_to(zero, "2026-03-05 07:00,reading,ammonia,0,mg/L,quarantine", change, on="2026-03-05", tank=tank) == from_before


TEN = book_with(ten=(10, "mg/L"), five=(5, "mg/L"))


@pytest.mark.parametrize(("written", "at_most", "at_least", "above", "below"), [
    ("9.99", Y, N, N, Y),
    ("10", Y, Y, N, N),      # exactly at the number
    ("10.01", N, Y, Y, N),
    ("<10", Y, U, N, U),     # somewhere in 0 to 10
    ("<12", U, U, U, U),     # an interval across the limit proves nothing
    (">10", U, Y, U, N),
    (">12", N, Y, Y, N),
    ("<5", Y, N, N, Y),
])
def test_limits_hold_only_if_the_whole_interval_lies_inside(written: str, at_most: Answer, at_least: Answer, above: Answer, below: Answer) -> None:
    row = f"2026-03-05,reading,nitrite,{written},mg/L as N"
    told = {word: answer_to({"reading": {"name": "nitrite", word: "ten"}}, row, on="2026-03-05", book=TEN) for word in ("at_most", "at_least", "above", "below")}
    assert told == {"at_most": at_most, "at_least": at_least, "above": above, "below": below}


def test_a_limit_written_for_the_ion_is_compared_on_one_basis() -> None:
    """10 mg/L of nitrate ion are 2.26 mg/L as N: 14.007 / 62.004 by the IUPAC 2021 atomic weights."""
    book = book_with(ten=(10, "mg/L as NO3"))
    node = {"reading": {"name": "nitrate", "at_most": "ten"}}
    assert answer_to(node, "2026-03-05,reading,nitrate,2.25,mg/L as N", on="2026-03-05", book=book) == Y
    assert answer_to(node, "2026-03-05,reading,nitrate,2.27,mg/L as N", on="2026-03-05", book=book) == N
    assert answer_to(node, "2026-03-05,reading,nitrate,10,mg/L", on="2026-03-05", book=book) == Y  # the kit shows the ion


CLEAR = {"reading": {"name": "ammonia", "clear": True}}
BLANK = tank_with(test_kits__ammonia={"basis": "N", "step": "0.25", "blank": "0.2"})
NO_KIT = tank_with(test_kits={"nitrite": {"basis": "N", "step": "0.25"}})


@pytest.mark.parametrize(("kit", "written", "expected"), [
    ("blank", "0.2", Y), ("blank", "0.21", N), ("blank", "0", Y), ("blank", "<0.25", Y),
    ("step", "0", Y), ("step", "0.12", Y), ("step", "0.125", N), ("step", "0.25", N),
    ("step", "<0.25", Y), ("step", "<0.5", U), ("step", ">5", N),
    ("none", "0.1", Y), ("none", "0.11", N), ("none", "<0.25", Y), ("none", "<0.3", U),
])
def test_clear_is_the_blank_else_half_a_step_else_a_tenth(kit: str, written: str, expected: Answer) -> None:
    tank = {"blank": BLANK, "step": tank_with(), "none": NO_KIT}[kit]
    assert answer_to(CLEAR, f"2026-03-05,reading,ammonia,{written},mg/L as N", on="2026-03-05", tank=tank) == expected


TWICE = {"reading": {"name": "nitrite", "clear": True, "times": 2, "any_age": True}}


@pytest.mark.parametrize(("first", "second", "expected"), [
    ("2026-03-04 12:00", "2026-03-05 08:00", Y),   # 20 h exactly
    ("2026-03-04 12:01", "2026-03-05 08:00", U),   # a minute short
    ("2026-03-05 00:10", "2026-03-05 23:50", U),   # one day, however far apart
    ("2026-03-04", "2026-03-05", Y),               # bare dates: different days are enough
    ("2026-03-04 23:00", "2026-03-05", Y),         # only one carries a time
    ("2026-03-05", "2026-03-05", U),
])
def test_two_readings_count_on_different_days_and_twenty_hours_apart(first: str, second: str, expected: Answer) -> None:
    rows = (f"{first},reading,nitrite,0,mg/L", f"{second},reading,nitrite,0,mg/L")
    assert answer_to(TWICE, *rows, on="2026-03-05") == expected
    assert answer_to(TWICE, *reversed(rows), on="2026-03-05") == expected


def test_a_reading_above_in_between_starts_the_count_again() -> None:
    rows = ["2026-03-03,reading,nitrite,0,mg/L", "2026-03-04,reading,nitrite,0.5,mg/L", "2026-03-05,reading,nitrite,0,mg/L"]
    trace = trace_of(TWICE, *rows, on="2026-03-05")
    assert trace.answer == U and (trace.gap.there, trace.gap.wanted) == (1, 2) and trace.gap in trace.evidence
    assert answer_to(TWICE, *rows, "2026-03-06,reading,nitrite,0,mg/L", on="2026-03-06") == Y
    assert answer_to(TWICE, *rows, "2026-03-06,reading,nitrite,0.5,mg/L", on="2026-03-06") == N


@pytest.mark.parametrize(("on", "expected"), [("2026-03-05", Y), ("2026-03-06", Y), ("2026-03-07", U), ("2026-03-08", U)])
def test_an_ammonia_reading_counts_for_forty_eight_hours(on: str, expected: Answer) -> None:
    """The plan stands at the end of the day: 12:00 on the 5th is 36 h before the end of the 6th, 60 h before that of the 7th."""
    assert answer_to(CLEAR, "2026-03-05 12:00,reading,ammonia,0,mg/L", on=on) == expected


def test_a_reading_of_the_plans_own_day_is_fresh_even_within_less_than_a_day() -> None:
    node = {"reading": {"name": "ammonia", "clear": True, "fresh": "hour"}}
    book = book_with(hour=(1, "h"))
    assert answer_to(node, "2026-03-05 07:00,reading,ammonia,0,mg/L", on="2026-03-05", book=book) == Y
    assert answer_to(node, "2026-03-05 07:00,reading,ammonia,0,mg/L", on="2026-03-06", book=book) == U


@pytest.mark.parametrize(("share", "where", "expected"), [("10", "display", Y), ("11", "display", U), ("50", "quarantine", Y)])
def test_a_change_of_more_than_a_tenth_ends_freshness(share: str, where: str, expected: Answer) -> None:
    rows = ("2026-03-05 09:00,reading,ammonia,0,mg/L", f"2026-03-05 15:00,changed_water,water,{share},%,{where}")
    assert answer_to(CLEAR, *rows, on="2026-03-05") == expected
    after = "2026-03-05 19:00,reading,ammonia,0,mg/L"
    assert answer_to(CLEAR, *rows, after, on="2026-03-05") == Y


def test_a_reading_within_an_hour_of_a_dose_is_no_evidence() -> None:
    dose = "2026-03-05 10:00,dosed,ammonia,2,mg/L as N"
    assert answer_to(CLEAR, dose, "2026-03-05 10:59,reading,ammonia,0,mg/L", on="2026-03-05") == U
    assert answer_to(CLEAR, dose, "2026-03-05 11:00,reading,ammonia,0,mg/L", on="2026-03-05") == Y


def test_two_readings_of_one_time_that_disagree_ask_for_a_third() -> None:
    node = {"reading": {"name": "nitrite", "at_most": "five"}}
    pair = ["2026-03-05 10:00,reading,nitrite,0.25,mg/L", "2026-03-05 10:00,reading,nitrite,1,mg/L"]
    trace = trace_of(node, *pair, on="2026-03-05", book=TEN)
    assert trace.answer == U and trace.gap == Disagree()
    settled = trace_of(CLEAR | {"reading": {"name": "nitrite", "clear": True}}, *pair, "2026-03-05 10:00,reading,nitrite,0.25,mg/L", on="2026-03-05")
    assert settled.answer == N  # the two that agree read 0.25, which is not clear
    assert answer_to(node, *pair, "2026-03-05 10:00,reading,nitrite,0.25,mg/L", on="2026-03-05", book=TEN) == Y


def test_one_kit_step_apart_is_no_disagreement_and_the_worse_one_rules() -> None:
    pair = ["2026-03-05 10:00,reading,ammonia,0,mg/L", "2026-03-05 10:00,reading,ammonia,0.25,mg/L"]
    assert answer_to(CLEAR, *pair, on="2026-03-05") == N
    assert answer_to(CLEAR, *reversed(pair), on="2026-03-05") == N


def test_the_latest_instant_rules_not_the_last_line() -> None:
    late, early = "2026-03-05 18:00,reading,ammonia,0,mg/L", "2026-03-05 08:00,reading,ammonia,1,mg/L"
    assert answer_to(CLEAR, late, early, on="2026-03-05") == Y
    assert answer_to(CLEAR, early, late, on="2026-03-05") == Y


def test_another_water_proves_nothing_for_the_display() -> None:
    rows = ["2026-03-05,reading,ammonia,0,mg/L,quarantine"]
    assert answer_to(CLEAR, *rows, on="2026-03-05") == U
    assert answer_to({"reading": {"name": "ammonia", "clear": True, "where": "quarantine"}}, *rows, on="2026-03-05") == Y


def test_an_unreadable_row_hides_its_reading_from_its_day_on() -> None:
    rows = ["2026-03-04,reading,ammonia,0,mg/L", "!2026-03-05,reading,ammonia,O.5,mg/L,display,"]
    assert answer_to(CLEAR, *rows, on="2026-03-04", problems=1) == Y
    trace = trace_of(CLEAR, *rows, "2026-03-06,reading,ammonia,0,mg/L", on="2026-03-06", problems=1)
    assert trace.answer == U and trace.evidence == (Unread("journal.csv", 3),)
    other = "2026-03-06,reading,nitrite,0,mg/L"
    assert answer_to({"reading": {"name": "nitrite", "clear": True}}, *rows, other, on="2026-03-06", problems=1) == Y


TORN = ["2026-03-04,reading,ammonia,0,mg/L", "!2026-03-05,reading,ammonia,O.5,mg/L,display,"]


def clean(*days: str, name: str = "ammonia", where: str = "display") -> list[str]:
    return [f"2026-03-{day},reading,{name},0,mg/L,{where}" for day in days]


@pytest.mark.parametrize(("later", "answer"), [
    (clean("06", "07"), Y),
    (clean("05", "06"), U),
    (clean("06 08:00", "06 18:00"), U),
    (clean("06 20:00", "07 08:00"), U),
    (clean("06", "07", where="quarantine"), U),
    (clean("06", "07", name="nitrite"), U),
    ([*clean("06"), "2026-03-07,reading,ammonia,0.5,mg/L"], N),
])
def test_two_later_tests_speak_in_the_place_of_one_that_cannot_be_read(later: list[str], answer: Answer) -> None:
    assert answer_to(CLEAR, *TORN, *later, on="2026-03-07", problems=1) == answer


def test_a_test_that_cannot_be_read_breaks_a_row_of_clear_ones() -> None:
    thrice = {"reading": {"name": "ammonia", "clear": True, "times": 3, "any_age": True}}
    assert answer_to(thrice, *clean("02", "03", "04", "06", "07"), on="2026-03-07") == Y
    assert answer_to(thrice, *clean("02", "03"), *TORN, *clean("06", "07"), on="2026-03-07", problems=1) == U
    assert answer_to(thrice, *TORN, *clean("06", "07", "08"), on="2026-03-08", problems=1) == Y


def test_a_row_of_another_kind_that_cannot_be_read_is_not_answered_by_tests() -> None:
    assert answer_to(CLEAR, "!2026-03-05,dosed,ammonia,much,g,display,", *clean("06", "07"), on="2026-03-07", problems=1) == U


def test_since_counts_only_readings_after_the_named_fact() -> None:
    node = {"reading": {"name": "nitrite", "clear": True, "since": "dosed:ammonia"}}
    before, dose, after = "2026-03-04 09:00,reading,nitrite,0,mg/L", "2026-03-04 10:00,dosed,ammonia,1,mg/L as N", "2026-03-04 20:00,reading,nitrite,0,mg/L"
    assert answer_to(node, before, on="2026-03-04") == U
    assert answer_to(node, before, dose, on="2026-03-04") == U
    assert answer_to(node, before, dose, after, on="2026-03-04") == Y
    done = {"done": {"task": "leak-test/watch", "since": "leak-test/fill"}}
    assert answer_to(done, "2026-03-03,done,leak-test/watch", on="2026-03-05") == N
    assert answer_to(done, "2026-03-03,done,leak-test/watch", "2026-03-04,done,leak-test/fill", on="2026-03-05") == N
    assert answer_to(done, "2026-03-03,done,leak-test/fill", "2026-03-03,done,leak-test/watch", on="2026-03-05") == Y


def test_a_tick_may_have_to_lie_so_long_after_another() -> None:
    apart = {"done": {"task": "leak-test/drain", "after": "leak-test/fill", "apart": "least"}}
    fill, book = "2026-03-03 10:00,done,leak-test/fill", book_with(least=(24, "h"))
    for drained, expected in (("2026-03-04 09:59", N), ("2026-03-04 10:00", Y), ("2026-03-04", Y), ("2026-03-03 09:00", N)):
        assert answer_to(apart, fill, f"{drained},done,leak-test/drain", on="2026-03-08", book=book) == expected


REPEATED = """
- {phase: p, tasks: [{id: fill, also_done_by: [p/refill], void_after: p/restart}, {id: refill}, {id: restart}]}
"""


@pytest.mark.parametrize(("rows", "filled"), [
    (["2026-03-02,done,p/fill"], Y),
    (["2026-03-02,done,p/refill#2"], Y),
    (["2026-03-02,done,p/fill", "2026-03-03,done,p/restart"], N),
    (["2026-03-02,done,p/fill", "2026-03-02 09:00,done,p/restart"], N),
    (["2026-03-02,done,p/restart", "2026-03-03,done,p/fill"], Y),
    (["2026-03-02,done,p/fill", "2026-03-03,done,p/restart", "2026-03-03,done,p/refill#1"], Y),
    (["2026-03-02,done,p/refill#1", "2026-03-03,done,p/restart"], N),
])
def test_only_the_newest_attempt_of_a_task_counts(rows: list[str], filled: Answer) -> None:
    book = small_book(REPEATED)
    for journal in (rows, rows[::-1]):
        assert answer_to({"done": "p/fill"}, *journal, on="2026-03-05", book=book) == filled


def test_a_skipped_task_counts_as_done_unless_it_protects() -> None:
    assert answer_to({"done": "leak-test/watch"}, "2026-03-03,skipped,leak-test/watch", on="2026-03-05") == N
    assert answer_to({"done": "scape/photo"}, "2026-03-03,skipped,scape/photo", on="2026-03-05") == Y


@pytest.mark.parametrize(("expires", "on", "expired"), [
    ("2026-03", "2026-03-31", N),   # good to the last day of its month
    ("2026-03", "2026-04-01", Y),
    (None, "2026-04-01", U),
])
def test_a_kit_is_good_until_the_month_on_its_box_has_ended(expires: str | None, on: str, expired: Answer) -> None:
    tank = tank_with(test_kits__nitrite__expires=expires)
    assert answer_to({"kit": {"name": "nitrite", "expired": True}}, on=on, tank=tank) == expired
    assert answer_to({"kit": {"name": "nitrite", "expired": False}}, on=on, tank=tank) == negation(expired)


def test_the_cycle_is_as_old_as_its_first_dose_or_as_the_live_rock_in_the_tank() -> None:
    aged = {"age": {"of": "first:ammonia", "at_least": "week"}}
    book, rock = book_with(week=(7, "d")), tank_with(rock__kind="live", rock__cured_in="tank", cycle__ammonia="rock")
    doses = ("2026-03-02 09:00,dosed,ammonia,2,mg/L", "2026-03-08 09:00,dosed,ammonia,1,mg/L")
    assert answer_to(aged, *doses, on="2026-03-09", book=book) == Y
    assert answer_to(aged, doses[1], on="2026-03-09", book=book) == N
    assert answer_to(aged, on="2026-03-09", book=book) == N
    assert answer_to(aged, "2026-03-02 09:00,done,scape/rock", doses[1], on="2026-03-09", book=book, tank=rock) == Y


def test_after_a_task_goes_by_the_instants_and_since_by_the_day() -> None:
    rows = ("2026-03-05 18:00,done,cycle/challenge-test", "2026-03-05 18:10,done,cycle/challenge-dose")
    for way, expected in (("since", Y), ("after", N)):
        assert answer_to({"done": {"task": "cycle/challenge-test", way: "cycle/challenge-dose"}}, *rows, on="2026-03-05") == expected
    later = (*rows, "2026-03-06 17:00,done,cycle/challenge-test")
    assert answer_to({"done": {"task": "cycle/challenge-test", "after": "cycle/challenge-dose"}}, *later, on="2026-03-06") == Y


def test_the_age_of_a_task_written_without_a_time_counts_from_the_end_of_its_day() -> None:
    node = {"age": {"of": "leak-test/fill", "at_least": "day"}}
    book = book_with(day=(24, "h"))
    assert answer_to(node, on="2026-03-05", book=book) == N
    assert answer_to(node, "2026-03-04,done,leak-test/fill", on="2026-03-04", book=book) == U  # perhaps just after midnight
    assert answer_to(node, "2026-03-04,done,leak-test/fill", on="2026-03-05", book=book) == Y
    assert answer_to(node, "2026-03-04 10:00,done,leak-test/fill", on="2026-03-04", book=book) == N


@pytest.mark.parametrize(("row", "on", "expected"), [
    ("2026-03-22,done,leak-test/fill", "2026-03-28", N),
    ("2026-03-22,done,leak-test/fill", "2026-03-29", Y),                         # the clocks go forward (Directive 2000/84/EC): 23 hours are a day
    ("2026-10-18 00:10,done,leak-test/fill", "2026-10-24", N),
    ("2026-10-18 23:50,done,leak-test/fill", "2026-10-25", Y),
    ("2026-05-01T23:30:00-08:00,done,leak-test/fill", "2026-05-08", N),          # 2 May in the tank's zone
    ("2026-05-01T23:30:00-08:00,done,leak-test/fill", "2026-05-09", Y),
])
def test_an_age_in_days_counts_days_of_the_tanks_calendar(row: str, on: str, expected: Answer) -> None:
    node = {"age": {"of": "leak-test/fill", "at_least": "week"}}
    assert answer_to(node, row, on=on, book=book_with(week=(7, "d")), tank=tank_with(timezone="Europe/Berlin")) == expected


def test_a_part_of_a_day_that_a_house_rule_adds_is_a_day_more_and_half_a_day_is_one() -> None:
    node, row = {"age": {"of": "leak-test/fill", "at_least": "wait"}}, "2026-03-04 10:00,done,leak-test/fill"
    assert answer_to(node, row, on="2026-03-18", book=book_with(wait=(14.4, "d"))) == N
    assert answer_to(node, row, on="2026-03-19", book=book_with(wait=(14.4, "d"))) == Y
    assert answer_to(node, row, on="2026-03-04", book=book_with(wait=(0.4, "d"))) == N


ONCE = {"challenge": {"dose": "two", "hours": "day", "times": 1}}
PAIR = {"challenge": {"dose": "two", "hours": "day", "times": 2}}
BOOK = book_with(two=(2, "mg/L as N"), day=(24, "h"))


def proof(dose: str, test: str, ammonia: str = "0", nitrite: str = "0", size: str = "2") -> list[str]:
    return [f"{dose},dosed,ammonia,{size},mg/L as N", f"{test},reading,ammonia,{ammonia},mg/L", f"{test},reading,nitrite,{nitrite},mg/L"]


@pytest.mark.parametrize(("rows", "expected"), [
    (proof("2026-03-04 10:00", "2026-03-05 10:00"), Y),                             # 24 h exactly
    (proof("2026-03-04 10:00", "2026-03-05 12:00"), U),                             # 26 h: gone, but nobody looked in time
    (proof("2026-03-04 10:00", "2026-03-05 09:00", "0.25", "0.25"), Y),             # one kit step is allowed
    (proof("2026-03-04 10:00", "2026-03-05 09:00", "0.5", "0"), N),
    (proof("2026-03-04 10:00", "2026-03-05 12:00", "0.5", "0"), N),                 # late, and still there
    (proof("2026-03-04 10:00", "2026-03-05 09:00", "0", "0.5"), N),
    (proof("2026-03-04", "2026-03-05"), U),                                         # 0 to 48 h: the time is asked for
    (proof("2026-03-04", "2026-03-05 10:00"), U),
    (proof("2026-03-04 10:00", "2026-03-05 09:00", size="1.5"), U),                 # not a dose of the challenge's size
    (proof("2026-03-04 10:00", "2026-03-05 09:00")[:2], U),                         # nitrite never tested
    ([], U),
])
def test_a_challenge_is_judged_for_every_instant_of_the_days_written(rows: list[str], expected: Answer) -> None:
    assert answer_to(ONCE, *rows, on="2026-03-05", book=BOOK) == expected
    assert answer_to(ONCE, *reversed(rows), on="2026-03-05", book=BOOK) == expected


def test_a_challenge_of_bare_dates_asks_for_the_time() -> None:
    trace = trace_of(ONCE, *proof("2026-03-04", "2026-03-05"), on="2026-03-05", book=BOOK)
    assert trace.gap == NoTime(of_a_test=True) and trace.gap in trace.evidence


def test_a_water_change_in_between_voids_a_challenge() -> None:
    rows = proof("2026-03-04 10:00", "2026-03-05 09:00")
    assert answer_to(ONCE, *rows, "2026-03-04 20:00,changed_water,water,20,%", on="2026-03-05", book=BOOK) != Y
    assert answer_to(ONCE, *rows, "2026-03-04 08:00,changed_water,water,20,%", on="2026-03-05", book=BOOK) == Y
    assert answer_to(ONCE, *rows, "2026-03-04 20:00,changed_water,water,20,%,quarantine", on="2026-03-05", book=BOOK) == Y


def test_two_challenges_need_two_days() -> None:
    first, second = proof("2026-03-04 10:00", "2026-03-05 09:00"), proof("2026-03-05 10:00", "2026-03-06 09:00")
    assert answer_to(PAIR, *first, on="2026-03-06", book=BOOK) == N
    assert answer_to(PAIR, *first, *second, on="2026-03-06", book=BOOK) == Y
    one_day = proof("2026-03-04 01:00", "2026-03-04 08:00") + proof("2026-03-04 10:00", "2026-03-04 20:00")
    assert answer_to(PAIR, *one_day, on="2026-03-04", book=BOOK) == N


def test_a_failed_challenge_ends_the_row_of_passed_ones() -> None:
    rows = [*proof("2026-03-02 10:00", "2026-03-03 09:00"), *proof("2026-03-04 10:00", "2026-03-05 09:00", "1"), *proof("2026-03-06 10:00", "2026-03-07 09:00")]
    assert answer_to(PAIR, *rows, on="2026-03-07", book=BOOK) == N
    assert answer_to(PAIR, *rows, *proof("2026-03-07 10:00", "2026-03-08 09:00"), on="2026-03-08", book=BOOK) == Y


@pytest.mark.parametrize(("zone", "dose", "test", "expected"), [
    # Clocks go forward on 29 March 2026 in London (Summer Time Order 2002: last Sunday of March, 1 h GMT) and back on
    # 25 October; in New York on 8 March and 1 November 2026 (Energy Policy Act of 2005, section 110).
    ("Europe/London", "2026-03-28 10:00", "2026-03-29 11:00", Y),       # 24 h on the clock of the sun
    ("Europe/London", "2026-03-28 10:00", "2026-03-29 11:30", U),
    ("Europe/London", "2026-10-24 10:00", "2026-10-25 09:00", Y),       # 24 h too
    ("Europe/London", "2026-10-24 10:00", "2026-10-25 10:00", U),       # 25 h
    ("America/New_York", "2026-03-07 10:00", "2026-03-08 11:00", Y),
    ("America/New_York", "2026-10-31 10:00", "2026-11-01 10:00", U),
])
def test_hours_are_counted_in_instants_over_a_clock_change(zone: str, dose: str, test: str, expected: Answer) -> None:
    tank = tank_with(timezone=zone)
    assert answer_to(ONCE, *proof(dose, test), on=test[:10], book=BOOK, tank=tank) == expected
