"""What the journal says of animals on the list: which came, which were lost, and when the water last took them ill.

A row names an animal in any way that the catalogue understands. A row as general as `fish` says only that a stage came
in; `stockplan` takes it for the contents of the next stage of its kind.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import TYPE_CHECKING

from planner.frozen import dataclass
from planner.judge.evidence import clear_answer, reading_groups
from planner.judge.facts import Facts
from planner.rulebook.shapes import Rulebook
from planner.terms.records import Answer, Row

if TYPE_CHECKING:  # the stocking rooms are loaded only where there is a wish list
    from planner.stock.animals import Animal
    from planner.stock.catalogue import Catalogue

GENERAL = {"fish": "fish", "soft-coral": "soft_coral", "lps-coral": "large_polyp", "sps-coral": "small_polyp"}
"""Words that a tick wrote where no list named the animal, with the group of the catalogue that they stand for."""


def group_of(name: str, rules: Rulebook) -> str:
    """The group of the catalogue that a row of the journal names, by its animal or in general; "" where neither is known."""
    return rules.groups.get(name, GENERAL.get(name, ""))


@dataclass(frozen=True, slots=True)
class Counted:
    """So many of one animal."""

    animal_id: str
    count: int


@dataclass(frozen=True, slots=True)
class Arrivals:
    """`came`: into the display, the lost ones included. `lost`: from any water. `lost_before`: lost in quarantine.
    `in_quarantine`: still there. `general`: the group of every row that names no animal. `changes`: day by day what came
    into the display and what was lost there (negative). Days are those of the last row, None without one. `left_out`: of stages that the
    keeper skipped."""

    came: tuple[Counted, ...]
    lost: tuple[Counted, ...]
    lost_before: tuple[Counted, ...]
    general: tuple[str, ...]
    last_day: date | None
    last_fish_day: date | None
    first_day: date | None
    in_quarantine_since: date | None
    in_quarantine: tuple[Counted, ...] = ()
    changes: tuple[tuple[date, str, int], ...] = ()
    left_out: tuple[Counted, ...] = ()


def read_arrivals(facts: Facts, catalogue: Catalogue) -> Arrivals:
    """Every `added`, `moved` and `lost` row up to the day of the plan."""
    came: dict[str, int] = {}
    lost: dict[str, int] = {}
    lost_before: dict[str, int] = {}
    waiting: dict[str, tuple[int, date]] = {}
    general: list[str] = []
    days: list[tuple[date, bool]] = []
    changes: list[tuple[date, str, int]] = []
    for row, animal in _rows(facts, catalogue):
        name = animal.id if animal is not None else row.what
        count = max(1, round(row.low)) if row.low is not None else 1
        if row.kind == "lost":
            lost[name] = lost.get(name, 0) + count
            if row.where == "quarantine":
                lost_before[name] = lost_before.get(name, 0) + count
                _leave(waiting, name, count)
            elif row.where == "display" and animal is not None:
                changes.append((row.day, name, -count))
        elif row.where == "display":
            if row.kind == "added" or animal is not None:
                days.append((row.day, name == "fish" or (animal is not None and animal.group == "fish")))
            if row.kind == "added" or animal is not None:  # fish without a name stay "in quarantine" until their stage is ticked
                _leave(waiting, name if name in waiting or animal is None or animal.group != "fish" else "fish", count)
            if animal is not None:
                came[name] = came.get(name, 0) + count
                changes.append((row.day, name, count))
            elif row.what in GENERAL and row.kind == "added":  # a move of `fish` is part of its stage, which is ticked as well
                general.append(GENERAL[row.what])
        elif row.where == "quarantine" and (animal is None or animal.group == "fish"):
            out = min(count, came.get(name, 0)) if row.kind == "moved" else 0
            if out:  # taken out of the display, to be treated or to starve a parasite: it comes in again by a stage
                came[name] -= out
                changes.append((row.day, name, -out))
            waiting[name] = (waiting.get(name, (0, row.day))[0] + count, waiting.get(name, (0, row.day))[1])
    since = max((since for n, since in waiting.values() if n > 0), default=None)
    if since is not None:  # an illness in the quarantine tank starts its clock again
        since = max([since, *(r.day for r in facts.rows("event", "ill") if r.where == "quarantine")])
    return Arrivals(
        _counted(came), _counted(lost), _counted(lost_before), tuple(general), max((d for d, _ in days), default=None),
        max((d for d, fish in days if fish), default=None), min((d for d, _ in days), default=None),
        since, _counted({name: n for name, (n, _) in waiting.items() if n > 0}), tuple(changes), _left_out(facts))


def _left_out(facts: Facts) -> tuple[Counted, ...]:
    """What the stages held that were skipped: `amphiprion-ocellaris 2; trochus-maculatus 3` in the row's value."""
    found: dict[str, int] = {}
    for row in facts.rows("skipped"):
        for animal, _, count in (part.strip().rpartition(" ") for part in row.value.split(";")):
            if animal and count.isdecimal():
                found[animal] = found.get(animal, 0) + int(count)
    return _counted(found)


def _rows(facts: Facts, catalogue: Catalogue) -> Iterator[tuple[Row, Animal | None]]:
    rows = [row for kind in ("added", "moved", "lost") for row in facts.rows(kind)]
    for row in sorted(rows, key=lambda r: (r.day, r.sort_key)):
        yield row, None if row.what in GENERAL else catalogue.find(row.what).animal


def _leave(waiting: dict[str, tuple[int, date]], name: str, count: int) -> None:
    if name in waiting:
        waiting[name] = (waiting[name][0] - count, waiting[name][1])


def _counted(counts: dict[str, int]) -> tuple[Counted, ...]:
    return tuple(Counted(name, n) for name, n in sorted(counts.items()) if n)


def last_spike(facts: Facts, rules: Rulebook, since: date) -> tuple[date, date | None] | None:
    """The last day since `since` on which ammonia or nitrite of the display was above the kit's zero, and the day from
    which both were clear again (None: not yet). None: never above it."""
    spikes: list[date] = []
    clear: list[date | None] = []
    for name in ("ammonia", "nitrite"):
        first_clear: date | None = None
        for group in reading_groups(name, "display", facts, rules):
            day = group.rows[0].day
            if day < since:
                break
            answer = clear_answer(name, group, facts.tank, rules)
            if answer == Answer.YES:
                first_clear = day
            elif answer == Answer.NO:
                spikes.append(day)
                clear.append(first_clear)
                break
    if not spikes:
        return None
    known = [d for d in clear if d is not None]
    return max(spikes), max(known) if len(known) == len(clear) else None
