"""Figures of the water: target, salt, litres to make and to keep, batches."""

from __future__ import annotations

import math
from datetime import date
from functools import cache

from planner.judge.facts import Facts, inside_l
from planner.judge.figures.figure import DESCRIBED, Maker, made, text_of
from planner.judge.figures.tank import evaporation_day, reckoned_rock_kg
from planner.judge.weekly_change import weekly_change_percent, weekly_nitrate_aim
from planner.rulebook.shapes import Rulebook
from planner.science import box, salt, water
from planner.terms.records import Amount, Quantity
from planner.terms.units import US_GALLON_L


@cache
def _target_sg(salinity: float) -> float:
    return water.sg_from_salinity(salinity, 25.0, 25.0)


def target_salinity(facts: Facts, rules: Rulebook) -> Quantity | None:
    return made("target_salinity", facts.tank.water.salinity, "ppt", "as you described it", DESCRIBED)


def target_temperature(facts: Facts, rules: Rulebook) -> Quantity | None:
    return made("target_temperature", facts.tank.water.temperature_c, "°C", "as you described it", DESCRIBED)


def target_sg(facts: Facts, rules: Rulebook) -> Quantity | None:
    return made("target_sg", _target_sg(facts.tank.water.salinity), "SG 25/25", water.FORMULAS["sg_from_salinity"], salinity=f"{facts.tank.water.salinity:g} ppt")


def sg_low(facts: Facts, rules: Rulebook) -> Quantity | None:
    low = rules.number("reef_salinity_low")
    return made("sg_low", _target_sg(low), "SG 25/25", water.FORMULAS["sg_from_salinity"], salinity=f"{low:g} ppt")


def sg_high(facts: Facts, rules: Rulebook) -> Quantity | None:
    high = rules.number("reef_salinity_high")
    return made("sg_high", _target_sg(high), "SG 25/25", water.FORMULAS["sg_from_salinity"], salinity=f"{high:g} ppt")


def salt_figure(name: str, litres: float, facts: Facts) -> Quantity | None:
    """Salt for so many litres; None for who buys the water ready mixed."""
    w = facts.tank.water
    if w.source == "ready_mixed":
        return None
    return made(name, salt.salt_mass_g(litres, w.salinity, w.salt_per_litre_g), "g", salt.FORMULAS["salt_mass_g"],
                 finished_water=Amount(litres, "L"), target=f"{w.salinity:g} ppt", salt_per_litre_at_35=f"{w.salt_per_litre_g:g} g")


def salt_each(facts: Facts, rules: Rulebook) -> Quantity:
    """Salt for every ten litres or every gallon that an alarm asks for beyond the reserve; also for who buys water ready mixed and has none left."""
    w, litres = facts.tank.water, 10.0 if facts.tank.units == "metric" else US_GALLON_L
    return made("salt_each", salt.salt_mass_g(litres, w.salinity, w.salt_per_litre_g), "g", salt.FORMULAS["salt_mass_g"], finished_water=Amount(litres, "L"))


def fill_l(facts: Facts) -> float:
    """Litres of salt water for the first fill: the bare tank is filled to the line, and rock then displaces some."""
    if facts.tank.water.mixed_in == "tank":
        return inside_l(facts.tank)[0] + (facts.tank.tank.sump_l or 0.0)
    return facts.net_volume_l


def water_first_fill(facts: Facts, rules: Rulebook) -> Quantity | None:
    litres = fill_l(facts) * (1 + rules.number("fill_reserve") / 100)
    return made("water_first_fill", litres, "L", "first fill + spillage", net_water=Amount(facts.net_volume_l, "L"))


def salt_first_fill(facts: Facts, rules: Rulebook) -> Quantity | None:
    return salt_figure("salt_first_fill", fill_l(facts), facts)


def salt_trim_1ppt(facts: Facts, rules: Rulebook) -> Quantity | None:
    s = facts.tank.water.salinity
    grams = salt.salt_mass_g(fill_l(facts), s, facts.tank.water.salt_per_litre_g, salinity_now=s - 1)
    return made("salt_trim_1ppt", grams, "g", salt.FORMULAS["salt_mass_g"], finished_water=Amount(fill_l(facts), "L"), rise="1 ppt")


