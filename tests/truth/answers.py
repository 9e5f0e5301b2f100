"""What the planner answers for each quantity named in the check tables."""

from __future__ import annotations

import math
from collections.abc import Callable

from truth_table import Check

from planner.science import ammonia, dilution, dosing, evaporation, heat, salt, water
from planner.science import box as sizing

IPTS68 = 1.00024  # t(IPTS-68) = 1.00024 t(ITS-90); the check values of 1983 are on the older scale
OXYGEN_G_PER_L = 1.42905  # density of oxygen gas at 0 deg C and 1 atm


def _ratio_ipts68(s: float, t: float) -> float:
    return water.conductivity_from_salinity(s, t / IPTS68) / 42.9140


def _molal_total_fraction(ph: float, t: float, s: float) -> float:
    pk_molal = ammonia.pk_ammonium_total(t, s) + math.log10(1.0 - 0.001005 * s)
    return 1.0 / (1.0 + 10.0 ** (pk_molal - ph))


def _glass_density() -> float:
    glass_l = sizing.gross_volume_l(100, 50, 50) - sizing.inside_volume_l(100, 50, 50, 10, 0)
    return sizing.glass_mass_kg(100, 50, 50, 10) / glass_l * 1000.0


def _heat_total(
    length: float, width: float, depth: float, mm: float, t_w: float, t_a: float, rh: float
) -> float:
    return heat.heat_loss(length, width, depth, mm, water_c=t_w, room_c=t_a, relative_humidity=rh).total_w


def _surface_heat(length: float, width: float, t_w: float, t_a: float) -> float:
    return heat.heat_loss(length, width, 50, 10, water_c=t_w, room_c=t_a, relative_humidity=0.5).surface_w


NUMERIC: dict[str, Callable[..., float]] = {
    "density": water.density_kg_m3,
    "density_ipts68": lambda s, t: water.density_kg_m3(s, t / IPTS68),
    "heat_capacity": water.heat_capacity_j_kg_k,
    "heat_capacity_ipts68": lambda s, t: water.heat_capacity_j_kg_k(s, t / IPTS68),
    "sg": water.sg_from_salinity,
    "salinity_from_sg": water.salinity_from_sg,
    "salinity_from_conductivity": water.salinity_from_conductivity,
    "conductivity_ratio_ipts68": _ratio_ipts68,
    "conductivity_ipts68": lambda s, t: water.conductivity_from_salinity(s, t / IPTS68),
    "salinity_from_ratio_ipts68": lambda r, t: water.salinity_from_conductivity(r * 42.9140, t / IPTS68),
    "grams_per_litre": water.grams_per_litre_from_salinity,
    "ion_mg_per_kg": lambda s, fraction: water.grams_per_kg_from_salinity(s) * fraction * 1000.0,
    "oxygen": evaporation.oxygen_saturation_mg_l,
    "oxygen_ml_l_ipts68": lambda s, t: evaporation.oxygen_saturation_mg_l(s, t / IPTS68) / OXYGEN_G_PER_L,
    "vapour_pressure": evaporation.vapour_pressure_pa,
    "latent_heat": evaporation.latent_heat_j_kg,
    "evaporation": evaporation.evaporation_kg_m2_d,
    "pk_total": ammonia.pk_ammonium_total,
    "nbs_minus_total": ammonia.nbs_minus_total_ph,
    "percent_nh3": lambda ph, t, s: 100.0 * ammonia.nh3_fraction(ph, t, s),
    "percent_nh3_upper": lambda ph, t, s: 100.0 * ammonia.nh3_fraction_upper(ph, t, s),
    "nh3_fraction_molal_total": _molal_total_fraction,
    "ammonium_chloride": dosing.ammonium_chloride_g,
    "ammonia_solution": dosing.ammonia_solution_ml,
    "dkh_from_meq": lambda meq: meq / dosing.meq_l_from_dkh(1.0),
    "caco3_from_dkh": dosing.caco3_mg_l_from_dkh,
    "bicarbonate": dosing.bicarbonate_g,
    "bicarbonate_for_caco3": lambda litres, mg: dosing.bicarbonate_g(litres, mg / dosing.caco3_mg_l_from_dkh(1.0)),
    "carbonate": dosing.carbonate_g,
    "alkalinity_used": dosing.alkalinity_used_dkh,
    "calcium_chloride": dosing.calcium_chloride_g,
    "magnesium_chloride": dosing.magnesium_chloride_g,
    "remaining": lambda f, n: dilution.concentration_after_changes(1.0, f, int(n)),
    "salt_upper_bound": lambda: salt.SALT_PER_LITRE_MAX_G,
    "salt_lower_bound": lambda: salt.SALT_PER_LITRE_MIN_G,
    "salt_mass": salt.salt_mass_g,
    "salt_rise": lambda litres, now, to, g: salt.salt_mass_g(litres, to, g, salinity_now=now),
    "swap_percent": lambda now, to: 100.0 * salt.swap_fraction(now, to),
    "top_up_percent": lambda s, drop: evaporation.top_up_reservoir_max_l(100.0, s, max_drop_ppt=drop),
    "wall_u": heat.wall_u_w_m2_k,
    "heat_total": _heat_total,
    "surface_heat": _surface_heat,
    "heat_capacity_fresh_wh": lambda litres: heat.warm_up_wh_per_k(litres, 0.0),
    "two_heaters": lambda need, share: heat.heater_pair(need, [25, 50, 75, 100], share_each=share),
    "glass_density": _glass_density,
    "floor_force": lambda kg: sizing.floor_load(kg, 100, 50).force_kn,
    "floor_pressure": lambda kg, a, b: sizing.floor_load(kg, a, b).pressure_kn_m2,
    "circulation": sizing.circulation_l_per_h,
    "ro_hours": sizing.ro_hours,
}


def answer(check: Check) -> float:
    """The planner's number for one check."""
    if check.quantity == "species_from_n":
        return ammonia.species_mg_l_from_n(float(check.inputs[0]), check.inputs[1])  # type: ignore[arg-type]
    if check.quantity == "n_from_species":
        return float(check.inputs[0]) / ammonia.species_mg_l_from_n(1.0, check.inputs[1])  # type: ignore[arg-type]
    return NUMERIC[check.quantity](*check.numbers)
