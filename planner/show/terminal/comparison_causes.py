"""Words on what makes the difference between two tanks: what each cause does alone, and whether causes act on one another."""

from __future__ import annotations

from planner.plan.comparison import Comparison, Contrast, Outcome, days_between
from planner.plan.effort import Effort
from planner.plan.goods import GOODS
from planner.plan.shop_file import Shop
from planner.plan.shopping_list import cost_difference
from planner.show.words.tank_keys import phrases, silent_side, topic
from planner.show.words.words import days_words, listed
from planner.terms.amounts import format_amount

NAMED = 2
"""As many lines without a price are named, and one more if it is the last."""


def in_units(comparison: Comparison, value: float, unit: str) -> str:
    """One table has one set of units: that of the first tank."""
    return format_amount(value, unit, comparison.sides[0].outcome.plan.units)


def contrast_sentences(contrast: Contrast, comparison: Comparison, shop: Shop | None) -> list[str]:
    """What each cause does alone; those that do nothing in one sentence; and whether they act on one another."""
    first = contrast.first.outcome
    marks = (contrast.first.mark, contrast.other.mark)
    told, idle, unsaid = [], [], []
    for cause in sorted(contrast.causes, key=lambda c: -abs(days_between(first, c.outcome) or 0)):  # what moves the first animal most comes first
        silent = silent_side(cause.keys, cause.before, cause.after)
        if silent is not None:
            unsaid.append(f"{marks[silent]} leaves unsaid what {marks[1 - silent]} says about the {topic(cause.keys)}: in this point the two cannot be compared until it is described."
                          + (" Part of the days above rests on it." if days_between(first, cause.outcome) else ""))
            continue
        before, after = phrases(cause.keys, cause.before, cause.after, marks)
        effects = _effects(first, cause.outcome, comparison, shop)
        if effects:
            told.append(f"{after[0].upper()}{after[1:]} instead of {before}: {effects}.")
        else:
            idle.append(topic(cause.keys))
    told += unsaid
    if idle:
        told.append(f"They also differ in {listed(idle)}, which alone changes nothing above.")
    if not contrast.causes:
        told.append("Their tank files differ in nothing that the plan looks at.")
    if contrast.together and not unsaid and contrast.apart_days is not None and contrast.whole_days is not None:
        told.append(f"One by one these would add up to {_sum_words(contrast.apart_days)} for the first animal, together they make {_sum_words(contrast.whole_days)}: "
                    "they act on one another, so no part of it can be put down to one of them alone.")
    return told


def shift_words(days: int) -> str:
    return f"{days_words(abs(days))} {'later' if days > 0 else 'earlier'}"


def _sum_words(days: int) -> str:
    return shift_words(days) if days else "no day"


def _effects(before: Outcome, after: Outcome, comparison: Comparison, shop: Shop | None) -> str:
    parts = [*_date_effects(before, after), *_effort_effects(before.effort, after.effort, comparison)]
    paid, unpaid = _cost_effect(before, after, shop) if shop is not None and shop.prices else ("", "")
    return "; ".join(filter(None, (", ".join([*parts, *filter(None, (paid,))]), unpaid)))


def _cost_effect(before: Outcome, after: Outcome, shop: Shop) -> tuple[str, str]:
    """What it costs more or less; or why that is not compared: a line without a price is no saving."""
    change, unsettled = cost_difference(before.shopping, after.shopping)
    if not unsettled:
        return (f"{shop.money(abs(change))} {'more' if change > 0 else 'less'} to pay" if change else ""), ""
    bare = [x for x in unsettled if x.price is None]
    names = [x.name for x in sorted(bare or unsettled, key=lambda x: list(GOODS).index(x.item) if x.item in GOODS else len(GOODS))]
    more = [f"{len(names) - NAMED} more"] if len(names) > NAMED + 1 else []
    told = listed(names[:NAMED] + more if more else names)
    return "", f"{'no price for' if bare else 'nobody can say how much is wanted of'} {told}, so the cost is not compared"


def _date_effects(before: Outcome, after: Outcome) -> list[str]:
    moved = {name: days_between(before, after, name) for name in ("first_animal", "cycle_done", "wish_list_done")}
    told = []
    if moved["first_animal"]:
        told.append(f"the first animal {shift_words(moved['first_animal'])}")
    if moved["cycle_done"] and moved["cycle_done"] != moved["first_animal"]:
        told.append(f"the filter proven {shift_words(moved['cycle_done'])}")
    if moved["wish_list_done"] and moved["wish_list_done"] != moved["first_animal"]:
        told.append(f"the wish list complete {shift_words(moved['wish_list_done'])}")
    for name, words in (("first_animal", "the first animal"), ("wish_list_done", "the wish list")):
        had, has = before.milestones[name].likely, after.milestones[name].likely
        if (had is None) != (has is None):
            told.append(f"{words} {'with' if has else 'without'} a date")
    return told


def _effort_effects(before: Effort, after: Effort, comparison: Comparison) -> list[str]:
    """Counts whatever they are; amounts from one in a hundred on."""
    told = []
    for field, one, many in (("water_changes", "water change", "water changes"), ("tests", "round of tests", "rounds of tests")):
        change = getattr(after, field) - getattr(before, field)
        if change:
            told.append(f"{abs(change)} {'more' if change > 0 else 'fewer'} {one if abs(change) == 1 else many}")
    for field, unit, name in (("salt_g", "g", "salt"), ("ammonium_chloride_g", "g", "ammonium chloride"), ("carried_l", "L", "to carry")):
        was, change = getattr(before, field), getattr(after, field) - getattr(before, field)
        if abs(change) > 0.01 * max(was, 1e-9) and abs(change) > 1e-6:
            told.append(f"{in_units(comparison, abs(change), unit)} {'more' if change > 0 else 'less'} {name}")
    hours = round(after.hours) - round(before.hours)
    if hours:
        told.append(f"{abs(hours)} hour{'s' if abs(hours) != 1 else ''} {'more' if hours > 0 else 'less'} work")
    return told


__all__ = ["contrast_sentences", "in_units", "shift_words"]
