"""A net keeps in what jumps; warmth and water leave it as they leave an open tank (common practice, no source)."""

from __future__ import annotations

import pytest

from planner.judge.figures import quantity
from planner.plan.stages import tank_for_stock
from tests.engine_desk import facts_of, tank_with
from tests.rulecases import rulebook


def covered_by(lid: str) -> dict[str, object]:
    return {"tank": {"volume": "100 L", "lid": lid}, "room": {"temperature": "17 C"}}


@pytest.mark.parametrize("figure", ["evaporation_day", "heater_total"])
def test_under_a_net_a_tank_needs_what_an_open_one_needs(figure: str) -> None:
    shut, netted, bare = (quantity(figure, facts_of(on="2026-03-05", tank=tank_with(**covered_by(lid))), rulebook()) for lid in ("yes", "net", "no"))
    assert shut is not None and netted is not None and bare is not None
    assert shut.value < netted.value == bare.value


@pytest.mark.parametrize(("lid", "kept_in"), [("yes", True), ("net", True), ("no", False)])
def test_a_net_keeps_a_jumper_in(lid: str, kept_in: bool) -> None:
    assert tank_for_stock(facts_of(on="2026-03-05", tank=tank_with(**covered_by(lid)))).lid is kept_in
