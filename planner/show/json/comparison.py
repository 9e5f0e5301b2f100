"""Tanks side by side in their machine form: what `compare --json` prints. `schema` says the same in JSON Schema."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from planner.plan.comparison import MILESTONES, Cause, Comparison, Contrast, Side, days_between
from planner.plan.effort import HOW
from planner.plan.shop_file import Shop
from planner.plan.shopping_list import Purchase
from planner.show.json.record_objects import Json, figure, iso, problem_document, window_document
from planner.show.terminal.comparison_causes import contrast_sentences
from planner.show.words.tank_keys import silent_side
from planner.terms.problems import Problem


def comparison_document(comparison: Comparison, problems: Sequence[Problem], shop: Shop | None = None) -> Json:
    """The same as one object. Dates are ISO 8601, amounts litres and grams; `causes` hold a tank against the first."""
    return {
        "on": comparison.sides[0].setup.on.isoformat(),
        "sizes_differ": comparison.sizes_differ,
        "currency": shop.currency if shop is not None else None,
        "tanks": [_side_document(s) for s in comparison.sides],
        "contrasts": [_contrast_document(c, comparison, shop) for c in comparison.contrasts],
        "formulas": dict(HOW),
        "problems": [problem_document(p) for p in problems],
    }


def _side_document(side: Side) -> Json:
    effort, outcome = side.outcome.effort, side.outcome
    return {
        "mark": side.mark, "folder": side.setup.folder, "name": side.setup.tank.name, "on": side.setup.on.isoformat(),
        "gross_volume_l": figure(side.gross_l), "net_volume_l": figure(side.net_l),
        "milestones": {name: window_document(outcome.milestones[name]) for name in MILESTONES},
        "amounts": {
            "salt_water": _amount(effort.salt_water_l, "L"), "fresh_water": _amount(effort.fresh_water_l, "L"), "salt": _amount(effort.salt_g, "g"),
            "ammonium_chloride": _amount(effort.ammonium_chloride_g, "g"), "carried_water": _amount(effort.carried_l, "L"), "changed_water": _amount(effort.changed_l, "L"),
        },
        "tests": effort.tests, "readings": effort.readings, "water_changes": effort.water_changes, "hours": figure(effort.hours),
        "counted_until": iso(effort.until),
        "cost": _cost(outcome.shopping.total), "cost_described": _cost(outcome.shopping.described_total),
        "without_cost": [x.item for x in outcome.shopping.without_cost], "left_out": list(outcome.left_out),
        "shopping": [shopping_line_document(x) for x in outcome.shopping.lines],
    }


def shopping_line_document(line: Purchase) -> Json:
    """One line of a shopping list; `quantity` null where it cannot be known, `cost` null without a price."""
    return {
        "item": line.item, "name": line.name, "quantity": {"value": None if line.quantity is None else figure(line.quantity), "unit": line.unit},
        "size": None if line.size is None else _amount(line.size.value, line.size.unit) | {"together": line.together}, "phase": line.phase,
        "needed": iso(line.needed), "provisional": line.provisional, "note": line.note, "unknown": line.unknown,
        "described": line.described, "cost": _cost(line.cost),
    }


def _contrast_document(contrast: Contrast, comparison: Comparison, shop: Shop | None) -> Json:
    first = contrast.first.outcome
    return {
        "tank": contrast.other.mark, "against": contrast.first.mark, "first_animal_days": contrast.whole_days, "sum_of_causes_days": contrast.apart_days,
        "causes": [{"keys": list(c.keys), "unsaid_by": _unsaid_by(c, contrast), "days": {name: days_between(first, c.outcome, name) for name in MILESTONES}} for c in contrast.causes],
        "sentences": contrast_sentences(contrast, comparison, shop),
    }


def _unsaid_by(cause: Cause, contrast: Contrast) -> str | None:
    """The tank that leaves this point unsaid, so that its days compare nothing."""
    silent = silent_side(cause.keys, cause.before, cause.after)
    return None if silent is None else (contrast.first.mark, contrast.other.mark)[silent]


def _amount(value: float, unit: str) -> Json:
    return {"value": figure(value), "unit": unit}


def _cost(value: Decimal | None) -> float | None:
    return None if value is None else float(value)


__all__ = ["comparison_document", "shopping_line_document"]
