"""One entry a figure: what the table says of each is what its maker does."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

import pytest

from planner.judge.figures import FIGURES, quantity
from planner.plan.texts import Filler
from planner.rulebook.provenance import Number
from planner.show.json.record_objects import quantity_document
from tests.engine_desk import book_with, facts_of, plan_with, tank_with
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
    gone = ("2026-02-20 18:00,dosed,ammonia,2,mg/L as N", "2026-03-01 18:00,reading,ammonia,0,mg/L", "2026-03-01 18:00,reading,nitrite,0,mg/L")
    rows = (*gone, "2026-03-02 18:00,reading,nitrate,20,mg/L", f"2026-03-02 19:00,{first}", f"2026-03-02 20:00,{second}")
    change = quantity("big_change", facts_of(*rows, on="2026-03-03"), rulebook())
    assert change is not None and dict(change.inputs)["nitrate now"] == f"{now} mg/L as the ion"


def test_a_nitrate_of_nothing_on_the_first_day_makes_the_big_change_no_smaller() -> None:
    """What the cycle will make is still to come: three quarters of the water as planned, 80 mg/L to 20."""
    empty, first = (), ("2026-03-02 12:00,dosed,ammonia,2,mg/L as N", "2026-03-02 18:00,reading,nitrate,0,mg/L", "2026-03-02 18:00,reading,nitrite,0,mg/L")
    unread, zero = (quantity("big_change", facts_of(*rows, on="2026-03-03"), rulebook()) for rows in (empty, first))
    assert unread is not None and zero is not None and zero.value == unread.value > 0
    gone = ("2026-03-20 18:00,reading,ammonia,0,mg/L as N", "2026-03-20 18:00,reading,nitrite,0,mg/L as N", "2026-03-20 18:00,reading,nitrate,10,mg/L")
    after = quantity("big_change", facts_of(*first, *gone, on="2026-03-21"), rulebook())
    assert after is not None and after.value == 0


@pytest.mark.parametrize(("tank", "rows", "share"), [
    ({}, (), True), ({"already": {"cycle": "2026-02-20"}}, (), False), ({}, ("2026-02-25,added,amphiprion-ocellaris,1",), False), ({"already": {"scape": "2026-02-20"}}, (), True),
], ids=["nothing dosed", "vouched for", "an animal in", "vouched for less"])
def test_a_low_nitrate_needs_no_big_change_where_nothing_is_still_to_come(tank: dict[str, object], rows: tuple[str, ...], share: bool) -> None:
    change = quantity("big_change", facts_of(*rows, "2026-03-02 18:00,reading,nitrate,5,mg/L", "2026-03-02 18:00,reading,nitrite,0,mg/L as N", on="2026-03-03", tank=tank_with(**tank)), rulebook())
    assert change is not None and (change.value > 0) is share


def test_the_test_after_the_first_dose_expects_what_was_really_dosed() -> None:
    planned, twice = (quantity("ammonia_check", facts_of(*rows, on="2026-03-02"), rulebook()) for rows in ((), ("2026-03-02 12:00,dosed,ammonia,4,mg/L as N",)))
    assert planned is not None and twice is not None and (planned.value, twice.value) == (2.0, 4.0)


def test_batches_that_stand_ready_are_those_since_the_last_change_and_no_older_than_mixed_water_may_be() -> None:
    """Two weeks: common practice, no source. A mix that was left out is none, and water of the quarantine tank is no big change."""
    tank = tank_with()
    rows = ["2026-03-01 09:00,done,big-change/mix#1,,,display", "2026-03-02 09:00,changed_water,water,50,L,display", "2026-03-03 09:00,done,big-change/mix#2,,,display",
            "2026-03-04 09:00,skipped,big-change/mix#3,,,display", "2026-03-05 09:00,done,big-change/mix#4,,,display", "2026-03-06 09:00,changed_water,water,5,L,quarantine"]
    ready = [quantity("big_change_mixed", facts_of(*rows, on=day, tank=tank), rulebook()) for day in ("2026-03-07", "2026-03-18", "2026-03-20")]
    assert [q and q.value for q in ready] == [2, 1, None]


@pytest.mark.parametrize("rate", ["5 L/day", "20 L/day", "60 L/day", "190 L/day"])
@pytest.mark.parametrize("bin_l", [8, 20, 60])
def test_the_first_batch_of_a_big_change_is_fit_for_use_when_the_last_has_mixed(bin_l: int, rate: str) -> None:
    """Mixed water keeps two weeks (common practice, no source). A change that asks for more batches than that holds would never come."""
    facts = facts_of(on="2026-03-03", tank=tank_with(equipment__bin=f"{bin_l} L", equipment__ro_rate=rate))
    mixes, step = quantity("big_change_mixes", facts, rulebook()), quantity("big_change_step", facts, rulebook())
    assert mixes is not None and step is not None and mixes.value >= 1
    assert (mixes.value - 1) * step.value + 1 < 14


@pytest.mark.parametrize("mixed_in", ["tank", "bin"])
@pytest.mark.parametrize("bin_l", [20, 60, 115, 400])
def test_the_batches_of_the_big_change_are_equal_and_add_up(bin_l: int, mixed_in: str) -> None:
    """The series must end at the limit for nitrate; each batch fits nine tenths of the bin (common practice, no source). One change takes
    all the batches, which wait in containers, also where the first fill was mixed in the tank."""
    facts = facts_of(on="2026-03-03", tank=tank_with(equipment__bin=f"{bin_l} L", water__mixed_in=mixed_in))
    named = {name: quantity(name, facts, rulebook()) for name in ("big_change_litres", "big_change_batches", "big_change_batch", "big_change_batch_salt", "big_change", "big_change_now", "big_change_mixes")}
    litres, count, each, salt, once, change, mixes = (0.0 if q is None else q.value for q in named.values())
    assert change == pytest.approx(mixes * each) and mixes == count
    assert litres == pytest.approx(count * each) and 0 < each <= 0.9 * bin_l * (1 + 1e-9)
    assert salt == pytest.approx(each * facts.tank.water.salt_per_litre_g * facts.tank.water.salinity / 35, rel=0.02)
    left = 1.0
    for _ in range(round(count / mixes)):
        left *= 1 - change / facts.net_volume_l
    assert left == pytest.approx(1 - once / facts.net_volume_l)


def test_the_heater_of_a_bin_has_a_watt_for_each_litre() -> None:
    """Common practice, no source."""
    heater = quantity("bin_heater", facts_of(tank=tank_with(equipment__bin="60 L"), on="2026-03-03"), rulebook())
    assert heater is not None and (heater.value, heater.unit) == (60.0, "W")


@pytest.mark.parametrize("room", ["16 C", "19 C", "22 C"])
def test_of_two_heaters_one_alone_gives_the_share_of_a_cold_night_that_the_list_promises(room: str) -> None:
    facts = facts_of(on="2026-03-03", tank=tank_with(room__temperature=room))
    need, each = quantity("heater_total", facts, rulebook()), quantity("heater_each", facts, rulebook())
    assert need is not None and each is not None
    assert each.value >= rulebook().number("heater_share") / 100 * need.value and 2 * each.value > need.value


@pytest.mark.parametrize(("units", "load"), [("metric", " kN/m² (assumed; measure first)"), ("us", " lb/ft² (assumed; measure first)")])
def test_a_floor_load_from_the_volume_alone_says_that_its_base_is_assumed(units: str, load: str) -> None:
    """EN 1991-1-1 gives the load as force over a footprint; where nobody measured one, the figure must not pass for measured."""
    guessed, measured = tank_with(tank={"volume": "200 L"}, units=units), tank_with(units=units)
    assert Filler(facts_of(tank=guessed, on="2026-03-02"), rulebook()).fill("{floor_load}").endswith(load)
    assert "assumed" not in Filler(facts_of(tank=measured, on="2026-03-02"), rulebook()).fill("{floor_load}")
    plan = plan_with(rulebook(), tank=guessed, on="2026-03-02")
    assert any("Measure yours first." in str(notice) for notice in plan.notices)


def test_a_floor_load_without_the_rock_says_so() -> None:
    """An engineer judges what stands on the floor, rock and all (EN 1991-1-1 counts permanent loads in full)."""
    said = "leave out the rock"
    loads = [quantity("floor_load", facts_of(tank=tank_with(rock=rock), on="2026-03-02"), rulebook()) for rock in ({"kind": "dry"}, {"kind": "dry", "mass": "12 kg"})]
    assert [load is not None and said in str(load.advice) for load in loads] == [True, False]


def test_a_guess_is_a_mark_of_the_figure_and_no_part_of_its_unit() -> None:
    guessed, measured = (quantity("floor_load", facts_of(tank=tank, on="2026-03-02"), rulebook()) for tank in (tank_with(tank={"volume": "200 L"}), tank_with()))
    assert guessed is not None and measured is not None
    assert (guessed.unit, guessed.assumed, measured.unit, measured.assumed) == ("kN/m²", True, "kN/m²", False)
    assert (quantity_document(guessed).get("assumed"), quantity_document(measured).get("assumed")) == (True, None)


@pytest.mark.parametrize(("size", "amounts"), [("40 L", [(20, "L"), (10, "L"), (32, "L")]), ("yes", [(50, "%"), (25, "%"), (80, "%")])])
def test_a_change_of_the_quarantine_water_is_a_share_where_that_tank_has_no_size(size: str, amounts: list[tuple[float, str]]) -> None:
    facts = facts_of("2026-03-02 08:00,reading,alkalinity,8,dKH,quarantine", on="2026-03-02", tank=tank_with(equipment__quarantine_tank=size))
    made = [quantity(name, facts, rulebook()) for name in ("quarantine_change", "quarantine_quarter", "quarantine_new_water")]
    assert [(q.value, q.unit) for q in made if q is not None] == amounts


@pytest.mark.parametrize(("read", "change", "quarter"), [
    ((("02-28", 8, "quarantine"),), 50, 25), ((("02-28", 2, "quarantine"), ("02-28", 8, "mixing")), 25, 100 / 6), ((("02-28", 5, "quarantine"), ("02-28", 8, "mixing")), 50, 25),
    ((("02-28", 4, "quarantine"), ("02-28", 8, "mixing")), 37.5, 25), ((("02-28", 0.5, "quarantine"), ("02-28", 10.5, "mixing")), 15, 10),
    ((("02-28", 2, "quarantine"),), 150 / 8.5, 100 / 8.5),  # new water that nobody tested may have as much as 10.5
    ((("02-28", 9, "quarantine"), ("02-28", 5, "mixing")), 37.5, 25),  # down is a step too
    ((("02-28", 8, "quarantine"), ("02-28", 8, "mixing")), 50, 25),
    ((), 25, 25), ((("02-19", 8, "quarantine"),), 25, 25), ((("02-20", 8, "quarantine"),), 50, 25), ((("02-28", 8, "display"),), 25, 25),  # not known, or too long ago
], ids=str)
def test_a_change_of_the_quarantine_water_moves_alkalinity_by_no_more_than_its_fish_bear(read: tuple[tuple[str, float, str], ...], change: float, quarter: float) -> None:
    """share = step / (new - old), with a step of 1.5 dKH when ammonia shows (half of 10 dKH into 7) and 1 dKH else (common practice, no source)."""
    rows = [f"2026-{day} 08:00,reading,alkalinity,{value},dKH,{where}" for day, value, where in read]
    facts = facts_of(*rows, on="2026-03-02", tank=tank_with(equipment__quarantine_tank="yes"))
    made = [quantity(name, facts, rulebook()) for name in ("quarantine_change", "quarantine_quarter")]
    assert [q.value for q in made if q is not None] == pytest.approx([change, quarter])


def test_sand_of_which_nothing_is_said_is_not_left_out_of_the_weight() -> None:
    """The floor is judged by it: 90 x 45 x 4 cm at 1.4 kg/L is 22.7 kg, in the place of 0.38 L of water each (common practice)."""
    box = {"tank__length": "90 cm", "tank__width": "45 cm", "tank__height": "50 cm"}

    def weight(**sand: object) -> float:
        found = quantity("total_weight", facts_of(on="2026-03-02", tank=tank_with(**box, **sand)), rulebook())
        assert found is not None
        return found.value / 1000

    none, unsaid, four = (weight(sand=s) for s in ({"kind": "none"}, None, {"kind": "dry", "depth": "4 cm"}))
    assert none + 10 < unsaid == pytest.approx(four, abs=0.1)


@pytest.mark.parametrize(("units", "kelvin"), [("metric", 1.0), ("us", 1.5 / 1.8)])
def test_the_ice_of_an_hour_takes_out_what_the_page_allows_in_an_hour(units: str, kelvin: float) -> None:
    """1 kg of ice takes 0.592361 °C out of 200 L (`ice_cooling` in tests/truth/data/care.csv); the page prints 1 °C, and 1.5 °F."""
    facts = facts_of(on="2026-03-02", tank=tank_with(units=units))
    made = quantity("ice_hour", facts, rulebook())
    assert made is not None
    assert made.value / 1000 * 0.592361 * 200 / facts.net_volume_l == pytest.approx(kelvin, rel=1e-3)


@pytest.mark.parametrize(("read", "rise"), [(6.9, 1.1), (6, 2), (5.7, 2), (8.5, 0)])
def test_bicarbonate_is_weighed_from_the_last_reading_to_the_aim_and_no_further_than_one_day_may_go(read: float, rise: float) -> None:
    tank = facts_of(f"2026-03-02 18:00,reading,alkalinity,{read},dKH", on="2026-03-03")
    made = quantity("bicarbonate_now", tank, replace(book_with(), numbers=rulebook().numbers))
    # 2.9961 g of NaHCO3 lift 100 L by 1 dKH (tests/truth/data/care.csv, IUPAC masses); the aim of 8 and 2 a day are common practice, no source.
    assert made is not None and made.value == pytest.approx(2.9961 * rise * tank.net_volume_l / 100, rel=1e-3)
    assert quantity("bicarbonate_now", facts_of(on="2026-03-03"), rulebook()) is None
