"""The formulas of water, gas and heat far from 25 °C and 35, and every choice at its limit, against values that others worked out.

Ammonia, the pH scales, carbon dioxide and aragonite: PyCO2SYS 1.8.3.4 (Clegg & Whitfield 1995; fH of Takahashi 1982; Lueker 2000, Mucci 1983). Steam: iapws 1.5.5
(IAPWS-IF97). Other figures say where they are from."""

from __future__ import annotations

import pytest

from planner.science import ammonia, box, dilution, dosing, evaporation, heat, molar, reef_air, salt, salts, trouble, use, water
from planner.science.cycle import step
from planner.science.cycle.step import alkalinity_factor, ph_factor
from planner.science.formula import OutOfRange


@pytest.mark.parametrize(
    ("celsius", "salinity", "pk", "shift"),
    [(5, 5, 9.896966, 0.134302), (5, 40, 9.978577, 0.084063), (15, 20, 9.565538, 0.134194), (25, 35, 9.245847, 0.136984), (35, 5, 8.906821, 0.171438), (35, 40, 8.917753, 0.158259)],
)
def test_ammonia_and_the_two_ph_scales_hold_from_cold_and_weak_to_warm_and_strong(celsius: float, salinity: float, pk: float, shift: float) -> None:
    assert ammonia.pk_ammonium_total(celsius, salinity) == pytest.approx(pk, abs=2e-6)
    assert ammonia.nbs_minus_total_ph(celsius, salinity) == pytest.approx(shift, abs=2e-6)
    assert ammonia.pk_ammonium_nbs(celsius, salinity) == pytest.approx(pk + shift, abs=4e-6)
    assert ammonia.nh3_fraction(8.0, celsius, salinity) == pytest.approx(1 / (1 + 10 ** (pk + shift - 8.0)), rel=1e-5)


@pytest.mark.parametrize(
    ("celsius", "salinity", "dkh", "ph", "calcium", "pco2", "omega"),
    [(15, 25, 4, 7.2, 200, 2857.7, 0.0983), (15, 40, 12, 8.8, 600, 100.84, 16.077), (25, 35, 8, 8.2, 420, 460.57, 4.247), (32, 25, 12, 7.6, 420, 3909.6, 2.904), (32, 40, 6, 8.6, 300, 88.29, 4.175)],
)
def test_gas_and_chalk_hold_from_cold_and_weak_to_warm_and_strong(celsius: float, salinity: float, dkh: float, ph: float, calcium: float, pco2: float, omega: float) -> None:
    """The fugacity of PyCO2SYS, which leaves out that carbon dioxide is no ideal gas: a third of a hundredth."""
    assert reef_air.pco2_uatm(dkh, ph, celsius, salinity) == pytest.approx(pco2, rel=3e-4)
    assert reef_air.aragonite_saturation(dkh, calcium, ph, celsius, salinity) == pytest.approx(omega, rel=2e-3)


@pytest.mark.parametrize(("celsius", "pascal", "joule"), [(10, 1228.18, 2477209), (26, 3363.69, 2439334), (40, 7384.43, 2406001), (60, 19945.8, 2357691)])
def test_steam_is_as_the_tables_have_it(celsius: float, pascal: float, joule: float) -> None:
    assert evaporation.vapour_pressure_pa(celsius) == pytest.approx(pascal, rel=1e-5)
    assert evaporation.latent_heat_j_kg(celsius) == pytest.approx(joule, rel=3e-4)


def test_a_room_much_warmer_than_the_water_still_takes_half_of_the_pool_form() -> None:
    """ASHRAE's pool form in its own units, lb/(h ft2 inHg): m = 0.1 AF (p_w - p_a), AF 0.5 (from memory), over fresh water at 20 °C in dry air of 40 °C."""
    per_hour_ft2 = 0.1 * 0.5 * 2339.2 / 3386.389
    assert evaporation.evaporation_kg_m2_d(20, 40, 0.0, salinity=0) == pytest.approx(per_hour_ft2 * 0.45359237 * 24 / 0.09290304, rel=1e-3)


# IUPAC 2021, abridged to five digits, from memory. Each formula is written out, so that no mass of ours stands behind it.
H, C, N, OX, NA, MG, P, S, CL, CA = 1.0080, 12.011, 14.007, 15.999, 22.990, 24.305, 30.974, 32.06, 35.45, 40.078


