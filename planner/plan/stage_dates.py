"""The dates of what comes stage by stage: the stages of the wish list on days, and the tasks that belong to each of them."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from functools import cached_property
from typing import TYPE_CHECKING

from planner.judge.facts import animals_in, end_of_day, last_meal, view_at
from planner.judge.gates import verdicts_at
from planner.plan.dues import SCENARIOS, Scenario, StageSlot, latest_of, next_number
from planner.rulebook.task_rule import StageGuard
from planner.terms.causes import Cause, cause
from planner.terms.records import Answer, Trace
from planner.terms.texts import on_day

if TYPE_CHECKING:  # the stocking rooms are loaded only where there is a wish list
    from planner.plan.dates import Dates
    from planner.plan.stage_records import Clock, Judged, Sort, StagedAnimals, StockPlan
    from planner.stock.catalogue import Catalogue


class StageDates:
    """Memoised stages of one plan. `dates` has the gates and tasks that they hang on."""

    def __init__(self, dates: Dates, catalogue: Catalogue | None, judged: Judged | None) -> None:
        self.dates, self.catalogue, self.judged = dates, catalogue, judged
        self._stock: StockPlan | None = None
        self._slots: dict[str, tuple[StageSlot, ...]] = {}

    def has_stages(self, sort: Sort) -> bool:
        """Does the list name animals of this sort that can be kept? Looks at no date: gates may ask."""
        return self.judged is not None and sort in self.judged.sorts

    def unwished(self, sort: Sort) -> bool:
        """A list that names animals, but no fish or coral that can be kept, plans none."""
        return sort != "crew" and self.judged is not None and self.judged.named and sort not in self.judged.sorts

    @cached_property
    def unplanned_in_quarantine(self) -> bool:
        """An animal is in the quarantine tank that is none of the list."""
        if self.judged is None:
            return False
        wanted = {w.animal_id for w in self.judged.wanted}
        found = {c.animal_id for c in self.judged.arrivals.in_quarantine} - wanted
        return bool(found) or (self.unwished("fish") and bool(animals_in(self.dates.facts, "quarantine")))

    def stock(self) -> StockPlan:
        if self._stock is None:
            from planner.plan.stages import stage_stock

            assert self.judged is not None and self.catalogue is not None
            self._stock = stage_stock(self.judged, self.dates.facts, self.dates.rules, self.catalogue,
                                      (self._clock("quick"), self._clock("likely"), self._clock("slow")), self.stage_gap(), self._standing())
        return self._stock

    def _standing(self) -> tuple[frozenset[str], date] | None:
        """The next stage, by the rows up to the day on which its way was cleared: by the gate to animals, or by whatever came in, was
        lost, left out or put off since. Later rows put it off alone. Before that, and on that day, nothing stands."""
        from planner.plan.dates import Dates
        from planner.plan.stages import judge_stock, next_stage

        dates = self.dates
        assert self.catalogue is not None
        opened = dates.verdicts.opened.get(dates.rules.phase_as("opens_to_animals"))
        rows = [r for kind in ("added", "moved", "lost") for r in dates.facts.rows(kind)]
        rows += [r for key, rule in dates.rules.tasks.items() if rule.role == "animals" for kind in ("done", "skipped", "postponed") for r in dates.facts.rows(kind, key)]
        cleared = max([opened[0], *(r.day for r in rows)]) if opened is not None else None
        if cleared is None or cleared >= dates.facts.on:
            return None
        evening = (cleared, end_of_day(cleared, dates.facts.zone))
        then = replace(view_at(dates.facts, evening), on=cleared)
        judged = judge_stock(then, dates.rules, self.catalogue)
        past = Dates(dates.rules, then, verdicts_at(dates.verdicts, then, dates.rules, evening), dates.expectation, dates.until, self.catalogue, judged, dates.kept)
        return next_stage(judged, then, dates.rules, self.catalogue, past.stages._clock("likely"), self.stage_gap())

    def stage_gap(self) -> int:
        assert self.catalogue is not None
        return max(int(self.catalogue.figures.value("stage_gap")), self.dates.rules.days("stock_gap") if "stock_gap" in self.dates.rules.numbers else 0)

    def _clock(self, s: Scenario) -> Clock:
        from planner.plan.stage_records import Clock

        floors: dict[Sort, date | None] = {}
        groups: dict[str, date | None] = {}
        why: dict[Sort, Cause] = {}
        fed = self._after_ammonia()
        for phase in self.dates.verdicts.phases:
            for rule in phase.tasks:
                if rule.per_stage is not None and not (rule.anchor and rule.anchor.task):
                    key = f"{phase.phase}/{rule.id}"
                    behind = self.dates.days.closed(key)
                    by_rule = self.dates.days.plus(self.dates.base_day(rule, phase.phase, s), self.dates.days.wait(rule))
                    after = latest_of([by_rule, *(self.dates.days.plus(row.day, self.stage_gap()) for _, row in behind[-1:] if row.kind == "skipped")])
                    floors[rule.per_stage] = put_off = self.dates.days.postponed(key, next_number(behind), after)
                    if put_off != after and put_off is not None:
                        why[rule.per_stage] = cause("put_off", day=on_day(put_off))
                    elif after != by_rule:
                        why[rule.per_stage] = cause("left_out_before", days=self.stage_gap())
                    if fed is not None and (put_off is None or put_off < fed):
                        floors[rule.per_stage] = put_off = fed
                        why[rule.per_stage] = cause("ammonia_before", day=on_day(fed))
                    if rule.per_stage == "fish" and not self.has_stages("crew"):  # the crew that no list names comes first, too
                        crew = self.dates.gate_day(self.dates.rules.phase_as("stocks_crew"), s)
                        floors["fish"] = latest_of([put_off, crew]) if crew is not None else put_off
                    for guard in rule.guards:
                        ready = self.guard_day(guard, phase.phase, s)
                        groups |= {name: latest_of([groups.get(name, ready), ready]) for name in guard.groups}
        gate = self.dates.gate_day(self.dates.rules.phase_as("opens_to_animals"), s)
        fill = self.dates.gate_day(self.dates.rules.phase_as("fills_tank"), s) or self.dates.facts.on
        apart = self.dates.rules.phase_as("quarantine")
        ready = self.dates.facts.on
        if self.judged is not None and self.judged.arrivals.in_quarantine_since is not None:
            ready = self.judged.arrivals.in_quarantine_since
        elif apart in self.dates.phases:
            ready = max(self.dates.facts.on, self.dates.gate_day(apart, s) or self.dates.facts.on)
        return Clock(gate, fill, ready, (floors.get("fish", gate), floors.get("corals", gate), floors.get("crew", gate)), tuple(sorted(groups.items())),
                     (why.get("fish"), why.get("corals"), why.get("crew")))

    def _after_ammonia(self) -> date | None:
        """No animal comes so soon after the last ammonia: what the journal shows moves the next stage, and with it those behind it."""
        rules, fed = self.dates.rules, last_meal(self.dates.facts)
        apart = max((rules.days(line.after) for line in rules.apart if line.after and "adds_ammonia" in line.first and "adds_animals" in line.yields), default=0)
        return fed + timedelta(days=apart) if fed is not None and apart else None

    def guard_day(self, guard: StageGuard, owner: str, s: Scenario) -> date | None:
        """When a guard of a stage is expected to be satisfied. What the journal shows already was so on the day of the phase."""
        if guard.when is not None:
            start = self.dates.phase_start(owner, s)
            if guard.wait is None or self.dates.judged(guard.when).answer == Answer.YES:
                return start
            given_up = guard.late is not None and self.dates.verdicts.gates[owner].opened is not None
            return self.dates.days.plus(self.dates.facts.on, self.dates.days.whole_days(guard.late)) if given_up else self.dates.days.still_to_come(start, guard.wait)
        assert guard.task is not None
        rule, phase = self.dates.rules.tasks[guard.task], guard.task.partition("/")[0]
        tested = self.dates.needed_days(rule.when, phase, s) if rule.when is not None else []
        return latest_of([self.dates.days.plus(self.dates.base_day(rule, phase, s), self.dates.days.wait(rule)), *tested])

    def slots(self, key: str) -> tuple[StageSlot, ...]:
        """Every occurrence of a task per stage, those behind first. An open stage is never within the gap after the one
        before it, done or skipped; a late one slides those that follow."""
        if key in self._slots:
            return self._slots[key]
        rule, owner = self.dates.rules.tasks[key], key.partition("/")[0]
        assert rule.per_stage is not None
        found = [StageSlot(n, row, None, row.day, dict.fromkeys(SCENARIOS, row.day), "", ()) for n, row in self.dates.days.closed(key)]
        used = {n for n, _ in self.dates.days.closed(key)}
        before: dict[Scenario, date | None] = dict.fromkeys(SCENARIOS, found[-1].days["likely"] if found else None)
        depends, n = self.dates.tentative(rule, owner), 0
        for stage in (x for x in self.stock().staged if x.sort == rule.per_stage):
            n = next(k for k in range(n + 1, n + len(used) + 2) if k not in used)
            guarded = [g for g in rule.guards if any(a.group in g.groups for a in stage.animals)]
            dues: dict[Scenario, date | None] = {}
            for k, s in enumerate(SCENARIOS):
                bounds = [stage.days[k], *(self.guard_day(g, owner, s) for g in guarded)]
                bounds += [self.dates.days.plus(before[s], self.stage_gap())] if before[s] is not None else []
                dues[s] = self.dates.days.allowed(self.dates.days.postponed(key, n, latest_of(bounds)), rule)
                before[s] = self.dates.days.projected(dues[s], rule) or before[s]
            # A stage that could have come before today is late by its causes, and stands on the first day that is left.
            due = stage.due if dues["likely"] == stage.days[1] else dues["likely"]
            found.append(StageSlot(n, None, stage, due, {s: self.dates.days.projected(dues[s], rule) for s in SCENARIOS}, depends, self._guarded(guarded), self._entries(stage, dues)))
        self._slots[key] = tuple(found)
        return self._slots[key]

    def _entries(self, stage: StagedAnimals, dues: dict[Scenario, date | None]) -> dict[Scenario, date | None]:
        """When the stage's fish enter quarantine: as staged, later by as much as the stage itself was put off."""
        found: dict[Scenario, date | None] = {}
        for k, s in enumerate(SCENARIOS):
            entry, day, due = stage.entries[k], stage.days[k], dues[s]
            found[s] = self.dates.days.plus(entry, (due - day).days) if entry is not None and day is not None and due is not None else None
        return found

    def _guarded(self, guards: list[StageGuard]) -> tuple[Trace, ...]:
        """What the guards of a stage still wait for, each once."""
        missing: list[Trace] = []
        for guard in guards:
            if guard.task is not None:
                trace = self.dates.when(self.dates.rules.tasks[guard.task], guard.task.partition("/")[0])
            else:
                assert guard.when is not None
                trace = self.dates.judged(guard.when)
            if trace.answer != Answer.YES:
                missing += [p for p in (trace.parts or (trace,)) if p.answer != Answer.YES]
        return tuple(dict.fromkeys(missing))

    def days(self, s: Scenario) -> set[date | None]:
        """The days on which stages of the list are still to come into the display."""
        if self.judged is None:
            return set()
        keys = [key for key, rule in self.dates.rules.tasks.items() if rule.per_stage is not None and rule.role == "animals" and rule.where == "display" and not rule.on_entry
                and self.template_of(key) == key and self.dates.applies(rule, key.partition("/")[0])]
        return {slot.days[s] for key in keys for slot in self.slots(key) if slot.closed is None}

    def stage_day(self, key: str, s: Scenario) -> date | None:
        """The day of the last stage done, else of the first one to come."""
        template = self.template_of(key)
        wait = 0 if template == key else self.dates.days.wait(self.dates.rules.tasks[key])
        done = [x for x in self.slots(template) if x.closed is not None and x.closed.kind == "done"]
        slot = done[-1] if done else next((x for x in self.slots(template) if x.closed is None), None)
        return self.dates.days.plus(slot.days[s], wait) if slot is not None else None

    def first_stage_day(self, id: str, s: Scenario) -> date | None:
        key, _, number = id.partition("#")
        rule = self.dates.rules.tasks.get(key)
        if rule is None or rule.per_stage is None or not self.dates.applies(rule, key.partition("/")[0]):
            return None
        found = next((x for x in self.slots(self.template_of(key)) if str(x.number) == number), None)
        return (found.entries.get(s) if rule.on_entry else found.days[s]) if found is not None else None

    def template_of(self, key: str) -> str:
        anchor = self.dates.rules.tasks[key].anchor
        return anchor.task if anchor is not None and anchor.task is not None else key
