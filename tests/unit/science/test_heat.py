"""Heat: the balance, the pair of heaters, the time to warm up."""


import pytest

from planner.science.formula import OutOfRange
from planner.science.heat import heat_loss, heater_pair, wall_u_w_m2_k, warm_up_hours, warm_up_wh_per_k

WATTAGES = (25, 50, 75, 100, 150, 200, 300)


def loss_w(**changes: float) -> float:
    box = {"water_c": 26.0, "room_c": 20.0, "relative_humidity": 0.5} | changes
    return heat_loss(80, 40, 40, 8, **box).total_w


def test_a_cooler_room_a_dry_room_and_an_open_top_cost_heat() -> None:
    assert loss_w(room_c=18) > loss_w() > loss_w(room_c=22)
    assert loss_w(relative_humidity=0.3) > loss_w()
    assert loss_w(open_fraction=0.1) < loss_w()


def test_evaporation_is_a_third_to_a_half_of_an_open_tanks_loss() -> None:
    loss = heat_loss(80, 40, 40, 8, water_c=26, room_c=20, relative_humidity=0.5)
    assert 0.33 < loss.evaporation_w / loss.total_w < 0.5


def test_a_room_warmer_than_the_water_needs_no_heater() -> None:
    loss = heat_loss(80, 40, 40, 8, water_c=25, room_c=32, relative_humidity=0.9)
    assert loss.walls_w < 0 and loss.surface_w < 0
    assert loss.total_w == 0


def test_no_difference_is_no_dry_loss() -> None:
    loss = heat_loss(80, 40, 40, 8, water_c=25, room_c=25, relative_humidity=0.5)
    assert loss.walls_w == 0
    assert loss.surface_w == pytest.approx(0, abs=1e-9)


def test_acrylic_insulates_better_than_glass() -> None:
    assert wall_u_w_m2_k(10, glass_conductivity_w_m_k=0.18) < wall_u_w_m2_k(10)


def test_a_wall_passes_heat_by_its_three_resistances_in_a_row() -> None:
    """EN ISO 6946: U = 1/(1/h + d/k + R_s); 10 mm of glass of 1 W/mK between a film of 500 W/m2K and 0.13 m2K/W."""
    u = wall_u_w_m2_k(10, glass_conductivity_w_m_k=1.0, inner_film_w_m2_k=500, outer_resistance_m2_k_w=0.13)
    assert u == pytest.approx(1 / (0.002 + 0.010 + 0.130))


@pytest.mark.parametrize(("need", "each"), [(100, 75), (125, 75), (126, 100), (41, 25), (500, 300)])
def test_each_heater_covers_at_least_three_fifths(need: float, each: float) -> None:
    assert heater_pair(need, WATTAGES) == each
    assert each / need >= 0.6


def test_a_need_beyond_the_list_is_refused() -> None:
    with pytest.raises(OutOfRange):
        heater_pair(501, WATTAGES)
    assert heater_pair(0, WATTAGES) == min(WATTAGES)


def test_warming_without_loss_is_energy_over_power() -> None:
    assert warm_up_hours(100, 18, 26, 200) == pytest.approx(warm_up_wh_per_k(100, 35, 22) * 8 / 200)


def test_loss_to_the_room_slows_warming_as_a_step_by_step_sum_shows() -> None:
    hours = warm_up_hours(100, 18, 26, 200, room_c=18, loss_w_per_k=10)
    capacity_wh_k, t, step_h = warm_up_wh_per_k(100, 35, 22), 18.0, 0.001
    elapsed = 0.0
    while t < 26:
        t += (200 - 10 * (t - 18)) / capacity_wh_k * step_h
        elapsed += step_h
    assert hours == pytest.approx(elapsed, rel=1e-3)


def test_a_heater_too_weak_for_the_target_is_refused() -> None:
    with pytest.raises(OutOfRange, match="heater"):
        warm_up_hours(100, 18, 26, 79, room_c=18, loss_w_per_k=10)


def test_a_dry_surface_loses_by_moved_air_and_by_radiation() -> None:
    """One square metre at 26 in a room of 20: radiation of a grey body of 0.95 by Stefan and Boltzmann (CODATA 2018), moved air as 1.52 W/(m2 K^(4/3))."""
    radiation = 0.95 * 5.670374419e-8 * (299.15**4 - 293.15**4)
    assert heat_loss(100, 100, 40, 8, water_c=26, room_c=20, relative_humidity=0.5).surface_w == pytest.approx(radiation + 1.52 * 6 ** (4 / 3), rel=1e-6)
