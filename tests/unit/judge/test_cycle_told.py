"""What the forecast is told of a tank: its start, its water, its readings, and when the next test comes, on both sides of each limit."""

from __future__ import annotations

import math
from datetime import date, timedelta
from typing import Any

import pytest

from planner.judge.cycle_expected import Expectation, next_test_days
from planner.judge.cycle_inputs import bicarbonate_dkh, kit_readings, middle_d, opening_dose, policy_from_now, policy_of, reckoned_start, start_of
from planner.judge.facts import Facts
from planner.judge.gates import judge
from planner.science.cycle.records import Start
from tests.engine_desk import book_with, facts_of, tank_with
from tests.rulecases import rulebook

BEGAN = date(2026, 3, 2)
ZERO = facts_of("2026-03-02 12:00,dosed,ammonia,2,mg/L as N", on="2026-03-02").rows("dosed")[0].earliest


@pytest.mark.parametrize(
    ("tank", "kind", "rock"),
    [({"rock": {"kind": "live", "cured_in": "tank"}, "cycle": None}, "rock", "live"), ({"rock": {"kind": "live", "cured_in": "bin"}, "cycle": None}, "dosed", "cured"), ({"rock": {"kind": "cured"}, "cycle": None}, "dosed", "cured"), ({"rock": {"kind": "dry"}, "cycle": None}, "dosed", "dry"), ({"rock": None, "cycle": None}, "dosed", "none"), ({"rock": {"kind": "dry"}, "cycle": {"ammonia": "food"}}, "food", "dry"), ({"rock": {"kind": "live", "cured_in": "tank"}, "cycle": {"ammonia": "food"}}, "rock", "live")],
)
def test_a_tank_starts_by_its_rock_and_its_ammonia(tank: dict[str, Any], kind: str, rock: str) -> None:
    found = start_of(tank_with(**tank))
    assert (found.kind, found.rock_kind) == (kind, rock)


def facts(*rows: str, on: str = "2026-03-12") -> Facts:
    return facts_of("2026-03-02 12:00,dosed,ammonia,2,mg/L as N", *rows, on=on)


def reckoned(*rows: str, on_d: float = 10.0) -> Start:
    return reckoned_start(Start(), facts(*rows), ZERO, on_d, rulebook())


@pytest.mark.parametrize(
    ("name", "unit", "first", "second", "changes"),
    [("temperature", "C", 25, 25.4, False), ("temperature", "C", 25, 25.5, True), ("salinity", "ppt", 35, 35.9, False), ("salinity", "ppt", 35, 36, True), ("ph", "", 8, 8.1, False), ("ph", "", 8, 8.21, True), ("alkalinity", "dKH", 8, 8.9, False), ("alkalinity", "dKH", 8, 9, True)],
)
def test_less_than_a_step_of_the_kit_changes_no_water(name: str, unit: str, first: float, second: float, changes: bool) -> None:
    found = reckoned(f"2026-03-03 12:00,reading,{name},{first},{unit}", f"2026-03-05 12:00,reading,{name},{second},{unit}")
    assert bool(found.waters) is changes
    assert not changes or found.waters[0].t_d == pytest.approx(2.0)  # halfway between the two tests


@pytest.mark.parametrize(("name", "unit", "value", "taken"), [("temperature", "C", 40, 34), ("temperature", "C", 34, 34), ("temperature", "C", 5, 10), ("salinity", "ppt", 50, 42), ("salinity", "ppt", 2, 5), ("ph", "", 9.6, 9), ("ph", "", 5.5, 6), ("alkalinity", "dKH", 20, 15), ("alkalinity", "dKH", 0, 0)])
def test_water_is_taken_within_what_the_model_knows(name: str, unit: str, value: float, taken: float) -> None:
    found = reckoned(f"2026-03-03 12:00,reading,{name},{value},{unit}")
    assert {"temperature": found.temperature_c, "salinity": found.salinity_sp, "ph": found.ph, "alkalinity": found.alkalinity_dkh}[name] == pytest.approx(taken)


@pytest.mark.parametrize(("celsius", "warmed"), [(23.5, True), (24.0, False), (26.0, False)])
def test_cold_water_is_expected_to_be_warm_from_tomorrow_on(celsius: float, warmed: bool) -> None:
    """Colder by more than a degree than the 25 °C that the tank is meant to have."""
    found = reckoned(f"2026-03-03 12:00,reading,temperature,{celsius},C")
    assert ([(w.t_d, w.temperature_c) for w in found.waters] == [(11.0, 25.0)]) is warmed and (not found.waters) is not warmed


@pytest.mark.parametrize(("ticked", "warm_d"), [("2026-03-03 12:05", 2.0), ("2026-03-06 12:00", 5.0), ("2026-03-03 11:55", 11.0)])
def test_water_that_was_warmed_is_warm_from_the_day_after_the_tick_and_not_from_every_tomorrow(ticked: str, warm_d: float) -> None:
    """Ten days after the first ammonia; what was ticked before the cold reading warmed nothing since."""
    found = reckoned("2026-03-03 12:00,reading,temperature,23,C", f"{ticked},done,start-up/warm")
    assert [w.t_d for w in found.waters] == pytest.approx([warm_d], abs=0.01)


