"""The cycle at exact values: its start, its run, what a reading and a policy may be. Values by hand, or as each test says."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from planner.science.cycle import kit, step
from planner.science.cycle.prior import climate_from_start, kinetics_at, kinetics_from_start, members_from_z
from planner.science.cycle.records import Change, KitReading, Load, Policy, Seeding, Start, Water
from planner.science.cycle.run import Dose, integrate
from planner.science.cycle.step import Kinetics, Members

# --- the start of a cycle


@pytest.mark.parametrize(("key", "low", "high"), [("temperature_c", 5, 40), ("salinity_sp", 0, 45), ("ph", 6, 9.5)])
def test_a_cycle_starts_in_water_up_to_the_ends_of_its_range(key: str, low: float, high: float) -> None:
    for value in (low, high):
        Start(**{key: value})  # type: ignore[arg-type]
    for value in (low - 0.01, high + 0.01):
        with pytest.raises(ValueError, match="outside"):
            Start(**{key: value})  # type: ignore[arg-type]


@pytest.mark.parametrize("key", ["volume_l", "oxygen_mg_l"])
def test_a_cycle_needs_some_water_and_some_oxygen(key: str) -> None:
    Start(**{key: 0.01})  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="positive"):
        Start(**{key: 0.0})  # type: ignore[arg-type]


def test_what_came_later_counts_from_its_day_on() -> None:
    start = Start(waters=(Water(2.0, 20.0, 30.0, 8.0), Water(5.0, 28.0, 35.0, 8.2)), later_seeds=(Seeding(3.0, "bottled"),))
    assert [(len(cut.waters), len(cut.later_seeds)) for cut in map(start.until, (1.9, 2.0, 3.0, 4.9, 5.0))] == [(0, 0), (1, 0), (1, 1), (1, 1), (2, 1)]
    assert [kinetics_at(start, t).temperature_c for t in (0, 1.9, 2, 4.9, 5, 9)] == [25, 25, 20, 20, 28, 28]
    assert [t for t, _ in climate_from_start(start)] == [2.0, 5.0] and kinetics_from_start(start).temperature_c == 25
    with pytest.raises(ValueError, match="before"):
        Start(waters=(Water(-0.1, 20.0, 30.0, 8.0),))
    Start(waters=(Water(0.0, 20.0, 30.0, 8.0),))


def test_a_member_has_two_coordinates_a_guild_and_two_more_for_die_off_and_for_later_seed() -> None:
    seed = (Seeding(3.0, "bottled"),)
    assert [Start(rock_kind=rock, later_seeds=later).dimensions for rock, later in (("none", ()), ("dry", ()), ("cured", ()), ("live", ()), ("dry", seed), ("live", seed))] == [4, 4, 6, 6, 6, 8]  # type: ignore[arg-type]
    for wrong in (np.zeros((3, 5)), np.zeros(4)):
        with pytest.raises(ValueError, match="coordinates"):
            members_from_z(Start(), wrong)


def typical(**start: object) -> Members:
    """The tank in the middle of what is believed."""
    begun = Start(**start)  # type: ignore[arg-type]
    return members_from_z(begun, np.zeros((1, begun.dimensions)))


def test_fresh_filter_media_are_worth_less_in_saltier_water_and_nothing_from_25_on() -> None:
    """About no activity of fresh-water biofilm from 25 ppt on (Kinyage, Pedersen & Pedersen 2019); whole media bring 0.3 and 0.25 mg/L (common practice, no source)."""
    none = typical().bacteria_mg_n_l[:, 0]
    brought = {salinity: typical(seed="media_fresh", salinity_sp=salinity).bacteria_mg_n_l[:, 0] - none for salinity in (0.0, 12.5, 24.9, 25.0, 35.0)}
    assert brought[0.0] == pytest.approx([0.30, 0.25]) and brought[12.5] == pytest.approx([0.15, 0.125]) and (brought[24.9] > 0).all()
    assert not brought[25.0].any() and not brought[35.0].any()
    assert typical(seed="media_marine").bacteria_mg_n_l[:, 0] - none == pytest.approx([0.30, 0.25])
    later = {seed: typical(later_seeds=(Seeding(3.0, seed),), salinity_sp=12.5).inocula[0] for seed in ("none", "media_marine", "media_fresh")}  # type: ignore[arg-type]
    assert [found[1][:, 0].tolist() for found in later.values()] == [[0, 0], pytest.approx([0.30, 0.25]), pytest.approx([0.15, 0.125])] and later["none"][0] == 3.0


def test_live_rock_sets_more_nitrogen_free_than_cured_and_dry_rock_none() -> None:
    """3 and 0.4 mg of nitrogen a litre of tank (common practice, no source)."""
    assert [typical(rock_kind=kind).pool_mg_n_l[0] for kind in ("none", "dry", "cured", "live")] == pytest.approx([0, 0, 0.4, 3.0])
    assert typical(rock_kind="live").pool_rate_per_d[0] == pytest.approx(0.2) and typical().pool_rate_per_d[0] == pytest.approx(0.3)
    assert (typical(rock_kind="cured").bacteria_mg_n_l > typical(rock_kind="live").bacteria_mg_n_l).all()


# --- the run


PLAIN = Members(np.array([[0.5], [0.5]]), np.array([[0.1], [0.1]]), np.zeros(1), np.zeros(1))


def test_a_track_has_a_row_before_and_after_each_event_and_none_beside_its_instants() -> None:
    track = integrate(PLAIN, Kinetics(), 3.0, doses=(Dose(1.0, 2.0),), at_d=(1.5,))
    assert (track.ammonia[track.row_before(1.0), 0], track.ammonia[track.rows_after(np.array([1.0]))[0], 0]) == (0.0, 2.0)
    assert track.t_d[track.row_before(1.5)] == 1.5 and track.t_d[track.row_before(3.0)] == 3.0 and track.t_d[track.row_before(0.0)] == 0.0
    for beside in (1.4, 3.1, -0.1, 1e9):
        with pytest.raises(ValueError, match="no row"):
            track.row_before(beside)


@pytest.mark.parametrize(("end", "size", "fine"), [(3.0, 1.0, True), (3.0, 1.01, False), (3.0, 0.0, False), (0.0, 0.5, False), (0.01, 0.5, True)])
def test_a_run_has_an_end_and_steps_of_at_most_a_day(end: float, size: float, fine: bool) -> None:
    if fine:
        assert integrate(PLAIN, Kinetics(), end, step_d=size).t_d[-1] == end
    else:
        with pytest.raises(ValueError, match="."):
            integrate(PLAIN, Kinetics(), end, step_d=size)


def test_what_is_put_in_rots_whether_or_not_there_was_anything_before() -> None:
    for pool in (0.0, 1e-6, 0.5):
        begun = Members(PLAIN.growth_per_d, np.full((2, 1), 1e-9), np.full(1, pool), np.full(1, 0.3))
        track = integrate(begun, Kinetics(), 40.0, doses=(Dose(0.0, 1.0, "food"),))
        assert track.ammonia[-1, 0] + track.nitrite[-1, 0] + track.nitrate[-1, 0] == pytest.approx(1.0 + pool, abs=0.01)
    assert integrate(PLAIN, Kinetics(), 1.0).ammonia[-1, 0] == 0


# --- a keeper's eye


def test_a_reading_of_nitrate_counts_beside_a_nitrite_of_nothing_up_to_two_days_off() -> None:
    def believed(*nitrites: tuple[float, bool]) -> bool:
        readings = [kit.KitReading(5.0, "nitrate", 4.0, 6.0), *(kit.KitReading(t, "nitrite", 0.0, 0.1) if nothing else kit.KitReading(t, "nitrite", 0.4, 0.6) for t, nothing in nitrites)]
        return 0 in kit.usable(readings)

    assert believed((5.0, True)) and believed((7.0, True)) and believed((3.0, True)) and not believed((7.1, True)) and not believed((2.9, True)) and not believed()
    assert not believed((5.0, False)) and believed((5.5, True), (6.0, False)) and not believed((5.5, False), (6.0, True)) and not believed((4.5, True), (5.5, False))


def test_one_reading_in_a_hundred_may_say_nothing() -> None:
    """A reading that cannot be is worth a mistake's one in a thousand, and is believed to be one; a sure one hardly ever is."""
    assert kit.log_likelihood(np.array([[0.0]]))[0] == pytest.approx(math.log(0.001)) and kit.log_likelihood(np.array([[1.0]]))[0] == pytest.approx(math.log(0.991))
    assert kit.mistake_share(np.array([[0.0], [1.0]]), np.ones(1)) == pytest.approx([1.0, 0.001 / 0.991])


