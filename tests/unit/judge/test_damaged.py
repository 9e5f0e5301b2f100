"""Damaged rows: what they may have said is unknown until they are mended. They hold and warn; they prove nothing and shut no gate
that has opened. The behaviour is the contract of the plan; no outside source speaks of it."""

from __future__ import annotations

from datetime import date

import pytest

from planner.files.journal_form import Form, print_row
from planner.files.journal_write import undo_line
from planner.show.words.causes import all_words
from planner.terms.records import Answer, Plan, State
from tests.engine_desk import answer_to, book_with, journal_of, plan_with, small_book, tank_with, verdicts_of
from tests.rulecases import rulebook

AMMONIA = "reading,ammonia,0,mg/L"
GATE = """
- phase: site
  gate: {opens_when: {reading: {name: ammonia, clear: 'yes'}}}
"""
DAMAGED_ANIMALS = [
    "2026-03-01,added,trochus,two,,display,",
    "2026-03-01,added,trochus,0,,display,",
    "2026-03-01,added,trochus,2,,dispaly,",
    ",added,trochus,2,,display,",
    "2026-03-01,added,trochus,1,5,,display,",
    "2026-03-01,added,tro",
    "2026-03-01,moved,trochus,two,,display,",
]


def plan_of(*rows: str, on: str = "2026-03-02") -> Plan:
    tank = tank_with(already={"start-up": "2026-03-01"})
    return plan_with(rulebook(), *rows, tank=tank, on=on, problems=len(rows))


def doses_of(plan: Plan) -> list[str]:
    return [t.id for t in plan.tasks if t.writes == ("dosed", "ammonia") and t.state in (State.DUE, State.LATE, State.PLANNED)]


def test_the_first_dose_is_due_without_a_damaged_row() -> None:
    assert doses_of(plan_of())


@pytest.mark.parametrize("row", DAMAGED_ANIMALS)
def test_with_a_damaged_row_of_an_animal_no_ammonia_is_dosed(row: str) -> None:
    assert doses_of(plan_of("!" + row)) == []


def test_the_plan_says_which_line_to_mend_and_how() -> None:
    told = " ".join(all_words(plan_of("!2026-03-01,added,trochus,two,,display,").notices, "metric"))
    assert "Journal line 2" in told and "write a whole number such as `2`" in told and "no ammonia" in told


def test_a_row_of_which_nothing_can_be_told_stops_ammonia_and_animals() -> None:
    plan = plan_of("!2026-03-01,xyzzy")
    assert doses_of(plan) == []
    assert {h.gate for h in plan.holds if "Line 2 of the journal" in h.because} >= {"fish", "crew"}


def test_a_damaged_row_of_one_water_says_nothing_of_another() -> None:
    rows = ["!2026-03-01,added,trochus,two,,quarantine,"]
    assert answer_to({"animal": {"where": "quarantine"}}, *rows, on="2026-03-02", problems=1) == Answer.UNKNOWN
    assert answer_to({"animal": {}}, *rows, on="2026-03-02", problems=1) == Answer.NO


def test_a_damaged_dose_is_the_full_one_for_a_ceiling_and_no_proof_that_something_was_dosed() -> None:
    rows = ["!2026-03-01,dosed,bicarbonate,much,g,display,"]
    assert answer_to({"fact": {"kind": "dosed", "what": "bicarbonate"}}, *rows, on="2026-03-02", problems=1) == Answer.UNKNOWN
    assert answer_to({"not": {"fact": {"kind": "dosed", "what": "bicarbonate"}}}, *rows, on="2026-03-02", problems=1) == Answer.UNKNOWN


def test_a_damaged_event_raises_its_hold() -> None:
    whole = verdicts_of(rulebook(), "2026-03-05,event,leak,,,display,", on="2026-03-06")
    torn = verdicts_of(rulebook(), "!2026-03-05,event,leak,,,dispaly,", on="2026-03-06", problems=1)
    assert {a.alert for a, _ in whole.alerts} == {a.alert for a, _ in torn.alerts} != set()
    assert {h.gate for h in whole.holds} <= {h.gate for h in torn.holds}


def test_a_damaged_row_without_a_date_speaks_from_the_line_above() -> None:
    journal = journal_of("2026-03-04 09:00," + AMMONIA, "!,reading,ammonia,9,mg/L,,", problems=1)
    assert journal.unreadable[0].day == date(2026, 3, 4)


