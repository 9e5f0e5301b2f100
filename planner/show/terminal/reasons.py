"""`why`: the chain behind a task or the end of a phase. Rule, numbers with source and grade, readings with dates, forecast.

It prints what the rule and the plan's trace say, and adds nothing of its own.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from functools import partial
from typing import Any

from planner.judge.needs import applicable
from planner.plan.cycle_told import METHOD
from planner.plan.texts import UNIT_WORDS, amount_words, shown_amount, told_amount, typed, untold
from planner.rulebook.names import condition_names, task_names
from planner.rulebook.phase_graph import proof_to_animals
from planner.rulebook.shapes import HouseRule, PhaseRule, Rulebook
from planner.rulebook.task_rule import Anchor, TaskRule
from planner.rulebook.words import Word
from planner.show.json.record_objects import forecast_document, iso, need_document, quantity_document, trace_document, window_document
from planner.show.terminal.taskcard import MET, MOST_TERMS, Sheet, shown_words
from planner.show.words.conditions import condition_words, evidence_words, need_to_tick
from planner.show.words.explained_terms import Glossary
from planner.show.words.house_rules import house_about, house_document, house_words
from planner.show.words.numbers import Cited, cited_numbers, cited_source, formula_words, grade_words, number_document, number_name, number_words, shipped_words
from planner.show.words.together import because_of
from planner.show.words.words import Line, Page, Span, day_words, plain_name, short_day, window_words, wrap
from planner.terms.causes import Cause
from planner.terms.problems import Place
from planner.terms.records import Answer, Need, Plan, Quantity, Task, Trace, Window
from planner.terms.texts import ByUnits, parts_of

ONE = {"h": "hour", "d": "day", "wk": "week"}
ANSWERS = {Answer.YES: "yes", Answer.NO: "no", Answer.UNKNOWN: "unknown"}
MILESTONES = {"ammonia_clear": "ammonia clear", "nitrite_clear": "nitrite clear", "cycle_done": "filter proven"}
"""Events of the forecast as a keeper knows them."""


@dataclass(frozen=True, slots=True)
class Reason:
    """The chain behind one task or gate, ready to print."""

    id: str
    title: str
    state: str
    place: Place | None
    hangs_on: str
    because: tuple[str, ...]
    figures: tuple[Quantity, ...]
    numbers: tuple[Cited, ...]
    trace: Trace | None
    due: date | None
    window: Window
    depends_on: str
    uses_forecast: bool
    house: tuple[HouseRule, ...] = ()
    needs: tuple[Need, ...] = ()


def why_task(plan: Plan, rules: Rulebook, task: Task) -> Reason:
    """The chain behind a task of the plan."""
    rule = rules.tasks[task.key]
    figures = frozenset(q.name for _, q in task.amounts)
    used = [u.name for u in task_names(rule, task.key, frozenset()) if u.kind in ("number", "figure") and u.name not in figures]
    trace = plan.traces.get(task.id) or plan.traces.get(task.key)
    # The phase that it waits for has a line of its own.
    told = replace(task, because=tuple(b for b in task.because if not (isinstance(b, Cause) and b.kind == "shut_gate"))) if task.depends_on else task
    return Reason(
        task.id, task.title, task.state.value.replace("_", " "), rules.places.get(task.key), _counted(rule, rules, plan.units, task.phase in {a.alert for a in rules.alerts}), because_of(told, plan.units), tuple(q for _, q in task.amounts),
        cited_numbers(used, rules), trace, task.due, task.window, task.depends_on, bool(rule.anchor and rule.anchor.milestone) or _behind_milestone(task.depends_on, rules),
        house_about(rules, (task.key, task.phase, *(f"caution/{key}" for key in task.cautions), *(f"number/{n}" for n in used))))


def why_gate(plan: Plan, rules: Rulebook, phase_id: str) -> Reason:
    """The chain behind the gate of a phase of the plan."""
    rule, phase = rules.phase(phase_id), plan.phase(phase_id)
    assert phase is not None
    conditions = [c for c in (rule.gate.opens_when, rule.gate.lapses_when, *(h.when for h in rule.gate.holds)) if c is not None]
    e = rule.gate.expect
    used = [u.name for c in conditions for u in condition_names(c, phase_id) if u.kind == "number"] + [n for n in (e.quick, e.likely, e.slow) if n]
    told = plan.forecast.capacity if phase_id in proof_to_animals(rules) else ()
    because = (phase.intro, *(h.because for h in plan.holds if h.gate == phase_id), *phase.advice, *(t for t in told if t not in phase.advice and e.milestone is None))
    return Reason(
        f"gate/{phase_id}", rule.gate.title, f"passed on {day_words(phase.opened)}" if phase.opened else "not yet", rules.places.get(phase_id), _gate_waits(rule, rules, plan.units),
        tuple(because), (), cited_numbers(used, rules), plan.traces.get(f"gate/{phase_id}"), None, phase.window, "", e.milestone is not None,
        house_about(rules, (phase_id, f"gate/{phase_id}", *(f"number/{n}" for n in used))), phase.needs)


def reason_lines(reason: Reason, plan: Plan, width: int, words: Mapping[str, Word] | None = None, folder: str = "") -> tuple[Line, ...]:
    """The chain as a page: first what a keeper asks (why, when, what is missing), then where each figure comes from."""
    page, glossary, on = Page(width), Glossary(words or {}), plan.on
    sheet = Sheet(page, plan, {}, folder=folder)
    page.heading(reason.title, reason.state)
    for n, text in enumerate(reason.because):
        page.labelled("why" if n == 0 else "", sheet.typed(text))
    if reason.window.likely is not None or reason.due is not None:
        due = f"due {day_words(reason.due)}; " if reason.due and reason.due != reason.window.likely else ""
        page.labelled("when", f"{due}{window_words(reason.window, on)}")
    if reason.hangs_on:
        page.labelled("counted", reason.hangs_on)
    if reason.depends_on:
        phase = plan.phase(reason.depends_on)
        title = f"“{phase.title}”" if phase is not None else reason.depends_on
        page.labelled("waits for", f"all ticks and tests of {title}, so its date may move. What is still missing there: `{sheet.run('why', reason.depends_on)}`")
    for n, need in enumerate(reason.needs):
        page.labelled("needs" if n == 0 else "", f"{MET[need.met]}: {need_to_tick(need)}{shown_words(need)}")
    for n, house in enumerate(reason.house):
        page.labelled("house rule" if n == 0 else "", f"{house.place}: {house_words(house)}", column=12)
    # What the first screen says is explained there, three terms at most; the sources below speak for who looks them up.
    glossary.hear(*("".join(s.text for s in line) for line in page.lines))
    del glossary.waiting[MOST_TERMS:]
    glossary.explain(page)
    if reason.trace is not None and not reason.needs:  # else each need has said it
        page.heading("What the journal and your description show")
        _write_trace(page, applicable(reason.trace), 0)
    if reason.figures:
        page.heading("Amounts, for this tank")
        for made in reason.figures:
            page.labelled("", f"{plain_name(made.name)}: {told_amount(made, plan.units)}", 0, 2, role="strong")
            page.labelled("formula", formula_words(made), 4)
            if made.inputs:
                page.labelled("from", "; ".join(f"{name} {_input_words(text, plan.units)}" for name, text in made.inputs), 4)
            page.labelled("source", made.source, 4)
    if reason.numbers:
        page.heading("Numbers it rests on")
        for cited in reason.numbers:
            _write_number(page, cited, plan.units)
    if reason.uses_forecast:
        page.heading("Forecast of the nitrogen cycle")
        for text in forecast_sentences(plan):
            if text not in reason.because:  # a job that is coming stands there
                page.say(text)
    page.gap()
    page.labelled("name", reason.id)
    if reason.place is not None:
        page.labelled("rule", str(reason.place))
    return tuple(page.lines)


def reason_document(reason: Reason, plan: Plan) -> dict[str, Any]:
    """The chain as one object."""
    phase = plan.phase(reason.id.removeprefix("gate/")) if reason.id.startswith("gate/") else None
    return {
        "on": plan.on.isoformat(), "id": reason.id, "title": reason.title, "state": reason.state, "rule": str(reason.place) if reason.place else "",
        "hangs_on": reason.hangs_on, "due": iso(reason.due), **window_document(reason.window), "depends_on": reason.depends_on, "because": list(reason.because),
        "amounts": {q.name: {**quantity_document(q), "formula": formula_words(q), "inputs": dict(q.inputs), "source": q.source} for q in reason.figures},
        "numbers": [number_document(c) for c in reason.numbers], "house": [house_document(h) for h in reason.house], "needs": [need_document(n) for n in phase.needs] if phase else [],
        "trace": trace_document(reason.trace) if reason.trace else None, "forecast": forecast_document(plan.forecast) if reason.uses_forecast else None,
    }


def forecast_sentences(plan: Plan) -> list[str]:
    """What the forecast rests on and expects, in words."""
    forecast = plan.forecast
    found = [METHOD] if forecast.members else []
    found += [f"Rests on {forecast.basis}."] if forecast.basis and not forecast.sentences else []
    for name, event in forecast.events.items() if not forecast.sentences else ():
        word = MILESTONES.get(name, plain_name(name))
        if event.happened:
            found.append(f"{word}: shown by readings on {day_words(event.happened)}.")
        elif forecast.members and event.window.likely and event.window.earliest and event.window.latest:
            low, high = short_day(event.window.earliest, plan.on), short_day(event.window.latest, plan.on)
            found.append(f"{word}: likely {short_day(event.window.likely, plan.on)}; of ten plausible tanks like this one, one is there by {low} and nine by {high}.")
        else:
            found.append(f"{word}: {window_words(event.window, plan.on)}.")
    return found + list(forecast.sentences)


def _write_number(page: Page, cited: Cited, units: str) -> None:
    """A number with what backs it; its note and its source hang below."""
    n = cited.number
    for line, text in enumerate(wrap(f"{number_name(cited.name)}: {number_words(cited.name, n, units)}, {grade_words(cited, units)}", page.width, "  ", "    ")):
        name, mark, rest = text.partition(":") if line == 0 else ("", "", text)
        page.lines.append((Span(name + mark, "strong"), Span(rest)))
    if n.note:
        page.say(n.note, indent=4)
    if source := cited_source(cited):
        page.say(f"Source: {source}", "soft", 4)
    if cited.house is not None:
        page.say(f"House rule: {shipped_words(cited.house)}", indent=4)


def _input_words(text: str, units: str) -> str:
    """What went into a figure, in the buyer's units."""
    parts = ((part.us if units == "us" else part.metric) if isinstance(part, ByUnits) else part for part in parts_of(text))
    return typed(parts, partial(amount_words, units=units))


