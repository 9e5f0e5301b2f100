"""The largest set and the stages against every possibility, tried one by one on small lists: the words of `largest_set` and `search` taken as they stand."""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from itertools import combinations, product

import pytest

from planner.stock.largest_set import Sum, largest_keepable
from planner.stock.stages.search import Filter, Limits, Quarantine, Unit, overloaded, solve_stages


def by_trial(excludes: Sequence[int], sums: Sequence[Sum]) -> tuple[int, ...]:
    for size in range(len(excludes), -1, -1):
        for chosen in combinations(range(len(excludes)), size):
            apart = not any(excludes[i] >> j & 1 or excludes[j] >> i & 1 for i, j in combinations(chosen, 2))
            if apart and all(sum(s.weights[i] for i in chosen) <= s.limit for s in sums):
                return chosen
    return ()


def test_the_kept_set_is_the_first_of_the_largest() -> None:
    rng = random.Random(11)
    for _ in range(250):
        n = rng.randrange(0, 9)
        excludes = [sum(1 << j for j in range(n) if j != i and rng.random() < 0.2) for i in range(n)]
        sums = [Sum(tuple(float(rng.choice((0, 0, 1, 2, 3, 5))) for _ in range(n)), float(rng.choice((0, 3, 4, 6)))) for _ in range(rng.randrange(0, 4))]
        found = largest_keepable(excludes, sums)
        assert (found.indices, found.proved) == (by_trial(excludes, sums), True)


@pytest.mark.parametrize(("weights", "limit", "kept"), [((1.0, 1.0), 2.0, (0, 1)), ((1.0, 1.0), 1.9, (0,)), ((2.0, 1.0, 1.0), 2.0, (1, 2)), ((0.0, 5.0), 0.0, (0,)), ((3.0,), 3.0, (0,)), ((3.1,), 3.0, ()), ((), 1.0, ())])
def test_a_sum_may_be_spent_to_the_last_and_no_further(weights: tuple[float, ...], limit: float, kept: tuple[int, ...]) -> None:
    assert largest_keepable([0] * len(weights), [Sum(weights, limit)]).indices == kept


def parted(items: tuple[int, ...]) -> Iterator[list[tuple[int, ...]]]:
    """Every way to put these into stages, one after the other."""
    if not items:
        yield []
        return
    for size in range(1, len(items) + 1):
        for first in combinations(items, size):
            for rest in parted(tuple(i for i in items if i not in first)):
                yield [first, *rest]


def days_of(units: Sequence[Unit], stages: list[tuple[int, ...]], limits: Limits, box: Quarantine | None, allowed: frozenset[int], filter: Filter | None) -> tuple[int, ...] | None:
    """The earliest days of these stages in this order; None where a rule forbids them."""
    def next_day(day: int) -> int | None:
        return min((d for d in allowed if d >= day), default=None)

    place = {i: n for n, stage in enumerate(stages) for i in stage}
    for i, u in enumerate(units):
        if any(u.after >> j & 1 and place[j] >= place[i] or u.not_before >> j & 1 and place[j] > place[i] for j in place):
            return None
    days, free, last_fish, given = [0] * len(units), 0, None, filter.already if filter else 0
    for stage in stages:
        mine = [units[i] for i in stage]
        if len({(u.sort, u.group) for u in mine}) > 1:
            return None
        fish = mine[0].sort == 0
        most = limits.most[mine[0].sort] if not fish or last_fish is not None else min(limits.first_fish, limits.most[0])
        if len(mine) > most or sum(u.load for u in mine) > limits.load and sum(u.load > 0 for u in mine) > 1:
            return None
        first = max(free, *(u.release for u in mine))
        if fish and box is not None:
            entry = next_day(max(box.ready, last_fish + box.pause) if last_fish is not None else box.ready)
            if entry is None:
                return None
            first = max(first, entry + box.stay)
        day = next_day(first)
        if day is None:
            return None
        added, rest = sum(u.gives for u in mine), 0
        if filter is not None and added > (room := filter.room(given, day)):
            if sum(u.gives > 0 for u in mine) > 1 or added * filter.least > room:
                return None
            rest = filter.rest
        for i in stage:
            days[i] = day
        free, given = day + limits.gap + rest, given + added
        last_fish = day if fish else last_fish
    return tuple(days)


