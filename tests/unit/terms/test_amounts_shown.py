"""Amounts, numbers and hours as a keeper reads them, on both sides of each place where the wording changes.

A pound is 453.59237 g, 16 ounces to it; a US gallon 231 cubic inches, 3.785411784 L, 128 fluid ounces to it (NIST Handbook 44, appendix C, from memory)."""

from __future__ import annotations

from datetime import date

import pytest

from planner.terms.amounts import card_figure, format_amount, format_bare, listed, numbers_words, three_digits
from planner.terms.days import day_words
from planner.terms.row_words import tell, tell_hours, tell_when
from tests.engine_desk import journal_of

GALLON = 3.785411784
POUND = 453.59237


@pytest.mark.parametrize(
    ("amount", "unit", "shown"),
    [
        (0, "L", "0 L"), (0.001, "L", "1 mL"), (0.999, "L", "999 mL"), (1, "L", "1 L"), (-0.5, "L", "-500 mL"), (1.25, "L", "1.2 L"), (9.94, "L", "9.9 L"), (19.9, "L", "19.9 L"), (20, "L", "20 L"), (20.4, "L", "20 L"),
        (0, "g", "0 g"), (9.99, "g", "9.99 g"), (10.04, "g", "10 g"), (10.26, "g", "10.3 g"), (99.94, "g", "99.9 g"), (100.4, "g", "100 g"), (999, "g", "999 g"), (1000, "g", "1 kg"), (1234, "g", "1.23 kg"),
        (9990, "g", "9.99 kg"), (10_000, "g", "10 kg"), (12_340, "g", "12.3 kg"), (123_400, "g", "123 kg"),
        (0.25, "cm", "0.2 cm"), (9.96, "cm", "10 cm"), (1.24, "m", "1.2 m"), (4.04, "mm", "4 mm"), (0.75, "K", "0.8 °C"), (25.04, "°C", "25 °C"), (-0.04, "°C", "0 °C"),
        (19.94, "L/h", "19.9 L/h"), (20.4, "L/h", "20 L/h"), (0.4, "L/day", "0.4 L/day"),
        (0.125, "mg/L as NH3", "0.12 mg/L as NH3"), (8.125, "pH", "pH 8.12"), (10.04, "%", "10 %"), (99.96, "mg/L", "100 mg/L"), (99.4, "mg/L", "99.4 mg/L"), (0.034, "mg/L", "0.03 mg/L"),
        (0, "h", "0 h"), (0.5, "h", "30 min"), (0.99, "h", "59 min"), (1, "h", "1 h"), (48, "h", "48 h"), (49, "h", "2 days"), (60, "h", "2.5 days"),
        (149.6, "W", "150 W"), (1234.56, "PAR", "1235 PAR"), (3, "", "3"),
    ],
)
def test_an_amount_has_the_digits_that_a_keeper_can_measure(amount: float, unit: str, shown: str) -> None:
    assert format_amount(amount, unit) == shown


@pytest.mark.parametrize(
    ("amount", "unit", "shown"),
    [
        (POUND, "g", "1 lb"), (POUND - 0.01, "g", "16 oz"), (POUND / 16, "g", "1 oz"), (28.3, "g", "28.3 g"), (POUND * 2.5, "g", "2.5 lb"),
        (GALLON, "L", "1 gal"), (GALLON * 0.26, "L", "0.26 gal"), (GALLON / 4.1, "L", "31.2 fl oz"), (GALLON * 0.98, "L", "0.98 gal"), (GALLON * 1.26, "L", "1.3 gal"), (0, "L", "0 gal"), (GALLON / 128, "L", "1 fl oz"),
        (2.54, "cm", "1 in"), (0.3048, "m", "1 ft"), (25.4, "mm", "1 in"), (3.175, "mm", "1/8 in"), (38.1, "mm", "3/2 in"), (0.1, "mm", "1/16 in"), (5, "K", "9 °F"), (100, "°C", "212 °F"), (-40, "°C", "-40 °F"),
        (GALLON * 25, "L/h", "25 gal/h"), (GALLON * 1.5, "L/day", "1.5 gal/day"),
    ],
)
def test_an_amount_in_american_units_has_them_too(amount: float, unit: str, shown: str) -> None:
    assert format_amount(amount, unit, "us") == shown


