"""A job is late once a whole day has passed on which it could have been done (common sense, no source)."""

from __future__ import annotations

from datetime import date

import pytest

from planner.terms.records import State, Task
from tests.engine_desk import open_task, plan_with, small_book
from tests.rulecases import rulebook

FISH = "2026-03-02,added,amphiprion-ocellaris,1,,display,"
TASKS = """
- phase: one
  tasks:
    - {id: first, role: step, anchor: {start: yes}}
    - {id: after, role: step, anchor: {task: one/first}}
    - {id: far, role: step, anchor: {task: one/first}, wait: two_days}
    - {id: asked, role: step, when: {reading: {name: nitrate, above: high, any_age: yes}}}
    - {id: excused, role: step, anchor: {start: yes}, unless: {not: {event: free}}}
  gate: {opens_when: {event: open}}
- phase: two
  after: [one]
  tasks:
    - {id: begins, role: step, anchor: {phase: two}}
"""
BOOK = small_book(TASKS, two_days=(2, "d"), high=(20, "mg/L as NO3"))


def job(key: str, *rows: str, on: str, real: bool = False) -> Task:
    return open_task(plan_with(rulebook() if real else BOOK, *rows, on=on), key)


@pytest.mark.parametrize(("key", "row"), [
    ("one/after", "2026-03-05 19:00,done,one/first,,,display,"),
    ("one/asked", "2026-03-05 19:00,reading,nitrate,40,mg/L,display,"),
    ("two/begins", "2026-03-05 19:00,event,open,,,display,"),
], ids=["a tick", "a test", "an open gate"])
def test_what_an_evening_called_is_late_only_after_the_next_day(key: str, row: str) -> None:
    assert job(key, row, on="2026-03-06").state == State.DUE
    late = job(key, row, on="2026-03-07")
    assert (late.state, late.days_late(date(2026, 3, 7))) == (State.LATE, 1)


def test_what_is_dated_ahead_is_late_on_the_morning_after_its_day() -> None:
    rows = ("2026-03-05 19:00,done,one/first,,,display,",)
    assert job("one/far", *rows, on="2026-03-07").state == State.DUE
    assert job("one/far", *rows, on="2026-03-08").state == State.LATE
    assert job("one/first", on="2026-03-03").state == State.LATE


def test_what_was_excused_until_last_evening_is_not_late() -> None:
    row = "2026-03-09 19:00,event,free,,,display,"
    assert job("one/excused", row, on="2026-03-10").state == State.DUE
    late = job("one/excused", row, on="2026-03-12")
    assert late.state == State.LATE and late.days_late(date(2026, 3, 12)) == 2


def test_a_remedy_of_last_evenings_test_is_not_late_in_the_morning() -> None:
    rows = (FISH, "2026-03-05 20:05,reading,ammonia,0.5,mg/L as N,display,")
    assert job("ammonia-two/change", *rows, on="2026-03-06", real=True).state == State.DUE
    assert job("ammonia-two/change", *rows, on="2026-03-07", real=True).state == State.LATE
