"""A slice of the nightly inputs, and a keeper who types anything; and the watch itself is watched."""

from __future__ import annotations

import time

import pytest
from hypothesis import HealthCheck, settings
from hypothesis.stateful import run_state_machine_as_test

from planner.terms.problems import Place, Problem
from tests.fuzz import faces
from tests.fuzz.__main__ import input_of, run
from tests.fuzz.faces import what_breaks
from tests.fuzz.inputs import Input
from tests.fuzz.machine import Keeper


@pytest.mark.slow
@pytest.mark.long
def test_two_thousand_inputs_break_nothing() -> None:
    broken, tried = run(2000, patience=4)
    assert broken == {}
    assert sum(tried.values()) == 2000
    assert len(tried) >= 9


@pytest.mark.slow
def test_a_keeper_may_type_anything_in_any_order() -> None:
    run_state_machine_as_test(Keeper, settings=settings(max_examples=8, stateful_step_count=8, deadline=None, suppress_health_check=list(HealthCheck)))


def test_fifty_inputs_break_nothing() -> None:
    broken, _ = run(50, seed=100_000, patience=10)
    assert broken == {}


def test_a_seed_makes_its_input_again() -> None:
    assert input_of(4711) == input_of(4711)
    assert len({input_of(n)[0].data for n in range(20)}) == 20


def test_what_breaks_is_noticed(monkeypatch: pytest.MonkeyPatch) -> None:
    given = Input("shop", b"name: x\n")
    assert what_breaks(given, False) == ""
    monkeypatch.setattr(faces, "read", lambda *_: 1 / 0)
    assert "ZeroDivisionError" in what_breaks(given, False)
    monkeypatch.setattr(faces, "read", lambda *_: (Problem(Place("shop.yaml"), "not-a-number", "x", "y"),))
    assert "without its place" in what_breaks(given, False)
    monkeypatch.setattr(faces, "read", lambda *_: time.sleep(3) or ())
    assert "longer than" in what_breaks(given, False, patience=0.02)
