"""Figures of the cycle and after: doses, alkalinity, the big change, the crew."""

from __future__ import annotations

import math
from datetime import timedelta

from planner.judge.challenge import dose_rise
from planner.judge.evidence import clear_level
from planner.judge.facts import Facts, animals_in, change_fraction, last_reading
from planner.judge.figures.figure import DESCRIBED, made, text_of
from planner.judge.figures.mixed_water import salt_figure, usable_bin_l
from planner.rulebook.shapes import Rulebook
from planner.science import dilution, dosing
from planner.terms.records import Amount, Quantity
from planner.terms.written_amounts import nitrogen_factor

STONY = frozenset({"large_polyp", "small_polyp"})
"""Groups of the catalogue that build a skeleton; the gate of the big change names the same."""


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
    litres, rise = facts.tank.equipment.quarantine_l, rules.number("quarantine_dose")
    if not litres:
        return None
    return made("quarantine_ammonia", dosing.ammonium_chloride_g(litres, rise), "g", dosing.FORMULAS["ammonium_chloride_g"], quarantine_tank=Amount(litres, "L"), rise=f"{rise:g} mg/L as N")


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


def bicarbonate_day(facts: Facts, rules: Rulebook) -> Quantity | None:
    limit = rules.number("alkalinity_rise_empty")
    grams = dosing.bicarbonate_g(facts.net_volume_l, limit)
    return made("bicarbonate_day", grams, "g", dosing.FORMULAS["bicarbonate_g"], net_water=Amount(facts.net_volume_l, "L"), rise=f"{limit:g} dKH, the most in one day")


def bicarbonate_small(facts: Facts, rules: Rulebook) -> Quantity | None:
    """The daily step with animals in."""
    limit = rules.number("alkalinity_step_day")
    return made("bicarbonate_small", dosing.bicarbonate_g(facts.net_volume_l, limit), "g", dosing.FORMULAS["bicarbonate_g"], net_water=Amount(facts.net_volume_l, "L"), rise=f"{limit:g} dKH")


def alkalinity_budget(facts: Facts, rules: Rulebook) -> Quantity | None:
    used = dosing.alkalinity_used_dkh(rules.number("ammonia_to_pass_most"))
    return made("alkalinity_budget", used, "dKH", dosing.FORMULAS["alkalinity_used_dkh"], ammonia=f"{rules.number('ammonia_to_pass_most'):g} mg/L as N")


def _nitrate_limit(facts: Facts) -> str:
    """The number that the big change aims for: the stricter one where stony corals are wished for, or may be."""
    judged = frozenset({""}) if facts.wished is None else facts.wished
    return "nitrate_after_change_stony" if facts.tank.wish_list and not judged.isdisjoint(STONY | {""}) else "nitrate_after_change"


def nitrate_limit(facts: Facts, rules: Rulebook) -> Quantity | None:
    number = rules.numbers[_nitrate_limit(facts)]
    return made("nitrate_limit", number.value, number.unit, "the limit for what is on the wish list")


def _big_share(facts: Facts, rules: Rulebook) -> tuple[float, float, float]:
    """(fraction, nitrate now, target), nitrate in mg/L as the ion. The planned share until nitrate has been read, and at
    least that while nitrite is in the water, for kits count it as nitrate, and while more of it is still to come: until a dose of
    ammonia has been read gone."""
    limit = rules.number(_nitrate_limit(facts))
    # The change leaves room for what feeds the waiting filter until the test.
    target = max(limit - rules.number("redose_rise") * nitrogen_factor("nitrate", "ion"), limit / 2)
    planned = target / (1 - rules.number("big_change_planned") / 100)
    row, nitrite = last_reading("nitrate", facts), last_reading("nitrite", facts)
    now = row.low * nitrogen_factor("nitrate", "ion") if row is not None and row.low is not None else planned
    if row is not None:  # since the test each batch took its share out, and each feed of the filter ends as nitrate
        later = (r for kind, what in (("changed_water", "*"), ("dosed", "ammonia")) for r in facts.rows(kind, what) if r.where == row.where and r.earliest >= row.latest)
        for act in sorted(later, key=lambda r: r.latest):
            now = now + dose_rise(act, facts) * nitrogen_factor("nitrate", "ion") if act.kind == "dosed" else now * (1 - change_fraction(act, facts.net_volume_l))
    step = rules.number("kit_step_unknown")
    if (nitrite is not None and nitrite.low is not None and nitrite.low > step) or not _dose_gone(facts, step, rules.phase_as("proves_filter")):
        now = max(now, planned)
    return (dilution.change_fraction(now, target) if now > limit else 0.0), now, target if now > limit else now


