"""Which way a number protects, told from its uses: truth tables on small books, and the shipped rules against what their
authors declared."""

from __future__ import annotations

from typing import Any

import pytest

from planner.rulebook.names import condition_names
from planner.rulebook.shapes import Rulebook
from planner.rulebook.strictness import HIGHER, LOWER, UNCLEAR, deciding_way, number_uses, strict_way
from tests.engine_desk import small_book
from tests.rulecases import rulebook

X = {"x": (1.0, "h")}


def used(condition: str, place: str = "opens_when", extra: str = "") -> Rulebook:
    """A book in which the number x stands in one condition of a gate."""
    where = {"opens_when": f"opens_when: {condition}", "lapses_when": f"opens_when: {{event: a}}, lapses_when: {condition}",
             "holds": f"opens_when: {{event: a}}, holds: [{{when: {condition}, because: b{extra}}}]"}[place]
    return small_book(f"- {{phase: p, gate: {{{where}}}}}", **X)


@pytest.mark.parametrize(("leaf", "harder"), [
    ("{reading: {name: ph, at_least: x}}", HIGHER), ("{reading: {name: ph, above: x}}", HIGHER), ("{reading: {name: ph, at_most: x}}", LOWER), ("{reading: {name: ph, below: x}}", LOWER),
    ("{reading: {name: ph, times: 2, apart: x}}", HIGHER), ("{done: {task: p/a, within: x}}", LOWER), ("{done: {task: p/a, after: p/b, apart: x}}", HIGHER), ("{event: {what: a, within: x}}", LOWER),
    ("{fact: {kind: lost, within: x}}", LOWER), ("{fact: {kind: lost, total_at_least: x}}", HIGHER), ("{challenge: {dose: x, hours: challenge_hours}}", HIGHER),
    ("{challenge: {dose: challenge_full, hours: x}}", LOWER), ("{tank: {key: water.salinity, at_least: x}}", HIGHER), ("{tank: {key: water.salinity, at_most: x}}", LOWER), ("{age: {of: p/a, at_least: x}}", HIGHER),
])
def test_a_gate_is_stricter_where_its_condition_is_harder_and_a_lapse_a_hold_or_a_not_turns_it(leaf: str, harder: str) -> None:
    other = {HIGHER: LOWER, LOWER: HIGHER}[harder]
    assert strict_way("x", used(leaf)) == harder
    assert strict_way("x", used(f"{{all: [{{event: b}}, {{any: [{leaf}, {{event: c}}]}}]}}")) == harder
    assert strict_way("x", used(f"{{not: {leaf}}}")) == other
    assert strict_way("x", used(f"{{not: {{not: {leaf}}}}}")) == harder
    assert strict_way("x", used(leaf, "lapses_when")) == other
    assert strict_way("x", used(leaf, "holds")) == other
    assert strict_way("x", used(f"{{not: {leaf}}}", "holds")) == harder


@pytest.mark.parametrize(("place", "extra", "way"), [("opens_when", "", LOWER), ("holds", ", unknown_holds: yes", LOWER), ("holds", "", UNCLEAR), ("lapses_when", "", UNCLEAR)])
def test_a_shorter_freshness_is_stricter_only_where_unknown_is_the_strict_answer(place: str, extra: str, way: str) -> None:
    for condition in ("{reading: {name: ph, clear: yes, fresh: x}}", "{not: {reading: {name: ph, clear: yes, fresh: x}}}"):
        assert strict_way("x", used(condition, place, extra)) == way


def tasked(keys: str, alerts: str = "[]") -> Rulebook:
    return small_book(f"- {{phase: p, tasks: [{{id: a, {keys}}}]}}", alerts, **X)


@pytest.mark.parametrize(("keys", "way"), [
    ("role: step, wait: x", HIGHER), ("role: animals, wait: x", HIGHER), ("role: test, wait: x", LOWER), ("role: remedy, wait: x", LOWER), ("role: shopping, wait: x", UNCLEAR),
    ("role: test, every: x", LOWER), ("role: care, every: x", LOWER), ("role: step, every: x", UNCLEAR), ("role: care, every: x, writes: {kind: dosed, what: ammonia}", UNCLEAR),
    ("role: remedy, when: {age: {of: p, at_least: x}}", LOWER), ("role: animals, when: {age: {of: p, at_least: x}}", HIGHER), ("role: step, when: {age: {of: p, at_least: x}}", UNCLEAR),
    ("role: test, unless: {age: {of: p, at_least: x}}", HIGHER), ("role: test, only_when: {tank: {key: water.salinity, at_least: x}}", UNCLEAR), ("role: step, steps: ['{x}']", UNCLEAR),
])
def test_a_task_is_stricter_where_it_helps_sooner_or_harms_later(keys: str, way: str) -> None:
    assert strict_way("x", tasked(keys)) == way


