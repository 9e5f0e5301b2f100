"""Small sums for things that go wrong or run out: days of heat, ice, what may be topped up, what is left of a stock.

Each is one balance of heat or mass with its assumptions named; they give sizes, not promises.
"""

from __future__ import annotations

from collections.abc import Sequence

from planner.science.formula import Formula, require

__all__ = ["FORMULAS", "heat_memory", "ice_cooling_k", "topup_reservoir_days", "weeks_left"]

WH_PER_L_K = 1.137
"""Heat to warm one litre of sea water by one degree (TEOS-10 at 35 ppt)."""
ICE_MELTS_KJ_KG, ICE_KJ_KG_K, WATER_KJ_KG_K = 334.0, 2.1, 4.19
FREEZER_C = -18.0


def ice_cooling_k(ice_kg: float, litres: float, water_c: float) -> float:
    """Degrees that freezer-cold ice takes out of a tank. Valid: 1-10 000 L. Source: heat of fusion 334 kJ/kg, ice 2.1 kJ/kg/K (from memory)."""
    kj = require("ice", ice_kg, 0.0, 100.0, "kg") * (ICE_KJ_KG_K * -FREEZER_C + ICE_MELTS_KJ_KG + WATER_KJ_KG_K * water_c)
    return kj / 3.6 / (WH_PER_L_K * require("volume", litres, 1.0, 10_000.0, "L"))


def heat_memory(daily_excess_k: Sequence[float]) -> float:
    """Degree-weeks: days of at least one degree above the tank's usual, added up over twelve weeks.

    Source: degree heating weeks of NOAA Coral Reef Watch; an excess below 1 °C does not count."""
    return sum(excess for excess in daily_excess_k[-84:] if excess >= 1.0 - 1e-9) / 7.0


def topup_reservoir_days(litres: float, salinity: float, evaporation_l_day: float, most_drop_ppt: float = 1.0) -> float:
    """Days for which a reservoir may last that could spill whole without lowering salinity by more. By litres, which is the safe side: by mass it is 2.6 % more.
    Source: mass balance of salt, V (S/(S - drop) - 1)."""
    return litres * (salinity / (require("salinity", salinity, most_drop_ppt + 1.0, 60.0, "ppt") - most_drop_ppt) - 1.0) / require("evaporation", evaporation_l_day, 1e-6, 10_000.0, "L/day")


def weeks_left(stock: float, reserve: float, use_per_week: float, wasted: float = 0.0) -> float:
    """Weeks until the stock is down to its reserve, a share being wasted. Valid: use above 0. Source: arithmetic."""
    return (stock * (1.0 - require("share wasted", wasted, 0.0, 1.0)) - reserve) / require("use", use_per_week, 1e-9, 1e9)


FORMULAS: dict[str, Formula] = {
    f.name: f
    for f in (
        Formula("ice_cooling_k", "K = kg x (2.1 x 18 + 334 + 4.19 x water) / 3.6 / (1.137 x litres)", "heat balance; heat of fusion 334 kJ/kg (from memory)", "ice from a freezer"),
    )
}
