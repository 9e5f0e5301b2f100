"""What is on hold, and whether it is for a missing test alone."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import datetime, time

from planner.judge.conditions import judge_condition, newest_day
from planner.judge.facts import Facts, Instant, animals_in
from planner.judge.scene import Scene
from planner.rulebook.shapes import AlertRule, PhaseRule
from planner.terms.days import short_day
from planner.terms.records import Answer, Hold, Trace
from planner.terms.texts import joined
from planner.terms.traces import AnimalTooEarly, BeforeChange, NoReading, NothingSince, NotTicked, Repetitions, RowDamaged, Stale, Unread

UNTESTED = (NoReading, NothingSince, NotTicked, Stale, BeforeChange)
"""Gaps that a test, or a tick, would fill."""


def holds_of(phases: tuple[PhaseRule, ...], opened: Mapping[str, Instant], alerts: tuple[tuple[AlertRule, Trace], ...], scene: Scene) -> Iterator[Hold]:
    """What stops all that adds risk behind a gate, by the rules of its phase and by alerts."""
    here = {p.phase for p in phases}
    for phase in phases:
        for rule in phase.gate.holds:
            if not (phase.phase in opened or rule.any_time):
                continue
            trace = judge_condition(rule.when, scene)
            if trace.answer == Answer.UNKNOWN and (feared := judge_condition(rule.when, replace(scene, damaged="any"))).answer == Answer.YES:
                trace = feared
            if trace.answer == Answer.YES or (rule.unknown_holds and trace.answer == Answer.UNKNOWN):
                yield Hold(phase.phase, newest_day(trace) or scene.facts.on, rule.because, rule.instead, trace)
    for alert, trace in alerts:
        for gate in alert.holds:
            if gate in here:
                yield Hold(gate, newest_day(trace) or scene.facts.on, joined(alert.title, "."), tuple(f"{alert.alert}/{t.id}" for t in alert.tasks), trace, said_of(alert, trace, scene.facts))
    for line in scene.facts.journal.unreadable:
        if line.kind is None and (line.day is None or line.day <= scene.facts.on):
            damaged = Unread(scene.facts.journal.file, line.line)
            trace = Trace(RowDamaged(), Answer.UNKNOWN, (damaged,), gap=damaged)
            because = f"Line {line.line} of the journal cannot be read, and nothing tells what it said: add no animal until it is mended."
            yield from (Hold(p.phase, line.day or scene.facts.on, because, (), trace) for p in phases if any(t.role == "animals" for t in p.tasks))
    poured = scene.facts.damaged("poured", None, "display")
    if poured is not None and poured.kind == "poured":
        damaged = Unread(scene.facts.journal.file, poured.line)
        because = f"Line {poured.line} of the journal says how much water was poured in, and cannot be relied on: dose nothing until it is settled."
        doses = [p for p in phases if any(t.writes is not None and t.writes.kind == "dosed" for t in p.tasks)]
        yield from (Hold(gate, poured.day or scene.facts.on, because, (), Trace(RowDamaged(), Answer.YES, (damaged,), gap=damaged))
                    for gate in sorted({before for p in doses for before in p.after if before in here}))  # a hold stops what comes after its gate
    last = scene.rules.phase_as("opens_to_animals")
    if last in here and last not in opened and animals_in(scene.facts, "display"):
        trace = Trace(AnimalTooEarly(), Answer.YES)
        yield Hold(last, scene.facts.on, "An animal is in the tank before tests have opened it for animals: add nothing more, and test now.", (), trace)


def said_of(alert: AlertRule, trace: Trace, facts: Facts) -> str:
    """What an alarm says first. Once the first good test is there its orders are past: nobody cools water that is cool."""
    return half_over(trace.gap, facts) if trace.kept and isinstance(trace.gap, Repetitions) else alert.say


def half_over(gap: Repetitions, facts: Facts) -> str:
    """From which day and hour on a second good test ends an alarm, and why one made sooner did not."""
    when = " on another day"
    if gap.next_from is not None:
        start = datetime.fromtimestamp(gap.next_from, facts.zone)
        hour = f" {start:%H:%M}" if start.time() != time() else ""
        when = f" from {short_day(start.date(), facts.on)}{hour} on" if start.date() >= facts.on else ""
    if gap.crowded:
        return f"The last tests are good, but too close together to count as two. One more{when} ends this alarm."
    return f"The last test is good. A second one{when} ends this alarm."


def only_untested(hold: Hold) -> bool:
    """Does it hold only because a test is missing or old? Then it belongs to the day of the arrival that it stops."""
    return hold.trace is not None and _untested(hold.trace)


def _untested(trace: Trace) -> bool:
    unknown = [p for p in trace.parts if p.answer == Answer.UNKNOWN]
    return trace.answer == Answer.UNKNOWN and (all(map(_untested, unknown)) if unknown else isinstance(trace.gap, UNTESTED))


__all__ = ["half_over", "holds_of", "only_untested", "said_of"]