def test_a_test_that_waits_beside_an_animal_comes_along_with_it() -> None:
    tasks = "[{id: a, role: animals, anchor: {phase: p}, wait: x}, {id: b, role: test, anchor: {phase: p}, wait: x}]"
    assert strict_way("x", small_book(f"- {{phase: p, tasks: {tasks}}}", **X)) == HIGHER
    assert strict_way("x", small_book(f"- {{phase: p, tasks: {tasks.replace('test, anchor: {phase: p}', 'test, anchor: {start: yes}')}}}", **X)) == UNCLEAR


def test_uses_that_point_both_ways_are_unclear() -> None:
    book = small_book("- {phase: p, tasks: [{id: a, role: animals, wait: x}, {id: b, role: test, anchor: {start: yes}, wait: x}]}", **X)
    assert strict_way("x", book) == UNCLEAR
    assert deciding_way("x", book) == HIGHER


def declared(book: Rulebook, way: Any) -> Rulebook:
    book.numbers["x"] = book.numbers["x"].model_copy(update={"protects": way})
    return book


def test_what_the_author_declares_holds_unless_a_gate_would_be_loosened() -> None:
    assert strict_way("x", declared(tasked("role: step, steps: ['{x}']"), LOWER)) == LOWER
    assert strict_way("x", declared(tasked("role: test, wait: x"), HIGHER)) == HIGHER
    assert strict_way("x", declared(used("{reading: {name: ph, at_least: x}}"), LOWER)) == UNCLEAR


def test_a_number_between_two_rungs_of_alerts_may_move_as_declared() -> None:
    rungs = ("[{alert: a, title: a, say: a, when: {reading: {name: ph, below: x, any_age: yes}}}, {alert: b, title: b, say: b, when: {reading: {name: ph, at_least: x, any_age: yes}}}]")
    assert strict_way("x", declared(tasked("role: step", rungs), LOWER)) == LOWER
    assert strict_way("x", tasked("role: step", rungs)) == UNCLEAR


def test_every_number_that_a_condition_names_is_looked_at() -> None:
    """A condition that is new to the rules must say here, too, which value of its numbers makes it harder."""
    book = rulebook()
    known = {(u.at, u.name) for u in number_uses(book)}
    for at, condition in ((p.phase, c) for p in book.phases for c in (p.gate.opens_when, p.gate.lapses_when, *(h.when for h in p.gate.holds), *(s.when for s in p.gate.stuck)) if c):
        assert {(at, u.name) for u in condition_names(condition, at) if u.kind == "number"} <= known
    for key, task in book.tasks.items():
        for condition in (task.when, task.unless, task.only_when):
            assert condition is None or {(key, u.name) for u in condition_names(condition, key) if u.kind == "number"} <= known


def test_the_declared_ways_of_the_shipped_numbers_agree_with_their_uses_but_for_these() -> None:
    """How long a reading counts and how far apart two must lie work both ways: in an alert and a hold without
    `unknown_holds` an older reading or a nearer pair still warns. `idle_days` also ends a hold, and keeps to its range."""
    book, uses = rulebook(), tuple(number_uses(rulebook()))
    odd = {name for name, number in book.numbers.items() if number.protects and strict_way(name, book, uses) != number.protects}
    assert odd == {"fresh_ammonia", "fresh_salinity", "fresh_temperature", "spacing", "idle_days"}
    assert book.numbers["idle_days"].range is not None and all(book.numbers[name].range is None for name in odd - {"idle_days"})


def test_every_number_of_a_gate_a_hold_or_an_alert_has_a_way_or_a_range() -> None:
    book, uses = rulebook(), tuple(number_uses(rulebook()))
    guarding = {u.name for u in uses if u.guards}
    neither = {name for name in guarding if book.numbers[name].range is None and strict_way(name, book, uses) == UNCLEAR}
    # At once: an age of nothing, with which conditions ask whether something has happened at all. 35 ppt is a reference and no limit.
    assert {name for name in neither if book.numbers[name].value != 0} <= {"fresh_ammonia", "fresh_salinity", "fresh_temperature", "spacing", "challenge_open", "after_add_week", "leach_longest", "standard_salinity"}
