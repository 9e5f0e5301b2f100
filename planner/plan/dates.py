"""The memoised dates of one plan: phases, gates, tasks and stages in three scenarios, each date worked out once and from
the others it hangs on.

They stay in one file, because they call one another and share what is worked out already. What only asks them stands beside: tests in
`tests_ahead`, arrivals in `arrival_days` and `stage_dates`, looks in `seen_days`."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import TYPE_CHECKING

from planner.files.kept import Kept
from planner.judge.conditions import Scene, judge_condition, newest_day
from planner.judge.cycle_expected import Expectation, expect_from, next_test_days
from planner.judge.cycle_inputs import first_day_home
from planner.judge.facts import Facts, animals_in
from planner.judge.gates import Verdicts
from planner.judge.kinds import KINDS
from planner.judge.kinds.reading import answer as judge_reading
from planner.judge.scene import done_rows
from planner.plan.arrival_days import own_day
from planner.plan.dues import SCENARIOS, Scenario, covers, is_repeating, latest_of, next_number
from planner.plan.gate_diary import GateDiary
from planner.plan.goods import PART_OF
from planner.plan.seen_days import sight_day
from planner.plan.stage_dates import StageDates
from planner.plan.task_days import TaskDays
from planner.plan.tests_ahead import first_test_from, last_looks, seen_grown
from planner.plan.usable_days import HORIZON_DAYS
from planner.rulebook.kinds.reading import ReadingNode
from planner.rulebook.nodes import Condition
from planner.rulebook.phase_graph import descendants
from planner.rulebook.shapes import Rulebook
from planner.rulebook.task_rule import ShoppingPart, TaskRule
from planner.rulebook.walk import asked_for, inside
from planner.terms.records import Answer, Trace

if TYPE_CHECKING:  # the stocking rooms are loaded only where there is a wish list
    from planner.plan.stage_records import Judged
    from planner.stock.catalogue import Catalogue


class Dates:
    """Memoised dates of one plan. A class because the dates of tasks, gates and stages call one another."""

    def __init__(self, rules: Rulebook, facts: Facts, verdicts: Verdicts, expectation: Expectation, until: date, catalogue: Catalogue | None = None, judged: Judged | None = None, kept: Kept | None = None) -> None:
        self.rules, self.facts, self.kept = rules, facts, kept
        self.days = TaskDays(rules, facts)
        self.verdicts, self.expectation, self.until = verdicts, expectation, until
        self.scene = Scene(facts, rules, verdicts.opened)
        self.phases = {p.phase: p for p in verdicts.phases}
        self.last_day = facts.on + timedelta(days=HORIZON_DAYS)
        self._gates: dict[tuple[str, Scenario], date | None] = {}
        self._starts: dict[tuple[str, Scenario], date | None] = {}
        self._tasks: dict[tuple[str, Scenario], date | None] = {}
        self._trips: dict[ShoppingPart, date | None] = {}
        self._applies: dict[str, bool] = {}
        self.awaited: dict[str, tuple[str, ...]] = {}
        """The readings of the test on whose day a job may be called, by the key of the job."""
        self._when: dict[str, Trace] = {}
        self._judged: dict[Condition, Trace] = {}
        self._behind: dict[str, frozenset[str]] = {}
        self.stages = StageDates(self, catalogue, judged)

    def judged(self, condition: Condition) -> Trace:
        """The condition's answer on the day of the plan, judged once."""
        if condition not in self._judged:
            self._judged[condition] = judge_condition(condition, self.scene)
        return self._judged[condition]

    # --- phases and gates

    def behind(self, phase: str) -> frozenset[str]:
        """Every phase that waits, directly or not, for this one."""
        if phase not in self._behind:
            self._behind[phase] = descendants(phase, self.verdicts.phases)
        return self._behind[phase]

    def phase_start(self, phase: str, s: Scenario) -> date | None:
        if (phase, s) in self._starts:
            return self._starts[phase, s]
        if phase not in self.phases:  # this tank has no such phase
            return None
        rule = self.phases[phase]
        days: list[date | None] = [self.facts.start] if not rule.after and not rule.beside else []
        days += [self.gate_day(p, s) for p in rule.after if p in self.phases]
        wait = self.rules.days(rule.beside_wait) if rule.beside_wait else 0
        days += [self.days.plus(self.phase_start(p, s), wait) for p in rule.beside if p in self.phases]
        self._starts[phase, s] = found = latest_of(days) if days else self.facts.start
        return found

    def gate_day(self, phase: str, s: Scenario) -> date | None:
        if (phase, s) in self._gates:
            return self._gates[phase, s]
        if phase not in self.phases:
            return None
        verdict = self.verdicts.gates[phase]
        if verdict.opened is not None:
            self._gates[phase, s] = verdict.opened[0]
            return verdict.opened[0]
        rule = self.phases[phase]
        start = self.phase_start(phase, s)
        expect = next((e for e in rule.gate.expect_first if e.only_when is not None and self.judged(e.only_when).answer == Answer.YES), rule.gate.expect)
        base = start
        wait = {"quick": expect.quick, "likely": expect.likely, "slow": expect.slow}[s]
        if expect.after is not None:
            base = self.moment_day(expect.after, s)
            if base is None:  # this tank has no such task: nothing to wait for
                base, wait = start, None
        expected = seen_grown(self, rule.gate.opens_when, base, wait, phase, s) if expect.grows else self.days.plus(base, self.days.whole_days(wait))
        days: list[date | None] = [start, expected]
        if expect.milestone is not None and not animals_in(self.facts, "display"):
            days.append(self.milestone(expect.milestone, phase, s))
        if verdict.trace.answer != Answer.YES or verdict.lapsed:
            days += self.needed_days(rule.gate.opens_when, phase, s)
        found = latest_of([*days, self.facts.on])
        # An age that ended between two rows opens nothing by itself: the next row does, and not before its tests are good that day. Nor does
        # the day on which it ends bring a gate whose tests are to come any sooner than its eve said.
        met = verdict.trace.answer == Answer.YES
        unseen = met and not verdict.lapsed and start is not None and start <= self.facts.on
        if found is not None and (found > self.facts.on or unseen or not met):
            found = latest_of([found, *last_looks(self, rule.gate.opens_when, phase, s, found)])
        self._gates[phase, s] = found if found is None or found <= self.last_day else None
        return self._gates[phase, s]

    def milestone(self, event: str, phase: str, s: Scenario) -> date | None:
        """A forecast event as a date: from the first ammonia if that is known, else from the expected start."""
        if (happened := self.expectation.happened.get(event)) is not None and event not in self.expectation.reopened:
            return happened
        proof = self.rules.phase_as("proves_filter")
        origin = self.expectation.origin or self.first_ammonia(proof if proof in self.phases else phase, s)
        offset = expect_from(self.expectation, origin, self.rules, self.facts, self.kept).offsets[event][SCENARIOS.index(s)]
        day = self.days.plus(origin, offset) if origin is not None and offset is not None else None
        return latest_of([day, self.facts.on])

    def first_ammonia(self, phase: str, s: Scenario) -> date | None:
        """The day at home on which the first ammonia is dated: of the dose or food that comes with the phase, else of its start."""
        if phase not in self.phases:
            return None
        firsts = [f"{phase}/{rule.id}" for rule in self.phases[phase].tasks if "adds_ammonia" in rule.acts and rule.anchor is not None and rule.anchor.phase == phase and self.applies(rule, phase)]
        day = latest_of([self.phase_start(phase, s), self.facts.on, *(self.task_day(key, s) for key in firsts)])
        return first_day_home(day, self.facts) if day is not None else None

    def needed_days(self, condition: Condition, phase: str, s: Scenario) -> list[date | None]:
        """When each part that is not met yet could be met: a tick by its task's date, a reading by the next test that
        reads it, with the repetitions still missing."""
        trace = self.judged(condition)
        if trace.answer == Answer.YES:
            return []
        if condition.all is not None:
            return [d for c in condition.all for d in self.needed_days(c, phase, s)]
        if condition.any is not None:
            ways = [self.needed_days(c, phase, s) for c in condition.any if not self._ruled_out(c, phase, s)]
            return [min((latest_of(w) for w in ways if w), key=lambda d: d or date.max, default=self.facts.on)]
        leaf = condition.leaf
        return KINDS[type(leaf)].days_needed(leaf, trace, GateDiary(self, phase, s)) if leaf is not None else []

    def _ruled_out(self, condition: Condition, phase: str, s: Scenario) -> bool:
        """A branch that the tank file or what has happened excludes, or nobody counts on, cannot be a way to open the gate."""
        if condition.all is not None:
            return any(self._ruled_out(c, phase, s) for c in condition.all)
        if condition.not_ is not None:
            trace, leaf = self.judged(condition), condition.not_.leaf
            return trace.answer == Answer.NO and (trace.context or (leaf is not None and KINDS[type(leaf)].for_good(leaf)))
        leaf = condition.leaf
        return leaf is not None and KINDS[type(leaf)].is_no_way(leaf, self.judged(condition), GateDiary(self, phase, s))

    # --- tasks

    def applies(self, rule: TaskRule, owner: str) -> bool:
        key = f"{owner}/{rule.id}"
        if key not in self._applies:
            hangs_on = (rule.anchor.phase, rule.anchor.gate, rule.anchor.before) if rule.anchor is not None else ()
            # A task that hangs on a phase which this tank lacks is none of its tasks.
            self._applies[key] = owner in self.phases and all(p in self.phases for p in hangs_on if p) and (
                rule.only_when is None or self.judged(rule.only_when).answer == Answer.YES) and (
                rule.per_stage is None or self.stages.has_stages(rule.per_stage)) and (
                rule.unless_stages is None or not (self.stages.has_stages(rule.unless_stages) or self.stages.unwished(rule.unless_stages)) or self._in_use(rule, key)
                or self._brings_unplanned(rule))
        return self._applies[key]

    def is_called(self, rule: TaskRule, owner: str) -> bool:
        """Is a task that its condition brings up there, and not done since? One without a condition always is."""
        if rule.when is None:
            return True
        trace, done = self.when(rule, owner), self.days.closed(f"{owner}/{rule.id}")
        return trace.answer == Answer.YES and not (rule.every is None and done and covers(done[-1][1], trace))

    def is_over(self, rule: TaskRule, owner: str) -> bool:
        """Has what repeats ended with its gate? A remedy is wanted whenever its condition turns up."""
        until = rule.until or owner
        ends = rule.until is not None or (rule.role != "remedy" and (rule.every is not None or rule.when is not None))
        return ends and owner != self.rules.phase_as("without_end") and until in self.phases and self.verdicts.gates[until].opened is not None

    def _in_use(self, rule: TaskRule, key: str) -> bool:
        """Ticked before the list was written, or the test that follows such a tick: it stays beside the stages."""
        if is_repeating(rule):
            return False
        follows = rule.role == "test" and rule.anchor is not None and rule.anchor.task is not None and self.days.closed(rule.anchor.task)
        return bool(self.days.closed(key) or follows)

    def _brings_unplanned(self, rule: TaskRule) -> bool:
        """Is it for what waits in quarantine, where somebody waits whom no stage will bring over?"""
        return self.stages.unplanned_in_quarantine and rule.when is not None and any(c.animal is not None and c.animal.where == "quarantine" for c in inside(rule.when))

    def when(self, rule: TaskRule, owner: str) -> Trace:
        key = f"{owner}/{rule.id}"
        if key not in self._when:
            assert rule.when is not None
            # A remedy that was called for stays until it is done or a later reading clears it, however old the reading grows.
            self._when[key] = judge_condition(rule.when, replace(self.scene, ageless=True)) if rule.role == "remedy" else self.judged(rule.when)
        return self._when[key]

    def base_day(self, rule: TaskRule, owner: str, s: Scenario) -> date | None:
        """The day that a task hangs on, before its wait."""
        anchor = rule.anchor
        if anchor is None or anchor.phase is not None:
            return self.phase_start(anchor.phase if anchor and anchor.phase else owner, s)
        if anchor.start:
            return self.facts.start
        if anchor.gate is not None:
            return self.gate_day(anchor.gate, s)
        if anchor.task is not None:
            return self.task_day(anchor.task, s)
        if anchor.milestone is not None:
            return self.milestone(anchor.milestone, owner, s)
        assert anchor.before is not None
        gate = self.gate_day(anchor.before, s)
        start = self.phase_start(owner, s)
        early = self.days.plus(gate, -self.days.wait(rule))
        return max(early, start) if early is not None and start is not None else early

    def task_day(self, key: str, s: Scenario) -> date | None:
        """The projected day of a task (its next open occurrence), or the day it was done."""
        key = key.partition("#")[0]
        if (key, s) in self._tasks:
            return self._tasks[key, s]
        rule = self.rules.tasks.get(key)
        owner = key.partition("/")[0]
        if rule is None or owner not in self.phases:
            return None
        if not self.applies(rule, owner):
            return next((day for other in rule.also_done_by if (day := self.stages.first_stage_day(other, s)) is not None), None)
        if rule.per_stage is not None:
            return self.stages.stage_day(key, s)
        repeat = next((k for k in rule.also_done_by if self._called(k)), None)
        done = self.days.closed(key)
        rows = done_rows(key, self.scene) if rule.void_after else [row for _, row in done]
        if repeat is not None:
            day = self.task_day(repeat, s)
        elif rows and rule.every is None and rule.when is None:
            day = rows[-1].day
        elif rule.every is None and rule.when is None and (verdict := self.verdicts.gates[owner]).on_word and verdict.opened is not None:
            day = verdict.opened[0]  # whoever says that a phase is behind them has done its jobs, and nobody asks for their ticks
        else:
            day = self.days.projected(self.first_due(rule, owner, s), rule)
        self._tasks[key, s] = day
        return day

    def moment_day(self, key: str, s: Scenario) -> date | None:
        """The day from which something counts since a task: of its tick, as long as nothing asks for the task anew; else its day to come."""
        rule, owner = self.rules.tasks.get(key.partition("#")[0]), key.partition("/")[0]
        done = done_rows(key, self.scene)
        past = bool(done) and rule is not None and rule.every is None and rule.when is not None and owner in self.phases and not self.is_called(rule, owner)
        return done[-1].day if past else self.task_day(key, s)

    def _called(self, key: str) -> bool:
        """Is a task that repeats another asked for now?"""
        rule, owner = self.rules.tasks.get(key), key.partition("/")[0]
        return rule is not None and rule.when is not None and owner in self.phases and self.when(rule, owner).answer == Answer.YES

    def first_due(self, rule: TaskRule, owner: str, s: Scenario) -> date | None:
        """Due day of the next open occurrence, absences and postponements applied."""
        key = f"{owner}/{rule.id}"
        trace = self.when(rule, owner) if rule.when is not None else None
        done = self.days.closed(key)
        if trace is not None and trace.answer == Answer.YES and (rule.anchor is None or rule.anchor.milestone):
            day = self.days.plus(newest_day(trace) or self.facts.on, self.days.wait(rule))
            if rule.is_arrival:  # film that showed while the gate was shut brings no snails of a past Saturday
                day = latest_of([day, self.phase_start(owner, s)])
        elif rule.anchor is not None and rule.anchor.before is not None:
            day = self.base_day(rule, owner, s)
        elif rule.called_after is not None and not done and s != "quick":
            day = sight_day(self, self.base_day(rule, owner, s), rule.called_after, rule.seen_by, s)
        else:
            day = self.days.plus(self.base_day(rule, owner, s), self.days.wait(rule))
        if trace is not None and trace.answer != Answer.YES and rule.anchor is not None and rule.anchor.milestone:
            day = self._after_its_test(day, rule, owner, s)
        if rule.not_before is not None and (before := self.not_before(rule.not_before, s)) is not None:
            day = latest_of([day, self.days.plus(before, self.days.whole_days(rule.not_before_wait))])
        if rule.uses:
            day = latest_of([day, *self._at_home(rule)])
        if rule.every is not None:
            last = self.days.last_time(rule, key)
            if rule.from_ == "schedule" and done:
                base = day
                n = 0
                while day is not None and last is not None and day <= last and n < HORIZON_DAYS:
                    n += 1
                    day = self.days.step_on(base, rule, n)
            elif last is not None and rule.pace == "forecast":
                pace = self.expectation.pace or next_test_days(self.expectation, last, self.rules.days(rule.every))
                day = latest_of([day, self.days.plus(last, pace)])
            elif last is not None:
                day = latest_of([day, self.days.step_on(last, rule)])
        day = self.days.allowed(self.days.postponed(key, next_number(done), day), rule)
        return own_day(self, day, rule, owner, s) if rule.role == "animals" and rule.where == "display" else day

    def _after_its_test(self, day: date | None, rule: TaskRule, owner: str, s: Scenario) -> date | None:
        """What only a test may call comes on no day before the next test of its readings."""
        assert rule.when is not None
        missing = {(leaf.name, leaf.where) for leaf in asked_for(rule.when) if isinstance(leaf, ReadingNode) and judge_reading(leaf, self.scene).answer != Answer.YES}
        test = latest_of([first_test_from(self, name, where, owner, s, self.facts.on) for name, where in missing]) if missing else None
        if day is None or test is None or test < day:
            return day
        if s == "likely":
            self.awaited[f"{owner}/{rule.id}"] = tuple(sorted(name for name, _ in missing))
        return test

    def _at_home(self, rule: TaskRule) -> list[date | None]:
        """The day after each purchase ahead of what a task uses, today's among them: a thing is at home the day before. One that is late
        holds nothing up on its next shopping day: it may have been made and never ticked."""
        parts = {PART_OF[good] for good in rule.uses if good in PART_OF}
        return [self.days.plus(bought, 1) for part in sorted(parts) if (bought := self._bought(part)) is not None]

    def _bought(self, part: ShoppingPart) -> date | None:
        """The day of the open purchase of one part of the list, None where none is ahead. One that was not ticked in time moves to the
        next shopping day; once its phase is over by evidence it was most likely made, and only never ticked."""
        if part not in self._trips:
            self._trips[part] = None
            # Who says that a phase is behind them has what it buys.
            for owner, phase in ((o, p) for o, p in self.phases.items() if not self.verdicts.gates[o].on_word):
                for shop in phase.tasks:
                    hangs_on_start = shop.anchor is not None and shop.anchor.start
                    if shop.buys == part and hangs_on_start and shop.when is None and self.applies(shop, owner) and not self.days.closed(f"{owner}/{shop.id}") and not (
                            shop.unless is not None and self.judged(shop.unless).answer == Answer.YES):
                        due = self.first_due(shop, owner, "likely")
                        made = self.days.projected(due, shop) if self.verdicts.gates[owner].opened is None else due
                        ahead = made is not None and (made > self.facts.on or made == due == self.facts.on)
                        self._trips[part] = made if ahead else None
        return self._trips[part]

    def not_before(self, key: str, s: Scenario) -> date | None:
        """The day of another task, or of a gate (`gate/PHASE`), that this one follows, too; None once the task's phase is over
        without a tick of it, for a gate without a day, and for one passed on word, which leaves nothing to wait for."""
        owner, _, gate = key.partition("/")
        if owner == "gate":
            return None if gate in self.phases and self.verdicts.gates[gate].on_word else self.gate_day(gate, s)
        # What a phase left behind is not waited for. Animals are never left behind: the test of their day goes with them.
        left = self.verdicts.gates[owner].opened is not None and self.rules.tasks[key].role != "animals" if owner in self.phases else True
        if left and not self.days.closed(key):
            return None
        if self.rules.tasks[key].known_as == "second_half":  # its own day asks for every gate: what it was put off to is enough
            return self.days.postponed(key, next_number(self.days.closed(key)), date.min)
        return self.task_day(key, s)

    def tentative(self, rule: TaskRule, owner: str) -> str:
        """The shut gate that a task stands behind, or "". Also a milestone that has not come is a test away."""
        anchor = rule.anchor
        if anchor is not None and anchor.milestone is not None and not (rule.when is not None and self.when(rule, owner).answer == Answer.YES):
            proof = self.rules.phase_as("proves_filter")
            return proof if proof in self.phases else owner
        if anchor is not None and anchor.gate is not None and self.verdicts.gates[anchor.gate].opened is None:
            return anchor.gate
        if anchor is not None and anchor.start:
            return ""
        owner = next((p for p in self.phases[owner].beside if p in self.phases and p not in self.verdicts.started), owner)
        if owner not in self.verdicts.started:
            shut = [p for p in self.phases[owner].after if p in self.phases and self.verdicts.gates[p].opened is None]
            return shut[0] if shut else owner
        if anchor is not None and anchor.task is not None and anchor.task.partition("/")[0] in self.phases:
            before = self.rules.tasks.get(anchor.task)
            if before is not None and not self.days.closed(anchor.task.partition("#")[0]) and anchor.task.partition("/")[0] != owner:
                return self.tentative(before, anchor.task.partition("/")[0])
        return ""
