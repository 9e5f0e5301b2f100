"""The water's surface: vapour pressure, evaporation and its effect on salinity, top-up, oxygen."""

from __future__ import annotations

import math
from importlib import import_module

from planner.science import molar
from planner.science.formula import Formula, require
from planner.science.water import density_kg_m3, pure_water_density_kg_m3

__all__ = [
    "FORMULAS",
    "evaporation_kg_m2_d",
    "evaporation_l_per_day",
    "latent_heat_j_kg",
    "oxygen_saturation_mg_l",
    "top_up_reservoir_max_l",
    "vapour_pressure_pa",
]

_VOLUME_MAX_L = 100_000.0
_AIR_PRESSURE_PA = 101325.0
_SECONDS_PER_DAY = 86400.0
# 0.1 lb/(h ft2 inHg), the coefficient of the ASHRAE form, in kg/(s m2 Pa)
_ASHRAE_KG_S_M2_PA = 0.1 * 0.45359237 / 3600.0 / 0.09290304 / 3386.389


def _litres(volume_l: float) -> float:
    return require("volume", volume_l, 0.0, _VOLUME_MAX_L, "L")


def vapour_pressure_pa(temperature_c: float) -> float:
    """Saturation vapour pressure over pure water, Pa.

    Valid: 0-60 deg C (the equation: 0-374). Raises OutOfRange. Source: IAPWS-IF97 (2007), region 4, eq. 30.
    """
    t = require("temperature", temperature_c, 0.0, 60.0, "°C") + 273.15
    theta = t - 0.23855557567849 / (t - 650.17534844798)
    a = theta * theta + 1167.0521452767 * theta - 724213.16703206
    b = -17.073846940092 * theta * theta + 12020.82470247 * theta - 3232555.0322333
    c = 14.91510861353 * theta * theta - 4823.2657361591 * theta + 405113.40542057
    return float((2.0 * c / (-b + math.sqrt(b * b - 4.0 * a * c))) ** 4 * 1e6)


def _vapour_over_sea_pa(temperature_c: float, salinity: float) -> float:
    # Raoult: salt lowers the pressure by 1.9 % at 35 ppt (Weiss & Price 1980, Mar. Chem. 8:347, eq. 10:
    # -0.000544 S)
    return vapour_pressure_pa(temperature_c) * math.exp(-0.000544 * salinity)


def latent_heat_j_kg(temperature_c: float) -> float:
    """Heat of evaporation of water, J/kg: a straight line through the steam tables, 0.1 % from them.

    Valid: 0-60 deg C. Raises OutOfRange. Source: linear fit to IAPWS-95 between 0 and 60 deg C.
    """
    return 2.5009e6 - 2381.0 * require("temperature", temperature_c, 0.0, 60.0, "°C")


def evaporation_kg_m2_d(
    water_c: float,
    room_c: float,
    relative_humidity: float,
    *,
    salinity: float = 35.0,
    surface_factor: float = 1.0,
) -> float:
    """Evaporation from open water in a room, kg per m2 and day (mm per day). Condensation counts as 0.

    `surface_factor` is 1 for a still surface; moving water and fans about double it (common practice, no
    source).
    Valid: water and room 5-40 deg C, humidity 0-1, salinity 0-42, factor 0.5-4. Raises OutOfRange.
    Source: Ryan & Harleman 1973, free convection without wind,
    q = 2.7 (dTv)^(1/3) (e_s - e_a), mbar, W/m2. It dies out when the room is as warm as the water; from
    there on the ASHRAE pool form m = 0.1 AF (p_w - p_a), lb/(h ft2), inHg, with AF 0.5, holds as a floor.
    """
    t_w, t_a = require("water", water_c, 5.0, 40.0, "°C"), require("room", room_c, 5.0, 40.0, "°C")
    e_a = require("relative humidity", relative_humidity, 0.0, 1.0) * vapour_pressure_pa(t_a)
    e_s = _vapour_over_sea_pa(t_w, require("salinity", salinity, 0.0, 42.0, "ppt"))
    factor = require("surface factor", surface_factor, 0.5, 4.0)
    drive_pa = max(0.0, e_s - e_a)
    virtual_w = (t_w + 273.15) / (1.0 - 0.378 * e_s / _AIR_PRESSURE_PA)
    virtual_a = (t_a + 273.15) / (1.0 - 0.378 * e_a / _AIR_PRESSURE_PA)
    lift = math.cbrt(max(0.0, virtual_w - virtual_a))
    free_convection = 2.7 * lift * drive_pa / 100.0 / latent_heat_j_kg(t_w)
    pool_floor = _ASHRAE_KG_S_M2_PA * 0.5 * drive_pa
    return factor * max(free_convection, pool_floor) * _SECONDS_PER_DAY


