"""Small sums for things that go wrong: heat that climbs, ice, a body in the water, oxygen without pumps, a membrane that wears.

Each is one balance of heat or mass with its assumptions named; they give sizes, not promises.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from planner.science.formula import Formula, require

__all__ = [
    "FORMULAS", "body_nitrogen_mg_l", "cooling_hours", "fan_cooling_k", "food_nitrate_mg_l", "heat_memory", "heater_stuck_end_c", "heater_stuck_rate_k_h", "hours_of_air", "ice_cooling_k",
    "most_change", "pure_water_tds", "rejection", "salinity_after_pure", "salinity_wet_skimming", "topup_reservoir_days", "weeks_left",
]

WH_PER_L_K = 1.137
"""Heat to warm one litre of sea water by one degree (TEOS-10 at 35 ppt)."""
ICE_MELTS_KJ_KG, ICE_KJ_KG_K, WATER_KJ_KG_K = 334.0, 2.1, 4.19
FREEZER_C = -18.0
VAPOUR_KJ_KG = 2440.0


def heater_stuck_rate_k_h(watts: float, litres: float) -> float:
    """Degrees an hour from a heater that stays on, losses left out. Valid: 1-10 000 L. Source: heat balance."""
    return require("watts", watts, 0.0, 10_000.0, "W") / (WH_PER_L_K * require("volume", litres, 1.0, 10_000.0, "L"))


def heater_stuck_end_c(watts: float, loss_w_k: float, room_c: float) -> float:
    """Where such a heater ends: room + watts / loss a degree. Valid: loss above 0. Source: heat balance."""
    return room_c + require("watts", watts, 0.0, 10_000.0, "W") / require("heat loss", loss_w_k, 1e-6, 10_000.0, "W/K")


def cooling_hours(from_c: float, to_c: float, room_c: float, hours_e: float) -> float:
    """Hours in which water cools to `to_c` in a room, with the time constant `hours_e`. Valid: room below both. Source: Newton's law of cooling."""
    return hours_e * math.log(require("start", from_c, to_c, 60.0, "°C") - room_c) - hours_e * math.log(require("end", to_c, room_c + 1e-9, 60.0, "°C") - room_c)


def ice_cooling_k(ice_kg: float, litres: float, water_c: float) -> float:
    """Degrees that freezer-cold ice takes out of a tank. Valid: 1-10 000 L. Source: heat of fusion 334 kJ/kg, ice 2.1 kJ/kg/K (from memory)."""
    kj = require("ice", ice_kg, 0.0, 100.0, "kg") * (ICE_KJ_KG_K * -FREEZER_C + ICE_MELTS_KJ_KG + WATER_KJ_KG_K * water_c)
    return kj / 3.6 / (WH_PER_L_K * require("volume", litres, 1.0, 10_000.0, "L"))


def fan_cooling_k(evaporated_l: float, litres: float) -> float:
    """Degrees that so much evaporation takes out, before the room gives heat back. Source: latent heat 2.44 MJ/kg at 26 °C (from memory)."""
    return require("evaporated", evaporated_l, 0.0, 100.0, "L") * VAPOUR_KJ_KG / 3.6 / (WH_PER_L_K * require("volume", litres, 1.0, 10_000.0, "L"))


def heat_memory(daily_excess_k: Sequence[float]) -> float:
    """Degree-weeks: days of at least one degree above the tank's usual, added up over twelve weeks.

    Source: degree heating weeks of NOAA Coral Reef Watch; an excess below 1 °C does not count."""
    return sum(excess for excess in daily_excess_k[-84:] if excess >= 1.0 - 1e-9) / 7.0


def hours_of_air(oxygen_mg_l: float, limit_mg_l: float, use_mg_l_h: float) -> float:
    """Hours until oxygen is down to the limit with no exchange at the surface. Source: arithmetic; the use is an assumption, 0.3 to 1 mg/L an hour."""
    return (require("oxygen", oxygen_mg_l, limit_mg_l, 20.0, "mg/L") - limit_mg_l) / require("use", use_mg_l_h, 1e-6, 100.0, "mg/L/h")