@pytest.mark.parametrize(("before", "counts"), [("2026-02-16 12:00", True), ("2026-02-16 11:59", False)])
def test_water_read_up_to_two_weeks_before_the_first_ammonia_counts(before: str, counts: bool) -> None:
    assert (reckoned(f"{before},reading,ph,7.6,").ph == pytest.approx(7.6)) is counts
    assert reckoned("2026-03-03 12:00,reading,ph,7.6,,mixing").ph == 8.2


def test_a_dose_of_bicarbonate_lifts_what_was_read_before_it() -> None:
    found = reckoned("2026-03-03 12:00,reading,alkalinity,6,dKH", "2026-03-04 12:00,dosed,bicarbonate,2,dKH", "2026-03-04 12:00,dosed,bicarbonate,2,dKH,mixing")
    assert found.alkalinity_dkh == 6 and [(w.t_d, w.alkalinity_dkh) for w in found.waters] == [(2.0, 8.0)]
    gram = facts("2026-03-04 12:00,dosed,bicarbonate,10,g")
    assert bicarbonate_dkh(gram.rows("dosed", "bicarbonate")[0], gram) == pytest.approx(10 / (0.02996 * gram.net_volume_l), rel=1e-3)


@pytest.mark.parametrize(("row", "seed", "later"), [((), "none", 0), (("2026-03-03 12:00,dosed,bacteria,,",), "bottled", 0), (("2026-03-03 12:01,dosed,bacteria,,",), "none", 1), (("2026-03-05,dosed,bacteria,,,quarantine",), "none", 0)])
def test_a_bottle_of_the_first_day_belongs_to_the_start(row: tuple[str, ...], seed: str, later: int) -> None:
    found = reckoned(*row)
    assert (found.seed, len(found.later_seeds)) == (seed, later)


@pytest.mark.parametrize(
    ("cells", "low", "high", "colour"),
    [("ammonia,1,mg/L as N", 0.875, 1.125, 1.0), ("ammonia,0,mg/L as N", 0.0, 0.125, None), ("ammonia,0.1,mg/L as N", 0.0, 0.225, None), ("ammonia,>5,mg/L as N", 5.0, math.inf, None), ("ammonia,<0.25,mg/L as N", 0.0, 0.25, None)],
)
def test_a_colour_stands_for_half_a_step_to_each_side(cells: str, low: float, high: float, colour: float | None) -> None:
    """The base tank's kits have steps of 0.25; the colours of a coarse card stand further apart the higher they are."""
    (reading,), (row,) = kit_readings(facts(f"2026-03-04 12:00,reading,{cells}"), book_with(kit_coarse=(0, "%"), kit_card_step=(0.2, "mg/L")), ZERO, BEGAN)
    assert (reading.t_d, reading.low, reading.high, reading.colour) == (pytest.approx(2.0), pytest.approx(low), pytest.approx(high), colour) and row.what == "ammonia"


@pytest.mark.parametrize(("card", "low", "high"), [(0.25, 7.2, 9.6), (0.26, 7.875, 8.125)])
def test_the_neighbours_on_a_coarse_card_stand_further_apart(card: float, low: float, high: float) -> None:
    """A tenth below and a fifth above 8 is 7.2 and 9.6; a kit finer than the card's step stays as it is."""
    (reading,), _ = kit_readings(facts("2026-03-04 12:00,reading,ammonia,8,mg/L as N"), book_with(kit_coarse=(10, "%"), kit_card_step=(card, "mg/L")), ZERO, BEGAN)
    assert (reading.low, reading.high) == (pytest.approx(low), pytest.approx(high))


def test_only_readings_of_the_display_since_the_cycle_began_are_told() -> None:
    found, _ = kit_readings(facts("2026-03-01 12:00,reading,ammonia,1,mg/L as N", "2026-03-02 11:00,reading,ammonia,1,mg/L as N", "2026-03-02 12:00,reading,nitrite,1,mg/L as N", "2026-03-03,reading,nitrite,1,mg/L as N,mixing", "2026-03-03,reading,ph,8,"), rulebook(), ZERO, BEGAN)
    assert [(r.name, r.t_d) for r in found] == [("nitrite", 0.0)]
    bare = facts("2026-03-04,reading,ammonia,1,mg/L as N").rows("reading", "ammonia")[0]
    assert middle_d(bare, ZERO) == pytest.approx(2.0) and middle_d(bare, ZERO + 10 * 86400) == 0


@pytest.mark.parametrize(("ammonia", "total"), [("dosed", True), ("food", False)])
def test_the_policy_doses_what_the_tank_file_says_where_ammonia_is_dosed(ammonia: str, total: bool) -> None:
    tank = tank_with(cycle={"ammonia": ammonia}, rock={"kind": "dry"})
    found = policy_of(rulebook(), facts_of(on="2026-03-02", tank=tank))
    assert (found.total_mg_n_l == tank.cycle.dose_mg_n_l) is total and found.until_clear
    assert (found.food_mg_n_l == rulebook().number("food_nitrogen")) is not total


