"""The figures that a plan names, each for this tank, with its formula, inputs and source.

A rule text says `{salt_first_fill}`; the function of that name here works it out, or returns None where the tank file
does not say enough. Formulas live in the science rooms; here only this tank's figures go in.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import cache

from planner import dilution, dosing, equipment, evaporation, heat, salt, sizing, water
from planner.formula import Formula, OutOfRange
from planner.gather import GLASS_MM, WATERLINE_CM, Facts, gross_l, inside_l, sand_kg
from planner.model import Quantity, Row
from planner.quantities import nitrogen_factor
from planner.rulebook import Rulebook

Maker = Callable[[Facts, Rulebook], Quantity | None]
MAKERS: dict[str, Maker] = {}
HEATER_WATTS = (25.0, 50.0, 75.0, 100.0, 150.0, 200.0, 250.0, 300.0, 400.0, 500.0, 800.0, 1000.0)
"""Common wattages on sale (common practice, no source)."""


AMOUNT_NUMBERS = (
    "alkalinity_step_day",
    "salt_first_share",
    "alkalinity_rise_empty",
    "ammonia_to_pass_most",
    "big_change_planned",
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


def maker(function: Maker) -> Maker:
    MAKERS[function.__name__] = function
    return function


def _made(name: str, value: float, unit: str, formula: str | Formula, source: str = "common practice", **inputs: str) -> Quantity:
    told = tuple((key.replace("_", " "), text) for key, text in inputs.items())
    if isinstance(formula, Formula):
        return Quantity(name, value, unit, formula.text, told, formula.source)
    return Quantity(name, value, unit, formula, told, source)


@cache
def _target_sg(salinity: float) -> float:
    return water.sg_from_salinity(salinity, 25.0, 25.0)


@maker
def net_volume(facts: Facts, rules: Rulebook) -> Quantity | None:
    return facts.net_volume


@maker
def gross_volume(facts: Facts, rules: Rulebook) -> Quantity | None:
    return _made("gross_volume", gross_l(facts.tank), "L", "outside length x width x height", "geometry")


@maker
def leak_water(facts: Facts, rules: Rulebook) -> Quantity | None:
    litres, how = inside_l(facts.tank)
    return _made("leak_water", litres, "L", how, "geometry")


@maker
def water_weight(facts: Facts, rules: Rulebook) -> Quantity | None:
    kg = facts.net_volume_l * _density(facts.tank.water.salinity) / 1000
    return _made("water_weight", kg * 1000, "g", "net litres x density", "TEOS-10 (gsw)", net_water=f"{facts.net_volume_l:.1f} L")


@cache
def _density(salinity: float) -> float:
    return water.density_kg_m3(salinity, 25.0)


def _masses(facts: Facts, rules: Rulebook) -> sizing.Masses | None:
    glass = facts.tank.tank
    if not (glass.length_cm and glass.width_cm and glass.height_cm):
        return None
    return sizing.tank_masses(
        sizing.glass_mass_kg(glass.length_cm, glass.width_cm, glass.height_cm, glass.glass_mm or GLASS_MM), facts.net_volume_l,
        water_density_kg_l=_density(facts.tank.water.salinity) / 1000, rock_kg=facts.tank.rock.mass_kg or 0.0,
        sand_kg=sand_kg(facts.tank), stand_kg=rules.number("stand_mass_per_litre") * gross_l(facts.tank))


@maker
def total_weight(facts: Facts, rules: Rulebook) -> Quantity | None:
    m = _masses(facts, rules)
    if m is None:
        return None
    return _made("total_weight", m.total_kg * 1000, "g", "glass + water + rock + sand + stand", "sum of parts; the stand is an estimate",
                 glass=f"{m.glass_kg:.0f} kg", water=f"{m.water_kg:.0f} kg", rock=f"{m.rock_kg:.0f} kg", sand=f"{m.sand_kg:.0f} kg",
                 stand=f"about {m.stand_kg:.0f} kg")


@maker
def floor_load(facts: Facts, rules: Rulebook) -> Quantity | None:
    m, glass = _masses(facts, rules), facts.tank.tank
    if m is None or glass.length_cm is None or glass.width_cm is None:
        return None
    floor = facts.tank.room.floor or "unknown"
    load = sizing.floor_load(m.total_kg, glass.length_cm, glass.width_cm, floor)
    return _made("floor_load", load.pressure_kn_m2, "kN/m²", "weight over the footprint; " + load.advice, "F = m g; p = F/A",
                 weight=f"{m.total_kg:.0f} kg", footprint=f"{load.footprint_m2:.2f} m²")


@maker
def target_salinity(facts: Facts, rules: Rulebook) -> Quantity | None:
    return _made("target_salinity", facts.tank.water.salinity, "ppt", "as in the tank file", "the tank file")


@maker
def target_temperature(facts: Facts, rules: Rulebook) -> Quantity | None:
    return _made("target_temperature", facts.tank.water.temperature_c, "°C", "as in the tank file", "the tank file")


@maker
def target_sg(facts: Facts, rules: Rulebook) -> Quantity | None:
    return _made("target_sg", _target_sg(facts.tank.water.salinity), "SG 25/25", water.FORMULAS["sg_from_salinity"], salinity=f"{facts.tank.water.salinity:g} ppt")


@maker
def sg_low(facts: Facts, rules: Rulebook) -> Quantity | None:
    low = rules.number("reef_salinity_low")
    return _made("sg_low", _target_sg(low), "SG 25/25", water.FORMULAS["sg_from_salinity"], salinity=f"{low:g} ppt")


@maker
def sg_high(facts: Facts, rules: Rulebook) -> Quantity | None:
    high = rules.number("reef_salinity_high")
    return _made("sg_high", _target_sg(high), "SG 25/25", water.FORMULAS["sg_from_salinity"], salinity=f"{high:g} ppt")


def _salt(name: str, litres: float, facts: Facts) -> Quantity:
    w = facts.tank.water
    return _made(name, salt.salt_mass_g(litres, w.salinity, w.salt_per_litre_g), "g", salt.FORMULAS["salt_mass_g"],
                 finished_water=f"{litres:.0f} L", target=f"{w.salinity:g} ppt", salt_per_litre_at_35=f"{w.salt_per_litre_g:g} g")


def _fill_l(facts: Facts) -> float:
    """Litres of salt water for the first fill: the bare tank is filled to the line, and rock then displaces some."""
    if facts.tank.water.mixed_in == "tank":
        return inside_l(facts.tank)[0] + (facts.tank.tank.sump_l or 0.0)
    return facts.net_volume_l


@maker
def water_first_fill(facts: Facts, rules: Rulebook) -> Quantity | None:
    litres = _fill_l(facts) * (1 + rules.number("fill_reserve") / 100)
    return _made("water_first_fill", litres, "L", "first fill + spillage", net_water=f"{facts.net_volume_l:.0f} L")


@maker
def salt_first_fill(facts: Facts, rules: Rulebook) -> Quantity | None:
    return _salt("salt_first_fill", _fill_l(facts), facts)


@maker
def salt_nine_tenths(facts: Facts, rules: Rulebook) -> Quantity | None:
    whole = _salt("salt_nine_tenths", _fill_l(facts), facts)
    return Quantity(whole.name, whole.value * rules.number("salt_first_share") / 100, "g", "first share of the salt for the first fill", whole.inputs, whole.source)


@maker
def salt_trim_1ppt(facts: Facts, rules: Rulebook) -> Quantity | None:
    s = facts.tank.water.salinity
    grams = salt.salt_mass_g(_fill_l(facts), s, facts.tank.water.salt_per_litre_g, salinity_now=s - 1)
    return _made("salt_trim_1ppt", grams, "g", salt.FORMULAS["salt_mass_g"], finished_water=f"{_fill_l(facts):.0f} L", rise="1 ppt")


@maker
def reserve_water(facts: Facts, rules: Rulebook) -> Quantity | None:
    share = rules.number("reserve_share")
    return _made("reserve_water", facts.net_volume_l * share / 100, "L", f"{share:g} % of the net volume, kept ready mixed")


def _months_l(facts: Facts, rules: Rulebook) -> float:
    weekly = facts.net_volume_l * rules.number("weekly_change_share") / 100
    big = facts.net_volume_l * rules.number("big_change_planned") / 100
    return _fill_l(facts) + 8 * weekly + big + facts.net_volume_l * rules.number("reserve_share") / 100


@maker
def water_two_months(facts: Facts, rules: Rulebook) -> Quantity | None:
    evaporated = evaporation_day(facts, rules)
    top_up = 60 * evaporated.value if evaporated else 0.6 * facts.net_volume_l
    return _made("water_two_months", _months_l(facts, rules) + top_up, "L", "first fill + big change + eight weekly changes + reserve + top-up for 60 days",
                 first_fill=f"{_fill_l(facts):.0f} L", top_up=f"{top_up:.0f} L")


@maker
def salt_two_months(facts: Facts, rules: Rulebook) -> Quantity | None:
    return _salt("salt_two_months", _months_l(facts, rules), facts)


@maker
def ro_days(facts: Facts, rules: Rulebook) -> Quantity | None:
    rate = facts.tank.equipment.ro_rate_l_d
    if not rate:
        return None
    needed = water_first_fill(facts, rules)
    assert needed is not None
    days = equipment.ro_hours(needed.value, rate, rules.number("ro_cold_factor")) / 24
    return _made("ro_days", days, "days", equipment.FORMULAS["ro_hours"], water=f"{needed.value:.0f} L", unit_makes=f"{rate:g} L/day at nameplate")


@maker
def mixing_batches(facts: Facts, rules: Rulebook) -> Quantity | None:
    bin_l = facts.tank.equipment.bin_l
    if not bin_l:
        return None
    return _made("mixing_batches", math.ceil(_fill_l(facts) / bin_l), "batches", "first fill / bin, rounded up", bin=f"{bin_l:g} L")


@maker
def curing_water(facts: Facts, rules: Rulebook) -> Quantity | None:
    rock = facts.tank.rock.mass_kg
    if not rock:
        return None
    return _made("curing_water", rock * rules.number("curing_litres_per_kg"), "L", "litres per kg of rock", rock=f"{rock:g} kg")


@maker
def curing_salt(facts: Facts, rules: Rulebook) -> Quantity | None:
    litres = curing_water(facts, rules)
    return None if litres is None else _salt("curing_salt", litres.value, facts)


@maker
def curing_change(facts: Facts, rules: Rulebook) -> Quantity | None:
    litres = curing_water(facts, rules)
    return None if litres is None else _made("curing_change", litres.value / 2, "L", "half of the curing water")


def _dose(name: str, rise: float, facts: Facts) -> Quantity:
    grams = dosing.ammonium_chloride_g(facts.net_volume_l, rise)
    return _made(name, grams, "g", dosing.FORMULAS["ammonium_chloride_g"], net_water=f"{facts.net_volume_l:.1f} L", rise=f"{rise:g} mg/L as N")


@maker
def ammonia_dose_mg(facts: Facts, rules: Rulebook) -> Quantity | None:
    return _made("ammonia_dose_mg", facts.tank.cycle.dose_mg_n_l, "mg/L as N", "as in the tank file", "the tank file")


@maker
def ammonia_dose(facts: Facts, rules: Rulebook) -> Quantity | None:
    return _dose("ammonia_dose", facts.tank.cycle.dose_mg_n_l, facts)


@maker
def ammonia_redose(facts: Facts, rules: Rulebook) -> Quantity | None:
    return _dose("ammonia_redose", rules.number("redose_rise"), facts)


@maker
def challenge_dose(facts: Facts, rules: Rulebook) -> Quantity | None:
    light = facts.tank.rock.kind == "live" or bool(facts.tank.wish_list)
    return _dose("challenge_dose", rules.number("challenge_least" if light else "challenge_full"), facts)


@maker
def ammonia_check(facts: Facts, rules: Rulebook) -> Quantity | None:
    """What the test an hour after the first dose should show, on the kit's own basis."""
    kit = facts.tank.test_kits.get("ammonia")
    basis = (kit.basis if kit else None) or "N"
    value = facts.tank.cycle.dose_mg_n_l * nitrogen_factor("ammonia", basis)
    unit = "mg/L as N" if basis == "N" else f"mg/L as {'NH4' if basis == 'ion' else basis}"
    return _made("ammonia_check", value, unit, "dose x factor of the kit's basis", "molar masses", dose=f"{facts.tank.cycle.dose_mg_n_l:g} mg/L as N")