def body_nitrogen_mg_l(wet_g: float, litres: float, dry_share: float = 0.25, nitrogen_share: float = 0.105) -> float:
    """Ammonia, mg/L as N, from a fish that decays whole. Source: composition of fish, Ikeda 2011 (abstract): 18.6-34 % dry, 8.3-12.8 % nitrogen of it."""
    return require("body", wet_g, 0.0, 100_000.0, "g") * 1000.0 * dry_share * nitrogen_share / require("volume", litres, 1.0, 100_000.0, "L")


def food_nitrate_mg_l(dry_food_g: float, litres: float, protein: float = 0.45, share: float = 0.7) -> float:
    """Nitrate (as NO3) from so much dry food. Source: 16 % nitrogen in protein (from memory); the share that ends as nitrate is assumed."""
    return dry_food_g * 1000.0 * protein * 0.16 * share * 62.0049 / 14.0067 / require("volume", litres, 1.0, 100_000.0, "L")


def most_change(tank: float, new: float, most_step: float) -> float:
    """The largest share of water to change so that one reading moves by no more than `most_step`. Source: mixing of two volumes."""
    return min(1.0, most_step / abs(new - tank)) if new != tank else 1.0


def salinity_after_pure(salinity: float, litres: float, pure_l: float, *, swapped: bool = False) -> float:
    """Salinity once pure water ran in (`swapped`: for as much tank water). Source: mass of salt."""
    kept = litres - pure_l if swapped else litres
    return salinity * require("tank water", kept, 0.0, 100_000.0, "L") / (kept + pure_l)


def salinity_wet_skimming(salinity: float, litres: float, skimmed_l_day: float, days: float) -> float:
    """Salinity after days in which what the skimmer takes is made up with pure water. Source: mass balance of salt, exponential."""
    return salinity * math.exp(-skimmed_l_day * days / require("volume", litres, 1.0, 100_000.0, "L"))


def topup_reservoir_days(litres: float, salinity: float, evaporation_l_day: float, most_drop_ppt: float = 1.0) -> float:
    """Days for which a reservoir may last that could spill whole without lowering salinity by more. By litres, which is the safe side: by mass it is 2.6 % more.
    Source: mass balance of salt, V (S/(S - drop) - 1)."""
    return litres * (salinity / (require("salinity", salinity, most_drop_ppt + 1.0, 60.0, "ppt") - most_drop_ppt) - 1.0) / require("evaporation", evaporation_l_day, 1e-6, 10_000.0, "L/day")


def weeks_left(stock: float, reserve: float, use_per_week: float, wasted: float = 0.0) -> float:
    """Weeks until the stock is down to its reserve, a share being wasted. Valid: use above 0. Source: arithmetic."""
    return (stock * (1.0 - require("share wasted", wasted, 0.0, 1.0)) - reserve) / require("use", use_per_week, 1e-9, 1e9)


def rejection(feed_tds: float, product_tds: float) -> float:
    """Share of dissolved solids that a membrane holds back. Source: 1 - out / in."""
    return 1.0 - require("product", product_tds, 0.0, feed_tds, "mg/L") / require("feed", feed_tds, 1e-6, 100_000.0, "mg/L")


def pure_water_tds(feed_tds: float, held_back: float) -> float:
    """Dissolved solids behind a membrane. Source: as `rejection`."""
    return feed_tds * (1.0 - require("share held back", held_back, 0.0, 1.0))


FORMULAS: dict[str, Formula] = {
    f.name: f
    for f in (
        Formula("ice_cooling_k", "K = kg x (2.1 x 18 + 334 + 4.19 x water) / 3.6 / (1.137 x litres)", "heat balance; heat of fusion 334 kJ/kg (from memory)", "ice from a freezer"),
        Formula("heater_stuck_end_c", "end = room + watts / loss a degree", "heat balance", "loss above 0"),
        Formula("topup_reservoir_days", "days = litres x (S / (S - 1) - 1) / evaporation", "mass balance of salt", "salinity 2 to 60 ppt"),
    )
}
