"""Figures of the care that has no end: salts lifted in daily steps from the last reading, and amounts for things that go wrong."""

from __future__ import annotations

import math
from typing import Literal

from planner.judge.animals_in_journal import group_of
from planner.judge.dose_plan import plan_dose
from planner.judge.facts import Facts, animals_in, beside, last_reading
from planner.judge.figures.figure import made
from planner.judge.water_use import alkalinity_use
from planner.rulebook.shapes import Rulebook
from planner.science import dilution, dosing, reef_air, salts, trouble
from planner.terms.records import Amount, Quantity


def use_bicarbonate(facts: Facts, rules: Rulebook) -> Quantity | None:
    """What holds alkalinity for a day, by the use that the readings prove; None before it is known."""
    found = plan_dose(alkalinity_use(facts, rules), facts, rules)
    if found.state != "dose":
        return None
    return made("use_bicarbonate", found.bicarbonate_g, "g", dosing.FORMULAS["bicarbonate_g"], net_water=Amount(facts.net_volume_l, "L"), rise=f"{found.dose_dkh:.2g} dKH, {'as the last dose, because the use is not known' if found.goes_on else 'the daily use that the tests show, less what the first week holds back'}")


def food_day(facts: Facts, rules: Rulebook) -> Quantity | None:
    """Dry food of a day for the fish that are in; by their number alone where no catalogue told their size."""
    if facts.fish_food_g is not None:
        return made("food_day", facts.fish_food_g, "g", "the sum over the fish that are in, each by its mass once grown")
    fish = sum(n for name, n in animals_in(facts, "display").items() if group_of(name, rules) == "fish")
    return made("food_day", max(1, fish) * rules.number("food_small_fish"), "g", "number of fish x food of a small one", fish=Amount(max(1, fish), "fish"))


def food_day_frozen(facts: Facts, rules: Rulebook) -> Quantity | None:
    """The same food, frozen."""
    dry, times = food_day(facts, rules), rules.number("frozen_food_times")
    return made("food_day_frozen", dry.value * times, "g", "dry food of a day x weight of frozen food beside it", dry=Amount(dry.value, "g"), times=f"{times:g}") if dry is not None else None


def _steps(name: str, facts: Facts, rules: Rulebook) -> tuple[float, int]:
    """(rise of one day, days) that bring a salt from its last reading, taken at 35 ppt, to its aim; one whole step where it was
    never read. The steps are equal, so that the last is no rest."""
    limit, aim = rules.number(f"{name}_step_day"), rules.number(f"{name}_aim")
    row = last_reading(name, facts)
    if row is None or row.low is None:
        return limit, 1
    salinity = beside(row, "salinity", facts)
    now = salts.value_at_35(row.low, salinity.low) if salinity is not None and salinity.low and salinity.low >= 5 else row.low
    gap = max(0.0, aim - now)
    days = max(1, math.ceil(gap / limit - 1e-9))
    return gap / days, days


def _calcium(name: str, formula: Literal["calcium_chloride_g", "calcium_anhydrous_g"], facts: Facts, rules: Rulebook) -> Quantity | None:
    rise, days = _steps("calcium", facts, rules)
    grams = (dosing.calcium_chloride_g if formula == "calcium_chloride_g" else salts.calcium_anhydrous_g)(facts.net_volume_l, rise)
    return made(name, grams, "g", (dosing.FORMULAS | salts.FORMULAS)[formula], net_water=Amount(facts.net_volume_l, "L"), rise=f"{rise:.0f} mg/L, day 1 of {days}")


def calcium_day(facts: Facts, rules: Rulebook) -> Quantity | None:
    return _calcium("calcium_day", "calcium_chloride_g", facts, rules)


def calcium_day_anhydrous(facts: Facts, rules: Rulebook) -> Quantity | None:
    return _calcium("calcium_day_anhydrous", "calcium_anhydrous_g", facts, rules)


def calcium_rise(facts: Facts, rules: Rulebook) -> Quantity | None:
    return made("calcium_rise", _steps("calcium", facts, rules)[0], "mg/L", "gap to the aim in equal daily steps")


def calcium_days(facts: Facts, rules: Rulebook) -> Quantity | None:
    return made("calcium_days", _steps("calcium", facts, rules)[1], "days", "gap to the aim / the most in a day, rounded up")


def _magnesium(facts: Facts, rules: Rulebook) -> tuple[tuple[float, float], str]:
    rise, days = _steps("magnesium", facts, rules)
    return salts.magnesium_mix_g(facts.net_volume_l, rise), f"{rise:.0f} mg/L, day 1 of {days}"


def magnesium_day(facts: Facts, rules: Rulebook) -> Quantity | None:
    (chloride, _), rise = _magnesium(facts, rules)
    return made("magnesium_day", chloride, "g", salts.FORMULAS["magnesium_mix_g"], net_water=Amount(facts.net_volume_l, "L"), rise=rise)


