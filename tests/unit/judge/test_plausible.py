"""Rows that contradict geometry or what the rules can ask are unknown until they are confirmed. The behaviour is the contract of the
plan; no outside source speaks of it. The base tank of the cases holds about 194 L by its measures."""

from __future__ import annotations

import pytest

from planner.show.words.causes import all_words
from planner.terms.records import Plan, State
from tests.engine_desk import plan_with, tank_with
from tests.rulecases import rulebook

TANK = tank_with(already={"start-up": "2026-03-01"})
LITRES = plan_with(rulebook(), tank=TANK, on="2026-03-02").quantity("net_volume").value  # type: ignore[union-attr]


def plan_of(*rows: str, on: str = "2026-03-02") -> Plan:
    return plan_with(rulebook(), *rows, tank=TANK, on=on)


def dosed(plan: Plan) -> list[str]:
    return [t.id for t in plan.tasks if t.writes == ("dosed", "ammonia") and t.state in (State.DUE, State.LATE)]


def volume(plan: Plan) -> float:
    found = plan.quantity("net_volume")
    assert found is not None
    return found.value


@pytest.mark.parametrize("share", [10, 0.1, 1.3, 0.7])
def test_litres_that_geometry_contradicts_are_not_believed_and_nothing_is_dosed(share: float) -> None:
    plan = plan_of(f"2026-03-01,poured,water,{LITRES * share:.0f},L,display,")
    assert volume(plan) == pytest.approx(LITRES) and dosed(plan) == []
    assert any("Journal line 2 is not believed" in n and "`confirmed`" in n for n in all_words(plan.notices, "metric"))


@pytest.mark.parametrize("row", [f"{LITRES * 1.2:.0f},L,display,", f"{LITRES * 2:.0f},L,display,confirmed"])
def test_litres_near_geometry_or_confirmed_are_the_volume(row: str) -> None:
    plan = plan_of(f"2026-03-01,poured,water,{row}")
    assert volume(plan) > LITRES * 1.15 and dosed(plan)


@pytest.mark.parametrize(("rise", "believed"), [("20", False), ("0.2", False), ("2", True), ("20,mg/L as N,display,confirmed", True)])
def test_a_dose_that_no_rule_can_ask_is_not_believed_until_confirmed(rise: str, believed: bool) -> None:
    plan = plan_of(f"2026-03-02,dosed,ammonia,{rise}" + ("" if "," in rise else ",mg/L as N,display,"))
    assert any("not believed" in n for n in all_words(plan.notices, "metric")) is not believed


def test_a_change_of_more_water_than_the_tank_holds_is_not_believed() -> None:
    assert any("not believed" in n for n in all_words(plan_of(f"2026-03-02,changed_water,,{LITRES * 3:.0f},L,display,").notices, "metric"))