@maker
def ammonia_total(facts: Facts, rules: Rulebook) -> Quantity | None:
    """What to buy: the upper figure of what a pass takes, and two challenges."""
    return _dose("ammonia_total", rules.number("ammonia_to_pass_most") + 2 * rules.number("challenge_full"), facts)


@maker
def bicarbonate_1dkh(facts: Facts, rules: Rulebook) -> Quantity | None:
    grams = dosing.bicarbonate_g(facts.net_volume_l, 1.0)
    return _made("bicarbonate_1dkh", grams, "g", dosing.FORMULAS["bicarbonate_g"], net_water=f"{facts.net_volume_l:.1f} L", rise="1 dKH")


@maker
def bicarbonate_day(facts: Facts, rules: Rulebook) -> Quantity | None:
    limit = rules.number("alkalinity_rise_empty")
    grams = dosing.bicarbonate_g(facts.net_volume_l, limit)
    return _made("bicarbonate_day", grams, "g", dosing.FORMULAS["bicarbonate_g"], net_water=f"{facts.net_volume_l:.1f} L", rise=f"{limit:g} dKH, the most in one day")


@maker
def bicarbonate_small(facts: Facts, rules: Rulebook) -> Quantity | None:
    """The daily step with animals in."""
    limit = rules.number("alkalinity_step_day")
    return _made("bicarbonate_small", dosing.bicarbonate_g(facts.net_volume_l, limit), "g", dosing.FORMULAS["bicarbonate_g"], net_water=f"{facts.net_volume_l:.1f} L", rise=f"{limit:g} dKH")


