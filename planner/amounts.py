"""The figures that a plan names, each for this tank, with its formula, inputs and source.

Formulas live in the science rooms; the makers (`figures_tank`, `figures_water`, `figures_cycle`) put this tank's figures in.
A maker returns None where the tank file does not say enough.
"""

from __future__ import annotations

from planner import figures_cycle, figures_tank, figures_water, salt
from planner.figures import MAKERS
from planner.formula import OutOfRange
from planner.gather import Facts
from planner.model import Quantity
from planner.rulebook import Rulebook
from planner.tankfile import Tank

AMOUNT_NUMBERS = (
    "batch_each",
    "bin_filled",
    "batch_every",
    "ro_lead",
    "site_shopping",
    "slow_change_factor",
    "wait_big_change_slow",
    "temperature_step_hour",
    "alkalinity_step_day",
    "salt_first_share",
    "alkalinity_rise_empty",
    "ammonia_to_pass_most",
    "big_change_planned",
    "quarantine_dose",
    "challenge_full",
    "challenge_least",
    "circulation_turnover",
    "crew_first_litres_per_snail",
    "crew_litres_per_snail",
    "curing_litres_per_kg",
    "emergency_change_share",
    "fill_reserve",
    "half_change_share",
    "heater_duty",
    "heater_share",
    "nitrate_target",
    "redose_rise",
    "reef_salinity_high",
    "reef_salinity_low",
    "reserve_share",
    "ro_cold_factor",
    "room_humidity",
    "skimmer_turnover",
    "stand_mass_per_litre",
    "surface_factor",
    "top_up_drop",
    "weekly_change_share",
    "winter_drop",
)
"""Numbers of the rules that these figures rest on."""


def quantity(name: str, facts: Facts, rules: Rulebook) -> Quantity | None:
    """The named figure, or None where it cannot be had (not described, or outside its formula's range)."""
    try:
        return MAKERS[name](facts, rules)
    except OutOfRange:
        return None


def salt_g(litres: float, salinity: float, tank: Tank) -> float:
    """Grams of this tank's salt mix for so many litres (0 or more) of `salinity` ppt; 0 outside the formula's range."""
    try:
        return salt.salt_mass_g(litres, salinity, tank.water.salt_per_litre_g)
    except OutOfRange:
        return 0.0


__all__ = ["AMOUNT_NUMBERS", "MAKERS", "figures_cycle", "figures_tank", "figures_water", "quantity", "salt_g"]