@pytest.mark.parametrize(
    ("ours", "atoms"),
    [(molar.N, N), (molar.NH3, N + 3 * H), (molar.NH4, N + 4 * H), (molar.NO2, N + 2 * OX), (molar.NO3, N + 3 * OX), (molar.P, P), (molar.PO4, P + 4 * OX), (molar.O2, 2 * OX), (molar.CL2, 2 * CL), (molar.CA, CA), (molar.MG, MG),
     (molar.CAO, CA + OX), (molar.CACO3, CA + C + 3 * OX), (molar.CAOH2, CA + 2 * (OX + H)), (molar.NAHCO3, NA + H + C + 3 * OX), (molar.NA2CO3, 2 * NA + C + 3 * OX), (molar.NH4CL, N + 4 * H + CL), (molar.CACL2, CA + 2 * CL),
     (molar.CACL2_2H2O, CA + 2 * CL + 2 * (2 * H + OX)), (molar.MGCL2_6H2O, MG + 2 * CL + 6 * (2 * H + OX)), (molar.MGSO4_7H2O, MG + S + 4 * OX + 7 * (2 * H + OX)), (molar.THIOSULFATE_5H2O, 2 * NA + 2 * S + 3 * OX + 5 * (2 * H + OX))],
)
def test_a_molecule_weighs_what_its_atoms_weigh(ours: float, atoms: float) -> None:
    assert ours == pytest.approx(atoms, rel=1e-4)


def test_further_salts_by_their_molecules() -> None:
    """100 L, worked by hand: one dKH of lime is 37.05 g/eq / 2.804; 10 mg/L of calcium 110.98/40.08; of magnesium 246.47/24.305; two thiosulfates a chlorine are 7.0 mg for 1."""
    assert salts.lime_g(100, 1) == pytest.approx(1.3213, rel=1e-3) and salts.calcium_anhydrous_g(100, 10) == pytest.approx(2.769, rel=1e-3)
    assert salts.magnesium_sulfate_g(100, 10) == pytest.approx(10.141, rel=1e-3) and salts.calcium_with_alkalinity_mg_l(1) == pytest.approx(7.147, rel=1e-3)
    assert salts.thiosulfate_mg(10, 1) == pytest.approx(70.0, rel=1e-3) and salts.thiosulfate_mg(10, 1, least=True) == pytest.approx(8.75, rel=1e-3)
    chloride, sulfate = salts.magnesium_mix_g(100, 10)
    assert chloride / 203.30 + sulfate / 246.47 == pytest.approx(1 / 24.305, rel=1e-4)
    # Reference sea salt (Millero 2008): 0.5503396 of chloride and 0.0771319 of sulfate by mass.
    assert sulfate / 246.47 / (2 * chloride / 203.30) == pytest.approx(0.0771319 / 96.06 / (0.5503396 / 35.45), rel=2e-3)
    assert salts.value_at_35(420, 35) == 420 and salts.value_at_35(360, 30) == 420