@maker
def alkalinity_budget(facts: Facts, rules: Rulebook) -> Quantity | None:
    used = dosing.alkalinity_used_dkh(rules.number("ammonia_to_pass_most"))
    return _made("alkalinity_budget", used, "dKH", dosing.FORMULAS["alkalinity_used_dkh"], ammonia=f"{rules.number('ammonia_to_pass_most'):g} mg/L as N")


def latest(facts: Facts, name: str, where: str = "display") -> Row | None:
    return next((r for r in reversed(facts.rows("reading", name)) if r.where == where and r.low is not None), None)


def _big_share(facts: Facts, rules: Rulebook) -> tuple[float, float, float]:
    """(fraction, nitrate now, target), nitrate in mg/L as the ion; the planned share until nitrate has been read."""
    target = rules.number("nitrate_target")
    row = latest(facts, "nitrate")
    if row is None or row.low is None:
        share = rules.number("big_change_planned") / 100
        return share, target / (1 - share), target
    now = row.low * nitrogen_factor("nitrate", "ion")
    return (dilution.change_fraction(now, target) if now > target else 0.0), now, target


@maker
def big_change(facts: Facts, rules: Rulebook) -> Quantity | None:
    share, now, target = _big_share(facts, rules)
    return _made("big_change", share * facts.net_volume_l, "L", dilution.FORMULAS["change_fraction"], nitrate_now=f"{now:.0f} mg/L as the ion", target=f"{target:g} mg/L")


