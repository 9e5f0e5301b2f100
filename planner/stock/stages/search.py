"""The stage problem over integers, and its solution. `stages` says in words what it means and where units come from.

Given: units in the order of the wish list, each with a release day, a class (fish, coral or crew), a load, the units
that must stand in an earlier stage (`after`) and those that must not stand in a later one (`not_before`); the least
gap between stages; groups within a class; the most units of each class in a stage, and of fish in the first stage with fish; the most load
in a stage; perhaps one quarantine tank; perhaps what the filter takes; and the days on which anything may happen.

Wanted: every unit in exactly one stage, each stage on an allowed day, such that
 1. stage days ascend, at least `gap` days apart; no unit comes before its release;
 2. `after` and `not_before` hold; a stage holds units of one class and group, and no more than the limit of the class;
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
its day gains by joining, and delays nobody, since `room` never falls as more is in before. Of units that are alike for all that follows the earlier on the list goes
first. A first pass without the last part of the label finds the earliest last day; the second is cut by it. The
filter is left out at first: a best plan without it that keeps to it anyway is the best plan with it.

Exact for up to ten units, and for more while at most `most_labels` stages are tried. Beyond that only the most promising of every layer are followed:
a valid plan, with `proved` false and the proven bound on the last day beside it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import islice

from planner.stock.stages.batches import full_batches
from planner.stock.stages.problem import CORAL, CREW, FISH, Case, Filter, Label, Limits, NextDay, Quarantine, Unit, bits

__all__ = ["CORAL", "CREW", "FISH", "Filter", "Limits", "NextDay", "Quarantine", "Solution", "Unit", "overloaded", "solve_stages"]

ALWAYS_EXACT = 10  # units up to which the search is never cut short
MOST_LABELS = 1_500
BEAM = 8
BEAM_STAGES = 10


@dataclass(frozen=True, slots=True)
class Solution:
    """The day of every unit. `last_day_at_best` is a proven lower bound of the last day; `proved` = optimal as stated."""

    days: tuple[int, ...]
    last_day_at_best: int
    proved: bool


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
    free = _solve(Case(units, limits, quarantine, next_day, None), most_labels)
    if filter is None or free is None or not overloaded(units, free.days, filter):
        return free
    # Few units are alike to the filter, so a stage costs more to find: beyond the exact size fewer are tried.
    return _solve(Case(units, limits, quarantine, next_day, filter), most_labels if len(units) <= ALWAYS_EXACT else most_labels // 3)


def overloaded(units: Sequence[Unit], days: Sequence[int], filter: Filter) -> frozenset[int]:
    """The stage days of a plan on which all that is in then gives more than the filter takes."""
    heavy, before = set(), filter.already
    for day in sorted(set(days)):
        added = sum(u.gives for u, d in zip(units, days, strict=True) if d == day)
        if added and added > filter.room(before, day):
            heavy.add(day)
        before += added
    return frozenset(heavy)


def _solve(case: Case, most_labels: int) -> Solution | None:
    bound = _at_best(case, 0, case.start)
    glance = _layers(case, None, False, 0)
    if glance is not None and glance[0].last <= bound:
        label, exact = glance[0], True  # no plan ends earlier than this one
    else:
        found = _layers(case, glance[0].last if glance is not None else None, False, most_labels) or glance
        if found is None:
            return None
        label, exact = found
        bound = label.last if exact else bound
    best = _layers(case, label.last, True, most_labels)
    if best is None:  # cut short: what is known already, or what a narrow search finds
        narrow = _layers(case, None, True, 0)
        best = min((x for x in (label, narrow[0] if narrow is not None else label)), key=lambda x: (x.last, x.days)), False
    return Solution(best[0].days, bound, exact and best[1])


def _layers(case: Case, until: int | None, ordered: bool, most_labels: int) -> tuple[Label, bool] | None:
    """Dynamic programming, sets by the number of their stages. `until` cuts labels that cannot end by that day."""
    layer: dict[int, list[Label]] = {0: [case.start]}
    done: list[Label] = []
    seen: dict[int, list[Label]] = {}
    opened, exact = 0, True
    while layer:
        if opened > most_labels:
            exact = False
            layer = _most_promising(case, layer)
            seen = {}  # what was seen and is not followed must beat nothing
        grown: dict[int, list[Label]] = {}
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
                        break
        layer = grown
    if not done:
        return None
    return min(done, key=lambda x: (x.last, x.days)), exact


def _grow(case: Case, label: Label, batch: int, day: int, rest: int) -> Label:
    days = list(label.days)
    for i in bits(batch):
        days[i] = day
    return Label(day, day + case.limits.gap + rest, day if batch & case.fish else label.last_fish, tuple(days))


def _add(labels: list[Label], new: Label, ordered: bool) -> bool:
    """Keeps the labels of one set that no other beats; true if `new` is one of them."""
    for old in labels:
        if _beats(old, new, ordered):
            return False
    labels[:] = [old for old in labels if not _beats(new, old, ordered)]
    labels.append(new)
    return True


def _beats(one: Label, other: Label, ordered: bool) -> bool:
    return one.last <= other.last and one.free <= other.free and one.last_fish <= other.last_fish and (not ordered or one.days <= other.days)


def _most_promising(case: Case, layer: dict[int, list[Label]]) -> dict[int, list[Label]]:
    ranked = sorted(
        ((placed, label) for placed, labels in layer.items() for label in labels),
        key=lambda x: (_at_best(case, x[0], x[1]), -x[0].bit_count(), [d or 1 << 40 for d in x[1].days]),
    )
    kept: dict[int, list[Label]] = {}
    for placed, label in ranked[:BEAM]:
        kept.setdefault(placed, []).append(label)
    return kept


def _at_best(case: Case, placed: int, label: Label) -> int:
    """No plan that goes on from here ends before this day."""
    rest = case.all & ~placed
    if not rest:
        return label.last
    counts: dict[tuple[int, int], int] = {}
    latest = 0
    for i in bits(rest):
        counts[case.kinds[i]] = counts.get(case.kinds[i], 0) + 1
        latest = max(latest, case.units[i].release)
    limits, q = case.limits, case.quarantine
    stages = sum(-(-count // limits.most[sort]) for (sort, _), count in counts.items())
    bound = max(latest, label.free + limits.gap * (stages - 1))
    fish_stages = sum(-(-count // limits.most[FISH]) for (sort, _), count in counts.items() if sort == FISH)
    if q is not None and fish_stages:
        entered = max(q.ready, label.last_fish + q.pause if label.last_fish >= 0 else q.ready)
        bound = max(bound, entered + q.stay * fish_stages + q.pause * (fish_stages - 1))
    return case.next_day(bound) or bound


def _stages_from(case: Case, placed: int, label: Label, until: int | None, all_of_them: bool) -> Iterator[tuple[int, int, int]]:
    """The full stages that may come next by `until`, each with its earliest day and the rest that it costs."""
    units, q = case.units, case.quarantine
    rest = case.all & ~placed
    ready = [i for i in bits(rest) if not units[i].after & rest]
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
        for batch in full_batches(case, available, rest, limit, room, all_of_them):
            if batch & newest:
                yield batch, day, case.rest_after(batch, room)
