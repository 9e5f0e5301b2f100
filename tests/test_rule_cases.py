"""Every case beside a rule is one test; its title is the claim. A run of everything has a quarter of them, the others are slow;
`pytest tests/test_rule_cases.py` has them all."""

from __future__ import annotations

import pytest

from tests.each import spread
from tests.rulecases import Case, all_cases, failures, rulebook


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    spread(metafunc, "case", all_cases(), 4, lambda c: f"{c.place.file.removeprefix('rules/').removesuffix('.cases.yaml')}: {c.title}")


def test_the_plan_says_what_the_case_claims(case: Case) -> None:
    assert failures(case, rulebook()) == []
