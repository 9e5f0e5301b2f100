"""What is on hold, and whether it is for a missing test alone."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from planner.judge.conditions import judge_condition, newest_day
from planner.judge.facts import Instant, animals_in
from planner.judge.scene import Scene
from planner.rulebook.shapes import AlertRule, PhaseRule
from planner.terms.records import Answer, Hold, Trace
from planner.terms.traces import AnimalTooEarly, BeforeChange, NoReading, NothingSince, NotTicked, Stale

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
            if trace.answer == Answer.YES or (rule.unknown_holds and trace.answer == Answer.UNKNOWN):
                yield Hold(phase.phase, newest_day(trace) or scene.facts.on, rule.because, rule.instead, trace)
    for alert, trace in alerts:
        for gate in alert.holds:
            if gate in here:
                yield Hold(gate, newest_day(trace) or scene.facts.on, alert.say, tuple(f"{alert.alert}/{t.id}" for t in alert.tasks), trace)
    if animals_in(scene.facts, "display") and "animals" in here and "animals" not in opened:
        trace = Trace(AnimalTooEarly(), Answer.YES)
        yield Hold("animals", scene.facts.on, "An animal is in the tank before tests have opened it for animals: add nothing more, and test now.", (), trace)


def only_untested(hold: Hold) -> bool:
    """Does it hold only because a test is missing or old? Then it belongs to the day of the arrival that it stops."""
    return hold.trace is not None and _untested(hold.trace)


def _untested(trace: Trace) -> bool:
    unknown = [p for p in trace.parts if p.answer == Answer.UNKNOWN]
    return trace.answer == Answer.UNKNOWN and (all(map(_untested, unknown)) if unknown else isinstance(trace.gap, UNTESTED))


__all__ = ["holds_of", "only_untested"]
