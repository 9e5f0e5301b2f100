"""What a rule file may say: phases, tasks, gates, alerts, numbers, sources and cautions, as typed records.

Rules are data. Figures stand in `numbers` alone; conditions (`rulenodes`) name them. Loading, overlaying and
checking of files is in `rulefiles`; here is only the shape.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal, Self

from pydantic import Field, model_validator

from planner.rulebook.nodes import Condition, Written
from planner.rulebook.texts import PlainText, RuleText
from planner.terms.problems import Place

Grade = Literal["measured", "standard", "review", "practice"]
Role = Literal["step", "test", "remedy", "care", "shopping", "animals"]


class Number(Written):
    """A figure with its provenance. `range` bounds what a house rule may choose; `protects` marks figures that a
    house rule may only tighten, in the direction named."""

    value: float = Field(allow_inf_nan=False)
    unit: str = ""
    grade: Grade
    source: str | None = None
    where: str = ""
    note: str = ""
    range: tuple[float, float] | None = None
    protects: Literal["lower_is_stricter", "higher_is_stricter"] | None = None

    @model_validator(mode="after")
    def _sourced(self) -> Self:
        if self.grade != "practice" and not self.source:
            raise ValueError("a number graded above practice needs a source key")
        return self


class Source(Written):
    """One entry of the bibliography."""

    authors: str = ""
    year: int | None = None
    title: str
    published: str = ""
    read: Literal["whole", "part", "abstract", "memory"]


class Caution(Written):
    """A usual caution: what can happen, what to do, and to whom the plan defers."""

    title: PlainText
    text: PlainText
    defer: PlainText
    grade: Grade = "practice"
    source: str | None = None
    where: str = ""
    protected: bool = True


class Anchor(Written):
    """What a task hangs on: exactly one. `phase`: the day the phase begins. `gate`: the day a gate opens. `task`: the
    day another task is done. `milestone`: a forecast event (tentative until `when` is yes). None of them: the day on
    which the task's `when` became yes. `start`: the first day of the plan."""

    phase: str | None = None
    gate: str | None = None
    task: str | None = None
    milestone: Literal["ammonia_clear", "nitrite_clear", "cycle_done"] | None = None
    start: bool = False
    before: str | None = None

    @model_validator(mode="after")
    def _at_most_one(self) -> Self:
        if sum(map(bool, (self.phase, self.gate, self.task, self.milestone, self.start, self.before))) > 1:
            raise ValueError("an anchor names one thing only")
        return self


class Writes(Written):
    """The fact that ticking this task stands for; `amount` names a quantity, written unless --amount says otherwise."""

    kind: Literal["dosed", "changed_water", "poured", "event", "added", "moved"]
    what: str
    amount: str | None = None


StageSort = Literal["fish", "corals", "crew"]


class StageGuard(Written):
    """Animals of these groups of the catalogue are guarded by the `when` and the wait of a `task`, or by a condition
    of their own."""

    groups: tuple[str, ...]
    task: str | None = None
    when: Condition | None = None

    @model_validator(mode="after")
    def _one_guard(self) -> Self:
        if (self.task is None) == (self.when is None):
            raise ValueError("a guard names a task or has a condition, one of the two")
        return self


class TextVariant(Written):
    """Other words for a task where the tank is of another kind. What is left empty stays as it is."""

    only_when: Condition
    title: RuleText | None = None
    steps: tuple[RuleText, ...] = ()
    watch: tuple[RuleText, ...] = ()


