"""Figures of the big change: how much water, in how many changes and batches."""

from __future__ import annotations

import math

from planner.frozen import dataclass
from planner.judge.challenge import dose_rise
from planner.judge.facts import Facts, animals_in, change_fraction, last_reading
from planner.judge.figures.figure import made, text_of
from planner.judge.figures.mixed_water import fill_l, salt_figure, usable_bin_l
from planner.rulebook.shapes import Rulebook
from planner.science import box, dilution
from planner.terms.records import Amount, Quantity
from planner.terms.written_amounts import nitrogen_factor

STONY = frozenset({"large_polyp", "small_polyp"})
"""Groups of the catalogue that build a skeleton; the gate of the big change names the same."""


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


@dataclass(frozen=True, slots=True)
class BigSeries:
    """The big change: so many changes of so many litres, each of so many equal batches from the bin."""

    changes: int = 0
    litres: float = 0.0
    mixes: int = 1
    stored: bool = False
    """Finished batches wait in containers, so that one change takes them all."""


def _big_series(facts: Facts, rules: Rulebook) -> BigSeries:
    """As few changes as the store allows, all of one size: what stands ready in the bin and in containers, of the first fill or bought
    for this one; half of the water where no bin is described."""
    _share, now, target = _big_share(facts, rules)
    if now <= target:
        return BigSeries()
    net, usable = facts.net_volume_l, usable_bin_l(facts, rules)
    ready_mixed = facts.tank.water.source == "ready_mixed"
    stored = usable is not None or ready_mixed
    store = min(fill_l(facts) if stored else usable or net / 2, net * rules.number("big_change_most") / 100)
    if stored and usable and not ready_mixed:  # the first batch has to be fit for use when the last one has mixed
        spare = rules.days("mix_storage") - rules.days("batch_each") - rules.days("batch_in_hand")
        store = min(store, usable * (1 + spare // _batch_days(usable, facts, rules)))
    changes = dilution.changes_needed(now, target, store / net)
    litres = dilution.equal_change_fraction(now, target, changes) * net
    mixes = math.ceil(litres / usable - 1e-9) if stored and usable and not ready_mixed else 1
    return BigSeries(changes, litres, mixes, stored)


def big_change_batches(facts: Facts, rules: Rulebook) -> Quantity | None:
    series = _big_series(facts, rules)
    count = series.changes * series.mixes
    return made("big_change_batches", count, "batches", dilution.FORMULAS["changes_needed"] if count else "nitrate is already at the target", each=Amount(series.litres / series.mixes, "L"))


def big_change_changes(facts: Facts, rules: Rulebook) -> Quantity | None:
    return made("big_change_changes", _big_series(facts, rules).changes, "", dilution.FORMULAS["changes_needed"])


def big_change_mixes(facts: Facts, rules: Rulebook) -> Quantity | None:
    series = _big_series(facts, rules)
    return made("big_change_mixes", series.mixes, "batches", "water of one change / what the bin takes, rounded up", change=Amount(series.litres, "L"))


def _batch_days(litres: float, facts: Facts, rules: Rulebook) -> int:
    """A day of mixing, or as long as the RO unit takes for so much water."""
    rate = facts.tank.equipment.ro_rate_l_d
    rate = rate and min(max(rate, 10.0), 5000.0)  # what `ro_hours` is valid for
    making = box.ro_hours(litres, rate, rules.number("ro_cold_factor")) / 24 if rate and litres and facts.tank.water.source in ("ro", None) else 0.0
    return max(rules.days("batch_each"), math.ceil(making - 1e-9))


def big_change_step(facts: Facts, rules: Rulebook) -> Quantity | None:
    """Days from one batch to the next, of those that wait in containers."""
    series = _big_series(facts, rules)
    each = _batch_days(series.litres / series.mixes, facts, rules) if series.mixes > 1 else rules.days("batch_every")
    return made("big_change_step", each, "days", "the longer of mixing and making one batch", batch=Amount(series.litres / series.mixes, "L"))


def big_change_ready(facts: Facts, rules: Rulebook) -> Quantity | None:
    series, step = _big_series(facts, rules), big_change_step(facts, rules)
    assert step is not None
    return made("big_change_ready", max(1.0, series.mixes * step.value if series.mixes > 1 else rules.days("after_change_wait")), "days", "batches of one change x days for each", batches=f"{series.mixes}", each=f"{step.value:g} d")


def _mixed(facts: Facts, rules: Rulebook) -> int:
    """Batches that stand ready: ticked since the last change, and no older than mixed water may be."""
    changed = next((r for r in reversed(facts.rows("changed_water", "*")) if r.where == "display"), None)
    ticks = [r for key in rules.tasks_as("big_change") if rules.tasks[key].writes is None for r in facts.rows("done", key)]
    return sum((changed is None or (r.day, r.latest) > (changed.day, changed.latest)) and facts.now - r.earliest <= rules.hours("mix_storage") * 3600 for r in ticks)


def _more(facts: Facts, rules: Rulebook) -> float:
    """Days from the next change to the test that ends the last: between two changes lie a test, where batches wait in containers, and
    the batches of the second, each a day or more after the one before."""
    series, step = _big_series(facts, rules), big_change_step(facts, rules)
    assert step is not None
    return max(series.changes - 1, 0) * ((series.mixes - 1) * step.value + 3 if series.stored else step.value) + 1


def _left(facts: Facts, rules: Rulebook) -> float:
    """Days until the test that ends it: from the batch that is mixed next, a day before its change, or from the change whose water stands ready."""
    series, step, mixed = _big_series(facts, rules), big_change_step(facts, rules), _mixed(facts, rules)
    assert step is not None
    if not series.changes:
        return 0.0
    return _more(facts, rules) + ((series.mixes - mixed - 1) * step.value + 1 if mixed < series.mixes else 0)


def big_change_mixed(facts: Facts, rules: Rulebook) -> Quantity | None:
    ready = _mixed(facts, rules)
    return made("big_change_mixed", ready, "batches", "ticked since the last change, and still fit for use") if ready else None


def big_change_left(facts: Facts, rules: Rulebook) -> Quantity | None:
    return made("big_change_left", _left(facts, rules), "days", "the batches that are missing x days for each, the change, and the test", ready=f"{_mixed(facts, rules)}")


def big_change_left_slow(facts: Facts, rules: Rulebook) -> Quantity | None:
    days, slow = big_change_days(facts, rules), big_change_slow(facts, rules)
    assert days is not None and slow is not None
    return made("big_change_left_slow", _left(facts, rules) + slow.value - days.value, "days", "as much longer as the whole may take")


def big_change_days(facts: Facts, rules: Rulebook) -> Quantity | None:
    """Until the test that ends it: where batches wait for one change, it comes a day after the last of them is mixed."""
    series, step = _big_series(facts, rules), big_change_step(facts, rules)
    assert step is not None
    days = series.mixes * step.value + _more(facts, rules) if series.stored else series.changes * step.value
    return made("big_change_days", max(1.0, days), "days", "batches x days for each" + (", and a day until the test" if series.stored else ""),
                batches=f"{series.changes * series.mixes}", each=f"{step.value:g} d")


def big_change_slow(facts: Facts, rules: Rulebook) -> Quantity | None:
    days = big_change_days(facts, rules)
    assert days is not None
    slow = days.value * rules.number("slow_change_factor")
    return made("big_change_slow", max(slow, rules.days("wait_big_change_slow")), "days", "twice the likely days, for failed mixes and a second test", likely=f"{days.value:g} d")


def big_change_litres(facts: Facts, rules: Rulebook) -> Quantity | None:
    """All the changes together: a series carries more water than one change of the same effect."""
    series = _big_series(facts, rules)
    return made("big_change_litres", series.changes * series.litres, "L", dilution.FORMULAS["equal_change_fraction"] if series.changes else "nitrate is already at the target",
                changes=text_of(f"{series.changes} of ", Amount(series.litres, "L")))


def big_change_now(facts: Facts, rules: Rulebook) -> Quantity | None:
    """The next change of those that are still to come: each is as large as the others."""
    series = _big_series(facts, rules)
    return made("big_change_now", series.litres, "L", dilution.FORMULAS["equal_change_fraction"], changes=f"{series.changes}") if series.changes else None


def big_change_batch(facts: Facts, rules: Rulebook) -> Quantity | None:
    """One batch of those that are still to come: each is as large as the others, and fits the bin."""
    series = _big_series(facts, rules)
    batches = series.changes * series.mixes
    return made("big_change_batch", series.litres / series.mixes, "L", dilution.FORMULAS["equal_change_fraction"], batches=f"{batches}") if batches else None


def big_change_batch_salt(facts: Facts, rules: Rulebook) -> Quantity | None:
    litres = big_change_batch(facts, rules)
    return None if litres is None else salt_figure("big_change_batch_salt", litres.value, facts)
