"""Dates: each task and gate in three scenarios (quick, likely, slow), carried through the graph.

`due` comes from causes alone; `projected` is never before the day of the plan. Dependents use projected dates, so a
late task slides what depends on it. Nothing here opens a gate: a shut gate has an expected date, and what stands
behind it is tentative.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from typing import TYPE_CHECKING

from planner.files.kept import Kept
from planner.judge.conditions import holds_once_done, judge_condition, newest_day
from planner.judge.cycle_expected import Expectation
from planner.judge.facts import Facts
from planner.judge.figures import quantity
from planner.judge.gates import Verdicts
from planner.judge.kinds import KINDS
from planner.plan.alarm_days import cannot_tell, changed_since, dosed_since, rest_missing, tested_after_change, tested_at_once
from planner.plan.arrival_days import let_pass
from planner.plan.dates import Dates
from planner.plan.dues import AHEAD_DAYS, SCENARIOS, Due, Dues, closings, covers, day_of_slot, is_repeating, latest_of, next_number, ordered, undescribed
from planner.plan.seen_days import answered
from planner.rulebook.endings import ended_by_tick
from planner.rulebook.kinds.event import EventNode
from planner.rulebook.shapes import Rulebook
from planner.rulebook.task_rule import TaskRule
from planner.rulebook.walk import inside
from planner.terms.causes import Cause, cause
from planner.terms.records import Answer, Trace, Window
from planner.terms.texts import tank_key
from planner.terms.traces import Repetitions

if TYPE_CHECKING:  # the stocking rooms are loaded only where there is a wish list
    from planner.plan.stage_records import Judged
    from planner.stock.catalogue import Catalogue


def schedule(rules: Rulebook, facts: Facts, verdicts: Verdicts, expectation: Expectation, until: date | None = None,
             catalogue: Catalogue | None = None, judged: Judged | None = None, kept: Kept | None = None) -> Dues:
    """Date every task of every phase that this tank has, and of every alert that is up. Repeating tasks appear
    until `until` (default: twelve weeks ahead). With a catalogue the tasks per stage carry the wish list."""
    dates = Dates(rules, facts, verdicts, expectation, until or facts.on + timedelta(days=AHEAD_DAYS), catalogue, judged, kept)
    gates = {p.phase: ordered({s: dates.gate_day(p.phase, s) for s in SCENARIOS}) for p in verdicts.phases}
    starts = {p.phase: ordered({s: dates.phase_start(p.phase, s) for s in SCENARIOS}) for p in verdicts.phases}
    tasks: list[Due] = []
    for phase in verdicts.phases:
        for rule in phase.tasks:
            tasks += _occurrences(dates, rule, phase.phase)
    for alert, trace in verdicts.alerts:
        for rule in alert.tasks:
            tasks += _alert_task(dates, rule, alert.alert, trace)
    reasons = {p: _why_never(dates, p) for p, w in gates.items() if w.likely is None}
    left_out = frozenset(f"{phase.phase}/{rule.id}" for phase in verdicts.phases for rule in phase.tasks if not dates.applies(rule, phase.phase))
    return Dues(tuple(tasks), gates, starts, reasons, dates.stages.stock() if dates.stages.judged is not None else None, left_out, dates.first_ammonia(rules.phase_as("proves_filter"), "likely"))


def _why_never(dates: Dates, phase: str) -> Cause:
    """Why a gate has no date: a key of the tank file that its rules need, else an earlier gate, else the horizon."""
    for before in dates.phases[phase].after:
        if before in dates.phases and dates.gate_day(before, "likely") is None:
            return _why_never(dates, before)
    if phase == dates.rules.phase_as("stocks_fish") and dates.stages.unwished("fish"):
        return cause("no_fish_wished")
    key = next(undescribed(dates.verdicts.gates[phase].trace), None)
    return cause("undescribed", key=tank_key(key)) if key else cause("beyond_horizon")


def _occurrences(dates: Dates, rule: TaskRule, owner: str) -> Iterator[Due]:
    if not dates.applies(rule, owner):
        return
    key = f"{owner}/{rule.id}"
    if rule.per_stage is not None:
        yield from _entry_occurrences(dates, rule, owner) if rule.on_entry else _stage_occurrences(dates, rule, owner)
        return
    done = dates.days.closed(key)
    numbered = is_repeating(rule)
    if done:
        n, row = done[-1]
        yield Due(rule, owner, n if numbered else 1, numbered, row.day, Window(row.day, row.day, row.day), False, row, None, "")
        if not numbered:
            return
    if dates.is_over(rule, owner):
        return
    most = dates.days.most_times(rule)
    if most is not None and len(done) >= most:
        return
    if _left_behind(dates, rule, owner) or _nothing_came(dates, rule) or (rule.unless is not None and dates.judged(rule.unless).answer == Answer.YES):
        return
    trace, foretold = dates.when(rule, owner) if rule.when is not None else None, False
    if trace is not None:
        yes = trace.answer == Answer.YES
        foretold = not yes and _waits_for_batches(dates, rule, owner)
        if not yes and not foretold and not (rule.anchor is not None and rule.anchor.milestone and dates.verdicts.gates[owner].opened is None):
            return
        if yes and rule.every is None and done and covers(done[-1][1], trace) and not _says_itself(rule, key):
            return
        if dates.verdicts.gates[owner].opened is not None and rule.anchor is not None and rule.anchor.milestone and rule.every is None:
            return
    elif (rule.every is None or (most is not None and dates.verdicts.gates[owner].on_word)) and (dates.verdicts.gates[owner].on_word or (rule.role == "test" and answered(dates, rule, owner))):
        return
    depends = dates.tentative(rule, owner)
    dues = {s: dates.first_due(rule, owner, s) for s in SCENARIOS}
    if let_pass(dates, rule, owner):
        return
    if foretold:
        dues = {s: latest_of([day, dates.facts.on + timedelta(days=1)]) for s, day in dues.items()}
    days = {s: dates.days.projected(dues[s], rule) for s in SCENARIOS}
    used = {n for n, _ in done}
    n = next_number(done)
    yield Due(rule, owner, n, numbered, dues["likely"], ordered(days), bool(depends) or foretold, None, trace, depends, awaits=dates.awaited.get(key, ()) if depends else ())
    if rule.every is None or trace is not None:
        return
    # Of a counted series the later ones wait for one that is late: their days move with it.
    waits = most is not None and dues["likely"] is not None and dues["likely"] < dates.facts.on
    until = rule.until or owner
    end = min(dates.until, dates.gate_day(until, "likely") or dates.until) if owner != dates.rules.phase_as("without_end") and until in dates.phases else dates.until
    while True:
        n += 1
        if n in used:
            continue
        if most is not None and n > most:
            return
        after = {day: dates.days.allowed(dates.days.step_on(day, rule), rule) for day in set(days.values())}
        days = {s: after[days[s]] for s in SCENARIOS}
        if days["likely"] is None or days["likely"] > end:
            return
        yield Due(rule, owner, n, True, days["likely"], ordered(days), bool(depends) or waits, None, None, depends)


def _says_itself(rule: TaskRule, key: str) -> bool:
    """Does the condition ask for a tick of this task after something else? Then it tells by itself whether the last one is enough, also where
    both were written down for the same minute."""
    return rule.when is not None and any(c.done is not None and c.done.task == key and c.done.after for c in inside(rule.when))


def _waits_for_batches(dates: Dates, rule: TaskRule, owner: str) -> bool:
    """Is a change called but for its batches, which are still to be mixed? It is told ahead, or nobody knows what the mixing is for."""
    if rule.each_batch is None or rule.when is None or dates.verdicts.gates[owner].opened is not None:
        return False
    mixing = {f"{owner}/{t.id}" for t in dates.phases[owner].tasks if t is not rule and t.each_batch is not None and dates.is_called(t, owner)}
    return bool(mixing) and holds_once_done(rule.when, mixing, dates.scene)


def _left_behind(dates: Dates, rule: TaskRule, owner: str) -> bool:
    """A step that was never ticked although the plan has gone on past it: its gate is open and so is one of ours behind it.
    Buying is forgotten once the tank runs. Remedies, chores and animals are not forgotten."""
    elsewhere = rule.anchor is not None and (rule.anchor.gate is not None or rule.anchor.phase not in (None, owner))
    if elsewhere or rule.every is not None or rule.role not in ("step", "test", "shopping") or dates.verdicts.gates[owner].opened is None:
        return False
    if rule.role == "shopping":
        return dates.rules.phase_as("runs_tank") in dates.verdicts.opened
    return any(p in dates.verdicts.opened for p in dates.behind(owner) - dates.rules.own_phases)


def _nothing_came(dates: Dates, rule: TaskRule) -> bool:
    """The test of an arrival that the keeper left out: before it, or after it."""
    of = next((key for key in (rule.anchor.task if rule.anchor is not None else None, rule.not_before) if key in dates.rules.tasks and dates.rules.tasks[key].is_arrival), None)
    closed = dates.days.closed(of) if rule.role == "test" and of is not None else []
    return bool(closed) and closed[-1][1].kind == "skipped"


# --- stages of the wish list


def _stage_occurrences(dates: Dates, rule: TaskRule, owner: str) -> Iterator[Due]:
    """The stages themselves, or what hangs on each of them by its number."""
    key = f"{owner}/{rule.id}"
    template = dates.stages.template_of(key)
    slots = dates.stages.slots(template)
    # A test before a stage that then slid says nothing of the new day: it is open again.
    stale = {x.number for x in slots if template != key and rule.wait is None and rule.ahead is None and x.closed is None}
    mine = {n: row for n, row in dates.days.closed(key) if n not in stale or row.day >= (day_of_slot(slots, n) or row.day)}
    if mine:
        n, row = list(mine.items())[-1]
        yield Due(rule, owner, n, True, row.day, Window(row.day, row.day, row.day), False, row, None, "")
    last_done = next((x for x in reversed(slots) if x.closed is not None and x.closed.kind == "done"), None)
    for slot in slots:
        if slot.number in mine or (slot.closed is not None and (template == key or slot is not last_done)):
            continue
        if slot.closed is not None and rule.wait is None:  # what comes before a stage is too late after it
            continue
        if slot.closed is not None and _read_later(dates, rule, template, slot.number):
            continue
        if template == key:
            due, days = slot.due, slot.days
        else:
            shift = dates.days.wait(rule) - dates.days.whole_days(rule.ahead)
            due = dates.days.allowed(dates.days.postponed(key, slot.number, dates.days.plus(slot.due if slot.closed is not None else slot.days["likely"], shift)), rule)
            days = {s: dates.days.projected(dates.days.postponed(key, slot.number, dates.days.plus(slot.days[s], shift)), rule) for s in SCENARIOS}
        yield Due(rule, owner, slot.number, True, due, ordered(days), bool(slot.depends or slot.waits_for), None, None, slot.depends, slot.stage, slot.waits_for)


def _read_later(dates: Dates, rule: TaskRule, template: str, number: int) -> bool:
    """Was a later test of the same stage ticked, which reads all that this one does? Then nothing is late about it."""
    owner = template.partition("/")[0]
    return any(other.wait is not None and other.anchor == rule.anchor and set(rule.reads) <= set(other.reads) and dates.days.wait(other) > dates.days.wait(rule)
               and any(n == number for n, _ in dates.days.closed(f"{owner}/{other.id}")) for other in dates.phases[owner].tasks if rule.role == other.role == "test")


def _entry_occurrences(dates: Dates, rule: TaskRule, owner: str) -> Iterator[Due]:
    """What belongs to the day on which the fish of a stage enter quarantine; nothing once they are in."""
    assert dates.stages.judged is not None
    key = f"{owner}/{rule.id}"
    slots = dates.stages.slots(dates.stages.template_of(key))
    # A test of a day on which they did not enter says nothing of the next one: it is open again.
    entered = {x.number: day for x in slots if rule.role == "test" and (day := x.entries.get("likely")) is not None}
    closed = {n: row for n, row in dates.days.closed(key) if row.day >= entered.get(n, row.day)}
    if closed:
        n, row = list(closed.items())[-1]
        yield Due(rule, owner, n, True, row.day, Window(row.day, row.day, row.day), False, row, None, "")
    there = {c.animal_id for c in dates.stages.judged.arrivals.in_quarantine}
    depends = "" if dates.verdicts.gates[owner].opened is not None else owner
    for slot in slots:
        if slot.stage is None or slot.number in closed or not any(slot.entries.values()) or all(a.animal_id in there for a in slot.stage.animals):
            continue
        dues = {s: dates.days.allowed(dates.days.postponed(key, slot.number, dates.days.plus(slot.entries[s], -dates.days.whole_days(rule.ahead))), rule) for s in SCENARIOS}
        days = {s: dates.days.projected(dues[s], rule) for s in SCENARIOS}
        yield Due(rule, owner, slot.number, True, dues["likely"], ordered(days), bool(depends), None, None, depends, slot.stage)


def _alert_task(dates: Dates, rule: TaskRule, alert: str, trace: Trace) -> Iterator[Due]:
    """A remedy of an alert that is up: due on the day of its evidence, again for every new piece of evidence."""
    key = f"{alert}/{rule.id}"
    if rule.role == "remedy" and isinstance(trace.gap, Repetitions):
        return  # clear once: a second test ends it, and there is nothing left to bring down
    if rule.only_when is not None and judge_condition(rule.only_when, dates.scene).answer != Answer.YES:
        return
    if rule.unless is not None and judge_condition(rule.unless, dates.scene).answer == Answer.YES:
        return
    since = newest_day(trace)
    done = dates.days.closed(key)
    if rule.when is not None:
        called = judge_condition(rule.when, dates.scene)
        if called.answer != Answer.YES:
            if done and rest_missing(dates, rule, done[-1][1]):
                yield Due(rule, alert, done[-1][0], True, dates.facts.on, Window(*[dates.facts.on] * 3), False, done[-1][1], trace, "")
            return
        since = max((day for day in (since, newest_day(called)) if day is not None), default=None)
    doses = rule.writes is not None and rule.writes.kind == "dosed"
    if done and ((rule.every is None or doses or tested_at_once(dates, rule, done[-1][1], trace)) and covers(done[-1][1], trace)) and not _ended_nothing(dates, alert, key):
        n, row = done[-1]
        yield Due(rule, alert, n, True, row.day, Window(row.day, row.day, row.day), False, row, trace, "")
        return
    if doses and (trace.kept or dosed_since(dates, rule, trace)):
        return  # what was dosed last is not measured yet: a test comes first
    due = dates.days.plus(since or dates.facts.on, dates.days.wait(rule))
    if done and rule.every is not None:
        again = dates.days.step_on(done[-1][1].day, rule)
        if rule.role == "test" and rule.anchor is None and changed_since(dates, alert, done[-1][1]):
            again = dates.facts.on
        if again == dates.facts.on and cannot_tell(dates, rule, done[-1][1], trace):
            again = again + timedelta(days=1)
        due = latest_of([due, again])
    if tested_after_change(dates, rule, alert):
        due = latest_of([due, dates.facts.on + timedelta(days=1)])
    day = dates.days.projected(due, rule)
    n = max((n for n, _ in done), default=0) + 1
    yield Due(rule, alert, n, True, due, Window(day, day, day), False, None, trace, "")
    steps = quantity(rule.days, dates.facts, dates.rules) if rule.days is not None else None
    for later in range(1, round(steps.value) if steps is not None and day is not None else 0):
        on = dates.days.allowed(day + timedelta(days=later), rule) if day is not None else None
        yield Due(rule, alert, n + later, True, on, Window(on, on, on), True, None, trace, "")


def _ended_nothing(dates: Dates, alert: str, key: str) -> bool:
    """Is this the job that ends an event, and is the event not over for all its tick? Of two rows of one day without hours nobody can tell
    which came first, so the job is asked again."""
    return any(up.alert == alert and not event.looks and KINDS[EventNode].answer(event, dates.scene).answer == Answer.YES for up, event in ended_by_tick(dates.rules, key))


__all__ = ["AHEAD_DAYS", "SCENARIOS", "Due", "Dues", "closings", "is_repeating", "next_number", "schedule"]
