"""The one vocabulary of records that pass between the rooms. Everything here is frozen and without behaviour
beyond look-up; values are in the internal units of `readings` (litre, gram, centimetre, deg C, practical
salinity, mg/L as N, dKH). It stays in one file, so that each record is looked up in one place."""

from __future__ import annotations

import datetime as dt
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import field, replace
from datetime import date, datetime
from enum import StrEnum
from typing import Literal

from planner.frozen import dataclass
from planner.terms.causes import Amount, Cause
from planner.terms.problems import Place, Problem
from planner.terms.traces import Asked, Gap, Seen


class Answer(StrEnum):
    """Kleene's three values. `unknown` never counts as yes."""

    YES = "yes"
    NO = "no"
    UNKNOWN = "unknown"


class State(StrEnum):
    """What a task is on the day of the plan."""

    DONE = "done"
    SKIPPED = "skipped"
    LATE = "late"
    DUE = "due"
    PLANNED = "planned"
    WAITING = "waiting"
    ON_HOLD = "on_hold"


CLOSED = frozenset({State.DONE, State.SKIPPED})
URGENT = frozenset({State.DUE, State.LATE})
TASK_KINDS = frozenset({"done", "skipped", "postponed"})
WATERS = ("display", "quarantine", "mixing", "curing", "source")


@dataclass(frozen=True, slots=True)
class Quantity:
    """A computed figure that can say how it came about. `advice`: what to do about it, where that belongs to the figure.
    `assumed`, `side`: as of an `Amount`."""

    name: str
    value: float
    unit: str
    formula: str
    inputs: tuple[tuple[str, str], ...]
    source: str
    advice: str = ""
    assumed: bool = False
    side: str = ""

    @property
    def amount(self) -> Amount:
        return Amount(self.value, self.unit, self.assumed, self.side)


@dataclass(frozen=True, slots=True)
class Row:
    """One journal line. `low`/`high` bound the value in internal units (equal for an exact figure; high is inf
    for '>5'; low 0 for '<0.25'); both None without a number. `at` is None for a bare date. `earliest` and
    `latest` are the instants between which it happened, as POSIX seconds."""

    day: date
    at: datetime | None
    kind: str
    what: str
    value: str
    unit: str
    where: str
    note: str
    line: int
    low: float | None
    high: float | None
    earliest: float
    latest: float

    @property
    def sort_key(self) -> tuple[float, float, str, str, str, str, str, str]:
        return (self.latest, self.earliest, self.kind, self.what, self.where, self.value, self.unit, self.note)


@dataclass(frozen=True, slots=True)
class Unreadable:
    """A journal line that could not be read: from `day` (None: from the first day) and `moment` of it (POSIX seconds) what a row of `kind`
    (None: any) would say of `what` (None: of anything) in `where` (None: in any water) is unknown, until the line is mended as `fix` says.
    `text`: the line as it stands; `wrong`: what is wrong with it."""

    line: int
    day: date | None
    what: str | None
    where: str | None
    kind: str | None = None
    moment: float = float("-inf")
    wrong: str = ""
    fix: str = ""
    text: str = ""
    doubted: bool = False
    """It can be read, and contradicts what else is known: unknown until the keeper confirms it."""

    @property
    def hides_animals(self) -> bool:
        """May it have brought an animal?"""
        return self.kind in (None, "added", "moved")


@dataclass(frozen=True, slots=True)
class Journal:
    """Every readable row, undone rows taken out, sorted by instant; and the index that keeps planning fast.
    `length`: the bytes of the file it was read from. `taken_back`: day and instant (POSIX seconds) of each row that says
    nothing any more, and of the row that took it back; they still tell when the file was last added to."""

    rows: tuple[Row, ...]
    unreadable: tuple[Unreadable, ...] = ()
    file: str = "journal.csv"
    index: dict[tuple[str, str], tuple[Row, ...]] = field(default_factory=dict, compare=False, repr=False)
    days: dict[tuple[str, str], list[date]] = field(default_factory=dict, compare=False, repr=False)
    length: int = field(default=0, compare=False, repr=False)
    taken_back: tuple[tuple[date, float], ...] = field(default=(), compare=False, repr=False)

    def of(self, kind: str, what: str, on: date) -> Sequence[Row]:
        """Rows of one kind and subject up to the end of day `on`, oldest first."""
        rows = self.index.get((kind, what), ())
        if not rows or rows[-1].day <= on:
            return rows
        return rows[: bisect_right(self.days[(kind, what)], on)]