@maker
def big_change_share(facts: Facts, rules: Rulebook) -> Quantity | None:
    share, now, target = _big_share(facts, rules)
    return _made("big_change_share", share * 100, "%", dilution.FORMULAS["change_fraction"], nitrate_now=f"{now:.0f} mg/L as the ion", target=f"{target:g} mg/L")


@maker
def big_change_batches(facts: Facts, rules: Rulebook) -> Quantity | None:
    share, now, target = _big_share(facts, rules)
    bin_l = min(facts.tank.equipment.bin_l or facts.net_volume_l / 2, facts.net_volume_l)
    if now <= target:
        return _made("big_change_batches", 0, "batches", "nitrate is already at the target", nitrate_now=f"{now:.0f} mg/L")
    steps = dilution.water_change_series(facts.net_volume_l, now, target, bin_l)
    return _made("big_change_batches", len(steps), "batches", dilution.FORMULAS["water_change_series"], bin=f"{bin_l:.0f} L", nitrate_now=f"{now:.0f} mg/L as the ion")


@maker
def big_change_litres(facts: Facts, rules: Rulebook) -> Quantity | None:
    """All the batches together: a series carries more water than one change of the same effect."""
    _share, now, target = _big_share(facts, rules)
    bin_l = min(facts.tank.equipment.bin_l or facts.net_volume_l / 2, facts.net_volume_l)
    if now <= target:
        return _made("big_change_litres", 0, "L", "nitrate is already at the target")
    steps = dilution.water_change_series(facts.net_volume_l, now, target, bin_l)
    return _made("big_change_litres", sum(s.litres for s in steps), "L", dilution.FORMULAS["water_change_series"], batches=f"{len(steps)} of up to {bin_l:.0f} L")


