"""Amounts as a person pours and weighs them, and differences in salinity beside a meter that shows specific gravity."""

from __future__ import annotations

from datetime import UTC, date, datetime

import click
import pytest

from planner.cli import newtank
from planner.door.entry_words import Stamp, fact_row
from planner.files.journal_form import NewRow
from planner.judge.facts import gather
from planner.judge.figures import quantity
from planner.plan.texts import COMMANDS, TYPED, Filler, shown_amount, told_amount
from planner.rulebook.task_rule import Writes
from planner.rulebook.texts import DONE_BY_TYPING, parse_text
from planner.science import water
from planner.serve.markup import _DONE_HERE, TYPED_ALONE
from planner.terms.records import Amount
from tests.engine_desk import journal_of, tank_with
from tests.rulecases import rulebook

GALLON = 231 * 2.54**3 / 1000  # litres: 231 cubic inches, NIST SP 811
POUND = 453.59237  # grams, NIST SP 811
ON = date(2026, 3, 2)


@pytest.mark.parametrize(("value", "unit", "units", "side", "told"), [
    (20.1 * GALLON, "L", "us", "", "20 gal"), (20.1 * GALLON, "L", "us", "up", "21 gal"), (15.2 * GALLON, "L", "us", "up", "15.5 gal"), (15.2 * GALLON, "L", "us", "", "15 gal"),
    (1.89 * GALLON, "L", "us", "down", "1.8 gal"), (18.8 * GALLON / 128, "L", "us", "", "19 fl oz"), (16.4, "L", "metric", "up", "16.5 L"), (4.58, "L", "metric", "down", "4.5 L"),
    (0.183, "L", "metric", "", "183 mL"), (52.4 * POUND, "g", "us", "", "52 lb"), (5.94 * POUND, "g", "us", "", "5.9 lb"), (9.02, "g", "metric", "up", "10 g"), (0.88, "g", "us", "", "0.88 g"),
])  # fmt: skip
def test_an_amount_is_told_in_the_steps_in_which_a_person_pours(value: float, unit: str, units: str, side: str, told: str) -> None:
    assert shown_amount(value, unit, units, side=side) == told


def test_a_number_that_is_looked_up_is_told_as_it_is_written() -> None:
    assert shown_amount(20.1 * GALLON, "L", "us", exact=True) == "20.1 gal"


@pytest.mark.parametrize(("name", "safe"), [("emergency_change", 1), ("half_change", 1), ("water_first_fill", 1), ("ammonia_total", 1), ("top_up_reservoir", -1)])
def test_what_helps_is_never_rounded_down_and_a_most_never_up(name: str, safe: int) -> None:
    for litres in range(40, 400, 7):
        made = quantity(name, gather(tank_with(tank={"volume": f"{litres} L"}), journal_of(), ON), rulebook())
        assert made is not None
        said, word = told_amount(made, "metric").split(" ")[:2]
        shown = float(said) * {"mL": 0.001, "L": 1, "g": 1, "kg": 1000}[word]
        assert (shown - made.value) * safe >= -1e-6, (litres, made.value, said)


def test_the_tick_counts_what_was_worked_out_and_not_what_was_rounded() -> None:
    made = quantity("emergency_change", gather(tank_with(units="us"), journal_of(), ON), rulebook())
    assert made is not None and told_amount(made, "us") != shown_amount(made.value, made.unit, "us", exact=True)
    row = fact_row(Writes(kind="changed_water", what="water", amount="emergency_change"), "display", Stamp(datetime(2026, 3, 2, 18, 0, tzinfo=UTC)), made, None)
    assert isinstance(row, NewRow) and row.value == f"{made.value:.4g}"


@pytest.mark.parametrize(("rows", "units", "told"), [
    ((), "metric", "0.5 ppt"), ((), "us", "0.5 ppt (SG 0.0003)"), (("2026-03-01,reading,salinity,35,ppt",), "us", "0.5 ppt"),
    (("2026-03-01,reading,salinity,1.0262,SG 25/25",), "metric", "0.5 ppt (SG 0.0003)"),
])  # fmt: skip
def test_a_difference_in_salinity_has_its_step_in_sg_for_who_reads_sg(rows: tuple[str, ...], units: str, told: str) -> None:
    tank = tank_with(units=units)
    filler = Filler(gather(tank, journal_of(*rows, tank=tank), ON), rulebook())
    assert filler.fill(parse_text("Match it within {within:0.5 ppt}.")) == f"Match it within {told}."
    assert f"within {told}" in " ".join(map(filler.fill, ("within {match_salinity}",)))


def test_the_step_in_sg_goes_down_for_a_most_and_up_for_what_salt_is_weighed_for() -> None:
    """Beside the density of sea water by TEOS-10, as the gsw library has it."""
    for ppt in (0.5, 1.0, 3.0):
        real = water.sg_from_salinity(35 + ppt, 25.0, 25.0) - water.sg_from_salinity(35, 25.0, 25.0)
        most, each = (float(shown_amount(ppt, f"ppt and SG {way}", "us").partition("SG ")[2].rstrip(")")) for way in ("within", "each"))
        assert most <= real <= each and each - most < 0.00011


def test_a_bare_amount_of_a_rule_needs_no_tank() -> None:
    assert parse_text("within {within:0.5 ppt}").parts[-1] == Amount(0.5, "ppt within")  # type: ignore[attr-defined]


def test_whatever_is_done_by_typing_has_its_words_for_a_keyboard_and_for_a_phone() -> None:
    assert set(DONE_BY_TYPING) == set(TYPED) | set(COMMANDS) and set(DONE_BY_TYPING) - {"use", "at"} <= {*_DONE_HERE, *TYPED_ALONE}


@pytest.mark.parametrize(("verb", "rest"), COMMANDS.values())
def test_a_command_that_a_text_gives_is_whole_as_it_stands(verb: str, rest: str) -> None:
    command = newtank.get_command(click.Context(newtank), verb)
    assert command is not None
    command.make_context(verb, ["my-tank", *rest.split()])  # raises where an option is missing


@pytest.mark.parametrize(("day", "told"), [({"water/mix": date(2026, 3, 7)}, "Sat 7 Mar"), ({"water/mix": date(2027, 1, 2)}, "Sat 2 Jan 2027"), ({"water/mix": date(2026, 3, 7), "site/level": date(2026, 3, 3)}, "Tue 3 Mar"), ({}, "the day that the plan names")])
def test_a_text_names_the_day_of_the_first_job_that_the_plan_has(day: dict[str, date], told: str) -> None:
    tank = tank_with()
    filler = Filler(gather(tank, journal_of(tank=tank), ON), rulebook())
    filler.days = day
    assert filler.fill(parse_text("Fetch it about {day:site/level water/mix}.")) == f"Fetch it about {told}."