def index_journal(rows: Sequence[Row], unreadable: Sequence[Unreadable] = (), file: str = "journal.csv") -> Journal:
    """Sort and index rows. Each row stands under (kind, what), under (kind, '*'), and all under ('*', '*'); task rows
    stand under the task's key without its number. Rows are sorted by day first, so that cutting at a day is one
    bisection."""
    ordered = sorted(rows, key=lambda r: (r.day, r.sort_key))
    index: dict[tuple[str, str], list[Row]] = {}
    last: dict[tuple[str, str], Row] = {}
    for row in ordered:
        if row.kind == "reading" and row.at is not None:
            before = last.get((row.what, row.where))
            if before is not None and 0 < row.latest - before.latest < 60 and before.day == row.day:
                return index_journal(_of_one_instant(rows), unreadable, file)
            last[(row.what, row.where)] = row
        what = row.what.partition("#")[0] if row.kind in TASK_KINDS else row.what
        index.setdefault((row.kind, what), []).append(row)
        index.setdefault((row.kind, "*"), []).append(row)
    index[("*", "*")] = ordered
    days = {key: [row.day for row in found] for key, found in index.items()}
    return Journal(tuple(ordered), tuple(unreadable), file, {k: tuple(v) for k, v in index.items()}, days)


def _of_one_instant(rows: Sequence[Row]) -> Sequence[Row]:
    """Rows in which tests of one thing within a minute share the later instant: which of them was last tells nothing."""
    newest: dict[tuple[str, str], tuple[int, float]] = {}
    made = list(rows)
    for n in sorted((n for n, r in enumerate(rows) if r.kind == "reading" and r.at is not None), key=lambda n: -rows[n].latest):
        row = rows[n]
        first = newest.get((row.what, row.where))
        if first is not None and first[1] > row.latest > first[1] - 60 and rows[first[0]].day == row.day:
            made[n] = replace(row, earliest=first[1], latest=first[1])
        else:
            newest[(row.what, row.where)] = (n, row.latest)
    return made


@dataclass(frozen=True, slots=True)
class Trace:
    """Why a condition is what it is: what was asked, the answer, what was seen and is missing, the journal rows behind it,
    and its parts. `say`: the rule's own sentence for it. `context`: nothing that the keeper can do, such as what kind of
    tank it is. `kept`: an alert that stands on doubtful evidence, or that nothing later has ended."""

    asked: Asked
    answer: Answer
    evidence: tuple[Row | Seen | Gap, ...] = ()
    rows: tuple[Row, ...] = ()
    parts: tuple[Trace, ...] = ()
    gap: Gap | None = None
    say: str = ""
    context: bool = False
    kept: bool = False


@dataclass(frozen=True, slots=True)
class Window:
    """Three scenarios carried through the graph; None where a date cannot be had. Not percentiles."""

    earliest: date | None
    likely: date | None
    latest: date | None


@dataclass(frozen=True, slots=True)
class Event:
    """A milestone of the nitrogen cycle. `happened` is set once readings show it."""

    window: Window
    happened: date | None = None


@dataclass(frozen=True, slots=True)
class CurvePoint:
    day: date
    ammonia: tuple[float, float, float]
    nitrite: tuple[float, float, float]
    nitrate: tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Forecast:
    """What the cycle is expected to do. Days are dates; curves are mg/L as N at 10, 50 and 90 %."""

    events: dict[str, Event]
    curve: tuple[CurvePoint, ...] = ()
    readings_used: int = 0
    members: int = 0
    basis: str = ""
    sentences: tuple[str, ...] = ()
    unexplained: tuple[Row, ...] = ()
    capacity: tuple[str, ...] = ()
    """What a proven filter handles, and how that fades unfed; empty before, and once animals are in."""
    coming: tuple[tuple[str, str], ...] = ()
    """What lies ahead of the filter, nitrite beyond the kit and alkalinity that runs short, each whole and in the few words of it that a short page keeps."""
    dates: str = ""
    """The one of `sentences` that tells the expected days."""


@dataclass(frozen=True, slots=True)
class Need:
    """One thing a gate still asks for, or has had: the trace without the ways that this tank does not have."""

    trace: Trace

    @property
    def met(self) -> Answer:
        return self.trace.answer


@dataclass(frozen=True, slots=True)
class Phase:
    id: str
    title: str
    state: str
    started: date | None
    opened: date | None
    window: Window
    reason: str | Cause | None
    needs: tuple[Need, ...]
    intro: str = ""
    advice: tuple[str, ...] = ()
    on_word: bool = False
    role: str = ""


Way = Literal["put_off", "left_out", "step_left_out", "taken_in", "day_full", "rests", "again", "in_part", "test_first", "tested_with", "settles", "in_vain", "asked"]


@dataclass(frozen=True, slots=True)
class Yielded:
    """Why an order does not stand as its own rule has it, because a day has one set of orders. `rule`: the line of
    `together.yaml`, or empty; `to`: the id of the order that goes first, with its title (empty where the journal or a state
    goes first); `until`: the day on which it comes instead; `because`: the reason. `what` and `hours`: the readings that the
    other order spoils, and for how long; or the one that stood still, and how many times it was tried; or the act of the step
    that is left out, with what is done `instead`."""

    way: Way
    rule: str = ""
    to: str = ""
    title: str = ""
    until: dt.date | None = None
    because: str = ""
    what: tuple[str, ...] = ()
    hours: float = 0.0
    instead: str = ""


