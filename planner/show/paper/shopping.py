"""Shopping as one walks: by trip, then by the corners of a shop, with what to buy and what it costs; and what
must not be bought yet. How to choose stands on a card."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import date
from decimal import Decimal
from types import MappingProxyType

from planner.plan.goods import AISLES, GOODS
from planner.plan.shop_file import Shop
from planner.plan.shopping_list import Purchase, ShoppingList
from planner.plan.texts import told_amount
from planner.show.json.record_objects import Json
from planner.show.paper.pencil import Pencil
from planner.show.words.shopping import name_words, quantity_words, remark_words
from planner.show.words.words import short_day
from planner.terms.records import Plan

Money = Callable[[Decimal], str]
"""An amount in the shop's currency."""
SIZED = frozenset({"mixing_bin", "quarantine_tank"})
"""Things whose size on the list is what the description says, and no advice."""


def shopping_data(shopping: ShoppingList, shop: Shop | None, plan: Plan, pencil: Pencil, stages: Mapping[str, int] = MappingProxyType({})) -> Json:
    """Trips with their aisles and sums, and what waits for tests. `stages`: in which of the stages on the page of the animals each comes."""
    money = shop.money if shop is not None else str
    goods = [x for x in shopping.lines if x.item in GOODS and not _is_animal(x)]
    trips = [_trip(number, day, [x for x in goods if x.bought == day and not x.described], plan, pencil, money) for day, number in trip_numbers(shopping).items()]
    undated = [x for x in goods if x.bought is None and not x.described]
    if undated:
        trips.append(_trip(len(trips) + 1, None, undated, plan, pencil, money))
    unpriced = len(shopping.without_cost)
    return {
        "trips": trips, "animals": [_row(x, plan, pencil, money) | _stage(x, stages) for x in shopping.lines if _is_animal(x) and not x.described],
        "entry": _entry(shopping, plan), "priced": shopping.priced, "total": money(shopping.total) if shopping.total is not None else "",
        "rest": f"{unpriced} thing{'s' if unpriced != 1 else ''} without a price or a quantity {'are' if unpriced != 1 else 'is'} not in the total." if shopping.priced and unpriced else "",
    }


def there_words(line: Purchase, units: str) -> str:
    """What was told of a thing that stands there; the advice beside it where it is another figure."""
    if not line.told:
        return line.name if line.item not in SIZED else name_words(line, units)
    advice = told_amount(line.size, units) if line.size is not None and line.item == "top_up_container" else ""
    return f"{line.name}, {line.told}" + (f" (fill at most {advice})" if advice and advice != line.told else "")


def _entry(shopping: ShoppingList, plan: Plan) -> str:
    """The card of the quarantine, where a fish to buy goes there first."""
    phase = plan.phase_as("quarantine")
    return phase.title if phase is not None and phase.opened is None and any(_is_animal(x) and x.phase == phase.id for x in shopping.lines) else ""


def trip_numbers(shopping: ShoppingList) -> dict[date, int]:
    """The trip of each shopping day."""
    days = {x.bought for x in shopping.to_get if x.bought is not None and x.item in GOODS and not _is_animal(x)}
    return {day: number for number, day in enumerate(sorted(days), 1)}


def _is_animal(line: Purchase) -> bool:
    return line.item not in GOODS or GOODS[line.item].aisle == "animals"


def _trip(number: int, day: date | None, lines: Sequence[Purchase], plan: Plan, pencil: Pencil, money: Money) -> Json:
    costs = [x.cost for x in lines if x.cost is not None]
    aisles = [{"name": name, "rows": [_row(x, plan, pencil, money) for x in lines if GOODS[x.item].aisle == aisle]} for aisle, name in AISLES.items()]
    return {"number": number, "day": short_day(day, plan.on) if day is not None else "", "aisles": [a for a in aisles if a["rows"]], "sum": money(sum(costs, Decimal(0))) if costs else ""}


def _stage(line: Purchase, stages: Mapping[str, int]) -> Json:
    """One run of numbers: that of the stages on the page of the animals."""
    return {"remark": f"stage {stages[line.item]}" + (", enters the quarantine tank first" if line.phase == "quarantine" else "")} if line.item in stages else {}


def _row(line: Purchase, plan: Plan, pencil: Pencil, money: Money) -> Json:
    needed = "" if line.needed is None else ("about " if line.provisional else "") + short_day(line.needed, plan.on)
    much = quantity_words(line, plan.units)
    return {"name": name_words(line, plan.units), "much": "" if much == "?" else much, "remark": pencil(remark_words(line)), "cost": money(line.cost) if line.cost is not None else "", "needed": needed}


__all__ = ["shopping_data", "there_words", "trip_numbers"]