@maker
def big_change_batch(facts: Facts, rules: Rulebook) -> Quantity | None:
    """One batch: as much as the bin holds, or what the next change needs."""
    _share, now, target = _big_share(facts, rules)
    bin_l = min(facts.tank.equipment.bin_l or facts.net_volume_l / 2, facts.net_volume_l)
    if now <= target:
        return None
    step = dilution.water_change_series(facts.net_volume_l, now, target, bin_l)[0]
    return _made("big_change_batch", step.litres, "L", dilution.FORMULAS["water_change_series"], bin=f"{bin_l:.0f} L", nitrate_now=f"{now:.0f} mg/L as the ion")


@maker
def big_change_batch_salt(facts: Facts, rules: Rulebook) -> Quantity | None:
    litres = big_change_batch(facts, rules)
    return None if litres is None else _salt("big_change_batch_salt", litres.value, facts)


@maker
def big_change_salt(facts: Facts, rules: Rulebook) -> Quantity | None:
    litres = big_change_litres(facts, rules)
    return None if litres is None else _salt("big_change_salt", litres.value, facts)


def _share_of_net(name: str, number: str) -> Maker:
    def make(facts: Facts, rules: Rulebook) -> Quantity | None:
        share = rules.number(number)
        return _made(name, facts.net_volume_l * share / 100, "L", f"{share:g} % of the net volume", net_water=f"{facts.net_volume_l:.0f} L")

    make.__name__ = name
    return maker(make)


_share_of_net("weekly_change", "weekly_change_share")
_share_of_net("emergency_change", "emergency_change_share")
_share_of_net("half_change", "half_change_share")


@maker
def weekly_salt(facts: Facts, rules: Rulebook) -> Quantity | None:
    litres = MAKERS["weekly_change"](facts, rules)
    assert litres is not None
    return _salt("weekly_salt", litres.value, facts)


def _open_fraction(facts: Facts) -> float:
    return 0.2 if facts.tank.tank.lid else 1.0


@maker
def evaporation_day(facts: Facts, rules: Rulebook) -> Quantity | None:
    glass = facts.tank.tank
    if not (glass.length_cm and glass.width_cm):
        return None
    room = facts.tank.room.temperature_c if facts.tank.room.temperature_c is not None else 22.0
    litres = evaporation.evaporation_l_per_day(
        glass.length_cm - (glass.glass_mm or GLASS_MM) / 5, glass.width_cm - (glass.glass_mm or GLASS_MM) / 5, facts.tank.water.temperature_c, room,
        rules.number("room_humidity") / 100, open_fraction=_open_fraction(facts), surface_factor=rules.number("surface_factor"))
    return _made("evaporation_day", litres, "L", evaporation.FORMULAS["evaporation_l_per_day"], room=f"{room:g} °C", water=f"{facts.tank.water.temperature_c:g} °C",
                 open_part=f"{_open_fraction(facts):.0%} of the surface")


@maker
def top_up_reservoir(facts: Facts, rules: Rulebook) -> Quantity | None:
    litres = evaporation.top_up_reservoir_max_l(facts.net_volume_l, facts.tank.water.salinity, max_drop_ppt=rules.number("top_up_drop"))
    return _made("top_up_reservoir", litres, "L", evaporation.FORMULAS["top_up_reservoir_max_l"], net_water=f"{facts.net_volume_l:.0f} L")