@dataclass(frozen=True, slots=True)
class Task:
    """`id` is the whole identity, `phase/task` or `phase/task#n`; `key` is it without the number. `due` comes from
    causes alone, `date` is the projected likely day. `because`: what the rule says of it, and what its date hangs on. `animals`: ids and counts of a stage of the wish list, `stage` its names, as behind the title. `house`: where
    a shop's own rule stands that added or changed this task, file and line; else empty."""

    id: str
    key: str
    occurrence: int
    phase: str
    title: str
    role: str
    due: dt.date | None
    date: dt.date | None
    time: str
    window: Window
    state: State
    tentative: bool
    amounts: tuple[tuple[str, Quantity], ...]
    steps: tuple[str | Cause, ...]
    watch: tuple[str, ...]
    cautions: tuple[str, ...]
    because: tuple[str | Cause, ...]
    cites: tuple[str, ...]
    reads: tuple[str, ...]
    where: str
    calendar: bool
    minutes: int
    writes: tuple[str, str] | None = None
    closed_on: dt.date | None = None
    depends_on: str = ""
    animals: tuple[tuple[str, int], ...] = ()
    house: str = ""
    yielded: tuple[Yielded, ...] = ()
    stage: str = ""
    later: bool = False
    """Whether it waits for hours after a change of water of the same day."""
    leads: bool = False
    """Whether this test of an alarm comes before the change that it decides on."""
    first_day: dt.date | None = None
    """The first whole day on which it could be done, from which it is late; None where that is `due`."""

    def days_late(self, on: dt.date) -> int:
        """How many days late a job is that is called so."""
        first = self.first_day or self.due
        return (on - first).days if self.state == State.LATE and first is not None else 0

    @property
    def by_readings(self) -> bool:
        """Is it done by its readings? A remedy reads too, but what it asks somebody to do is only done with a tick."""
        return bool(self.reads) and self.role == "test"

    @property
    def awaited_test(self) -> Cause | None:
        """The test that may call it, where its date is that of this test."""
        why = next((c for c in self.because if isinstance(c, Cause) and c.kind == "awaits_test"), None)
        return next((v for _, v in why.values if isinstance(v, Cause)), None) if why is not None else None

    @property
    def tested_with(self) -> str:
        """The id of the test that reads for this one today; else empty."""
        return next((y.to for y in self.yielded if y.way == "tested_with"), "")


@dataclass(frozen=True, slots=True)
class Hold:
    gate: str
    since: date
    because: str
    instead: tuple[str, ...]
    trace: Trace | None = None
    do: str = ""
    """What an alarm asks for first; `because` says what is wrong, so that no order reads as if it were on hold."""


@dataclass(frozen=True, slots=True)
class Waiting:
    gate: str
    title: str
    needs: tuple[Need, ...]
    expected: Window


@dataclass(frozen=True, slots=True)
class Moved:
    id: str
    title: str
    before: date | None
    after: date | None
    because: str

    @property
    def days(self) -> int | None:
        return (self.after - self.before).days if self.before and self.after else None

    @property
    def of_gate(self) -> bool:
        """Is it the end of a phase, by whose title it is called then?"""
        return self.id.startswith("gate/")


@dataclass(frozen=True, slots=True)
class Plan:
    """The whole answer for one tank on one day: faces draw it, nothing is decided after it."""

    on: date
    tank_id: str | None
    name: str
    timezone: str
    units: str
    reminder_time: str
    quantities: tuple[Quantity, ...]
    phases: tuple[Phase, ...]
    tasks: tuple[Task, ...]
    holds: tuple[Hold, ...]
    waiting_for: tuple[Waiting, ...]
    notices: tuple[str | Cause, ...]
    forecast: Forecast
    traces: dict[str, Trace] = field(default_factory=dict, compare=False, repr=False)
    problems: tuple[Problem, ...] = ()
    left_out: frozenset[str] = field(default=frozenset(), compare=False, repr=False)
    """Jobs of the rules that this tank does without, by its description or its wish list."""

    def quantity(self, name: str) -> Quantity | None:
        return next((q for q in self.quantities if q.name == name), None)

    def task(self, id: str) -> Task | None:
        return next((t for t in self.tasks if t.id == id), None)

    def phase(self, id: str) -> Phase | None:
        return next((p for p in self.phases if p.id == id), None)

    def phase_as(self, role: str) -> Phase | None:
        """The phase with a role of the rules (`PhaseRule`); None where this tank has none."""
        return next((p for p in self.phases if p.role == role), None)


__all__ = [
    "TASK_KINDS", "WATERS", "Amount", "Answer", "CurvePoint", "Event", "Forecast", "Hold", "Journal", "Moved", "Need", "Phase",
    "Place", "Plan", "Problem", "Quantity", "Row", "State", "Task", "Trace", "Unreadable", "Waiting", "Window",
    "index_journal",
]
