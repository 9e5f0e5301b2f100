"""The shopping list in the making: what stands in it, and what a shopping task asks of the plan, the tank and the rules to write its lines."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from planner.judge.facts import Facts
from planner.judge.figures import quantity
from planner.plan.goods import GOODS
from planner.plan.milestones import next_animal, open_tasks
from planner.plan.shop_file import Price
from planner.plan.texts import Filler
from planner.rulebook.shapes import Rulebook
from planner.rulebook.task_rule import KnownTask
from planner.terms.amounts import format_amount
from planner.terms.records import Amount, Plan, Task

USED_UP = frozenset({"salt", "pure_water", "bicarbonate"})
"""What is still to be got after the first of it was used. Ready-mixed water is not: the jobs that change water order their own."""


@dataclass(frozen=True, slots=True)
class Purchase:
    """One thing to get. `quantity` is in grams, litres or pieces (`unit`: g, L, each), None where it cannot be known: then
    `unknown` says what to describe or ask. `size` is what each piece, or (`together`) all of them, must do or hold.
    `needed` is the likely day of the step that uses it, provisional while that step stands behind a shut gate.
    `described`: the tank file says that it stands there already; its cost is not in the total. `bought`: the day of the
    errand that buys it, never later than `needed`. `told`: what the description says of what stands there, where it says more
    than yes."""

    item: str
    name: str
    quantity: float | None
    unit: str
    size: Amount | None
    together: bool
    phase: str
    needed: date | None
    provisional: bool
    note: str
    unknown: str
    described: bool
    price: Price | None
    cost: Decimal | None
    bought: date | None = None
    told: str = ""


class Basket:
    """The list in the making. `source` is the shopping task whose lines are being written."""

    def __init__(self, plan: Plan, facts: Facts, rules: Rulebook) -> None:
        self.plan, self.facts, self.rules, self.tank = plan, facts, rules, facts.tank
        self.open = open_tasks(plan)
        self.fill = Filler(facts, rules).fill
        self.animals_from = next_animal(plan).likely or date.max
        self.source: Task | None = None
        self.lines: list[Purchase] = []
        self.in_hand = 0
        """How many things were left out because they are in use."""

    def words(self, value: float | None, unit: str) -> str:
        """An amount in the buyer's units."""
        return "(not known yet)" if value is None else format_amount(value, unit, self.plan.units)

    def figure(self, name: str) -> float | None:
        found = quantity(name, self.facts, self.rules)
        return None if found is None else found.value

    def known(self, *names: KnownTask) -> Task | None:
        """The first open task, by likely day, among those known by these names."""
        return self._first([t for t in self.open if any(t.key in self.rules.tasks_as(name) for name in names)])

    def ticked(self, name: KnownTask) -> bool:
        return any(self.facts.rows("done", key) for key in self.rules.tasks_as(name))

    def user(self, item: str) -> Task | None:
        """The first open task, by likely day, that uses this."""
        return self._first([t for t in self.open if t.key in self.rules.tasks and item in self.rules.tasks[t.key].uses])

    def in_use(self, item: str) -> bool:
        """Was a job done that uses it, or a reading taken with it? Whoever did that has it, ticked or not as bought."""
        return any(item in rule.uses and self.facts.rows("done", key) for key, rule in self.rules.tasks.items())

    def _first(self, tasks: Sequence[Task]) -> Task | None:
        return min((t for t in tasks if t.date is not None), key=lambda t: t.date or date.max, default=None)

    def add(self, item: str, count: float | None = None, *, unit: str = "each", size: tuple[float | None, str] | None = None, together: bool = False,
            uses: Task | None = None, note: str = "", unknown: str = "", described: bool = False, name: str = "", known_as: str = "", in_use: bool | None = None, told: str = "") -> None:
        """`known_as`: its name among what jobs use; `in_use` where the caller knows better than those jobs."""
        if (self.in_use(known_as or item) if in_use is None else in_use) and item not in USED_UP and not described:
            self.in_hand += 1
            return
        using = uses or self.user(known_as or item) or self.source
        amount = Amount(size[0], size[1], side="down" if item == "top_up_container" else "") if size is not None and size[0] is not None else None  # a most
        days = [t.date for t in (using, self.source) if t is not None and t.date is not None]
        self.lines.append(Purchase(
            item, name or GOODS[item].name, count, unit, amount, together, using.phase if using else "", using.date if using else None,
            using.tentative if using else False, self.fill(note), "" if count is not None else self.fill(unknown), described, None, None, min(days, default=None), told))


__all__ = ["Basket", "Purchase"]
