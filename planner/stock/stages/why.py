"""Why a stage is when it is: which bound set its day, what kept an animal out of the stage before, why these together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from planner.stock.animals import CORALS, Animal
from planner.stock.room_and_load import StockFigures
from planner.stock.stages.filter import RATIONS, StageRise
from planner.stock.stages.search import CORAL, CREW, FISH, Filter, Limits, Quarantine, Unit
from planner.stock.verdict import Wish


def sort_of(animal: Animal) -> int:
    """Fish, coral (with anemones and clams) or crew."""
    return FISH if animal.group == "fish" else CORAL if animal.reach_cm or animal.group in (*CORALS, "clam") else CREW


@dataclass(frozen=True, slots=True)
class Group:
    """Wishes that go in as one."""

    wishes: tuple[Wish, ...]
    animals: tuple[Animal, ...]
    release: int
    why_release: str

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
) -> str:
    """The constraint that sets the day: the latest of releases, spacing and quarantine; then the calendar."""
    latest = max((groups[i] for i in inside), key=lambda g: g.release)
    bounds = [(latest.release, f"This day, because {latest.why_release}.")]
    if last is not None:
        text = f"This day, because {limits.gap} days and clean tests lie between two stages."
        if before.rest:
            text = f"This day, because the stage before is a large step for the filter: {limits.gap + before.rest} days and clean tests lie after it."
        bounds.append((last + limits.gap + before.rest, text))
    if entry is not None and box is not None:
        wait = " and the batch before must have left it" if before.batch else ""
        bounds.append((entry + box.stay, f"This day, because its fish spend {box.stay} days in quarantine{wait}."))
    bounds.append((before.today, "This day, because it is the first that is left: it could have come in before today."))
    bound, text = max(bounds, key=lambda b: b[0])
    if day > bound:
        text += f" The calendar adds {day - bound} {'day' if day - bound == 1 else 'days'}: no usable day comes earlier."
    return text


def why_not_earlier(
    inside: Sequence[int],
    groups: Sequence[Group],
    units: Sequence[Unit],
    unit_days: Sequence[int],
    last: int,
    limits: Limits,
    takes: Filter | None,
    quarantined: bool,
) -> list[str]:
    """For units that were free to come in the stage before: what kept them out of it. `quarantined`: fish come by batch,
    so that the stage before was theirs to join only if it brought fish."""
    before = [k for k, d in enumerate(unit_days) if d == last]
    follows: dict[tuple[int, ...], list[str]] = {}
    no_place: list[str] = []
    too_much: list[str] = []
    for i in inside:
        if groups[i].release > last:
            continue
        kept_by = tuple(k for k in before if units[i].after >> k & 1)
        same_sort = [k for k in before if units[k].sort == units[i].sort]
        if kept_by:
            follows.setdefault(kept_by, []).append(groups[i].name)
        elif len(same_sort) >= limits.most[units[i].sort] or (units[i].sort == FISH and same_sort):
            no_place.append(groups[i].name)
        elif quarantined and units[i].sort == FISH and not same_sort:
            continue
        elif takes is not None and units[i].gives and _too_much(i, units, unit_days, last, takes):
            too_much.append(groups[i].name)
    texts = []
    for ks, names in follows.items():
        texts.append(f"The {and_list(names)} {_verb('follow', names)} the {and_list([groups[k].name for k in ks])}, which should be at home first.")
    if no_place:
        texts.append(f"The stage before had no place left for the {and_list(no_place)}.")
    if too_much:
        texts.append(f"With the stage before, the {and_list(too_much)} would give more than the filter takes in the slow case.")
    return texts


def _verb(word: str, names: Sequence[str]) -> str:
    return f"{word}s" if len(names) == 1 else word


def _too_much(i: int, units: Sequence[Unit], unit_days: Sequence[int], last: int, takes: Filter) -> bool:
    before = takes.already + sum(u.gives for u, d in zip(units, unit_days, strict=True) if d < last)
    added = sum(u.gives for u, d in zip(units, unit_days, strict=True) if d == last)
    return added + units[i].gives > takes.room(before, last)


SHARES = dict(zip(RATIONS, ("all", "three quarters", "two thirds", "half", "a third", "a quarter"), strict=True))


def why_load(load: float, after: StageRise, figures: StockFigures) -> str:
    """What all animals then give (mg/day), and the free ammonia that slow tanks are expected to reach."""
    limit, days = figures.value("stage_free_ammonia"), figures.value("settle_days")
    given = f"about {load:.0f} mg" if load >= 0.95 else "less than 1 mg"
    reached = after.rise.nh3_mg_l[2]
    shown = f"{reached:.2g} mg/L" if reached >= 0.001 else "less than 0.001 mg/L"
    text = f"All animals in by then give {given} of nitrogen a day, and in a slow filter, one in ten, free ammonia (NH3) rises to {shown} after it; the limit is {limit:g} mg/L."
    if after.ration < 1:
        text += f" This counts on a smaller ration for {days:g} days, since the stage is a large step for the filter."
    return text


def feeding_of(ration: float, figures: StockFigures) -> str:
    """What the keeper has to do for a filter that cannot take the newcomers' whole food at once; "" if it can."""
    if ration >= 1:
        return ""
    return f"Give the newcomers about {SHARES[ration]} of their usual food for the first {figures.value('settle_days'):g} days, until the filter has grown."


def why_together(inside: Sequence[int], groups: Sequence[Group], units: Sequence[Unit], added: float) -> str:
    if len(inside) == 1:
        group = groups[inside[0]]
        if len(group.animals) > 1:
            return f"The {group.name} share a burrow and move in together."
        if group.wishes[0].count > 1:
            if group.wishes[0].count == 2:
                return "Both move in at once, so that neither owns the place before the other."
            return f"All {group.wishes[0].count} move in at once, so that none owns the place before the others."
        return "It comes alone, so that the tank and you can watch one newcomer."
    names = and_list([groups[i].name for i in inside])
    fish_alone = all(units[i].sort == FISH for i in inside)
    return f"The {names} {'let one another be' if fish_alone else 'do not compete'}, and together add {added:.0f} mg of nitrogen a day."


def and_list(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
