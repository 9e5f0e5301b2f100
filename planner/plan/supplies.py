"""What is left of what a running tank uses up, by the journal alone: what was bought is a row, and so is what was used."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Literal

from planner.judge.facts import Facts
from planner.judge.figures import salt_g
from planner.judge.weekly_change import weekly_change_percent
from planner.rulebook.shapes import Rulebook
from planner.science.trouble import weeks_left
from planner.terms.amounts import listed
from planner.terms.records import CLOSED, Plan, Row
from planner.terms.texts import either, joined, run
from planner.terms.units import Refusal
from planner.terms.written_amounts import parse_amount
from planner.terms.written_numbers import parse_number, split_amount

KITS = ("ammonia", "nitrite", "nitrate", "ph", "alkalinity", "calcium", "magnesium", "phosphate", "chlorine", "oxygen")
MASSES, VOLUMES = ("salt", "carbon", "dry_food", "frozen_food", "bicarbonate"), ("pure_water",)
LASTS = {"dry_food": "dry_food_life", "frozen_food": "frozen_food_life"}
NAMES = {"salt": "salt mix", "pure_water": "pure water", "carbon": "carbon", "dry_food": "dry food", "frozen_food": "frozen food", "ph_kit": "pH kit"}
Unit = Literal["g", "L", "tests"]


@dataclass(frozen=True, slots=True)
class Supply:
    """One thing. `left` None: nothing bought was ever written down. `reserve` is not to be used up; `order_by` the day by which it is
    ordered so that it comes before that; `ends` when it is too old. `week`: what goes in a week."""

    item: str
    unit: Unit
    bought: float
    used: float
    left: float | None
    reserve: float
    week: float
    order_by: date | None = None
    ends: date | None = None


def supplies(facts: Facts, rules: Rulebook, plan: Plan) -> tuple[Supply, ...]:
    """Salt, pure water where it is bought, kits, carbon and food, in this order."""
    return tuple(_dated(s, facts, rules) for s in _counted(facts, rules, plan))


def to_order(facts: Facts, rules: Rulebook, plan: Plan) -> tuple[str, ...]:
    """What has to be ordered today of what was written down as bought, in a sentence."""
    names = [name_of(s) for s in supplies(facts, rules, plan) if s.left is not None and s.order_by is not None and s.order_by <= facts.on]
    return (joined(f"Order {listed(names)} now. ", either(joined(run("supplies"), " tells how much is left."), "It would run out before the next delivery.")),) if names else ()


def name_of(s: Supply) -> str:
    return NAMES.get(s.item) or s.item.replace("_", " ")


def _counted(facts: Facts, rules: Rulebook, plan: Plan) -> Iterator[Supply]:
    tank, litres = facts.tank, facts.net_volume_l
    share = weekly_change_percent(facts, rules) / 100
    if tank.water.source != "ready_mixed":
        salt = salt_g(1.0, tank.water.salinity, tank)
        yield _supply("salt", "g", facts, sum(_salt_litres(facts, first) * salt for first in _first(facts, "salt")), litres * rules.number("half_change_share") / 100 * salt, litres * share * salt)
    if tank.water.source == "distilled":
        evaporated = next((q.value for q in plan.quantities if q.name == "evaporation_day"), litres / 100)
        used = sum(_salt_litres(facts, first) + _poured_fresh(facts, first) for first in _first(facts, "pure_water"))
        yield _supply("pure_water", "L", facts, used, litres * rules.number("supply_water_reserve") / 100, litres * share + 7 * evaporated)
    for name in KITS:
        week = sum(name in t.reads and t.state not in CLOSED and t.date is not None and t.date <= facts.on + timedelta(days=28) for t in plan.tasks) / 4
        used = sum(_tests(facts, name, first) for first in _first(facts, f"{name}_kit"))
        if week or used or name in tank.test_kits or list(_first(facts, f"{name}_kit")):
            yield _supply(f"{name}_kit", "tests", facts, used, rules.number("supply_tests_reserve") if name == "ammonia" else 0.0, week, wasted=rules.number("supply_waste") / 100)
    charge = rules.number("carbon_per_litre") * litres
    used = sum(charge * sum(r.day >= first for key in rules.tasks_as("carbon") for r in facts.rows("done", key)) for first in _first(facts, "carbon"))
    yield _supply("carbon", "g", facts, used, charge, charge * 7 / rules.days("carbon_every"))
    for item in LASTS:
        if list(_first(facts, item)):
            yield _supply(item, "g", facts, 0.0, 0.0, 0.0)


def _supply(item: str, unit: Unit, facts: Facts, used: float, reserve: float, week: float, wasted: float = 0.0) -> Supply:
    rows = list(_bought(facts, item))
    bought = sum(amount for _, amount in rows) * (1 - wasted)
    return Supply(item, unit, bought, used, bought - used if rows else None, reserve, week)


def _dated(s: Supply, facts: Facts, rules: Rulebook) -> Supply:
    lead = rules.days("supply_lead") + rules.days("supply_margin")
    ends = order = None
    if s.left is not None and s.week > 0:
        order = facts.on + timedelta(days=max(0, int(weeks_left(max(s.left, s.reserve), s.reserve, s.week) * 7) - lead))
    rows = list(_bought(facts, s.item))
    if s.item in LASTS and rows:
        ends = rows[-1][0].day + timedelta(days=rules.days(LASTS[s.item]))
    kit = facts.tank.test_kits.get(s.item.removesuffix("_kit"))
    if s.unit == "tests" and kit is not None and kit.expires is not None:
        ends = kit.expires
    if ends is not None:
        early = max(facts.on, ends - timedelta(days=lead))
        order = early if order is None else min(order, early)
    return replace(s, order_by=order, ends=ends)


def _first(facts: Facts, item: str) -> Iterator[date]:
    """The day of the first purchase, from which on use is counted; nothing where none was written."""
    rows = list(_bought(facts, item))
    if rows:
        yield rows[0][0].day


def _bought(facts: Facts, item: str) -> Iterator[tuple[Row, float]]:
    for row in facts.rows("event", "bought"):
        read = read_purchase(row.value)
        if not isinstance(read, Refusal) and read[0] == item:
            yield row, read[1]


def read_purchase(text: str) -> tuple[str, float] | Refusal:
    """`salt 20 kg` as (good, grams, litres or tests)."""
    word, _, amount = text.strip().lower().replace("-", "_").partition(" ")
    item = {"ro": "pure_water", "ro_water": "pure_water", "distilled": "pure_water", "water": "pure_water", "food": "dry_food"}.get(word, word)
    if item in KITS:
        item = f"{item}_kit"
    if item in MASSES or item in VOLUMES:
        found = parse_amount(amount, "mass" if item in MASSES else "volume")
        return found if isinstance(found, Refusal) else (item, found.value)
    if item.removesuffix("_kit") in KITS:
        number, unit = split_amount(amount)
        count = parse_number(number) if number and unit in ("", "test", "tests") else Refusal("not-a-number", f"'{amount}' is no number of tests", "write it as `bought ammonia_kit 50 tests`")
        return count if isinstance(count, Refusal) else (item, count)
    return Refusal("unknown-item", f"nobody keeps stock of '{word}'", f"write one of: {', '.join((*MASSES, *VOLUMES, *(f'{k}_kit' for k in KITS)))}")


def _salt_litres(facts: Facts, since: date) -> float:
    """Litres of new salt water from that day on."""
    size = {"display": facts.net_volume_l, "quarantine": facts.tank.equipment.quarantine_l or facts.net_volume_l}
    changed = sum((r.low or 0.0) * (size[r.where] / 100 if r.unit.strip() == "%" else 1.0) for r in facts.rows("changed_water") if r.day >= since and r.where in size)
    return changed + sum(r.low or 0.0 for r in facts.rows("poured") if r.day >= since and not r.what.startswith(("fresh", "top", "tap", "leak")))


def _poured_fresh(facts: Facts, since: date) -> float:
    return sum(r.low or 0.0 for r in facts.rows("poured") if r.day >= since and r.what.startswith(("fresh", "top")))


def _tests(facts: Facts, name: str, since: date) -> int:
    """Every reading takes one test of its kit, a repeat too, in whatever water."""
    return sum(r.day >= since for r in facts.rows("reading", name))


__all__ = ["KITS", "MASSES", "VOLUMES", "Supply", "name_of", "read_purchase", "supplies", "to_order"]
