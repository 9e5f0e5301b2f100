"""For a wish that cannot be kept: why, the smallest change that would admit it, and kindred animals that would fit."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from planner.stock.catalogue import Catalogue
from planner.stock.neighbours import Clash, clashes_between
from planner.stock.room_and_load import StockFigures
from planner.stock.suitability import TankForStock, reasons_for, verdict_of
from planner.stock.sums import Item, Wish, claim_l, ground_cm2, ground_there_cm2, limits_of
from planner.terms.causes import Amount, Cause, about, cause

MOST_OFFERS = 2
MOST_TRIED = 14


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A wish that is not in `keep`: why, the smallest changes that together would admit it, and kindred animals that would fit."""

    animal_id: str
    count: int
    why: Cause
    smallest_change: tuple[Cause, ...]
    instead: tuple[str, ...]


def left_out(
    i: int,
    items: Sequence[Item],
    keep: Sequence[int],
    clashes: Sequence[tuple[int, int, Clash]],
    tank: TankForStock,
    handled: float | None,
    catalogue: Catalogue,
) -> LeftOut:
    """`items[i]` is not in `keep` (indices of `items`): the reason that weighs most, and the change that would lift it."""
    item, kept = items[i], [items[k] for k in keep]
    refusals = [r for r in item.reasons if r.weight == "refuses"]
    mine = [(k, c) for a, b, c in clashes if c.hard and i in (a, b) for k in (a + b - i,) if k in set(keep)]
    if refusals:
        why, change = refusals[0].why, tuple(r.change for r in refusals if r.change is not None)
    elif mine:
        why = mine[0][1].why
        rooms = [c.room_l for _, c in mine]
        opponents = tuple(dict.fromkeys(items[k].animal.name for k, _ in mine))
        change = (cause("give_up_or_room", names=opponents, room=about(max(rooms), "L")) if all(rooms) else cause("give_up", names=opponents),)
    else:
        why, *more = _too_much(item, kept, tank, handled, catalogue.figures)
        change = tuple(more)
    return LeftOut(item.animal.id, item.wish.count, why, change, _instead(item, kept, tank, handled, catalogue))


def _too_much(item: Item, kept: Sequence[Item], tank: TankForStock, handled: float | None, figures: StockFigures) -> tuple[Cause, Cause]:
    together = [*kept, item]
    room_l = math.ceil(sum(claim_l(x.animal, x.wish.count, figures) for x in together))
    nitrogen = sum(x.animal.nitrogen_mg_per_day * x.wish.count for x in together)
    ground, there = (
        sum(ground_cm2(x.animal, x.wish.count) for x in together),
        ground_there_cm2(tank, figures),
    )
    name = item.animal.name
    if room_l > tank.net_volume_l:
        return cause("room_spent", name=name, room=Amount(room_l, "L"), there=about(tank.net_volume_l, "L")), cause("tank_with", room=Amount(room_l, "L"))
    if handled is not None and nitrogen > handled:
        return cause("filter_spent", name=name, given=about(nitrogen, "mg"), handled=about(handled, "mg")), cause("stronger_filter", given=Amount(math.ceil(nitrogen), "mg"))
    if there is not None and ground > there:
        metres = ground / figures.value("ground_share") / 10_000
        return cause("ground_spent", name=name), cause("more_ground", floor=Amount(metres, "m²"))
    return cause("no_place"), cause("other_order")


def _instead(item: Item, kept: Sequence[Item], tank: TankForStock, handled: float | None, catalogue: Catalogue) -> tuple[str, ...]:
    """Kindred animals that fit this tank beside everything kept, the most alike first."""
    wanted, figures = item.animal, catalogue.figures
    listed = {x.animal.id for x in kept} | {wanted.id}
    pool = [a for a in catalogue.animals if a.group == wanted.group and a.id not in listed and a.skill in ("easy", "attentive")]
    pool.sort(
        key=lambda a: (
            a.skill != "easy", a.kind != wanted.kind, a.house != wanted.house, a.swims != wanted.swims, abs(a.adult_cm - wanted.adult_cm), a.id,
        )
    )  # fmt: skip
    pool = [a for a in pool if a.room_l * (1 - figures.value("room_grace")) <= tank.net_volume_l and (tank.length_cm is None or a.run_cm <= tank.length_cm)]
    spent = [s.limit - sum(s.weights) for s in limits_of(kept, tank, handled, figures)]
    offers: list[str] = []
    for a in pool[:MOST_TRIED]:
        count = max(1, a.least)
        reasons = reasons_for(a, count, tank, figures)
        if verdict_of(reasons) == "refused":
            continue
        new = Item(Wish(a.id, count), a, reasons)
        fits = all(s.weights[0] <= left for s, left in zip(limits_of([new], tank, handled, figures), spent, strict=True))
        if not fits:
            continue
        if any(c.hard for x in kept for c in clashes_between(a, x.animal, tank.net_volume_l, tank.length_cm, figures)):
            continue
        offers.append(a.id)
        if len(offers) == MOST_OFFERS:
            break
    return tuple(offers)
