"""Dates: each task and gate in three scenarios (quick, likely, slow), carried through the graph.

`due` comes from causes alone; `projected` is never before the day of the plan. Dependents use projected dates, so a
late task slides what depends on it. Nothing here opens a gate: a shut gate has an expected date, and what stands
behind it is tentative.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from typing import TYPE_CHECKING

from planner.judge.conditions import judge_condition, newest_day
from planner.judge.cycle_expected import Expectation
from planner.judge.facts import Facts
from planner.judge.gates import Verdicts
from planner.plan.dated import (
    AHEAD_DAYS,
    SCENARIOS,
    Due,
    Dues,
    closings,
    covers,
    day_of_slot,
    is_repeating,
    latest_of,
    next_number,
    ordered,
)
from planner.plan.dates import Datebook
from planner.rulebook.shapes import Rulebook, TaskRule
from planner.terms.records import Answer, Trace, Window
from planner.terms.traces import Repetitions

if TYPE_CHECKING:  # the stocking rooms are loaded only where there is a wish list
    from planner.plan.stages import Judged
    from planner.stock.catalogue import Catalogue


def schedule(rules: Rulebook, facts: Facts, verdicts: Verdicts, expectation: Expectation, until: date | None = None,
             catalogue: Catalogue | None = None, judged: Judged | None = None) -> Dues:
    """Date every task of every phase that this tank has, and of every alert that is up. Repeating tasks appear
    until `until` (default: twelve weeks ahead). With a catalogue the tasks per stage carry the wish list."""
    book = Occurrences(rules, facts, verdicts, expectation, until or facts.on + timedelta(days=AHEAD_DAYS), catalogue, judged)
    gates = {p.phase: Window(*(book.gate_day(p.phase, s) for s in SCENARIOS)) for p in verdicts.phases}
    starts = {p.phase: Window(*(book.phase_start(p.phase, s) for s in SCENARIOS)) for p in verdicts.phases}
    tasks: list[Due] = []
    for phase in verdicts.phases:
        for rule in phase.tasks:
            tasks += book.occurrences(rule, phase.phase)
    for alert, trace in verdicts.alerts:
        for rule in alert.tasks:
            tasks += book.alert_task(rule, alert.alert, trace)
    reasons = {p: book.why_never(p) for p, w in gates.items() if w.likely is None}
    return Dues(tuple(tasks), gates, starts, reasons, book.stock() if book.judged_stock is not None else None)


class Occurrences(Datebook):
    """Every occurrence of every task, from the dates of the book."""

    def occurrences(self, rule: TaskRule, owner: str) -> Iterator[Due]:
        if not self.applies(rule, owner):
            return
        key = f"{owner}/{rule.id}"
        if rule.per_stage is not None:
            yield from self.entry_occurrences(rule, owner) if rule.on_entry else self.stage_occurrences(rule, owner)
            return
        done = self.closed(key)
        numbered = is_repeating(rule)
        if done:
            n, row = done[-1]
            yield Due(rule, owner, n if numbered else 1, numbered, row.day, Window(row.day, row.day, row.day), False, row, None, "")
            if not numbered:
                return
        until = rule.until or owner
        # A remedy is wanted whenever its condition turns up; the rest of what repeats ends with its gate.
        ends = rule.until is not None or (rule.role != "remedy" and (rule.every is not None or rule.when is not None))
        if ends and owner != self.rules.phase_as("without_end") and until in self.phases and self.verdicts.gates[until].opened is not None:
            return
        if self.left_behind(rule, owner) or (rule.unless is not None and self.judged(rule.unless).answer == Answer.YES):
            return
        trace = self.when(rule, owner) if rule.when is not None else None
        if trace is not None:
            yes = trace.answer == Answer.YES
            if not yes and not (rule.anchor is not None and rule.anchor.milestone and self.verdicts.gates[owner].opened is None):
                return
            if yes and rule.every is None and done and covers(done[-1][1], trace):
                return
            if self.verdicts.gates[owner].opened is not None and rule.anchor is not None and rule.anchor.milestone and rule.every is None:
                return
        elif rule.every is None and (self.verdicts.gates[owner].on_word or (rule.role == "test" and self.answered(rule, owner))):
            return
        depends = self.tentative(rule, owner)
        dues = {s: self.first_due(rule, owner, s) for s in SCENARIOS}
        days = {s: self.projected(dues[s], rule) for s in SCENARIOS}
        used = {n for n, _ in done}
        n = next_number(done)
        yield Due(rule, owner, n, numbered, dues["likely"], ordered(days), bool(depends), None, trace, depends)
        if rule.every is None or trace is not None:
            return
        end = min(self.until, self.gate_day(until, "likely") or self.until) if owner != self.rules.phase_as("without_end") and until in self.phases else self.until
        while True:
            n += 1
            if n in used:
                continue
            after = {day: self.allowed(self.step_on(day, rule), rule) for day in set(days.values())}
            days = {s: after[days[s]] for s in SCENARIOS}
            if days["likely"] is None or days["likely"] > end:
                return
            yield Due(rule, owner, n, True, days["likely"], ordered(days), bool(depends), None, None, depends)

    def left_behind(self, rule: TaskRule, owner: str) -> bool:
        """A step that was never ticked although the plan has gone on past it: its gate is open and so is one of ours behind it.
        Buying is forgotten once the tank runs. Remedies, chores and animals are not forgotten."""
        elsewhere = rule.anchor is not None and (rule.anchor.gate is not None or rule.anchor.phase not in (None, owner))
        if elsewhere or rule.every is not None or rule.role not in ("step", "test", "shopping") or self.verdicts.gates[owner].opened is None:
            return False
        if rule.role == "shopping":
            return self.rules.phase_as("runs_tank") in self.verdicts.opened
        return any(p in self.verdicts.opened for p in self.behind(owner) - self.rules.own_phases)

    def answered(self, rule: TaskRule, owner: str) -> bool:
        """A single test that needs no tick any more: its gate is open, or its readings came in on or after its day."""
        if self.verdicts.gates[owner].opened is not None:
            return True
        read = self.read_on(rule)
        due = self.first_due(rule, owner, "likely")
        return bool(read and due is not None and owner in self.verdicts.started and read[0] >= due)

    # --- stages of the wish list

    def stage_occurrences(self, rule: TaskRule, owner: str) -> Iterator[Due]:
        """The stages themselves, or what hangs on each of them by its number."""
        key = f"{owner}/{rule.id}"
        template = self.template_of(key)
        slots = self.slots(template)
        # A test before a stage that then slid says nothing of the new day: it is open again.
        stale = {x.number for x in slots if template != key and rule.wait is None and rule.ahead is None and x.closed is None}
        mine = {n: row for n, row in self.closed(key) if n not in stale or row.day >= (day_of_slot(slots, n) or row.day)}
        if mine:
            n, row = list(mine.items())[-1]
            yield Due(rule, owner, n, True, row.day, Window(row.day, row.day, row.day), False, row, None, "")
        last_done = next((x for x in reversed(slots) if x.closed is not None and x.closed.kind == "done"), None)
        for slot in slots:
            if slot.number in mine or (slot.closed is not None and (template == key or slot is not last_done)):
                continue
            if slot.closed is not None and rule.wait is None:  # what comes before a stage is too late after it
                continue
            if template == key:
                due, days = slot.due, slot.days
            else:
                shift = self.wait(rule) - self.whole_days(rule.ahead)
                due = self.allowed(self.plus(slot.due if slot.closed is not None else slot.days["likely"], shift), rule)
                days = {s: self.projected(self.plus(slot.days[s], shift), rule) for s in SCENARIOS}
            yield Due(rule, owner, slot.number, True, due, ordered(days), bool(slot.depends or slot.waits_for), None, None, slot.depends, slot.stage, slot.waits_for)

    def entry_occurrences(self, rule: TaskRule, owner: str) -> Iterator[Due]:
        """What belongs to the day on which the fish of a stage enter quarantine; nothing once they are in."""
        assert self.judged_stock is not None
        key = f"{owner}/{rule.id}"
        closed = dict(self.closed(key))
        if closed:
            n, row = list(closed.items())[-1]
            yield Due(rule, owner, n, True, row.day, Window(row.day, row.day, row.day), False, row, None, "")
        there = {c.animal_id for c in self.judged_stock.arrivals.in_quarantine}
        depends = "" if self.verdicts.gates[owner].opened is not None else owner
        for slot in self.slots(self.template_of(key)):
            if slot.stage is None or slot.number in closed or not any(slot.entries.values()) or all(a.animal_id in there for a in slot.stage.animals):
                continue
            dues = {s: self.allowed(self.postponed(key, slot.number, self.plus(slot.entries[s], -self.whole_days(rule.ahead))), rule) for s in SCENARIOS}
            days = {s: self.projected(dues[s], rule) for s in SCENARIOS}
            yield Due(rule, owner, slot.number, True, dues["likely"], ordered(days), bool(depends), None, None, depends, slot.stage)

    def alert_task(self, rule: TaskRule, alert: str, trace: Trace) -> Iterator[Due]:
        """A remedy of an alert that is up: due on the day of its evidence, again for every new piece of evidence."""
        key = f"{alert}/{rule.id}"
        if rule.role == "remedy" and isinstance(trace.gap, Repetitions):
            return  # clear once: a second test ends it, and there is nothing left to bring down
        if rule.only_when is not None and judge_condition(rule.only_when, self.scene).answer != Answer.YES:
            return
        if rule.when is not None and judge_condition(rule.when, self.scene).answer != Answer.YES:
            return
        done = self.closed(key)
        doses = rule.writes is not None and rule.writes.kind == "dosed"
        if done and ((rule.every is None or doses) and covers(done[-1][1], trace)):
            n, row = done[-1]
            yield Due(rule, alert, n, True, row.day, Window(row.day, row.day, row.day), False, row, trace, "")
            return
        if doses and (trace.kept or self.dosed_since(rule, trace)):
            return  # what was dosed last is not measured yet: a test comes first
        due = self.plus(newest_day(trace) or self.facts.on, self.wait(rule))
        if done and rule.every is not None:
            due = latest_of([due, self.step_on(done[-1][1].day, rule)])
        day = self.projected(due, rule)
        n = max((n for n, _ in done), default=0) + 1
        yield Due(rule, alert, n, True, due, Window(day, day, day), False, None, trace, "")

    def dosed_since(self, rule: TaskRule, trace: Trace) -> bool:
        """Was the substance given after the newest evidence that asks for it?"""
        assert rule.writes is not None
        row = self.facts.last(rule.writes.kind, rule.writes.what)
        return row is not None and covers(row, trace)


__all__ = ["AHEAD_DAYS", "SCENARIOS", "Due", "Dues", "closings", "is_repeating", "next_number", "schedule"]
