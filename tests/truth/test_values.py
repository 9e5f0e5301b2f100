"""Every check value, against the planner."""

import pytest
from answers import answer
from truth_table import Check, all_checks

from tests.each import over

CHECKS = [c for c in all_checks() if c.quantity != "statement"]


@pytest.mark.parametrize("quantity", sorted({c.quantity for c in CHECKS}))
def test_the_planner_agrees_with(quantity: str) -> None:
    @over("check", [c for c in CHECKS if c.quantity == quantity], ids=lambda c: f"{c.quantity}({','.join(c.inputs)})-{c.source.split(',')[0]}")
    def agrees(check: Check) -> None:
        found = answer(check)
        assert check.agrees(found), check.complaint(found)

    agrees()
