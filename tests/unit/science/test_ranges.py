"""Each formula takes both ends of the range that its text names, and refuses what lies a little beyond."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import pytest

from planner.science import ammonia, box, dilution, dosing, evaporation, heat, salt, water
from planner.science.formula import OutOfRange

WALL = partial(heat.wall_u_w_m2_k, glass_mm=10)
LOSS = partial(heat.heat_loss, length_cm=80, width_cm=40, water_depth_cm=36, glass_mm=8, water_c=26, room_c=21, relative_humidity=0.5)
WARM = partial(heat.warm_up_hours, volume_l=100, start_c=18, target_c=26, heater_w=300)
RATE = partial(evaporation.evaporation_kg_m2_d, water_c=26, room_c=22, relative_humidity=0.5)
SURFACE = partial(evaporation.evaporation_l_per_day, length_cm=80, width_cm=40, water_c=26, room_c=22, relative_humidity=0.5)
FREE = partial(ammonia.free_ammonia, total_n_mg_l=1, ph_nbs=8.2, temperature_c=25, salinity=35)

ENDS: tuple[tuple[Callable[..., object], str, float, float], ...] = (
    *((partial(box.gross_volume_l, length_cm=80, width_cm=40, height_cm=40), side, 5, 1000) for side in ("length_cm", "width_cm", "height_cm")),
    (partial(box.water_depth_cm, height_cm=40, glass_mm=8), "waterline_cm", 0, 39.2),
    (partial(box.water_depth_cm, height_cm=40, waterline_cm=3), "glass_mm", 2, 40),
    (partial(box.inside_volume_l, length_cm=80, width_cm=40, height_cm=40, waterline_cm=3), "glass_mm", 2, 40),
    (partial(box.sand_mass_kg, depth_cm=5), "area_cm2", 0, 1e6),
    (partial(box.sand_mass_kg, area_cm2=3200), "depth_cm", 0, 30),
    (partial(box.sand_mass_kg, area_cm2=3200, depth_cm=5), "bulk_density_kg_l", 0.8, 2.2),
    (partial(box.displaced_l, sand_kg=0), "rock_kg", 0, 50_000),
    (partial(box.displaced_l, rock_kg=0), "sand_kg", 0, 50_000),
    *((partial(box.displaced_l, rock_kg=10, sand_kg=10), f"{what}_displacement_l_per_kg", 0.3, 1) for what in ("rock", "sand")),
    (box.net_volume_l, "inside_l", 0, 100_000),
    (partial(box.net_volume_l, inside_l=100), "sump_l", 0, 100_000),
    (partial(box.glass_mass_kg, length_cm=80, width_cm=40, height_cm=40, glass_mm=8), "density_kg_m3", 1100, 2700),
    (partial(box.circulation_l_per_h, volume_l=100), "turnover_per_h", 0, 100),
    (partial(box.circulation_l_per_h, turnover_per_h=10), "volume_l", 0, 100_000),
    (partial(box.ro_hours, litres=100), "nameplate_l_per_day", 10, 5000),
    (partial(box.ro_hours, litres=100, nameplate_l_per_day=190), "cold_factor", 1, 4),
    (partial(box.ro_hours, nameplate_l_per_day=190), "litres", 0, 100_000),
    (evaporation.vapour_pressure_pa, "temperature_c", 0, 60),
    (evaporation.latent_heat_j_kg, "temperature_c", 0, 60),
    (RATE, "water_c", 5, 40), (RATE, "room_c", 5, 40), (RATE, "relative_humidity", 0, 1), (RATE, "salinity", 0, 42), (RATE, "surface_factor", 0.5, 4),
    (SURFACE, "length_cm", 5, 1000), (SURFACE, "width_cm", 5, 1000), (SURFACE, "open_fraction", 0, 1),
    (partial(evaporation.top_up_reservoir_max_l, net_volume_l=100), "max_drop_ppt", 0.1, 10),
    (partial(evaporation.oxygen_saturation_mg_l, salinity=35, temperature_c=25), "pressure_pa", 70e3, 110e3),
    (partial(evaporation.oxygen_saturation_mg_l, temperature_c=25), "salinity", 0, 42),
    (partial(evaporation.oxygen_saturation_mg_l, salinity=35), "temperature_c", 0, 40),
    (heat.wall_u_w_m2_k, "glass_mm", 2, 40), (WALL, "glass_conductivity_w_m_k", 0.1, 1.5), (WALL, "inner_film_w_m2_k", 50, 2000), (WALL, "outer_resistance_m2_k_w", 0.05, 0.25),
    (LOSS, "length_cm", 5, 1000), (LOSS, "width_cm", 5, 1000), (LOSS, "water_c", 5, 40), (LOSS, "room_c", 5, 40), (LOSS, "open_fraction", 0, 1),
    (partial(heat.heater_pair, wattages_w=(25, 20_000)), "need_w", 0, 20_000),
    (partial(heat.heater_pair, need_w=100, wattages_w=(25, 300)), "share_each", 0.5, 1),
    (heat.warm_up_wh_per_k, "volume_l", 0, 100_000),
    (partial(WARM, heater_w=20_000), "loss_w_per_k", 0, 2000), (partial(WARM, target_c=18), "heater_w", 1, 20_000), (partial(WARM, loss_w_per_k=5), "room_c", 0, 40),
    (partial(dilution.concentration_after_changes, fraction=0.1, count=2), "now", 0, 1e6),
    (partial(dilution.concentration_after_changes, now=20, count=2), "fraction", 0, 1),
    (partial(dilution.equal_change_fraction, now=20, target=5), "count", 1, 10_000),
    (partial(dilution.changes_needed, now=20, target=10), "fraction", 0.001, 1),
    *((partial(formula, volume_l=100, **{rise: 1}), "purity", 0.05, 1) for formula, rise in ((dosing.ammonium_chloride_g, "rise_n_mg_l"), (dosing.bicarbonate_g, "rise_dkh"))),
    (partial(dosing.ammonium_chloride_g, volume_l=100), "rise_n_mg_l", 0, 20),
    (partial(dosing.n_rise_mg_l, volume_l=100), "ammonium_chloride_g", 0, 100_000),
    (partial(dosing.ammonia_solution_ml, volume_l=100, percent_by_mass=5, density_kg_l=0.98), "rise_n_mg_l", 0, 20),
    (partial(dosing.ammonia_solution_ml, volume_l=100, rise_n_mg_l=2, density_kg_l=0.98), "percent_by_mass", 1, 10),
    (partial(dosing.ammonia_solution_ml, volume_l=100, rise_n_mg_l=2, percent_by_mass=5), "density_kg_l", 0.9, 1),
    (dosing.meq_l_from_dkh, "alkalinity_dkh", 0, 50),
    (partial(dosing.bicarbonate_g, volume_l=100), "rise_dkh", 0, 15), (partial(dosing.carbonate_g, volume_l=100), "rise_dkh", 0, 15),
    (dosing.alkalinity_used_dkh, "oxidised_n_mg_l", 0, 100),
    (partial(dosing.calcium_chloride_g, volume_l=100), "rise_ca_mg_l", 0, 300), (partial(dosing.magnesium_chloride_g, volume_l=100), "rise_mg_mg_l", 0, 1000),
    (FREE, "total_n_mg_l", 0, 100), (FREE, "ph_nbs", 6, 9.5), (FREE, "temperature_c", 5, 35), (FREE, "salinity", 5, 40),
    (partial(water.density_kg_m3, temperature_c=25), "salinity", 0, 42), (partial(water.density_kg_m3, salinity=35), "temperature_c", 0, 40),
    (partial(water.conductivity_from_salinity, temperature_c=25), "salinity", 2, 42), (partial(water.conductivity_from_salinity, salinity=35), "temperature_c", 0, 35),
    (partial(salt.salt_mass_g, volume_l=100), "salinity", 0, 42), (partial(salt.salt_mass_g, salinity=35), "volume_l", 0, 100_000),
    (partial(salt.salt_mass_g, volume_l=100, salinity=35), "salt_per_litre_g", 35.9, 42.5),
    (partial(salt.raise_salinity_steps, 100, 30, 35), "daily_limit_ppt", 0.1, 42),
)


@pytest.mark.parametrize(("formula", "name", "low", "high"), ENDS, ids=lambda x: getattr(getattr(x, "func", x), "__name__", None) or str(x))
def test_a_formula_holds_up_to_the_ends_of_its_range_and_no_further(formula: Callable[..., object], name: str, low: float, high: float) -> None:
    formula(**{name: low})
    formula(**{name: high})
    little = (high - low) / 1000
    for beyond in (low - little, high + little):
        with pytest.raises(OutOfRange):
            formula(**{name: beyond})
