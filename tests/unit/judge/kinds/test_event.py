"""An event counts from what it is asked since, for as long as it is asked within, until what ends it."""

from __future__ import annotations

import pytest

from planner.terms.records import Answer
from tests.engine_desk import answer_to, book_with

LEAK = "2026-03-05 12:00,event,leak"
ON = "2026-03-10"
BOOK = book_with(three=(3, "d"), week=(7, "d"))


@pytest.mark.parametrize(("more", "rows", "answer"), [
    ({}, (), Answer.NO), ({}, (LEAK,), Answer.YES),
    # since a tick: what lies before it, or at its very instant, is over
    ({"since": "site/level"}, (LEAK,), Answer.YES),
    ({"since": "site/level"}, (LEAK, "2026-03-05 11:00,done,site/level"), Answer.YES),
    ({"since": "site/level"}, (LEAK, "2026-03-05 12:00,done,site/level"), Answer.NO),
    ({"since": "site/level"}, (LEAK, "2026-03-05 13:00,done,site/level"), Answer.NO),
    # within a time, counted to the end of the day of the plan
    ({"within": "week"}, (LEAK,), Answer.YES), ({"within": "three"}, (LEAK,), Answer.NO),
    # ended by a tick: at one exact instant it is over, on one bare date nobody can tell
    ({"ended_by": "site/level"}, (LEAK,), Answer.YES),
    ({"ended_by": "site/level"}, (LEAK, "2026-03-05 11:00,done,site/level"), Answer.YES),
    ({"ended_by": "site/level"}, (LEAK, "2026-03-05 12:00,done,site/level"), Answer.NO),
    ({"ended_by": "site/level"}, ("2026-03-05,event,leak", "2026-03-05,done,site/level"), Answer.YES),
    # of one water
    ({"where": "mixing"}, (LEAK,), Answer.NO), ({"where": "mixing"}, (f"{LEAK},,,mixing",), Answer.YES),
])
def test_an_event_counts_while_it_is_asked_for(more: dict[str, str], rows: tuple[str, ...], answer: Answer) -> None:
    assert answer_to({"event": {"what": "leak", **more}}, *rows, on=ON, book=BOOK) == answer


def test_a_failed_check_is_asked_for_by_the_task_in_its_note() -> None:
    failed = "2026-03-05,event,failed,,,display,leak-test/watch#2 a drip"
    assert answer_to({"event": {"what": "failed", "task": "leak-test/watch"}}, failed, on=ON) == Answer.YES
    assert answer_to({"event": {"what": "failed", "task": "leak-test/dry"}}, failed, on=ON) == Answer.NO
