"""Figures of the cycle and after: doses, alkalinity, the big change, the crew."""

from __future__ import annotations

import math
from datetime import timedelta

from planner.judge.challenge import dose_rise
from planner.judge.evidence import clear_level, most_below
from planner.judge.facts import Facts, last_reading
from planner.judge.figures.figure import DESCRIBED, made
from planner.rulebook.shapes import Rulebook
from planner.science import dosing
from planner.terms.records import Amount, Quantity
from planner.terms.written_amounts import nitrogen_factor


def _dose(name: str, rise: float, facts: Facts) -> Quantity:
    grams = dosing.ammonium_chloride_g(facts.net_volume_l, rise)
    return made(name, grams, "g", dosing.FORMULAS["ammonium_chloride_g"], net_water=Amount(facts.net_volume_l, "L"), rise=f"{rise:g} mg/L as N")


def ammonia_dose_mg(facts: Facts, rules: Rulebook) -> Quantity | None:
    return made("ammonia_dose_mg", facts.tank.cycle.dose_mg_n_l, "mg/L as N", "as you described it", DESCRIBED)


def ammonia_dose(facts: Facts, rules: Rulebook) -> Quantity | None:
    return _dose("ammonia_dose", facts.tank.cycle.dose_mg_n_l, facts)


def ammonia_redose(facts: Facts, rules: Rulebook) -> Quantity | None:
    return _dose("ammonia_redose", rules.number("redose_rise"), facts)


def proof_mg_n_l(facts: Facts, rules: Rulebook) -> float:
    """What the filter has to prove, mg/L as N: what the judged list asks for; without one the full figure, or the least
    on live rock and where animals are in or nobody has judged the list."""
    least, full = rules.number("challenge_least"), rules.number("challenge_full")
    if facts.list_proof is not None:
        return max(least, facts.list_proof)
    return least if facts.tank.rock.kind == "live" or facts.tank.wish_list else full


def challenge_dose(facts: Facts, rules: Rulebook) -> Quantity | None:
    return _dose("challenge_dose", proof_mg_n_l(facts, rules), facts)


def challenge_rise(facts: Facts, rules: Rulebook) -> Quantity | None:
    return made("challenge_rise", proof_mg_n_l(facts, rules), "mg/L as N", "several times what the first fish, or all animals of the list, give in a day", net_water=Amount(facts.net_volume_l, "L"))


def small_dose(facts: Facts, rules: Rulebook) -> Quantity | None:
    return _dose("small_dose", rules.number("challenge_least"), facts)


def ammonia_check(facts: Facts, rules: Rulebook) -> Quantity | None:
    """What the test an hour after the first dose should show, on the kit's own basis."""
    kit = facts.tank.test_kits.get("ammonia")
    basis = (kit.basis if kit else None) or "N"
    dose = _dosed(facts)
    value = dose * nitrogen_factor("ammonia", basis)
    unit = "mg/L as N" if basis == "N" else f"mg/L as {'NH4' if basis == 'ion' else basis}"
    return made("ammonia_check", value, unit, "dose x factor of the kit's basis", "molar masses", dose=f"{float(f'{dose:.3g}'):g} mg/L as N")


def _dosed(facts: Facts) -> float:
    """What the first day of ammonia brought, as it was written down; as planned until then."""
    rows = [r for r in facts.rows("dosed", "ammonia") if r.where == "display"]
    given = sum(dose_rise(r, facts) for r in rows if r.day == rows[0].day)
    return given if given > 0 else facts.tank.cycle.dose_mg_n_l


def ammonia_total(facts: Facts, rules: Rulebook) -> Quantity | None:
    """What to buy: the upper figure of what a pass takes, and two challenges."""
    return _dose("ammonia_total", rules.number("ammonia_to_pass_most") + 2 * rules.number("challenge_full"), facts)


def bicarbonate_1dkh(facts: Facts, rules: Rulebook) -> Quantity | None:
    grams = dosing.bicarbonate_g(facts.net_volume_l, 1.0)
    return made("bicarbonate_1dkh", grams, "g", dosing.FORMULAS["bicarbonate_g"], net_water=Amount(facts.net_volume_l, "L"), rise="1 dKH")


def quarantine_ammonia(facts: Facts, rules: Rulebook) -> Quantity | None:
    return _quarantine_dose("quarantine_ammonia", "quarantine_dose", facts, rules)


def quarantine_feed_ammonia(facts: Facts, rules: Rulebook) -> Quantity | None:
    return _quarantine_dose("quarantine_feed_ammonia", "quarantine_feed", facts, rules)


def _quarantine_dose(name: str, number: str, facts: Facts, rules: Rulebook) -> Quantity | None:
    litres, rise = facts.tank.equipment.quarantine_l, rules.number(number)
    if not litres:
        return None
    return made(name, dosing.ammonium_chloride_g(litres, rise), "g", dosing.FORMULAS["ammonium_chloride_g"], quarantine_tank=Amount(litres, "L"), rise=f"{rise:g} mg/L as N")


def quarantine_change(facts: Facts, rules: Rulebook) -> Quantity:
    """A large change of the quarantine water, no larger than its fish bear the step of alkalinity."""
    return _of_quarantine("quarantine_change", min(rules.number("half_change_share"), _share_for_step("quarantine_step_most", facts, rules)), facts)