@pytest.mark.parametrize(("basis", "clear", "left"), [("N", 0.125, 0.25), ("NO2", 0.1, 0.1)])
def test_the_policy_proves_by_what_the_keepers_own_kit_may_show(basis: str, clear: float, left: float) -> None:
    """A step of 0.25 as NO2 is 0.25 * 14.007 / 46.005 = 0.076 as N: finer than the least that counts as clear."""
    tank = tank_with(cycle={"ammonia": "dosed"}, rock={"kind": "dry"}, test_kits={"nitrite": {"basis": basis, "step": 0.25, "highest": 5}})
    found = policy_of(rulebook(), facts_of(on="2026-03-02", tank=tank))
    assert found.clear_levels is not None and found.proof_levels is not None
    assert (found.clear_levels[1], found.proof_levels[1]) == (pytest.approx(clear), pytest.approx(left))


@pytest.mark.parametrize(("rock", "ammonia", "dose", "proof"), [({"kind": "dry"}, "dosed", 2.0, False), ({"kind": "live", "cured_in": "bin"}, "rock", 1.0, True), ({"kind": "live", "cured_in": "tank"}, "rock", 0.0, False), ({"kind": "dry"}, "food", 0.0, False)])
def test_live_rock_from_a_bin_begins_with_the_small_dose_that_is_a_proof(rock: dict[str, Any], ammonia: str, dose: float, proof: bool) -> None:
    facts = facts_of(on="2026-03-02", tank=tank_with(cycle={"ammonia": ammonia}, rock=rock))
    assert opening_dose(rulebook(), facts) == dose and policy_of(rulebook(), facts).opens_with_proof is proof


@pytest.mark.parametrize(("rows", "food", "shows"), [((), 0.2, 10), (("2026-03-05,reading,nitrite,0.25,mg/L as N",), 0.2, 10), (("2026-03-05,reading,nitrite,0.5,mg/L as N",), 0.2, 0), (("2026-03-06,dosed,ammonia,1,mg/L as N",), 0.0, 10)])
def test_food_goes_on_until_ammonia_is_weighed_and_has_shown_once_something_was_read(rows: tuple[str, ...], food: float, shows: int) -> None:
    facts = facts_of("2026-03-02,event,fed", *rows, on="2026-03-07", tank=tank_with(cycle={"ammonia": "food"}, rock={"kind": "dry"}))
    found = policy_from_now(rulebook(), facts, judge(rulebook(), facts), proving=False, origin=date(2026, 3, 2))
    assert (found.food_mg_n_l, found.food_shows_d) == (food, shows)


def test_an_absence_to_come_is_told_in_days_of_the_cycle() -> None:
    away = [{"from": "2026-03-01", "to": "2026-03-03"}, {"from": "2026-03-20", "to": "2026-03-25"}]
    facts = facts_of("2026-03-04,dosed,ammonia,2,mg/L as N", on="2026-03-07", tank=tank_with(cycle={"ammonia": "dosed"}, rock={"kind": "dry"}, keeper__away=away))
    assert policy_from_now(rulebook(), facts, judge(rulebook(), facts), proving=False, origin=date(2026, 3, 4)).away == ((16, 21),)


@pytest.mark.parametrize(
    ("low", "high", "on", "days"),
    [(10, 18, 8, 2), (10, 18, 9, 1), (10, 18, 19, 1), (10, 18, 20, 2), (10, 19, 12, 2), (20, 30, 12, 3), (20, 30, 13, 2), (20, 30, 5, 4), (20, 30, 6, 3), (20, None, 5, 4)],
)
def test_tests_are_daily_near_a_milestone_and_rarer_far_from_it(low: int, high: int | None, on: int, days: int) -> None:
    """Two days are usual; one more beyond a week ahead, two beyond two weeks; daily from the day before a span of at most eight days to the day after it."""
    found = Expectation(BEGAN, {"ammonia_clear": (low, low, high), "nitrite_clear": (None, None, None)}, {}, 0, 0, "")
    assert next_test_days(found, BEGAN + timedelta(days=on), 2) == days


def test_tests_are_as_usual_where_nothing_is_known_and_daily_once_nitrite_was_clear() -> None:
    assert next_test_days(Expectation(None, {"ammonia_clear": (1, 1, 1)}, {}, 0, 0, ""), BEGAN, 3) == 3 and next_test_days(Expectation(BEGAN, {}, {}, 0, 0, ""), BEGAN, 3) == 3
    assert next_test_days(Expectation(BEGAN, {"ammonia_clear": (1, 1, 1)}, {"nitrite_clear": BEGAN}, 0, 0, ""), BEGAN, 3) == 1
    both = {"ammonia_clear": (1, 1, 1), "nitrite_clear": (30, 35, 40)}
    assert next_test_days(Expectation(BEGAN, both, {"ammonia_clear": BEGAN}, 0, 0, ""), BEGAN, 2) == 4 and next_test_days(Expectation(BEGAN, both, {}, 0, 0, ""), BEGAN, 2) == 1