def best_by_trial(units: Sequence[Unit], limits: Limits, box: Quarantine | None, allowed: frozenset[int], filter: Filter | None) -> tuple[int, ...] | None:
    found = (days_of(units, stages, limits, box, allowed, filter) for stages in parted(tuple(range(len(units)))))
    return min((d for d in found if d is not None), key=lambda d: (max(d), d), default=None)


def drawn(rng: random.Random) -> tuple[list[Unit], Limits, Quarantine | None, frozenset[int], Filter | None]:
    n = rng.randrange(1, 5)
    units = []
    for i in range(n):
        sort = rng.choice((0, 0, 0, 1, 2))
        gives = rng.choice((0, 2, 3, 5))
        units.append(Unit(rng.randrange(0, 12), sort, gives if sort == 0 else 0, sum(1 << j for j in range(i) if rng.random() < 0.12), sum(1 << j for j in range(n) if j != i and rng.random() < 0.12), gives, rng.choice((0, 1)) if sort == 1 else 0))
    limits = Limits(rng.choice((1, 4, 7)), (rng.choice((1, 2, 3)), 2, 2), rng.choice((1, 2)), rng.choice((3, 5, 8)))
    box = Quarantine(rng.randrange(0, 6), rng.choice((3, 8)), rng.choice((0, 2))) if rng.random() < 0.4 else None
    allowed = frozenset(d for d in range(rng.choice((25, 90))) if rng.random() < 0.6)
    top, fades, helps = rng.randrange(2, 9), rng.choice((0, 1)), rng.choice((0.0, 0.5))
    filter = Filter(lambda before, day: max(0, int(top + helps * before) - fades * (day // 20)), rng.choice((0, 2)), rng.choice((0, 5)), rng.choice((0.5, 1.0))) if rng.random() < 0.6 else None
    return units, limits, box, allowed, filter


@pytest.mark.parametrize("seed", range(4))
def test_stages_are_the_best_of_all_that_keep_every_rule(seed: int) -> None:
    rng = random.Random(seed)
    for _ in range(60):
        units, limits, box, allowed, filter = drawn(rng)
        solution = solve_stages(units, limits, box, lambda day, a=allowed: min((d for d in a if d >= day), default=None), filter=filter)  # type: ignore[misc]
        best = best_by_trial(units, limits, box, allowed, filter)
        assert (None if solution is None else solution.days) == best, (units, limits, box, sorted(allowed), filter)
        assert solution is None or solution.proved and solution.last_day_at_best == max(solution.days)


def test_no_animals_are_a_plan_of_no_stage() -> None:
    found = solve_stages([], Limits(14, (2, 3, 4), 1, 10), None, lambda day: day)
    assert found is not None and (found.days, found.proved) == ((), True)


@pytest.mark.parametrize(("gives", "room", "heavy"), [((3, 3), 6, False), ((3, 4), 6, True), ((0, 0), 0, False), ((1,), 0, True), ((6,), 6, False)])
def test_a_stage_is_too_much_from_one_unit_beyond_the_room_on(gives: tuple[int, ...], room: int, heavy: bool) -> None:
    units = [Unit(0, 0, 0, gives=g) for g in gives]
    assert bool(overloaded(units, [5] * len(units), Filter(lambda _before, _day: room, 0, 5, 0.5))) is heavy


def test_what_came_in_before_counts_against_the_room_of_the_next_stage() -> None:
    units = [Unit(0, 0, 0, gives=2), Unit(0, 0, 0, gives=2), Unit(0, 0, 0, gives=2)]
    for already, heavy in ((0, set()), (1, {20}), (3, {10, 20})):
        assert overloaded(units, [0, 10, 20], Filter(lambda before, day: 6 - before if day else 9, already, 5, 0.5)) == heavy


def test_every_order_of_two_and_every_pairing_of_sorts() -> None:
    """Two units of any sorts share a day only where they are of one sort and group, and neither waits for the other."""
    for one, other, after, beside in product((0, 1, 2), (0, 1, 2), (0, 1), (0, 1)):
        units = [Unit(0, one, 0), Unit(0, other, 0, after=after, group=beside)]
        solution = solve_stages(units, Limits(5, (2, 2, 2), 2, 10), None, lambda day: day)
        assert solution is not None
        assert (solution.days[0] == solution.days[1]) is (one == other and not after and not beside)