def _heat_w(facts: Facts, rules: Rulebook) -> float | None:
    glass = facts.tank.tank
    if not (glass.length_cm and glass.width_cm and glass.height_cm):
        return None
    room = facts.tank.room.temperature_c if facts.tank.room.temperature_c is not None else 22.0
    cold = min(room, 22.0) - rules.number("winter_drop")
    depth = sizing.water_depth_cm(glass.height_cm, glass.glass_mm or GLASS_MM, glass.waterline_cm if glass.waterline_cm is not None else WATERLINE_CM)
    loss = heat.heat_loss(glass.length_cm, glass.width_cm, depth, glass.glass_mm or GLASS_MM, water_c=facts.tank.water.temperature_c, room_c=cold,
                          relative_humidity=rules.number("room_humidity") / 100, open_fraction=_open_fraction(facts),
                          surface_factor=rules.number("surface_factor"))
    return loss.total_w


@maker
def heater_total(facts: Facts, rules: Rulebook) -> Quantity | None:
    need = _heat_w(facts, rules)
    if need is None:
        return None
    return _made("heater_total", need, "W", heat.FORMULAS["heat_loss"], water=f"{facts.tank.water.temperature_c:g} °C")


@maker
def heater_each(facts: Facts, rules: Rulebook) -> Quantity | None:
    need = _heat_w(facts, rules)
    if need is None:
        return None
    pair = heat.heater_pair(need, HEATER_WATTS, share_each=rules.number("heater_share") / 100)
    return _made("heater_each", pair.each_w, "W", heat.FORMULAS["heater_pair"], need=f"{need:.0f} W")


@maker
def warm_up(facts: Facts, rules: Rulebook) -> Quantity | None:
    owned = facts.tank.equipment.heater_w
    made = heater_each(facts, rules)
    watts = sum(owned) if owned else 2 * made.value if made else None
    if not watts:
        return None
    room = min(facts.tank.room.temperature_c or 20.0, facts.tank.water.temperature_c)
    hours = heat.warm_up_hours(facts.net_volume_l, room, facts.tank.water.temperature_c, watts)
    return _made("warm_up", hours, "h", heat.FORMULAS["warm_up_hours"], heaters=f"{watts:.0f} W", start=f"{room:g} °C")


@maker
def circulation(facts: Facts, rules: Rulebook) -> Quantity | None:
    turns = rules.number("circulation_turnover")
    return _made("circulation", equipment.circulation_l_per_h(facts.net_volume_l, turns), "L/h", f"{turns:g} times the net volume an hour")


@maker
def skimming(facts: Facts, rules: Rulebook) -> Quantity | None:
    turns = rules.number("skimmer_turnover")
    return _made("skimming", equipment.circulation_l_per_h(facts.net_volume_l, turns), "L/h", f"{turns:g} times the net volume an hour")


@maker
def sand_mass(facts: Facts, rules: Rulebook) -> Quantity | None:
    kg = sand_kg(facts.tank)
    return None if not kg else _made("sand_mass", kg * 1000, "g", "as given, or area x depth x 1.4 kg/L")


@maker
def rock_mass(facts: Facts, rules: Rulebook) -> Quantity | None:
    kg = facts.tank.rock.mass_kg
    return None if not kg else _made("rock_mass", kg * 1000, "g", "as in the tank file", "the tank file")


@maker
def crew_first(facts: Facts, rules: Rulebook) -> Quantity | None:
    count = max(2, round(facts.net_volume_l / rules.number("crew_litres_per_snail") / 2))
    first = min(count, max(3, round(facts.net_volume_l / rules.number("crew_first_litres_per_snail"))))
    return _made("crew_first", first, "small snails", "net litres / litres per snail in the first weeks", net_water=f"{facts.net_volume_l:.0f} L")


@maker
def crew_second(facts: Facts, rules: Rulebook) -> Quantity | None:
    first = crew_first(facts, rules)
    assert first is not None
    whole = max(first.value, facts.net_volume_l / rules.number("crew_litres_per_snail"))
    return _made("crew_second", max(1, round(whole - first.value)), "small snails", "the whole crew less the first half", net_water=f"{facts.net_volume_l:.0f} L")


@maker
def monthly_power(facts: Facts, rules: Rulebook) -> Quantity | None:
    need = heater_total(facts, rules)
    if need is None:
        return None
    kwh = need.value * rules.number("heater_duty") / 100 * 730.5 / 1000
    return _made("monthly_power", kwh, "kWh", "heat need x share of the time x hours of a month, heaters alone", need=f"{need.value:.0f} W")