def reserve_water(facts: Facts, rules: Rulebook) -> Quantity | None:
    share = rules.number("reserve_share")
    return made("reserve_water", facts.net_volume_l * share / 100, "L", f"{share:g} % of the net volume, kept ready mixed")


def reserve_salt(facts: Facts, rules: Rulebook) -> Quantity | None:
    litres = reserve_water(facts, rules)
    return None if litres is None else salt_figure("reserve_salt", litres.value, facts)


def _months_l(facts: Facts, rules: Rulebook) -> float:
    weekly = facts.net_volume_l * rules.number("weekly_change_share") / 100
    big = facts.net_volume_l * rules.number("big_change_planned") / 100
    return fill_l(facts) + 8 * weekly + big + facts.net_volume_l * rules.number("reserve_share") / 100


def water_two_months(facts: Facts, rules: Rulebook) -> Quantity | None:
    top_up, rock = _top_up_l(facts, rules), _rock_l(facts, rules)
    return made("water_two_months", _months_l(facts, rules) + top_up + rock, "L", "first fill + big change + eight weekly changes + reserve + top-up for 60 days + the rock's bin",
                 first_fill=Amount(fill_l(facts), "L"), top_up=Amount(top_up, "L"), rock=Amount(rock, "L"))


def top_up_two_months(facts: Facts, rules: Rulebook) -> Quantity | None:
    return made("top_up_two_months", _top_up_l(facts, rules), "L", "top-up for 60 days")


def _rock_l(facts: Facts, rules: Rulebook) -> float:
    """Litres that the bin of the rock takes with the changes that are likely: all of it for dry rock, half of it for live rock."""
    kind = facts.tank.rock.kind
    if kind not in ("dry", "live"):
        return 0.0
    return _rock_bin_l(facts, rules) * (1 + (rules.number("leach_changes") if kind == "dry" else rules.number("cure_changes") / 2))


def _rock_bin_l(facts: Facts, rules: Rulebook) -> float:
    """Litres that cover the rock in its bin, as far as it is known before the rock is there; 0 where it has no bin."""
    return 0.0 if facts.tank.rock.cured_in == "tank" else reckoned_rock_kg(facts, rules) * rules.number("curing_litres_per_kg")


def rock_salt(facts: Facts, rules: Rulebook) -> Quantity | None:
    litres = _rock_bin_l(facts, rules)
    return salt_figure("rock_salt", litres, facts) if litres else None


def rock_water(facts: Facts, rules: Rulebook) -> Quantity | None:
    litres = _rock_l(facts, rules)
    return made("rock_water", litres, "L", "what covers the rock + its likely changes") if litres else None


def water_to_start(facts: Facts, rules: Rulebook) -> Quantity | None:
    """All the water that is needed before anything lives in it: whoever buys it comes home with this."""
    fill, reserve, rock = water_first_fill(facts, rules), reserve_water(facts, rules), _rock_l(facts, rules)
    assert fill is not None and reserve is not None
    return made("water_to_start", fill.value + reserve.value + rock, "L", "first fill with its spare + reserve + the rock's bin", first_fill=Amount(fill.value, "L"), reserve=Amount(reserve.value, "L"), rock=Amount(rock, "L"))


def _top_up_l(facts: Facts, rules: Rulebook) -> float:
    evaporated = evaporation_day(facts, rules)
    return 60 * evaporated.value if evaporated else 0.6 * facts.net_volume_l


def salt_two_months(facts: Facts, rules: Rulebook) -> Quantity | None:
    return salt_figure("salt_two_months", _months_l(facts, rules), facts)


def ro_days(facts: Facts, rules: Rulebook) -> Quantity | None:
    rate = facts.tank.equipment.ro_rate_l_d
    if not rate:
        return None
    needed = water_first_fill(facts, rules)
    assert needed is not None
    days = box.ro_hours(needed.value, rate, rules.number("ro_cold_factor")) / 24
    return made("ro_days", days, "days", box.FORMULAS["ro_hours"], water=Amount(needed.value, "L"), unit_makes=text_of(Amount(rate, "L/day"), " at nameplate"))


def usable_bin_l(facts: Facts, rules: Rulebook) -> float | None:
    """What may stand in the bin, with room for pump, heater and stirring; None where its size is not known."""
    bin_l = facts.tank.equipment.bin_l
    return bin_l * rules.number("bin_filled") / 100 if bin_l else None