def magnesium_day_sulfate(facts: Facts, rules: Rulebook) -> Quantity | None:
    (_, sulfate), rise = _magnesium(facts, rules)
    return made("magnesium_day_sulfate", sulfate, "g", salts.FORMULAS["magnesium_mix_g"], net_water=Amount(facts.net_volume_l, "L"), rise=rise)


def magnesium_rise(facts: Facts, rules: Rulebook) -> Quantity | None:
    return made("magnesium_rise", _steps("magnesium", facts, rules)[0], "mg/L", "gap to the aim in equal daily steps")


def magnesium_days(facts: Facts, rules: Rulebook) -> Quantity | None:
    return made("magnesium_days", _steps("magnesium", facts, rules)[1], "days", "gap to the aim / the most in a day, rounded up")


def water_co2(facts: Facts, rules: Rulebook) -> Quantity | None:
    """Carbon dioxide of the water by its last pH and alkalinity: it tells stale air from a want of alkalinity."""
    ph, alkalinity, warm, salt = (last_reading(name, facts) for name in ("ph", "alkalinity", "temperature", "salinity"))
    if ph is None or not ph.low or alkalinity is None or not alkalinity.low:
        return None
    celsius, salinity = warm.low if warm is not None and warm.low else 25.0, salt.low if salt is not None and salt.low else 35.0
    found = reef_air.pco2_uatm(alkalinity.low, ph.low, celsius, salinity)
    return made("water_co2", round(found / 50) * 50, "ppm", reef_air.FORMULAS["pco2_uatm"], pH=f"{ph.low:g}", alkalinity=f"{alkalinity.low:g} dKH")


def ice_hour(facts: Facts, rules: Rulebook) -> Quantity | None:
    """Ice that takes out what an hour may, as the page prints it: in °F that is a little less (`temperature_step`)."""
    step = rules.number("temperature_step_hour")
    if facts.tank.units == "us":
        step = math.floor(step * 1.8 * 2) / 2 / 1.8
    kg = step / trouble.ice_cooling_k(1.0, facts.net_volume_l, 27.0)
    return made("ice_hour", kg * 1000, "g", trouble.FORMULAS["ice_cooling_k"], net_water=Amount(facts.net_volume_l, "L"))


def salt_down_1ppt(facts: Facts, rules: Rulebook) -> Quantity | None:
    """Tank water to swap for pure water so that salinity falls by one step of a day, from its last reading or the alarm."""
    row, step = last_reading("salinity", facts), rules.number("salinity_step_day")
    now = row.low if row is not None and row.low else rules.number("alarm_salinity_high")
    litres = facts.net_volume_l * dilution.change_fraction(now, now - step)
    return made("salt_down_1ppt", litres, "L", dilution.FORMULAS["change_fraction"], net_water=Amount(facts.net_volume_l, "L"), now=f"{now:g} ppt", step=f"{step:g} ppt")


def antidote_10l(facts: Facts, rules: Rulebook) -> Quantity | None:
    """Against the chlorine of ten litres of tap water at 1 mg/L, in grams."""
    return made("antidote_10l", salts.thiosulfate_mg(10.0, 1.0) / 1000, "g", salts.FORMULAS["thiosulfate_mg"], tap_water="10 L", chlorine="1 mg/L")


def lime_day_most(facts: Facts, rules: Rulebook) -> Quantity | None:
    """All the lime paste of a day against pest anemones."""
    rise = rules.number("lime_rise_most")
    return made("lime_day_most", salts.lime_g(facts.net_volume_l, rise), "g", salts.FORMULAS["lime_g"], net_water=Amount(facts.net_volume_l, "L"), rise=f"{rise:g} dKH")


def carbon_charge(facts: Facts, rules: Rulebook) -> Quantity | None:
    """Carbon against a poison: several ordinary charges."""
    per_litre = rules.number("carbon_per_litre") * rules.number("carbon_emergency_times")
    return made("carbon_charge", facts.net_volume_l * per_litre, "g", "grams a litre, several times the usual", net_water=Amount(facts.net_volume_l, "L"))


def light_steps(facts: Facts, rules: Rulebook) -> Quantity | None:
    """Steps from the first hours of light to the full day; each bloom took some off again, and a step that was skipped is still to come."""
    first, target, step, back = (rules.number(f"light_{name}") for name in ("first", "target", "step", "back"))
    blooms = sum(1 for row in facts.rows("event", "algae_bloom") if row.where == "display")
    steps = math.ceil((target - first) / step - 1e-9) + blooms * math.ceil(back / step - 1e-9) + sum(len(facts.rows("skipped", key)) for key in rules.tasks_as("more_light"))
    return made("light_steps", steps, "steps", "(full day - first hours) / step, and what each bloom took off", first=Amount(first, "h"), target=Amount(target, "h"), step=Amount(step, "h"))
