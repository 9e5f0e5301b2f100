"""Figures of the box and its equipment: volume, weight, heat, evaporation, flow."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Literal

from planner.judge.facts import GLASS_MM, WATERLINE_CM, Facts, box_cm, gross_l, inside_l, poured_rows, sand_kg
from planner.judge.figures.figure import DESCRIBED, made, text_of
from planner.rulebook.shapes import Rulebook
from planner.science import box as sizing
from planner.science import evaporation, heat, water
from planner.science.formula import OutOfRange
from planner.terms.records import Amount, Quantity
from planner.terms.texts import ByUnits

HEATER_WATTS = (25.0, 50.0, 75.0, 100.0, 150.0, 200.0, 250.0, 300.0, 400.0, 500.0, 800.0, 1000.0)
"""Common wattages on sale (common practice, no source)."""
SAND_DISPLACES = 0.38
"""Litres that a kilogram of sand takes up (common practice: the inverse of 2.65 kg/L)."""


def net_volume(facts: Facts, rules: Rulebook) -> Quantity | None:
    return facts.net_volume


def gross_volume(facts: Facts, rules: Rulebook) -> Quantity | None:
    return made("gross_volume", gross_l(facts.tank), "L", "outside length x width x height", "geometry")


def leak_water(facts: Facts, rules: Rulebook) -> Quantity | None:
    litres, how = inside_l(facts.tank)
    return made("leak_water", litres, "L", how, "geometry")


def waterline(facts: Facts, rules: Rulebook) -> Quantity | None:
    """How far below the rim the water stands."""
    given = facts.tank.tank.waterline_cm
    return made("waterline", WATERLINE_CM if given is None else given, "cm", "the usual level" if given is None else "as you described it", DESCRIBED)


@cache
def _density(salinity: float) -> float:
    return water.density_kg_m3(salinity, 25.0)


def assumed_sand_kg(facts: Facts, rules: Rulebook) -> float:
    """Sand of which nothing is said, as deep as the plan would lay it at most: what the floor has to bear must not leave it out."""
    sand = facts.tank.sand
    if sand.kind == "none" or sand.mass_kg is not None or sand.depth_cm is not None:
        return 0.0
    length, width, _height, _guess = box_cm(facts.tank)
    return sizing.sand_mass_kg(length * width, rules.number("sand_depth_high"))


def _masses(facts: Facts, rules: Rulebook) -> sizing.Masses:
    length, width, height, _guess = box_cm(facts.tank)
    glass = facts.tank.tank
    assumed = assumed_sand_kg(facts, rules)
    # It takes the place of water, unless the water was counted with the sand in.
    displaced = 0.0 if poured_rows(facts.journal, facts.on) else SAND_DISPLACES * assumed
    return sizing.tank_masses(
        sizing.glass_mass_kg(length, width, height, glass.glass_mm or GLASS_MM), facts.net_volume_l - displaced,
        water_density_kg_l=_density(facts.tank.water.salinity) / 1000, rock_kg=facts.tank.rock.mass_kg or 0.0,
        sand_kg=sand_kg(facts.tank) + assumed, stand_kg=rules.number("stand_mass_per_litre") * gross_l(facts.tank))


def total_weight(facts: Facts, rules: Rulebook) -> Quantity | None:
    m = _masses(facts, rules)
    guess = ", assumed until you describe it" if assumed_sand_kg(facts, rules) else ""
    return made("total_weight", m.total_kg * 1000, "g", "glass + water + rock + sand + stand", "sum of parts; the stand is an estimate",
                 glass=Amount(m.glass_kg * 1000, "g"), water=Amount(m.water_kg * 1000, "g"), rock=Amount(m.rock_kg * 1000, "g") if facts.tank.rock.mass_kg is not None else "not counted until you describe it", sand=text_of(Amount(m.sand_kg * 1000, "g"), guess),
                 stand=text_of("about ", Amount(m.stand_kg * 1000, "g")))


def stand_weight(facts: Facts, rules: Rulebook) -> Quantity | None:
    """What the weight counts for stand and equipment, so that whoever judges the floor can put the maker's figure in its place."""
    return made("stand_weight", _masses(facts, rules).stand_kg * 1000, "g", "kg for each litre of the box", "an estimate", box=Amount(gross_l(facts.tank), "L"))


