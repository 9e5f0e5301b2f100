"""Gates by replay: they open at the first instant that proved them, stay open, lapse before animals, and hold.

The behaviour is the contract of the plan; no outside source speaks of it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime

import pytest

from planner.terms.records import Answer, State
from tests.engine_desk import open_task, plan_with, small_book, tank_with, verdicts_of
from tests.rulecases import gate_word, rulebook

CHAIN = """
- phase: site
  gate: {opens_when: {reading: {name: ammonia, clear: 'yes'}}}
- phase: water
  after: [site]
  gate: {opens_when: {reading: {name: nitrite, clear: 'yes'}}}
"""
AMMONIA, NITRITE = "reading,ammonia,0,mg/L", "reading,nitrite,0,mg/L"


def test_a_gate_opens_at_the_first_instant_that_proved_it() -> None:
    rows = [f"2026-03-04 09:00,{AMMONIA}", f"2026-03-06 09:00,{AMMONIA}", "2026-03-08 09:00,reading,ammonia,1,mg/L"]
    gate = verdicts_of(small_book(CHAIN), *rows, on="2026-03-20").gates["site"]
    assert gate.opened is not None and gate.opened[0] == date(2026, 3, 4)
    assert [row.line for row in gate.by] == [2]


def test_no_date_alone_opens_a_gate() -> None:
    assert verdicts_of(small_book(CHAIN), on="2028-03-20").opened == {}


def test_staleness_never_shuts_a_gate_that_opened() -> None:
    book = small_book(CHAIN)
    for on in ("2026-03-04", "2026-03-30", "2027-12-31"):
        assert "site" in verdicts_of(book, f"2026-03-04 09:00,{AMMONIA}", on=on).opened


def test_a_later_gate_is_replayed_from_the_opening_of_the_one_before() -> None:
    book = small_book(CHAIN)
    early = verdicts_of(book, f"2026-03-03 09:00,{NITRITE}", f"2026-03-04 09:00,{AMMONIA}", on="2026-03-10")
    assert early.opened["water"][0] == date(2026, 3, 4)  # nitrite was still fresh when ammonia came
    stale = verdicts_of(book, f"2026-03-03 09:00,{NITRITE}", f"2026-03-07 09:00,{AMMONIA}", on="2026-03-10")
    assert "water" not in stale.opened
    assert stale.started["water"] == date(2026, 3, 7)


def test_a_gate_whose_forerunner_is_shut_stays_shut_however_good_its_readings() -> None:
    verdicts = verdicts_of(small_book(CHAIN), f"2026-03-04,{NITRITE}", on="2026-03-04")
    assert verdicts.opened == {} and "water" not in verdicts.started


def test_files_of_one_graph_in_any_order_are_judged_the_same() -> None:
    book = small_book(CHAIN)
    turned = replace(book, phases=tuple(p.model_copy(update={"order": 9 - p.order}) for p in reversed(book.phases)))
    rows = [f"2026-03-04,{AMMONIA}", f"2026-03-05,{NITRITE}"]
    assert verdicts_of(book, *rows, on="2026-03-09").opened == verdicts_of(turned, *rows, on="2026-03-09").opened


LAPSING = """
- phase: site
  gate:
    opens_when: {reading: {name: ammonia, clear: 'yes'}}
    lapses_when: {all: [{not: {animal: {}}}, {age: {of: site, at_least: week}}, {not: {fact: {kind: dosed, what: ammonia, within: week}}}]}
"""
WEEK = {"week": (168.0, "h")}


def lapsing(*rows: str, on: str):  # type: ignore[no-untyped-def]
    return verdicts_of(small_book(LAPSING, **WEEK), f"2026-03-04 09:00,{AMMONIA}", *rows, on=on).gates["site"]


def test_a_gate_lapses_after_a_week_unfed_and_not_a_day_before() -> None:
    assert lapsing(on="2026-03-10").opened is not None
    gate = lapsing(on="2026-03-11")
    assert gate.opened is None and gate.lapsed is not None


def test_a_lapsed_gate_asks_for_new_evidence() -> None:
    assert lapsing(f"2026-03-09 09:00,{AMMONIA}", on="2026-03-14").opened is None  # from before the lapse
    again = lapsing(f"2026-03-14 09:00,{AMMONIA}", on="2026-03-14")
    assert again.opened is not None and again.opened[0] == date(2026, 3, 14)
    assert lapsing(f"2026-03-14 09:00,{AMMONIA}", on="2026-03-17").opened == again.opened  # and so it stays


def test_a_lapse_that_was_mended_too_late_still_happened() -> None:
    """Fed on the tenth day: the week had passed, whatever the journal says afterwards."""
    assert lapsing("2026-03-14 09:00,dosed,ammonia,1,mg/L as N", on="2026-03-14").opened is None
    assert lapsing("2026-03-10 09:00,dosed,ammonia,1,mg/L as N", on="2026-03-14").opened is not None


def test_nothing_lapses_once_an_animal_is_in() -> None:
    assert lapsing("2026-03-08,added,snail,4", on="2026-05-14").opened is not None


HOLDING = """
- phase: site
  gate:
    opens_when: {reading: {name: ammonia, clear: 'yes'}}
    holds:
      - {when: {reading: {name: nitrite, above: one}}, because: Nitrite is up., instead: [site/test], unknown_holds: %s, any_time: %s}
  tasks: [{id: test, anchor: {phase: site}, role: remedy}]