def test_a_ph_stands_without_its_word_where_its_name_is_beside_it() -> None:
    assert format_bare(8.1, "pH") == "8.1" and format_bare(7.955, "pH") == "7.96" and format_bare(8.1, "dKH") == "8.1 dKH" and format_bare(GALLON, "L", "us") == "1 gal"


@pytest.mark.parametrize(("value", "shown"), [(0, "0"), (0.001234, "0.00123"), (0.1, "0.1"), (0.9996, "1"), (0.95, "0.95"), (1.234, "1.23"), (12.34, "12.3"), (99.96, "100"), (133.3, "133"), (1768, "1770"), (-12.34, "-12.3")])
def test_a_number_is_told_to_three_digits(value: float, shown: str) -> None:
    assert three_digits(value) == shown


def test_a_colour_card_is_read_to_two_digits() -> None:
    assert [card_figure(v) for v in (0.253, 0.06, 1.26, 12.6, 0)] == [0.25, 0.06, 1.3, 13, 0]


@pytest.mark.parametrize(("numbers", "told"), [([], ""), ([4], "4"), ([1, 2], "1 and 2"), ([1, 2, 3], "1 to 3"), ([1, 2, 3, 5, 6], "1 to 3, 5 and 6"), ([2, 4, 6], "2, 4 and 6"), ([1, 3, 4, 5, 6], "1 and 3 to 6"), ([0, 1, 2], "0 to 2")])
def test_three_numbers_in_a_row_are_told_by_the_first_and_the_last(numbers: list[int], told: str) -> None:
    assert numbers_words(numbers) == told


def test_a_list_has_its_word_before_the_last_alone() -> None:
    assert [listed(words) for words in ([], ["a"], ["a", "b"], ["a", "b", "c"])] == ["", "a", "a and b", "a, b and c"]
    assert listed(["a", "b"], "or") == "a or b"


@pytest.mark.parametrize(("hours", "told"), [(0.5, "0.5 hours"), (1, "1 hour"), (2, "2 hours"), (24, "24 hours"), (48, "48 hours"), (71, "71 hours"), (72, "3 days"), (73, "73 hours"), (84, "84 hours"), (96, "4 days")])
def test_hours_become_days_from_three_whole_ones_on(hours: float, told: str) -> None:
    assert tell_hours(hours) == told


# The weekdays are those of the Gregorian calendar as cal(1) prints it.
@pytest.mark.parametrize(("day", "told"), [(date(2026, 3, 2), "Mon 2 Mar 2026"), (date(2024, 2, 29), "Thu 29 Feb 2024"), (date(2026, 12, 31), "Thu 31 Dec 2026"), (date(2027, 1, 3), "Sun 3 Jan 2027")])
def test_a_day_is_told_with_its_weekday(day: date, told: str) -> None:
    assert day_words(day) == told


@pytest.mark.parametrize(
    ("row", "told"),
    [
        ("2026-03-02,reading,ph,8.1,,display,", "2026-03-02 pH 8.1, line 2"),
        ("2026-03-02 18:30,reading,ammonia,>5,mg/L as ion,display,", "2026-03-02 18:30 ammonia over 5 mg/L as NH4, line 2"),
        ("2026-03-02,reading,salinity,<35,ppt,mixing,", "2026-03-02 salinity under 35 ppt (mixing), line 2"),
        ("2026-03-02,event,first_rock,,,display,", "2026-03-02 first rock, line 2"),
        ("2026-03-02,done,site/level,,,display,", "2026-03-02 done site/level, line 2"),
    ],
)
def test_a_row_of_the_journal_is_told_in_a_sentence(row: str, told: str) -> None:
    (only,) = journal_of(row).rows
    assert tell(only) == told


def test_a_row_without_a_time_is_told_by_its_day() -> None:
    bare, timed = journal_of("2026-03-02,reading,ph,8.1,,display,", "2026-03-03 07:05,reading,ph,8.1,,display,").rows
    assert (tell_when(bare), tell_when(timed)) == ("2026-03-02", "2026-03-03 07:05")
