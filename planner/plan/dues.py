"""The records of dates, and the small arithmetic on them: occurrences and their numbers, windows, what closed what."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import field
from datetime import date
from typing import TYPE_CHECKING, Literal

from planner.frozen import dataclass
from planner.judge.facts import Facts
from planner.rulebook.task_rule import TaskRule
from planner.terms.causes import Cause
from planner.terms.records import Answer, Row, Trace, Window, Yielded
from planner.terms.traces import Undescribed

if TYPE_CHECKING:  # the stocking rooms are loaded only where there is a wish list
    from planner.plan.stage_records import StagedAnimals, StockPlan

Scenario = Literal["quick", "likely", "slow"]
SCENARIOS: tuple[Scenario, ...] = ("quick", "likely", "slow")
AHEAD_DAYS = 84


@dataclass(frozen=True, slots=True)
class Due:
    """One occurrence of a task with its dates and what is known of it."""

    rule: TaskRule
    phase: str
    occurrence: int
    numbered: bool
    due: date | None
    window: Window
    tentative: bool
    closed: Row | None
    trace: Trace | None
    depends_on: str
    stage: StagedAnimals | None = None
    waits_for: tuple[Trace, ...] = ()
    yielded: tuple[Yielded, ...] = ()
    """Why it does not stand as its own rule has it."""
    without: frozenset[int] = frozenset()
    """Steps (from 1) that fall away."""
    left_out: bool = False
    in_vain: bool = False
    """Done so often in vain that looking for the cause stands in its place."""
    changed_l: float = 0.0
    """Litres of its change that are in already: the rest is asked for."""
    awaits: tuple[str, ...] = ()
    """The readings of the test of its day, which may call it."""
    stands_for: tuple[Due, ...] = ()
    """Tests of its day that are made with it."""

    @property
    def key(self) -> str:
        return f"{self.phase}/{self.rule.id}"

    @property
    def id(self) -> str:
        return f"{self.key}#{self.occurrence}" if self.numbered else self.key


@dataclass(frozen=True, slots=True)
class Dues:
    """Everything dated: occurrences, gates and phase starts. `left_out`: jobs that this tank does without."""

    tasks: tuple[Due, ...]
    gates: dict[str, Window]
    starts: dict[str, Window]
    reasons: dict[str, Cause] = field(default_factory=dict)
    stock: StockPlan | None = None
    left_out: frozenset[str] = frozenset()
    begin: date | None = None
    """The likely day of the first ammonia while none has been given: never a day that is over, nor one of an absence."""


@dataclass(frozen=True, slots=True)
class StageSlot:
    """One occurrence of a task per stage: closed by a row, or still to come with its animals, whose fish enter the
    quarantine tank on `entries`."""

    number: int
    closed: Row | None
    stage: StagedAnimals | None
    due: date | None
    days: dict[Scenario, date | None]
    depends: str
    waits_for: tuple[Trace, ...]
    entries: Mapping[Scenario, date | None] = field(default_factory=dict)


def is_repeating(rule: TaskRule) -> bool:
    """Does the id carry a number? Tasks that come again do: by interval, by stage, or whenever a condition turns yes."""
    return rule.every is not None or rule.per_stage is not None or (rule.when is not None and not rule.once)


def undescribed(trace: Trace) -> Iterator[str]:
    """Tank-file keys that a condition asks for and that are not described."""
    if trace.answer == Answer.YES:
        return
    if isinstance(trace.gap, Undescribed) and not trace.parts:
        yield trace.gap.key
    for part in trace.parts:
        yield from undescribed(part)


def closings(key: str, facts: Facts) -> list[tuple[int, Row]]:
    """(occurrence, row) of every done or skipped row of a task, oldest first. Rows written by hand without a number
    take the smallest number still free."""
    rows = sorted((*facts.rows("done", key), *facts.rows("skipped", key)), key=lambda r: (r.day, r.latest))
    numbered = [(int(text) if (text := r.what.partition("#")[2]).isdigit() else None, r) for r in rows]
    used = {n for n, _ in numbered if n is not None}
    free = 1
    found: list[tuple[int, Row]] = []
    for number, row in numbered:
        if number is None:
            while free in used:
                free += 1
            used.add(free)
        found.append((free if number is None else number, row))
    return found


def next_number(done: list[tuple[int, Row]]) -> int:
    """The number of the open occurrence: the smallest that no row has closed."""
    used = {n for n, _ in done}
    return next(n for n in range(1, len(used) + 2) if n not in used)


def day_of_slot(slots: Sequence[StageSlot], number: int) -> date | None:
    """The likely day of one occurrence."""
    return next((x.days["likely"] for x in slots if x.number == number), None)


def covers(closing: Row, trace: Trace) -> bool:
    """Was the task closed after the newest evidence that asked for it?"""
    newest = max(((r.day, r.earliest) for r in trace.rows), default=None)
    return newest is None or (closing.day, closing.latest) >= newest


def latest_of(days: list[date | None]) -> date | None:
    """The latest of all; None as soon as one cannot be had."""
    known = [d for d in days if d is not None]
    return max(known) if known and len(known) == len(days) else None


def ordered(days: Mapping[Scenario, date | None]) -> Window:
    """Quick never after likely, slow never before it (absences can swap them by days)."""
    likely = days["likely"]
    quick = days["quick"] if likely is None or days["quick"] is None else min(days["quick"], likely)
    slow = days["slow"] if likely is None or days["slow"] is None else max(days["slow"], likely)
    return Window(quick, likely, slow)
