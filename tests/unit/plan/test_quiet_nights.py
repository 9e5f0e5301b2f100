"""A night on which nothing was written and nothing was due moves no date."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

import pytest

from planner.plan.make import make_plan
from planner.rulebook.shapes import Rulebook
from planner.terms.records import Plan
from tests.engine_desk import journal_of, plan_with, small_book, tank_with
from tests.rulecases import rulebook


def likely(plan: Plan, phase: str) -> str:
    found = plan.phase(phase)
    assert found is not None
    return str(found.window.likely)


TANK = tank_with(keeper__shopping_days=["saturday"], already__scape="2025-11-20", **{"already__big-change": "2026-03-01"})
"""Shops are open on Saturdays alone. 2026-03-07 is one."""
OPENED = tuple(f"2026-03-03 10:00,reading,{what},{value},{unit}" for what, value, unit in (
    ("ammonia", 0, "mg/L"), ("nitrite", 0, "mg/L"), ("nitrate", 10, "mg/L"), ("ph", 8.1, "pH"), ("alkalinity", 8, "dKH"), ("salinity", 35, "ppt"), ("temperature", 25.5, "C")))


def crew_on(*rows: str, days: Iterable[int]) -> list[str]:
    """The likely day of the crew's gate on these days of March, each by the rows up to it."""
    return [likely(make_plan(TANK, journal_of(*(r for r in (*OPENED, *rows) if r[:10] <= f"2026-03-{day:02d}"), tank=TANK), rulebook(), date(2026, 3, day)), "crew") for day in days]


def test_the_week_after_the_snails_counts_from_their_day_and_not_from_the_next_shopping_day() -> None:
    snails = ("2026-03-05 18:00,event,algae_seen", "2026-03-07 15:00,done,crew/first-half", "2026-03-07 15:00,added,trochus-maculatus,3")
    assert crew_on(*snails, days=(7, 8, 10, 13)) == ["2026-03-14"] * 4


def test_film_is_expected_on_the_day_of_a_look_so_that_no_shopping_day_goes_by_without_it() -> None:
    """Film is expected ten days after the 3rd, and seen by the look of the 15th: after the Saturday of that week. Snails a week later, and their week."""
    looks = tuple(f"2026-03-{day:02d} 18:00,done,crew/look-for-film#{n}" for n, day in enumerate((3, 6, 9, 12), 1))
    assert crew_on(*looks, days=range(3, 18)) == ["2026-03-28"] * 15


def test_only_a_look_without_film_puts_its_day_off() -> None:
    """The look of the 21st is on a Saturday. The next one is past the four weeks after which nothing waits for film, which end on the 31st."""
    looks = tuple(f"2026-03-{day:02d} 18:00,done,crew/look-for-film#{n}" for n, day in enumerate((3, 6, 9, 12, 15, 18, 21), 1))
    assert crew_on(*looks, days=(18, 19, 20, 21, 22)) == ["2026-03-28"] * 3 + ["2026-03-31"] * 2


def test_film_that_was_seen_leaves_no_way_without_snails() -> None:
    """Without film the gate opens on the 31st, four weeks after the 3rd. On the 19th a test is good, and the snails of the 21st need their week from the Saturday after the
    keeper is back."""
    tank = tank_with(keeper__shopping_days=["saturday"], keeper__away=[{"from": "2026-03-21", "to": "2026-03-27"}], already__scape="2025-11-20", **{"already__big-change": "2026-03-01"})
    tested = tuple(f"2026-03-19 18:00,reading,{name},0,mg/L" for name in ("ammonia", "nitrite"))
    plan = make_plan(tank, journal_of(*OPENED, "2026-03-05 18:00,event,algae_seen", *tested, tank=tank), rulebook(), date(2026, 3, 19))
    assert likely(plan, "crew") == "2026-04-04"


def book(gate: str, test: str) -> Rulebook:
    return small_book(f"""
- phase: site
  tasks:
    - {{id: put, anchor: {{phase: site}}}}
    - {{id: test, reads: [ammonia], role: test, anchor: {{phase: site}}, {test}}}
  gate: {{opens_when: {gate}}}
""", two=(2, "d"), four=(4, "d"), week=(7, "d"))


@pytest.mark.parametrize("on", ["2026-03-15", "2026-03-16", "2026-03-17"])
def test_an_age_that_ended_between_two_rows_waits_for_the_next_test_on_its_own_evening_too(on: str) -> None:
    """A fortnight after the 2nd ends on the evening of the 16th, after that day's row, when the test of the 15th still
    counts: only the test of the 22nd can open the gate."""
    gate = "{all: [{done: site/put}, {age: {of: site/put, at_least: two_weeks}}, {reading: {name: ammonia, clear: yes, since: site/put}}]}"
    made = small_book(f"""
- phase: site
  tasks:
    - {{id: put, anchor: {{phase: site}}}}
    - {{id: look, anchor: {{phase: site}}, every: two}}
    - {{id: test, reads: [ammonia], role: test, anchor: {{phase: site}}, every: week}}
  gate: {{opens_when: {gate}}}
""", two=(2, "d"), two_weeks=(14, "d"), week=(7, "d"))
    rows = ["2026-03-02 18:06,done,site/put", "2026-03-15 18:03,reading,ammonia,0,mg/L", "2026-03-16 18:03,done,site/look"]
    plan = plan_with(made, *(row for row in rows if row[:10] <= on), on=on, tank=tank_with(start="2026-03-02"))
    assert likely(plan, "site") == "2026-03-22"


@pytest.mark.parametrize("on", ["2026-03-04", "2026-03-05", "2026-03-06"])
def test_a_gate_is_promised_for_no_test_that_the_day_does_not_ask_for(on: str) -> None:
    """The test of the 4th is not asked for until two days after the tick of the 4th."""
    made = book("{reading: {name: ammonia, clear: yes}}", "every: two, unless: {done: {task: site/put, within: two}}")
    rows = ["2026-03-02 18:00,reading,ammonia,2,mg/L", "2026-03-04 18:00,done,site/put"]
    assert likely(plan_with(made, *rows, on=on, tank=tank_with(start="2026-03-02")), "site") == "2026-03-06"
