"""Gates by replay: when each opened, whether it lapsed, what it still needs, and what is on hold.

A gate opens at the first journal instant at which its condition was yes and the gates before it were open. It stays
open, unless it lapses before animals are in. Nothing here looks at a date to open anything.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from heapq import merge
from itertools import chain

from planner.judge.conditions import CONTEXT, FIRST_AMMONIA, Scene, judge_condition, newest_day, subjects
from planner.judge.facts import Facts, Instant, animals_in, end_of_day, first_animal, instant_of, view_at
from planner.rulebook.nodes import Condition
from planner.rulebook.shapes import AlertRule, PhaseRule, Rulebook
from planner.terms.records import Answer, Hold, Need, Row, Trace

NEVER: Instant = (date.max, float("inf"))
ALWAYS: Instant = (date.min, float("-inf"))


@dataclass(frozen=True, slots=True)
class GateVerdict:
    """One gate on the day of the plan. `opened` is the instant, None while shut; `by` the rows that opened it."""

    phase: str
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
    return Verdicts(gates, tuple(_holds(phases, gates, alerts, scene)), alerts, phases, started, opened)


KEPT = "kept"
"""Marks an alert that stands on doubtful evidence, or stays because nothing later showed that it is over."""


def judge_alert(rule: AlertRule, scene: Scene) -> Trace | None:
    """Why an alert is up; None if it is not. Evidence in doubt may raise it. Once up it is over only by a sure no: while
    the answer is unknown, the newest instant with an answer decides."""
    trace = judge_condition(rule.when, scene)
    if trace.answer == Answer.YES or (rule.unknown_holds and trace.answer == Answer.UNKNOWN):
        return trace
    if trace.answer == Answer.NO or rule.unknown_holds:
        return None
    begin = possible_from(rule.when, scene.facts, scene.rules, scene.opened)
    if begin == NEVER:
        return None
    for instant in reversed(list(_instants(subjects(rule.when, scene.rules), begin, scene.facts))):
        if instant[1] == float("-inf"):
            continue
        then = replace(scene, facts=view_at(scene.facts, instant))
        trace = judge_condition(rule.when, then)
        if trace.answer == Answer.NO:
            return None
        if trace.answer == Answer.YES:
            return replace(trace, fact=KEPT)
        if (doubtful := _in_doubt(rule.when, then)) is not None:
            return doubtful
    return None


def _in_doubt(condition: Condition, scene: Scene) -> Trace | None:
    """The yes that readings taken too soon, or one of those that disagree, would give."""
    for which in ("highest", "lowest"):
        trace = judge_condition(condition, replace(scene, doubtful=which))
        if trace.answer == Answer.YES:
            return replace(trace, fact=KEPT)
    return None


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
        trace = Trace("passed on the keeper's word (already, in the tank file)", Answer.YES, (word.isoformat(),))
        return GateVerdict(phase.phase, instant, (), trace, (Need(trace.text, Answer.YES, trace.evidence),), on_word=True)
    started: Instant | None = (facts.start, float("-inf")) if not before else None
    if before and all(p in opened for p in before):
        started = max(opened[p] for p in before)
    floor, lapsed, opening, trace_open = float("-inf"), None, None, None
    watched = subjects(gate.opens_when, rules)
    # New evidence counts if the lapse lay before it, so its instants are looked at too.
    lapse_watched = watched | subjects(gate.lapses_when, rules) if gate.lapses_when else frozenset()
    while started is not None:
        found = _first_yes(gate.opens_when, watched, started, facts, rules, opened, floor)
        if found is None:
            opening = None
            break
        opening, trace_open = found
        if gate.lapses_when is None:
            break
        lapse = _first_lapse(gate.lapses_when, lapse_watched, opening, facts, rules, {**opened, phase.phase: opening}, animal)
        if lapse is None:
            break
        instant, lapsed = lapse
        floor = started[1] if (started := instant) else floor
        opening = None
    if opening is not None and trace_open is not None:
        return GateVerdict(phase.phase, opening, trace_open.rows, trace_open, _needs(trace_open), lapsed, floor=floor)
    trace = judge_condition(gate.opens_when, replace(now_scene, facts=replace(facts, floor=floor)))
    return GateVerdict(phase.phase, None, (), trace, _needs(trace), lapsed, floor=floor)


def _instants(watched: frozenset[tuple[str, str]], after: Instant, facts: Facts) -> Iterator[Instant]:
    """The instants after which something watched changed, oldest first, each once, from `after` on. They are merged as
    they are asked for: a gate that opens on its first day never looks at the years that follow."""
    yield after
    last = after
    tails = (_from(facts.rows(kind, what), after) for kind, what in sorted(watched))
    for instant in merge(*tails):
        if instant > last:
            last = instant
            yield instant


def _from(rows: Sequence[Row], after: Instant) -> Iterator[Instant]:
    return (instant_of(rows[n]) for n in range(bisect_left(rows, after, key=instant_of), len(rows)))


def possible_from(condition: Condition, facts: Facts, rules: Rulebook, opened: Mapping[str, Instant]) -> Instant:
    """No instant before this one can make the condition yes, since a row that it cannot do without had not been
    written; NEVER if there is none. It spares the replay of years of daily readings for a gate that waits for a tick."""
    if condition.all is not None:
        return max((possible_from(c, facts, rules, opened) for c in condition.all), default=ALWAYS)
    if condition.any is not None:
        return min((possible_from(c, facts, rules, opened) for c in condition.any), default=NEVER)
    if condition.done is not None:
        return _first_tick(condition.done.task, facts, rules)
    if condition.reading is not None:
        return _first(facts, "reading", condition.reading.name)
    if condition.challenge is not None:
        return _first(facts, "dosed", "ammonia")
    if condition.event is not None:
        return _first(facts, "event", condition.event.what)
    if condition.fact is not None:
        return _first(facts, condition.fact.kind, condition.fact.what or "*")
    if condition.animal is not None:
        return min(_first(facts, "added", "*"), _first(facts, "moved", "*"))
    if condition.age is not None:
        of = condition.age.of
        if of == FIRST_AMMONIA:
            return ALWAYS
        if ":" in of:
            return _first(facts, *of.split(":", 1))
        if "/" in of:
            return _first_tick(of, facts, rules)
        return _after(opened[of], rules.hours(condition.age.at_least), facts) if of in opened else NEVER
    return ALWAYS


def _first(facts: Facts, kind: str, what: str) -> Instant:
    rows = facts.rows(kind, what)
    return instant_of(rows[0]) if rows else NEVER


def _after(start: Instant, hours: float, facts: Facts) -> Instant:
    """The instant so many hours on, with its day in the tank's zone; a midnight ends its day."""
    moment = start[1] + hours * 3600
    return (datetime.fromtimestamp(moment - 1.0, facts.zone).date(), moment)


