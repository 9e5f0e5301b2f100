"""Gates by replay: when each opened, whether it lapsed, what it still needs, and what is on hold.

A gate opens at the first journal instant at which its condition was yes and the gates before it were open. It stays
open, unless it lapses before animals are in. Nothing here looks at a date to open anything.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field, replace
from datetime import date

from planner.frozen import dataclass
from planner.judge.alerts import judge_alert, last_rungs
from planner.judge.conditions import Scene, judge_condition
from planner.judge.facts import Facts, Instant, end_of_day, first_animal
from planner.judge.holds import holds_of, only_untested
from planner.judge.needs import needs_of
from planner.judge.replay import first_lapse, first_yes
from planner.rulebook.shapes import AlertRule, PhaseRule, Rulebook
from planner.rulebook.walk import subjects
from planner.terms.records import Answer, Hold, Need, Row, Trace
from planner.terms.traces import KeepersWord, OnDay


@dataclass(frozen=True, slots=True)
class GateVerdict:
    """One gate on the day of the plan. `opened` is the instant, None while shut; `by` the rows that opened it."""

    opened: Instant | None
    by: tuple[Row, ...]
    trace: Trace
    needs: tuple[Need, ...]
    lapsed: Trace | None = None
    on_word: bool = False
    floor: float = float("-inf")


@dataclass(frozen=True, slots=True)
class Verdicts:
    """Everything judged: gates, holds, alerts, and which phases exist for this tank."""

    gates: dict[str, GateVerdict]
    holds: tuple[Hold, ...]
    alerts: tuple[tuple[AlertRule, Trace], ...]
    phases: tuple[PhaseRule, ...]
    started: dict[str, date]
    opened: dict[str, Instant] = field(default_factory=dict)


def judge(rules: Rulebook, facts: Facts) -> Verdicts:
    """Judge every gate in graph order, then holds and alerts on the day of the plan."""
    opened: dict[str, Instant] = {}
    gates: dict[str, GateVerdict] = {}
    ordered = sorted(rules.phases, key=lambda p: (p.order, p.phase))
    phases = tuple(p for p in ordered if p.only_when is None or judge_condition(p.only_when, Scene(facts, rules, {})).answer == Answer.YES)
    here = {p.phase for p in phases}
    animal = first_animal(facts)
    for phase in in_graph_order(phases):
        verdict = judge_gate(phase, facts, rules, opened, here, animal)
        gates[phase.phase] = verdict
        if verdict.opened is not None:
            opened[phase.phase] = verdict.opened
    started = {p.phase: day for p in phases if (day := started_on(p, opened, here, facts)) is not None}
    scene = Scene(facts, rules, opened)
    alerts = tuple((rule, trace) for rule in sorted(rules.alerts, key=lambda a: a.alert) if (trace := judge_alert(rule, scene)) is not None)
    up = {rule.alert for rule, _ in alerts}
    alerts = tuple(last_rungs([(rule, trace) for rule, trace in alerts if up.isdisjoint(rule.unless_up)], scene))
    return Verdicts(gates, tuple(holds_of(phases, opened, alerts, scene)), alerts, phases, started, opened)


def verdicts_at(verdicts: Verdicts, facts: Facts, rules: Rulebook, instant: Instant) -> Verdicts:
    """The same gates as they stood at an instant of the journal, whose `facts` are given. Alerts and holds are left out."""
    opened = {p: when for p, when in verdicts.opened.items() if when <= instant}
    gates = dict(verdicts.gates)
    for phase in verdicts.phases:
        if phase.phase not in opened:
            trace = judge_condition(phase.gate.opens_when, Scene(facts, rules, opened))
            gates[phase.phase] = GateVerdict(None, (), trace, ())
    here = {p.phase for p in verdicts.phases}
    started = {p.phase: day for p in verdicts.phases if (day := started_on(p, opened, here, facts)) is not None}
    return Verdicts(gates, (), (), verdicts.phases, started, opened)


def in_graph_order(phases: tuple[PhaseRule, ...]) -> list[PhaseRule]:
    """Phases so that each comes after those it waits for. The order of the files does not matter."""
    by_id = {p.phase: p for p in phases}
    done: dict[str, PhaseRule] = {}

    def visit(phase: PhaseRule) -> None:
        if phase.phase in done:
            return
        for before in (*phase.after, *phase.beside):
            if before in by_id:
                visit(by_id[before])
        done[phase.phase] = phase

    for phase in sorted(phases, key=lambda p: (p.order, p.phase)):
        visit(phase)
    return list(done.values())


def _word_date(phase: str, facts: Facts, rules: Rulebook, here: set[str]) -> date | None:
    """The date on which the keeper says the phase was finished: its own, or that of a later phase that waits for it.
    The gate to animals is never passed on word alone."""
    already = facts.tank.already
    if not already or phase == rules.phase_as("opens_to_animals"):
        return None
    if phase in already:
        return already[phase] if already[phase] <= facts.on else None
    later = [already[p.phase] for p in rules.phases
             if p.phase in already and p.phase in here and phase in _ancestors(p.phase, rules) and already[p.phase] <= facts.on]
    return min(later, default=None)


def _ancestors(phase: str, rules: Rulebook) -> set[str]:
    found: set[str] = set()
    waiting = [phase]
    by_id = {p.phase: p for p in rules.phases}
    while waiting:
        for before in by_id[waiting.pop()].after:
            if before not in found and before in by_id:
                found.add(before)
                waiting.append(before)
    return found


def judge_gate(phase: PhaseRule, facts: Facts, rules: Rulebook, opened: Mapping[str, Instant], here: set[str], animal: Row | None) -> GateVerdict:
    gate = phase.gate
    word = _word_date(phase.phase, facts, rules, here)
    before = [p for p in phase.after if p in here]
    now_scene = Scene(facts, rules, opened)
    if word is not None:
        instant = (word, end_of_day(word, facts.zone))
        trace = Trace(KeepersWord(), Answer.YES, (OnDay(word),))
        return GateVerdict(instant, (), trace, (Need(trace),), on_word=True)
    started: Instant | None = (facts.start, float("-inf")) if not before else None
    if before and all(p in opened for p in before):
        started = max(opened[p] for p in before)
    floor, lapsed, opening, trace_open = float("-inf"), None, None, None
    watched = subjects(gate.opens_when, rules)
    # New evidence counts if the lapse lay before it, so its instants are looked at too.
    lapse_watched = watched | subjects(gate.lapses_when, rules) if gate.lapses_when else frozenset()
    while started is not None:
        found = first_yes(gate.opens_when, watched, started, facts, rules, opened, floor)
        if found is None:
            opening = None
            break
        opening, trace_open = found
        if gate.lapses_when is None:
            break
        lapse = first_lapse(gate.lapses_when, lapse_watched, opening, facts, rules, {**opened, phase.phase: opening}, animal)
        if lapse is None:
            break
        instant, lapsed = lapse
        floor = started[1] if (started := instant) else floor
        opening = None
    if opening is not None and trace_open is not None:
        return GateVerdict(opening, trace_open.rows, trace_open, needs_of(trace_open), lapsed, floor=floor)
    trace = judge_condition(gate.opens_when, replace(now_scene, facts=replace(facts, floor=floor)))
    return GateVerdict(None, (), trace, needs_of(trace), lapsed, floor=floor)


def started_on(phase: PhaseRule, opened: Mapping[str, Instant], here: set[str], facts: Facts) -> date | None:
    """The day a phase could begin: the last gate before it opened. None while one is shut."""
    before = [p for p in phase.after if p in here]
    if any(p not in opened for p in before):
        return None
    return max((opened[p][0] for p in before), default=facts.start)


__all__ = ["GateVerdict", "Verdicts", "in_graph_order", "judge", "judge_alert", "judge_gate", "only_untested", "started_on", "verdicts_at"]