@pytest.mark.parametrize(
    ("formula", "ends"),
    [(lambda v: salts.lime_g(100, v), (0, 15)), (lambda v: salts.calcium_anhydrous_g(100, v), (0, 300)), (lambda v: salts.magnesium_sulfate_g(100, v), (0, 1000)), (lambda v: salts.calcium_with_alkalinity_mg_l(v), (0, 15)), (lambda v: salts.thiosulfate_mg(v, 1), (0, 1000)), (lambda v: salts.thiosulfate_mg(10, v), (0, 10)),
     (lambda v: salts.value_at_35(420, v), (5, 60)), (lambda v: salts.lime_g(v, 1), (0, 100_000)), (lambda v: trouble.ice_cooling_k(v, 100, 26), (0, 100)), (lambda v: trouble.ice_cooling_k(1, v, 26), (1, 10_000)), (lambda v: trouble.topup_reservoir_days(10, v, 2), (2, 60)), (lambda v: trouble.weeks_left(10, 1, 2, v), (0, 1)),
     (lambda v: reef_air.pco2_uatm(8, v), (7, 9)), (lambda v: reef_air.pco2_uatm(v, 8.2), (0.5, 30)), (lambda v: reef_air.pco2_uatm(8, 8.2, v), (15, 32)), (lambda v: reef_air.pco2_uatm(8, 8.2, 25, v), (25, 40)), (lambda v: reef_air.aragonite_saturation(8, v, 8.2), (100, 1000)), (lambda v: reef_air.aragonite_saturation(8, 420, v), (7, 9)),
     (lambda v: use.level_band(8, 0.1, 1, 0.1, 1, v), (0, 60)), (lambda v: use.most_use_held(8, 7, v), (0, 1)), (lambda v: use.leak_l_day(100, v, 0.1), (1, 45)), (lambda v: use.next_dose(1, None, first_share=v, most_step=0.2, most=9), (0, 1)), (lambda v: use.next_dose(1, 1, first_share=0.5, most_step=v, most=9), (0, 1)),
     (lambda v: heat.warm_up_hours(100, v, 40, 300), (0, 40)), (lambda v: heat.warm_up_hours(100, 0, v, 300), (0, 40)), (lambda v: heat.heat_loss(80, 40, v, 8, water_c=26, room_c=20, relative_humidity=0.5), (1, 500)), (lambda v: salt.salt_mass_g(100, 42, salinity_now=v), (0, 42)), (lambda v: salt.swap_fraction(v, v), (0, 42)), (lambda v: salt.swap_fraction(42, 42, v), (0, 42)),
     (lambda v: salt.lower_salinity_steps(100, v, 0, daily_limit_ppt=1), (0, 42)), (lambda v: ammonia.species_mg_l_from_n(v, "NO3"), (0, 10_000)), (lambda v: evaporation.top_up_reservoir_max_l(100, v, max_drop_ppt=1), (1.1, 42)), (lambda v: water.salinity_from_hydrometer(1.0244, 25, scale_temperature_c=15.56, reference_temperature_c=15.56, glass_expansion_per_k=v), (0, 300e-6))],
)
def test_further_formulas_hold_up_to_the_ends_of_their_range_and_no_further(formula, ends: tuple[float, float]) -> None:  # type: ignore[no-untyped-def]
    low, high = ends
    formula(low)
    formula(high)
    for beyond in (low - (high - low) / 1000, high + (high - low) / 1000):
        with pytest.raises(OutOfRange):
            formula(beyond)


def test_ice_and_days_of_heat_and_a_reservoir_by_hand() -> None:
    """1 kg from -18 °C to 26: 2.1 x 18 + 334 + 4.19 x 26 = 480.7 kJ; 100 L of sea water take 113.7 Wh a degree, so 1.174 degrees."""
    assert trouble.ice_cooling_k(1, 100, 26) == pytest.approx(480.74 / 3.6 / 113.7, rel=1e-4)
    assert trouble.heat_memory([1.0] * 7) == 1.0 and trouble.heat_memory([0.99] * 7) == 0 and trouble.heat_memory([7.0, *[0.0] * 83]) == 1.0 and trouble.heat_memory([7.0, *[0.0] * 84]) == 0
    assert trouble.topup_reservoir_days(100, 35, 2) == pytest.approx(100 * (35 / 34 - 1) / 2) and trouble.weeks_left(10, 1, 3) == 3 and trouble.weeks_left(10, 1, 2, 0.5) == 2


@pytest.mark.parametrize(("ph", "left"), [(9, 1), (7.2, 1), (7.1, 0.9167), (6.7, 0.5835), (6.1, 0.0837), (6.05, 0.05), (6, 0.05)])
def test_sour_water_slows_the_filter_by_the_line_of_the_design_manuals(ph: float, left: float) -> None:
    """1 - 0.833 (7.2 - pH), never under a twentieth: Downing et al. 1964, US EPA 1975 (from memory)."""
    assert ph_factor(ph) == pytest.approx(left, abs=1e-4)


@pytest.mark.parametrize(("dkh", "left"), [(None, 1), (8, 1), (12, 1), (7.9, 0.9981), (4, 0.8704), (1.4, 0.5875), (0.1, 0.0783), (0, 0.02), (-1, 0.02)])
def test_flat_water_slows_the_first_step(dkh: float | None, left: float) -> None:
    """Monod with 0.5 meq/L, 1.4 dKH, as a share of the speed at 8 dKH (ASM2d, Henze et al. 1999; from memory)."""
    assert alkalinity_factor(dkh) == pytest.approx(left, abs=1e-4)


