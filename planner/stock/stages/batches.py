"""The stages that may come next in the stage problem: only full ones, to which nothing more can be added."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import chain, combinations_with_replacement, islice, zip_longest

from planner.stock.stages.problem import CORAL, CREW, Case

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

    load: int
    gives: int
    needs: int
    members: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class _Part:
    """The units of a stage."""

    mask: int
    needs: int
    load: int
    loaded: int
    gives: int
    givers: int
    size: int


def _all_full_batches(case: Case, available: Sequence[int], rest: int, most_fish: int, room: int) -> Iterator[int]:
    """Batches of available units within every limit to which no more can be added, the list's first units first."""
    groups: dict[tuple[tuple[int, int], int, int, int, int, int], list[int]] = {}
    for i in available:
        u = case.units[i]
        likeness = (u.kind, case.loads[i], case.gives[i], u.not_before & rest, case.needed_by[i] & rest, case.waited_for[i] & rest)
        groups.setdefault(likeness, []).append(i)
    kinds = [_Kind(key[1], key[2], key[3], tuple(members)) for key, members in groups.items()]
    of_sort = {key[0]: [k for k, other in zip(kinds, groups, strict=True) if other[0] == key[0]] for key in groups}
    most = (most_fish, case.limits.most[CORAL], case.limits.most[CREW])
    yield from _in_turn([_of_one_sort(case, mine, most[sort], room) for (sort, _), mine in sorted(of_sort.items())])


def _in_turn(found: Sequence[Iterator[int]]) -> Iterator[int]:
    """One of each, again and again, so that whoever takes only a few has some of every sort."""
    for several in zip_longest(*found):
        yield from (batch for batch in several if batch is not None)


def _of_one_sort(case: Case, kinds: Sequence[_Kind], most: int, room: int) -> Iterator[int]:
    free = not any(k.load or k.gives or k.needs for k in kinds)  # then only the fullest choice can be part of a full batch
    for part in _parts(kinds, most, free):
        too_heavy = (part.load > case.limits.load and part.loaded > 1) or (part.gives > room and case.too_heavy(part.gives, part.givers, room))
        if part.mask and not too_heavy and not part.needs & ~part.mask and not _can_grow(case, kinds, most, room, part):
            yield part.mask


def _parts(kinds: Sequence[_Kind], most: int, fullest_only: bool) -> Iterator[_Part]:
    """Choices of at most `most` units of one sort. Large ones first, and of units alike the first on the list."""
    full = min(most, sum(len(k.members) for k in kinds))
    sizes = range(full, 0, -1) if not fullest_only else (full,)
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


def _can_grow(case: Case, kinds: Sequence[_Kind], most: int, room: int, batch: _Part) -> bool:
    """True if one more unit could join the batch without breaking a limit."""
    for kind in kinds if batch.size < most else ():
        if kind.needs & ~batch.mask:
            continue
        if kind.load and batch.loaded and batch.load + kind.load > case.limits.load:
            continue
        if kind.gives and batch.givers and batch.gives + kind.gives > room:
            continue
        if any(not batch.mask >> i & 1 for i in kind.members):
            return True
    return False