@pytest.mark.parametrize(("minimum", "value"), [("decay_a_per_d", 0.0), ("decay_n_per_d", 0.0), ("oxygen_mg_l", 0.0), ("nh3_fraction", 0.0)])
def test_growth_stops_at_thirty_degrees_and_a_guild_without_oxygen_stands_still(minimum: str, value: float) -> None:
    Kinetics(**{minimum: value})
    assert [float(step.effective_growth_per_d(PLAIN, Kinetics(temperature_c=t, oxygen_mg_l=1e9))[0, 0]) for t in (25, 30, 31)] == pytest.approx([0.5, 0.5 * 1.1**5, 0.5 * 1.1**5], rel=1e-6)
    assert step.effective_growth_per_d(PLAIN, Kinetics(oxygen_mg_l=0.0)).tolist() == [[0], [0]]


# --- what a forecast is told


@pytest.mark.parametrize(
    ("reading", "fits"),
    [((0.0, "ammonia", 0.0, 0.1), True), ((-0.1, "ammonia", 0.0, 0.1), False), ((0.0, "ph", 0.0, 0.1), False), ((0.0, "nitrite", 0.1, 0.1), True), ((0.0, "nitrite", 0.2, 0.1), False), ((0.0, "nitrite", 5.0, math.inf), True), ((0.0, "nitrite", math.inf, math.inf), False), ((0.0, "nitrite", -0.2, 0.0), True), ((0.0, "nitrite", -0.2, -0.1), False), ((0.0, "nitrite", 0.1, 0.3, 0.3), True), ((0.0, "nitrite", 0.1, 0.3, 0.31), False), ((0.0, "nitrite", 0.1, 0.3, 0.1), True), ((0.0, "nitrite", 0.1, 0.3, 0.09), False)],
)
def test_a_reading_is_an_interval_with_its_colour_inside(reading: tuple[Any, ...], fits: bool) -> None:
    if fits:
        assert KitReading(*reading).shows_nothing is (reading[2] <= 0)
    else:
        with pytest.raises(ValueError, match="."):
            KitReading(*reading)


