"""One due occurrence becomes a task of the plan: its words, amounts and state."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

from planner.frozen import dataclass
from planner.judge.conditions import judge_condition
from planner.judge.facts import Facts
from planner.judge.figures.tank import own_heaters
from planner.judge.gates import Verdicts, only_untested
from planner.plan.lateness import first_day
from planner.plan.occurrences import Due
from planner.plan.one_test import off_scale, readings_asked, steps_besides
from planner.plan.texts import Filler
from planner.rulebook.lines import Conditional
from planner.rulebook.shapes import Rulebook
from planner.rulebook.task_rule import TextVariant
from planner.rulebook.what_jobs_do import acts_of
from planner.terms.causes import Cause, cause
from planner.terms.records import (
    CLOSED,
    Amount,
    Answer,
    Hold,
    State,
    Task,
)
from planner.terms.texts import joined, on_day

if TYPE_CHECKING:  # the stocking rooms are loaded only where there is a wish list
    from planner.plan.stage_records import StagedAnimals

ADDS_RISK = frozenset({"step", "animals", "shopping"})


@dataclass(frozen=True, slots=True)
class Changes:
    """The waters that were changed today, and those that are still to be, with the phase or alarm that asks for it."""

    made: frozenset[str] = frozenset()
    asked: frozenset[tuple[str, str]] = frozenset()

    def of(self, where: str) -> bool:
        """Does this water change today?"""
        return where in self.made or any(water == where for _, water in self.asked)

    def over(self, phase: str, where: str) -> bool:
        """Was it changed, with nothing left of what this phase asks for?"""
        return where in self.made and (phase, where) not in self.asked


def changes_today(dues: Iterable[Due], facts: Facts) -> Changes:
    asked = {(due.phase, due.rule.where) for due in dues if due.closed is None and not due.tentative and due.window.likely == facts.on and "changes_water" in acts_of(due.rule)
             and not due.left_out and not due.without.intersection(due.rule.act_steps.get("changes_water", ()))}
    return Changes(frozenset(row.where for row in facts.rows("changed_water") if row.day == facts.on), frozenset(asked))


def task_of(due: Due, facts: Facts, held: dict[str, Hold], exempt: set[str], words: Filler, rules: Rulebook, verdicts: Verdicts, changes: Changes) -> Task:
    rule = due.rule
    first = first_day(due, facts, rules, verdicts)
    state = _state(due, facts.on, first)
    hold = held.get(due.phase)
    if hold is not None and only_untested(hold) and (due.window.likely is None or due.window.likely > facts.on):
        hold = None  # the missing test belongs to the day of the arrival
    if hold is not None and state not in (State.DONE, State.SKIPPED) and rule.role in stopped_by(hold) and due.key not in exempt:
        state = State.ON_HOLD
    if due.changed_l:
        words = words.less(due.changed_l, rule.amounts + ((rule.enough,) if rule.enough else ()))
    changed_elsewhere = bool(due.without) and any(y.way == "taken_in" for y in due.yielded)
    amounts = () if changed_elsewhere or due.left_out else tuple((name, made) for name in rule.amounts if (made := words.quantity(name)) is not None)
    because: list[str | Cause] = [words.fill(b) for b in rule.because]
    variant = next((v for v in rule.variants if not (v.leads and changes.over(due.phase, rule.where)) and _fits(v, due, words)), None)
    leads = variant is not None and variant.leads
    nothing_in = bool(due.without.intersection((*rule.act_steps.get("tops_up", ()), *rule.act_steps.get("feeds", ()))))
    title = words.fill((rule.title_without if changed_elsewhere or nothing_in else None) or (variant.title if variant is not None else None) or rule.title)
    steps: tuple[str | Cause, ...] = tuple(said for n, t in enumerate((variant.steps if variant is not None else ()) or rule.steps, 1) if n not in due.without and not due.left_out and _needed(t, due) and (said := words.fill(t)))
    watch = tuple(said for t in (variant.watch if variant is not None else ()) or rule.watch if _needed(t, due) and (said := words.fill(t)))
    cautions = tuple(c for c in rule.cautions if variant is None or c not in variant.spared)
    reads, minutes = readings_asked(due, verdicts), float(rule.minutes)
    if due.stands_for:
        own = set(reads)
        for other in due.stands_for:
            asked = readings_asked(other, verdicts)
            more = tuple(n for n in asked if n not in reads)
            reads, cautions = (*reads, *more), tuple(dict.fromkeys((*cautions, *other.rule.cautions)))
            minutes += other.rule.minutes * len(more) / len(asked)
            # Beside the test of an alarm the hints for an empty tank say nothing.
            if other.phase != rules.phase_as("proves_filter") or due.phase == other.phase:
                watch = tuple(dict.fromkeys((*watch, *filter(None, map(words.fill, other.rule.watch)))))
        more_steps = [(n in other.rule.act_steps.get("tops_up", ()), words.fill(other.rule.steps[n - 1])) for other in due.stands_for for n in steps_besides(other)]
        # What another test tops up comes before the readings here too.
        steps = (*(s for first, s in more_steps if first), *steps, *((cause("read_too", readings=tuple(n for n in reads if n not in own)),) if len(reads) > len(own) else ()),
                 *(s for first, s in more_steps if not first))
        steps = tuple(dict.fromkeys(filter(None, steps)))
        because.append(cause("tests_too", titles=tuple(words.fill(other.rule.title) for other in due.stands_for)))
    if rule.role == "test" and not rule.diluted and not due.left_out and (high := off_scale(reads, rule.where, facts)):
        steps = (cause("dilute", readings=high), *steps)
    if rule.buys == "equipment" and (owned := own_heaters(facts, rules)) is not None:
        steps = (cause("own_heaters", verdict=owned, watts=tuple(f"{w:g} W" for w in facts.tank.equipment.heater_w or ()), most=f"{max(facts.tank.equipment.heater_w or (0.0,)):g} W", need=_watts("heater_total", words), each=_watts("heater_each", words)), *steps)
    if rule.known_as == "weekly_change" and not changed_elsewhere and not due.left_out and (larger := words.larger_change) is not None:
        steps = (larger, *steps)
    animals: tuple[tuple[str, int], ...] = ()
    if due.stage is not None:
        title = joined(title, f": {due.stage.names}")
        if rule.role == "animals":
            animals = tuple((a.animal_id, a.count) for a in due.stage.animals)
            steps = (*_stage_steps(due.stage, rule.on_entry), *steps)
            because = [*due.stage.because, *because]
    instead = rules.treadmill if due.in_vain else None
    if instead is not None:
        title, steps, watch, amounts = joined(instead.title, ": ", title), tuple(map(words.fill, instead.steps)), (), ()
    if due.waits_for:
        because.append(cause("open_guards", guards=due.waits_for))
    if due.awaits and due.window.likely is not None:
        because.append(cause("awaits_test", test=cause("test_today", readings=due.awaits) if due.window.likely == facts.on else cause("test_on", readings=due.awaits, day=on_day(due.window.likely))))
    if due.depends_on:
        because.append(cause("shut_gate", gate=_gate_title(due.depends_on, rules)))
    if hold is not None and state == State.ON_HOLD:
        because.append(cause("on_hold", because=words.fill(hold.because)))
    if due.left_out and state not in CLOSED and not due.tentative:
        state = State.ON_HOLD
    writes = (rule.writes.kind, rule.writes.what) if rule.writes and not changed_elsewhere and instead is None else None
    yielded = tuple(replace(y, title=words.fill(y.title), because=words.fill(y.because), instead=words.fill(y.instead)) for y in due.yielded)
    return Task(
        due.id, due.key, due.occurrence, due.phase, title, rule.role, due.due, due.window.likely, str(facts.tank.keeper.reminder_time)[:5],
        due.window, state, due.tentative, amounts, steps, watch, cautions,
        tuple(because), rule.cites, reads, rule.where, rule.calendar, round(minutes), writes, due.closed.day if due.closed else None, due.depends_on, animals,
        str(rules.marks[due.key]) if due.key in rules.marks else "", yielded, due.stage.names if due.stage is not None else "",
        later=rule.later is not None and changes.of(rule.where) and not leads, leads=leads, first_day=first)


def _watts(name: str, words: Filler) -> Amount:
    made = words.quantity(name)
    return Amount(made.value if made is not None else 0.0, "W")


def _fits(variant: TextVariant, due: Due, words: Filler) -> bool:
    if variant.only_when is not None:
        return judge_condition(variant.only_when, words.scene).answer == Answer.YES
    return due.stage is not None and {a.group for a in due.stage.animals} <= set(variant.groups)


def _needed(line: str, due: Due) -> bool:
    """Is an animal of the stage one of those that the line is for? Where no stage is known it is for all."""
    if due.stage is None or not isinstance(line, Conditional):
        return True
    return (not line.groups or any(a.group in line.groups for a in due.stage.animals)) and (not line.light or any(a.light in line.light for a in due.stage.animals))


def _stage_steps(stage: StagedAnimals, on_entry: bool) -> tuple[Cause, ...]:
    if on_entry:
        return (cause("put_into_quarantine_until", names=stage.names, day=on_day(stage.days[1])) if stage.days[1] else cause("put_into_quarantine", names=stage.names),)
    feeding = (stage.feeding,) if stage.feeding is not None else ()
    if stage.quarantine_from is None:
        return (cause("bring_in", names=stage.names), *feeding)
    return (cause("in_quarantine_from", day=on_day(stage.quarantine_from, "on ")), cause("move_over", names=stage.names), *feeding)


def stopped_by(hold: Hold) -> frozenset[str]:
    """A failed check stops every step behind it; a test that is merely missing or old stops animals and buying alone."""
    doubt = hold.trace is not None and hold.trace.answer == Answer.UNKNOWN
    return frozenset({"animals", "shopping"}) if doubt else ADDS_RISK


def _state(due: Due, on: date, first: date | None) -> State:
    if due.closed is not None:
        return State.SKIPPED if due.closed.kind == "skipped" else State.DONE
    if due.tentative:
        return State.WAITING
    if due.due is None or due.window.likely is None:
        return State.PLANNED
    if due.due < on:
        if due.rule.role == "animals" and due.window.likely > on:
            return State.PLANNED  # nobody is sent for animals on a day on which none can be fetched
        # A chore that comes round again is never late, only due.
        return State.DUE if (due.rule.role == "care" and due.rule.every) or first is None or first >= on else State.LATE
    return State.DUE if due.due == on else State.PLANNED


def _gate_title(phase: str, rules: Rulebook) -> str:
    return rules.phase(phase).gate.title if any(p.phase == phase for p in rules.phases) else phase


__all__ = ["changes_today", "stopped_by", "task_of"]
