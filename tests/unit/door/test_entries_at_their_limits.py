"""Entries at the edge of what is asked about, refused or told. Contract of this project; no outside figures but where a test names one."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from planner.door.acts import Act, Desk, writes_an_amount
from planner.door.entry_words import (
    Entry,
    Stamp,
    fact_row,
    known_events,
    occurrence_of,
    planned_amount,
    read_stamp,
    reading_row,
    split_fact,
    split_reading,
)
from planner.door.put_off import LEFT_OUT_OFTEN, postpone_tasks, skip_tasks
from planner.files.journal_form import NewRow
from planner.rulebook.shapes import Rulebook
from planner.rulebook.task_rule import TaskRule, Writes
from planner.terms.records import State
from planner.terms.units import DIMENSIONS, Refusal
from planner.terms.written_amounts import unit_missing
from planner.terms.written_numbers import letter_mended
from tests.engine_desk import facts_of, journal_of, tank_with
from tests.rulecases import rulebook
from tests.unit.door.test_entry_words import BERLIN, NOW, STAMP, tank
from tests.unit.door.test_ticks_and_arrivals import animals, said
from tests.unit.plan_builder import ON, plan, quantity, task


def desk(*parts: object, rows: tuple[str, ...] = (), on: date = ON) -> Desk:
    made = tank_with()
    return Desk(made, journal_of(*rows, tank=made), rulebook(), on, plan(*parts), Stamp(on), animals())  # type: ignore[arg-type]


def refused(found: object) -> Refusal:
    assert isinstance(found, Refusal), found
    return found


# --- what was typed


@pytest.mark.parametrize(
    ("typed", "read"),
    [
        (["dosed", "ammonia", "4,1g"], ("dosed", "ammonia", "4.1", "g")), (["dosed", "ammonia", "4.1", "g"], ("dosed", "ammonia", "4.1", "g")), (["dosed", "ammonia"], ("dosed", "ammonia", "", "")),
        (["changed_water", "10%"], ("changed_water", "water", "10", "%")), (["changed_water", "water", "10", "%"], ("changed_water", "water", "10", "%")), (["changed_water", "fresh"], ("changed_water", "fresh", "", "")),
        (["poured", "120", "L"], ("poured", "water", "120", "L")), (["poured", "salt", "120 L"], ("poured", "salt", "120", "L")), (["added", "2"], ("added", "2", "", "")), (["added", "snail", "3"], ("added", "snail", "3", "")),
        (["leak"], ("event", "leak", "", "")), (["Leak", "at", "the", "sump"], ("event", "leak", "at the sump", "")), (["event", "leak"], ("event", "leak", "", "")), (["event", "my_own", "word"], ("event", "my_own", "word", "")),
    ],
)
def test_a_fact_is_a_kind_a_subject_and_an_amount(typed: list[str], read: tuple[str, str, str, str]) -> None:
    assert split_fact(typed, ["leak"]) == read


@pytest.mark.parametrize(
    ("typed", "what", "count"),
    [
        (["2", "clownfish"], "clownfish", "2"), (["2", "ocellaris clownfish"], "ocellaris clownfish", "2"), (["two", "ocellaris", "clownfish"], "ocellaris clownfish", "2"),
        (["ocellaris", "clownfish", "2"], "ocellaris clownfish", "2"), (["clownfish", "Two"], "clownfish", "2"), (["2 ocellaris clownfish"], "ocellaris clownfish", "2"), (["ocellaris", "clownfish"], "ocellaris clownfish", ""),
    ],
)
@pytest.mark.parametrize("kind", ["added", "moved", "lost"])
def test_the_number_of_animals_may_stand_before_their_name_or_after_it(kind: str, typed: list[str], what: str, count: str) -> None:
    assert split_fact([kind, *typed], ["leak"]) == (kind, what, count, "")


@pytest.mark.parametrize(
    ("typed", "code"),
    [([], "kind-missing"), (["dosed"], "what-missing"), (["poured"], "what-missing"), (["event"], "what-missing"), (["leek"], "unknown-kind"), (["zzz"], "unknown-kind"), (["reading", "ph"], "other-command"), (["done", "x"], "other-command"), (["skipped"], "other-command"),
     (["dosed", "ammonia", "much"], "not-a-number"), (["dosed", "ammonia", "1,000 g"], "ambiguous-number")],
)
def test_a_fact_that_is_not_whole_is_refused(typed: list[str], code: str) -> None:
    assert refused(split_fact(typed, ["leak"])).code == code


@pytest.mark.parametrize(("typed", "fix"), [("leek", "`leak`"), ("zzz", "`poured`"), ("skipped", "newtank skip"), ("postponed", "newtank postpone"), ("done", "newtank done"), ("reading", "newtank log")])
def test_what_cannot_be_noted_is_answered_with_what_can(typed: str, fix: str) -> None:
    assert fix in refused(split_fact([typed], ["leak"])).fix


@pytest.mark.parametrize(("typed", "code"), [("ammonia", "not-a-reading"), ("amonia=1", "unknown-reading"), ("zzz=1", "unknown-reading"), ("ph=", "not-a-number"), ("ph=high", "not-a-number"), ("ph=1,000", "ambiguous-number")])
def test_a_result_that_is_not_whole_is_refused(typed: str, code: str) -> None:
    assert refused(split_reading(typed)).code == code


@pytest.mark.parametrize(("typed", "part"), [("amonia", "`ammonia=0.25`"), ("zzz", "`ammonia=0.25`"), ("nitrat 5", "`nitrate=5`"), ("kh 7", "`alkalinity=7`"), ("nitrat zero", "`nitrate=0.25`"), ("phosfate", "`phosphate=0.25`"), ("amonia=1", "`ammonia=1`"), ("kh=7", "`alkalinity=7`"), ("1.026 SG 25/25", '`"salinity=1.026 SG 25/25"`'), ("zzz=1", "use one of")])
def test_a_slip_in_the_name_of_a_reading_is_answered_with_the_nearest(typed: str, part: str) -> None:
    assert part in refused(split_reading(typed)).fix


def test_a_result_of_nothing_and_one_of_words_are_told_apart() -> None:
    assert "has no value" in refused(split_reading("ph=")).message and "is not a test result" in refused(split_reading("ph=high")).message


@pytest.mark.parametrize(
    ("name", "value", "unit", "kit", "written"),
    [
        ("alkalinity", "8", "", "{}", "dKH"), ("alkalinity", "125", "", "{}", "mg/L CaCO3"), ("alkalinity", "120", "ppm", "{}", "mg/L CaCO3"), ("alkalinity", "120", "mg / L", "{}", "mg/L CaCO3"), ("alkalinity", "2.5", "meq/L", "{}", "meq/L"),
        ("calcium", "420", "ppm", "{}", "ppm"), ("ammonia", "0.5", "ppm", "{ammonia: {basis: ion}}", "mg/L as ion"), ("ammonia", "0.5", "mg/L", "{ammonia: {basis: ion}}", "mg/L as ion"), ("ammonia", "0.5", "mg/L as N", "{ammonia: {basis: ion}}", "mg/L as N"),
        ("nitrite", ">5", "", "{nitrite: {basis: N}}", "mg/L as N"), ("temperature", "25", "", "{}", "°C"), ("ph", "8.1", "", "{}", ""), ("calcium", "<400", "", "{}", "mg/L"),
    ],
)
def test_a_result_is_written_with_the_unit_in_which_it_was_read(name: str, value: str, unit: str, kit: str, written: str) -> None:
    found = reading_row(name, value, unit, STAMP, "display", "", tank(kit), BERLIN)
    assert isinstance(found, Entry)
    assert (found.new.unit, found.row.unit) == (written, written)


def test_a_unit_that_a_kit_does_not_have_is_answered_with_the_line_that_works() -> None:
    """Of three units to choose from a keeper takes the first, which may not be that of the kit."""
    fix = refused(reading_row("ammonia", "0.5", "mg", STAMP, "display", "", tank("{ammonia: {basis: ion}}"), BERLIN)).fix
    assert fix.startswith("write `ammonia=0.5`, which counts as mg/L as NH4 like your kit")
    assert "like your kit" not in refused(reading_row("ammonia", "0.5", "mg", STAMP, "display", "", tank("{}"), BERLIN)).fix


@pytest.mark.parametrize(("text", "pretended", "comes"), [("2026-03-02 12:00", False, True), ("2026-03-02 12:01", False, False), ("2026-03-02 12:01", True, True), ("2026-03-02", False, True), ("2026-03-03", True, False)])
def test_what_happened_lies_no_minute_ahead(text: str, pretended: bool, comes: bool) -> None:
    found = read_stamp(text, ON, NOW, pretended, BERLIN)
    assert isinstance(found, Stamp) if comes else refused(found).code == "in-the-future"


def test_a_time_that_has_not_come_is_told_with_its_hour_today_and_by_its_day_else() -> None:
    assert refused(read_stamp("12:01", ON, NOW, False, BERLIN)).message.startswith("2026-03-02T12:01")
    assert refused(read_stamp("2026-03-03 12:01", ON, NOW, False, BERLIN)).message.startswith("2026-03-03 ")


# --- the fact of a tick


DOSE, CHANGE, ANIMALS = Writes(kind="dosed", what="ammonia", amount="x"), Writes(kind="changed_water", what="water", amount="x"), Writes(kind="added", what="snail", amount="x")


@pytest.mark.parametrize(
    ("writes", "planned", "typed", "written"),
    [
        (DOSE, (2.0, "g"), "3", ("3", "g")), (DOSE, (2.0, "mL"), "3", ("3", "")), (DOSE, None, "3", ("3", "")), (DOSE, (2.0, "g"), "3 mL", ("3", "mL")), (DOSE, (2.0, "g"), "1,5 g", ("1.5", "g")), (DOSE, None, None, ("", "")), (DOSE, (2.0, "g"), None, ("2", "g")),
        (CHANGE, (12.0, "L"), None, ("12", "L")), (ANIMALS, (0.2, "snails"), None, ("1", "")), (ANIMALS, (2.4, "snails"), None, ("2", "")), (ANIMALS, None, None, ("", "")), (ANIMALS, (2.4, "snails"), "5", ("5", "")),
    ],
)
def test_the_fact_of_a_tick_has_what_was_typed_else_what_was_planned(writes: Writes, planned: tuple[float, str] | None, typed: str | None, written: tuple[str, str]) -> None:
    row = fact_row(writes, "display", STAMP, quantity("x", *planned) if planned else None, typed)
    assert isinstance(row, NewRow)
    assert (row.value, row.unit) == written


@pytest.mark.parametrize(("kind", "needs"), [("changed_water", True), ("poured", True), ("dosed", False), ("added", False)])
def test_water_alone_is_never_written_without_an_amount(kind: str, needs: bool) -> None:
    found = fact_row(Writes(kind=kind, what="x"), "display", STAMP, None, None)  # type: ignore[arg-type]
    assert (refused(found).code == "amount-missing") if needs else isinstance(found, NewRow)


@pytest.mark.parametrize("typed", ["", "much", "1,000 g"])
def test_an_amount_that_is_none_is_refused(typed: str) -> None:
    assert refused(fact_row(DOSE, "display", STAMP, quantity("x", 2.0, "g"), typed)).code == "not-a-number"


def test_a_job_has_an_amount_if_it_writes_one() -> None:
    rules, facts = rulebook(), facts_of(on="2026-03-02")
    by_amount = {has: next(r for r in rules.tasks.values() if r.writes is not None and (r.writes.amount is not None) is has) for has in (True, False)}
    assert planned_amount(by_amount[False], facts, rules) is None and planned_amount(next(r for r in rules.tasks.values() if r.writes is None), facts, rules) is None
    dose = next(r for r in rules.tasks.values() if r.writes is not None and r.writes.kind == "dosed" and r.writes.what == "ammonia" and r.writes.amount)
    found = planned_amount(dose, facts, rules)
    assert found is not None and found.value > 0
    kinds = {kind: next((key for key, r in rules.tasks.items() if (r.writes.kind if r.writes is not None else None) == kind), None) for kind in ("dosed", "event", None)}
    assert [writes_an_amount(desk(), key) for key in kinds.values() if key] == [True, False, False]


def test_what_a_tick_writes_is_an_event_that_can_be_noted_and_a_dose_is_none() -> None:
    told = known_events(Rulebook((), (), {}, {}, {}, tasks={"a/b": TaskRule(id="b", title="B", writes=Writes(kind="event", what="my_own")), "a/c": TaskRule(id="c", title="C", writes=DOSE)}))
    assert "my_own" in told and "ammonia" not in told


@pytest.mark.parametrize(("number", "open_jobs", "meant"), [("", (), "a/b"), ("2", (), "a/b"), ("", ("a/b#1",), "a/b#1"), ("2", ("a/b#1",), "a/b#2"), ("", ("a/b",), "a/b")])
def test_a_job_that_comes_once_has_no_number_unless_the_plan_counts_it(number: str, open_jobs: tuple[str, ...], meant: str) -> None:
    rules = Rulebook((), (), {}, {}, {}, tasks={"a/b": TaskRule(id="b", title="B")})
    assert occurrence_of("a/b", number, plan(*map(task, open_jobs)), (), rules) == meant


def test_a_closed_round_is_not_ticked_again() -> None:
    rules = Rulebook((), (), {}, {}, {}, tasks={"a/b": TaskRule(id="b", title="B", every="x")})
    both = plan(task("a/b#1", state=State.DONE), task("a/b#2", state=State.LATE))
    assert occurrence_of("a/b", "", both, (), rules) == "a/b#2" and occurrence_of("a/b", "", plan(task("a/b#1", state=State.SKIPPED)), (), rules) == "a/b#1"
    assert occurrence_of("no/such", "", both, (), rules) == "no/such"


# --- put off and left out


@pytest.mark.parametrize(("days", "code"), [(-1, "day-passed"), (0, None), (1, None), (731, None), (740, "day-too-far")])
def test_a_job_is_put_off_from_today_to_two_years_on(days: int, code: str | None) -> None:
    found = postpone_tasks(desk(), ["site/level"], ON + timedelta(days=days))
    assert (found.code if isinstance(found, Refusal) else None) == code


@pytest.mark.parametrize(("days", "warns"), [(-1, True), (0, False), (1, False)])
def test_an_earlier_day_moves_nothing_and_is_told(days: int, warns: bool) -> None:
    at = ON + timedelta(days=8)
    key = next(key for key, r in rulebook().tasks.items() if not r.protects and r.every is None and not r.reads and key.startswith("site/"))
    found = postpone_tasks(desk(task(key, at)), [key], at + timedelta(days=days))
    assert isinstance(found, Act) and bool(found.warnings) is warns
    protected = next(key for key, r in rulebook().tasks.items() if r.protects and key.startswith("site/"))
    held = postpone_tasks(desk(task(protected, at)), [protected], at + timedelta(days=days))
    assert (refused(held).code == "protects") if warns else isinstance(held, Act)


def test_what_repeats_is_told_once_it_is_left_out_four_times() -> None:
    key, rule = next((key, r) for key, r in rulebook().tasks.items() if r.every in rulebook().numbers and r.when is None and not r.protects and not any(key.startswith(f"{a.alert}/") for a in rulebook().alerts))
    assert rule.every is not None
    every = rulebook().hours(rule.every) / 24
    for times, warns in ((LEFT_OUT_OFTEN, True), (LEFT_OUT_OFTEN - 1, False)):
        found = postpone_tasks(desk(task(f"{key}#1", ON)), [f"{key}#1"], ON + timedelta(days=-(-every * times // 1)))
        assert isinstance(found, Act) and bool(found.warnings) is warns, (key, times)
        assert not warns or f"{times} times" in said(found.warnings)
    once = next(key for key, r in rulebook().tasks.items() if r.every is None and key.startswith("site/") and not r.reads)
    far = postpone_tasks(desk(task(once, ON)), [once], ON + timedelta(days=300))
    assert isinstance(far, Act) and not far.warnings


def test_a_job_that_is_closed_is_neither_put_off_nor_left_out() -> None:
    key = next(key for key, r in rulebook().tasks.items() if not r.protects and key.startswith("site/"))
    for state, closed in ((State.DONE, True), (State.SKIPPED, True), (State.LATE, False)):
        for found in (postpone_tasks(desk(task(key, ON, state=state)), [key], ON), skip_tasks(desk(task(key, ON, state=state)), [key])):
            assert (refused(found).code == "closed-already") if closed else isinstance(found, Act)


def test_what_an_alarm_asks_for_is_not_put_off_and_another_job_is() -> None:
    of_alarm = next(key for key in rulebook().tasks if any(key.startswith(f"{a.alert}/") for a in rulebook().alerts))
    assert refused(postpone_tasks(desk(), [of_alarm], ON)).code == "of-an-alarm"


@pytest.mark.parametrize("typed", ["ammonia=0.2.5", "ammonia=0,2,5", "ph=8.1.", "ammonia=1..5"])
def test_a_number_with_two_points_is_no_number_and_never_a_number_with_a_strange_unit(typed: str) -> None:
    told = refused(split_reading(typed))
    assert told.code == "not-a-number" and "write a number" in told.fix


@pytest.mark.parametrize(("typed", "meant"), [("ammonia=0,5o", "ammonia=0.50"), ("ammonia=o.5", "ammonia=0.5"), ("nitrate=1O", "nitrate=10"), ("ammonia=over5o ppm", "ammonia=over50 ppm")])
def test_a_letter_o_in_a_number_is_answered_with_the_zero_that_was_meant(typed: str, meant: str) -> None:
    told = refused(split_reading(typed))
    assert told.code == "not-a-number" and f"`{typed}`" in told.message and f"`{meant}`" in told.fix


@pytest.mark.parametrize("typed", ["1 oz", "1oz", "25o C", "over5", "5 ppm"])
def test_an_ounce_and_the_sign_of_degrees_are_no_letter_in_a_number(typed: str) -> None:
    assert letter_mended(typed) is None


@pytest.mark.parametrize("slipped", [1.26, 1.09, 1.9])
def test_a_specific_gravity_with_a_digit_lost_is_never_answered_with_parts_per_thousand(slipped: float) -> None:
    """`1.26 ppt` is nearly pure water: who followed that advice would raise an alarm and salt his tank."""
    told = unit_missing(slipped, DIMENSIONS["salinity"])
    assert f"{slipped:g} ppt" not in told.fix and "1.026 SG 25/25" in told.fix and "35 ppt" in told.fix
    assert unit_missing(35.0, DIMENSIONS["salinity"]).fix == "write `35 ppt`"