def _write_trace(page: Page, trace: Trace, depth: int) -> None:
    """The tree of conditions, each with its answer, its journal rows and its parts."""
    lead = "  " * min(depth, 8)
    word = f"{ANSWERS[trace.answer]:<8}"
    for n, line in enumerate(wrap(condition_words(trace), page.width, lead + " " * len(word))):
        body = line[len(lead) + len(word):]
        page.lines.append((Span(lead + word, "strong" if trace.answer != Answer.YES else ""), Span(body)) if n == 0 else (Span(line),))
    if trace.parts:
        for part in trace.parts:
            _write_trace(page, part, depth + 1)
        return
    for told in dict.fromkeys(evidence_words(trace)):
        page.lines += [(Span(line, "soft"),) for line in wrap(told, page.width, lead + " " * len(word) + "- ")]


def _counted(rule: TaskRule, rules: Rulebook, units: str, alarm: bool = False) -> str:
    """What dates the task, in words."""
    begins = _anchor_words(rule.anchor, rules) if rule.anchor else "the day on which it was first needed" if rule.when else "the start of the alarm" if alarm else "the start of its phase"
    first = "first " if rule.every else ""
    if rule.anchor and rule.anchor.before:
        parts = [f"on the days before “{rules.phase(rule.anchor.before).title}” begins", f"and {_wait(rule.wait, rules, units)}" if rule.wait else ""]
    elif rule.wait in rules.numbers:
        parts = [f"{first}{_wait(rule.wait, rules, units)} after {begins}"]
    else:
        parts = [f"{first}from {begins}", f"and {_wait(rule.wait, rules, units)}" if rule.wait else ""]
    if rule.every:
        again = _wait(rule.every, rules, units, every=True)
        parts.append(f"then {'1 ' if again in ONE.values() else ''}{again} after you last did it" if rule.from_ == "last_done" else f"then every {again}")
    return ", ".join(p for p in parts if p)


