"""What a rule file may say of a task: what it hangs on, when it comes, its words, and what its tick stands for."""

from __future__ import annotations

from typing import Literal

from planner.files.checked import Field, check
from planner.rulebook.lines import RuleLine
from planner.rulebook.nodes import Condition, Written
from planner.rulebook.texts import PlainText, RuleText
from planner.rulebook.what_jobs_do import Act, Rank, Spoils

SHORT = 24
"""Characters that a phone shows of a title."""
Role = Literal["step", "test", "remedy", "care", "shopping", "animals"]
KnownTask = Literal["leak_fill", "soak", "curing_fill", "curing_change", "collect_distilled", "rock_in", "top_up", "big_change", "weekly_change", "quarantine_fill",
                    "first_half", "second_half", "seed_in", "carbon", "daily_dose", "warms", "floor_judged", "more_light"]
ShoppingPart = Literal["tools", "ro", "top_up", "water", "mixed_water", "rock", "rock_bin", "bacteria", "tests", "equipment", "quarantine", "safety"]


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

    @check
    def _at_most_one(self) -> None:
        if sum(map(bool, (self.phase, self.gate, self.task, self.milestone, self.start, self.before))) > 1:
            raise ValueError("an anchor names one thing only")


class Writes(Written):
    """The fact that ticking this task stands for; `amount` names a quantity, written unless --amount says otherwise."""

    kind: Literal["dosed", "changed_water", "poured", "event", "added", "moved"]
    what: str
    amount: str | None = None


StageSort = Literal["fish", "corals", "crew"]


class StageGuard(Written):
    """Animals of these groups of the catalogue are guarded by the `when` and the wait of a `task`, or by a condition
    of their own, which is expected to be met a `wait` after the phase began. `late`: once the gate of the phase has opened without it, it
    is expected only so long after today, and nothing that comes after such animals waits for them."""

    groups: tuple[str, ...]
    task: str | None = None
    when: Condition | None = None
    wait: str | None = None
    late: str | None = None

    @check
    def _one_guard(self) -> None:
        if (self.wait is not None or self.late is not None) and self.when is None:
            raise ValueError("the wait of a guard belongs to a condition; a task has its own")
        if (self.task is None) == (self.when is None):
            raise ValueError("a guard names a task or has a condition, one of the two")


class TextVariant(Written):
    """Other words for a task where the tank is of another kind (`only_when`), or where all animals of its stage are of these
    `groups` of the catalogue. What is left empty stays as it is. `spared`: cautions of the task that such a tank does without. `leads`: in these
    words the test of an alarm comes before its change of water."""

    only_when: Condition | None = None
    groups: tuple[str, ...] = ()
    title: RuleText | None = None
    steps: tuple[RuleLine, ...] = ()
    watch: tuple[RuleLine, ...] = ()
    spared: tuple[str, ...] = ()
    leads: bool = False

    @check
    def _one_kind(self) -> None:
        if (self.only_when is None) == (not self.groups):
            raise ValueError("a variant is for a kind of tank (`only_when`) or for `groups` of animals, one of the two")


