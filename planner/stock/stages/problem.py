"""The stage problem as records, with what its search looks up again and again. `search` states it in words."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache

NextDay = Callable[[int], int | None]
FISH, CORAL, CREW = 0, 1, 2


@dataclass(frozen=True, slots=True)
class Unit:
    """What goes in as one. `after` and `not_before` are bit masks of indices; `load` (counted against a stage's limit)
    and `gives` (counted against the filter) are whole numbers. `group`: within its sort it shares a stage with its own group alone."""

    release: int
    sort: int
    load: int
    after: int = 0
    not_before: int = 0
    gives: int = 0
    group: int = 0

    @property
    def kind(self) -> tuple[int, int]:
        """What shares a stage."""
        return self.sort, self.group


@dataclass(frozen=True, slots=True)
class Quarantine:
    """One tank: ready from a day on, days that a batch stays, days between two batches."""

    ready: int
    stay: int
    pause: int


@dataclass(frozen=True, slots=True)
class Limits:
    """Least days between stages; most units by class (fish, coral, crew); of fish in their first stage; most load."""

    gap: int
    most: tuple[int, int, int]
    first_fish: int
    load: int


@dataclass(frozen=True, slots=True)
class Filter:
    """What the filter takes: `room(before, day)` more than what is in before; it must never fall as the first grows, and
    never rise with the second. `already`: what is in before the first stage. A single unit that is too heavy may come if
    `least` (a share, 0 to 1) of it fits, and costs `rest` more days."""

    room: Callable[[int, int], int]
    already: int
    rest: int
    least: float

    def at_least(self, gives: int) -> int:
        """What a unit gives on the least ration."""
        return math.ceil(gives * self.least - 1e-9)


@dataclass(frozen=True, slots=True)
class Label:
    last: int
    free: int  # the next stage may come on this day, as far as spacing goes
    last_fish: int
    days: tuple[int, ...]  # of every unit, 0 for those not placed yet


class Case:
    """The given problem with what the search looks up again and again."""

    def __init__(
        self, units: Sequence[Unit], limits: Limits, quarantine: Quarantine | None, next_day: NextDay, filter: Filter | None
    ) -> None:
        self.units = tuple(units)
        self.limits = limits
        self.quarantine = quarantine
        self.filter = filter
        self.kinds = tuple(u.kind for u in units)
        self.gives = tuple(u.gives if filter is not None else 0 for u in units)
        self.start = Label(-1, min(u.release for u in units), -1, (0,) * len(units))
        self._room: dict[tuple[int, int], int] = {}
        self.batches: dict[tuple[int, ...], tuple[int, ...]] = {}
        self._next = next_day
        self._known: dict[int, int | None] = {}
        self.all = (1 << len(units)) - 1
        self.fish = sum(1 << i for i, u in enumerate(units) if u.sort == FISH)
        self.loads = effective_loads(units, limits)
        self.needed_by = [0] * len(units)
        for i, u in enumerate(units):
            for j in bits(u.after):
                self.needed_by[j] |= 1 << i
        self.waited_for = [0] * len(units)
        for i, u in enumerate(units):
            for j in bits(u.not_before):
                self.waited_for[j] |= 1 << i

    def next_day(self, day: int) -> int | None:
        if day not in self._known:
            self._known[day] = self._next(day)
        return self._known[day]

    def before(self, placed: int) -> int:
        """What is in when these units are."""
        return (self.filter.already if self.filter is not None else 0) + sum(self.gives[i] for i in bits(placed))

    def room(self, before: int, day: int) -> int:
        """What a stage may add on this day."""
        if self.filter is None:
            return 0
        if (before, day) not in self._room:
            self._room[before, day] = self.filter.room(before, day)
        return self._room[before, day]

    def too_heavy(self, gives: int, givers: int, room: int) -> bool:
        """Of a stage that gives more than there is room for: is it too much even so?"""
        return givers > 1 or (givers == 1 and self.filter is not None and self.filter.at_least(gives) > room)

    def rest_after(self, batch: int, room: int) -> int:
        """More days after a stage that is too much for the filter."""
        if self.filter is None:
            return 0
        given = sum(self.gives[i] for i in bits(batch))
        return self.filter.rest if given and given > room else 0


@lru_cache(maxsize=1 << 16)
def bits(mask: int) -> tuple[int, ...]:
    found = []
    while mask:
        low = mask & -mask
        found.append(low.bit_length() - 1)
        mask ^= low
    return tuple(found)


def effective_loads(units: Sequence[Unit], limits: Limits) -> tuple[int, ...]:
    """Zero for a unit that no stage can be too heavy with, whatever joins it: such loads tell no units apart."""
    most_others = sum(limits.most) - 1
    by_sort = {sort: sorted((u.load for u in units if u.sort == sort), reverse=True) for sort in (FISH, CORAL, CREW)}
    effective: list[int] = []
    for u in units:
        heaviest = 0
        for sort, loads in by_sort.items():
            others = list(loads)
            places = limits.most[sort]
            if sort == u.sort:
                others.remove(u.load)
                places -= 1
            heaviest += sum(others[: min(places, most_others)])
        effective.append(0 if u.load + heaviest <= limits.load else u.load)
    return tuple(effective)
