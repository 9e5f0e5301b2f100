"""The shopping list: what this buyer has to get for this plan, how much of it, by when and why, and what it costs where
a shop names prices.

The open shopping tasks of the plan say what is wanted, the plan's own figures how much (`purchases`). What no figure
gives is said to be unknown, with what would settle it; nothing is guessed.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from planner.files.tank import Tank
from planner.judge.facts import gather
from planner.plan.basket import Basket, Purchase
from planner.plan.purchases import PARTS, add_animals, add_water_and_sockets
from planner.plan.shop_file import Price, Shop
from planner.rulebook.shapes import Rulebook
from planner.stock.catalogue import Catalogue
from planner.terms.records import Journal, Plan


@dataclass(frozen=True, slots=True)
class ShoppingList:
    """`settled`: the open shopping tasks of which everything is in use already, so that nothing is left to buy."""

    lines: tuple[Purchase, ...]
    priced: bool
    settled: frozenset[str] = frozenset()

    @property
    def to_get(self) -> tuple[Purchase, ...]:
        return tuple(x for x in self.lines if not x.described)

    @property
    def total(self) -> Decimal | None:
        """The cost of what is to be got and can be priced; None where no line can. `without_cost` is not in it."""
        return _sum(self.to_get)

    @property
    def described_total(self) -> Decimal | None:
        """The cost of what the tank file describes already, should it still have to be bought."""
        return _sum([x for x in self.lines if x.described])

    @property
    def without_cost(self) -> tuple[Purchase, ...]:
        """What is to be got and is not in the total: no price, or no quantity."""
        return tuple(x for x in self.to_get if x.cost is None)


def shopping_list(plan: Plan, tank: Tank, journal: Journal, rules: Rulebook, catalogue: Catalogue | None = None, shop: Shop | None = None) -> ShoppingList:
    """Everything that the open tasks of the plan still need, in the order of the shopping tasks, animals last. Bought is what
    is ticked: a shopping task that is done takes its lines along, and a job that is done the things that it uses."""
    basket = Basket(plan, gather(tank, journal, plan.on), rules)
    settled: set[str] = set()
    for task in basket.open:
        if task.role == "shopping":
            basket.source, before, had = task, len(basket.lines), basket.in_hand
            part = rules.tasks[task.key].buys
            if part is None:
                basket.add(task.key, name=task.title, unknown="see this step of the plan")
            else:
                PARTS[part](basket)
            if basket.in_hand > had and all(line.described for line in basket.lines[before:]):
                settled.add(task.key)
    add_water_and_sockets(basket)
    add_animals(basket, catalogue)
    prices = shop.prices if shop is not None else {}
    lines = tuple(_priced(line, prices.get(line.item)) for line in basket.lines)
    return ShoppingList(lines, bool(prices), frozenset(settled))


def cost_difference(before: ShoppingList, after: ShoppingList) -> tuple[Decimal, tuple[Purchase, ...]]:
    """How much more `after` costs, by the lines in which they differ; and those of them that no price or no quantity can
    settle. Where there are such lines the sum means nothing."""
    was, now = Counter(map(_worth, before.to_get)), Counter(map(_worth, after.to_get))
    differ = {worth[0] for worth in (was - now) + (now - was)}
    sums = [sum((x.cost for x in found.to_get if x.item in differ and x.cost is not None), Decimal(0)) for found in (before, after)]
    open_lines = {x.item: x for x in (*before.without_cost, *after.without_cost) if x.item in differ}
    return sums[1] - sums[0], tuple(open_lines.values())


def _worth(line: Purchase) -> tuple[str, Decimal | None, str]:
    """What tells two lines apart by their cost; without one by quantity and size, to three digits as they are shown."""
    if line.cost is not None:
        return line.item, line.cost, ""
    return line.item, None, "" if line.quantity is None else f"{line.quantity:.3g} of {line.size.value if line.size else 0:.3g}"


def _sum(lines: Sequence[Purchase]) -> Decimal | None:
    costs = [x.cost for x in lines if x.cost is not None]
    return sum(costs, Decimal(0)) if costs else None


def _priced(line: Purchase, price: Price | None) -> Purchase:
    return replace(line, price=price, cost=price.cost(line.quantity) if price is not None and line.quantity is not None else None)


__all__ = ["Purchase", "ShoppingList", "cost_difference", "shopping_list"]