class TaskRule(Written):
    """One thing to do. `when` makes it conditional on the journal; `only_when` on the tank file; `unless` takes it away
    while its condition is yes. A task that repeats
    has `every`, counted from the last time done, or from the schedule; a task with `when` comes again with every new
    piece of evidence, unless `once`. `pace: forecast` lets the forecast shorten or stretch the interval. Both end when the gate of `until` opens (by default the gate of their own
    phase).

    `short`: the title for a calendar and a phone. `diluted`: a test that only a reading of a diluted sample answers. `besides`: its steps (from 1) that are no part of the
    test; they stay where another test of the day reads for it, as those of its acts do. `own_sample`: its water stands in a vessel of its own, so that no other test reads for it.
    `wait` names a number of time, or a figure of this tank in days. `not_before` (`phase/task` or `gate/phase`): its day is never before
    that one's plus `not_before_wait`. `ahead`: so long before a stage, or before its entry into quarantine.
    `called_after`: how long after the day that it hangs on its `when` is likely to be yes, on a day of the look that is to tell (`seen_by`); in the quick case it may be so today.
    `steps`, `watch`: lines of which each may have an `unless` of its own (`lines`). `variants`: the first that fits the tank, or the stage, gives other words. `reads_unmet`: of its readings only those that the gate of
    its phase still asks for.

    `per_stage` makes one occurrence of it for each stage of the wish list that has fish, corals or crew; `unless_stages`
    leaves it out while there are such stages. With an anchor on a task per stage it follows each of that task's
    occurrences; with `on_entry` on the day on which that stage's fish enter the quarantine tank. `also_done_by`
    (`phase/task`, `phase/task#n`): ticks of those count as ticks of this. `void_after` (`phase/task`): what was ticked before
    that one counts no more, so that only the newest attempt does. `guards`: a stage with such animals also waits for what
    the named task waits for, or for the condition.

    `known_as`: what the engine counts this task as, under whatever id it stands; several tasks may share a name.
    `leak_fill`, `soak`, `curing_fill`, `curing_change`, `big_change`, `weekly_change`, `quarantine_fill`, `top_up`: water that
    is poured or changed, for the litres and the salt of the effort. `collect_distilled`: the pure water is bought.
    `rock_in`: live rock that cures in the tank begins the cycle with it. `first_half`, `second_half`: the crew that no list names. `carbon`: a charge of carbon is used up. `daily_dose`: what it gives holds alkalinity, and lifts none.
    `warms`: cold water is warm from the day after its tick. `floor_judged`: an engineer approved the floor.
    `more_light`: a step to longer light.
    `evening`: its place in the walk around the tank, where its acts and readings do not tell (`planner/plan/places.py`).
    `later`: a number of time; it is done so long after what stands before it on the same day, and so behind the rest of that day.
    `days`: a figure; a remedy in so many daily steps, of which the first alone is firm and each later one waits for its test.
    `enough`: a figure; a change of so much on one day is the change of that day.
    `times`: a figure; a job that repeats comes so often in all, and not at all where the figure is 0 or cannot be had.
    `each_batch`: a figure; the minutes are meant for each of so many batches. `uses`: goods (`goods`) that have to be at
    home for it. `buys`: the part of the shopping list that a shopping task writes (`shoppingsteps`)."""

    id: str = Field(pattern=r"^[a-z][a-z0-9-]*$")
    title: RuleText
    short: PlainText = Field(default="", max_length=SHORT)
    role: Role = "step"
    anchor: Anchor | None = None
    wait: str | None = None
    not_before: str | None = None
    not_before_wait: str | None = None
    called_after: str | None = None
    seen_by: str | None = None
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
    besides: tuple[int, ...] = ()
    own_sample: bool = False
    reads_unmet: bool = False
    where: str = "display"
    day: Literal["any", "home", "shopping", "working"] = "home"
    calendar: bool = True
    minutes: int = Field(default=15, ge=1, le=1440)
    amounts: tuple[str, ...] = ()
    steps: tuple[RuleLine, ...] = ()
    watch: tuple[RuleLine, ...] = ()
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
    also_done_by: tuple[str, ...] = ()
    void_after: str | None = None
    guards: tuple[StageGuard, ...] = ()
    acts: tuple[Act, ...] = ()
    act_steps: dict[Act, tuple[int, ...]] = {}
    title_without: RuleText | None = None
    spoils: Spoils | None = None
    rank: Rank | None = None
    again: str | None = None
    later: str | None = None
    enough: str | None = None
    times: str | None = None
    known_as: KnownTask | None = None
    evening: Literal["look", "top_up", "hands_in"] | None = None
    each_batch: str | None = None
    days: str | None = None
    uses: tuple[str, ...] = ()
    buys: ShoppingPart | None = None

    @property
    def is_arrival(self) -> bool:
        """New animals for the display tank. That they stay away adds no risk; those that wait in quarantine are none."""
        return self.role == "animals" and self.where == "display" and self.writes is not None and self.writes.kind == "added"

    @property
    def between(self) -> bool:
        """Does its title leave the amount between two figures? Then only whoever did it knows how much it was."""
        return self.enough is not None and f"{{{self.enough}}}" in self.title

    @property
    def in_parts(self) -> bool:
        """A change of an alarm, which is made with what water there is at once: whoever ticks it says how much that was, and the rest is
        asked for on the same day."""
        return self.role == "remedy" and self.where == "display" and self.writes is not None and self.writes.kind == "changed_water"

    @check
    def _stage_by_number(self) -> None:
        if self.per_stage is not None and (self.every is not None or self.when is not None):
            raise ValueError("a task per stage comes once for each stage: it has neither `every` nor `when`")
        if self.ahead is not None and (self.per_stage is None or self.wait is not None):
            raise ValueError("`ahead` is for what comes before a stage, and leaves no room for `wait`")

    @check
    def _times_of_what_repeats(self) -> None:
        if self.times is not None and (self.every is None or self.when is not None):
            raise ValueError("`times` counts what repeats by `every` and has no `when`")

    @check
    def _acts_have_their_steps(self) -> None:
        if foreign := sorted(set(self.act_steps) - set(self.acts)):
            raise ValueError(f"`act_steps` names {foreign[0]}, which is not among the `acts`")
        if any(not 1 <= n <= len(self.steps) for steps in self.act_steps.values() for n in steps):
            raise ValueError("`act_steps` names a step that is not there")
        if any(not 1 <= n <= len(self.steps) for n in self.besides):
            raise ValueError("`besides` names a step that is not there")
        if self.act_steps and any(v.steps for v in self.variants):
            raise ValueError("`act_steps` counts the steps of the task, so that its variants have none of their own")


__all__ = ["Anchor", "KnownTask", "Role", "ShoppingPart", "StageGuard", "TaskRule", "TextVariant", "Writes"]
