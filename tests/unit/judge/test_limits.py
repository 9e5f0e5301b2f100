"""At the limit itself: the last second that still counts, and the first that does not.

Worked out by hand from the contract of the plan (a reading is fresh up to and with its hours; a limit in hours holds for
every instant of the days written); common practice, no source."""

from __future__ import annotations

from typing import Any

import pytest

from planner.judge.conditions import judge_condition
from planner.judge.facts import view_at
from planner.judge.holds import only_untested
from planner.judge.scene import Scene
from planner.rulebook.nodes import Condition
from planner.terms.records import Answer, Hold, Trace
from planner.terms.traces import Asked, BeforeChange, Disagree, Gap, Joined, NoReading, NothingSince, NoTime, NotTicked, Outside, Repetitions, Stale, TooSoon
from tests.engine_desk import answer_to, book_with, facts_of, journal_of, trace_of

Y, N, U = Answer.YES, Answer.NO, Answer.UNKNOWN


def answer_after(node: dict[str, Any], hours: float, row: str, **numbers: tuple[float, str]) -> Answer:
    """The answer so many hours after the instant of the only row, seen on a later day."""
    facts = facts_of(row, on="2026-03-20")
    instant = facts.journal.rows[0].latest + hours * 3600
    here = view_at(facts, (facts.on, float("inf")), instant)
    return judge_condition(Condition.model_validate(node), Scene(here, book_with(**numbers), {})).answer


@pytest.mark.parametrize(("hours", "answer"), [(48.0, Y), (48 + 1 / 3600, U)])
def test_a_reading_counts_up_to_and_with_its_last_hour(hours: float, answer: Answer) -> None:
    node = {"reading": {"name": "nitrate", "at_most": "most", "fresh": "counts"}}
    assert answer_after(node, hours, "2026-03-10 18:00,reading,nitrate,2,mg/L as N", most=(2, "mg/L as N"), counts=(48, "h")) == answer


@pytest.mark.parametrize(("hours", "answer"), [(48.0, Y), (48 + 1 / 3600, N)])
@pytest.mark.parametrize(("node", "row"), [
    ({"event": {"what": "leak", "within": "lately"}}, "2026-03-10 18:00,event,leak"),
    ({"done": {"task": "site/level", "within": "lately"}}, "2026-03-10 18:00,done,site/level"),
    ({"fact": {"kind": "dosed", "what": "ammonia", "within": "lately"}}, "2026-03-10 18:00,dosed,ammonia,2,mg/L as N"),
])
def test_within_ends_with_its_last_second(node: dict[str, Any], row: str, hours: float, answer: Answer) -> None:
    assert answer_after(node, hours, row, lately=(48, "h")) == answer


@pytest.mark.parametrize(("hours", "answer"), [(48 - 1 / 3600, N), (48.0, Y)])
def test_an_age_is_reached_with_its_first_second(hours: float, answer: Answer) -> None:
    assert answer_after({"age": {"of": "site/level", "at_least": "old"}}, hours, "2026-03-10 18:00,done,site/level", old=(48, "h")) == answer


@pytest.mark.parametrize(("hours", "answer"), [(24.0, U), (47.9, U), (48.0, Y)])
def test_an_age_from_a_bare_date_asks_for_the_time_on_the_day_between(hours: float, answer: Answer) -> None:
    """The day may have begun or ended with the tick: from its first moment 48 h are over a day before they are from its last."""
    assert answer_after({"age": {"of": "site/level", "at_least": "old"}}, hours, "2026-03-10,done,site/level", old=(48, "h")) == answer


PROOF = {"challenge": {"dose": "d", "hours": "h", "times": 1}}
DOSE = "2026-03-10 18:00,dosed,ammonia,2,mg/L as N"


@pytest.mark.parametrize(("dose", "test", "answer"), [
    (DOSE, "2026-03-11 18:00", Y), (DOSE, "2026-03-11 18:01", N), (DOSE, "2026-03-11", U), ("2026-03-10,dosed,ammonia,2,mg/L as N", "2026-03-11 18:00", U),
    ("2026-03-10,dosed,ammonia,2,mg/L as N", "2026-03-12", N),
])
def test_the_proof_holds_for_every_instant_of_its_days(dose: str, test: str, answer: Answer) -> None:
    rows = (dose, *(f"{test},reading,{name},0,mg/L as N" for name in ("ammonia", "nitrite")))
    found = answer_to(PROOF, *rows, on="2026-03-12", book=book_with(d=(2, "mg/L as N"), h=(24, "h")))
    assert (found == Y) == (answer == Y)


def test_two_proofs_of_one_day_count_once() -> None:
    rows = [f"2026-03-10 {hour}:{minute},{what}" for hour, minute, what in (
        ("01", "00", "dosed,ammonia,2,mg/L as N"), ("08", "00", "reading,ammonia,0,mg/L as N"), ("08", "00", "reading,nitrite,0,mg/L as N"),
        ("10", "00", "dosed,ammonia,2,mg/L as N"), ("20", "00", "reading,ammonia,0,mg/L as N"), ("20", "00", "reading,nitrite,0,mg/L as N"))]
    trace = trace_of({"challenge": {"dose": "d", "hours": "h", "times": 2}}, *rows, on="2026-03-10", book=book_with(d=(2, "mg/L as N"), h=(24, "h")))
    assert trace.gap == Repetitions(1, 2)


CAUSE = journal_of("2026-03-10 18:00,dosed,ammonia,2,mg/L as N").rows[0]


@pytest.mark.parametrize(("gap", "untested"), [
    (NoReading(), True), (NothingSince("site/level"), True), (NotTicked(), True), (Stale(24), True), (BeforeChange(CAUSE.day), True),
    (Disagree(), False), (Outside(), False), (NoTime(), False), (TooSoon(1, CAUSE), False), (Repetitions(1, 2), False),
])
def test_a_hold_for_a_missing_or_old_test_alone_is_told_from_one_for_a_doubt(gap: Gap, untested: bool) -> None:
    part = Trace(Asked(), U, gap=gap)
    assert only_untested(Hold("animals", CAUSE.day, "Untested.", (), Trace(Joined(how="not"), U, parts=(part,), gap=gap))) == untested


def test_a_hold_whose_answer_is_known_is_never_merely_untested() -> None:
    assert not only_untested(Hold("animals", CAUSE.day, "Bad.", (), Trace(Asked(), Y, gap=NoReading())))
