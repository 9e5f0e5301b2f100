"""Arguments into rows: readings, times, ticks and facts. Contract of this project; no outside figures."""

from __future__ import annotations

import math
from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest

from planner.door.entry_words import (
    Entry,
    Stamp,
    event_word,
    fact_row,
    known_events,
    occurrence_of,
    read_stamp,
    reading_row,
    safe_text,
    split_fact,
    split_reading,
    stamp_from_clock,
)
from planner.files.journal import read_journal
from planner.files.journal_form import NewRow
from planner.files.tank import Tank, read_tank
from planner.judge.facts import zone_of
from planner.rulebook.read import load_rules, shipped
from planner.rulebook.shapes import Rulebook
from planner.rulebook.task_rule import TaskRule, Writes
from planner.terms.records import Journal
from planner.terms.units import Refusal
from tests.unit.plan_builder import ON, plan, quantity, task

BERLIN = ZoneInfo("Europe/Berlin")
NOW = datetime(2026, 3, 2, 12, 0, 5, 17, tzinfo=BERLIN)
STAMP = Stamp(datetime(2026, 3, 2, 18, 0, tzinfo=BERLIN))


def tank(kits: str = "{}") -> Tank:
    found, problems = read_tank(f"tank: {{volume: 100 L}}\ntimezone: Europe/Berlin\ntest_kits: {kits}\n", "tank.yaml")
    assert problems == ()
    assert found is not None
    return found


def journal(*lines: str) -> Journal:
    found, problems = read_journal("when,kind,what,value,unit,where,note\n" + "".join(f"{line}\n" for line in lines), "journal.csv", tank(), BERLIN)
    assert problems == ()
    return found


# --- times


def test_now_is_written_with_seconds_so_that_entries_of_one_minute_keep_their_order() -> None:
    assert stamp_from_clock(ON, NOW, False, "18:00", BERLIN).text == "2026-03-02T12:00:05+01:00"


def test_a_pretended_day_is_written_at_the_reminder_time() -> None:
    assert stamp_from_clock(ON, NOW, True, "07:30", BERLIN).text == "2026-03-02T07:30+01:00"


def test_a_reminder_in_the_gap_of_the_clock_change_moves_forward() -> None:
    # On 29 March 2026 clocks in the European Union go from 02:00 to 03:00 (Directive 2000/84/EC: last Sunday in March).
    assert stamp_from_clock(date(2026, 3, 29), NOW, True, "02:30", BERLIN).text == "2026-03-29T03:30+02:00"


@pytest.mark.parametrize(("text", "written"), [
    ("2026-02-28", "2026-02-28"), ("2026-02-28 09:15", "2026-02-28T09:15+01:00"), ("2026-02-28T09:15+00:00", "2026-02-28T09:15+00:00"),
    ("08:05", "2026-03-02T08:05+01:00"), ("yesterday", "2026-03-01"), ("Yesterday 23:10", "2026-03-01T23:10+01:00"), ("today", "2026-03-02"),
    ("28.02.2026", "2026-02-28"),
])  # fmt: skip
def test_when_is_read_as_people_write_it(text: str, written: str) -> None:
    found = read_stamp(text, ON, NOW, False, BERLIN)
    assert isinstance(found, Stamp)
    assert found.text == written


@pytest.mark.parametrize(("text", "pretended", "code"), [
    ("2026-03-03", False, "in-the-future"), ("12:01", False, "in-the-future"), ("2026-03-03 00:01", True, "in-the-future"),
    ("03/04/2026", False, "ambiguous-date"), ("noon", False, "not-a-date"), ("2025-10-26 02:30", False, "ambiguous-time"), ("25:00", False, "not-a-time"),
])  # fmt: skip
def test_the_future_and_what_has_two_meanings_are_refused(text: str, pretended: bool, code: str) -> None:
    found = read_stamp(text, ON, NOW, pretended, BERLIN)
    assert isinstance(found, Refusal)
    assert found.code == code


def test_on_a_pretended_day_any_hour_of_it_has_come() -> None:
    assert isinstance(read_stamp("23:59", ON, NOW, True, BERLIN), Stamp)


# --- readings


@pytest.mark.parametrize(("text", "parts"), [
    ("ammonia=0.25", ("ammonia", "0.25", "")), ("nitrite=over5", ("nitrite", ">5", "")), ("NITRITE = Under 0.25ppm", ("nitrite", "<0.25", "ppm")),
    ("salinity=1.026 SG 25/25", ("salinity", "1.026", "SG 25/25")), ("ph=8,1", ("ph", "8.1", "")), ("temperature=25.5C", ("temperature", "25.5", "C")), ("ammonia=>5", ("ammonia", ">5", "")),
])  # fmt: skip
def test_a_reading_is_a_name_a_value_and_a_unit(text: str, parts: tuple[str, str, str]) -> None:
    assert split_reading(text) == parts


def test_a_kit_described_anew_does_not_change_what_was_written_before() -> None:
    row = reading_row("ammonia", "0.5", "", STAMP, "display", "", tank("{ammonia: {basis: ion}}"), BERLIN)
    assert isinstance(row, Entry)
    read, _ = read_journal("when,kind,what,value,unit,where,note\n" + ",".join(row.new.fields) + "\n", "j", tank("{ammonia: {basis: N}}"), BERLIN)
    # 1 mg/L as N is 18.04/14.007 mg/L as ammonium (abridged standard atomic weights, IUPAC 2021).
    assert read.rows[0].low == pytest.approx(0.5 * 14.007 / 18.039, rel=1e-3)


