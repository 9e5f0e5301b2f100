"""A reading that moved too far in too short a time, unless the journal knows why; and warmth that adds up."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from planner.terms.records import Answer
from tests.engine_desk import answer_to, book_with, tank_with

BOOK = book_with(far=(1, "dKH"), share=(25, "%"), high=(11, "dKH"), pace=(0.5, "dKH"), day=(24, "h"), weeks=(2, "degree-weeks"), usual=(26.5, "°C"))
ON = "2026-03-10"
SWING = {"swing": {"name": "alkalinity", "by": "far", "within": "day", "rises_by": ["dosed"], "unless_between": ["changed_water"], "large": "share", "falls_from": "high", "fall_a_day": "pace"}}
HEAT = {"heat": {"at_least": "weeks", "usual": "usual"}}


def read(when: str, value: float, where: str = "display") -> str:
    return f"2026-03-{when},reading,alkalinity,{value},dKH,{where}"


@pytest.mark.parametrize(("rows", "answer"), [
    ((), Answer.UNKNOWN), ((read("09 12:00", 8),), Answer.NO),
    ((read("09 12:00", 8), read("10 12:00", 9.1)), Answer.YES), ((read("09 12:00", 8), read("10 12:00", 6.9)), Answer.YES),
    ((read("09 12:00", 8), read("10 12:00", 9)), Answer.NO),
    # a minute beyond the time, or in two waters
    ((read("09 11:59", 8), read("10 12:00", 9.1)), Answer.NO), ((read("09 12:00", 8, "mixing"), read("10 12:00", 9.1)), Answer.NO),
    # one before it moved, and one that shows it came back
    ((read("09 12:00", 8), read("09 18:00", 9.5), read("10 12:00", 8.2)), Answer.YES), ((read("08 12:00", 9.5), read("09 12:00", 8), read("10 12:00", 8.2)), Answer.NO),
    # the journal knows why
    ((read("09 12:00", 8), "2026-03-09 13:00,dosed,bicarbonate,1.2,dKH", read("10 12:00", 9.1)), Answer.NO),
    ((read("09 12:00", 8), "2026-03-08 13:00,dosed,bicarbonate,1.2,dKH", read("10 12:00", 9.1)), Answer.YES),
    # a dose explains a rise alone, a change only where it was large or its size is not known
    ((read("09 12:00", 8), "2026-03-09 13:00,dosed,bicarbonate,1.2,dKH", read("10 12:00", 6.9)), Answer.YES),
    ((read("09 12:00", 8), "2026-03-09 13:00,changed_water,water,25,%", read("10 12:00", 6.9)), Answer.YES),
    ((read("09 12:00", 8), "2026-03-09 13:00,changed_water,water,26,%", read("10 12:00", 6.9)), Answer.NO),
    # what was left to fall may fall at its pace, from above where it was left to
    ((read("09 12:00", 11.1), read("10 12:00", 9.6)), Answer.NO), ((read("09 12:00", 11.1), read("10 12:00", 9.5)), Answer.YES), ((read("09 12:00", 11), read("10 12:00", 9.6)), Answer.YES),
    # off the scale is no number
    ((read("09 12:00", 8), "2026-03-10 12:00,reading,alkalinity,>20,dKH"), Answer.NO),
])
def test_a_swing_is_a_move_without_a_cause(rows: tuple[str, ...], answer: Answer) -> None:
    assert answer_to(SWING, *rows, on=ON, book=BOOK) == answer


@pytest.mark.parametrize(("litres", "answer"), [(10, Answer.YES), (11, Answer.NO)])
def test_in_quarantine_a_change_explains_a_move_by_its_share_of_that_tank(litres: int, answer: Answer) -> None:
    """A quarter of 40 L explains none, a little more does."""
    rows = (read("09 12:00", 8, "quarantine"), f"2026-03-09 13:00,changed_water,water,{litres},L,quarantine", read("10 12:00", 6.9, "quarantine"))
    assert answer_to({"swing": SWING["swing"] | {"where": "quarantine"}}, *rows, on=ON, book=BOOK, tank=tank_with(equipment__quarantine_tank="40 L")) == answer


EIGHT = read("01 12:00", 8)
ODD = read("07 12:00", 9.6)


@pytest.mark.parametrize(("rows", "answer"), [
    ((EIGHT, ODD, read("08 12:00", 8)), Answer.YES),  # one good reading
    ((EIGHT, ODD, read("08 12:00", 8), read("09 12:00", 8.5)), Answer.NO),
    ((EIGHT, ODD, read("08 12:00", 8), read("08 20:00", 8)), Answer.YES),  # of one day
    ((EIGHT, ODD, read("08 20:00", 8), read("09 12:00", 8)), Answer.YES),  # less than 20 hours apart
    ((EIGHT, ODD, "2026-03-08,reading,alkalinity,8,dKH", "2026-03-09,reading,alkalinity,8,dKH"), Answer.NO),
    ((EIGHT, ODD, read("08 12:00", 9.3), read("09 12:00", 8), read("10 12:00", 8)), Answer.YES),  # a second test bore it out
    ((read("01 12:00", 6.9), ODD, read("08 12:00", 8), read("09 12:00", 8)), Answer.YES),  # a new level
    ((ODD, read("08 12:00", 8), read("09 12:00", 8)), Answer.YES),  # nobody knows which was right
    ((EIGHT, ODD, read("08 12:00", 8), read("09 12:00", 8), read("10 12:00", 9.6)), Answer.YES),  # it jumps again
], ids=str)
def test_an_odd_reading_is_refuted_by_two_that_agree_with_each_other_and_with_the_one_before_it(rows: tuple[str, ...], answer: Answer) -> None:
    week = {"swing": {"name": "alkalinity", "by": "far", "within": "week", "two_refute": True}}
    book = book_with(far=(1, "dKH"), week=(7, "d"))
    tank = tank_with(test_kits__alkalinity={"step": "0.1 dKH"})
    assert answer_to(week, *rows, on=ON, book=book, tank=tank) == answer


def warm(days: int, celsius: float, until: date = date(2026, 3, 10)) -> tuple[str, ...]:
    return tuple(f"{until - timedelta(days=n)},reading,temperature,{celsius},C" for n in range(days))


@pytest.mark.parametrize(("rows", "answer"), [
    ((), Answer.UNKNOWN), (warm(14, 27.5), Answer.YES), (warm(13, 27.5), Answer.NO), (warm(30, 27.4), Answer.NO), (warm(7, 28.5), Answer.YES),
    # a day without a reading takes the last one, for three days and no longer
    (warm(14, 27.5)[::3] + warm(1, 27.5, date(2026, 2, 25)), Answer.YES), (warm(14, 27.5)[::5], Answer.NO),
    # what lies more than twelve weeks back is forgotten
    (warm(14, 27.5, date(2025, 12, 10)), Answer.NO),
    # a tank whose warmest month was warmer has a warmer usual
    (warm(14, 27.5) + warm(28, 27.0, date(2025, 8, 28)), Answer.NO), (warm(14, 27.5) + warm(28, 25.0, date(2025, 8, 28)), Answer.YES),
])
def test_warm_days_add_up_to_degree_weeks(rows: tuple[str, ...], answer: Answer) -> None:
    assert answer_to(HEAT, *rows, on=ON, book=BOOK) == answer


@pytest.mark.parametrize(("ticks", "answer"), [((), Answer.YES), (("06", "07"), Answer.YES), (("06", "07", "08"), Answer.NO), (("06", "06", "07"), Answer.YES), (("04", "06", "07"), Answer.YES)])
def test_an_event_without_a_kit_ends_by_looks_on_several_days(ticks: tuple[str, ...], answer: Answer) -> None:
    book = book_with(three=(3, "d"))
    rows = ("2026-03-05 12:00,event,leak", *(f"2026-03-{day} {10 + n}:00,done,site/level" for n, day in enumerate(ticks)))
    assert answer_to({"event": {"what": "leak", "ended_by": "site/level", "looks": "three"}}, *rows, on=ON, book=book) == answer


def test_a_narrower_event_counts_as_the_wider_one() -> None:
    assert answer_to({"event": {"what": "ill"}}, "2026-03-05,event,spots", on=ON) == Answer.YES
    assert answer_to({"event": {"what": "spots"}}, "2026-03-05,event,ill", on=ON) == Answer.NO