def _first_tick(key: str, facts: Facts, rules: Rulebook) -> Instant:
    rule = rules.tasks.get(key)
    also = rule.also_done_by if rule is not None else None
    keys = [key, also.partition("#")[0]] if also else [key]
    return min(_first(facts, kind, k) for kind in ("done", "skipped") for k in keys)


def _written(watched: frozenset[tuple[str, str]], instant: Instant, facts: Facts) -> bool:
    """Does a watched row stand at this very instant?"""
    return any(instant_of(row) == instant for kind, what in watched for row in facts.rows(kind, what))


def _first_yes(condition: Condition, watched: frozenset[tuple[str, str]], started: Instant, facts: Facts, rules: Rulebook,
               opened: Mapping[str, Instant], floor: float) -> tuple[Instant, Trace] | None:
    possible = possible_from(condition, facts, rules, opened)
    if possible == NEVER:
        return None
    begin = max(started, possible)
    for instant in _instants(watched, begin, facts):
        # An age that ends between two rows opens nothing by itself: the next row does.
        if instant[1] == float("-inf") or (instant == begin > started and not _written(watched, begin, facts)):
            continue
        view = replace(view_at(facts, instant), floor=floor)
        trace = judge_condition(condition, Scene(view, rules, opened))
        if trace.answer == Answer.YES:
            return instant, trace
    return None


def _first_lapse(condition: Condition, watched: frozenset[tuple[str, str]], opened_at: Instant, facts: Facts, rules: Rulebook,
                 opened: Mapping[str, Instant], animal: Row | None) -> tuple[Instant, Trace] | None:
    """The first moment after opening at which the gate lapsed, while no animal was in: judged just before and at each
    journal instant, and at the end of the plan's day."""
    stop = instant_of(animal) if animal is not None else NEVER
    for instant in chain(_instants(watched, opened_at, facts), [(facts.on, facts.now)]):
        if instant <= opened_at:
            continue
        if instant >= stop:
            instant = (stop[0], stop[1])
        # Just before the instant: what happened then may have ended the lapse, but the lapse was there.
        view = view_at(facts, (instant[0], instant[1] - 1.0), instant[1] - 1.0)
        trace = judge_condition(condition, Scene(view, rules, opened))
        if trace.answer == Answer.YES:
            return (instant[0], instant[1] - 1.0), trace
        if instant == stop:
            return None
        view = view_at(facts, instant)
        trace = judge_condition(condition, Scene(view, rules, opened))
        if trace.answer == Answer.YES:
            return instant, trace
    return None


