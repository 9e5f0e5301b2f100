"""The stage problem over integers, and its solution. `stages` says in words what it means and where units come from.

Given: units in the order of the wish list, each with a release day, a class (fish, coral or crew), a load, the units
that must stand in an earlier stage (`after`) and those that must not stand in a later one (`not_before`); the least
gap between stages; the most units of each class in a stage, and of fish in the first stage with fish; the most load
in a stage; perhaps one quarantine tank; perhaps what the filter takes; and the days on which anything may happen.

Wanted: every unit in exactly one stage, each stage on an allowed day, such that
 1. stage days ascend, at least `gap` days apart; no unit comes before its release;
 2. `after` and `not_before` hold; no stage exceeds a class limit;
 3. a stage's load is within the limit, or only one unit in it has any load;
 4. with quarantine: the fish of a stage enter together on an allowed day, not before the tank is ready nor before
    `pause` days after the previous stage with fish, and stay at least `stay` days. A fish added to a batch would start
    its clock again, so none is: a batch is one stage;
 5. with a filter: a stage gives at most `room(before, day)`, `before` being what all that is in already gives;
    or only one unit of the stage gives anything, `least` of that fits, and the next stage comes `rest` days later than
    it otherwise could;
and of all such plans the one with the earliest last day; among those the one whose units' days, read in the order of
the wish list, come first in lexicographic order.

Method: dynamic programming over sets of placed units. The days of a given sequence of stages are best all at once when
each is as early as it can be, since `room` never rises with the day. A label of a set is (last day, first day free for
the next, last day with fish, days of its units); it is dropped if another label of the same set is no later in the
three days and no worse in the last part. Only full stages need be tried: a unit that could join a stage without moving
its day gains by joining, and delays nobody, since `room` never falls as more is in before (a fish only if the stage has
fish already, where quarantine is used). Of units that are alike for all that follows the earlier on the list goes
first. A first pass without the last part of the label finds the earliest last day; the second is cut by it. The
filter is left out at first: a best plan without it that keeps to it anyway is the best plan with it.

Exact for up to ten units, and for more while at most `most_labels` stages are tried. Beyond that only the most promising of every layer are followed:
a valid plan, with `proved` false and the proven bound on the last day beside it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations_with_replacement, islice

NextDay = Callable[[int], int | None]
FISH, CORAL, CREW = 0, 1, 2
ALWAYS_EXACT = 10  # units up to which the search is never cut short
MOST_LABELS = 1_500
BEAM = 8
BEAM_STAGES = 10


@dataclass(frozen=True, slots=True)
class Unit:
    """What goes in as one. `after` and `not_before` are bit masks of indices; `load` (counted against a stage's limit)
    and `gives` (counted against the filter) are whole numbers."""

    release: int
    sort: int
    load: int
    after: int = 0
    not_before: int = 0
    gives: int = 0


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
    """What the filter takes: `room(before, day)` more, see the head of this page; it must never fall as the first grows, and
    never rise with the second. `already`: what is in before the first stage. A single unit that is too heavy may come if `least` (a share, 0 to 1) of it fits, and costs `rest` more days."""

    room: Callable[[int, int], int]
    already: int
    rest: int
    least: float

    def at_least(self, gives: int) -> int:
        """What a unit gives on the least ration."""
        return math.ceil(gives * self.least - 1e-9)


@dataclass(frozen=True, slots=True)
class Solution:
    """The day of every unit. `last_day_at_best` is a proven lower bound of the last day; `proved` = optimal as stated."""

    days: tuple[int, ...]
    last_day_at_best: int
    proved: bool


@dataclass(frozen=True, slots=True)
class _Label:
    last: int
    free: int  # the next stage may come on this day, as far as spacing goes
    last_fish: int
    days: tuple[int, ...]  # of every unit, 0 for those not placed yet


class _Case:
    """The given problem with what the search looks up again and again."""

    def __init__(
        self, units: Sequence[Unit], limits: Limits, quarantine: Quarantine | None, next_day: NextDay, filter: Filter | None
    ) -> None:
        self.units = tuple(units)
        self.limits = limits
        self.quarantine = quarantine
        self.filter = filter
        self.gives = tuple(u.gives if filter is not None else 0 for u in units)
        self.start = _Label(-1, min(u.release for u in units), -1, (0,) * len(units))
        self._room: dict[tuple[int, int], int] = {}
        self._batches: dict[tuple[int, ...], tuple[int, ...]] = {}
        self._next = next_day
        self._known: dict[int, int | None] = {}
        self.all = (1 << len(units)) - 1
        self.fish = sum(1 << i for i, u in enumerate(units) if u.sort == FISH)
        self.loads = _effective_loads(units, limits)
        self.needed_by = [0] * len(units)
        for i, u in enumerate(units):
            for j in _bits(u.after):
                self.needed_by[j] |= 1 << i
        self.waited_for = [0] * len(units)
        for i, u in enumerate(units):
            for j in _bits(u.not_before):
                self.waited_for[j] |= 1 << i

    def next_day(self, day: int) -> int | None:
        if day not in self._known:
            self._known[day] = self._next(day)
        return self._known[day]

    def before(self, placed: int) -> int:
        """What is in when these units are."""
        return (self.filter.already if self.filter is not None else 0) + sum(self.gives[i] for i in _bits(placed))

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
        given = sum(self.gives[i] for i in _bits(batch))
        return self.filter.rest if given and given > room else 0

    def full_batches(self, available: Sequence[int], rest: int, most_fish: int, room: int, all_of_them: bool) -> Iterable[int]:
        """Those of `_full_batches`, remembered where all are wanted: labels of one set ask alike, and so do both passes."""
        key = (sum(1 << i for i in available), rest, most_fish, room)
        if key in self._batches:
            return self._batches[key]
        if not all_of_them:
            return _full_batches(self, available, rest, most_fish, room)
        self._batches[key] = found = tuple(_full_batches(self, available, rest, most_fish, room))
        return found


@lru_cache(maxsize=1 << 16)
def _bits(mask: int) -> tuple[int, ...]:
    found = []
    while mask:
        low = mask & -mask
        found.append(low.bit_length() - 1)
        mask ^= low
    return tuple(found)


def _effective_loads(units: Sequence[Unit], limits: Limits) -> tuple[int, ...]:
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


def solve_stages(
    units: Sequence[Unit],
    limits: Limits,
    quarantine: Quarantine | None,
    next_day: NextDay,
    most_labels: int | None = None,
    filter: Filter | None = None,
) -> Solution | None:
    """Solves the problem above; None if no plan exists (a circle of orders, or no allowed day). `next_day(d)` is the
    first allowed day not before d, or None, and must never fall as d grows."""
    if not units:
        return Solution((), 0, True)
    if most_labels is None:
        most_labels = 10**9 if len(units) <= ALWAYS_EXACT else MOST_LABELS
    free = _solve(_Case(units, limits, quarantine, next_day, None), most_labels)
    if filter is None or free is None or not overloaded(units, free.days, filter):
        return free
    return _solve(_Case(units, limits, quarantine, next_day, filter), most_labels)


def overloaded(units: Sequence[Unit], days: Sequence[int], filter: Filter) -> frozenset[int]:
    """The stage days of a plan on which all that is in then gives more than the filter takes."""
    heavy, before = set(), filter.already
    for day in sorted(set(days)):
        added = sum(u.gives for u, d in zip(units, days, strict=True) if d == day)
        if added and added > filter.room(before, day):
            heavy.add(day)
        before += added
    return frozenset(heavy)


def _solve(case: _Case, most_labels: int) -> Solution | None:
    quick = _layers(case, None, False, 0)
    bound = _at_best(case, 0, case.start)
    if quick is None or quick[0].last > bound:  # else no plan ends earlier than the one found at a glance
        quick = _layers(case, quick[0].last if quick is not None else None, False, most_labels)
        if quick is None:
            return None
        label, exact = quick
        bound = label.last if exact else bound
    else:
        label, exact = quick[0], True
    best = _layers(case, label.last, True, most_labels)
    if best is None:
        best = (_layers(case, None, True, 0) or (label, False))[0], False
    return Solution(best[0].days, bound, exact and best[1])


def _layers(case: _Case, until: int | None, ordered: bool, most_labels: int) -> tuple[_Label, bool] | None:
    """Dynamic programming, sets by the number of their stages. `until` cuts labels that cannot end by that day."""
    layer: dict[int, list[_Label]] = {0: [case.start]}
    done: list[_Label] = []
    seen: dict[int, list[_Label]] = {}
    opened, exact = 0, True
    while layer:
        if opened > most_labels:
            exact = False
            layer = _most_promising(case, layer)
        grown: dict[int, list[_Label]] = {}
        for placed, labels in layer.items():
            for label in labels:
                all_of_them = exact and opened <= most_labels
                stages = _stages_from(case, placed, label, until, all_of_them)
                for batch, day, rest in stages if all_of_them else islice(stages, BEAM_STAGES):
                    opened += 1
                    new = _grow(case, label, batch, day, rest)
                    after = placed | batch
                    if until is not None and _at_best(case, after, new) > until:
                        continue
                    if after == case.all:
                        _add(done, new, ordered)
                    elif _add(seen.setdefault(after, []), new, ordered):
                        _add(grown.setdefault(after, []), new, ordered)
                if opened > most_labels and exact:
                    exact = False
        layer = grown
    if not done:
        return None
    return min(done, key=lambda x: (x.last, x.days)), exact


def _grow(case: _Case, label: _Label, batch: int, day: int, rest: int) -> _Label:
    days = list(label.days)
    for i in _bits(batch):
        days[i] = day
    return _Label(day, day + case.limits.gap + rest, day if batch & case.fish else label.last_fish, tuple(days))


def _add(labels: list[_Label], new: _Label, ordered: bool) -> bool:
    """Keeps the labels of one set that no other beats; true if `new` is one of them."""
    for old in labels:
        if _beats(old, new, ordered):
            return False
    labels[:] = [old for old in labels if not _beats(new, old, ordered)]
    labels.append(new)
    return True


def _beats(one: _Label, other: _Label, ordered: bool) -> bool:
    return one.last <= other.last and one.free <= other.free and one.last_fish <= other.last_fish and (not ordered or one.days <= other.days)


def _most_promising(case: _Case, layer: dict[int, list[_Label]]) -> dict[int, list[_Label]]:
    ranked = sorted(
        ((placed, label) for placed, labels in layer.items() for label in labels),
        key=lambda x: (_at_best(case, x[0], x[1]), -x[0].bit_count(), [d or 1 << 40 for d in x[1].days]),
    )
    kept: dict[int, list[_Label]] = {}
    for placed, label in ranked[:BEAM]:
        kept.setdefault(placed, []).append(label)
    return kept


def _at_best(case: _Case, placed: int, label: _Label) -> int:
    """No plan that goes on from here ends before this day."""
    rest = case.all & ~placed
    if not rest:
        return label.last
    counts = [0, 0, 0]
    latest = 0
    for i in _bits(rest):
        counts[case.units[i].sort] += 1
        latest = max(latest, case.units[i].release)
    limits, q = case.limits, case.quarantine
    stages = max(-(-count // most) for count, most in zip(counts, limits.most, strict=True))
    bound = max(latest, label.free + limits.gap * (stages - 1))
    fish_stages = -(-counts[FISH] // limits.most[FISH])
    if q is not None and fish_stages:
        entered = max(q.ready, label.last_fish + q.pause if label.last_fish >= 0 else q.ready)
        bound = max(bound, entered + q.stay * fish_stages + q.pause * (fish_stages - 1))
    return case.next_day(bound) or bound


def _stages_from(case: _Case, placed: int, label: _Label, until: int | None, all_of_them: bool) -> Iterator[tuple[int, int, int]]:
    """The full stages that may come next by `until`, each with its earliest day and the rest that it costs."""
    units, q = case.units, case.quarantine
    rest = case.all & ~placed
    ready = [i for i in _bits(rest) if not units[i].after & rest]
    open_mask = sum(1 << i for i in ready)
    ready = [i for i in ready if not units[i].not_before & rest & ~open_mask]
    base = label.free
    out_of_quarantine = base
    if q is not None:
        entry = case.next_day(max(q.ready, label.last_fish + q.pause) if label.last_fish >= 0 else q.ready)
        if entry is None:
            ready = [i for i in ready if units[i].sort != FISH]
        else:
            out_of_quarantine = entry + q.stay
    earliest: dict[int, int] = {}
    for i in ready:
        day = case.next_day(max(base, units[i].release, out_of_quarantine if units[i].sort == FISH else base))
        if day is not None:
            earliest[i] = day
    limit = case.limits.most[FISH] if placed & case.fish else min(case.limits.first_fish, case.limits.most[FISH])
    before = case.before(placed)
    for day in sorted(set(earliest.values())):
        if until is not None and day > until:
            return
        available = [i for i, first_day in earliest.items() if first_day <= day]
        newest = sum(1 << i for i, first_day in earliest.items() if first_day == day)
        room = case.room(before, day)
        for batch in case.full_batches(available, rest, limit, room, all_of_them):
            if batch & newest:
                yield batch, day, case.rest_after(batch, room)


@dataclass(frozen=True, slots=True)
class _Kind:
    """Available units that are alike for all that follows; `needs` must be placed before or with them."""

    sort: int
    load: int
    gives: int
    needs: int
    members: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class _Part:
    """The units of one class in a stage."""

    mask: int
    needs: int
    load: int
    loaded: int
    gives: int
    givers: int
    size: int


def _full_batches(case: _Case, available: Sequence[int], rest: int, most_fish: int, room: int) -> Iterator[int]:
    """Batches of available units within every limit to which no more can be added, the list's first units first."""
    groups: dict[tuple[int, ...], list[int]] = {}
    for i in available:
        u = case.units[i]
        likeness = (u.sort, case.loads[i], case.gives[i], u.not_before & rest, case.needed_by[i] & rest, case.waited_for[i] & rest)
        groups.setdefault(likeness, []).append(i)
    kinds = [_Kind(key[0], key[1], key[2], key[3], tuple(members)) for key, members in groups.items()]
    most = (most_fish, case.limits.most[CORAL], case.limits.most[CREW])
    parts = []
    for sort in (FISH, CORAL, CREW):
        mine = [k for k in kinds if k.sort == sort]
        free = not any(k.load or k.gives or k.needs for k in mine)  # then only the fullest choice can be part of a full batch
        may_be_empty = sort == FISH and case.quarantine is not None
        parts.append(list(_parts(mine, most[sort], free, may_be_empty)))
    for fish in parts[FISH]:
        for coral in parts[CORAL]:
            for crew in parts[CREW]:
                batch = fish.mask | coral.mask | crew.mask
                load, loaded = fish.load + coral.load + crew.load, fish.loaded + coral.loaded + crew.loaded
                gives, givers = fish.gives + coral.gives + crew.gives, fish.givers + coral.givers + crew.givers
                if not batch or (load > case.limits.load and loaded > 1) or (gives > room and case.too_heavy(gives, givers, room)):
                    continue
                if (fish.needs | coral.needs | crew.needs) & ~batch:
                    continue
                taken = (fish.size, coral.size, crew.size)
                if not _can_grow(case, kinds, most, room, _Part(batch, 0, load, loaded, gives, givers, 0), taken):
                    yield batch


def _parts(kinds: Sequence[_Kind], most: int, fullest_only: bool, may_be_empty: bool) -> Iterator[_Part]:
    """Choices of at most `most` units of one class. Large ones first, and of units alike the first on the list."""
    full = min(most, sum(len(k.members) for k in kinds))
    sizes = range(full, -1, -1) if not fullest_only else (full, 0) if may_be_empty and full else (full,)
    for size in sizes:
        for chosen in combinations_with_replacement(range(len(kinds)), size):
            mask = needs = load = loaded = gives = givers = 0
            for at, k in enumerate(chosen):
                kind = kinds[k]
                rank = at - chosen.index(k)  # how many of this kind are in already
                if rank >= len(kind.members):
                    break
                mask |= 1 << kind.members[rank]
                needs |= kind.needs
                load += kind.load
                loaded += 1 if kind.load else 0
                gives += kind.gives
                givers += 1 if kind.gives else 0
            else:
                yield _Part(mask, needs, load, loaded, gives, givers, size)


def _can_grow(case: _Case, kinds: Sequence[_Kind], most: Sequence[int], room: int, batch: _Part, taken: tuple[int, int, int]) -> bool:
    """True if one more unit could join the batch without breaking a limit or, with quarantine, making it one of fish."""
    for kind in kinds:
        if taken[kind.sort] >= most[kind.sort] or kind.needs & ~batch.mask:
            continue
        if kind.sort == FISH and not taken[FISH] and case.quarantine is not None:
            continue
        if kind.load and batch.loaded and batch.load + kind.load > case.limits.load:
            continue
        if kind.gives and batch.givers and batch.gives + kind.gives > room:
            continue
        if any(not batch.mask >> i & 1 for i in kind.members):
            return True
    return False
