"""Every check value, against the planner."""

import pytest
from answers import answer
from truth_table import Check, all_checks, as_items


@pytest.mark.parametrize("check", as_items([c for c in all_checks() if c.quantity != "statement"]))
def test_the_planner_agrees_with(check: Check) -> None:
    found = answer(check)
    assert check.agrees(found), check.complaint(found)
