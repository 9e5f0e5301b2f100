"""A shop's folder of rules over the shipped ones: read, judged piece by piece, and laid over by id.

A piece that may not stand, or cannot be read, is reported with both places and left out; the shipped rule holds, and
everything else of the folder still works; only where a phase of ours was to wait for a phase that may not stand, a shut
gate takes its place. The order of the files does not matter, except that of two pieces of one id
the first in the order of file names stands.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path

from planner.rulebook.check import check_rules
from planner.rulebook.house.draft import Change, Draft, marks_of
from planner.rulebook.house.file_parts import read_pieces
from planner.rulebook.house.phases import shut_phase
from planner.rulebook.house.read import HouseReader
from planner.rulebook.shapes import HouseRule, Rulebook
from planner.rulebook.shipped_cache import load_shipped_rules
from planner.rulebook.waits import new_ring, waits_of
from planner.terms.problems import Problem, sort_problems


def load_book(house: Path | None, figures: Mapping[str, tuple[str, ...]], name: str | None = None) -> tuple[Rulebook, tuple[Problem, ...]]:
    """The shipped rules, with a folder of house rules laid over them if one is named. `name` is how the folder is called
    in messages."""
    book, problems = load_shipped_rules()
    book = replace(book, figures=figures)
    if house is None:
        return book, problems
    over, more = load_house(house, book, name)
    return over, sort_problems([*problems, *more])


def load_house(folder: Path, book: Rulebook, name: str | None = None) -> tuple[Rulebook, tuple[Problem, ...]]:
    """A folder of house rules over a book: the merged book, with what was changed in `house`, and every problem. The
    animals of the folder are laid over in `catalogue`."""
    reader = HouseReader(book, *read_pieces(folder, name or folder.as_posix()))
    reader.judge_files()
    return laid_over(reader, book)


def laid_over(reader: HouseReader, book: Rulebook) -> tuple[Rulebook, tuple[Problem, ...]]:
    """Everything accepted over the book. What names something that is not there, or waits for itself, goes out again,
    until the rest hangs together."""
    kept = sorted(reader.changes, key=lambda c: (c.owner or c.rule.id, bool(c.owner), c.rule.place))
    waits = waits_of(book)
    while True:
        merged = Draft(book).with_changes(kept)
        bad = {n: problem for n, change in enumerate(kept) if (problem := change.missing(merged, reader.refused)) is not None}
        if not bad:
            own = {change.rule.place: n for n, change in enumerate(kept)}
            bad = {own[p.place]: p for p in check_rules(merged) if p.place in own} or _ring(kept, new_ring(waits, waits_of(merged)))
        if not bad:
            break
        out = {kept[n].rule.id.removeprefix("number/").partition("#")[0] for n in bad}
        waiting = {n: shut for n in bad if (shut := _shut_before(kept[n], book, merged))}
        reader.problems += (replace(p, fix=f"{p.fix}; until then `{kept[n].rule.id.partition('#')[0]}` does not begin") if n in waiting else p for n, p in bad.items())
        reader.refused |= out
        kept = [change for n, change in enumerate(kept) if (n not in bad or n in waiting) and change.owner not in out] + [shut for found in waiting.values() for shut in found]
    house = tuple(change.rule for change in kept if not change.owner)
    return replace(merged, house=house, marks=marks_of(merged, house)), sort_problems(reader.problems)


def _shut_before(change: Change, book: Rulebook, merged: Rulebook) -> list[Change]:
    """A shut gate for each phase that a phase of ours was to wait for, and that is not there."""
    phase, _, key = change.rule.id.partition("#")
    if key != "after":
        return []
    lost = {use.name for use in change.uses} - {p.phase for p in merged.phases}
    return [Change(HouseRule(id, change.rule.place, shut.title), partial(Draft.new_phase, phase=shut), (), change.source_line)
            for id in sorted(lost) for shut in (shut_phase(id, book.phase(phase)),)]


def _ring(changes: Sequence[Change], ring: tuple[str, ...] | None) -> dict[int, Problem]:
    """The one change to take out of a ring of dates that wait for one another: a task, what was added to
    a gate, a phase of the shop's own, else what a phase was to wait for."""
    if ring is None:
        return {}
    n = next(n for test in (ring.__contains__, lambda id: id.partition("#")[0] in ring, lambda id: f"start/{id}" in ring, lambda id: f"start/{id.partition('#')[0]}" in ring) for n, change in enumerate(changes) if test(change.rule.id))
    change = changes[n]
    return {n: Problem(change.rule.place, "task-cycle", f"these wait for one another: {' -> '.join((*ring, ring[0]))}", "hang the task on something that comes earlier", change.source_line)}


__all__ = ["load_book", "load_house"]