def _wait(name: str, rules: Rulebook, units: str, every: bool = False) -> str:
    """A wait in words: a number of the rules, or the name of a figure of this tank. `every`: behind that word a day is told without
    its one."""
    if name not in rules.numbers:
        return plain_name(name)
    number = rules.numbers[name]
    if every and number.value == 1 and number.unit in ONE:
        return ONE[number.unit]
    return shown_amount(number.value, UNIT_WORDS.get(number.unit, number.unit), units)


def _anchor_words(anchor: Anchor, rules: Rulebook) -> str:
    """The day from which it counts."""
    if anchor.phase:
        return f"the day on which “{rules.phase(anchor.phase).title}” begins"
    if anchor.gate:
        return f"the day on which “{rules.phase(anchor.gate).title}” ends"
    if anchor.task:
        return f"the day on which “{untold(rules.tasks[anchor.task].title)}” is done"
    if anchor.milestone:
        return f"the day that the forecast gives for “{MILESTONES.get(anchor.milestone) or plain_name(anchor.milestone)}”"
    return "the first day of the plan"


def _gate_waits(rule: PhaseRule, rules: Rulebook, units: str) -> str:
    e = rule.gate.expect
    titles = [f"“{rules.phase(p).title}”" for p in rule.after]
    parts = [f"begins after {', '.join(titles)}"] if titles else []
    if e.milestone:
        parts.append(f"its day comes from the forecast of “{MILESTONES.get(e.milestone) or plain_name(e.milestone)}”")
    waits = [f"{word} {_wait(n, rules, units)}" for word, n in (("quick", e.quick), ("likely", e.likely), ("slow", e.slow)) if n]
    if waits:
        parts.append(f"usually takes: {', '.join(waits)}")
    return "; ".join(parts)


def _behind_milestone(gate: str, rules: Rulebook) -> bool:
    return bool(gate) and any(p.phase == gate and p.gate.expect.milestone for p in rules.phases)


__all__ = ["Reason", "forecast_sentences", "reason_document", "reason_lines", "why_gate", "why_task"]
