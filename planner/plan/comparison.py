"""The same tank set up in different ways, side by side: what each plan takes, and what makes the difference.

Causes are found by planning again: each thing in which two tank files differ is changed alone in the first, and the new
plan is measured. Where the single effects do not add up to the whole difference, that is said.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

from planner.files.checked import Checked
from planner.files.tank import Tank
from planner.judge.facts import gross_l
from planner.plan.dues import AHEAD_DAYS
from planner.plan.effort import Effort, effort_of
from planner.plan.make import plan_with_stock
from planner.plan.milestones import gate_window, next_animal, next_fish, wish_list_done
from planner.plan.shop_file import Shop
from planner.plan.shopping_list import ShoppingList, shopping_list
from planner.rulebook.shapes import Rulebook
from planner.stock.catalogue import Catalogue
from planner.terms.problems import Problem
from planner.terms.records import Journal, Plan, Window

MILESTONES = {
    "cycle_done": "filter proven",
    "open_for_animals": "open for animals",
    "first_animal": "first animal in",
    "first_fish": "first fish in",
    "wish_list_done": "wish list complete",
}
START = ("rock.kind", "rock.cured_in", "cycle.ammonia")
"""How the filter is begun. With live rock these three hang together and only change together."""
WHOLE = ("tank", "sand", "room", "test_kits", "already")
"""Blocks whose keys are one thing to a keeper."""
NAMES_ONLY = frozenset({"id", "name", "units", "timezone"})


@dataclass(frozen=True, slots=True)
class Setup:
    """One folder as read, with the day of its plan. `folder` is as the user wrote it."""

    folder: str
    tank: Tank
    journal: Journal
    rules: Rulebook
    on: date
    catalogue: Catalogue | None
    problems: tuple[Problem, ...] = ()


@dataclass(frozen=True, slots=True)
class Outcome:
    """What one way of setting up leads to. `left_out`: wishes that this tank cannot keep or place."""

    plan: Plan
    milestones: dict[str, Window]
    effort: Effort
    shopping: ShoppingList
    left_out: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Side:
    mark: str
    setup: Setup
    outcome: Outcome

    @property
    def gross_l(self) -> float:
        return gross_l(self.setup.tank)

    @property
    def net_l(self) -> float:
        found = self.outcome.plan.quantity("net_volume")
        return found.value if found is not None else 0.0


@dataclass(frozen=True, slots=True)
class Cause:
    """One thing changed alone in the first tank: `keys` of the tank file (`journal` for the entries), and what came of it."""

    keys: tuple[str, ...]
    before: Tank
    after: Tank
    outcome: Outcome


@dataclass(frozen=True, slots=True)
class Contrast:
    """A tank against the first one. `together`: the single effects on the day of the first animal do not add up."""

    first: Side
    other: Side
    causes: tuple[Cause, ...]
    apart_days: int | None
    whole_days: int | None

    @property
    def together(self) -> bool:
        return len(self.causes) > 1 and self.apart_days is not None and self.whole_days is not None and abs(self.apart_days - self.whole_days) > 1


@dataclass(frozen=True, slots=True)
class Comparison:
    sides: tuple[Side, ...]
    contrasts: tuple[Contrast, ...]

    @property
    def sizes_differ(self) -> bool:
        return any(abs(s.gross_l - self.sides[0].gross_l) > 0.005 * self.sides[0].gross_l for s in self.sides)


def compare(setups: Sequence[Setup], shop: Shop | None = None) -> Comparison:
    """Plan every setup, and hold each against the first."""
    sides = tuple(Side(mark_of(n), setup, measure(setup, shop)) for n, setup in enumerate(setups))
    return Comparison(sides, tuple(_contrast(sides[0], other, shop) for other in sides[1:]))


def mark_of(number: int) -> str:
    """A, B ... Z, A2, B2 ..."""
    return chr(ord("A") + number % 26) + (str(number // 26 + 1) if number >= 26 else "")


def measure(setup: Setup, shop: Shop | None = None) -> Outcome:
    """Plan one setup as far as its first animal, and count what it takes until then."""

    def planned(until: date | None) -> tuple[Plan, tuple[str, ...]]:
        plan, stock = plan_with_stock(setup.tank, setup.journal, setup.rules, setup.on, until, setup.problems, setup.catalogue)
        if stock is None:
            return plan, ()
        out = [x.animal_id for x in stock.verdict.left_out] + [w for w, _ in stock.unclear] + [w.animal_id for w, _ in (stock.stages.not_placed if stock.stages else ())]
        return plan, tuple(dict.fromkeys(out))

    plan, left_out = planned(None)
    first = next_animal(plan).likely or gate_window(plan, "opens_to_animals").likely
    if first is not None and first > setup.on + timedelta(days=AHEAD_DAYS):  # chores are listed only so far ahead unless asked
        plan, left_out = planned(first)
    milestones = {
        "cycle_done": gate_window(plan, "proves_filter"), "open_for_animals": gate_window(plan, "opens_to_animals"), "first_animal": next_animal(plan),
        "first_fish": next_fish(plan), "wish_list_done": wish_list_done(plan),
    }
    return Outcome(plan, milestones, effort_of(plan, setup.tank, setup.journal, setup.rules),
                   shopping_list(plan, setup.tank, setup.journal, setup.rules, setup.catalogue, shop), left_out)


def days_between(before: Outcome, after: Outcome, milestone: str = "first_animal") -> int | None:
    """How many days later `after` reaches a milestone, by the likely day; None where one of them has none."""
    a, b = before.milestones[milestone].likely, after.milestones[milestone].likely
    return None if a is None or b is None else (b - a).days


def _contrast(first: Side, other: Side, shop: Shop | None) -> Contrast:
    causes = tuple(_causes(first, other, shop))
    days = [days_between(first.outcome, c.outcome) for c in causes]
    return Contrast(first, other, causes, None if None in days else sum(d or 0 for d in days), days_between(first.outcome, other.outcome))


def _causes(first: Side, other: Side, shop: Shop | None) -> Iterator[Cause]:
    for keys in differing_keys(first.setup.tank, other.setup.tank):
        tank = with_keys(first.setup.tank, other.setup.tank, keys)
        yield Cause(keys, first.setup.tank, tank, measure(replace(first.setup, tank=tank, catalogue=first.setup.catalogue or other.setup.catalogue), shop))
    if _facts(first.setup.journal) != _facts(other.setup.journal):
        yield Cause(("journal",), first.setup.tank, first.setup.tank, measure(replace(first.setup, journal=other.setup.journal), shop))


def _facts(journal: Journal) -> list[tuple[Any, ...]]:
    return [row.sort_key for row in journal.rows]


def differing_keys(a: Tank, b: Tank) -> list[tuple[str, ...]]:
    """The things in which two tank files differ, each as the keys that have to change together, in the order of the file."""
    leaves = [key for key, read in _leaves(a) if read(a) != read(b)]
    start = tuple(key for key in leaves if key in START)
    if start and "live" not in (a.rock.kind, b.rock.kind):
        start = ()  # dry and cured rock take dosed ammonia or food alike
    found: list[tuple[str, ...]] = []
    for key in leaves:
        group = start if key in start else (key,)
        if group not in found:
            found.append(group)
    return found


def with_keys(base: Tank, source: Tank, keys: Sequence[str]) -> Tank:
    """`base` with the values of these keys as in `source`."""
    for key in keys:
        block, _, leaf = key.partition(".")
        value = getattr(source, block)
        if leaf:
            part = getattr(base, block)
            field = _field(part, leaf)
            value = part.model_copy(update={field: getattr(value, field)})
        base = base.model_copy(update={block: value})
    return base


def _leaves(tank: Tank) -> Iterator[tuple[str, Callable[[Tank], Any]]]:
    for block in Tank.model_fields:
        part = getattr(tank, block)
        if block in NAMES_ONLY:
            continue
        if isinstance(part, Checked) and block not in WHOLE:
            for field, info in part.__class__.model_fields.items():
                yield f"{block}.{info.alias or field}", lambda t, block=block, field=field: getattr(getattr(t, block), field)  # type: ignore[misc]
        else:
            yield block, lambda t, block=block: getattr(t, block)  # type: ignore[misc]


def _field(part: Checked, key: str) -> str:
    return next(name for name, info in part.__class__.model_fields.items() if (info.alias or name) == key)


__all__ = ["MILESTONES", "Cause", "Comparison", "Contrast", "Outcome", "Setup", "Side", "compare", "days_between", "differing_keys", "mark_of", "measure", "with_keys"]