@pytest.mark.parametrize(("keys", "fits"), [({}, True), ({"test_every_d": 1, "passes_needed": 1}, True), ({"test_every_d": 0}, False), ({"passes_needed": 0}, False), ({"redose_mg_n_l": 0.0}, True), ({"redose_mg_n_l": -0.1}, False), ({"total_mg_n_l": -0.1}, False), ({"challenge_mg_n_l": -0.1}, False)])
def test_a_policy_tests_on_whole_days_and_gives_nothing_below_nothing(keys: dict[str, Any], fits: bool) -> None:
    if fits:
        Policy(**keys)
    else:
        with pytest.raises(ValueError, match="."):
            Policy(**keys)


@pytest.mark.parametrize(
    ("what", "fits"),
    [({"doses": (Dose(0.0, 0.0),)}, True), ({"doses": (Dose(-0.1, 1.0),)}, False), ({"doses": (Dose(0.0, -0.1),)}, False), ({"changes": (Change(0.0, 0.0),)}, True), ({"changes": (Change(0.0, 1.0),)}, True), ({"changes": (Change(0.0, 1.1),)}, False), ({"changes": (Change(0.0, -0.1),)}, False), ({"changes": (Change(-0.1, 0.5),)}, False), ({"loads": (Load(0.0, 0.0),)}, True), ({"loads": (Load(-0.1, 1.0),)}, False), ({"loads": (Load(0.0, -0.1),)}, False)],
)
def test_what_happens_to_a_tank_lies_within_its_days_and_bounds(what: dict[str, Any], fits: bool) -> None:
    if fits:
        integrate(PLAIN, Kinetics(), 1.0, **what)
    else:
        with pytest.raises(ValueError, match="needs"):
            integrate(PLAIN, Kinetics(), 1.0, **what)


def test_at_one_instant_the_change_comes_before_the_load_and_the_dose() -> None:
    track = integrate(PLAIN, Kinetics(), 2.0, doses=(Dose(0.0, 1.0), Dose(1.0, 2.0), Dose(1.0, 1.0, "nitrite")), changes=(Change(1.0, 0.5),))
    before, after = track.row_before(1.0), track.rows_after(np.array([1.0]))[0]
    assert track.ammonia[after, 0] == pytest.approx(track.ammonia[before, 0] / 2 + 2) and track.nitrite[after, 0] == pytest.approx(track.nitrite[before, 0] / 2 + 1) and track.nitrate[after, 0] == pytest.approx(track.nitrate[before, 0] / 2)
    assert track.dosed[before, 0] and not track.dosed[after, 0]


def test_warmer_water_and_later_seed_count_from_their_day_on() -> None:
    cold, seeded = Kinetics(temperature_c=15.0), replace(PLAIN, inocula=((1.0, np.full((2, 1), 5.0)),))
    warm = integrate(PLAIN, Kinetics(), 2.0, doses=(Dose(0.0, 2.0),), at_d=(1.0,))
    then_cold = integrate(PLAIN, Kinetics(), 2.0, doses=(Dose(0.0, 2.0),), at_d=(1.0,), climate=((1.0, cold),))
    assert then_cold.ammonia[then_cold.row_before(1.0), 0] == warm.ammonia[warm.row_before(1.0), 0] and then_cold.ammonia[-1, 0] > warm.ammonia[-1, 0]
    later = integrate(seeded, Kinetics(), 2.0, doses=(Dose(0.0, 2.0),), at_d=(1.0,))
    assert later.bacteria[later.row_before(1.0), 0, 0] == pytest.approx(warm.bacteria[warm.row_before(1.0), 0, 0] + 5) and later.ammonia[-1, 0] < warm.ammonia[-1, 0]
