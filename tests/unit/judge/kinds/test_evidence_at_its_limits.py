"""What readings, facts and ticks prove, on both sides of each limit. The numbers of the rules are the test's own or stand beside the row."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.judge.evidence import clear_level, freshness_h, kit_step, proof_level, unread, water_of, zero_test
from planner.judge.facts import animals_in, beside, box_cm, change_fraction, first_animal, gross_l, inside_l, last_reading, measure_water, sand_kg
from planner.judge.kinds import bounds
from planner.terms.records import Answer
from tests.engine_desk import answer_to, book_with, facts_of, journal_of, tank_with, trace_of

YES, NO, UNKNOWN = Answer.YES, Answer.NO, Answer.UNKNOWN
BOOK = book_with(ten=(10, "dKH"), six=(6, "dKH"), day=(24, "h"), two_days=(48, "h"), spacing=(20, "h"), fresh_alkalinity=(48, "h"), half=(0.5, "mg/L as N"), fresh_ammonia=(48, "h"), settle_after_dose=(1, "h"), settle_after_bicarbonate=(12, "h"), change_disturbs=(25, "%"), fresh_ends_at_change=(10, "%"), three=(3, "g"), most=(50, "%"))
ON = "2026-03-10"


def kh(when: str, value: object, where: str = "display", note: str = "") -> str:
    return f"2026-03-{when},reading,alkalinity,{value},dKH,{where},{note}"


def ammonia(when: str, value: object) -> str:
    return f"2026-03-{when},reading,ammonia,{value},mg/L as N"


def asked(node: dict[str, object], *rows: str) -> Answer:
    return answer_to({"reading": {"name": "alkalinity", **node}}, *rows, on=ON, book=BOOK)


# --- intervals and limits


@pytest.mark.parametrize(
    ("low", "high", "answers"),
    [(1, 1, (NO, YES, NO, YES)), (2, 2, (YES, YES, NO, NO)), (3, 3, (YES, NO, YES, NO)), (1, 2, (UNKNOWN, YES, NO, UNKNOWN)), (2, 3, (YES, UNKNOWN, UNKNOWN, NO)), (1, 3, (UNKNOWN,) * 4), (2.1, float("inf"), (YES, NO, YES, NO)), (0, 1.9, (NO, YES, NO, YES))],
)
def test_an_interval_is_inside_of_a_limit_only_as_a_whole(low: float, high: float, answers: tuple[Answer, ...]) -> None:
    assert tuple(limit(2, low, high) for limit in (bounds.at_least, bounds.at_most, bounds.above, bounds.below)) == answers


@pytest.mark.parametrize(("node", "value", "answer"), [({"at_least": "six"}, 6, YES), ({"at_least": "six"}, 5.9, NO), ({"at_most": "ten"}, 10, YES), ({"at_most": "ten"}, 10.1, NO), ({"above": "six"}, 6, NO), ({"above": "six"}, 6.1, YES), ({"below": "ten"}, 10, NO), ({"below": "ten"}, 9.9, YES), ({"at_least": "six", "at_most": "ten"}, 8, YES), ({"at_least": "six", "at_most": "ten"}, 11, NO), ({"at_least": "six"}, ">5", UNKNOWN), ({"at_least": "six"}, ">6", YES), ({"at_most": "ten"}, "<10", YES), ({"at_least": "six"}, "<6", UNKNOWN)])
def test_a_reading_at_its_limit(node: dict[str, object], value: object, answer: Answer) -> None:
    assert asked(node, kh("10 08:00", value)) == answer


# --- freshness, repetition, dispute


@pytest.mark.parametrize(("when", "answer"), [("10 08:00", YES), ("10", YES), ("09 00:00", YES), ("08 23:59", NO), ("09", YES), ("08", NO)])
def test_a_reading_counts_for_its_hours_and_one_of_the_day_itself_always(when: str, answer: Answer) -> None:
    """The plan of the 10th looks at its end: 48 hours before it the 9th began."""
    assert asked({"at_least": "six"}, kh(when, 8)) == (YES if answer == YES else UNKNOWN)
    assert asked({"at_least": "six", "any_age": True}, kh(when, 8)) == YES
    assert asked({"at_least": "six", "fresh": "day"}, kh(when, 8)) == (YES if when.startswith("10") else UNKNOWN)


@pytest.mark.parametrize(("rows", "answer"), [
    ((kh("10 08:00", 8),), UNKNOWN), ((kh("09 12:00", 8), kh("10 08:00", 8)), YES), ((kh("09 12:01", 8), kh("10 08:00", 8)), UNKNOWN), ((kh("10 01:00", 8), kh("10 23:00", 8)), UNKNOWN), ((kh("09", 8), kh("10", 8)), YES), ((kh("09", 8), kh("10 01:00", 8)), YES),
    ((kh("08 12:00", 8), kh("09 12:00", 11), kh("10 12:00", 8)), UNKNOWN), ((kh("09 12:00", 11), kh("10 12:00", 8)), UNKNOWN), ((kh("09 12:00", 8), kh("10 12:00", 11)), NO), ((kh("09 12:00", 8, "mixing"), kh("10 12:00", 8)), UNKNOWN), ((kh("08 12:00", 8), kh("09 12:00", 8), kh("10 12:00", 8)), YES)])
def test_two_readings_count_on_two_days_and_twenty_hours_apart(rows: tuple[str, ...], answer: Answer) -> None:
    assert asked({"at_most": "ten", "times": 2}, *rows) == answer


@pytest.mark.parametrize(("first", "second", "answer"), [("09 08:00", "10 07:59", UNKNOWN), ("09 08:00", "10 08:00", YES)])
def test_hours_between_two_readings_may_be_named(first: str, second: str, answer: Answer) -> None:
    assert asked({"at_most": "ten", "times": 2, "apart": "day"}, kh(first, 8), kh(second, 8)) == answer


@pytest.mark.parametrize(("values", "answer"), [((8, 8), YES), ((8, 9), YES), ((8, 9.1), UNKNOWN), ((8, 9.1, 8), YES), ((8, 9.1, 11.5), UNKNOWN), ((8, 8, 11.5, 11.5), UNKNOWN), ((8, 8, 8, 12), YES), ((9.6, 10.4), NO)])
def test_readings_of_one_day_that_differ_by_more_than_a_step_are_in_dispute_until_most_agree(values: tuple[float, ...], answer: Answer) -> None:
    """Of alkalinity a step of 1 dKH is taken where no kit is described (common practice, no source)."""
    found = asked({"at_most": "ten"}, *(kh("10", v, note=str(n)) for n, v in enumerate(values)))
    assert found == (answer if answer != NO else UNKNOWN)


@pytest.mark.parametrize(("node", "rows", "answer"), [({"ever": True, "at_least": "ten"}, (kh("01 08:00", 11), kh("10 08:00", 8)), YES), ({"ever": True, "at_least": "ten"}, (kh("01 08:00", 9), kh("10 08:00", 8)), NO), ({"lately": "two_days", "at_least": "ten"}, (kh("09 00:00", 11), kh("10 08:00", 8)), YES), ({"lately": "two_days", "at_least": "ten"}, (kh("08 23:59", 11), kh("10 08:00", 8)), NO), ({"lately": "two_days", "at_least": "ten"}, (), NO)])
def test_once_and_lately(node: dict[str, object], rows: tuple[str, ...], answer: Answer) -> None:
    assert asked(node, *rows) == answer


# --- what disturbs a reading


@pytest.mark.parametrize(("rows", "answer"), [
    (("2026-03-10 08:00,dosed,bicarbonate,1,dKH", kh("10 19:59", 8)), UNKNOWN), (("2026-03-10 08:00,dosed,bicarbonate,1,dKH", kh("10 20:00", 8)), YES), ((kh("10 08:00", 8), "2026-03-10 08:00,dosed,bicarbonate,1,dKH"), YES), (("2026-03-10 08:00,dosed,bicarbonate,1,dKH", kh("10 08:00", 8)), UNKNOWN), ((kh("10 07:59", 8), "2026-03-10 08:00,dosed,bicarbonate,1,dKH"), YES),
    (("2026-03-10 08:00,dosed,bicarbonate,1,dKH,mixing", kh("10 09:00", 8)), YES), (("2026-03-10,dosed,bicarbonate,1,dKH", kh("10 09:00", 8)), YES), (("2026-03-10 08:00,dosed,calcium,1,g", kh("10 09:00", 8)), YES),
    (("2026-03-10 08:00,changed_water,water,26,%", kh("10 08:59", 8)), UNKNOWN), (("2026-03-10 08:00,changed_water,water,25,%", kh("10 08:59", 8)), YES), (("2026-03-10 08:00,changed_water,water,26,%", kh("10 09:00", 8)), YES)])
def test_a_reading_soon_after_a_dose_or_a_large_change_does_not_count_yet(rows: tuple[str, ...], answer: Answer) -> None:
    assert asked({"at_most": "ten"}, *rows) == answer


@pytest.mark.parametrize(("minutes", "answer"), [("59", UNKNOWN), ("60", YES)])
def test_ammonia_is_read_an_hour_after_its_dose(minutes: str, answer: Answer) -> None:
    later = "10 09:00" if minutes == "60" else "10 08:59"
    assert answer_to({"reading": {"name": "ammonia", "at_least": "half"}}, "2026-03-10 08:00,dosed,ammonia,2,mg/L as N", ammonia(later, 2), on=ON, book=BOOK) == answer


@pytest.mark.parametrize(("rows", "answer"), [
    ((kh("10 08:00", 8), "2026-03-10 12:00,changed_water,water,11,%"), UNKNOWN), ((kh("10 08:00", 8), "2026-03-10 12:00,changed_water,water,10,%"), YES), (("2026-03-10 06:00,changed_water,water,20,%", kh("10 08:00", 8)), YES), ((kh("10 08:00", 8), "2026-03-10 12:00,changed_water,water,11,%,mixing"), YES), ((kh("09 08:00", 8), "2026-03-10,changed_water,water,11,%"), UNKNOWN)])
def test_a_change_ends_what_was_read_before_it(rows: tuple[str, ...], answer: Answer) -> None:
    assert asked({"at_most": "ten"}, *rows) == answer


@pytest.mark.parametrize(("lines", "answer"), [
    (("2026-03-08 08:00,reading,alkalinity,x,dKH",), UNKNOWN), (("2026-03-08 08:00,reading,alkalinity,x,dKH", kh("09 08:00", 8)), UNKNOWN), (("2026-03-08 08:00,reading,alkalinity,x,dKH", kh("09 08:00", 8), kh("10 04:00", 8)), YES), (("2026-03-08 08:00,reading,alkalinity,x,dKH", kh("09 08:00", 8), kh("10 03:59", 8)), UNKNOWN),
    (("2026-03-08 08:00,reading,alkalinity,x,dKH", kh("08 09:00", 8), kh("09 08:00", 8)), UNKNOWN), (("2026-03-08 08:00,reading,ph,x,", kh("10 08:00", 8)), YES), (("2026-03-08 08:00,reading,alkalinity,x,dKH,mixing", kh("10 08:00", 8)), YES)])
def test_a_test_that_cannot_be_read_is_unknown_until_two_later_days(lines: tuple[str, ...], answer: Answer) -> None:
    assert answer_to({"reading": {"name": "alkalinity", "at_most": "ten"}}, *lines, on=ON, book=BOOK, problems=1) == answer
    assert (unread("alkalinity", "display", facts_of(*lines, on=ON, problems=1), BOOK) is None) is (answer == YES)


# --- the kit's zero


def kit(**figures: object) -> object:
    return tank_with(test_kits={"ammonia": {"basis": "N", **{k: str(v) for k, v in figures.items()}}})


@pytest.mark.parametrize(
    ("figures", "level", "strict", "left"),
    [(None, 0.1, False, 0.25), ({}, 0.1, False, 0.25), ({"step": 0.25}, 0.125, True, 0.25), ({"step": 0.2}, 0.1, False, 0.2), ({"step": 0.05}, 0.1, False, 0.1), ({"step": 0.5}, 0.1, False, 0.25), ({"step": 0.25, "blank": 0.25}, 0.25, False, 0.25), ({"step": 0.25, "blank": 0.26}, 0.125, True, 0.25), ({"step": 0.1, "blank": 0.15}, 0.1, False, 0.1), ({"blank": 0.2}, 0.2, False, 0.25), ({"step": 0.37}, 0.185, True, 0.25), ({"step": 0.38}, 0.1, False, 0.25)],
)
def test_clear_is_a_kits_zero(figures: dict[str, object] | None, level: float, strict: bool, left: float) -> None:
    """0.1 without a kit, half a step under the first alarm of 0.19, a blank up to one usual step of 0.25 (the shipped numbers)."""
    book, tank = book_with(clear_without_kit=(0.1, "mg/L"), kit_step_unknown=(0.25, "mg/L"), alarm_ammonia_twice=(0.19, "mg/L as N")), tank_with(test_kits=None) if figures is None else kit(**figures)
    assert clear_level("ammonia", tank, book) == (pytest.approx(level), strict) and proof_level("ammonia", tank, book) == pytest.approx(left)  # type: ignore[arg-type]


@pytest.mark.parametrize(("value", "answer"), [("0", YES), ("0.12", YES), ("0.125", NO), ("0.25", NO), ("<0.25", YES), ("<0.26", UNKNOWN), ("<0.1", YES), (">0", NO)])
def test_a_reading_is_zero_below_half_a_step_or_under_the_first_colour(value: str, answer: Answer) -> None:
    (row,) = journal_of(ammonia("10", value)).rows
    assert zero_test("ammonia", kit(step=0.25), book_with())(row) == answer  # type: ignore[arg-type]


def test_steps_are_those_of_the_kit_else_the_usual_ones() -> None:
    plain = tank_with(test_kits=None)
    assert [kit_step(name, plain, book_with(kit_step_unknown=(0.25, "mg/L"))) for name in ("ammonia", "nitrite", "ph", "alkalinity", "salinity", "temperature", "nitrate")] == [0.25, 0.25, 0.3, 1.0, 1.0, 1.0, float("inf")]
    assert kit_step("ammonia", kit(step=0.1), book_with()) == pytest.approx(0.1) and freshness_h("ammonia", BOOK) == 48  # type: ignore[arg-type]


def test_the_water_is_taken_as_last_read_and_within_what_the_formula_holds_for() -> None:
    def water(*rows: str) -> tuple[float, ...]:
        return water_of("display", facts_of(*rows, on=ON), book_with(alarm_ph_free_ammonia=(8.6, "")))

    meant = tank_with().water
    assert water() == (8.6, meant.temperature_c, meant.salinity)
    assert water("2026-03-01,reading,ph,8.1", "2026-03-01,reading,temperature,24,C", "2026-03-01,reading,salinity,33,ppt") == (8.1, 24, 33)
    assert water("2026-03-01,reading,ph,6.9", "2026-03-01,reading,temperature,9,C", "2026-03-01,reading,salinity,4,ppt") == (7, 10, 5) and water("2026-03-01,reading,ph,9.1", "2026-03-01,reading,temperature,35,C", "2026-03-01,reading,salinity,41,ppt") == (9, 34, 40)


# --- facts, ticks, ages


@pytest.mark.parametrize(("node", "rows", "answer"), [
    ({"kind": "dosed", "what": "ammonia"}, (), NO), ({"kind": "dosed", "what": "ammonia"}, ("2026-03-01,dosed,ammonia,1,g",), YES), ({"kind": "dosed", "what": "ammonia"}, ("2026-03-01,dosed,calcium,1,g",), NO), ({"kind": "dosed", "what": "ammonia"}, ("2026-03-01,dosed,ammonia,1,g,mixing",), NO),
    ({"kind": "dosed", "within": "two_days"}, ("2026-03-09 00:00,dosed,ammonia,1,g",), YES), ({"kind": "dosed", "within": "two_days"}, ("2026-03-08 23:59,dosed,ammonia,1,g",), NO), ({"kind": "dosed", "within": "two_days"}, ("2026-03-09,dosed,ammonia,1,g",), YES), ({"kind": "dosed", "within": "day"}, ("2026-03-09,dosed,ammonia,1,g",), UNKNOWN), ({"kind": "dosed", "within": "day"}, ("2026-03-08,dosed,ammonia,1,g",), NO),
    ({"kind": "dosed", "total_at_least": "three"}, ("2026-03-01,dosed,ammonia,1,g", "2026-03-02,dosed,ammonia,2,g"), YES), ({"kind": "dosed", "total_at_least": "three"}, ("2026-03-01,dosed,ammonia,1,g", "2026-03-02,dosed,ammonia,1.9,g"), NO), ({"kind": "changed_water", "total_at_least": "most"}, ("2026-03-01,changed_water,water,25,%", "2026-03-02,changed_water,water,25,%"), YES), ({"kind": "changed_water", "total_at_least": "most"}, ("2026-03-01,changed_water,water,49,%",), NO),
    ({"kind": "dosed", "since": "site/level"}, ("2026-03-02 08:00,done,site/level", "2026-03-02 08:01,dosed,ammonia,1,g"), YES), ({"kind": "dosed", "since": "site/level"}, ("2026-03-02 08:00,done,site/level", "2026-03-02 08:00,dosed,ammonia,1,g"), NO), ({"kind": "dosed", "since": "site/level"}, ("2026-03-02 08:01,dosed,ammonia,1,g",), NO)])
def test_what_went_in_counts_by_its_water_its_time_and_its_sum(node: dict[str, object], rows: tuple[str, ...], answer: Answer) -> None:
    assert answer_to({"fact": node}, *rows, on=ON, book=BOOK) == answer


@pytest.mark.parametrize(("litres", "answer"), [(20, YES), (19, NO)])
def test_a_change_in_quarantine_counts_by_the_size_of_that_tank(litres: int, answer: Answer) -> None:
    """Half of 40 L."""
    node = {"fact": {"kind": "changed_water", "where": "quarantine", "total_at_least": "most"}}
    assert answer_to(node, f"2026-03-01,changed_water,water,{litres},L,quarantine", on=ON, book=BOOK, tank=tank_with(equipment__quarantine_tank="40 L")) == answer


@pytest.mark.parametrize(("node", "rows", "answer"), [
    ({}, (), NO), ({}, ("2026-03-01,done,site/level",), YES), ({"task": "site/place"}, ("2026-03-01,skipped,site/place",), YES), ({"task": "site/rcd"}, ("2026-03-01,skipped,site/rcd",), NO), ({"task": "site/rcd"}, ("2026-03-01,done,site/rcd",), YES), ({"within": "two_days"}, ("2026-03-09 00:00,done,site/level",), YES), ({"within": "two_days"}, ("2026-03-08 23:59,done,site/level",), NO),
    ({"since": "site/rcd"}, ("2026-03-02 09:00,done,site/rcd", "2026-03-02 08:00,done,site/level"), YES), ({"since": "site/rcd"}, ("2026-03-02 09:00,done,site/rcd", "2026-03-01 08:00,done,site/level"), NO), ({"since": "site/rcd"}, ("2026-03-01 08:00,done,site/level",), NO), ({"after": "site/rcd"}, ("2026-03-02 08:00,done,site/rcd", "2026-03-02 08:01,done,site/level"), YES), ({"after": "site/rcd"}, ("2026-03-02 08:00,done,site/rcd", "2026-03-02 08:00,done,site/level"), NO),
    ({"after": "site/rcd", "apart": "day"}, ("2026-03-02 08:00,done,site/rcd", "2026-03-03 08:00,done,site/level"), YES), ({"after": "site/rcd", "apart": "day"}, ("2026-03-02 08:00,done,site/rcd", "2026-03-03 07:59,done,site/level"), NO)])
def test_a_tick_counts_by_its_time(node: dict[str, object], rows: tuple[str, ...], answer: Answer) -> None:
    assert answer_to({"done": {"task": "site/level", **node}}, *rows, on=ON, book=BOOK) == answer


@pytest.mark.parametrize(("rows", "answer"), [((), NO), (("2026-03-09 00:00,done,site/level",), YES), (("2026-03-09 00:01,done,site/level",), NO), (("2026-03-08,done,site/level",), YES), (("2026-03-09,done,site/level",), UNKNOWN), (("2026-03-10,done,site/level",), NO)])
def test_so_long_ago_counts_for_every_instant_of_the_day_written(rows: tuple[str, ...], answer: Answer) -> None:
    assert answer_to({"age": {"of": "site/level", "at_least": "two_days"}}, *rows, on=ON, book=BOOK) == answer


@pytest.mark.parametrize(("expires", "expired", "answer"), [("2026-03-10", True, NO), ("2026-03-09", True, YES), ("2026-03-10", False, YES), ("2026-03-09", False, NO), (None, True, UNKNOWN), (None, False, UNKNOWN)])
def test_a_kit_is_good_on_the_day_that_is_printed_on_it(expires: str | None, expired: bool, answer: Answer) -> None:
    tank = tank_with(test_kits={"ammonia": {"basis": "N"} | ({"expires": expires} if expires else {})})
    assert answer_to({"kit": {"name": "ammonia", "expired": expired}}, on=ON, book=BOOK, tank=tank) == answer


# --- animals and water


@pytest.mark.parametrize(("rows", "here"), [
    (("2026-03-01,added,snail,2",), {"snail": 2}), (("2026-03-01,added,snail",), {"snail": 1}), (("2026-03-01,added,snail,2", "2026-03-02,lost,snail,1"), {"snail": 1}), (("2026-03-01,added,snail,2", "2026-03-02,lost,snail,2"), {}), (("2026-03-01,added,snail,2", "2026-03-02,lost,snail,5", "2026-03-03,added,snail,1"), {"snail": 1}),
    (("2026-03-01,added,fish,2,,quarantine",), {}), (("2026-03-01,added,fish,2,,quarantine", "2026-03-02,moved,fish,2"), {"fish": 2}), (("2026-03-01,added,fish,2", "2026-03-02,moved,fish,1,,quarantine"), {"fish": 1}), (("2026-03-01,added,fish,1,,quarantine", "2026-03-02,added,fish,1", "2026-03-03,moved,fish,1,,display"), {"fish": 2}), (("2026-03-02,moved,fish,1",), {"fish": 1}), (("2026-03-01,added,snail,1", "2026-03-01,lost,crab,1"), {"snail": 1})])
def test_animals_are_counted_in_and_out(rows: tuple[str, ...], here: dict[str, int]) -> None:
    assert animals_in(facts_of(*rows, on=ON), "display") == here
    assert answer_to({"animal": {"where": "display"}}, *rows, on=ON, book=BOOK) == (YES if here else NO)


def test_the_first_animal_is_the_first_that_came_into_the_display() -> None:
    rows = ("2026-03-01,added,fish,1,,quarantine", "2026-03-03,added,snail,1", "2026-03-02,moved,fish,1")
    found = first_animal(facts_of(*rows, on=ON))
    assert found is not None and found.day.day == 2 and first_animal(facts_of(rows[0], on=ON)) is None


@pytest.mark.parametrize(("cells", "share"), [("10,%", 0.1), ("100,%", 1), ("50,L", 0.5), ("100,L", 1), ("101,L", 1), ("0,L", 0)])
def test_a_change_is_a_share_of_the_water(cells: str, share: float) -> None:
    (row,) = journal_of(f"2026-03-01,changed_water,water,{cells}").rows
    assert change_fraction(row, 100.0) == pytest.approx(share) and change_fraction(replace(row, low=None), 100.0) == 0


def test_the_last_reading_of_a_water_and_the_one_nearest_to_another() -> None:
    facts = facts_of("2026-03-01 08:00,reading,salinity,33,ppt", "2026-03-05 08:00,reading,salinity,34,ppt", "2026-03-09 08:00,reading,salinity,35,ppt", "2026-03-10 08:00,reading,salinity,36,ppt,mixing", kh("07 08:00", 8), kh("06 08:00", 8), kh("02 08:00", 8), on=ON)
    found = last_reading("salinity", facts)
    assert found is not None and found.low == 35 and last_reading("ph", facts) is None and last_reading("salinity", facts, "curing") is None
    assert [r.low for row in facts.rows("reading", "alkalinity") if (r := beside(row, "salinity", facts))] == [33, 34, 35]
    assert beside(facts.rows("reading", "alkalinity")[0], "ph", facts) is None


def test_a_reading_far_off_is_still_the_nearest_one() -> None:
    facts = facts_of("2025-01-01 08:00,reading,salinity,33,ppt", "2025-12-01 08:00,reading,salinity,34,ppt", kh("07 08:00", 8), on=ON)
    near = beside(facts.rows("reading", "alkalinity")[0], "salinity", facts)
    assert near is not None and near.low == 34


BOX = {"tank": {"length": "100 cm", "width": "50 cm", "height": "50 cm", "glass": "10 mm", "waterline": "5 cm"}}


def test_water_is_measured_by_the_box_or_by_what_was_poured_in() -> None:
    """Worked by hand: 98 x 48 x 44 cm are 207 L; 10 kg of rock take 5 L, 5 cm of sand over the base 35 kg or 13.3 L; outside 250 L."""
    box = tank_with(**BOX, rock__mass="10 kg", sand={"depth": "5 cm"}, rock__kind="dry")
    assert inside_l(box)[0] == pytest.approx(206.98, abs=0.01) and gross_l(box) == 250 and sand_kg(box) == pytest.approx(35) and box_cm(box) == (100, 50, 50, False)
    empty = journal_of(tank=box)
    assert measure_water(box, empty, facts_of(on=ON).on).value == pytest.approx(206.98 - 5 - 13.3, abs=0.01)
    plain = tank_with(tank={"volume": "250 L"}, rock=None, sand=None)
    assert inside_l(plain) == (250, "volume as given") and gross_l(plain) == 250 and sand_kg(plain) == 0 and box_cm(plain) == (pytest.approx(100), pytest.approx(50), pytest.approx(50), True)
    thick = tank_with(tank={"length": "100 cm", "width": "50 cm", "height": "50 cm"}, rock=None, sand={"mass": "3 kg", "depth": "5 cm"})
    assert inside_l(thick)[0] == pytest.approx(98 * 48 * 46 / 1000) and sand_kg(thick) == 3
    flush = tank_with(tank={"length": "100 cm", "width": "50 cm", "height": "50 cm", "waterline": "0 cm"})
    assert inside_l(flush)[0] == pytest.approx(98 * 48 * 49 / 1000)


@pytest.mark.parametrize(("rows", "litres"), [(("2026-03-01,poured,water,60,L", "2026-03-02,poured,salt,40,L"), 100), (("2026-03-01,poured,water,60,L", "2026-03-02,poured,fresh,40,L", "2026-03-02,poured,top_up,40,L", "2026-03-02,poured,leak,4,L"), 60), (("2026-03-01,poured,water,60,L,mixing",), None), (("2026-03-11,poured,water,60,L",), None), (("2026-03-10,poured,water,60,L",), 60), (("2026-03-01,poured,water,0,L",), None)])
def test_salt_water_poured_into_the_tank_by_its_day_is_what_it_holds(rows: tuple[str, ...], litres: float | None) -> None:
    tank = tank_with(**BOX, rock=None, sand=None)
    assert measure_water(tank, journal_of(*rows, tank=tank), facts_of(on=ON).on).value == pytest.approx(206.98 if litres is None else litres, abs=0.01)


def test_a_tank_starts_with_its_file_else_its_journal_else_today() -> None:
    bare = tank_with(start=None)
    assert [facts_of(*rows, on=ON, tank=bare).start.day for rows in ((), ("2026-03-04,done,site/level",), ("2026-03-10,done,site/level",), ("2026-03-11,done,site/level",))] == [10, 4, 10, 10]
    assert facts_of("2026-03-04,done,site/level", on=ON, tank=tank_with(start="2026-03-06")).start.day == 6


def test_a_trace_names_the_reading_that_is_the_worse() -> None:
    trace = trace_of({"reading": {"name": "alkalinity", "at_most": "ten"}}, kh("10", 8), kh("10", 9, note="b"), on=ON, book=BOOK)
    assert [r.low for r in trace.evidence] == [9] and len(trace.rows) == 2  # type: ignore[union-attr]
