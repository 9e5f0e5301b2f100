"""The proof of the filter: which doses count, when both readings must be down, and from when a proof is possible at all."""

from __future__ import annotations

import pytest

from planner.judge.challenge import challenge, first_possible_proof, newest_failed
from planner.judge.facts import instant_of
from planner.judge.scene import NEVER
from planner.rulebook.kinds.challenge import ChallengeNode
from planner.rulebook.shapes import Rulebook
from tests.engine_desk import answer_to, book_with, facts_of

ON = "2026-03-10"
NODE = ChallengeNode(dose="d", hours="h", times=1)
BOOK: Rulebook = book_with(d=(2, "mg/L as N"), h=(24, "h"))
DOSE = "2026-03-05 12:00,dosed,ammonia,2,mg/L as N"


def both_read(when: str, ammonia: float = 0, nitrite: float = 0) -> tuple[str, str]:
    return f"{when},reading,ammonia,{ammonia},mg/L as N", f"{when},reading,nitrite,{nitrite},mg/L as N"


@pytest.mark.parametrize(("rows", "passed"), [
    (both_read("2026-03-06 11:00"), 1),
    (both_read("2026-03-06 12:00"), 1),  # exactly a day later
    (both_read("2026-03-06 12:01"), 0),
    (both_read("2026-03-06 11:00", 0.25, 0.25), 1),  # one step of the kit
    (both_read("2026-03-06 11:00", 0.5), 0), (both_read("2026-03-06 11:00", 0, 0.5), 0),
    ((*both_read("2026-03-06 11:00"), "2026-03-05 20:00,changed_water,water,10,%"), 0),
    ((*both_read("2026-03-06 11:00"), "2026-03-05 20:00,dosed,ammonia,0.5,mg/L as N"), 0),  # another dose in between
], ids=str)
def test_a_dose_is_proven_by_both_readings_down_to_a_step_within_the_day(rows: tuple[str, ...], passed: int) -> None:
    assert challenge(NODE, facts_of(DOSE, *rows, on=ON), BOOK).passed == passed


@pytest.mark.parametrize(("dose", "passed"), [("2", 1), ("1.99", 1), ("1.98", 0)])  # half a percent is left to the scale
def test_a_smaller_dose_proves_nothing(dose: str, passed: int) -> None:
    assert challenge(NODE, facts_of(f"2026-03-05 12:00,dosed,ammonia,{dose},mg/L as N", *both_read("2026-03-06 11:00"), on=ON), BOOK).passed == passed


@pytest.mark.parametrize(("rows", "line"), [
    (both_read("2026-03-06 11:00", 0.25, 0.25), 4),  # one step of the kit is enough, from the later of both
    (both_read("2026-03-06 11:00", 0.5), None),
    (both_read("2026-03-07 12:00"), 4), (both_read("2026-03-07 12:01"), None),  # a day longer than the limit, and no more
    (both_read("2026-03-05 11:00"), None),  # before the dose
], ids=str)
def test_a_proof_is_possible_from_the_reading_with_which_both_are_down(rows: tuple[str, ...], line: int | None) -> None:
    facts = facts_of(DOSE, *rows, on=ON)
    assert first_possible_proof(NODE, facts, BOOK) == (NEVER if line is None else instant_of(next(r for r in facts.journal.rows if r.line == line)))


@pytest.mark.parametrize(("when", "failed"), [("2026-03-05 23:59", False), ("2026-03-06 00:00", True), ("2026-03-06 12:00", True), ("2026-03-06 12:01", False)])
def test_a_dose_has_failed_where_the_second_half_of_its_hours_shows_too_much(when: str, failed: bool) -> None:
    assert (newest_failed(NODE, facts_of(DOSE, *both_read(when, 1), on=ON), BOOK) is not None) == failed


def test_a_dose_after_it_makes_an_older_failure_old() -> None:
    rows = (DOSE, *both_read("2026-03-06 11:00", 1), "2026-03-07 12:00,dosed,ammonia,1,mg/L as N")
    assert newest_failed(NODE, facts_of(*rows, on=ON), BOOK) is None


@pytest.mark.parametrize(("between", "passed"), [
    (both_read("2026-03-08 12:30"), 2),  # of the second dose, two days later: nobody looked in time
    (both_read("2026-03-07 16:00"), 2),
    (both_read("2026-03-08 12:30", 0.5), 1), (both_read("2026-03-08 12:30", 0, 0.5), 1),
    ((), 1),  # nobody looked at all
    ((*both_read("2026-03-08 12:30"), "2026-03-07 18:00,changed_water,water,20,%"), 1),
], ids=str)
def test_a_dose_that_nobody_looked_at_in_time_parts_no_two_proofs_if_it_was_gone_by_the_next(between: tuple[str, ...], passed: int) -> None:
    rows = (DOSE, *both_read("2026-03-06 11:00"), "2026-03-06 12:00,dosed,ammonia,2,mg/L as N", *between, "2026-03-08 13:00,dosed,ammonia,2,mg/L as N", *both_read("2026-03-09 12:30"))
    assert challenge(NODE.model_copy(update={"times": 2}), facts_of(*rows, on=ON), BOOK).passed == passed


EVENINGS = [f"2026-03-0{n} 18:00" for n in range(5, 8)]


def test_of_one_hour_the_order_of_the_lines_says_which_came_first() -> None:
    """An evening entered for a past day: the test first, the dose in the line below, both at the hour of the reminder."""
    twice = NODE.model_copy(update={"times": 2})
    rows = [line for n, at in enumerate(EVENINGS) for line in (*both_read(at, 0 if n else 1), f"{at},dosed,ammonia,2,mg/L as N")]
    assert challenge(twice, facts_of(*rows, on=ON), BOOK).passed == 2
    dose_first = [line for n, at in enumerate(EVENINGS) for line in (f"{at},dosed,ammonia,2,mg/L as N", *both_read(at, 0 if n else 1))]
    assert challenge(twice, facts_of(*dose_first, on=ON), BOOK).passed == 0


@pytest.mark.parametrize(("rows", "answer"), [
    ((both_read("2026-03-06 18:00"), ("2026-03-06 18:00,dosed,ammonia,2,mg/L as N",)), "unknown"),  # of before the dose
    ((("2026-03-06 18:00,dosed,ammonia,2,mg/L as N",), both_read("2026-03-06 18:00")), "unknown"),  # too soon after it
    ((("2026-03-06 18:00,dosed,ammonia,2,mg/L as N",), both_read("2026-03-07 18:00")), "yes"),
], ids=str)
def test_what_was_read_since_a_dose_of_the_same_hour(rows: tuple[tuple[str, ...], ...], answer: str) -> None:
    assert answer_to({"reading": {"name": "ammonia", "clear": True, "since": "dosed:ammonia"}}, DOSE, *rows[0], *rows[1], on="2026-03-07") == answer


def test_a_test_before_the_dose_of_the_same_hour_speaks() -> None:
    assert answer_to({"reading": {"name": "nitrite", "clear": True}}, DOSE, *both_read("2026-03-06 18:00"), "2026-03-06 18:00,dosed,ammonia,2,mg/L as N", on="2026-03-07") == "yes"
