"""Salt by weight, salinity up and down by the day, evaporation, the top-up reservoir."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.science.evaporation import (
    evaporation_kg_m2_d,
    evaporation_l_per_day,
    oxygen_saturation_mg_l,
    top_up_reservoir_max_l,
)
from planner.science.formula import OutOfRange
from planner.science.salt import (
    fresh_water_for_mix_l,
    lower_salinity_steps,
    raise_salinity_steps,
    salt_mass_g,
    swap_fraction,
)
from planner.science.water import density_kg_m3, pure_water_density_kg_m3
from tests.truth.ways_back import salinity_after_adding_water, salinity_of_mix


def test_at_35_the_salt_is_litres_times_grams_per_litre() -> None:
    assert salt_mass_g(120, 35, 38) == pytest.approx(4560)


def test_half_the_salinity_takes_a_little_less_than_half_the_salt() -> None:
    half = salt_mass_g(100, 17.5) / salt_mass_g(100, 35)
    assert 0.49 < half < 0.5


@pytest.mark.parametrize("grams", [35.8, 35.0, 42.6])
def test_grams_per_litre_that_no_salt_can_have_are_refused(grams: float) -> None:
    with pytest.raises(OutOfRange, match=r"35\.9 to 42\.5"):
        salt_mass_g(100, 35, grams)


def test_salt_cannot_lower_salinity() -> None:
    with pytest.raises(OutOfRange):
        salt_mass_g(100, 33, salinity_now=35)


@given(salinity=st.floats(1, 41), grams=st.floats(35.9, 42.5), litres=st.floats(1, 2000))
def test_a_mix_comes_out_at_the_salinity_it_was_weighed_for(
    salinity: float, grams: float, litres: float
) -> None:
    assert salinity_of_mix(salt_mass_g(litres, salinity, grams), litres, grams) == pytest.approx(
        salinity, abs=1e-6
    )


def test_water_and_salt_together_weigh_what_the_finished_water_weighs() -> None:
    fresh_kg = fresh_water_for_mix_l(100, 35, 38) * pure_water_density_kg_m3(25) / 1000
    assert fresh_kg + salt_mass_g(100, 35, 38) / 1000 == pytest.approx(100 * density_kg_m3(35, 25) / 1000)
    assert 98 < fresh_water_for_mix_l(100, 35, 38) < 100


def test_raising_keeps_to_the_daily_limit_and_adds_up() -> None:
    steps = raise_salinity_steps(100, 32, 35, daily_limit_ppt=1)
    assert [s.day for s in steps] == [1, 2, 3]
    assert all(b - a <= 1 + 1e-9 for a, b in pairwise([32, *(s.salinity_to for s in steps)]))
    assert sum(s.salt_g for s in steps) == pytest.approx(salt_mass_g(100, 35, salinity_now=32))
    assert steps[-1].salinity_to == 35


def test_a_change_just_above_the_limit_takes_another_day() -> None:
    assert len(raise_salinity_steps(100, 34, 35.01, daily_limit_ppt=1)) == 2
    assert len(lower_salinity_steps(100, 35.01, 34, daily_limit_ppt=1)) == 2


def test_nothing_to_correct_is_no_step() -> None:
    assert raise_salinity_steps(100, 35, 35, daily_limit_ppt=1) == ()
    assert lower_salinity_steps(100, 35, 35, daily_limit_ppt=1) == ()


def test_each_swap_lands_where_it_says() -> None:
    steps = lower_salinity_steps(200, 38, 35, daily_limit_ppt=1)
    now = 38.0
    for step in steps:
        now *= 1 - step.fraction
        assert step.salinity_to == pytest.approx(now)
        assert step.swap_l == pytest.approx(200 * step.fraction)
    assert now == pytest.approx(35)


def test_a_swap_with_weaker_sea_water_is_larger_than_one_with_fresh_water() -> None:
    assert swap_fraction(38, 35, 30) == pytest.approx(0.375)
    assert swap_fraction(38, 35) == pytest.approx(3 / 38)
    with pytest.raises(OutOfRange):
        swap_fraction(38, 29, 30)


def test_the_whole_top_up_reservoir_costs_exactly_the_allowed_drop() -> None:
    reservoir = top_up_reservoir_max_l(165, 35, max_drop_ppt=1)
    assert salinity_after_adding_water(35, 165, reservoir) == pytest.approx(34, abs=1e-9)


def test_a_lid_and_damp_air_slow_evaporation_and_moving_water_speeds_it() -> None:
    still = evaporation_l_per_day(100, 50, 26, 22, 0.5)
    assert evaporation_l_per_day(100, 50, 26, 22, 0.5, open_fraction=0.2) == pytest.approx(0.2 * still)
    assert evaporation_l_per_day(100, 50, 26, 22, 0.5, surface_factor=2) == pytest.approx(2 * still)
    assert evaporation_l_per_day(100, 50, 26, 22, 0.8) < still


def test_water_still_evaporates_when_the_room_is_as_warm_and_never_backwards() -> None:
    assert evaporation_kg_m2_d(26, 26, 0.5) > 1
    assert evaporation_kg_m2_d(26, 30, 0.4) > 1
    assert evaporation_kg_m2_d(20, 35, 1.0) == 0


def test_oxygen_falls_with_altitude_warmth_and_salt() -> None:
    here = oxygen_saturation_mg_l(35, 25)
    assert oxygen_saturation_mg_l(35, 25, 90e3) == pytest.approx(
        here * (90000 - 3108) / (101325 - 3108), rel=1e-3
    )
    assert oxygen_saturation_mg_l(35, 28) < here < oxygen_saturation_mg_l(0, 25)


def test_nothing_to_change_swaps_nothing() -> None:
    assert swap_fraction(35, 35) == 0 == swap_fraction(35, 35, 35)
    assert swap_fraction(36, 35, 0) == pytest.approx(1 / 36) and swap_fraction(36, 0, 0) == 1
