"""The names of the figures that texts and amounts may use, and the numbers of the rules that these figures rest on.

The makers, which work a figure out for one tank, stand in `judge.figures` under the same names.
"""

from __future__ import annotations

FIGURES = frozenset({
    "alkalinity_budget", "ammonia_check", "ammonia_dose", "ammonia_dose_mg", "ammonia_redose", "ammonia_total", "batch_nine_tenths", "batch_salt",
    "batch_trim_1ppt", "batch_water", "bicarbonate_1dkh", "bicarbonate_day", "bicarbonate_small", "big_change", "big_change_batch",
    "big_change_batch_salt", "big_change_batches", "big_change_days", "big_change_litres", "big_change_slow", "nitrate_limit", "challenge_dose", "challenge_rise",
    "circulation", "cold_room", "crew_first", "crew_second", "curing_change", "curing_salt", "curing_water", "emergency_change", "evaporation_day",
    "first_batch_days", "first_shopping", "floor_load", "gross_volume", "half_change", "heater_each", "heater_total", "last_batch_days", "leak_water",
    "mixing_batches", "monthly_power", "net_volume", "quarantine_ammonia", "reserve_water", "ro_days", "rock_mass", "room_temperature",
    "salt_first_fill", "salt_trim_1ppt", "salt_two_months", "sand_mass", "sg_high", "sg_low", "skimming", "small_dose", "target_salinity",
    "target_sg", "target_temperature", "temperature_step", "top_up_reservoir", "total_weight", "warm_up", "water_first_fill", "water_two_months",
    "weekly_change", "weekly_salt",
})

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
    "nitrate_after_change", "nitrate_after_change_stony",
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
