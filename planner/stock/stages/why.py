"""Why a stage is when it is: which bound set its day, what kept an animal out of the stage before, why these together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from planner.stock.animals import CORALS, Animal
from planner.stock.room_and_load import StockFigures
from planner.stock.stages.filter import StageRise
from planner.stock.stages.search import CORAL, CREW, FISH, Filter, Limits, Quarantine, Unit
from planner.stock.verdict import Wish
from planner.terms.causes import Cause, about, cause, in_turn


def sort_of(animal: Animal) -> int:
    """Fish, coral (with anemones and clams) or crew."""
    return FISH if animal.group == "fish" else CORAL if animal.reach_cm or animal.group in (*CORALS, "clam") else CREW


@dataclass(frozen=True, slots=True)
class Group:
    """Wishes that go in as one."""

    wishes: tuple[Wish, ...]
    animals: tuple[Animal, ...]
    release: int
    why_release: Cause

    @property
    def lead(self) -> Animal:
        """The fish among them, else the first."""
        return next((a for a in self.animals if a.group == "fish"), self.animals[0])

    @property
    def name(self) -> str:
        """All their names as one."""
        return " with ".join(a.name for a in self.animals)

    @property
    def sort(self) -> int:
        """Fish, coral or crew, as the stage limits count it."""
        return sort_of(self.lead)

    @property
    def nitrogen(self) -> float:
        """What all of them give in mg/day."""
        return sum(a.nitrogen_mg_per_day * w.count for a, w in zip(self.animals, self.wishes, strict=True))


@dataclass(frozen=True, slots=True)
class Before:
    """What lies before a stage: more days of rest for the filter, a batch of fish in quarantine, and the day of the plan."""

    rest: int
    batch: bool
    today: int


def why_then(
    inside: Sequence[int],
    groups: Sequence[Group],
    day: int,
    last: int | None,
    entry: int | None,
    limits: Limits,
    box: Quarantine | None,
    before: Before,
) -> tuple[Cause, ...]:
    """The constraint that sets the day: the latest of releases, spacing and quarantine; then the calendar."""
    latest = max((groups[i] for i in inside), key=lambda g: g.release)
    bounds = [(latest.release, cause("then_released", why=latest.why_release))]
    if last is not None:
        bounds.append((last + limits.gap + before.rest, cause("then_large_step_before" if before.rest else "then_gap", days=limits.gap + before.rest)))
    if entry is not None and box is not None:
        bounds.append((entry + box.stay, cause("then_quarantine_after_batch" if before.batch else "then_quarantine", days=box.stay)))
    bounds.append((before.today, cause("then_first_left")))
    bound, why = max(bounds, key=lambda b: b[0])
    return (why, cause("calendar_adds", days=day - bound)) if day > bound else (why,)


def why_not_earlier(
    inside: Sequence[int],
    groups: Sequence[Group],
    units: Sequence[Unit],
    unit_days: Sequence[int],
    last: int,
    limits: Limits,
    takes: Filter | None,
    quarantined: bool,
) -> list[Cause]:
    """For units that were free to come in the stage before: what kept them out of it. `quarantined`: fish come by batch,
    so that the stage before was theirs to join only if it brought fish."""
    before = [k for k, d in enumerate(unit_days) if d == last]
    follows: dict[tuple[int, ...], list[str]] = {}
    no_place: list[str] = []
    apart: list[str] = []
    too_much: list[str] = []
    for i in inside:
        if groups[i].release > last:
            continue
        kept_by = tuple(k for k in before if units[i].after >> k & 1)
        same_sort = [k for k in before if units[k].sort == units[i].sort]
        if kept_by:
            follows.setdefault(kept_by, []).append(groups[i].name)
        elif quarantined and units[i].sort == FISH and not same_sort:
            continue
        elif not any(units[k].kind == units[i].kind for k in before):
            apart.append(groups[i].name)
        elif len(same_sort) >= limits.most[units[i].sort] or (units[i].sort == FISH and same_sort):
            no_place.append(groups[i].name)
        elif takes is not None and units[i].gives and _too_much(i, units, unit_days, last, takes):
            too_much.append(groups[i].name)
    found = [cause("follows" if len(names) == 1 else "follow", names=tuple(names), first=tuple(groups[k].name for k in ks)) for ks, names in follows.items()]
    if no_place:
        found.append(cause("no_place_before", names=tuple(no_place)))
    if apart:
        found.append(cause("day_of_its_own", names=tuple(apart)))
    if too_much:
        found.append(cause("too_much_with_before", names=tuple(too_much)))
    return found


def _too_much(i: int, units: Sequence[Unit], unit_days: Sequence[int], last: int, takes: Filter) -> bool:
    before = takes.already + sum(u.gives for u, d in zip(units, unit_days, strict=True) if d < last)
    added = sum(u.gives for u, d in zip(units, unit_days, strict=True) if d == last)
    return added + units[i].gives > takes.room(before, last)


def why_load(load: float, after: StageRise, figures: StockFigures) -> Cause:
    """What all animals then give (mg/day), and the free ammonia that slow tanks are expected to reach."""
    limit, days = figures.value("stage_free_ammonia"), figures.value("settle_days")
    told = [cause("load", given=load, reached=after.rise.nh3_mg_l[2], limit=limit)]
    return in_turn(told if after.ration >= 1 else [*told, cause("smaller_ration", days=days)])


def feeding_of(ration: float, figures: StockFigures) -> Cause | None:
    """What the keeper has to do for a filter that cannot take the newcomers' whole food at once; None if it can."""
    return None if ration >= 1 else cause("feed_less", share=ration, days=figures.value("settle_days"))


def why_together(inside: Sequence[int], groups: Sequence[Group], units: Sequence[Unit], added: float) -> Cause:
    if len(inside) == 1:
        group = groups[inside[0]]
        if len(group.animals) > 1:
            return cause("share_burrow", name=group.name)
        count = group.wishes[0].count
        return cause("comes_alone") if count == 1 else cause("both_at_once") if count == 2 else cause("all_at_once", count=count)
    fish_alone = all(units[i].sort == FISH for i in inside)
    return cause("let_be" if fish_alone else "do_not_compete", names=tuple(groups[i].name for i in inside), added=about(added, "mg"))
