"""Amounts out of all proportion are asked about before they are written, in the same words wherever they are entered, and are
written if they are meant. Grams and rises are compared by molar masses: 84.01 g of sodium bicarbonate lift 2.8 dKH by one meq/L, so 100 L take
3 g for 1 dKH; 147.01 g of calcium chloride dihydrate hold 40.08 g of calcium (IUPAC 2021)."""

from __future__ import annotations

import pytest

from planner.door.acts import Act, Desk, tick_tasks
from planner.door.entry_words import Entry, checked
from planner.door.questions import doubt_of
from planner.files.journal_form import NewRow
from planner.terms.records import Quantity
from tests.unit.door.test_ticks_and_arrivals import desk

NET = desk().facts.net_volume_l
BICARBONATE_G, CALCIUM_G = 84.007 / 2.8 * NET / 1000, 147.0144 / 40.078 * NET / 1000
"""For one dKH, and for one mg/L of calcium, in this tank."""


def asked(at: Desk, kind: str, what: str, value: float, unit: str, where: str = "display", planned: Quantity | None = None) -> str:
    made = checked(NewRow(at.stamp.text, kind, what, f"{value:.6g}", unit, where, ""), at.tank, at.facts.zone)
    assert isinstance(made, Entry), made
    return doubt_of(at, made.row, planned) or ""


@pytest.mark.parametrize(("what", "unit", "most"), [("bicarbonate", "g", 2 * BICARBONATE_G), ("bicarbonate", "dKH", 2), ("alkalinity", "dKH", 2), ("carbonate", "dKH", 2), ("kalkwasser", "g", 2 * 37.05 / 2.8 * NET / 1000),
                                                    ("calcium", "g", 20 * CALCIUM_G), ("calcium", "mg/L", 20), ("magnesium", "mg/L", 50), ("food", "g", 0.003 * NET)])
def test_a_dose_is_asked_about_from_three_times_the_most_of_a_day(what: str, unit: str, most: float) -> None:
    assert asked(desk(), "dosed", what, most * 2.9, unit) == ""
    told = asked(desk(), "dosed", what, most * 4, unit)
    assert " is 4 times " in told and told.endswith("Write it all the same?")


@pytest.mark.parametrize(("kind", "what", "where", "holds"), [("changed_water", "water", "display", NET), ("changed_water", "water", "quarantine", 40), ("dosed", "calcium", "display", NET), ("poured", "fresh", "quarantine", 40)])
def test_litres_beyond_what_a_water_holds_are_asked_about(kind: str, what: str, where: str, holds: float) -> None:
    at = desk(equipment__quarantine_tank="40 L")
    assert asked(at, kind, what, holds * 1.1, "L", where) == ""
    assert " is 2 times what this water holds (" in asked(at, kind, what, holds * 2, "L", where)


def test_a_top_up_is_asked_about_from_three_weeks_of_evaporation() -> None:
    at = desk()
    found = at.plan.quantity("evaporation_day")
    assert found is not None
    assert asked(at, "poured", "fresh", found.value * 14, "L") == ""
    assert "times what evaporates in a week (" in asked(at, "poured", "fresh", found.value * 30, "L")


@pytest.mark.parametrize(("planned", "value", "unit", "told"), [(Quantity("", 5, "g", "", (), ""), 500, "g", "500 g of bicarbonate is 100 times what the page asks for (5 g). Write it all the same?"),
                                                                (Quantity("", 20, "L", "", (), ""), 20, "gal", "20 gal is 3.8 times what the page asks for (20 L). Write it all the same?")])
def test_a_tick_is_compared_with_what_its_own_job_asks_for(planned: Quantity, value: float, unit: str, told: str) -> None:
    kind, what = ("dosed", "bicarbonate") if unit == "g" else ("changed_water", "water")
    assert asked(desk(), kind, what, value, unit, planned=planned) == told
    assert asked(desk(), kind, what, planned.value * 2, planned.unit, planned=planned) == ""


def test_a_tick_of_a_hundred_times_its_dose_asks_and_is_written_as_typed_if_it_is_meant() -> None:
    at = desk("2026-03-09,reading,alkalinity,5,dKH")
    job = next(t for t in at.plan.tasks if t.writes == ("dosed", "bicarbonate"))
    written = at.rules.tasks[job.key].writes
    assert written is not None and written.amount is not None
    amount = dict(job.amounts)[written.amount]
    act = tick_tasks(at, [job.id], amounts={job.id: f"{amount.value * 100:.4g} g"})
    assert isinstance(act, Act) and sum("100 times what the page asks for" in q for q in act.questions) == 1
    assert any(e.row.kind == "dosed" and e.row.low == pytest.approx(amount.value * 100, rel=1e-3) for e in act.entries)
    plain = tick_tasks(at, [job.id])
    assert isinstance(plain, Act) and not any("times" in q for q in plain.questions)


def test_eighty_snails_ticked_for_a_few_are_asked_about() -> None:
    at = desk()
    key = next(key for key, rule in at.rules.tasks.items() if rule.writes is not None and rule.writes.amount == "crew_first")
    (many, few) = (tick_tasks(at, [key], amounts={key: count}) for count in ("80", "4"))
    assert isinstance(many, Act) and any("times what the page asks for" in q for q in many.questions)
    assert isinstance(few, Act) and not any("times" in q for q in few.questions)


def test_a_dose_that_already_stands_counts_as_it_is() -> None:
    large = f"2026-03-09,dosed,bicarbonate,{200 * BICARBONATE_G:.0f},g"
    at = desk(large)
    assert [r.low for r in at.facts.rows("dosed", "bicarbonate")] == [pytest.approx(200 * BICARBONATE_G, abs=1)]
    assert not any("not believed" in n for n in map(str, at.plan.notices))