def quarantine_quarter(facts: Facts, rules: Rulebook) -> Quantity:
    """The usual change of the quarantine water with a fish in, within the same bounds as in a calm display."""
    return _of_quarantine("quarantine_quarter", min(rules.number("quarantine_change_share"), _share_for_step("alkalinity_step_change", facts, rules)), facts)


def _share_for_step(step: str, facts: Facts, rules: Rulebook) -> float:
    """The share of the quarantine water, %, that moves its alkalinity by no more than this number: step / (new - old). The filter uses
    alkalinity up, so one that nobody read for long may be far lower: then no more than the usual share."""
    now, new = last_reading("alkalinity", facts, "quarantine"), last_reading("alkalinity", facts, "mixing")
    if now is None or now.low is None or now.day < facts.on - timedelta(days=rules.days("quarantine_alkalinity_age")):
        return rules.number("quarantine_change_share")
    stored = facts.on - timedelta(days=rules.days("mix_storage"))
    source = new.high if new is not None and new.high is not None and math.isfinite(new.high) and new.day >= stored else rules.number("new_water_alkalinity") + rules.number("new_water_alkalinity_error")
    apart = abs(source - now.low)
    return 100.0 if apart <= 0 else rules.number(step) / apart * 100


def fed_again_at(facts: Facts, rules: Rulebook) -> Quantity:
    """The highest step of the ammonia kit at which the filter is fed again: two limits for one step are a riddle."""
    kit, below = facts.tank.test_kits.get("ammonia"), rules.number("redose_below")
    step = most_below(below, kit) / nitrogen_factor("ammonia", (kit.basis if kit is not None else None) or "N")
    return made("fed_again_at", step if step > 0 else below, "mg/L as N", "the highest step of the kit below the limit of the rules")


def nitrite_left(facts: Facts, rules: Rulebook) -> Quantity:
    """`near_zero` of nitrite: its name tells the words to count it as the nitrite kit does."""
    return made("nitrite_left", rules.number("near_zero"), "mg/L as N", "as in the rules")


def nitrite_clear(facts: Facts, rules: Rulebook) -> Quantity:
    """Up to what a reading of nitrite counts as clear, which with a fine kit is more than its zero."""
    return made("nitrite_clear", clear_level("nitrite", facts.tank, rules)[0], "mg/L as N", "the kit's zero, or what the finest alarm allows")


def quarantine_new_water(facts: Facts, rules: Rulebook) -> Quantity:
    """New water for a quarantine tank without animals."""
    return _of_quarantine("quarantine_new_water", rules.number("quarantine_renew_share"), facts)


def _of_quarantine(name: str, share: float, facts: Facts) -> Quantity:
    """A share of the quarantine water in litres, or as it is where the volume of that tank is not described."""
    litres = facts.tank.equipment.quarantine_l
    if not litres:
        return made(name, share, "%", "share of the water")
    return made(name, litres * share / 100, "L", "share of the water", "V x share / 100", quarantine_tank=Amount(litres, "L"), share=f"{share:g} %")


def bicarbonate_now(facts: Facts, rules: Rulebook) -> Quantity | None:
    """From the last reading to the aim, or as far towards it as one day may go."""
    row = last_reading("alkalinity", facts)
    if row is None or row.low is None:
        return None
    rise = max(0.0, min(rules.number("alkalinity_rise_empty"), rules.number("alkalinity_aim") - row.low))
    return made("bicarbonate_now", dosing.bicarbonate_g(facts.net_volume_l, rise), "g", dosing.FORMULAS["bicarbonate_g"], net_water=Amount(facts.net_volume_l, "L"), rise=f"{rise:.3g} dKH, from the last reading")


def bicarbonate_small(facts: Facts, rules: Rulebook) -> Quantity | None:
    """The daily step with animals in."""
    limit = rules.number("alkalinity_step_day")
    return made("bicarbonate_small", dosing.bicarbonate_g(facts.net_volume_l, limit), "g", dosing.FORMULAS["bicarbonate_g"], net_water=Amount(facts.net_volume_l, "L"), rise=f"{limit:g} dKH")


def alkalinity_budget(facts: Facts, rules: Rulebook) -> Quantity | None:
    used = dosing.alkalinity_used_dkh(rules.number("ammonia_to_pass_most"))
    return made("alkalinity_budget", used, "dKH", dosing.FORMULAS["alkalinity_used_dkh"], ammonia=f"{rules.number('ammonia_to_pass_most'):g} mg/L as N")


def crew_first(facts: Facts, rules: Rulebook) -> Quantity | None:
    count = max(2, round(facts.net_volume_l / rules.number("crew_litres_per_snail") / 2))
    first = min(count, max(3, round(facts.net_volume_l / rules.number("crew_first_litres_per_snail"))))
    return made("crew_first", first, "small snails", "net litres / litres per snail in the first weeks", net_water=Amount(facts.net_volume_l, "L"))


def crew_second(facts: Facts, rules: Rulebook) -> Quantity | None:
    first = crew_first(facts, rules)
    assert first is not None
    whole = max(first.value, facts.net_volume_l / rules.number("crew_litres_per_snail"))
    return made("crew_second", max(1, round(whole - first.value)), "small snails", "the whole crew less the first half", net_water=Amount(facts.net_volume_l, "L"))
