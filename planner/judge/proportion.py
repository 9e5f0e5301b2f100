"""Amounts out of all proportion to what is asked of a tank: a slipped zero, gallons typed for litres, ounces for grams.

Such a row is asked about before it is written, and written if it is meant. Once it stands it counts as it is, since it may be
true and is then the more dangerous thing.
"""

from __future__ import annotations

from planner.files.journal import row_unit
from planner.judge.facts import Facts
from planner.judge.figures import quantity
from planner.judge.plausible import VOLUME_SLACK
from planner.rulebook.shapes import Rulebook
from planner.science import dosing, salts
from planner.terms.amounts import format_amount, three_digits
from planner.terms.records import Quantity, Row

OFTEN = 3.0
"""So many times what is asked is more often a slip than a deed. Gallons for litres are 3.8 times too much, a slipped zero 10, ounces for grams 28 (engine's own, no source)."""
LIFTS = {
    "ammonia": ("mg/L as N", dosing.ammonium_chloride_g(1.0, 1.0)), "bicarbonate": ("dKH", dosing.bicarbonate_g(1.0, 1.0)), "carbonate": ("dKH", dosing.carbonate_g(1.0, 1.0)),
    "kalkwasser": ("dKH", salts.lime_g(1.0, 1.0)), "calcium": ("mg/L", dosing.calcium_chloride_g(1.0, 1.0)), "magnesium": ("mg/L", sum(salts.magnesium_mix_g(1.0, 1.0))),
}
"""In what unit a dose lifts the water, and the grams that lift one litre by one of it."""
MOST_A_DAY = {**dict.fromkeys(("bicarbonate", "carbonate", "kalkwasser", "alkalinity", "soda"), ("alkalinity_rise_empty", "dKH")), "calcium": ("calcium_step_day", "mg/L"), "magnesium": ("magnesium_step_day", "mg/L")}
"""The number of the rules that holds the largest rise of one day, and its unit. Ammonia has bounds of its own (`plausible.asked_rises`)."""
FOOD_G_PER_L = 0.003
"""Dry food of one meal for bacteria, as the job of the cycle has it (common practice, no source); no animal's meal is larger."""
MEAL, DAYS = "food", 7


def out_of_proportion(row: Row, planned: Quantity | None, facts: Facts, rules: Rulebook) -> str | None:
    """The question about an amount far beyond what the plan asks for (`planned`, where the row is a tick), or would ever ask;
    None where it is in proportion, or nothing is known to compare it with."""
    if row.low is None or row.kind not in ("dosed", "changed_water", "poured", "added", "moved"):
        return None
    unit, litres = row_unit(row), litres_of(row.where, facts, rules)
    if planned is not None and (told := _asked(row, planned.value, planned.unit, litres, facts, "what the page asks for")) is not None:
        return told
    if row.kind == "poured" and row.what.startswith(("fresh", "top")) and row.where == "display" and (gone := quantity("evaporation_day", facts, rules)) is not None:
        return _asked(row, min(gone.value * DAYS, facts.net_volume_l), "L", litres, facts, "what evaporates in a week")
    if unit in ("L", "%") and not (row.kind == "poured" and row.where == "display"):  # a tank is filled in parts: `plausible.doubts` adds them up
        return _asked(row, litres, "L", litres, facts, "what this water holds", 1 + VOLUME_SLACK)
    if row.kind == "dosed" and row.what in MOST_A_DAY:
        number, of = MOST_A_DAY[row.what]
        return _asked(row, rules.number(number), of, litres, facts, "the most that this tank is ever asked for in a day")
    if row.kind == "dosed" and row.what == MEAL:
        return _asked(row, litres * FOOD_G_PER_L, "g", litres, facts, "a meal of this tank")
    return None


def litres_of(where: str, facts: Facts, rules: Rulebook) -> float:
    """What a water holds; 0 where it is not described."""
    if where == "display":
        return facts.net_volume_l
    if where == "quarantine":
        return facts.tank.equipment.quarantine_l or 0.0
    made = quantity("curing_water" if where == "curing" else "water_first_fill", facts, rules) if where in ("curing", "mixing") else None
    return made.value if made is not None else 0.0


def _asked(row: Row, asked: float, unit: str, litres: float, facts: Facts, of: str, often: float = OFTEN) -> str | None:
    """Both in one measure, and the question if what was given is so many times what was asked."""
    assert row.low is not None
    given, measure = _measured(row, row.low, row_unit(row), litres)
    wanted, other = _measured(row, asked, unit, litres)
    if measure != other or wanted <= 0 or given <= wanted * often * 1.01:  # a page rounds what it asks for
        return None
    in_grams = measure not in ("g", "L", "%", "") and row_unit(row) == "g"  # told as it is weighed
    told = format_amount(wanted * LIFTS[row.what][1] * litres, "g", facts.tank.units) if in_grams else format_amount(wanted, measure, facts.tank.units)
    of_what = f" of {row.what.replace('_', ' ')}" if row.kind == "dosed" else " animals" if measure == "" else ""
    return f"{f'{row.value} {row.unit}'.strip()}{of_what} is {three_digits(float(f'{given / wanted:.2g}'))} times {of} ({told}). Write it all the same?"


def _measured(row: Row, amount: float, unit: str, litres: float) -> tuple[float, str]:
    """An amount in the measure in which others of its kind are compared with it: a rise of the water, litres, grams, or a count."""
    if row.kind in ("added", "moved"):
        return amount, ""
    if unit == "%" and litres:
        return amount / 100 * litres, "L"
    if unit == "g" and row.what in LIFTS and litres:
        rise, grams = LIFTS[row.what]
        return amount / (grams * litres), rise
    return amount, unit


__all__ = ["litres_of", "out_of_proportion"]
