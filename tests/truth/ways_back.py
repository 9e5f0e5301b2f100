"""The way back of formulas of the planner, by which it is seen that they go there: no part of the program."""

from __future__ import annotations

import math

from planner.science.reef_air import pco2_uatm
from planner.science.salt import salt_mass_g
from planner.science.water import density_kg_m3, pure_water_density_kg_m3, sg_from_salinity


def salinity_of_mix(salt_g: float, litres: float, salt_per_litre_g: float) -> float:
    """Salinity that so many grams give, by halving."""
    low, high = 0.0, 42.0
    for _ in range(50):
        middle = (low + high) / 2.0
        low, high = (middle, high) if salt_mass_g(litres, middle, salt_per_litre_g) < salt_g else (low, middle)
    return (low + high) / 2.0


def salinity_after_adding_water(salinity: float, litres: float, fresh_l: float, temperature_c: float = 25.0) -> float:
    """The salt stays: S m / (m + m of the fresh water), by densities of TEOS-10."""
    sea_kg = litres * density_kg_m3(salinity, temperature_c)
    return salinity * sea_kg / (sea_kg + fresh_l * pure_water_density_kg_m3(temperature_c))


def hydrometer_reading(salinity: float, water_c: float, scale_c: float, growth_per_k: float = 25e-6) -> float:
    """What a float made for `scale_c` shows in warmer or colder water: it displaces its own mass, with a volume that grew (Archimedes)."""
    return sg_from_salinity(salinity, water_c, scale_c) * (1.0 + growth_per_k * (water_c - scale_c))


def ph_at_pco2(alkalinity_dkh: float, pco2: float) -> float:
    """pH (NBS) of water in balance with air of so much carbon dioxide, by halving."""
    low, high = 7.0, 9.0
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if pco2_uatm(alkalinity_dkh, middle) > pco2 else (low, middle)
    return (low + high) / 2


def lag_time_d(growth_net_per_d: float, bacteria_mg_n_l: float, dose_mg_n_l: float) -> float:
    """Days until a dose is used up while supply never limits: ln(1 + S0/(X0/Y))/mu, the integral of exponential growth at uptake of order zero."""
    return math.log1p(dose_mg_n_l / bacteria_mg_n_l) / growth_net_per_d