def _dose_gone(facts: Facts, step: float, proof: str) -> bool:
    """Have ammonia and nitrite been read low on a day after ammonia was dosed? With animals in, or where the keeper vouches for
    the cycle, nothing is still to come."""
    doses = [r for r in facts.rows("dosed", "ammonia") if r.where == "display"]
    if not doses:
        return bool(animals_in(facts, "display")) or proof in facts.tank.already
    low = [{r.day for r in facts.rows("reading", name) if r.where == "display" and r.high is not None and r.high <= step * 1.000001 and r.day > doses[0].day} for name in ("ammonia", "nitrite")]
    return bool(low[0] & low[1])


def big_change(facts: Facts, rules: Rulebook) -> Quantity | None:
    share, now, target = _big_share(facts, rules)
    return made("big_change", share * facts.net_volume_l, "L", dilution.FORMULAS["change_fraction"], nitrate_now=f"{now:.0f} mg/L as the ion", target=f"{target:g} mg/L")


def _big_series(facts: Facts, rules: Rulebook) -> tuple[int, float]:
    """How many batches the big change takes, as few as the bin allows, and the litres of each: all of one size."""
    _share, now, target = _big_share(facts, rules)
    if now <= target:
        return 0, 0.0
    net = facts.net_volume_l
    count = dilution.changes_needed(now, target, min(usable_bin_l(facts, rules) or net / 2, net) / net)
    return count, dilution.equal_change_fraction(now, target, count) * net


def big_change_batches(facts: Facts, rules: Rulebook) -> Quantity | None:
    count, each = _big_series(facts, rules)
    return made("big_change_batches", count, "batches", dilution.FORMULAS["changes_needed"] if count else "nitrate is already at the target", each=Amount(each, "L"))


def big_change_days(facts: Facts, rules: Rulebook) -> Quantity | None:
    batches = big_change_batches(facts, rules)
    assert batches is not None
    each = rules.days("batch_every")
    return made("big_change_days", max(1.0, batches.value * each), "days", "batches x days for each", batches=f"{batches.value:g}", each=f"{each} d")


def big_change_slow(facts: Facts, rules: Rulebook) -> Quantity | None:
    days = big_change_days(facts, rules)
    assert days is not None
    slow = days.value * rules.number("slow_change_factor")
    return made("big_change_slow", max(slow, rules.days("wait_big_change_slow")), "days", "twice the likely days, for failed mixes and a second test", likely=f"{days.value:g} d")


def big_change_litres(facts: Facts, rules: Rulebook) -> Quantity | None:
    """All the batches together: a series carries more water than one change of the same effect."""
    count, each = _big_series(facts, rules)
    return made("big_change_litres", count * each, "L", dilution.FORMULAS["equal_change_fraction"] if count else "nitrate is already at the target", batches=text_of(f"{count} of ", Amount(each, "L")))


def big_change_batch(facts: Facts, rules: Rulebook) -> Quantity | None:
    """One batch of those that are still to come: each is as large as the others, and fits the bin."""
    count, each = _big_series(facts, rules)
    return made("big_change_batch", each, "L", dilution.FORMULAS["equal_change_fraction"], batches=f"{count}") if count else None


def big_change_batch_salt(facts: Facts, rules: Rulebook) -> Quantity | None:
    litres = big_change_batch(facts, rules)
    return None if litres is None else salt_figure("big_change_batch_salt", litres.value, facts)


def crew_first(facts: Facts, rules: Rulebook) -> Quantity | None:
    count = max(2, round(facts.net_volume_l / rules.number("crew_litres_per_snail") / 2))
    first = min(count, max(3, round(facts.net_volume_l / rules.number("crew_first_litres_per_snail"))))
    return made("crew_first", first, "small snails", "net litres / litres per snail in the first weeks", net_water=Amount(facts.net_volume_l, "L"))


def crew_second(facts: Facts, rules: Rulebook) -> Quantity | None:
    first = crew_first(facts, rules)
    assert first is not None
    whole = max(first.value, facts.net_volume_l / rules.number("crew_litres_per_snail"))
    return made("crew_second", max(1, round(whole - first.value)), "small snails", "the whole crew less the first half", net_water=Amount(facts.net_volume_l, "L"))
