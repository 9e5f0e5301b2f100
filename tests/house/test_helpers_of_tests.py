"""What many tests lean on: a folded product fails with the name of each that failed, and a shared plan is the plan of its own inputs."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from planner.plan.make import make_plan
from tests.each import over
from tests.engine_desk import journal_of, tank_with
from tests.plans_once import Plans
from tests.rulecases import rulebook

ON = date(2026, 3, 4)


def test_a_folded_product_names_each_that_failed_and_tries_the_others() -> None:
    tried = []

    @over(("a", "b"), [(1, 2), (2, 2), (3, 0)], ids=["one", "two", "three"])
    def smaller(a: int, b: int, tried_by: list[int]) -> None:
        tried_by.append(a)
        assert a / b < 1

    with pytest.raises(AssertionError, match=r"(?s)2 of 3 fail:\ntwo: AssertionError.*\nthree: ZeroDivisionError"):
        smaller(tried_by=tried)
    assert tried == [1, 2, 3]


def test_a_folded_product_of_nothing_is_refused() -> None:
    with pytest.raises(AssertionError, match="there are some"):
        over("a", [])


def test_a_shared_plan_is_the_plan_of_its_own_inputs() -> None:
    plans, tank, rules = Plans(), tank_with(), rulebook()
    given = [(journal_of(*rows), on) for rows in ((), ("2026-03-02,done,site/place",), ("2026-03-03,reading,ph,8.1",)) for on in (ON, date(2026, 3, 9))]
    for _ in range(2):
        assert [plans.plan(tank, journal, rules, on) == make_plan(tank, journal, rules, on) for journal, on in given] == [True] * 6
    assert len(plans.made) == 6
    assert plans.plan(tank, given[0][0], rules, ON) is plans.plan(tank_with(), journal_of(), rules, ON)
    assert plans.plan(tank_with(tank__length="80 cm"), given[0][0], rules, ON) != plans.plan(tank, given[0][0], rules, ON)


def test_a_plan_beside_an_unread_line_names_its_own_file() -> None:
    plans, tank = Plans(), tank_with()
    unread = journal_of("2026-03-03,reading,ammonia,much", problems=1)
    here, there = (plans.plan(tank, replace(unread, file=f"{name}/journal.csv"), rulebook(), ON) for name in ("ash", "birch"))
    assert "ash/journal.csv" in repr(here.traces) + repr(here) and "birch/journal.csv" in repr(there.traces) + repr(there)
