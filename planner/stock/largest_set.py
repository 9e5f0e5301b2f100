"""The largest set of wishes that can live together, exactly, and the first such set in the order of the list.

Problem: items 0..n-1 in the order of the wish list; pairs that exclude each other; some sums, each with a weight per
item and a limit. Choose a set without an excluded pair and within every limit, as many items as possible; of all
such sets the one whose ascending list of indices comes first in lexicographic order.

Method: depth first, items in list order, "take it" before "leave it". The first set of the greatest size found that
way is the answer, and a branch is cut when even its upper bound cannot beat the best so far, or when it takes an item
where one that was left out before could always stand in for it. Bounds: a clique cover of
what is left (from each clique one item at most); and what is left less the items that cannot fit any more, counted
for each sum by filling it with the lightest first (sums that share no item add up). Sums that cannot bind are dropped.
A first pass in the order of fewest conflicts finds the size, so that the second starts with a sharp bar.

The search counts its steps. Should it ever need more than `MOST_STEPS`, it stops with the best set found and says so
(`proved` false); the conflict graphs and weights of real wish lists stay far below.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

SLACK = 1e-9
MOST_STEPS = 5_000


@dataclass(frozen=True, slots=True)
class Sum:
    """A weight (0 or more) for each item and the most that all chosen items may weigh together."""

    weights: tuple[float, ...]
    limit: float


@dataclass(frozen=True, slots=True)
class Kept:
    """Indices of the answer, ascending; `proved` is false if the search was cut short."""

    indices: tuple[int, ...]
    proved: bool


@dataclass(frozen=True, slots=True)
class _Case:
    masks: tuple[int, ...]
    sums: tuple[Sum, ...]
    lightest: tuple[tuple[int, ...], ...]  # for each sum its items of weight above zero, lightest first
    apart: tuple[bool, ...]  # for each sum: shares no item with an earlier one
    weighted: tuple[int, ...]  # for each sum the mask of those items
    quarrelsome: int  # items that exclude another


def largest_keepable(excludes: Sequence[int], sums: Sequence[Sum] = (), most_steps: int = MOST_STEPS) -> Kept:
    """The answer to the problem above. `excludes[i]` is the bit mask of the items that i cannot live with; it is made
    symmetric, and an item whose own weight breaks a limit is never taken. Raises ValueError for a weight below zero."""
    if any(w < 0 for s in sums for w in s.weights):
        raise ValueError("weights must not be negative")
    n = len(excludes)
    masks = [0] * n
    for i, mask in enumerate(excludes):
        for j in range(n):
            if mask >> j & 1 and j != i:
                masks[i] |= 1 << j
                masks[j] |= 1 << i
    fitting = [i for i in range(n) if all(s.weights[i] <= s.limit + SLACK for s in sums)]
    case = _case(masks, sums, fitting)
    by_conflicts = sorted(fitting, key=lambda i: (masks[i].bit_count(), sum(s.weights[i] for s in case.sums), i))
    first, first_whole = _search(by_conflicts, case, -1, most_steps)
    second, second_whole = _search(fitting, case, len(first) - 1, most_steps)
    chosen = second if len(second) >= len(first) else first
    return Kept(tuple(sorted(chosen)), first_whole and second_whole)


def _case(masks: Sequence[int], sums: Sequence[Sum], fitting: Sequence[int]) -> _Case:
    binding = tuple(s for s in sums if sum(s.weights[i] for i in fitting) > s.limit + SLACK)
    binding += tuple(_mixed(a, b, share) for a, b in combinations(binding, 2) for share in (0.3, 0.5, 0.7))
    lightest = tuple(
        tuple(sorted((i for i in fitting if s.weights[i] > 0), key=lambda i, w=s.weights: (w[i], i)))  # type: ignore[misc]
        for s in binding
    )
    apart = tuple(not any(set(items) & set(before) for before in lightest[:k]) for k, items in enumerate(lightest))
    weighted = tuple(sum(1 << i for i in items) for items in lightest)
    quarrelsome = sum(1 << i for i, mask in enumerate(masks) if mask)
    return _Case(tuple(masks), binding, lightest, apart, weighted, quarrelsome)


def _mixed(a: Sum, b: Sum, share: float) -> Sum:
    """A sum that follows from two others: both in shares of their limits, added. It sharpens the bound."""
    if a.limit <= 0 or b.limit <= 0:
        return a
    parts = (share / a.limit, (1 - share) / b.limit)
    return Sum(tuple(parts[0] * x + parts[1] * y for x, y in zip(a.weights, b.weights, strict=True)), 1.0)


def _search(order: Sequence[int], case: _Case, best: int, most_steps: int) -> tuple[tuple[int, ...], bool]:
    """The first set with more than `best` items in include-first order; the bar rises with every set found."""
    found: tuple[int, ...] = ()
    masks, sums = case.masks, case.sums
    worse = _worse(order, case)
    everything = sum(1 << i for i in order)
    stack: list[tuple[int, int, tuple[int, ...], tuple[float, ...]]] = [(0, everything, (), (0.0,) * len(sums))]
    steps = 0
    while stack:
        at, left, chosen, spent = stack.pop()
        if len(chosen) > best:
            best, found = len(chosen), chosen
        needed = best + 1 - len(chosen)
        if left.bit_count() < needed:
            continue
        steps += 1
        if steps > most_steps:
            return found, False
        if not _can_reach(needed, left, order, case, spent):
            continue
        while not left >> order[at] & 1:
            at += 1
        item = order[at]
        rest = left & ~(1 << item)
        if masks[item] & rest or any(s.weights[item] for s in sums):  # else leaving it out gains nothing
            stack.append((at + 1, rest & ~worse[item], chosen, spent))
        after = tuple([w + s.weights[item] for w, s in zip(spent, sums, strict=True)])
        if all(w <= s.limit + SLACK for w, s in zip(after, sums, strict=True)):
            stack.append((at + 1, rest & ~masks[item], (*chosen, item), after))
    return found, True


def _worse(order: Sequence[int], case: _Case) -> list[int]:
    """For each item the later ones that it could always stand in for: at least as heavy in every sum, and in conflict
    with all that it is in conflict with. A set with one of those and without the item is never the first of its size."""
    worse = [0] * len(case.masks)
    for at, i in enumerate(order):
        for j in order[at + 1 :]:
            if not case.masks[i] & ~case.masks[j] & ~(1 << j) and all(s.weights[j] >= s.weights[i] for s in case.sums):
                worse[i] |= 1 << j
    return worse


def _can_reach(needed: int, left: int, order: Sequence[int], case: _Case, spent: Sequence[float]) -> bool:
    """False if `needed` more items certainly cannot be had from `left`."""
    surplus = worst = 0  # items that cannot fit: over sums apart from one another, and over any one sum
    for s, lightest, used, apart, weighted in zip(case.sums, case.lightest, spent, case.apart, case.weighted, strict=True):
        room, unseen = s.limit + SLACK - used, left & weighted
        for i in lightest:
            if unseen >> i & 1:
                room -= s.weights[i]
                if room < 0:
                    break
                unseen &= ~(1 << i)
        over = unseen.bit_count()
        surplus += over if apart else 0
        worst = max(worst, over)
    if left.bit_count() - max(surplus, worst) < needed:
        return False
    most = (left & ~case.quarrelsome).bit_count()
    quarrels = left & case.quarrelsome
    if most + quarrels.bit_count() < needed:
        return False
    cliques: list[int] = []  # for each clique: the items that every member excludes
    for i in order:
        if quarrels >> i & 1:
            for k, common in enumerate(cliques):
                if common >> i & 1:
                    cliques[k] = common & case.masks[i]
                    break
            else:
                cliques.append(case.masks[i])
                most += 1
                if most >= needed:
                    return True
    return most >= needed
