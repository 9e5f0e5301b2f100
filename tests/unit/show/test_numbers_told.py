"""What is said of the source behind a number, and how many numbers have one."""

import re
from pathlib import Path

import pytest
from click.testing import CliRunner

from planner.cli import newtank
from planner.rulebook.provenance import Number
from planner.show.words.numbers import Cited, grade_words, number_name, number_words, share_words
from tests.rulecases import rulebook


def told(units: str = "metric", **given: object) -> str:
    return grade_words(Cited("x", Number.model_validate({"value": 25, "unit": "C", "grade": "measured", "source": "reefs"} | given), None, None), units)


def test_a_source_that_states_our_value_is_said_to_state_it() -> None:
    assert told(says="states") == "measured, as the source states it"


@pytest.mark.parametrize(("units", "range"), [("metric", "21.7 to 29.6 °C"), ("us", "71.1 to 85.3 °F")])
def test_a_published_range_is_printed_with_what_it_is_a_range_of(units: str, range: str) -> None:
    assert told(units, says="within", range_published=(21.7, 29.6), of="reefs") == f"measured, within {range} of reefs"


def test_practice_with_and_without_a_source_is_told_apart() -> None:
    assert told(grade="practice") == "common practice, as described in the source"
    assert told(grade="practice", source=None) == "common practice, no source"


def test_the_share_counts_each_way_of_being_backed_once() -> None:
    numbers = [Number.model_validate({"value": 1, "grade": "practice"} | more) for more in (
        {}, {}, {"source": "zoo"}, {"grade": "review", "source": "a", "says": "states"}, {"grade": "measured", "source": "b", "says": "within", "range_published": [0, 1]})]
    assert share_words(numbers) == ("3 of 5 numbers rest on a source: 1 as it states them, 1 within a range that it publishes, 1 as a practice that it describes. "
                                    "The other 2 are common practice alone.")


def test_one_phase_named_alone_shows_its_share_and_the_backed_numbers_first() -> None:
    page = " ".join(CliRunner().invoke(newtank, ["rules", "cycle"]).output.split())
    assert "numbers rest on a source" in page and "Give the first dose of ammonia" in page and "Rinse the tank" not in page
    assert page.index("stall cold") < page.index("least proof dose")


def test_of_one_phase_the_house_rules_that_bear_on_it_are_listed_and_no_others() -> None:
    """The folder of the shop lengthens the watch of the leak test, which the phase of the water never asks for."""
    house = str(Path(__file__).parents[3] / "scenarios" / "shop-handover" / "house-rules")

    def listed(*words: str) -> str:
        return CliRunner().invoke(newtank, ["rules", *words, "--rules", house]).output.partition("House rules")[2]

    assert "leak-test.yaml" in listed() and "leak-test.yaml" in listed("leak-test") and "leak-test.yaml" not in listed("water")


@pytest.mark.parametrize("name", ["temperature_step_hour", "temperature_swing", "match_temperature", "winter_drop", "kit_error_temperature"])
def test_a_difference_of_temperature_has_no_zero_to_start_from_in_fahrenheit(name: str) -> None:
    """A difference of 1 K is one of 1.8 °F (NIST SP 811, appendix B.8: t/°F = 1.8 t/°C + 32, so that the 32 falls out of a difference)."""
    number = rulebook().numbers[name]
    assert re.sub("^(aim for|at most|at least) ", "", number_words(name, number, "us")).startswith(f"{round(number.value * 1.8, 1):g} °F")


def test_no_number_of_a_few_degrees_passes_for_a_temperature_of_water() -> None:
    assert [name for name, n in rulebook().numbers.items() if n.unit in ("C", "°C") and n.value < 10] == []


def test_nobody_is_told_to_aim_for_a_limit_and_what_we_chose_is_no_practice_of_the_trade() -> None:
    numbers = rulebook().numbers
    assert (number_name("level_drop_most"), number_words("level_drop_most", numbers["level_drop_most"], "metric")) == ("level drop", "at most 2 mm")
    assert number_words("leak_watch_least", numbers["leak_watch_least"], "metric") == "at least 24 h" and number_words("leak_watch", numbers["leak_watch"], "metric") == "aim for 48 h"
    assert number_words("floor_design_high", numbers["floor_design_high"], "metric") == "2.0 kN/m²" and number_words("alarm_ph_high", numbers["alarm_ph_high"], "metric") == "pH 8.5"
    assert grade_words(Cited("leak_watch", numbers["leak_watch"], None, None), "metric") == "our choice, no source"
