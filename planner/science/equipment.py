"""Equipment that a single multiplication sizes: flow, lamp power by the old habit, reverse-osmosis time."""

from __future__ import annotations

from planner.science.formula import Formula, require

__all__ = ["FORMULAS", "circulation_l_per_h", "light_w", "ro_hours"]


def circulation_l_per_h(volume_l: float, turnover_per_h: float) -> float:
    """Flow for a turnover, L/h. The turnover is common practice and always an input.

    Valid: 0-100 000 L, turnover 0-100 per hour. Raises OutOfRange. Source: flow = volume x turnover.
    """
    litres = require("volume", volume_l, 0.0, 100_000.0, "L")
    return litres * require("turnover", turnover_per_h, 0.0, 100.0, "per hour")


def light_w(volume_l: float, watts_per_litre: float) -> float:
    """Lamp power from a watts-per-litre habit, W: history of fluorescent lamps. Where PAR is known, use PAR.

    Valid: 0-100 000 L, 0-5 W/L. Raises OutOfRange. Source: common practice; power = volume x watts per litre.
    """
    litres = require("volume", volume_l, 0.0, 100_000.0, "L")
    return litres * require("watts per litre", watts_per_litre, 0.0, 5.0, "W/L")


def ro_hours(litres: float, nameplate_l_per_day: float, cold_factor: float = 1.5) -> float:
    """Hours that a reverse-osmosis unit needs for `litres`.

    Cold water slows it by `cold_factor` (1.5: common practice, no source).

    Valid: 0-100 000 L, nameplate 10-5000 L/day, factor 1-4. Raises OutOfRange. Source: time = volume/rate x
    factor.
    """
    rate = require("nameplate rate", nameplate_l_per_day, 10.0, 5000.0, "L/day")
    factor = require("cold factor", cold_factor, 1.0, 4.0)
    return require("volume", litres, 0.0, 100_000.0, "L") / rate * 24.0 * factor


_PRACTICE = "factor: common practice, no source"

FORMULAS: dict[str, Formula] = {
    f.name: f
    for f in (
        Formula("circulation_l_per_h", "L/h = volume x turnover", _PRACTICE, "0 to 100 per hour"),
        Formula("light_w", "W = volume x W/L", _PRACTICE, "0 to 5 W/L"),
        Formula("ro_hours", "h = litres / nameplate x 24 x cold factor", _PRACTICE, "10 to 5000 L/day"),
    )
}