def floor_load(facts: Facts, rules: Rulebook) -> Quantity | None:
    m = _masses(facts, rules)
    length, width, _height, guess = box_cm(facts.tank)
    floor = facts.tank.room.floor or "unknown"
    load = sizing.floor_load(m.total_kg, length, width, floor, facts.tank.units)
    figure = made("floor_load", load.pressure_kn_m2, "kN/m²", "weight over the footprint", "weight = mass x 9.81 m/s², pressure = weight / area",
                  weight=Amount(m.total_kg * 1000, "g"), footprint=text_of(ByUnits(f"{load.footprint_m2:.2f} m²", f"{load.footprint_m2 / 0.09290304:.1f} ft²")))
    advice = f"The load on the floor is for a base that was assumed from the volume alone. Measure yours first. {load.advice}" if guess else load.advice
    if facts.tank.rock.mass_kg is None:
        advice += " These figures leave out the rock, because its weight is not described yet."
    return replace(figure, advice=advice, assumed=bool(guess))


def _open_fraction(facts: Facts) -> float:
    return 0.2 if facts.tank.tank.lid is True else 1.0  # a net lets everything through but the animals


def evaporation_day(facts: Facts, rules: Rulebook) -> Quantity | None:
    glass = facts.tank.tank
    length, width, _height, _guess = box_cm(facts.tank)
    room = facts.tank.room.temperature_c if facts.tank.room.temperature_c is not None else 22.0
    litres = evaporation.evaporation_l_per_day(
        length - (glass.glass_mm or GLASS_MM) / 5, width - (glass.glass_mm or GLASS_MM) / 5, facts.tank.water.temperature_c, room,
        rules.number("room_humidity") / 100, open_fraction=_open_fraction(facts), surface_factor=rules.number("surface_factor"))
    return made("evaporation_day", litres, "L", evaporation.FORMULAS["evaporation_l_per_day"], room=Amount(room, "°C"), water=Amount(facts.tank.water.temperature_c, "°C"),
                 open_part=f"{_open_fraction(facts):.0%} of the surface")


def top_up_reservoir(facts: Facts, rules: Rulebook) -> Quantity | None:
    litres = evaporation.top_up_reservoir_max_l(facts.net_volume_l, facts.tank.water.salinity, max_drop_ppt=rules.number("top_up_drop"))
    return made("top_up_reservoir", litres, "L", evaporation.FORMULAS["top_up_reservoir_max_l"], net_water=Amount(facts.net_volume_l, "L"))


def _cold_c(facts: Facts, rules: Rulebook) -> float:
    """The cold night by which heaters are sized, deg C. A warm room is taken as 22: it may be warm in summer alone."""
    room = facts.tank.room.temperature_c if facts.tank.room.temperature_c is not None else 22.0
    return min(room, 22.0) - rules.number("winter_drop")


def cold_room(facts: Facts, rules: Rulebook) -> Quantity | None:
    return made("cold_room", _cold_c(facts, rules), "°C", "the room, 22 °C at most, less what a winter night takes off")


def room_temperature(facts: Facts, rules: Rulebook) -> Quantity | None:
    room = facts.tank.room.temperature_c
    return None if room is None else made("room_temperature", room, "°C", "as you described it", DESCRIBED)


def _heat_w(facts: Facts, rules: Rulebook) -> float:
    glass = facts.tank.tank
    length, width, height, _guess = box_cm(facts.tank)
    cold = _cold_c(facts, rules)
    depth = sizing.water_depth_cm(height, glass.glass_mm or GLASS_MM, glass.waterline_cm if glass.waterline_cm is not None else WATERLINE_CM)
    loss = heat.heat_loss(length, width, depth, glass.glass_mm or GLASS_MM, water_c=facts.tank.water.temperature_c, room_c=cold,
                          relative_humidity=rules.number("room_humidity") / 100, open_fraction=_open_fraction(facts),
                          surface_factor=rules.number("surface_factor"))
    return loss.total_w


def heater_total(facts: Facts, rules: Rulebook) -> Quantity | None:
    need = _heat_w(facts, rules)
    return made("heater_total", need, "W", heat.FORMULAS["heat_loss"], water=Amount(facts.tank.water.temperature_c, "°C"),
                room=text_of(Amount(_cold_c(facts, rules), "°C"), ", a cold night"))


def heater_each(facts: Facts, rules: Rulebook) -> Quantity | None:
    need = _heat_w(facts, rules)
    each = heat.heater_pair(need, HEATER_WATTS, share_each=rules.number("heater_share") / 100)
    return made("heater_each", each, "W", heat.FORMULAS["heater_pair"], need=f"{need:.0f} W")


def own_heaters(facts: Facts, rules: Rulebook) -> Literal["weak", "strong", "right"] | None:
    """Whether the described heaters suit the tank: together they give what a cold night takes, and none of them so much that it overheats
    the water soon if it sticks on. None where nothing tells."""
    owned = facts.tank.equipment.heater_w
    try:
        need = _heat_w(facts, rules)
        each = heat.heater_pair(need, HEATER_WATTS, share_each=rules.number("heater_share") / 100)
    except OutOfRange:
        return None
    if not owned:
        return None
    most = max(each, need * rules.number("heater_most") / 100)
    return "weak" if sum(owned) < need else "strong" if max(owned) > most else "right"


