"""The virtual tank against things outside this project: SciPy, sea-water libraries, published stoichiometry."""

from __future__ import annotations

import gsw
import numpy as np
import PyCO2SYS
import pytest
from scipy.integrate import solve_ivp

from tests.keepers.tank import ALK, NO2, NO3, OXYGEN_PER_N, POOL, TAN, WH_PER_LITRE_K, Water, nh3_share, oxygen_saturation


def cycling_tank() -> Water:
    water = Water(200.0)
    water.evaporation = 0.0
    water.seed(0.5)
    water.dose_ammonia(2.0 * 200)
    water.rot(1.0 * 200)
    return water


def test_the_fixed_steps_follow_a_stiff_solver() -> None:
    water = cycling_tank()
    share = nh3_share(water.ph, water.temperature)
    exact = solve_ivp(lambda _, y: water.slopes(y, share), (0, 1), water.y, method="LSODA", rtol=1e-9, atol=1e-11)
    water.live(1.0)
    np.testing.assert_allclose(water.y, exact.y[:, -1], rtol=2e-4, atol=2e-4)


def test_nitrogen_is_neither_made_nor_lost() -> None:
    water = cycling_tank()
    before = water.y[[TAN, NO2, NO3, POOL]].sum()
    for _ in range(30):
        water.live(1.0)
    assert water.y[[TAN, NO2, NO3, POOL]].sum() == pytest.approx(before, rel=1e-6)


def test_each_milligram_of_nitrogen_takes_the_alkalinity_of_the_textbook() -> None:
    """7.14 g of CaCO3 for each g of N without growth (wastewater handbooks): 7.14 mg / 17.85 mg per dKH = 0.400 dKH."""
    water = cycling_tank()
    alkalinity = water.alkalinity
    for _ in range(20):
        water.live(1.0)
    oxidised = water.nitrite + water.nitrate
    assert (alkalinity - water.alkalinity) / oxidised == pytest.approx(7.14 / 17.85, rel=0.01)


def test_the_oxygen_of_both_steps_is_that_of_the_textbook() -> None:
    """4.57 g of O2 for each g of N to nitrate (stoichiometry of NH4+ + 2 O2, 31.998 and 14.007 g/mol)."""
    assert sum(OXYGEN_PER_N) == pytest.approx(2 * 31.998 / 14.007, rel=1e-3)


@pytest.mark.parametrize(("alkalinity", "pco2"), [(8.0, 420), (8.0, 1000), (5.0, 650), (11.0, 500), (7.0, 1500)])
def test_ph_follows_carbonate_chemistry(alkalinity: float, pco2: float) -> None:
    """PyCO2SYS with its defaults; the straight line is good to 0.05."""
    micromol = alkalinity / 2.8 * 1000 / 1.0235
    exact = PyCO2SYS.sys(par1=micromol, par1_type=1, par2=pco2, par2_type=4, salinity=35, temperature=25, opt_pH_scale=4)["pH"]
    water = Water(100.0)
    water.y[ALK], water.carbon_dioxide = alkalinity, pco2
    assert water.ph == pytest.approx(float(exact), abs=0.06)


@pytest.mark.parametrize("temperature", [20.0, 26.0, 31.0])
def test_oxygen_saturation_is_that_of_sea_water(temperature: float) -> None:
    exact = float(gsw.O2sol_SP_pt(35.0, temperature)) * 31.998e-3 * float(gsw.rho_t_exact(35.16504, temperature, 0)) / 1000
    assert oxygen_saturation(temperature, 35.0) == pytest.approx(exact, rel=0.02)


def test_heat_for_a_litre_is_that_of_sea_water() -> None:
    joules = float(gsw.cp_t_exact(35.16504, 25, 0)) * float(gsw.rho_t_exact(35.16504, 25, 0)) / 1000
    assert pytest.approx(joules / 3600, rel=0.005) == WH_PER_LITRE_K


def test_free_ammonia_has_the_constant_of_sea_water() -> None:
    """Clegg and Whitfield 1995 as PyCO2SYS carries it, on the NBS scale, at 25 degrees C and salinity 35."""
    found = PyCO2SYS.sys(par1=2300, par1_type=1, par2=8.1, par2_type=3, salinity=35, temperature=25, total_ammonia=10, opt_pH_scale=4)
    assert nh3_share(8.1, 25.0) == pytest.approx(float(found["NH3"] / 10), rel=0.25)


def test_topping_up_with_pure_water_brings_salinity_back() -> None:
    water = Water(200.0)
    water.evaporation = 0.01
    water.live(3.0)
    assert water.salinity > 35.9
    water.top_up()
    assert water.salinity == pytest.approx(35.0, abs=0.02)


def test_a_starved_filter_needs_longer_than_a_fed_one() -> None:
    fed, starved = cycling_tank(), cycling_tank()
    for day in range(40):
        if day % 3 == 0:
            fed.dose_ammonia(1.0 * fed.litres)
            fed.y[ALK] = 8.0
        fed.live(1.0)
        starved.live(1.0)
    assert fed.proof(1.0) < 0.5 * starved.proof(1.0)


def test_without_flow_oxygen_falls_where_animals_breathe() -> None:
    water = Water(200.0)
    water.load_n, water.flow = 0.2, False
    water.live(0.5)
    assert water.oxygen < 5.0


def test_a_skeleton_takes_half_a_mole_of_calcium_for_each_equivalent() -> None:
    """CaCO3 takes two equivalents with one calcium, 40.078 g/mol (IUPAC atomic weights); 2.8039 dKH are one meq/L."""
    water = Water(100.0, calcifying=0.1)
    before = water.calcium, water.alkalinity
    water.live(10.0)
    assert before[0] - water.calcium == pytest.approx(40.078 / 2 / 2.8039, rel=1e-3)
    assert before[1] - water.alkalinity == pytest.approx(1.0, abs=0.01)


def test_a_change_moves_calcium_by_its_share() -> None:
    water, new = Water(100.0, calcium=380.0), Water(100.0, calcium=440.0)
    water.change(25.0, new)
    assert water.calcium == pytest.approx(395.0)


@pytest.mark.parametrize("growth", [(0.42, 0.36), (0.30, 0.26)])
def test_a_filter_fed_as_much_as_a_proof_every_four_days_never_uses_up_that_proof_in_one(growth: tuple[float, float]) -> None:
    """Growth follows supply: a quarter of a milligram a day grows a filter for a quarter, whatever the days. Fed twice as much it passes. The bound is
    that of the quarantine proof, a quarter of a milligram of nitrite as N."""
    def left(fed_mg_l: float, days: int) -> float:
        water = Water(40.0)
        water.growth, water.evaporation = growth, 0.0
        water.seed(0.5)
        for day in range(days):
            if day % 4 == 0:
                water.dose_ammonia(fed_mg_l * 40)
            if day % 14 == 13:
                water.y[ALK] = 8.0
            water.live(1.0)
        water.dose_ammonia(1.0 * 40)
        water.live(1.0)
        return max(water.tan, water.nitrite)

    assert min(left(1.0, days) for days in (24, 40, 60)) > 0.25
    assert left(2.0, 40) < 0.25
