"""What a rule file may say of phases, gates and alerts, as typed records, and the book that holds them all.

Rules are data. Figures (`provenance`) stand in `numbers` alone; conditions (`nodes`) name them. Tasks have a file of
their own (`task_rule`). Loading (`read`), overlaying (`house`) and checking (`check`) are elsewhere; here is only the shape.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from typing import Literal

from planner.files.checked import Field, check
from planner.frozen import dataclass
from planner.rulebook.nodes import Condition, Written
from planner.rulebook.provenance import HOURS_IN, Caution, Number, Source
from planner.rulebook.task_rule import KnownTask, TaskRule
from planner.rulebook.texts import PlainText, RuleText
from planner.rulebook.what_jobs_do import NEVER_CAPPED, RANKS, Apart, Rank
from planner.rulebook.words import Word
from planner.terms.problems import Place

PhaseRole = Literal["settles_place", "makes_water", "fills_tank", "runs_tank", "proves_filter", "opens_to_animals", "stocks_crew", "stocks_fish", "stocks_corals",
                    "quarantine", "without_end"]


class Expect(Written):
    """When the gate is expected: `quick`, `likely`, `slow` name numbers or figures in days counted from the start of the phase
    or from `after` (a task of it); or `milestone` names a forecast event. A gate's `expect_first` holds variants with
    `only_when`; the first that fits the tank replaces `expect`. `grows`: what is waited for grows by itself, and takes a quarter
    longer each time that it is not there on its day."""

    quick: str | None = None
    likely: str | None = None
    slow: str | None = None
    after: str | None = None
    milestone: Literal["ammonia_clear", "nitrite_clear", "cycle_done"] | None = None
    only_when: Condition | None = None
    grows: bool = False


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
    which stands behind the signs, and which is named as not ruled out where nothing was read; `look` then says what would tell. `beside_sign`: said only
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
    look: RuleText | None = None
    beside_sign: bool = False

    @check
    def _sign_or_cause(self) -> None:
        if self.sign and (self.cause or self.beside_sign):
            raise ValueError("advice is a sign or a cause, not both")
        if self.look is not None and not self.cause:
            raise ValueError("`look` says what would tell a `cause`")
        if (self.late or self.behind) and not self.sign:
            raise ValueError("`late` and `behind` belong to a sign")
        if (self.rests is None) != (self.rest_step is None) or (self.rest_step is not None and not 1 <= self.rest_step <= len(self.do)):
            raise ValueError("`rests` and `rest_step`, a line of `do`, belong together")


class GateRule(Written):
    """What ends a phase. `keeps_out`: what stays out of the tank until it is passed, as the handout says it."""

    title: PlainText
    keeps_out: PlainText = ""
    opens_when: Condition
    lapses_when: Condition | None = None
    holds: tuple[HoldRule, ...] = ()
    expect: Expect = Field(default_factory=lambda: Expect.model_construct())
    expect_first: tuple[Expect, ...] = ()
    stuck: tuple[Stuck, ...] = ()


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
    nothing, its chores go on.

    `short`: its name on a phone, before `done` and `begun`."""

    phase: str
    role: PhaseRole | None = None
    title: PlainText
    short: PlainText = Field(default="", max_length=14)
    order: int
    intro: RuleText
    after: tuple[str, ...] = ()
    beside: tuple[str, ...] = ()
    beside_wait: str | None = None
    only_when: Condition | None = None
    numbers: dict[str, Number] = {}
    tasks: tuple[TaskRule, ...] = ()
    gate: GateRule


class FirstAid(Written):
    """What somebody does before he reads on, under the `heading` by which he knows it: these `steps` (from 1) of the alert's `task`."""

    heading: PlainText
    task: str
    steps: tuple[int, ...]