def warm_up(facts: Facts, rules: Rulebook) -> Quantity | None:
    owned = facts.tank.equipment.heater_w
    pair = heater_each(facts, rules)
    watts = sum(owned) if owned else 2 * pair.value if pair else None
    if not watts:
        return None
    room = min(facts.tank.room.temperature_c or 20.0, facts.tank.water.temperature_c)
    allowed = (facts.tank.water.temperature_c - room) / rules.number("temperature_step_hour")
    hours = max(heat.warm_up_hours(facts.net_volume_l, room, facts.tank.water.temperature_c, watts), allowed)
    return made("warm_up", hours, "h", heat.FORMULAS["warm_up_hours"], heaters=f"{watts:.0f} W", start=Amount(room, "°C"))


def temperature_step(facts: Facts, rules: Rulebook) -> Quantity | None:
    return made("temperature_step", rules.number("temperature_step_hour"), "K", "as in the rules")


def first_shopping(facts: Facts, rules: Rulebook) -> Quantity | None:
    """Days from the start to the first shopping. Who shops on some days of the week alone, and starts on one, shops that
    day: what the leak test needs would otherwise come after it."""
    wait = 0.0 if facts.start.weekday() in facts.tank.keeper.shopping_weekdays else rules.days("site_shopping")
    return made("first_shopping", wait, "days", "none on a shopping day of the tank file, else the usual wait")


def circulation(facts: Facts, rules: Rulebook) -> Quantity | None:
    turns = rules.number("circulation_turnover")
    return made("circulation", sizing.circulation_l_per_h(facts.net_volume_l, turns), "L/h", f"{turns:g} times the net volume an hour")


def skimming(facts: Facts, rules: Rulebook) -> Quantity | None:
    turns = rules.number("skimmer_turnover")
    return made("skimming", sizing.circulation_l_per_h(facts.net_volume_l, turns), "L/h", f"{turns:g} times the net volume an hour")


def sand_mass(facts: Facts, rules: Rulebook) -> Quantity | None:
    kg = sand_kg(facts.tank)
    return None if not kg else made("sand_mass", kg * 1000, "g", "as given, or area x depth x 1.4 kg/L")


def sand_thin(facts: Facts, rules: Rulebook) -> Quantity | None:
    return _sand_of_depth("sand_thin", rules.number("sand_depth_low"), facts)


def sand_thick(facts: Facts, rules: Rulebook) -> Quantity | None:
    _length, _width, _height, guess = box_cm(facts.tank)
    return replace(_sand_of_depth("sand_thick", rules.number("sand_depth_high"), facts), assumed=guess)


def _sand_of_depth(name: str, depth_cm: float, facts: Facts) -> Quantity:
    """What a bed of the usual depth takes, to half a kilogram, for whoever has described neither its mass nor its depth."""
    length, width, _height, _guess = box_cm(facts.tank)
    kg = max(0.5, round(2 * sizing.sand_mass_kg(length * width, depth_cm)) / 2)
    return made(name, kg * 1000, "g", "area x depth x 1.4 kg/L, to half a kilogram", depth=Amount(depth_cm, "cm"))


def rock_usual(facts: Facts, rules: Rulebook) -> Quantity | None:
    """What people mostly put into a tank of this size, to half a kilogram, for whoever has no rock yet to weigh."""
    return made("rock_usual", usual_rock_kg(facts, rules) * 1000, "g", "usual kg a litre of the box, to half a kilogram", box=Amount(gross_l(facts.tank), "L"))


def usual_rock_kg(facts: Facts, rules: Rulebook) -> float:
    wet = facts.tank.rock.kind in ("live", "cured")
    return max(0.5, round(2 * gross_l(facts.tank) * rules.number("rock_usual_wet" if wet else "rock_usual_dry")) / 2)


def reckoned_rock_kg(facts: Facts, rules: Rulebook) -> float:
    """For what is bought or ordered before the rock is there: what is described, else what is usual. No dose rests on it."""
    kg = facts.tank.rock.mass_kg
    return usual_rock_kg(facts, rules) if kg is None else kg


def rock_mass(facts: Facts, rules: Rulebook) -> Quantity | None:
    kg = facts.tank.rock.mass_kg
    return None if not kg else made("rock_mass", kg * 1000, "g", "as you described it", DESCRIBED)


def monthly_power(facts: Facts, rules: Rulebook) -> Quantity | None:
    need = heater_total(facts, rules)
    if need is None:
        return None
    kwh = need.value * rules.number("heater_duty") / 100 * 730.5 / 1000
    return made("monthly_power", kwh, "kWh", "heat need x share of the time x hours of a month, heaters alone", need=f"{need.value:.0f} W")
