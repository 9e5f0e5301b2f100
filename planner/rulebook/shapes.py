"""What a rule file may say: phases, tasks, gates, alerts, numbers, sources and cautions, as typed records.

Rules are data. Figures stand in `numbers` alone; conditions (`rulenodes`) name them. Loading, overlaying and
checking of files is in `rulefiles`; here is only the shape.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal, Self

from pydantic import Field, model_validator

from planner.rulebook.acts import Act, Apart, Rank, Spoils
from planner.rulebook.nodes import Condition, Written
from planner.rulebook.texts import PlainText, RuleText
from planner.terms.problems import Place

Grade = Literal["measured", "standard", "review", "practice"]
Says = Literal["states", "within"]
Role = Literal["step", "test", "remedy", "care", "shopping", "animals"]
PhaseRole = Literal["settles_place", "makes_water", "fills_tank", "runs_tank", "proves_filter", "opens_to_animals", "stocks_crew", "stocks_fish", "stocks_corals",
                    "quarantine", "without_end"]
KnownTask = Literal["leak_fill", "soak", "curing_fill", "curing_change", "collect_distilled", "rock_in", "top_up", "big_change", "weekly_change", "quarantine_fill",
                    "first_half", "second_half"]
ShoppingPart = Literal["ro", "top_up", "water", "mixed_water", "rock", "rock_bin", "bacteria", "tests", "equipment", "quarantine", "safety"]


class Number(Written):
    """A figure with its provenance. `grade` is the kind of evidence, `says` what the source says of our value: it `states`
    the value, or a range that it publishes holds it (`within`: then `range_published`, in our unit, of what `of` names).
    Above practice all of it is asked for. `range` bounds what a house rule may choose; `protects` marks figures that a
    house rule may only tighten, in the direction named."""

    value: float = Field(allow_inf_nan=False)
    unit: str = ""
    grade: Grade
    source: str | None = None
    where: str = ""
    says: Says | None = None
    range_published: tuple[float, float] | None = None
    of: str = ""
    note: str = ""
    range: tuple[float, float] | None = None
    protects: Literal["lower_is_stricter", "higher_is_stricter"] | None = None

    @model_validator(mode="after")
    def _sourced(self) -> Self:
        if (fault := provenance_fault(self)) is not None:
            raise ValueError(fault)
        return self


def provenance_fault(number: Number) -> str | None:
    """What is missing or wrong in how a number is backed, in words; None where it holds together."""
    if number.grade != "practice" and not number.source:
        return "a number graded above practice needs a source key"
    if number.grade != "practice" and number.says is None:
        return "a number graded above practice tells what its source says: `says: states`, or `says: within` with `range_published`"
    if number.says is not None and not number.source:
        return "`says` tells what a source says, and there is no source key"
    if (number.says == "within") != (number.range_published is not None):
        return "`says: within` and `range_published` belong together"
    if number.range_published is not None:
        low, high = number.range_published
        if not low <= number.value <= high:
            return f"{number.value:g} does not lie within the published range of {low:g} to {high:g}"
    return None


class Source(Written):
    """One entry of the bibliography."""

    authors: str = ""
    year: int | None = None
    title: str
    published: str = ""
    read: Literal["whole", "part", "abstract", "quoted", "memory"]


class Caution(Written):
    """A usual caution: what can happen, what to do, and to whom the plan defers. `weight`: may people or animals die of it
    (danger), or is it damage and injury (care)? `short`: the one line that stands before a job known by heart, `keyword`
    what reminds of that line; a caution without them is called by its title."""

    title: PlainText
    weight: Literal["danger", "care", "note"] = "danger"
    keyword: PlainText = ""
    short: PlainText = ""
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

    `diluted`: a test that only a reading of a diluted sample answers.
    `wait` names a number of time, or a figure of this tank in days. `not_before` (`phase/task`): its day is never before
    that one's plus `not_before_wait`. `ahead`: so long before a stage, or before its entry into quarantine.
    `variants`: the first that fits the tank gives other words. `reads_unmet`: of its readings only those that the gate of
    its phase still asks for.

    `per_stage` makes one occurrence of it for each stage of the wish list that has fish, corals or crew; `unless_stages`
    leaves it out while there are such stages. With an anchor on a task per stage it follows each of that task's
    occurrences; with `on_entry` on the day on which that stage's fish enter the quarantine tank. `also_done_by`
    (`phase/task#n`): a tick of that one counts as a tick of this. `guards`: a stage with such animals also waits for what
    the named task waits for, or for the condition.

    `known_as`: what the engine counts this task as, under whatever id it stands; several tasks may share a name.
    `leak_fill`, `soak`, `curing_fill`, `curing_change`, `big_change`, `weekly_change`, `quarantine_fill`, `top_up`: water that
    is poured or changed, for the litres and the salt of the effort. `collect_distilled`: the pure water is bought.
    `rock_in`: live rock that cures in the tank begins the cycle with it. `first_half`, `second_half`: the crew that no list names.
    `evening`: its place in the walk around the tank, where its acts and readings do not tell (`planner/plan/evening.py`).
    `each_batch`: a figure; the minutes are meant for each of so many batches. `uses`: goods (`goods`) that have to be at
    home for it. `buys`: the part of the shopping list that a shopping task writes (`shoppingsteps`)."""

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
    diluted: bool = False
    reads_unmet: bool = False
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
    acts: tuple[Act, ...] = ()
    act_steps: dict[Act, tuple[int, ...]] = {}
    title_without: RuleText | None = None
    spoils: Spoils | None = None
    rank: Rank | None = None
    again: str | None = None
    known_as: KnownTask | None = None
    evening: Literal["look", "top_up", "hands_in"] | None = None
    each_batch: str | None = None
    uses: tuple[str, ...] = ()
    buys: ShoppingPart | None = None

    @model_validator(mode="after")
    def _stage_by_number(self) -> Self:
        if self.per_stage is not None and (self.every is not None or self.when is not None):
            raise ValueError("a task per stage comes once for each stage: it has neither `every` nor `when`")
        if self.ahead is not None and (self.per_stage is None or self.wait is not None):
            raise ValueError("`ahead` is for what comes before a stage, and leaves no room for `wait`")
        return self

    @model_validator(mode="after")
    def _acts_have_their_steps(self) -> Self:
        if foreign := sorted(set(self.act_steps) - set(self.acts)):
            raise ValueError(f"`act_steps` names {foreign[0]}, which is not among the `acts`")
        if any(not 1 <= n <= len(self.steps) for steps in self.act_steps.values() for n in steps):
            raise ValueError("`act_steps` names a step that is not there")
        if self.act_steps and any(v.steps for v in self.variants):
            raise ValueError("`act_steps` counts the steps of the task, so that its variants have none of their own")
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
    together with a sign. `rests`: the number of days for which it asks to leave out ammonia; `rest_step` is the line of `do`
    that says so."""

    when: Condition
    say: RuleText
    do: tuple[RuleText, ...] = ()
    rests: str | None = None
    rest_step: int | None = None
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
        if (self.rests is None) != (self.rest_step is None) or (self.rest_step is not None and not 1 <= self.rest_step <= len(self.do)):
            raise ValueError("`rests` and `rest_step`, a line of `do`, belong together")
        return self


class GateRule(Written):
    """What ends a phase. `keeps_out`: what stays out of the tank until it is passed, as the handout says it."""

    title: PlainText
    keeps_out: PlainText = ""
    opens_when: Condition
    lapses_when: Condition | None = None
    holds: tuple[HoldRule, ...] = ()
    expect: Expect = Field(default_factory=lambda: Expect.model_validate({}))
    expect_first: tuple[Expect, ...] = ()
    stuck: tuple[Stuck, ...] = ()
    protects: bool = True


class PhaseRule(Written):
    """One phase file. `after`: gates that must be open before it begins. `beside`: phases that must have begun (their
    start plus `beside_wait` days). `only_when`: variants that lack this phase.

    `role`: what the engine asks this phase for; no code knows a phase by its id. Every role belongs to exactly one phase,
    and a phase has one role or none:
    `settles_place`: until its gate opens the floor's load is told. `makes_water`: until then the first fill is to be made.
    `fills_tank`: its gate is the first salt water. `runs_tank`: once it is open, buying that was never ticked is forgotten.
    `proves_filter`: the cycle; its start, its gate and its proofs are forecast. `opens_to_animals`: no word of the keeper
    passes it, no animal comes before it, and one that does raises a hold. `stocks_crew`, `stocks_fish`, `stocks_corals`:
    that sort of the wish list comes in. `quarantine`: its gate is the tank apart, ready. `without_end`: its gate ends
    nothing, its chores go on."""

    phase: str
    role: PhaseRole | None = None
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
    """A watch that runs at any time: while `when` is yes its tasks are due and the named gates are on hold. `rank`: its
    place among the alarms of one day. With `clear_twice` (a reading) it is over only once that reading is clear on two days."""

    alert: str
    title: PlainText
    rank: Rank | None = None
    when: Condition
    holds: tuple[str, ...] = ()
    unknown_holds: bool = False
    clear_twice: Literal["ammonia", "nitrite"] | None = None
    say: RuleText
    tasks: tuple[TaskRule, ...] = ()

    @property
    def place(self) -> Rank:
        """Its rank; one that names none and protects counts as for people."""
        return self.rank or ("people" if any(t.protects for t in self.tasks) else "rest")


class AlertFile(Written):
    numbers: dict[str, Number] = {}
    alerts: tuple[AlertRule, ...]


class NumbersFile(Written):
    numbers: dict[str, Number]


class TogetherFile(Written):
    numbers: dict[str, Number] = {}
    apart: tuple[Apart, ...]




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
    apart: tuple[Apart, ...] = ()
    figures: Mapping[str, tuple[str, ...]] | None = field(default=None, compare=False)
    bearers: dict[str, tuple[str, ...]] = field(init=False, compare=False, repr=False)

    def __post_init__(self) -> None:
        found: dict[str, tuple[str, ...]] = {}
        named = [*((p.role, p.phase) for p in self.phases), *((t.known_as, key) for key, t in self.tasks.items())]
        for role, id in named:
            if role is not None:
                found[role] = (*found.get(role, ()), id)
        object.__setattr__(self, "bearers", found)

    def phase_as(self, role: PhaseRole) -> str:
        """The id of the phase with this role; "", the id of none, in a book that lacks it (`check_rules` reports that)."""
        return self.bearers.get(role, ("",))[0]

    @property
    def own_phases(self) -> frozenset[str]:
        """Phases that a shop added. What they open passes nothing of ours."""
        return frozenset(rule.id for rule in self.house)

    def tasks_as(self, name: KnownTask) -> tuple[str, ...]:
        """The keys of the tasks that are known by this name."""
        return self.bearers.get(name, ())

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


def proof_to_animals(book: Rulebook) -> tuple[str, ...]:
    """The phases behind the proof of the filter, up to the one that opens the tank for animals, in order."""
    last = book.phase_as("opens_to_animals")
    behind = descendants(book.phase_as("proves_filter"), book.phases)
    return tuple(p.phase for p in book.phases if p.phase in behind and (p.phase == last or last in descendants(p.phase, book.phases)))


HOURS_IN = {"h": 1.0, "d": 24.0, "min": 1 / 60, "wk": 168.0, "months": 730.5}

__all__ = [
    "HOURS_IN", "AlertFile", "AlertRule", "Anchor", "Caution", "Expect", "GateRule", "Grade", "HoldRule", "HouseRule", "KnownTask", "Number", "NumbersFile",
    "PhaseRole", "PhaseRule", "Role", "Rulebook", "Says", "ShoppingPart", "Source", "StageGuard", "Stuck", "TaskRule", "TextVariant", "TogetherFile", "Writes", "descendants",
    "proof_to_animals", "provenance_fault",
]
