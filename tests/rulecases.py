"""The shipped cases and the shipped book, each read once for all tests."""

from __future__ import annotations

from functools import cache

from planner.judge.figures import RESTS_ON
from planner.plan.rule_cases import BASE, Case, cases_below, failures, gate_word, set_path
from planner.rulebook.read import load_rules, shipped
from planner.rulebook.shapes import Rulebook

RULES = shipped("rules")


@cache
def rulebook() -> Rulebook:
    book, problems = load_rules(RULES, figures=RESTS_ON)
    assert not problems, "\n".join(map(str, problems))
    return book


@cache
def all_cases() -> tuple[Case, ...]:
    cases, problems = cases_below(RULES, "rules")
    assert not problems, "\n".join(map(str, problems))
    return cases


__all__ = ["BASE", "RULES", "Case", "all_cases", "failures", "gate_word", "rulebook", "set_path"]