def started_on(phase: PhaseRule, opened: Mapping[str, Instant], here: set[str], facts: Facts) -> date | None:
    """The day a phase could begin: the last gate before it opened. None while one is shut."""
    before = [p for p in phase.after if p in here]
    if any(p not in opened for p in before):
        return None
    return max((opened[p][0] for p in before), default=facts.start)


def _needs(trace: Trace) -> tuple[Need, ...]:
    """The parts of the top `all` as needs; a single condition is one need. Ways that this tank does not have, and
    what is already settled by its kind, are left out."""
    trace = _live(trace) or trace
    parts = trace.parts if trace.text == "all of" and trace.parts else (trace,)
    return tuple(Need(_sentence(p), p.answer, _evidence(p), p.fact) for p in parts)


def _live(trace: Trace) -> Trace | None:
    """The trace without branches that the tank or its animals rule out; None if nothing of it is left to do."""
    if trace.text == "one of":
        if any(p.fact == CONTEXT and p.answer == Answer.YES for p in trace.parts):
            return None
        ways = [w for p in trace.parts if not _ruled_out(p) and (w := _live(p)) is not None]
        return None if not ways else ways[0] if len(ways) == 1 else replace(trace, parts=tuple(ways))
    if trace.text == "all of":
        parts = [w for p in trace.parts if (w := _live(p)) is not None]
        return None if not parts else parts[0] if len(parts) == 1 else replace(trace, parts=tuple(parts))
    return None if trace.fact == CONTEXT and trace.answer == Answer.YES else trace


def _ruled_out(trace: Trace) -> bool:
    if trace.text == "all of":
        return any(_ruled_out(p) for p in trace.parts)
    if trace.text == "one of":
        return all(_ruled_out(p) for p in trace.parts)
    return trace.fact == CONTEXT and trace.answer == Answer.NO


def _sentence(trace: Trace) -> str:
    if trace.text in ("one of", "all of") and trace.parts:
        return (" or " if trace.text == "one of" else " and ").join(_sentence(p) for p in trace.parts)
    return trace.text


def _evidence(trace: Trace) -> tuple[str, ...]:
    if trace.text in ("one of", "all of") and trace.parts:
        return tuple(dict.fromkeys(e for p in trace.parts for e in _evidence(p)))
    return () if trace.fact == CONTEXT else tuple(dict.fromkeys(trace.evidence))


def _holds(phases: tuple[PhaseRule, ...], gates: Mapping[str, GateVerdict], alerts: tuple[tuple[AlertRule, Trace], ...], scene: Scene) -> Iterator[Hold]:
    for phase in phases:
        is_open = gates[phase.phase].opened is not None
        for rule in phase.gate.holds:
            if not (is_open or rule.any_time):
                continue
            trace = judge_condition(rule.when, scene)
            if trace.answer == Answer.YES or (rule.unknown_holds and trace.answer == Answer.UNKNOWN):
                yield Hold(phase.phase, newest_day(trace) or scene.facts.on, rule.because, rule.instead, trace)
    for alert, trace in alerts:
        for gate in alert.holds:
            if gate in gates:
                yield Hold(gate, newest_day(trace) or scene.facts.on, alert.say, tuple(f"{alert.alert}/{t.id}" for t in alert.tasks), trace)
    last = scene.rules.phase_as("opens_to_animals")
    if last in gates and gates[last].opened is None and animals_in(scene.facts, "display"):
        trace = Trace("an animal is in, and the gate to animals is shut", Answer.YES, (), ())
        yield Hold(last, scene.facts.on, "An animal is in the tank before tests have opened it for animals: add nothing more, and test now.", (), trace)


def only_untested(hold: Hold) -> bool:
    """Does it hold only because a test is missing or old? Then it belongs to the day of the arrival that it stops."""
    return hold.trace is not None and _untested(hold.trace)


def _untested(trace: Trace) -> bool:
    unknown = [p for p in trace.parts if p.answer == Answer.UNKNOWN]
    return trace.answer == Answer.UNKNOWN and (all(map(_untested, unknown)) if unknown else trace.fact in ("stale", "none"))


__all__ = ["KEPT", "GateVerdict", "Verdicts", "in_graph_order", "judge", "judge_alert", "judge_gate", "only_untested", "started_on"]