def bin_heater(facts: Facts, rules: Rulebook) -> Quantity | None:
    bin_l, watts = facts.tank.equipment.bin_l, rules.number("bin_heater_watts")
    return made("bin_heater", bin_l * watts, "W", "litres of the bin x watts for each", bin=Amount(bin_l, "L"), each=f"{watts:g} W") if bin_l else None


def mixing_batches(facts: Facts, rules: Rulebook) -> Quantity | None:
    usable, bin_l = usable_bin_l(facts, rules), facts.tank.equipment.bin_l
    if not usable or not bin_l or facts.tank.water.mixed_in == "tank" or facts.tank.water.source == "ready_mixed":  # all at once: in the empty tank, or as it is bought
        return None
    return made("mixing_batches", math.ceil(fill_l(facts) / usable - 1e-9), "batches", "first fill / what the bin takes, rounded up", bin=Amount(bin_l, "L"), filled_to=Amount(usable, "L"))


def _batch_l(facts: Facts, rules: Rulebook) -> float:
    """Litres of one batch: the fill in equal parts, each no larger than what the bin takes."""
    usable = usable_bin_l(facts, rules)
    if facts.tank.water.mixed_in == "tank" or not usable:
        return fill_l(facts)
    return fill_l(facts) / math.ceil(fill_l(facts) / usable - 1e-9)


def _batch_ro_days(facts: Facts, rules: Rulebook) -> float:
    """Days that the RO unit needs for the water of one batch; 0 where its rate is not known."""
    rate = facts.tank.equipment.ro_rate_l_d
    return box.ro_hours(_batch_l(facts, rules), rate, rules.number("ro_cold_factor")) / 24 if rate else 0.0


def first_batch_days(facts: Facts, rules: Rulebook) -> Quantity | None:
    """Days until the water of the first batch is there: by the unit's rate, else the usual lead."""
    rate = facts.tank.equipment.ro_rate_l_d
    days = max(1.0, _batch_ro_days(facts, rules)) if rate else rules.days("ro_lead")
    return made("first_batch_days", days, "days", box.FORMULAS["ro_hours"] if rate else "the usual lead", batch=Amount(_batch_l(facts, rules), "L"))


def last_batch_days(facts: Facts, rules: Rulebook) -> Quantity | None:
    """Days from the first batch to the last: a day of mixing for each, or as long as the RO unit takes for it."""
    batches, each = mixing_batches(facts, rules), batch_step(facts, rules)
    if batches is None or each is None:
        return None
    return made("last_batch_days", (batches.value - 1) * each.value, "days", "(batches - 1) x the longer of mixing and making one", batches=f"{batches.value:g}", each=f"{each.value:g} d")


def later_batches(facts: Facts, rules: Rulebook) -> Quantity | None:
    """Batches of the first fill after its first one."""
    batches = mixing_batches(facts, rules)
    return made("later_batches", batches.value - 1, "batches", "all batches of the first fill but the first", batches=f"{batches.value:g}") if batches is not None else None


def batch_step(facts: Facts, rules: Rulebook) -> Quantity | None:
    """Days from one batch of the first fill to the next: a day of mixing, or as long as the RO unit takes for its water."""
    if mixing_batches(facts, rules) is None:
        return None
    each = max(rules.days("batch_each"), math.ceil(_batch_ro_days(facts, rules) - 1e-9))
    return made("batch_step", each, "days", "the longer of mixing and making one batch", batch=Amount(_batch_l(facts, rules), "L"))


def batch_water(facts: Facts, rules: Rulebook) -> Quantity | None:
    return made("batch_water", _batch_l(facts, rules), "L", "first fill in equal batches, none larger than the bin", first_fill=Amount(fill_l(facts), "L"))


