"""Heat: what a tank loses, the two heaters that hold it, and the time to warm up.

The balance beats any rule of watts per litre: between a third and a half of the loss is evaporation, so a
lid and the room count for more than the litres.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from planner.frozen import dataclass
from planner.science.evaporation import evaporation_kg_m2_d, latent_heat_j_kg
from planner.science.formula import Formula, OutOfRange, require
from planner.science.water import density_kg_m3, heat_capacity_j_kg_k

__all__ = [
    "FORMULAS",
    "HeatLoss",
    "heat_loss",
    "heater_pair",
    "wall_u_w_m2_k",
    "warm_up_hours",
    "warm_up_wh_per_k",
]

_STEFAN_BOLTZMANN = 5.670374419e-8  # W/(m2 K4), CODATA 2018
_WATER_EMISSIVITY = 0.95
_SURFACE_CONVECTION = 1.52  # W/(m2 K^(4/3)), turbulent free convection above a warm level plate, in air


@dataclass(frozen=True, slots=True)
class HeatLoss:
    """Steady heat loss by way, W. Negative parts are heat taken up from a room warmer than the water."""

    walls_w: float
    evaporation_w: float
    surface_w: float

    @property
    def total_w(self) -> float:
        """Heat to be supplied, W; never below 0 (a warm room calls for cooling, not for a heater)."""
        return max(0.0, self.walls_w + self.evaporation_w + self.surface_w)


def wall_u_w_m2_k(
    glass_mm: float,
    *,
    glass_conductivity_w_m_k: float = 1.0,
    inner_film_w_m2_k: float = 300.0,
    outer_resistance_m2_k_w: float = 0.13,
) -> float:
    """Heat transmission of an upright pane between water and room air, W/(m2 K).

    Defaults: soda-lime glass (acrylic: 0.18), gently moved water, still indoor air. Within 10 % of a full
    free-convection and radiation model for 4-10 K between water and room; at 2 K it is 12 % high, on a loss
    that is small.
    Valid: glass 2-40 mm, conductivity 0.1-1.5, film 50-2000, resistance 0.05-0.25. Raises OutOfRange.
    Source: series of resistances, EN ISO 6946: 1/U = 1/h + d/k + R_s.
    """
    glass_m = require("glass", glass_mm, 2.0, 40.0, "mm") / 1000.0
    k = require("glass conductivity", glass_conductivity_w_m_k, 0.1, 1.5, "W/mK")
    film = require("inner film", inner_film_w_m2_k, 50.0, 2000.0, "W/m2K")
    outer = require("outer surface resistance", outer_resistance_m2_k_w, 0.05, 0.25, "m2K/W")
    return 1.0 / (1.0 / film + glass_m / k + outer)


def heat_loss(
    length_cm: float,
    width_cm: float,
    water_depth_cm: float,
    glass_mm: float,
    *,
    water_c: float,
    room_c: float,
    relative_humidity: float,
    salinity: float = 35.0,
    open_fraction: float = 1.0,
    surface_factor: float = 1.0,
) -> HeatLoss:
    """Steady loss of a tank, W: four walls, evaporation, dry surface. The base counts as insulated.

    A lid lowers evaporation through `open_fraction`; its dry loss is left as that of open water (a little
    too high).
    Valid: 5-1000 cm, glass 2-40 mm, water and room 5-40 deg C, humidity 0-1, open fraction 0-1. Raises
    OutOfRange.
    Source: walls U A dT (EN ISO 6946); evaporation of `evaporation_kg_m2_d` times heat of evaporation;
    surface 1.52 dT^(4/3) plus grey-body radiation, emissivity 0.95.
    """
    length_m = require("length", length_cm, 5.0, 1000.0, "cm") / 100.0
    width_m = require("width", width_cm, 5.0, 1000.0, "cm") / 100.0
    depth_m = require("water depth", water_depth_cm, 1.0, 500.0, "cm") / 100.0
    warm_k = require("water", water_c, 5.0, 40.0, "°C") - require("room", room_c, 5.0, 40.0, "°C")
    walls_w = wall_u_w_m2_k(glass_mm) * 2.0 * (length_m + width_m) * depth_m * warm_k
    area_m2 = length_m * width_m
    kg_m2_d = evaporation_kg_m2_d(
        water_c, room_c, relative_humidity, salinity=salinity, surface_factor=surface_factor
    )
    open_m2 = area_m2 * require("open fraction", open_fraction, 0.0, 1.0)
    evaporation_w = kg_m2_d / 86400.0 * latent_heat_j_kg(water_c) * open_m2
    convection = math.copysign(_SURFACE_CONVECTION * abs(warm_k) ** (4.0 / 3.0), warm_k)
    radiation = _WATER_EMISSIVITY * _STEFAN_BOLTZMANN * ((water_c + 273.15) ** 4 - (room_c + 273.15) ** 4)
    return HeatLoss(walls_w, evaporation_w, (convection + radiation) * area_m2)


def heater_pair(need_w: float, wattages_w: Sequence[float], *, share_each: float = 0.6) -> float:
    """Watts of each of two equal heaters: at least `share_each` of the need, rounded up to the next wattage on sale.

    One stuck on warms the tank half as fast as one that has the power of both, and one dead leaves most of the
    heat (share: common practice).
    Valid: need 0-20 000 W, share 0.5-1; the largest wattage must reach the share. Raises OutOfRange.
    Source: arithmetic, smallest listed wattage >= share x need.
    """
    need = require("heat needed", need_w, 0.0, 20_000.0, "W")
    each = need * require("share of each heater", share_each, 0.5, 1.0)
    fitting = [watts for watts in wattages_w if watts >= each]
    if not fitting:
        raise OutOfRange("heat needed from each heater", each, 0.0, max(wattages_w, default=0.0), "W")
    return min(fitting)


def warm_up_wh_per_k(volume_l: float, salinity: float = 35.0, temperature_c: float = 25.0) -> float:
    """Energy that one kelvin costs, Wh (100 L of sea water: 113.7; of fresh water: 115.8).

    Valid: 0-100 000 L, salinity 0-42, 0-40 deg C. Raises OutOfRange. Source: V rho cp/3600, TEOS-10.
    """
    kg = require("volume", volume_l, 0.0, 100_000.0, "L") * density_kg_m3(salinity, temperature_c) / 1000.0
    return kg * heat_capacity_j_kg_k(salinity, temperature_c) / 3600.0


def warm_up_hours(
    volume_l: float,
    start_c: float,
    target_c: float,
    heater_w: float,
    *,
    room_c: float | None = None,
    loss_w_per_k: float = 0.0,
    salinity: float = 35.0,
) -> float:
    """Hours to heat the water from `start_c` to `target_c` against a loss to the room.

    Without a loss it is energy over power. With one, the heater must be stronger than the loss at the target.
    Valid: 0-100 000 L, 0-40 deg C, heater 1-20 000 W, loss 0-2000 W/K. Raises OutOfRange.
    Source: C dT/dt = P - K (T - T_room), solved: t = C/K ln[(P - K dT0)/(P - K dT1)].
    """
    t_0, t_1 = require("start", start_c, 0.0, 40.0, "°C"), require("target", target_c, start_c, 40.0, "°C")
    loss = require("loss", loss_w_per_k, 0.0, 2000.0, "W/K")
    watts = require("heater", heater_w, 1.0, 20_000.0, "W")
    capacity_wh_k = warm_up_wh_per_k(volume_l, salinity, (t_0 + t_1) / 2.0)
    if loss == 0.0:
        return capacity_wh_k * (t_1 - t_0) / watts
    t_room = require("room", t_0 if room_c is None else room_c, 0.0, 40.0, "°C")
    spare_0, spare_1 = watts - loss * (t_0 - t_room), watts - loss * (t_1 - t_room)
    if spare_1 <= 0.0:
        raise OutOfRange("heater", watts, loss * (t_1 - t_room), 20_000.0, "W")
    return capacity_wh_k / loss * math.log(spare_0 / spare_1)


_WALLS = (
    "EN ISO 6946 series of resistances; Ryan & Harleman 1973; free convection over a plate; Stefan-Boltzmann"
)

FORMULAS: dict[str, Formula] = {
    f.name: f
    for f in (
        Formula(
            "heat_loss",
            "W = U A dT + evaporation x L + [1.52 dT^(4/3) + radiation] x surface",
            _WALLS,
            "5 to 40 °C",
        ),
        Formula(
            "heater_pair",
            "each >= share x need, next wattage on sale",
            "share: common practice, no source",
            "0.5 to 1",
        ),
        Formula(
            "warm_up_hours",
            "t = C/K ln[(P - K dT0) / (P - K dT1)]",
            "heat balance, C dT/dt = P - K dT",
            "0 to 40 °C",
        ),
    )
}
