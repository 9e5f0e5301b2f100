"""The memoised dates of one plan: phases, gates, tasks and stages in three scenarios, each date worked out once and from
the others it hangs on."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import TYPE_CHECKING

from planner.judge.conditions import Scene, judge_condition, newest_day
from planner.judge.cycle_expected import Expectation, next_test_days
from planner.judge.facts import Facts, animals_in
from planner.judge.gates import Verdicts
from planner.judge.kinds import KINDS
from planner.plan.dated import (
    SCENARIOS,
    Scenario,
    StageSlot,
    is_repeating,
    latest_of,
    next_number,
    undescribed,
)
from planner.plan.daybook import Daybook
from planner.plan.gate_diary import GateDiary
from planner.plan.usable_days import HORIZON_DAYS
from planner.rulebook.nodes import Condition
from planner.rulebook.shapes import Rulebook, StageGuard, TaskRule, descendants
from planner.terms.records import Answer, Trace
from planner.terms.texts import TANK_FILE, joined, on_day, tank_key

if TYPE_CHECKING:  # the stocking rooms are loaded only where there is a wish list
    from planner.plan.stages import Clock, Judged, Sort, StagedAnimals, StockPlan
    from planner.stock.catalogue import Catalogue


class Datebook(Daybook):
    """Memoised dates of one plan. A class because the dates of tasks and gates call one another."""

    def __init__(self, rules: Rulebook, facts: Facts, verdicts: Verdicts, expectation: Expectation, until: date, catalogue: Catalogue | None = None, judged: Judged | None = None) -> None:
        super().__init__(rules, facts)
        self.verdicts, self.expectation, self.until = verdicts, expectation, until
        self.scene = Scene(facts, rules, verdicts.opened)
        self.phases = {p.phase: p for p in verdicts.phases}
        self.last_day = facts.on + timedelta(days=HORIZON_DAYS)
        self._gates: dict[tuple[str, Scenario], date | None] = {}
        self._starts: dict[tuple[str, Scenario], date | None] = {}
        self._tasks: dict[tuple[str, Scenario], date | None] = {}
        self._applies: dict[str, bool] = {}
        self._when: dict[str, Trace] = {}
        self._judged: dict[int, Trace] = {}
        self._behind: dict[str, frozenset[str]] = {}
        self.catalogue = catalogue
        self.judged_stock = judged
        self._stock: StockPlan | None = None
        self._slots: dict[str, tuple[StageSlot, ...]] = {}

    def judged(self, condition: Condition) -> Trace:
        """The condition's answer on the day of the plan, judged once."""
        if id(condition) not in self._judged:
            self._judged[id(condition)] = judge_condition(condition, self.scene)
        return self._judged[id(condition)]

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
        days += [self.plus(self.phase_start(p, s), wait) for p in rule.beside if p in self.phases]
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
            base = self.task_day(expect.after, s)
            if base is None:  # this tank has no such task: nothing to wait for
                base, wait = start, None
        days: list[date | None] = [start, self.plus(base, self.whole_days(wait))]
        if expect.milestone is not None and not animals_in(self.facts, "display"):
            days.append(self.milestone(expect.milestone, phase, s))
        if verdict.trace.answer != Answer.YES or verdict.lapsed:
            days += self.needed_days(rule.gate.opens_when, phase, s)
        found = latest_of([*days, self.facts.on])
        self._gates[phase, s] = found if found is None or found <= self.last_day else None
        return self._gates[phase, s]

    def why_never(self, phase: str) -> str:
        """Why a gate has no date: a key of the tank file that its rules need, else an earlier gate, else the horizon."""
        for before in self.phases[phase].after:
            if before in self.phases and self.gate_day(before, "likely") is None:
                return self.why_never(before)
        if phase == self.rules.phase_as("stocks_fish") and self._unwished("fish"):
            return "the wish list names no fish that can be kept here"
        key = next(undescribed(self.verdicts.gates[phase].trace), None)
        return joined("the ", TANK_FILE, " does not say ", tank_key(key)) if key else "no date within two years"

    def milestone(self, event: str, phase: str, s: Scenario) -> date | None:
        """A forecast event as a date: from the first ammonia if that is known, else from the expected start."""
        if (happened := self.expectation.happened.get(event)) is not None and event not in self.expectation.reopened:
            return happened
        offset = self.expectation.offsets[event][SCENARIOS.index(s)]
        proof = self.rules.phase_as("proves_filter")
        start = self.phase_start(proof if proof in self.phases else phase, s)
        origin = self.expectation.origin or (max(start, self.facts.on) if start is not None else None)
        return latest_of([self.plus(origin, offset) if origin is not None and offset is not None else None, self.facts.on])

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
        """A branch that the tank file excludes, or nobody counts on, cannot be a way to open the gate."""
        if condition.all is not None:
            return any(self._ruled_out(c, phase, s) for c in condition.all)
        if condition.not_ is not None:
            trace = self.judged(condition)
            return trace.context and trace.answer == Answer.NO
        leaf = condition.leaf
        return leaf is not None and KINDS[type(leaf)].is_no_way(leaf, self.judged(condition), GateDiary(self, phase, s))

    def next_test(self, names: tuple[str, ...], where: str, phase: str, s: Scenario, times: int, gap_days: int = 1) -> date | None:
        """The day of the next test of these names, or the last of `times` tests so many days apart."""
        found: list[date] = []
        # A phase that waits for this gate cannot hold the test that opens it.
        behind, wanted = self.behind(phase), set(names)
        for owner in (phase, *(p for p in self.phases if p != phase and p not in behind)):
            for rule in self.phases[owner].tasks:
                if rule.reads and rule.where == where and wanted.issubset(rule.reads) and rule.when is None and rule.per_stage is None and self.applies(rule, owner):
                    day = self.task_day(f"{owner}/{rule.id}", s)
                    if day is not None and not (rule.every is None and self.closed(f"{owner}/{rule.id}")):
                        found.append(day)
            if found:
                break
        if not found:
            found = [max(self.facts.on, self.phase_start(phase, s) or self.facts.on)]
        return self.plus(min(found), (times - 1) * gap_days)

    # --- tasks

    def applies(self, rule: TaskRule, owner: str) -> bool:
        key = f"{owner}/{rule.id}"
        if key not in self._applies:
            hangs_on = (rule.anchor.phase, rule.anchor.gate, rule.anchor.before) if rule.anchor is not None else ()
            # A task that hangs on a phase which this tank lacks is none of its tasks.
            self._applies[key] = owner in self.phases and all(p in self.phases for p in hangs_on if p) and (
                rule.only_when is None or self.judged(rule.only_when).answer == Answer.YES) and (
                rule.per_stage is None or self.has_stages(rule.per_stage)) and (
                rule.unless_stages is None or not (self.has_stages(rule.unless_stages) or self._unwished(rule.unless_stages)) or self._in_use(rule, key))
        return self._applies[key]

    def _in_use(self, rule: TaskRule, key: str) -> bool:
        """Ticked before the list was written, or the test that follows such a tick: it stays beside the stages."""
        if is_repeating(rule):
            return False
        follows = rule.role == "test" and rule.anchor is not None and rule.anchor.task is not None and self.closed(rule.anchor.task)
        return bool(self.closed(key) or follows)

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
        early = self.plus(gate, -self.wait(rule))
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
            return self.first_stage_day(rule.also_done_by, s) if rule.also_done_by else None
        if rule.per_stage is not None:
            return self.stage_day(key, s)
        done = self.closed(key)
        if done and rule.every is None and rule.when is None:
            day: date | None = done[-1][1].day
        else:
            day = self.projected(self.first_due(rule, owner, s), rule)
        self._tasks[key, s] = day
        return day

    def first_due(self, rule: TaskRule, owner: str, s: Scenario) -> date | None:
        """Due day of the next open occurrence, absences and postponements applied."""
        key = f"{owner}/{rule.id}"
        trace = self.when(rule, owner) if rule.when is not None else None
        done = self.closed(key)
        if trace is not None and trace.answer == Answer.YES and (rule.anchor is None or rule.anchor.milestone):
            day = self.plus(newest_day(trace) or self.facts.on, self.wait(rule))
        elif rule.anchor is not None and rule.anchor.before is not None:
            day = self.base_day(rule, owner, s)
        else:
            day = self.plus(self.base_day(rule, owner, s), self.wait(rule))
        if rule.not_before is not None and (before := self.not_before(rule.not_before, s)) is not None:
            day = latest_of([day, self.plus(before, self.whole_days(rule.not_before_wait))])
        if rule.every is not None:
            last = self.last_time(rule, key)
            if rule.from_ == "schedule" and done:
                base = day
                n = 0
                while day is not None and last is not None and day <= last and n < HORIZON_DAYS:
                    n += 1
                    day = self.step_on(base, rule, n)
            elif last is not None and rule.pace == "forecast":
                day = latest_of([day, self.plus(last, next_test_days(self.expectation, last, self.rules.days(rule.every)))])
            elif last is not None:
                day = latest_of([day, self.step_on(last, rule)])
        return self.allowed(self.postponed(key, next_number(done), day), rule)

    def not_before(self, key: str, s: Scenario) -> date | None:
        """The day of another task that this one follows, too; None once its phase is over without a tick of it."""
        owner = key.partition("/")[0]
        if owner not in self.phases or (self.verdicts.gates[owner].opened is not None and not self.closed(key)):
            return None
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
        if owner not in self.verdicts.started:
            shut = [p for p in self.phases[owner].after if p in self.phases and self.verdicts.gates[p].opened is None]
            return shut[0] if shut else owner
        if anchor is not None and anchor.task is not None and anchor.task.partition("/")[0] in self.phases:
            before = self.rules.tasks.get(anchor.task)
            if before is not None and not self.closed(anchor.task.partition("#")[0]) and anchor.task.partition("/")[0] != owner:
                return self.tentative(before, anchor.task.partition("/")[0])
        return ""

    def has_stages(self, sort: Sort) -> bool:
        """Does the list name animals of this sort that can be kept? Looks at no date: gates may ask."""
        return self.judged_stock is not None and sort in self.judged_stock.sorts

    def _unwished(self, sort: Sort) -> bool:
        """A list that names animals, but no fish or coral that can be kept, plans none."""
        return sort != "crew" and self.judged_stock is not None and self.judged_stock.named and sort not in self.judged_stock.sorts

    def stock(self) -> StockPlan:
        if self._stock is None:
            from planner.plan.stages import stage_stock

            assert self.judged_stock is not None and self.catalogue is not None
            self._stock = stage_stock(self.judged_stock, self.facts, self.rules, self.catalogue,
                                      (self._clock("quick"), self._clock("likely"), self._clock("slow")), self.stage_gap())
        return self._stock

    def stage_gap(self) -> int:
        assert self.catalogue is not None
        return max(int(self.catalogue.figures.value("stage_gap")), self.rules.days("stock_gap") if "stock_gap" in self.rules.numbers else 0)

    def _clock(self, s: Scenario) -> Clock:
        from planner.plan.stages import Clock

        floors: dict[Sort, date | None] = {}
        groups: dict[str, date | None] = {}
        why: dict[Sort, str] = {}
        for phase in self.verdicts.phases:
            for rule in phase.tasks:
                if rule.per_stage is not None and not (rule.anchor and rule.anchor.task):
                    key = f"{phase.phase}/{rule.id}"
                    behind = self.closed(key)
                    by_rule = self.plus(self.base_day(rule, phase.phase, s), self.wait(rule))
                    after = latest_of([by_rule, *(self.plus(row.day, self.stage_gap()) for _, row in behind[-1:] if row.kind == "skipped")])
                    floors[rule.per_stage] = put_off = self.postponed(key, next_number(behind), after)
                    if put_off != after and put_off is not None:
                        why[rule.per_stage] = joined("the next stage was put off to ", on_day(put_off))
                    elif after != by_rule:
                        why[rule.per_stage] = f"the stage before was left out, and {self.stage_gap()} days lie after it all the same"
                    for guard in (g for g in rule.guards if g.task is not None):
                        ready = self.guard_day(guard, s)
                        groups |= {name: latest_of([groups.get(name, ready), ready]) for name in guard.groups}
        gate = self.gate_day(self.rules.phase_as("opens_to_animals"), s)
        fill = self.gate_day(self.rules.phase_as("fills_tank"), s) or self.facts.on
        apart = self.rules.phase_as("quarantine")
        ready = self.facts.on
        if self.judged_stock is not None and self.judged_stock.arrivals.in_quarantine_since is not None:
            ready = self.judged_stock.arrivals.in_quarantine_since
        elif apart in self.phases:
            ready = max(self.facts.on, self.gate_day(apart, s) or self.facts.on)
        return Clock(gate, fill, ready, (floors.get("fish", gate), floors.get("corals", gate), floors.get("crew", gate)), tuple(sorted(groups.items())),
                     (why.get("fish", ""), why.get("corals", ""), why.get("crew", "")))

    def guard_day(self, guard: StageGuard, s: Scenario) -> date | None:
        """When a guard of a stage is expected to be satisfied, if a task of the rules says so."""
        assert guard.task is not None
        return self.plus(self.base_day(self.rules.tasks[guard.task], guard.task.partition("/")[0], s), self.wait(self.rules.tasks[guard.task]))

    def slots(self, key: str) -> tuple[StageSlot, ...]:
        """Every occurrence of a task per stage, those behind first. An open stage is never within the gap after the one
        before it, done or skipped; a late one slides those that follow."""
        if key in self._slots:
            return self._slots[key]
        rule, owner = self.rules.tasks[key], key.partition("/")[0]
        assert rule.per_stage is not None
        found = [StageSlot(n, row, None, row.day, dict.fromkeys(SCENARIOS, row.day), "", ()) for n, row in self.closed(key)]
        used = {n for n, _ in self.closed(key)}
        before: dict[Scenario, date | None] = dict.fromkeys(SCENARIOS, found[-1].days["likely"] if found else None)
        depends, n = self.tentative(rule, owner), 0
        for stage in (x for x in self.stock().staged if x.sort == rule.per_stage):
            n = next(k for k in range(n + 1, n + len(used) + 2) if k not in used)
            guarded = [g for g in rule.guards if any(a.group in g.groups for a in stage.animals)]
            dues: dict[Scenario, date | None] = {}
            for k, s in enumerate(SCENARIOS):
                bounds = [stage.days[k], *(self.guard_day(g, s) for g in guarded if g.task is not None)]
                bounds += [self.plus(before[s], self.stage_gap())] if before[s] is not None else []
                dues[s] = self.allowed(self.postponed(key, n, latest_of(bounds)), rule)
                before[s] = self.projected(dues[s], rule) or before[s]
            # A stage that could have come before today is late by its causes, and stands on the first day that is left.
            due = stage.due if dues["likely"] == stage.days[1] else dues["likely"]
            found.append(StageSlot(n, None, stage, due, {s: self.projected(dues[s], rule) for s in SCENARIOS}, depends, self._guarded(guarded), self._entries(stage, dues)))
        self._slots[key] = tuple(found)
        return self._slots[key]

    def _entries(self, stage: StagedAnimals, dues: dict[Scenario, date | None]) -> dict[Scenario, date | None]:
        """When the stage's fish enter quarantine: as staged, later by as much as the stage itself was put off."""
        found: dict[Scenario, date | None] = {}
        for k, s in enumerate(SCENARIOS):
            entry, day, due = stage.entries[k], stage.days[k], dues[s]
            found[s] = self.plus(entry, (due - day).days) if entry is not None and day is not None and due is not None else None
        return found

    def _guarded(self, guards: list[StageGuard]) -> tuple[Trace, ...]:
        """What the guards of a stage still wait for; empty if they are all satisfied."""
        missing: list[Trace] = []
        for guard in guards:
            if guard.task is not None:
                trace = self.when(self.rules.tasks[guard.task], guard.task.partition("/")[0])
            else:
                assert guard.when is not None
                trace = self.judged(guard.when)
            if trace.answer != Answer.YES:
                missing += [p for p in (trace.parts or (trace,)) if p.answer != Answer.YES]
        return tuple(dict.fromkeys(missing))

    def stage_day(self, key: str, s: Scenario) -> date | None:
        """The day of the last stage done, else of the first one to come."""
        template = self.template_of(key)
        wait = 0 if template == key else self.wait(self.rules.tasks[key])
        done = [x for x in self.slots(template) if x.closed is not None and x.closed.kind == "done"]
        slot = done[-1] if done else next((x for x in self.slots(template) if x.closed is None), None)
        return self.plus(slot.days[s], wait) if slot is not None else None

    def first_stage_day(self, id: str, s: Scenario) -> date | None:
        key, _, number = id.partition("#")
        rule = self.rules.tasks.get(key)
        if rule is None or not self.applies(rule, key.partition("/")[0]):
            return None
        found = next((x for x in self.slots(self.template_of(key)) if str(x.number) == number), None)
        return (found.entries.get(s) if rule.on_entry else found.days[s]) if found is not None else None

    def template_of(self, key: str) -> str:
        anchor = self.rules.tasks[key].anchor
        return anchor.task if anchor is not None and anchor.task is not None else key
