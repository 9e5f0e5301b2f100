"""One entry a figure: what the table says of each is what its maker does."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

import pytest

from planner.judge.figures import FIGURES, quantity
from planner.rulebook.provenance import Number
from tests.engine_desk import book_with, facts_of, tank_with
from tests.rulecases import rulebook

TANKS = (
    {}, {"water__source": "ready_mixed"}, {"rock__kind": "live", "rock__mass": "10 kg"}, {"equipment__bin": "40 L", "equipment__ro_rate": "100 L/day"}, {"equipment__quarantine_tank": "30 L"},
)
ROWS = ("2026-03-02 18:00,reading,nitrate,60,mg/L", "2026-03-02 18:00,reading,nitrite,1,mg/L as N")


@dataclass
class Heard(dict[str, Number]):
    """Numbers that remember which were asked for."""

    asked: set[str] = field(default_factory=set)

    def __getitem__(self, name: str) -> Number:
        self.asked.add(name)
        return super().__getitem__(name)


@pytest.mark.parametrize("name", sorted(FIGURES))
def test_a_figure_looks_up_no_number_that_its_entry_does_not_name(name: str) -> None:
    for changes in TANKS:
        numbers: Any = Heard()
        numbers.update(rulebook().numbers)
        made = quantity(name, facts_of(*ROWS, on="2026-03-03", tank=tank_with(**changes)), replace(book_with(), numbers=numbers))
        assert numbers.asked <= set(FIGURES[name].rests_on) and (made is None or made.name == name)


def test_every_number_that_a_figure_rests_on_is_in_the_shipped_rules() -> None:
    assert {n for figure in FIGURES.values() for n in figure.rests_on} <= rulebook().numbers.keys()


@pytest.mark.parametrize(("first", "second", "now"), [("dosed,ammonia,1,mg/L as N", "changed_water,water,25,%", "18"), ("changed_water,water,25,%", "dosed,ammonia,1,mg/L as N", "19")])
def test_the_big_change_reckons_with_batches_and_feeds_since_the_test(first: str, second: str, now: str) -> None:
    # 1 mg/L as N ends as 62.004/14.007 = 4.43 mg/L of nitrate (IUPAC 2007 atomic weights): (20 + 4.43) x 0.75 = 18.3, and 20 x 0.75 + 4.43 = 19.4.
    rows = ("2026-03-02 18:00,reading,nitrate,20,mg/L", f"2026-03-02 19:00,{first}", f"2026-03-02 20:00,{second}")
    change = quantity("big_change", facts_of(*rows, on="2026-03-03"), rulebook())
    assert change is not None and dict(change.inputs)["nitrate now"] == f"{now} mg/L as the ion"