class TaskRule(Written):
    """One thing to do. `when` makes it conditional on the journal; `only_when` on the tank file; `unless` takes it away
    while its condition is yes. A task that repeats
    has `every`, counted from the last time done, or from the schedule; a task with `when` comes again with every new
    piece of evidence, unless `once`. `pace: forecast` lets the forecast shorten or stretch the interval. Both end when the gate of `until` opens (by default the gate of their own
    phase).

    `wait` names a number of time, or a figure of this tank in days. `not_before` (`phase/task`): its day is never before
    that one's plus `not_before_wait`. `ahead`: so long before a stage, or before its entry into quarantine.
    `variants`: the first that fits the tank gives other words.

    `per_stage` makes one occurrence of it for each stage of the wish list that has fish, corals or crew; `unless_stages`
    leaves it out while there are such stages. With an anchor on a task per stage it follows each of that task's
    occurrences; with `on_entry` on the day on which that stage's fish enter the quarantine tank. `also_done_by`
    (`phase/task#n`): a tick of that one counts as a tick of this. `guards`: a stage with such animals also waits for what
    the named task waits for, or for the condition."""

    id: str = Field(pattern=r"^[a-z][a-z0-9-]*$")
    title: RuleText
    role: Role = "step"
    anchor: Anchor | None = None
    wait: str | None = None
    not_before: str | None = None
    not_before_wait: str | None = None
    only_when: Condition | None = None
    when: Condition | None = None
    unless: Condition | None = None
    every: str | None = None
    from_: Literal["last_done", "schedule"] = Field(default="last_done", alias="from")
    counts: str | None = None
    pace: Literal["forecast"] | None = None
    once: bool = False
    until: str | None = None
    reads: tuple[str, ...] = ()
    where: str = "display"
    day: Literal["any", "home", "shopping"] = "home"
    calendar: bool = True
    minutes: int = Field(default=15, ge=1, le=1440)
    amounts: tuple[str, ...] = ()
    steps: tuple[RuleText, ...] = ()
    watch: tuple[RuleText, ...] = ()
    cautions: tuple[str, ...] = ()
    because: tuple[RuleText, ...] = ()
    cites: tuple[str, ...] = ()
    writes: Writes | None = None
    protects: bool = False
    per_stage: StageSort | None = None
    on_entry: bool = False
    ahead: str | None = None
    variants: tuple[TextVariant, ...] = ()
    unless_stages: StageSort | None = None
    also_done_by: str | None = None
    guards: tuple[StageGuard, ...] = ()

    @model_validator(mode="after")
    def _stage_by_number(self) -> Self:
        if self.per_stage is not None and (self.every is not None or self.when is not None):
            raise ValueError("a task per stage comes once for each stage: it has neither `every` nor `when`")
        if self.ahead is not None and (self.per_stage is None or self.wait is not None):
            raise ValueError("`ahead` is for what comes before a stage, and leaves no room for `wait`")
        return self


class Expect(Written):
    """When the gate is expected: `quick`, `likely`, `slow` name numbers or figures in days counted from the start of the phase
    or from `after` (a task of it); or `milestone` names a forecast event. A gate's `expect_first` holds variants with
    `only_when`; the first that fits the tank replaces `expect`."""

    quick: str | None = None
    likely: str | None = None
    slow: str | None = None
    after: str | None = None
    milestone: Literal["ammonia_clear", "nitrite_clear", "cycle_done"] | None = None
    only_when: Condition | None = None


class HoldRule(Written):
    """What stops everything behind the gate that adds risk. `unknown_holds` also holds while the condition is
    unknown (stale, unreadable or disagreeing readings)."""

    when: Condition
    because: RuleText
    instead: tuple[str, ...] = ()
    unknown_holds: bool = False
    any_time: bool = False


Progress = Literal["ammonia_clear", "nitrite_clear"]


class Stuck(Written):
    """Advice while the gate stays shut.

    `sign`: what it says shows a standstill. With `late` only while the readings make that milestone likely to come later
    than in nine of ten tanks with this start, with `behind` only once these nine are past it. `cause`: the short name of a likely cause,
    which stands behind the signs, and which is named as not ruled out where nothing was read. `beside_sign`: said only
    together with a sign."""

    when: Condition
    say: RuleText
    do: tuple[RuleText, ...] = ()
    sign: bool = False
    late: Progress | None = None
    behind: Progress | None = None
    cause: PlainText = ""
    beside_sign: bool = False

    @model_validator(mode="after")
    def _sign_or_cause(self) -> Self:
        if self.sign and (self.cause or self.beside_sign):
            raise ValueError("advice is a sign or a cause, not both")
        if (self.late or self.behind) and not self.sign:
            raise ValueError("`late` and `behind` belong to a sign")
        return self