- phase: water
  after: [site]
  tasks: [{id: pour, anchor: {phase: water}}, {id: look, anchor: {phase: water}, role: test}]
"""
ONE = {"one": (1.0, "mg/L")}


@pytest.mark.parametrize(("reading", "unknown_holds", "held"), [("2", "no", True), ("0", "no", False), (None, "no", False), (None, "yes", True), ("0", "yes", False)])
def test_an_open_gate_holds_on_yes_and_on_unknown_where_the_rule_says_so(reading: str | None, unknown_holds: str, held: bool) -> None:
    rows = [f"2026-03-04,{AMMONIA}"] + ([f"2026-03-05,reading,nitrite,{reading},mg/L"] if reading else [])
    verdicts = verdicts_of(small_book(HOLDING % (unknown_holds, "no"), **ONE), *rows, on="2026-03-05")
    assert [h.gate for h in verdicts.holds] == (["site"] if held else [])
    assert "site" in verdicts.opened  # a hold does not shut


def test_a_shut_gate_holds_only_for_a_check_that_counts_at_any_time() -> None:
    row = "2026-03-05,reading,nitrite,2,mg/L"
    assert verdicts_of(small_book(HOLDING % ("no", "no"), **ONE), row, on="2026-03-05").holds == ()
    assert [h.because for h in verdicts_of(small_book(HOLDING % ("no", "yes"), **ONE), row, on="2026-03-05").holds] == ["Nitrite is up."]


def test_a_hold_stops_steps_behind_its_gate_but_neither_tests_nor_remedies() -> None:
    rows = [f"2026-03-04,{AMMONIA}", "2026-03-05,reading,nitrite,2,mg/L"]
    plan = plan_with(small_book(HOLDING % ("no", "no"), **ONE), *rows, on="2026-03-05")
    assert open_task(plan, "water/pour").state == State.ON_HOLD
    assert open_task(plan, "water/look").state != State.ON_HOLD
    assert all(t.state != State.ON_HOLD for t in plan.tasks if t.key == "site/test")
    assert plan.holds[0].since == date(2026, 3, 5) and plan.holds[0].instead == ("site/test",)
    later = plan_with(small_book(HOLDING % ("no", "no"), **ONE), *rows, "2026-03-06,reading,nitrite,0,mg/L", on="2026-03-06")
    assert later.holds == () and open_task(later, "water/pour").state != State.ON_HOLD


GOOD = ("ammonia,0,mg/L", "nitrite,0,mg/L", "nitrate,10,mg/L", "ph,8.1,pH", "alkalinity,8,dKH", "salinity,35,ppt", "temperature,25.5,C")
PASSED = tank_with(already={"big-change": "2026-03-01"})


def retest(day: str, note: str = "") -> list[str]:
    return [f"{day},reading,{name},display,{note}" for name in GOOD]


def test_already_passes_a_phase_and_those_before_it_on_the_keepers_word() -> None:
    verdicts = verdicts_of(rulebook(), on="2026-03-03", tank=PASSED)
    for phase in ("site", "leak-test", "water", "rock", "scape", "start-up", "cycle", "big-change"):
        assert verdicts.gates[phase].on_word and verdicts.gates[phase].by == ()
        assert verdicts.opened[phase][0] == date(2026, 3, 1)
    assert "animals" not in verdicts.opened


def test_a_word_for_a_later_day_is_not_taken_yet() -> None:
    assert "big-change" not in verdicts_of(rulebook(), on="2026-02-27", tank=tank_with(start="2026-02-20", already={"big-change": "2026-03-01"})).opened


@pytest.mark.parametrize(("zone", "midnight"), [("UTC", "2026-03-02T00:00:00+00:00"), ("America/New_York", "2026-03-02T00:00:00-05:00")])
def test_a_word_counts_on_its_own_day_and_passes_the_gate_with_the_midnight_that_ends_it(zone: str, midnight: str) -> None:
    """Offsets of the zones: the tz database (New York is at -05:00 on 1 March)."""
    tank = tank_with(start="2026-02-20", timezone=zone, already={"site": "2026-03-01"})
    opened = verdicts_of(rulebook(), on="2026-03-01", tank=tank).opened
    assert opened["site"] == (date(2026, 3, 1), datetime.fromisoformat(midnight).timestamp())
    assert "site" not in verdicts_of(rulebook(), on="2026-02-28", tank=tank).opened


def test_a_word_for_a_later_phase_passes_an_earlier_one_from_its_own_day_on() -> None:
    tank = tank_with(start="2026-02-20", already={"water": "2026-03-01"})
    assert verdicts_of(rulebook(), on="2026-03-01", tank=tank).opened["leak-test"][0] == date(2026, 3, 1)
    assert "leak-test" not in verdicts_of(rulebook(), on="2026-02-28", tank=tank).opened


def test_the_gate_to_animals_is_never_passed_on_word() -> None:
    tank = tank_with(already={"fish": "2026-03-01"})
    verdicts = verdicts_of(rulebook(), on="2026-03-03", tank=tank)
    assert verdicts.gates["animals"].opened is None and not verdicts.gates["animals"].on_word
    tested = verdicts_of(rulebook(), *retest("2026-03-03"), on="2026-03-03", tank=tank)
    assert tested.gates["animals"].opened is not None and not tested.gates["animals"].on_word


@pytest.mark.parametrize("missing", range(len(GOOD)))
def test_each_reading_is_needed_for_the_gate_to_animals(missing: int) -> None:
    rows = retest("2026-03-03")
    del rows[missing]
    gate = verdicts_of(rulebook(), *rows, on="2026-03-03", tank=PASSED).gates["animals"]
    assert gate.opened is None
    assert [n.met for n in gate.needs].count(Answer.UNKNOWN) == 1


def test_an_undone_reading_after_animals_went_in_is_a_hold_not_a_past_rewritten() -> None:
    rows = [*retest("2026-03-03", "[ab12]"), "2026-03-04,added,snail,4,,display"]
    before = plan_with(rulebook(), *rows, on="2026-03-04", tank=PASSED)
    assert gate_word(before, "animals") in ("open", "hold")
    undo = "2026-03-03,undo,reading:ammonia,0,mg/L,display,[ab12]"
    after = plan_with(rulebook(), *rows, undo, on="2026-03-04", tank=PASSED)
    assert gate_word(after, "animals") == "hold"
    assert any("before tests have opened it" in h.because for h in after.holds)
    assert [t.date for t in after.tasks if t.closed_on] == [t.date for t in before.tasks if t.closed_on]


def test_an_animal_before_its_gate_raises_the_alarm_whatever_the_date() -> None:
    plan = plan_with(rulebook(), "2026-03-04,added,clownfish,2,,display", on="2026-03-04")
    assert any(h.gate == "animals" and "add nothing more" in h.because for h in plan.holds)
    quarantined = plan_with(rulebook(), "2026-03-04,added,clownfish,2,,quarantine", on="2026-03-04")
    assert not any("before tests have opened it" in h.because for h in quarantined.holds)


@pytest.mark.parametrize(("condition", "row", "opened"), [
    ("{done: site/buy}", "2026-03-05,done,site/buy", "2026-03-05"),
    ("{done: site/buy}", "2026-03-05,skipped,site/buy", "2026-03-05"),
    ("{all: [{done: site/buy}, {age: {of: site/buy, at_least: day}}, {event: fed}]}", "2026-03-05,done,site/buy", "2026-03-08"),
    ("{event: fed}", "2026-03-09,event,smell", "2026-03-08"),
    ("{fact: {kind: dosed, what: ammonia}}", "2026-03-06,dosed,ammonia,1,mg/L as N", "2026-03-06"),
    ("{animal: {}}", "2026-03-07,added,snail,4", "2026-03-07"),
    ("{any: [{done: site/buy}, {animal: {}}]}", "2026-03-07,moved,snail,4", "2026-03-07"),
])
def test_every_kind_of_evidence_opens_a_gate_on_its_own_day(condition: str, row: str, opened: str) -> None:
    book = small_book("[{phase: site, gate: {opens_when: {all: [{event: fed}]}}}, {phase: water, tasks: [], gate: {opens_when: " + condition + "}}]", day=(24.0, "h"))
    gate = verdicts_of(book, row, "2026-03-02,event,tank_moved", "2026-03-08,event,fed", on="2026-03-12").gates["water"]
    assert gate.opened is not None and gate.opened[0].isoformat() == opened
