"""Every case beside a rule is one test; its title is the claim."""

from __future__ import annotations

import pytest

from tests.rulecases import Case, all_cases, failures, rulebook


@pytest.mark.parametrize("case", all_cases(), ids=lambda c: f"{c.place.file.removeprefix('rules/').removesuffix('.cases.yaml')}: {c.title}")
def test_the_plan_says_what_the_case_claims(case: Case) -> None:
    assert failures(case, rulebook()) == []