def test_free_ammonia_of_the_filter_follows_its_equation() -> None:
    """Bell et al. 2008 at 20 °C and 30: pKa = 10.0423 - 0.631072 + 0.09213 = 9.50336."""
    assert step.nh3_fraction_from_ph(9.50336, 20, 30) == pytest.approx(0.5, abs=1e-5) and step.nh3_fraction_from_ph(8.50336, 20, 30) == pytest.approx(1 / 11, rel=1e-4)


# --- use of what a tank takes up


BEGUN = use.State(0, 8.0, 0.2, 0.01, 0.004, 0.0025)


def test_what_is_believed_together_moves_together() -> None:
    """Kalman's prediction by hand with a covariance: P = F P F' + Q, F = [[1, -t], [0, 1]], Q = 0.02^2 [[t^3/3, -t^2/2], [-t^2/2, t]]."""
    later = use.follow(BEGUN, (), until=2)
    assert later.p_level == pytest.approx(0.01 - 2 * 2 * 0.004 + 4 * 0.0025 + 0.0004 * 8 / 3)
    assert later.p_both == pytest.approx(0.004 - 2 * 0.0025 - 0.0004 * 4 / 2) and later.level == pytest.approx(7.6)
    read = use.follow(BEGUN, [use.Sample(0, 8.2, 0.1)])
    assert (read.level, read.use) == (pytest.approx(8.1), pytest.approx(0.2 + 0.2 * 0.2)) and read.p_both == pytest.approx(0.002) and read.p_use == pytest.approx(0.0025 - 0.2 * 0.004)


def test_a_dose_is_known_to_a_twentieth_unless_it_is_said_otherwise() -> None:
    dosed = use.follow(BEGUN, (), [use.Dose(0, 1.0)])
    assert dosed.p_level == pytest.approx(0.01 + 0.05**2) and use.follow(BEGUN, (), [use.Dose(0, 1.0)], dose_error=0.0).p_level == pytest.approx(0.01)


@pytest.mark.parametrize(("off", "kept_apart"), [(0.42, False), (0.43, True), (-0.42, False), (-0.43, True)])
def test_a_reading_is_doubted_from_three_standard_errors_on(off: float, kept_apart: bool) -> None:
    """The error of a level of 0.1 and a reading of 0.1 is 0.1414: three of them are 0.424."""
    found = use.follow(BEGUN, [use.Sample(0, 8.0 + off, 0.1)])
    assert bool(found.doubted) is kept_apart and (found.level == 8.0) is kept_apart


@pytest.mark.parametrize(("second", "agrees"), [(6.22, True), (6.23, False), (5.38, True), (5.37, False)])
def test_a_second_doubted_reading_sets_the_level_within_three_errors_of_the_first_and_its_use(second: float, agrees: bool) -> None:
    """6.0 falls to 5.8 in a day; two readings of 0.1 differ by 0.1414, three of which are 0.424."""
    found = use.follow(BEGUN, [use.Sample(0, 6.0, 0.1), use.Sample(1, second, 0.1)])
    assert (found.doubted == ()) is agrees
    if agrees:
        assert (found.level, found.p_level, found.p_both, found.use) == (second, pytest.approx(0.01), 0.0, 0.2) and found.p_use == pytest.approx(0.04)


def test_what_happened_before_the_belief_does_not_move_it_and_what_happened_with_it_does() -> None:
    start = use.State(5, 8.0, 0.2, 0.01, 0.0, 0.0025)
    assert use.follow(start, (), [use.Dose(4.9, 1.0)]).level == 8.0 and use.follow(start, (), [use.Dose(5, 1.0)]).level == 9.0
    assert use.follow(start, (), until=4).t == 5 and use.follow(start, (), until=6).t == 6


# --- doses and waters by hand


