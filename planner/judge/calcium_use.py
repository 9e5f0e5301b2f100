"""What the use of alkalinity says of calcium: skeletons take both, nitrate takes alkalinity alone."""

from __future__ import annotations

from planner.judge.animals_in_journal import group_of
from planner.judge.facts import Facts, animals_in
from planner.judge.water_use import DailyUse, begun, changes_since, instant_days, nutrient_use, samples_since
from planner.rulebook.shapes import Rulebook
from planner.science import dosing, salts, use
from planner.terms.written_amounts import nitrogen_factor

SKELETONS = frozenset({"large_polyp", "small_polyp", "clam"})
"""Groups of the catalogue that lay down chalk."""


def calcium_from(alkalinity: DailyUse, facts: Facts, rules: Rulebook) -> tuple[float, float, bool] | None:
    """(use a day, standard error, whether the kit's own readings are in it): skeletons take calcium and alkalinity in a fixed
    proportion; the kit alone is too coarse. What nitrate took of alkalinity took no calcium. None while the use of alkalinity is not
    known, and without an animal that builds a skeleton."""
    if alkalinity.fit is None or alkalinity.verdict not in ("about", "known") or not builds_skeletons(facts, rules):
        return None
    taken = max(0.0, alkalinity.fit.use - taken_by_nitrate(facts, rules)) * salts.CALCIUM_MG_L_PER_DKH
    reckoned = (taken, max(0.01, taken * rules.number("calcium_ratio_error") / 100))
    begin, _ = begun(facts, rules, rules.days("use_window"))
    samples = samples_since("calcium", begin, facts, rules)
    dosed = any(r.where == "display" and instant_days(r) >= begin for what in ("calcium", "kalkwasser") for r in facts.rows("dosed", what))
    seen = use.fit_use(samples) if len(samples) >= rules.number("use_readings") and not dosed and not list(changes_since(begin, facts)) else None
    if seen is None:
        return *reckoned, False
    return *use.combined(reckoned, (seen.use, seen.use_se)), True


def taken_by_nitrate(facts: Facts, rules: Rulebook) -> float:
    """dKH a day that go into the nitrate that the tank is known to make; 0 where it is not known to make any."""
    made = nutrient_use("nitrate", facts, rules)
    if made.verdict != "known" or made.fit is None or made.fit.use >= 0:
        return 0.0
    return dosing.alkalinity_used_dkh(-made.fit.use / nitrogen_factor("nitrate", "ion"))


def builds_skeletons(facts: Facts, rules: Rulebook) -> bool:
    """Is a stony coral or a clam in, or still to come? They alone take calcium that counts."""
    return not SKELETONS.isdisjoint(groups_kept(facts, rules))


def groups_kept(facts: Facts, rules: Rulebook) -> frozenset[str]:
    """Groups of the catalogue that are in the display or on the list."""
    return frozenset({*(facts.wished or ()), *(group_of(name, rules) for name in animals_in(facts, "display"))})


__all__ = ["builds_skeletons", "calcium_from", "groups_kept", "taken_by_nitrate"]
