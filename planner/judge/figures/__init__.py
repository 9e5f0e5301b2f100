"""The figures that a plan names, each for this tank, with its formula, inputs and source: one entry a figure.

A rule text says `{salt_first_fill}`, and the maker of that entry works it out. Formulas live in the science rooms; the
makers (`tank`, `mixed_water`, `cycle`) put this tank's figures in.
"""

from __future__ import annotations

from dataclasses import replace

from planner.files.tank import Tank
from planner.judge.facts import Facts
from planner.judge.figures import big_change, care, cycle, mixed_water, remedy_change, tank
from planner.judge.figures.figure import Figure
from planner.rulebook.shapes import Rulebook
from planner.science import salt
from planner.science.formula import OutOfRange
from planner.terms.records import Quantity

WEEKLY = ("weekly_change_share", "weekly_change_most", "weekly_nitrate_aim", "weekly_nitrate_aim_stocked", "weekly_nitrate_aim_stony", "nutrient_window", "nutrient_readings", "nutrient_span", "use_change_most", "use_salinity_step", "use_misfit", "use_dose_error", "kit_error_nitrate", "kit_error_share")
BIG_SHARE = ("nitrate_after_change", "nitrate_after_change_stony", "kit_step_unknown", "big_change_planned", "redose_rise")
BIG_SERIES = (*BIG_SHARE, "bin_filled", "big_change_most", "batch_each", "ro_cold_factor", "mix_storage", "batch_in_hand")
BIG_STEP = (*BIG_SERIES, "batch_every")
ROCK_USUAL = ("rock_usual_dry", "rock_usual_wet")
ROCK_BIN = ("curing_litres_per_kg", "leach_changes", "cure_changes", *ROCK_USUAL)
FIGURES: dict[str, Figure] = {
    "net_volume": Figure(tank.net_volume),
    "gross_volume": Figure(tank.gross_volume),
    "leak_water": Figure(tank.leak_water),
    "total_weight": Figure(tank.total_weight, ("stand_mass_per_litre", "sand_depth_high")),
    "stand_weight": Figure(tank.stand_weight, ("stand_mass_per_litre",)),
    "floor_load": Figure(tank.floor_load, ("stand_mass_per_litre", "sand_depth_high")),
    "evaporation_day": Figure(tank.evaporation_day, ("room_humidity", "surface_factor")),
    "top_up_reservoir": Figure(tank.top_up_reservoir, ("top_up_drop",)),
    "cold_room": Figure(tank.cold_room, ("winter_drop",)),
    "room_temperature": Figure(tank.room_temperature, key="room.temperature"),
    "waterline": Figure(tank.waterline),
    "heater_total": Figure(tank.heater_total, ("winter_drop", "surface_factor", "room_humidity")),
    "heater_each": Figure(tank.heater_each, ("winter_drop", "surface_factor", "room_humidity", "heater_share")),
    "warm_up": Figure(tank.warm_up, ("winter_drop", "surface_factor", "room_humidity", "heater_share", "temperature_step_hour")),
    "temperature_step": Figure(tank.temperature_step, ("temperature_step_hour",)),
    "first_shopping": Figure(tank.first_shopping, ("site_shopping",)),
    "circulation": Figure(tank.circulation, ("circulation_turnover",)),
    "skimming": Figure(tank.skimming, ("skimmer_turnover",)),
    "sand_mass": Figure(tank.sand_mass),
    "sand_thin": Figure(tank.sand_thin, ("sand_depth_low",)),
    "sand_thick": Figure(tank.sand_thick, ("sand_depth_high",)),
    "rock_usual": Figure(tank.rock_usual, ROCK_USUAL),
    "rock_mass": Figure(tank.rock_mass, key="rock.mass"),
    "monthly_power": Figure(tank.monthly_power, ("winter_drop", "surface_factor", "room_humidity", "heater_duty")),
    "target_salinity": Figure(mixed_water.target_salinity),
    "target_temperature": Figure(mixed_water.target_temperature),
    "target_sg": Figure(mixed_water.target_sg),
    "sg_low": Figure(mixed_water.sg_low, ("reef_salinity_low",)),
    "sg_high": Figure(mixed_water.sg_high, ("reef_salinity_high",)),
    "water_first_fill": Figure(mixed_water.water_first_fill, ("fill_reserve",)),
    "salt_first_fill": Figure(mixed_water.salt_first_fill),
    "salt_trim_1ppt": Figure(mixed_water.salt_trim_1ppt),
    "reserve_water": Figure(mixed_water.reserve_water, ("reserve_share",)),
    "reserve_salt": Figure(mixed_water.reserve_salt, ("reserve_share",)),
    "water_two_months": Figure(mixed_water.water_two_months, ("room_humidity", "surface_factor", "weekly_change_share", "big_change_planned", "reserve_share", *ROCK_BIN)),
    "rock_water": Figure(mixed_water.rock_water, ROCK_BIN),
    "rock_salt": Figure(mixed_water.rock_salt, ("curing_litres_per_kg", *ROCK_USUAL)),
    "water_to_start": Figure(mixed_water.water_to_start, ("fill_reserve", "reserve_share", *ROCK_BIN)),
    "top_up_two_months": Figure(mixed_water.top_up_two_months, ("room_humidity", "surface_factor")),
    "salt_two_months": Figure(mixed_water.salt_two_months, ("weekly_change_share", "big_change_planned", "reserve_share")),
    "ro_days": Figure(mixed_water.ro_days, ("fill_reserve", "ro_cold_factor"), key="equipment.ro_rate"),
    "bin_heater": Figure(mixed_water.bin_heater, ("bin_heater_watts",), key="equipment.bin"),
    "mixing_batches": Figure(mixed_water.mixing_batches, ("bin_filled",), key="equipment.bin"),
    "later_batches": Figure(mixed_water.later_batches, ("bin_filled",), key="equipment.bin"),
    "batch_step": Figure(mixed_water.batch_step, ("bin_filled", "batch_each", "ro_cold_factor"), key="equipment.bin"),
    "first_batch_days": Figure(mixed_water.first_batch_days, ("ro_lead", "bin_filled", "ro_cold_factor")),
    "last_batch_days": Figure(mixed_water.last_batch_days, ("bin_filled", "batch_each", "ro_cold_factor"), key="equipment.bin"),
    "batch_water": Figure(mixed_water.batch_water, ("bin_filled",)),
    "container_water": Figure(mixed_water.container_water, ("fill_reserve", "bin_filled", *ROCK_BIN), key="equipment.bin"),
    "batch_nine_tenths": Figure(mixed_water.batch_nine_tenths, ("bin_filled", "salt_first_share")),
    "batch_trim_1ppt": Figure(mixed_water.batch_trim_1ppt, ("bin_filled",)),
    "curing_water": Figure(mixed_water.curing_water, ("curing_litres_per_kg",), key="rock.mass"),
    "rock_bin_size": Figure(mixed_water.rock_bin_size, ("curing_litres_per_kg", "bin_filled", *ROCK_USUAL)),
    "curing_salt": Figure(mixed_water.curing_salt, ("curing_litres_per_kg",), key="rock.mass"),
    "curing_change": Figure(mixed_water.curing_change, ("curing_litres_per_kg",), key="rock.mass"),
    "weekly_change": Figure(mixed_water.weekly_change, WEEKLY),
    "emergency_change": Figure(mixed_water.emergency_change, ("emergency_change_share",)),
    "ammonia_change": Figure(remedy_change.ammonia_change, ("emergency_change_share", "alarm_ammonia_twice", "mix_storage")),
    "nitrite_change": Figure(remedy_change.nitrite_change, ("nitrite_change_share", "alarm_nitrite", "mix_storage")),
    "nitrate_change": Figure(remedy_change.nitrate_change, ("nitrate_change_share", "nitrate_over", "mix_storage")),
    "nitrate_changes": Figure(remedy_change.nitrate_changes, ("nitrate_change_share", "nitrate_over", "mix_storage")),
    "alkalinity_change": Figure(remedy_change.alkalinity_change, ("alkalinity_change_share", "alkalinity_spilled_aim", "mix_storage")),
    "least_change": Figure(mixed_water.least_change, ("least_change_share",)),
    "half_change": Figure(mixed_water.half_change, ("half_change_share",)),
    "salt_of_two_months": Figure(mixed_water.salt_of_two_months, WEEKLY),
    "salt_each": Figure(mixed_water.salt_each),
    "weekly_salt": Figure(mixed_water.weekly_salt, WEEKLY),
    "ammonia_dose_mg": Figure(cycle.ammonia_dose_mg),
    "ammonia_dose": Figure(cycle.ammonia_dose),
    "ammonia_redose": Figure(cycle.ammonia_redose, ("redose_rise",)),
    "challenge_dose": Figure(cycle.challenge_dose, ("challenge_least", "challenge_full")),
    "challenge_rise": Figure(cycle.challenge_rise, ("challenge_least", "challenge_full")),
    "small_dose": Figure(cycle.small_dose, ("challenge_least",)),
    "ammonia_check": Figure(cycle.ammonia_check),
    "ammonia_total": Figure(cycle.ammonia_total, ("ammonia_to_pass_most", "challenge_full")),
    "bicarbonate_1dkh": Figure(cycle.bicarbonate_1dkh),
    "quarantine_ammonia": Figure(cycle.quarantine_ammonia, ("quarantine_dose",)),
    "quarantine_feed_ammonia": Figure(cycle.quarantine_feed_ammonia, ("quarantine_feed",)),
    "nitrite_clear": Figure(cycle.nitrite_clear, ("clear_without_kit", "kit_step_unknown", "alarm_nitrite")),
    "fed_again_at": Figure(cycle.fed_again_at, ("redose_below",)),
    "nitrite_left": Figure(cycle.nitrite_left, ("near_zero",)),
    "quarantine_new_water": Figure(cycle.quarantine_new_water, ("quarantine_renew_share",)),
    "quarantine_change": Figure(cycle.quarantine_change, ("half_change_share", "quarantine_change_share", "quarantine_step_most", "quarantine_alkalinity_age", "mix_storage", "new_water_alkalinity", "new_water_alkalinity_error")),
    "quarantine_quarter": Figure(cycle.quarantine_quarter, ("quarantine_change_share", "alkalinity_step_change", "quarantine_alkalinity_age", "mix_storage", "new_water_alkalinity", "new_water_alkalinity_error")),
    "bicarbonate_now": Figure(cycle.bicarbonate_now, ("alkalinity_rise_empty", "alkalinity_aim")),
    "bicarbonate_small": Figure(cycle.bicarbonate_small, ("alkalinity_step_day",)),
    "alkalinity_budget": Figure(cycle.alkalinity_budget, ("ammonia_to_pass_most",)),
    "nitrate_limit": Figure(big_change.nitrate_limit, ("nitrate_after_change", "nitrate_after_change_stony")),
    "big_change": Figure(big_change.big_change, BIG_SHARE),
    "big_change_changes": Figure(big_change.big_change_changes, BIG_SERIES),
    "big_change_mixes": Figure(big_change.big_change_mixes, BIG_SERIES),
    "big_change_now": Figure(big_change.big_change_now, BIG_SERIES),
    "big_change_step": Figure(big_change.big_change_step, BIG_STEP),
    "big_change_ready": Figure(big_change.big_change_ready, (*BIG_STEP, "after_change_wait")),
    "big_change_batches": Figure(big_change.big_change_batches, BIG_SERIES),
    "big_change_mixed": Figure(big_change.big_change_mixed, ("mix_storage",)),
    "big_change_left": Figure(big_change.big_change_left, BIG_STEP),
    "big_change_left_slow": Figure(big_change.big_change_left_slow, (*BIG_STEP, "slow_change_factor", "wait_big_change_slow")),
    "big_change_days": Figure(big_change.big_change_days, BIG_STEP),
    "big_change_slow": Figure(big_change.big_change_slow, (*BIG_STEP, "slow_change_factor", "wait_big_change_slow")),
    "big_change_litres": Figure(big_change.big_change_litres, BIG_SERIES),
    "big_change_batch": Figure(big_change.big_change_batch, BIG_SERIES),
    "big_change_batch_salt": Figure(big_change.big_change_batch_salt, BIG_SERIES),
    "crew_first": Figure(cycle.crew_first, ("crew_litres_per_snail", "crew_first_litres_per_snail")),
    "crew_second": Figure(cycle.crew_second, ("crew_litres_per_snail", "crew_first_litres_per_snail")),
    "use_bicarbonate": Figure(care.use_bicarbonate, ("dose_first_share", "dose_step_most", "dose_day_most", "dose_half_after", "dose_stop_after", "alkalinity_aim", "alkalinity_aim_low", "alkalinity_aim_low_soft", "dose_test_every", "dose_test_soon", "dose_test_use", "dose_tests_first", "large_change", "ions_after_change", "use_readings", "use_span", "use_window", "new_water_alkalinity", "new_water_alkalinity_error", "use_dose_error", "use_change_most", "weekly_change_share")),
    "calcium_day": Figure(care.calcium_day, ("calcium_step_day", "calcium_aim")),
    "calcium_day_anhydrous": Figure(care.calcium_day_anhydrous, ("calcium_step_day", "calcium_aim")),
    "calcium_rise": Figure(care.calcium_rise, ("calcium_step_day", "calcium_aim")),
    "calcium_days": Figure(care.calcium_days, ("calcium_step_day", "calcium_aim")),
    "magnesium_day": Figure(care.magnesium_day, ("magnesium_step_day", "magnesium_aim")),
    "magnesium_day_sulfate": Figure(care.magnesium_day_sulfate, ("magnesium_step_day", "magnesium_aim")),
    "magnesium_rise": Figure(care.magnesium_rise, ("magnesium_step_day", "magnesium_aim")),
    "magnesium_days": Figure(care.magnesium_days, ("magnesium_step_day", "magnesium_aim")),
    "food_day": Figure(care.food_day, ("food_small_fish",)),
    "food_day_frozen": Figure(care.food_day_frozen, ("food_small_fish", "frozen_food_times")),
    "water_co2": Figure(care.water_co2),
    "ice_hour": Figure(care.ice_hour, ("temperature_step_hour",)),
    "salt_down_1ppt": Figure(care.salt_down_1ppt, ("salinity_step_day", "alarm_salinity_high")),
    "antidote_10l": Figure(care.antidote_10l),
    "lime_day_most": Figure(care.lime_day_most, ("lime_rise_most",)),
    "light_steps": Figure(care.light_steps, ("light_first", "light_target", "light_step", "light_back")),
    "carbon_charge": Figure(care.carbon_charge, ("carbon_per_litre", "carbon_emergency_times")),
}
SHOWN = {**dict.fromkeys(("water_first_fill", "water_two_months", "top_up_two_months", "reserve_water", "rock_water", "water_to_start", "container_water", "salt_first_fill", "salt_two_months", "salt_of_two_months", "ammonia_total", "rock_bin_size",
                          "emergency_change", "ammonia_change", "nitrite_change", "half_change", "least_change"), "up"), "top_up_reservoir": "down"}
"""The safe side of what is bought, of the water that a remedy changes, and of a most. The others are told to the nearest."""
RESTS_ON = {name: figure.rests_on for name, figure in FIGURES.items()}
"""What a rule book is told of the figures: their names, and the numbers on which each rests."""


def quantity(name: str, facts: Facts, rules: Rulebook) -> Quantity | None:
    """The named figure, or None where it cannot be had (not described, or outside its formula's range)."""
    try:
        made = FIGURES[name].make(facts, rules)
    except OutOfRange:
        return None
    return replace(made, side=SHOWN[name]) if made is not None and name in SHOWN else made


def salt_g(litres: float, salinity: float, tank: Tank) -> float:
    """Grams of this tank's salt mix for so many litres (0 or more) of `salinity` ppt; 0 outside the formula's range."""
    try:
        return salt.salt_mass_g(litres, salinity, tank.water.salt_per_litre_g)
    except OutOfRange:
        return 0.0


__all__ = ["FIGURES", "RESTS_ON", "quantity", "salt_g"]
