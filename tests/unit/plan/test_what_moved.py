"""The difference of two plans."""

from __future__ import annotations

from planner.plan.what_moved import what_moved
from tests.engine_desk import plan_with, small_book

TWO = """
- phase: site
  tasks: [{id: buy, anchor: {phase: site}}, {id: fill, anchor: {task: site/buy}, wait: two}]
  gate: {opens_when: {done: site/fill}}
- phase: water
  after: [site]
  tasks: [{id: mix, anchor: {phase: water}}]
"""


def test_what_moved_names_each_date_that_changed_and_the_reason() -> None:
    book = small_book(TWO, two=(2, "d"))
    before, after = plan_with(book, on="2026-03-05"), plan_with(book, "2026-03-03,done,site/buy", on="2026-03-05")
    moved = what_moved(before, after, "ticked")
    assert {m.id: (str(m.before), str(m.after), m.days) for m in moved} == {
        "site/fill": ("2026-03-07", "2026-03-05", -2), "gate/site": ("2026-03-07", "2026-03-05", -2),
        "gate/water": ("2026-03-07", "2026-03-05", -2), "water/mix": ("2026-03-07", "2026-03-05", -2)}
    assert {m.because for m in moved} == {"ticked"}
    assert [m.after for m in moved] == sorted(m.after for m in moved if m.after)


def test_what_moved_is_empty_between_equal_plans_and_turns_round() -> None:
    book = small_book(TWO, two=(2, "d"))
    before, after = plan_with(book, on="2026-03-05"), plan_with(book, "2026-03-03,done,site/buy", on="2026-03-05")
    assert what_moved(after, after, "") == ()
    back = {m.id: (m.before, m.after) for m in what_moved(after, before, "")}
    there = {m.id: (m.after, m.before) for m in what_moved(before, after, "")}
    assert there.items() <= back.items()


def test_a_note_that_concerns_nothing_moves_nothing() -> None:
    book = small_book(TWO, two=(2, "d"))
    assert what_moved(plan_with(book, on="2026-03-05"), plan_with(book, "2026-03-04,event,smell", on="2026-03-05"), "") == ()