def evaporation_l_per_day(
    length_cm: float,
    width_cm: float,
    water_c: float,
    room_c: float,
    relative_humidity: float,
    *,
    salinity: float = 35.0,
    open_fraction: float = 1.0,
    surface_factor: float = 1.0,
) -> float:
    """Litres of fresh water a tank loses a day; length and width are those of the water surface.

    Valid: 5-1000 cm, open fraction 0-1, else as `evaporation_kg_m2_d`. Raises OutOfRange.
    Source: `evaporation_kg_m2_d` times area over the density of pure water.
    """
    area_m2 = (
        require("length", length_cm, 5.0, 1000.0, "cm") * require("width", width_cm, 5.0, 1000.0, "cm") / 1e4
    )
    open_m2 = area_m2 * require("open fraction", open_fraction, 0.0, 1.0)
    rate = evaporation_kg_m2_d(
        water_c, room_c, relative_humidity, salinity=salinity, surface_factor=surface_factor
    )
    return rate * open_m2 / pure_water_density_kg_m3(25.0) * 1000.0


def top_up_reservoir_max_l(
    net_volume_l: float, salinity: float = 35.0, *, max_drop_ppt: float = 1.0, temperature_c: float = 25.0
) -> float:
    """Largest top-up reservoir, L: all of it in the tank by a stuck valve costs at most `max_drop_ppt`.

    Valid: salinity above the drop, drop 0.1-10 ppt. Raises OutOfRange.
    Source: inverse of `salinity_after_adding_water`: R = V (rho/rho_w) drop/(S - drop).
    """
    drop = require("largest drop", max_drop_ppt, 0.1, 10.0, "ppt")
    require("salinity", salinity, drop + 0.1, 42.0, "ppt")
    ratio = density_kg_m3(salinity, temperature_c) / pure_water_density_kg_m3(temperature_c)
    return _litres(net_volume_l) * ratio * drop / (salinity - drop)


def oxygen_saturation_mg_l(
    salinity: float, temperature_c: float, pressure_pa: float = _AIR_PRESSURE_PA
) -> float:
    """Dissolved oxygen in equilibrium with water-saturated air, mg/L.

    Valid: salinity 0-42, 0-40 deg C, 70-110 kPa. Raises OutOfRange.
    Source: Garcia & Gordon 1992 (Limnol. Oceanogr. 37:1307, eq. 8) fitted to Benson & Krause 1984, at 1 atm;
    other pressures by (p - e_w)/(p0 - e_w), e_w the vapour pressure over the water.
    """
    rho = density_kg_m3(salinity, temperature_c)
    p = require("air pressure", pressure_pa, 70e3, 110e3, "Pa")
    e_w = _vapour_over_sea_pa(temperature_c, salinity)
    at_one_atm = float(import_module("gsw").O2sol_SP_pt(salinity, temperature_c)) * molar.O2 * rho * 1e-6
    return at_one_atm * (p - e_w) / (_AIR_PRESSURE_PA - e_w)


_BALANCE = "conservation of mass; densities from TEOS-10 (IOC, SCOR & IAPSO 2010)"
_RH73 = "Ryan & Harleman 1973, still air; floor: ASHRAE pool form, activity factor 0.5"

FORMULAS: dict[str, Formula] = {
    f.name: f
    for f in (
        Formula(
            "evaporation_l_per_day",
            "L/day = kg/m2/d x open area / rho(fresh)",
            _RH73,
            "methods differ by 25 %",
        ),
        Formula(
            "top_up_reservoir_max_l",
            "litres = V (rho / rho(fresh)) x drop / (S - drop)",
            f"{_BALANCE}; the allowed drop is common practice",
            "drop 0.1 to 10 ppt",
        ),
        Formula(
            "oxygen_saturation_mg_l",
            "mg/L = O2sol(S, t) x 31.9988 x rho x (p - e_w) / (p0 - e_w)",
            "Garcia & Gordon 1992, Limnol. Oceanogr. 37:1307, eq. 8; Benson & Krause 1984",
            "0 to 42 ppt, 0 to 40 °C",
        ),
    )
}
