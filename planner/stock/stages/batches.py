"""The stages that may come next in the stage problem: only full ones, to which nothing more can be added."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import chain, combinations_with_replacement, islice

from planner.stock.stages.problem import CORAL, CREW, FISH, Case

MOST_REMEMBERED = 2_000


def full_batches(case: Case, available: Sequence[int], rest: int, most_fish: int, room: int, all_of_them: bool) -> Iterable[int]:
    """The full batches of these units as bit masks; `rest`: all units not placed yet, `room`: what the filter has left.
    Remembered where all are wanted: labels of one set ask alike, and so do both passes."""
    key = (sum(1 << i for i in available), rest, most_fish, room)
    if key in case.batches:
        return case.batches[key]
    batches = _all_full_batches(case, available, rest, most_fish, room)
    if not all_of_them:
        return batches
    found = tuple(islice(batches, MOST_REMEMBERED + 1))
    if len(found) > MOST_REMEMBERED:
        return chain(found, batches)
    case.batches[key] = found
    return found


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


def _all_full_batches(case: Case, available: Sequence[int], rest: int, most_fish: int, room: int) -> Iterator[int]:
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


def _can_grow(case: Case, kinds: Sequence[_Kind], most: Sequence[int], room: int, batch: _Part, taken: tuple[int, int, int]) -> bool:
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
