"""What a shop may make of a rule of ours, on both sides of each limit. Contract of this project; no outside figures."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from planner.judge.figures import RESTS_ON
from planner.rulebook.house import allowed
from planner.rulebook.provenance import Number
from planner.rulebook.shapes import HoldRule, Rulebook
from planner.rulebook.strictness import doses
from planner.rulebook.task_rule import TaskRule
from planner.terms.units import Refusal
from tests.rulecases import rulebook
from tests.unit.rulebook.test_forms_at_their_limits import LEAK, TASK

# --- what a house may do to ours


def shipped() -> Rulebook:
    return replace(rulebook(), figures=RESTS_ON)


def code(found: Refusal | None) -> str:
    return found.code if found is not None else ""


KINDS: dict[str, str] = {
    "free": next(k for k, t in rulebook().tasks.items() if not t.protects and t.role == "step" and t.wait in rulebook().numbers and t.steps and not doses(t) and not any(a.alert == k.partition("/")[0] for a in rulebook().alerts)),
    "kept": next(k for k, t in rulebook().tasks.items() if t.protects and len(t.steps) > 1), "test": next(k for k, t in rulebook().tasks.items() if t.role == "test" and t.every in rulebook().numbers and t.reads and not doses(t)),
}


@pytest.mark.parametrize(
    ("kind", "field", "make", "found"),
    [("free", "title", lambda _: "Other words", ""), ("free", "title", lambda _: " ", "house-removes"), ("kept", "title", lambda _: "Other words", "house-removes"), ("kept", "title", lambda t: f"{t.title} at once", ""), ("free", "steps", lambda _: ("Other.",), ""), ("kept", "steps", lambda t: t.steps[1:], "house-removes"), ("kept", "steps", lambda t: t.steps[::-1], "house-removes"), ("kept", "steps", lambda t: (*t.steps, "More."), ""), ("kept", "steps", lambda t: ("First.", *t.steps), ""), ("kept", "steps", lambda _: None, "house-removes"),
     ("test", "reads", lambda t: (*t.reads, "ph"), ""), ("test", "reads", lambda t: t.reads[1:], "house-removes"), ("test", "reads", lambda _: None, "house-removes"), ("kept", "minutes", lambda _: 1, ""), ("kept", "protects", lambda _: False, "house-removes"), ("kept", "protects", lambda _: True, ""), ("free", "calendar", lambda _: False, "house-removes"), ("free", "role", lambda _: "step", "house-fixed"), ("free", "wait", lambda t: t.wait, ""), ("free", "wait", lambda _: None, "house-loosens"), ("test", "wait", lambda t: t.wait, "house-fixed"), ("test", "every", lambda t: t.every, ""), ("test", "every", lambda _: None, "house-loosens"), ("free", "every", lambda _: "mix_wait", "house-fixed")],
)
def test_a_task_of_ours_is_added_to_and_never_loosened(kind: str, field: str, make: Any, found: str) -> None:
    key = KINDS[kind]
    assert code(allowed.house_task(key, field, make(rulebook().tasks[key]), shipped())) == found


def test_a_wait_may_be_longer_and_a_round_shorter_by_any_hour() -> None:
    book = shipped()
    wait, every = book.tasks[KINDS["free"]].wait, book.tasks[KINDS["test"]].every
    assert wait is not None and every is not None
    numbers = {name: Number(value=hours, unit="h", grade="practice") for name, hours in (("longer", book.hours(wait) + 1), ("shorter", book.hours(wait) - 1), ("rarer", book.hours(every) + 1), ("oftener", book.hours(every) - 1))}
    book = replace(book, numbers=book.numbers | numbers)
    assert [code(allowed.house_task(KINDS["free"], "wait", name, book)) for name in ("longer", "shorter", "no_such")] == ["", "house-loosens", "house-loosens"]
    assert [code(allowed.house_task(KINDS["test"], "every", name, book)) for name in ("oftener", "rarer", "no_such")] == ["", "house-loosens", "house-loosens"]


@pytest.mark.parametrize(
    ("keys", "found"),
    [({}, ""), ({"role": "animals"}, "house-loosens"), ({"writes": {"kind": "event", "what": "mine"}}, ""), ({"writes": {"kind": "dosed", "what": "mine"}}, "house-loosens"), ({"writes": {"kind": "event", "what": "leak"}}, "house-loosens"), ({"writes": {"kind": "event", "what": "mine", "amount": "x"}}, "house-loosens"), ({"known_as": "soak"}, "house-fixed"), ({"guards": ({"groups": ("fish",), "task": "a/b"},)}, "house-fixed"), ({"where": "kitchen"}, "unknown-water"), ({"where": "mixing"}, ""),
     ({"counts": "fed"}, "not-usable"), ({"counts": "event:fed"}, ""), ({"when": {"reading": {"name": "ph", "where": "kitchen", "above": "x"}}}, "unknown-water"), ({"when": {"reading": {"name": "ph", "above": "x"}}}, ""), ({"wait": "circulation"}, "unit-unknown"), ({"wait": "mix_wait"}, ""), ({"per_stage": "fish"}, "house-fixed")],
)
def test_a_task_of_the_shops_own_does_nothing_that_ours_rest_on(keys: dict[str, Any], found: str) -> None:
    assert code(allowed.new_task("shop/a", TaskRule.model_validate(TASK | keys), shipped(), allowed.watched_facts(shipped()))) == found


@pytest.mark.parametrize(("kind", "name", "fits"), [("number", "a_b1", True), ("number", "a-b", False), ("number", "A", False), ("number", "1a", False), ("number", "", False), ("alert", "a-b_1", True), ("task", "_a", False), ("phase", "a b", False)])
def test_a_name_is_small_letters_and_digits(kind: str, name: str, fits: bool) -> None:
    assert (allowed.bad_name(kind, name) is None) is fits


@pytest.mark.parametrize(("value", "unit", "found"), [(0, "h", ""), (-0.1, "h", "house-out-of-range"), (-1, "C", ""), (730, "d", ""), (730.1, "d", "house-out-of-range"), (1, "months", ""), (0, "months", "house-out-of-range"), (1.5, "months", "house-out-of-range"), (23, "months", ""), (25, "months", "house-out-of-range"), (104, "wk", ""), (105, "wk", "house-out-of-range")])
def test_a_number_of_the_shops_own_is_possible(value: float, unit: str, found: str) -> None:
    assert code(allowed.new_number("mine", Number(value=value, unit=unit, grade="practice"), shipped())) == found
    assert code(allowed.new_number("circulation", Number(value=1, grade="practice"), shipped())) == "house-name-taken"


def test_a_number_of_ours_goes_to_its_limits_and_no_further() -> None:
    book = shipped()
    for name in ("mix_wait", "mix_apart", "alarm_nitrite", "chlorine_most"):
        low, high = allowed.number_limits(name, book)
        for bound, beyond in ((low, -1), (high, 1)):
            if bound is not None:
                assert code(allowed.house_number(name, bound, book)) == "", (name, bound)
                assert code(allowed.house_number(name, bound + beyond * max(abs(bound), 1) / 1000, book)) != "", (name, bound)


@pytest.mark.parametrize(("field", "value", "found"), [("title", "Water", ""), ("title", " ", "house-removes"), ("intro", "", "house-removes"), ("after", None, "house-fixed"), ("order", 3, "house-fixed")])
def test_a_phase_of_ours_keeps_its_place(field: str, value: Any, found: str) -> None:
    first = next(p for p in rulebook().phases if p.after)
    assert code(allowed.house_phase(first.phase, field, value, shipped())) == found
    assert code(allowed.house_phase(first.phase, "after", (*first.after, "more"), shipped())) == "" and code(allowed.house_phase(first.phase, "after", ("more",), shipped())) == "house-loosens"


@pytest.mark.parametrize(("field", "value", "found"), [("title", "Done", ""), ("title", "", "house-removes"), ("opens_when", LEAK, "house-loosens"), ("expect", {}, "house-fixed")])
def test_a_gate_of_ours_is_not_replaced(field: str, value: Any, found: str) -> None:
    plain = next(p.phase for p in rulebook().phases if p.role != "opens_to_animals")
    assert code(allowed.house_gate(plain, field, value, shipped())) == found
    animals = rulebook().phase_as("opens_to_animals")
    assert code(allowed.house_gate(animals, "title", "Done", shipped())) == "house-removes" and code(allowed.house_gate(animals, "title", f"{rulebook().phase(animals).gate.title}, at last", shipped())) == ""


def test_an_alarm_and_a_caution_of_ours_are_only_made_louder() -> None:
    book = shipped()
    one = next(a for a in book.alerts if a.holds)

    def found(field: str, value: Any) -> str:
        return code(allowed.house_alert(one.alert, field, value, book))

    assert (found("title", f"{one.title}!"), found("title", "Nothing"), found("holds", (*one.holds, "care")), found("holds", ()), found("unknown_holds", True), found("unknown_holds", False), found("when", LEAK), found("rank", "rest")) == ("", "house-removes", "", "house-loosens", "", "house-loosens", "house-loosens", "house-fixed")
    key, caution = next(iter(book.cautions.items()))
    assert (code(allowed.house_caution(key, "text", f"{caution.text} And more.", book)), code(allowed.house_caution(key, "text", "Less.", book)), code(allowed.house_caution(key, "text", None, book)), code(allowed.house_caution(key, "weight", "note", book))) == ("", "house-removes", "house-removes", "house-fixed")


@pytest.mark.parametrize(("role", "found"), [("test", ""), ("remedy", ""), ("care", ""), ("step", "house-loosens"), ("animals", "house-loosens"), ("shopping", "house-loosens")])
def test_behind_a_hold_of_the_shops_own_go_tests_and_remedies_alone(role: str, found: str) -> None:
    key = next(k for k, t in rulebook().tasks.items() if t.role == role)
    assert code(allowed.house_hold(HoldRule.model_validate({"when": LEAK, "because": "x", "instead": (key,)}), shipped())) == found
    assert code(allowed.house_hold(HoldRule.model_validate({"when": LEAK, "because": "x", "instead": ("no/such",)}), shipped())) == ""
    assert code(allowed.house_hold(HoldRule.model_validate({"when": {"reading": {"name": "ph", "where": "kitchen", "above": "x"}}, "because": "x"}), shipped())) == "unknown-water"


@pytest.mark.parametrize(("reading", "unit", "fits"), [("ammonia", "mg/L as N", True), ("ammonia", "mg/L", True), ("ammonia", "dKH", False), ("ph", "", True), ("ph", "h", False), ("temperature", "K", True), ("temperature", "°F", False), ("salinity", "ppt", True)])
def test_a_threshold_has_a_unit_of_its_reading(reading: str, unit: str, fits: bool) -> None:
    assert allowed.is_measure_of(reading, unit) is fits
