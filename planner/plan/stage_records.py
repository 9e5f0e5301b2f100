"""What passes between the wish list and the plan: what its stages count from, the list judged, and its animals on days."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

from planner.judge.animals_in_journal import Arrivals
from planner.stock.stages.records import StagePlan
from planner.stock.verdict import StockVerdict, Wish
from planner.terms.amounts import listed
from planner.terms.causes import Cause

Sort = Literal["fish", "corals", "crew"]
SORTS: tuple[Sort, ...] = ("fish", "corals", "crew")  # in the order of FISH, CORAL, CREW


@dataclass(frozen=True, slots=True)
class Clock:
    """What the stages of one scenario count from: the gate to animals, the first salt water, the quarantine tank ready,
    and the days before which the rules let no fish, coral, crew in, nor any of a group. None: no date within reach."""

    gate: date | None
    fill: date
    quarantine: date
    floors: tuple[date | None, date | None, date | None]
    groups: tuple[tuple[str, date | None], ...] = ()
    why: tuple[Cause | None, Cause | None, Cause | None] = (None, None, None)  # why a floor is where it is, if not by the rules alone


@dataclass(frozen=True, slots=True)
class StagedAnimal:
    animal_id: str
    name: str
    group: str
    count: int
    light: str = "none"


@dataclass(frozen=True, slots=True)
class StagedAnimals:
    """The animals of one sort in one stage, with the day in each scenario (quick, likely, slow), none before the day of the
    plan, and the day on which its fish enter the quarantine tank. `due`: the likely day by its causes alone. `feeding`: the smaller ration that they are to have, None for all."""

    sort: Sort
    animals: tuple[StagedAnimal, ...]
    days: tuple[date | None, date | None, date | None]
    entries: tuple[date | None, date | None, date | None]
    because: tuple[Cause, ...]
    due: date | None = None
    feeding: Cause | None = None

    @property
    def quarantine_from(self) -> date | None:
        """The likely day of entry into quarantine; None without fish or without such a tank."""
        return self.entries[1]

    @property
    def names(self) -> str:
        """`2 x ocellaris clownfish and royal gramma`."""
        return listed(a.name if a.count == 1 else f"{a.count} x {a.name}" for a in self.animals)


@dataclass(frozen=True, slots=True)
class Judged:
    """The list judged with the animals that are in already. `wanted`: what the list asks for of what can be kept, of these
    `sorts`. `named`: the list names an animal of the catalogue at all. `groups`: of what is wanted, `grazer` among
    them for a snail that eats film, with "" for a name that is not clear."""

    verdict: StockVerdict
    wanted: tuple[Wish, ...]
    arrivals: Arrivals
    unclear: tuple[tuple[str, tuple[str, ...]], ...]
    handled_mg_n_per_day: float
    sorts: frozenset[str]
    proof_mg_n_l: float
    named: bool
    groups: frozenset[str]


@dataclass(frozen=True, slots=True)
class StockPlan:
    """Verdicts, and the stages of what is still to come: from the likely and from the quick days, and by sort with all
    three. `unclear` holds wishes whose name fits several animals or none, each with what could be meant. `about_wishes`: those of
    the notices that say which wishes are unclear, left out or without a stage."""

    verdict: StockVerdict
    stages: StagePlan | None
    earliest: StagePlan | None
    unclear: tuple[tuple[str, tuple[str, ...]], ...]
    staged: tuple[StagedAnimals, ...]
    notices: tuple[Cause, ...]
    about_wishes: tuple[Cause, ...] = ()


__all__ = ["SORTS", "Clock", "Judged", "Sort", "StagedAnimal", "StagedAnimals", "StockPlan"]