@pytest.mark.parametrize(("value", "note", "written"), [("5", "", ">5"), ("5.0", "by daylight", ">5.0"), ("4.75", "", "4.75"), ("10", "", "10"), ("over5", "", ">5"), ("5", "Diluted, times 5", "5")])
def test_the_last_colour_of_a_card_is_written_as_more_unless_the_sample_was_diluted(value: str, note: str, written: str) -> None:
    """A card has no colour for what is stronger than its last one (common practice, no source)."""
    typed = split_reading(f"nitrite={value}")
    assert not isinstance(typed, Refusal)
    row = reading_row("nitrite", typed[1], "", STAMP, "display", note, tank("{nitrite: {basis: NO2, step: 0.25, highest: 5}}"), BERLIN)
    assert isinstance(row, Entry) and row.new.value == written
    assert row.row.high == (math.inf if written.startswith(">") else row.row.low)


@pytest.mark.parametrize(("name", "value", "unit"), [("temperature", "25", "°C"), ("temperature", "78", ""), ("calcium", "420", "mg/L"), ("ph", "8", ""), ("ammonia", "0", "mg/L as N")])
def test_a_bare_number_gets_the_unit_that_it_was_read_in(name: str, value: str, unit: str) -> None:
    row = reading_row(name, value, "", STAMP, "display", "", tank(), BERLIN)
    assert isinstance(row, Entry)
    assert row.new.unit == unit


def test_a_nitrogen_value_without_any_basis_is_asked_about() -> None:
    found = reading_row("nitrate", "10", "", STAMP, "display", "", tank(), BERLIN)
    assert isinstance(found, Refusal)
    assert "mg/L as N" in found.fix


# --- ticks and facts


def test_the_open_occurrence_is_ticked_else_the_next_free_number() -> None:
    rules = Rulebook((), (), {}, {}, {}, tasks={"care/look": TaskRule(id="look", title="Look", every="x"), "site/place": TaskRule(id="place", title="Place")})
    closed = [(n, journal("2026-03-01,done,care/look#1,,,,").rows[0]) for n in (1, 4)]
    assert occurrence_of("care/look", "", plan(task("care/look#2")), closed, rules) == "care/look#2"
    assert occurrence_of("care/look", "", plan(), closed, rules) == "care/look#5"
    assert occurrence_of("care/look", "07", plan(), closed, rules) == "care/look#7"
    assert occurrence_of("site/place", "", plan(task("site/place")), [], rules) == "site/place"


def test_the_fact_has_the_planned_amount_or_the_one_given() -> None:
    dose = Writes(kind="dosed", what="ammonia", amount="ammonia_dose")
    grams = quantity("ammonia_dose", 1.23456, "g")
    assert fact_row(dose, "display", STAMP, grams, None) == NewRow("2026-03-02T18:00+01:00", "dosed", "ammonia", "1.235", "g", "display")
    given = fact_row(dose, "display", STAMP, grams, "2 mg/L as N")
    assert isinstance(given, NewRow)
    assert (given.value, given.unit) == ("2", "mg/L as N")


def test_animals_are_counted_in_whole_numbers() -> None:
    row = fact_row(Writes(kind="added", what="snail", amount="crew_first"), "display", STAMP, quantity("crew_first", 2.6, "small snails"), None)
    assert isinstance(row, NewRow)
    assert (row.value, row.unit) == ("3", "")


def test_a_change_of_water_is_never_written_without_its_litres() -> None:
    assert isinstance(fact_row(Writes(kind="changed_water", what="water"), "display", STAMP, None, None), Refusal)
    assert isinstance(fact_row(Writes(kind="event", what="fed"), "display", STAMP, None, None), NewRow)


def test_every_event_that_a_rule_listens_to_is_known() -> None:
    rules, _ = load_rules(shipped("rules"))
    assert {"leak", "power_cut", "tank_moved", "smell", "failed", "fed", "ill"} <= set(known_events(rules))


def test_an_event_is_one_word() -> None:
    assert event_word(" Power cut ") == "power_cut"
    assert split_fact(["Power-cut"], ["power_cut"]) == ("event", "power_cut", "", "")


@pytest.mark.parametrize(("typed", "kept"), [("=1+1", "'=1+1"), ("  -x", "'-x"), ("a\nb", "a b"), ("plain", "plain"), ("\udc80", "?"), ("", "")])
def test_a_remark_is_one_line_that_no_spreadsheet_works_out(typed: str, kept: str) -> None:
    assert safe_text(typed) == kept


def test_the_zone_of_a_tank_without_one_is_utc() -> None:
    found, _ = read_tank("tank: {volume: 100 L}\n", "tank.yaml")
    assert found is not None
    assert zone_of(found) == UTC




@pytest.mark.parametrize("value", ["1", "2", "2.5", "3", "7"])
def test_a_reading_is_written_with_the_unit_of_its_kit_whatever_the_number(value: str) -> None:
    """Converted by two ways the same number differs behind the sixteenth digit, which is no other number."""
    row = reading_row("nitrite", value, "", STAMP, "display", "", tank("{nitrite: {basis: NO2}}"), BERLIN)
    assert isinstance(row, Entry) and row.new.unit == "mg/L as NO2"