def test_doses_of_the_cycle_and_of_the_reef_by_their_molecules() -> None:
    """IUPAC weights, abridged: NH4Cl 53.491, NaHCO3 84.007, Na2CO3 105.99, CaCl2.2H2O 147.01, MgCl2.6H2O 203.30, CaCO3 100.09; CaO 56.08: 2.804 dKH a meq."""
    assert dosing.ammonium_chloride_g(100, 10) == pytest.approx(3.819, rel=1e-3) == dosing.ammonium_chloride_g(100, 5, 0.5) and dosing.n_rise_mg_l(3.819, 100) == pytest.approx(10, rel=1e-3) and dosing.n_rise_mg_l(3.819, 100, 0.5) == pytest.approx(5, rel=1e-3)
    assert dosing.ammonia_solution_ml(100, 10, 5, 0.98) == pytest.approx(1000 * 17.031 / 14.007 / 49, rel=1e-3)
    assert dosing.bicarbonate_g(100, 1) == pytest.approx(2.996, rel=1e-3) and dosing.bicarbonate_g(100, 1, 0.5) == pytest.approx(5.992, rel=1e-3) and dosing.carbonate_g(100, 1) == pytest.approx(1.890, rel=1e-3)
    assert dosing.calcium_chloride_g(100, 10) == pytest.approx(3.668, rel=1e-3) and dosing.magnesium_chloride_g(100, 10) == pytest.approx(8.365, rel=1e-3)
    assert dosing.meq_l_from_dkh(2.804) == pytest.approx(1, rel=1e-3) and dosing.caco3_mg_l_from_dkh(2.804) == pytest.approx(50.04, rel=1e-3) and dosing.alkalinity_used_dkh(14.007) == pytest.approx(5.608, rel=1e-3)


# TEOS-10 (IOC, SCOR & IAPSO 2010) at 35 and one atmosphere: 1023.34 kg/m3 at 25 °C, 35.165 g/kg, cp 3.99 kJ/kg/K (from memory); PSS-78: 42.914 mS/cm at 15 °C.
def test_sea_water_by_its_tables() -> None:
    assert water.density_kg_m3(35, 25) == pytest.approx(1023.34, abs=0.02) and water.pure_water_density_kg_m3(25) == pytest.approx(997.05, abs=0.02) and water.grams_per_kg_from_salinity(35) == pytest.approx(35.165, abs=1e-3)
    assert water.grams_per_litre_from_salinity(35) == pytest.approx(35.165 * 1.02334, abs=2e-3) and water.grams_per_litre_from_salinity(35, 15) == pytest.approx(35.165 * 1.02597, abs=2e-3)
    assert water.conductivity_from_salinity(35, 15) == pytest.approx(42.914, abs=5e-3) and water.salinity_from_conductivity(53.06) == pytest.approx(35, abs=0.02) and water.heat_capacity_j_kg_k(35, 25) == pytest.approx(3994, abs=6)
    assert water.sg_from_salinity(35) == pytest.approx(1023.34 / 997.05, abs=5e-5) and evaporation.oxygen_saturation_mg_l(35, 25) == pytest.approx(6.75, abs=0.03)


def test_a_box_and_a_floor_by_hand() -> None:
    """9.80665 m/s2 (3rd CGPM 1901)."""
    with pytest.raises(OutOfRange):
        box.inside_volume_l(5, 80, 40, 25, 0)
    assert box.inside_volume_l(5.1, 80, 40, 25, 0) == pytest.approx(0.1 * 75 * 37.5 / 1000) == box.inside_volume_l(80, 5.1, 40, 25, 0)
    assert box.displaced_l(10, 10) == pytest.approx(8.8) and box.net_volume_l(100, 10, 10, 20) == pytest.approx(111.2) and box.ro_hours(100, 190) == pytest.approx(100 / 190 * 24 * 1.5) and box.circulation_l_per_h(100, 10) == 1000
    load = box.floor_load(1000, 100, 100)
    assert (load.force_kn, load.pressure_kn_m2) == (pytest.approx(9.80665), pytest.approx(9.80665)) and "unknown build" in load.advice and "suspended" in box.floor_load(1000, 100, 100, "suspended").advice


def test_a_change_of_water_by_hand() -> None:
    assert dilution.concentration_after_changes(20, 0.5, 2) == 5 and dilution.concentration_after_changes(20, 0.5, 1, 10) == 15 and dilution.change_fraction(20, 5) == 0.75 and dilution.change_fraction(20, 15, 10) == 0.5
    assert [dilution.changes_needed(20, target, 0.5) for target in (20, 10, 9.9, 5, 4.9)] == [0, 1, 2, 2, 3] and dilution.equal_change_fraction(20, 5, 2) == pytest.approx(0.5)
    assert [round(s.after, 6) for s in dilution.water_change_series(100, 20, 5, 50)] == [10, 5] and len(dilution.water_change_series(100, 20, 20, 50)) == 0