class AlertRule(Written):
    """A watch that runs at any time: while `when` is yes its tasks are due and the named gates are on hold. `rank`: its
    place among the alarms of one day; `at_once`: before others of that rank, since somebody is hurt. `first_aid`: it stands on the first side of
    the printed plan and first on the page for emergencies. `over`: one that a reading raised is over only once this is yes too, which asks for two
    good readings on different days and for less than what raised it; or with `one_is_enough` once `when` is no. `unless_up`: graver
    alerts of the same thing, beside which it keeps silent."""

    alert: str
    title: PlainText
    rank: Rank | None = None
    at_once: bool = False
    first_aid: FirstAid | None = None
    when: Condition
    holds: tuple[str, ...] = ()
    unknown_holds: bool = False
    over: Condition | None = None
    one_is_enough: bool = False
    unless_up: tuple[str, ...] = ()
    say: RuleText
    tasks: tuple[TaskRule, ...] = ()

    @check
    def _aid_is_there(self) -> None:
        if self.first_aid is not None and len(self.aid) != len(self.first_aid.steps):
            raise ValueError("`first_aid` names a task of this alert and some of its steps")
        if self.first_aid is not None and any(not set(t.act_steps.get("switches_on", ())) <= set(self.first_aid.steps) for t in self.tasks if t.id == self.first_aid.task):
            raise ValueError("`first_aid` goes on until everything is switched on again")

    @property
    def aid(self) -> tuple[RuleText, ...]:
        """The steps of its first aid."""
        task = next((t for t in self.tasks if self.first_aid is not None and t.id == self.first_aid.task), None)
        return tuple(task.steps[n - 1] for n in self.first_aid.steps if 0 < n <= len(task.steps)) if task is not None and self.first_aid is not None else ()

    @property
    def changes_daily(self) -> bool:
        """Does it ask for a large change of each day, and for no second one of that day? Then the first test of a day stands before the change."""
        return any(t.enough is not None for t in self.tasks) and not any(t.again is not None for t in self.tasks)

    @property
    def place(self) -> Rank:
        """Its rank; one that names none and protects counts as for people."""
        return self.rank or ("people" if any(t.protects for t in self.tasks) else "rest")

    @property
    def order(self) -> tuple[int, bool, bool]:
        """Where it stands among alarms: of one rank what may kill before what asks for nothing but a test."""
        return RANKS.index(self.place), not self.at_once, not self.is_grave

    @property
    def is_grave(self) -> bool:
        """May it kill while nobody acts? One that asks for nothing but a test is a milder thing, whatever its rank."""
        return self.place in NEVER_CAPPED and not (self.tasks and all(t.role == "test" for t in self.tasks))


class AlertFile(Written):
    numbers: dict[str, Number] = {}
    alerts: tuple[AlertRule, ...]


class NumbersFile(Written):
    numbers: dict[str, Number]


class Treadmill(Written):
    """The order that stands in place of a remedy that was done `times` times (a number) without its reading moving by a step
    of the kit. Its title stands before that of the remedy. A test of a milder alarm that stood as still as that comes
    `test_again` (a number) after the last one, and says `test_say`."""

    times: str
    title: RuleText
    steps: tuple[RuleText, ...]
    test_again: str
    test_say: RuleText


class TogetherFile(Written):
    numbers: dict[str, Number] = {}
    treadmill: Treadmill
    apart: tuple[Apart, ...]


@dataclass(frozen=True, slots=True)
class HouseRule:
    """What a shop's own rules changed or added in the book: the thing (`id` as in `Rulebook.places`, with `#key` behind
    it where one key alone was changed), where the shop wrote it, and in words what it says and what the shipped rule at
    `shipped` says; `more`: what a list has now and had not."""

    id: str
    place: Place
    now: str
    was: str = ""
    shipped: Place | None = None
    more: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Rulebook:
    """Every rule, checked, in a total order. `places` tells where an id was written, for `why` and for the check. `house`
    holds what a shop's own rules did to it, and `marks` the tasks that this reaches, each with one place. `groups`: the group
    of each animal of the catalogue, of which rules need no more."""

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
    treadmill: Treadmill | None = None
    figures: Mapping[str, tuple[str, ...]] | None = field(default=None, compare=False)
    words: dict[str, Word] = field(default_factory=dict)
    groups: dict[str, str] = field(default_factory=dict)
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

    def calendar_days(self, name: str) -> int | None:
        """A number of time that is written in days or longer units, in days of the calendar; None where it counts by the hour."""
        return self.days(name) if HOURS_IN[self.numbers[name].unit] >= 24 else None

    def days(self, name: str) -> int:
        """A number of time in whole days, rounded up: a wait of 30 h ends on the second day."""
        return -int(-self.hours(name) // 24)


__all__ = ["AlertFile", "AlertRule", "Expect", "GateRule", "HoldRule", "HouseRule", "NumbersFile", "PhaseRole", "PhaseRule", "Rulebook", "Stuck", "TogetherFile"]
