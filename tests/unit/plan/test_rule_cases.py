"""Cases beside rules: mistakes in them are told with their line, and shipped cases catch a book that protects less."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from planner.plan.rule_cases import BASE, Case, failed_cases, failures, loosened_cases, read_cases, set_path
from planner.rulebook.nodes import Condition
from planner.rulebook.shapes import Rulebook
from planner.terms.problems import Problem
from tests.rulecases import all_cases, rulebook


@pytest.fixture
def read(tmp_path: Path) -> Callable[[str], tuple[tuple[Case, ...], tuple[Problem, ...]]]:
    def written(text: str) -> tuple[tuple[Case, ...], tuple[Problem, ...]]:
        (tmp_path / "a.cases.yaml").write_text(text, encoding="utf-8")
        return read_cases(tmp_path / "a.cases.yaml", "house/a.cases.yaml")

    return written


GOOD = "- case: nothing was done yet\n  on: 2026-03-02\n  expect:\n    gates: {site: shut}\n"


@pytest.mark.parametrize(("text", "code", "line"), [
    ("case: x\n", "not-a-list", 1),
    ("- case: x\n  on: soon\n  expect: {}\n", "not-a-date", 2),
    ("- case: x\n  on: 2026-03-02\n  expect:\n    gate: {site: shut}\n", "unknown-key", 4),
    ("- case: x\n  on: 2026-03-02\n  expect:\n    gates: {site: ajar}\n", "not-a-choice", 4),
    ("- case: x\n  on: 2026-03-02\n  tank: {rock.knd: live}\n  expect: {}\n", "unknown-key", 1),
    ("- case: x\n  on: 2026-03-02\n  journal:\n    - 2026-03-02,reeding,ph,8,,,\n  expect: {}\n", "unknown-kind", 1),
    ("- on: 2026-03-02\n  expect: {}\n", "missing-key", 1),
])
def test_a_case_with_a_mistake_is_told_with_its_line_and_the_others_run(text: str, code: str, line: int, read: Callable[[str], tuple[tuple[Case, ...], tuple[Problem, ...]]]) -> None:
    cases, problems = read(text if text.startswith("case") else text + GOOD)
    assert [(p.code, p.place.line) for p in problems] == [(code, line)]
    assert len(cases) == (0 if text.startswith("case") else 1)


def test_a_case_that_does_not_hold_is_a_problem_at_its_place(read: Callable[[str], tuple[tuple[Case, ...], tuple[Problem, ...]]]) -> None:
    cases, problems = read(GOOD + GOOD.replace("shut", "open"))
    assert problems == ()
    failed = failed_cases(cases, rulebook())
    assert [(p.code, str(p.place)) for p in failed] == [("case-fails", "house/a.cases.yaml:5:3")]
    assert "gate site is shut, not open" in failed[0].message and failed[0].source_line == "- case: nothing was done yet"


def test_a_date_that_a_case_expects_is_compared(read: Callable[[str], tuple[tuple[Case, ...], tuple[Problem, ...]]]) -> None:
    cases, _ = read("- case: x\n  on: 2026-03-02\n  expect:\n    dates: {site/place: 2026-03-03}\n")
    assert failures(cases[0], rulebook()) == ["site/place is on 2026-03-02, not 2026-03-03"]


# --- the net

def about(*words: str) -> list[Case]:
    return [case for case in all_cases() if any(word in case.place.file for word in words)]


def with_number(name: str, value: float) -> Rulebook:
    book = rulebook()
    return replace(book, numbers=book.numbers | {name: book.numbers[name].model_copy(update={"value": value})})


@pytest.mark.parametrize(("name", "value", "where"), [
    ("leak_watch_least", 1, "setup/leak-test"), *(pytest.param(*given, marks=pytest.mark.slow) for given in (
        ("tds_most", 50, "setup/water"), ("stock_gap", 1, "setup/fish"), ("alarm_heat", 40, "alerts/water"), ("healthy_days", 1, "setup/fish"))),
])
def test_a_looser_number_is_caught_by_a_shipped_case(name: str, value: float, where: str) -> None:
    caught = loosened_cases(about(where), rulebook(), with_number(name, value))
    assert caught and {p.code for p in caught} == {"case-loosened"}
    assert all(p.place.file.startswith(f"rules/{where}") and p.place.line for p in caught)


@pytest.mark.parametrize(("name", "value", "where"), [
    ("leak_watch", 96, "setup/leak-test"),
    *(pytest.param(*given, marks=pytest.mark.slow) for given in (("tds_most", 1, "setup/water"), ("stock_gap", 28, "setup/fish"), ("alarm_heat", 28, "alerts/water")))])
def test_a_stricter_number_is_not_taken_for_a_looser_one(name: str, value: float, where: str) -> None:
    book = with_number(name, value)
    assert any(failures(case, book) for case in about(where))
    assert loosened_cases(about(where), rulebook(), book) == ()


def test_a_hold_that_is_gone_is_caught() -> None:
    book = rulebook()
    phases = tuple(p.model_copy(update={"gate": p.gate.model_copy(update={"holds": ()})}) if p.phase == "leak-test" else p for p in book.phases)
    alerts = tuple(a for a in book.alerts if a.alert != "leak")
    assert loosened_cases(about("setup/leak-test", "alerts/emergency"), book, replace(book, phases=phases, alerts=alerts))


def test_an_alert_that_counts_from_a_gate_may_come_later_where_the_gate_does() -> None:
    book = rulebook()
    never = Condition.model_validate({"event": "never"})
    phases = tuple(p.model_copy(update={"gate": p.gate.model_copy(update={"opens_when": Condition(all=(p.gate.opens_when, never))})}) if p.phase == "animals" else p for p in book.phases)
    cases = [case for case in about("alerts/") if any(key.startswith("missed-tests/") for key in (*case.expect.due, *case.expect.present))]
    assert cases and loosened_cases(cases, book, replace(book, phases=phases)) == ()


def test_the_base_tank_is_left_as_it_is_by_a_case() -> None:
    data = {"rock": {"kind": "dry"}}
    set_path(data, "rock.kind", None)
    set_path(data, "room.floor", "solid")
    assert data == {"rock": {}, "room": {"floor": "solid"}} and BASE["rock"]["kind"] == "dry"


def test_an_alert_that_is_gone_is_caught_by_a_case_that_expects_its_task_alone() -> None:
    book = rulebook()
    case = next(c for c in about("alerts/") if any(key.startswith("leak/") for key in c.expect.due))
    alone = replace(case, expect=case.expect.model_copy(update={"gates": {}, "on_hold": (), "absent": (), "not_due": (), "present": ()}))
    assert loosened_cases([alone], book, replace(book, alerts=tuple(a for a in book.alerts if a.alert != "leak")))