def container_water(facts: Facts, rules: Rulebook) -> Quantity | None:
    """What stands in containers while the first batch fills the bin: the water of the others and the spare, and of who fetches all at
    once what the rock's next change takes. Tap water is treated in the bin, so that there the finished batches wait. None where
    the whole fill is mixed in the tank, or the bin is not described."""
    fill, batches, rock = water_first_fill(facts, rules), mixing_batches(facts, rules), curing_water(facts, rules)
    if fill is None or batches is None:
        return None
    if facts.tank.water.source == "tap":
        return made("container_water", (batches.value - 1) * _batch_l(facts, rules), "L", "(batches - 1) x one batch", batch=Amount(_batch_l(facts, rules), "L"))
    later = _rock_l(facts, rules) - rock.value if facts.tank.water.source == "distilled" and rock is not None and _rock_l(facts, rules) else 0.0
    return made("container_water", fill.value - _batch_l(facts, rules) + later, "L", "first fill with its spare - one batch in the bin + the rock's changes", first_fill=Amount(fill.value, "L"), batch=Amount(_batch_l(facts, rules), "L"), rock=Amount(later, "L"))


def batch_nine_tenths(facts: Facts, rules: Rulebook) -> Quantity | None:
    whole = salt_figure("batch_nine_tenths", _batch_l(facts, rules), facts)
    if whole is None:
        return None
    return Quantity(whole.name, whole.value * rules.number("salt_first_share") / 100, "g", "first share of the salt for one batch", whole.inputs, whole.source)


def batch_trim_1ppt(facts: Facts, rules: Rulebook) -> Quantity | None:
    s = facts.tank.water.salinity
    grams = salt.salt_mass_g(_batch_l(facts, rules), s, facts.tank.water.salt_per_litre_g, salinity_now=s - 1)
    return made("batch_trim_1ppt", grams, "g", salt.FORMULAS["salt_mass_g"], finished_water=Amount(_batch_l(facts, rules), "L"), rise="1 ppt")


def curing_water(facts: Facts, rules: Rulebook) -> Quantity | None:
    rock = facts.tank.rock.mass_kg
    if not rock or facts.tank.rock.cured_in == "tank":
        return None
    return made("curing_water", rock * rules.number("curing_litres_per_kg"), "L", "litres per kg of rock", rock=Amount(rock * 1000, "g"))


def rock_bin_size(facts: Facts, rules: Rulebook) -> Quantity | None:
    """The water, what the rock displaces, and the rim that stays free."""
    rock, litres = reckoned_rock_kg(facts, rules), _rock_bin_l(facts, rules)
    if not litres:
        return None
    return made("rock_bin_size", (litres + box.displaced_l(rock, 0)) / (rules.number("bin_filled") / 100), "L", "(water + rock) / share that is filled", water=Amount(litres, "L"), rock=Amount(rock * 1000, "g"))


def curing_salt(facts: Facts, rules: Rulebook) -> Quantity | None:
    litres = curing_water(facts, rules)
    return None if litres is None else salt_figure("curing_salt", litres.value, facts)


def curing_change(facts: Facts, rules: Rulebook) -> Quantity | None:
    litres = curing_water(facts, rules)
    return None if litres is None else made("curing_change", litres.value / 2, "L", "half of the curing water")


def _share_of_net(name: str, number: str) -> Maker:
    def make(facts: Facts, rules: Rulebook) -> Quantity | None:
        share = rules.number(number)
        return made(name, facts.net_volume_l * share / 100, "L", f"{share:g} % of the net volume", net_water=Amount(facts.net_volume_l, "L"))

    return make


def weekly_change(facts: Facts, rules: Rulebook, mixed: date | None = None) -> Quantity:
    share, usual = weekly_change_percent(facts, rules, mixed), rules.number("weekly_change_share")
    why = "" if share == usual else f"; {usual:g} % would let nitrate stay above {weekly_nitrate_aim(facts, rules):g} mg/L"
    return made("weekly_change", facts.net_volume_l * share / 100, "L", f"{share:g} % of the net volume{why}", net_water=Amount(facts.net_volume_l, "L"))


emergency_change = _share_of_net("emergency_change", "emergency_change_share")
half_change = _share_of_net("half_change", "half_change_share")
least_change = _share_of_net("least_change", "least_change_share")


def salt_of_two_months(facts: Facts, rules: Rulebook) -> Quantity | None:
    """What the weekly changes of the next eight weeks take, at the size of today."""
    litres = weekly_change(facts, rules)
    return salt_figure("salt_of_two_months", 8 * litres.value, facts)


def weekly_salt(facts: Facts, rules: Rulebook, mixed: date | None = None) -> Quantity | None:
    litres = weekly_change(facts, rules, mixed)
    return salt_figure("weekly_salt", litres.value, facts)