@pytest.mark.parametrize("row", [",reading,ammonia,9,mg/L,,", "2026-03-04,reading,ammonia,nine,mg/L,,", "torn"])
def test_a_damaged_row_below_the_row_that_opened_a_gate_leaves_it_open(row: str) -> None:
    assert "site" in verdicts_of(small_book(GATE), "2026-03-04 09:00," + AMMONIA, "!" + row, on="2026-03-10", problems=1).opened


def test_a_damaged_reading_keeps_later_readings_from_opening_a_gate() -> None:
    rows = ["!2026-03-03,reading,ammonia,nine,mg/L,,", "2026-03-04 09:00," + AMMONIA]
    assert "site" not in verdicts_of(small_book(GATE), *rows, on="2026-03-10", problems=1).opened


PROOF = [f"2026-03-{day:02d} 09:00,{what}" for day, what in (
    (5, "dosed,ammonia,2,mg/L as N"), (6, "reading,ammonia,0,mg/L"), (6, "reading,nitrite,0,mg/L"), (7, "reading,ammonia,0,mg/L"), (7, "reading,nitrite,0,mg/L"))]


@pytest.mark.parametrize(("torn", "answer"), [
    ("2026-03-04 09:00", Answer.YES),
    ("2026-03-05 21:00", Answer.YES),
    ("2026-03-06 21:00", Answer.UNKNOWN),  # it may have shown that the dose was not gone
])
def test_a_proof_stands_where_all_its_tests_lie_after_the_one_that_cannot_be_read(torn: str, answer: Answer) -> None:
    book = book_with(d=(2, "mg/L as N"), h=(24, "h"))
    node = {"challenge": {"dose": "d", "hours": "h", "times": 1}}
    rows = [*PROOF, "2026-03-08 18:00,reading,ammonia,0,mg/L"]
    assert answer_to(node, *rows, on="2026-03-08", book=book) == Answer.YES
    assert answer_to(node, f"!{torn},reading,ammonia,O.5,mg/L,display,", *rows, on="2026-03-08", problems=1, book=book) == answer


@pytest.mark.parametrize("seconds", ["", ":40"])
def test_tests_of_one_minute_that_contradict_open_no_gate(seconds: str) -> None:
    rows = ["2026-03-04T09:00:05+00:00," + AMMONIA, f"2026-03-04T09:00{seconds or ':05'}+00:00,reading,ammonia,1,mg/L"]
    for order in (rows, rows[::-1]):
        assert "site" not in verdicts_of(small_book(GATE), *order, on="2026-03-04").opened


def test_of_tests_of_one_minute_that_agree_within_a_step_the_worse_rules() -> None:
    rows = ["2026-03-04T09:00:05+00:00," + AMMONIA, "2026-03-04T09:00:40+00:00,reading,ammonia,0.25,mg/L"]
    assert "site" not in verdicts_of(small_book(GATE), *rows, on="2026-03-04").opened
    later = "2026-03-04T09:30:00+00:00," + AMMONIA
    assert "site" in verdicts_of(small_book(GATE), *rows, later, on="2026-03-04").opened


def test_a_row_dated_after_the_plan_s_day_is_told_once_with_its_line() -> None:
    told = [n for n in all_words(plan_with(rulebook(), "2026-03-09,event,leak", on="2026-03-05").notices, "metric") if "dated after" in n]
    assert len(told) == 1 and told[0].startswith("Journal line 2 is")
    assert not [n for n in all_words(plan_with(rulebook(), "2026-03-09,event,leak", on="2026-03-09").notices, "metric") if "dated after" in n]


def test_a_damaged_line_is_taken_back_by_a_row_of_its_own() -> None:
    bad = "2026-03-01,added,trochus,two,,display,"
    damaged = journal_of("!" + bad, problems=1)
    undo = undo_line(damaged, 2, date(2026, 3, 2))
    assert undo is not None
    row = "!" + print_row(undo, Form())
    assert journal_of("!" + bad, row).unreadable == ()
    assert journal_of("2026-03-01,event,leak", "!" + bad, row).unreadable == ()  # also where lines have moved
    journal_of("2026-03-01,added,trochus,2,,display", row, problems=1)  # mended: the undo row has nothing to take back
    assert undo_line(damaged, 3, date(2026, 3, 2)) is None
