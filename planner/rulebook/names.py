"""Every name that a rule uses: what `check_rules` looks up, and what `rules` shows as "used by"."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field

from planner.files.tank import known_paths
from planner.rulebook.figure_names import AMOUNT_NUMBERS, FIGURES
from planner.rulebook.nodes import Condition
from planner.rulebook.shapes import Rulebook, TaskRule
from planner.terms.readings import READINGS

BRACES = re.compile(r"\{([^}]*)\}")
FIXED_NUMBERS = ("quiet_before_absence", "long_absence", "spacing", "settle_after_dose", "settle_after_bicarbonate", "fresh_ends_at_change", "clear_without_kit", "kit_step_unknown",
                 *(f"fresh_{r}" for r in READINGS),
                 "redose_rise", "redose_below", "nitrite_pause", "cycle_test_every", "challenge_least", "challenge_full", "challenge_first_times", "challenge_list_times", "nitrate_step_unknown", "kit_coarse", "kit_card_step",
                 "stall_near", "stall_no_nitrite", "cycle_weekly", "idle_days", "food_nitrogen", "ammonia_pause", "first_fish_nitrogen", "remedies_a_day",
                 *AMOUNT_NUMBERS)
"""Numbers that the engine itself looks up."""


@dataclass(frozen=True, slots=True)
class Use:
    """`at` (the id of the rule) names `name`, a thing of `kind`. `known` lists the choices where the kind is fixed."""

    kind: str
    name: str
    at: str
    known: frozenset[str] = field(default=frozenset(), compare=False)


def names_used(book: Rulebook) -> Iterator[Use]:
    figures = FIGURES | frozenset(book.numbers)
    for name in FIXED_NUMBERS:
        yield Use("number", name, "engine")
    for name, number in book.numbers.items():
        if number.source:
            yield Use("source", number.source, f"number/{name}")
    for phase in book.phases:
        for before in (*phase.after, *phase.beside):
            yield Use("phase", before, phase.phase)
        for condition in (phase.only_when, phase.gate.opens_when, phase.gate.lapses_when, *(h.when for h in phase.gate.holds), *(s.when for s in phase.gate.stuck)):
            if condition is not None:
                yield from condition_names(condition, phase.phase)
        for e in (phase.gate.expect, *phase.gate.expect_first):
            for wait in (e.quick, e.likely, e.slow):
                if wait:
                    yield Use("figure", wait, phase.phase, figures)
            if e.after:
                yield Use("task", e.after, phase.phase)
            if e.only_when is not None:
                yield from condition_names(e.only_when, phase.phase)
        if phase.beside_wait:
            yield Use("number", phase.beside_wait, phase.phase)
        for name in (s.rests for s in phase.gate.stuck if s.rests):
            yield Use("number", name, phase.phase)
        for key in (k for h in phase.gate.holds for k in h.instead):
            yield Use("task", key, phase.phase)
        for text in (phase.intro, *(h.because for h in phase.gate.holds), *(t for s in phase.gate.stuck for t in (s.say, *s.do))):
            yield from _braces(text, phase.phase, figures)
        for task in phase.tasks:
            yield from task_names(task, f"{phase.phase}/{task.id}", figures)
    for alert in book.alerts:
        yield from condition_names(alert.when, alert.alert)
        yield from _braces(alert.say, alert.alert, figures)
        for gate in alert.holds:
            yield Use("phase", gate, alert.alert)
        for task in alert.tasks:
            yield from task_names(task, f"{alert.alert}/{task.id}", figures)
    for line in book.apart:
        for named in filter(None, (line.large, line.before, line.after)):
            yield Use("number", named, f"together/{line.id}")
        yield from _braces(line.say, f"together/{line.id}", figures)


def task_names(task: TaskRule, at: str, figures: frozenset[str]) -> Iterator[Use]:
    for condition in (task.only_when, task.when, task.unless, *(g.when for g in task.guards), *(v.only_when for v in task.variants)):
        if condition is not None:
            yield from condition_names(condition, at)
    a = task.anchor
    if a is not None:
        for kind, name in (("phase", a.phase), ("phase", a.gate), ("task", a.task), ("phase", a.before)):
            if name:
                yield Use(kind, name, at)
    for name in (task.wait, task.not_before_wait, task.ahead):
        if name:
            yield Use("figure", name, at, figures)
    if task.every:
        yield Use("number", task.every, at)
    if task.not_before:
        yield Use("task", task.not_before, at)
    for key in (*(g.task for g in task.guards if g.task), *((task.also_done_by.partition("#")[0],) if task.also_done_by else ())):
        yield Use("task", key, at)
    if task.until:
        yield Use("phase", task.until, at)
    for name in task.reads:
        yield Use("reading", name, at, frozenset(READINGS))
    for name in (*task.amounts, *((task.writes.amount,) if task.writes and task.writes.amount else ())):
        yield Use("quantity", name, at, FIGURES)
    for name in task.cautions:
        yield Use("caution", name, at)
    for name in task.cites:
        yield Use("number", name, at)
    for name in (task.again, task.spoils.hours if task.spoils else None):
        if name:
            yield Use("number", name, at)
    for name in task.spoils.of if task.spoils else ():
        yield Use("reading", name, at, frozenset(READINGS))
    for text in (task.title, task.title_without or "", *task.steps, *task.watch, *task.because, *(t for v in task.variants for t in (v.title or "", *v.steps, *v.watch))):
        yield from _braces(text, at, figures)


def condition_names(condition: Condition, at: str) -> Iterator[Use]:
    for part in (*(condition.all or ()), *(condition.any or ()), *((condition.not_,) if condition.not_ else ())):
        yield from condition_names(part, at)
    r, d, e, f, c, t, g = (condition.reading, condition.done, condition.event, condition.fact, condition.challenge, condition.tank, condition.age)
    numbers = [n for n in (
        *((r.at_least, r.at_most, r.above, r.below, r.apart, r.fresh) if r else ()), *((d.within,) if d else ()), *((e.within,) if e else ()),
        *((f.within, f.total_at_least) if f else ()), *((c.dose, c.hours, c.within) if c else ()), *((t.at_least, t.at_most) if t else ()), *((g.at_least,) if g else ())) if n]
    for name in numbers:
        yield Use("number", name, at)
    for name in (n.name for n in (r, condition.kit) if n):
        yield Use("reading", name, at, frozenset(READINGS))
    if t:
        yield Use("tank-key", t.key, at, known_paths())
    for spec in ((r.since if r else None), (d.task if d else None), (d.since if d else None), (d.after if d else None), (e.since if e else None), (e.ended_by if e else None), (e.task if e else None),
                 (f.since if f else None), (g.of if g else None)):
        if spec and "/" in spec:
            yield Use("task", spec, at)
        elif spec and ":" not in spec:
            yield Use("phase", spec, at)


def _braces(text: str, at: str, figures: frozenset[str]) -> Iterator[Use]:
    for name in BRACES.findall(text):
        yield Use("figure", name, at, figures)


__all__ = ["FIXED_NUMBERS", "Use", "condition_names", "names_used", "task_names"]
