"""The wish list judged as a whole: each animal, each pair, the sums, and what to keep if not all can live together.

Pure: a tank, wishes and a catalogue in, one `StockVerdict` out. Where a figure is not known, the cause asks for it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from planner.stock.catalogue import Catalogue
from planner.stock.largest_set import largest_keepable
from planner.stock.left_out import LeftOut, left_out
from planner.stock.neighbours import Clash, clashes_between, welcomes
from planner.stock.suitability import Reason, TankForStock, Verdict, reasons_for, verdict_of
from planner.stock.sums import Item, ListSums, Wish, limits_of, list_sums
from planner.terms.causes import Amount, Cause, cause

__all__ = [
    "AnimalVerdict", "Conflict", "LeftOut", "ListSums", "StockVerdict", "TankForStock", "Wish", "judge_wishes",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class AnimalVerdict:
    """One wish judged: alone in this tank, with the conditions that its neighbours on the list add."""

    animal_id: str
    name: str
    count: int
    verdict: Verdict
    reasons: tuple[Reason, ...]


@dataclass(frozen=True, slots=True)
class Conflict:
    """Two wishes that cannot live together here, and why. `kind`: eats, rivals, stings or anemones."""

    between: tuple[str, str]
    kind: str
    why: Cause


@dataclass(frozen=True, slots=True)
class StockVerdict:
    """The whole answer. `keep` is the largest set that can live together, in the list's order, first in that order
    among the largest."""

    animals: tuple[AnimalVerdict, ...]
    conflicts: tuple[Conflict, ...]
    sums: ListSums
    keep: tuple[Wish, ...]
    left_out: tuple[LeftOut, ...]
    unknown: tuple[str, ...]


def judge_wishes(tank: TankForStock, wishes: Sequence[Wish], catalogue: Catalogue, handled_mg_n_per_day: float | None = None) -> StockVerdict:
    """Judges `wishes` for `tank`. Wishes for one animal are added up at the first one's place; ids that the catalogue
    does not have are returned in `unknown`. `handled_mg_n_per_day` is the nitrogen that the filter has shown to handle
    (mg/day as N), None if it has not been shown. Raises ValueError for a count below one."""
    figures = catalogue.figures
    items, unknown = _items(tank, wishes, catalogue)
    clashes = [
        (i, j, clash)
        for i, a in enumerate(items)
        for j in range(i + 1, len(items))
        for clash in clashes_between(a.animal, items[j].animal, tank.net_volume_l, tank.length_cm, figures)
    ]
    alone_refused = [verdict_of(item.reasons) == "refused" for item in items]
    live = [i for i, refused in enumerate(alone_refused) if not refused]
    place = {i: k for k, i in enumerate(live)}
    excludes = [0] * len(live)
    for i, j, clash in clashes:
        if clash.hard and i in place and j in place:
            excludes[place[i]] |= 1 << place[j]
            excludes[place[j]] |= 1 << place[i]
    kept = largest_keepable(excludes, limits_of([items[i] for i in live], tank, handled_mg_n_per_day, figures))
    keep = [live[k] for k in kept.indices]
    between_live = [x for x in clashes if x[0] in place and x[1] in place]
    animals = tuple(_with_neighbours(i, items, between_live) for i in range(len(items)))
    conflicts = tuple(Conflict((items[i].animal.id, items[j].animal.id), clash.kind, clash.why) for i, j, clash in clashes if clash.hard)
    left = tuple(left_out(i, items, keep, clashes, tank, handled_mg_n_per_day, catalogue) for i in range(len(items)) if i not in set(keep))
    sums = list_sums([items[i] for i in keep], tank, handled_mg_n_per_day, figures)
    return StockVerdict(animals, conflicts, sums, tuple(items[i].wish for i in keep), left, unknown)


def _items(tank: TankForStock, wishes: Sequence[Wish], catalogue: Catalogue) -> tuple[list[Item], tuple[str, ...]]:
    counts: dict[str, int] = {}
    unknown: dict[str, None] = {}
    for wish in wishes:
        if wish.count < 1:
            raise ValueError(f"a wish for {wish.count} of {wish.animal_id}")
        if catalogue.get(wish.animal_id) is None:
            unknown[wish.animal_id] = None
        else:
            counts[wish.animal_id] = counts.get(wish.animal_id, 0) + wish.count
    items: list[Item] = []
    for animal_id, count in counts.items():
        animal = catalogue.get(animal_id)
        assert animal is not None
        items.append(Item(Wish(animal_id, count), animal, reasons_for(animal, count, tank, catalogue.figures)))
    return items, tuple(unknown)


def _with_neighbours(i: int, items: Sequence[Item], clashes: Sequence[tuple[int, int, Clash]]) -> AnimalVerdict:
    """Soft clashes become conditions of the one who does it, one cause for a kind of clash; hosts and partners are named."""
    item = items[i]
    names = {x.animal.id: x.animal.name for x in items}
    soft = [clash for _, _, clash in clashes if not clash.hard and clash.actor == item.animal.id]
    added: list[Reason] = []
    eaten = [names[c.other] for c in soft if c.kind == "eats"]
    if eaten:
        added.append(Reason("may_eat", "condition", cause("may_eat_of_list", names=tuple(eaten))))
    fought = [c.why for c in soft if c.kind == "rivals"]
    added += [Reason("rivals", "condition", why) for why in fought]
    stung = [names[c.other] for c in soft if c.kind == "stings"]
    if stung:
        added.append(Reason("distance", "condition", cause("distance", reach=Amount(item.animal.reach_cm, "cm"), names=tuple(stung))))
    hosts = [x.animal for x in items if x is not item and welcomes(x.animal, item.animal)]
    for host in hosts:
        added.append(Reason("partner", "note", cause("partner_that_stings" if host.group == "anemone" else "partner", host=host.name)))
    reasons = (*item.reasons, *added)
    order = {"refuses": 0, "condition": 1, "note": 2}
    reasons = tuple(sorted(reasons, key=lambda r: order[r.weight]))
    return AnimalVerdict(item.animal.id, item.animal.name, item.wish.count, verdict_of(reasons), reasons)