class GateRule(Written):
    title: PlainText
    opens_when: Condition
    lapses_when: Condition | None = None
    holds: tuple[HoldRule, ...] = ()
    expect: Expect = Expect()
    expect_first: tuple[Expect, ...] = ()
    stuck: tuple[Stuck, ...] = ()
    protects: bool = True


class PhaseRule(Written):
    """One phase file. `after`: gates that must be open before it begins. `beside`: phases that must have begun (their
    start plus `beside_wait` days). `only_when`: variants that lack this phase."""

    phase: str
    title: PlainText
    order: int
    intro: RuleText
    after: tuple[str, ...] = ()
    beside: tuple[str, ...] = ()
    beside_wait: str | None = None
    only_when: Condition | None = None
    numbers: dict[str, Number] = {}
    tasks: tuple[TaskRule, ...] = ()
    gate: GateRule


class AlertRule(Written):
    """A watch that runs at any time: while `when` is yes its tasks are due and the named gates are on hold."""

    alert: str
    title: PlainText
    when: Condition
    holds: tuple[str, ...] = ()
    unknown_holds: bool = False
    say: RuleText
    tasks: tuple[TaskRule, ...] = ()


class AlertFile(Written):
    numbers: dict[str, Number] = {}
    alerts: tuple[AlertRule, ...]


class NumbersFile(Written):
    numbers: dict[str, Number]




@dataclass(frozen=True, slots=True)
class HouseRule:
    """What a shop's own rules changed or added in the book: the thing (`id` as in `Rulebook.places`, with `#key` behind
    it where one key alone was changed), where the shop wrote it, and in words what it says and what the shipped rule at
    `shipped` says."""

    id: str
    place: Place
    now: str
    was: str = ""
    shipped: Place | None = None


@dataclass(frozen=True, slots=True)
class Rulebook:
    """Every rule, checked, in a total order. `places` tells where an id was written, for `why` and for the check. `house`
    holds what a shop's own rules did to it, and `marks` the tasks that this reaches, each with one place."""

    phases: tuple[PhaseRule, ...]
    alerts: tuple[AlertRule, ...]
    numbers: dict[str, Number]
    sources: dict[str, Source]
    cautions: dict[str, Caution]
    places: dict[str, Place] = field(default_factory=dict)
    tasks: dict[str, TaskRule] = field(default_factory=dict)
    house: tuple[HouseRule, ...] = ()
    marks: dict[str, Place] = field(default_factory=dict)
    figures: Mapping[str, tuple[str, ...]] | None = field(default=None, compare=False)

    def figures_given(self) -> Mapping[str, tuple[str, ...]]:
        """The figures that texts may name, each with the numbers on which it rests; whoever checks a book gives them."""
        assert self.figures is not None, "this book was not told the figures"
        return self.figures

    def figure_names(self) -> frozenset[str]:
        return frozenset(self.figures_given())

    def number(self, name: str) -> float:
        return self.numbers[name].value

    def phase(self, id: str) -> PhaseRule:
        return next(p for p in self.phases if p.phase == id)

    def hours(self, name: str) -> float:
        """A number of time in hours, whatever unit it is written in."""
        found = self.numbers[name]
        return found.value * HOURS_IN[found.unit]

    def days(self, name: str) -> int:
        """A number of time in whole days, rounded up: a wait of 30 h ends on the second day."""
        return -int(-self.hours(name) // 24)


def descendants(gate: str, phases: tuple[PhaseRule, ...]) -> frozenset[str]:
    """Every phase that waits, directly or not, for this gate."""
    found: set[str] = set()
    grown = True
    while grown:
        grown = False
        for phase in phases:
            if phase.phase not in found and any(b == gate or b in found for b in (*phase.after, *phase.beside)):
                found.add(phase.phase)
                grown = True
    return frozenset(found)


HOURS_IN = {"h": 1.0, "d": 24.0, "min": 1 / 60, "wk": 168.0, "months": 730.5}

__all__ = [
    "HOURS_IN", "AlertFile", "AlertRule", "Anchor", "Caution", "Expect", "GateRule", "Grade", "HoldRule", "HouseRule", "Number", "NumbersFile", "PhaseRule",
    "Role", "Rulebook", "Source", "StageGuard", "Stuck", "TaskRule", "TextVariant", "Writes", "descendants",
]
