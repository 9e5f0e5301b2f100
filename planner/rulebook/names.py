"""Every name that a rule uses: what `check_rules` looks up, and what `rules` shows as "used by"."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

from planner.files.tank import known_paths
from planner.rulebook.events import OTHER_WORDS
from planner.rulebook.nodes import Condition
from planner.rulebook.provenance import cites
from planner.rulebook.shapes import PhaseRule, Rulebook
from planner.rulebook.task_rule import TaskRule
from planner.rulebook.walk import conditions_of, inside, leaves, task_conditions
from planner.terms.readings import READINGS
from planner.terms.texts import Command, Figure, TankKey, TaskDay, TaskName, flat, parts_of

FIXED_NUMBERS = ("standard_salinity", "quiet_before_absence", "back_before_animals", "long_absence", "spacing", "settle_after_dose", "settle_after_bicarbonate", "fresh_ends_at_change", "change_disturbs", "clear_without_kit", "kit_step_unknown",
                 *(f"fresh_{r}" for r in READINGS),
                 "redose_rise", "redose_below", "nitrite_pause", "cycle_test_every", "challenge_least", "challenge_full", "challenge_first_times", "challenge_list_times", "nitrate_step_unknown", "kit_coarse", "kit_card_step",
                 "stall_near", "stall_no_nitrite", "cycle_weekly", "idle_days", "food_nitrogen", "ammonia_pause", "first_fish_nitrogen", "remedies_a_day",
                 "use_window", "use_readings", "use_span", "use_span_known", "use_error_known", "use_nothing", "use_misfit", "use_change_most", "use_salinity_step", "use_dose_error",
                 "new_water_alkalinity", "new_water_alkalinity_error", *(f"kit_error_{r}" for r in ("alkalinity", "alkalinity_fine", "calcium", "magnesium", "nitrate", "phosphate", "share", "salinity", "ph", "temperature")),
                 "calcium_ratio_error", "nutrient_window", "nutrient_readings", "nutrient_span", "top_up_window", "top_up_days", "top_up_over",
                 "alkalinity_aim", "alkalinity_aim_low", "alkalinity_aim_low_soft", "dose_test_every", "dose_test_soon", "dose_test_use", "dose_tests_first", "dose_first_share", "dose_step_most", "dose_day_most", "dose_half_after", "dose_stop_after", "chalk_warn", "chalk_refuse",
                 "supply_lead", "supply_margin", "supply_waste", "supply_tests_reserve", "supply_water_reserve", "dry_food_life", "frozen_food_life",
                 "nights_cycling", "nights_first_month", "nights_three_months", "nights_half_year", "nights_later", "nights_fasting", "nights_fasting_later", "away_portion")
"""Numbers that the engine itself looks up, besides those of the figures."""


@dataclass(frozen=True, slots=True)
class Use:
    """`at` (the id of the rule) names `name`, a thing of `kind`. `known` lists the choices where the kind is fixed.
    `measure`: what a number has to be a number of, `time` or a reading."""

    kind: str
    name: str
    at: str
    known: frozenset[str] = field(default=frozenset(), compare=False)
    measure: str = ""


def names_used(book: Rulebook) -> Iterator[Use]:
    figures = book.figure_names() | frozenset(book.numbers)
    for name in looked_up(book):
        yield Use("number", name, "engine")
    for name, number in book.numbers.items():
        yield from (Use("source", key, f"number/{name}") for key in cites(number))
    for name, caution in book.cautions.items():
        yield from (Use("source", key, f"caution/{name}") for key in cites(caution))
    for placed in conditions_of(book):
        yield from condition_names(placed.condition, placed.at)
    for phase in book.phases:
        for before in (*phase.after, *phase.beside):
            yield Use("phase", before, phase.phase)
        for e in (phase.gate.expect, *phase.gate.expect_first):
            for wait in (e.quick, e.likely, e.slow):
                if wait:
                    yield Use("figure", wait, phase.phase, figures)
            if e.after:
                yield Use("task", e.after, phase.phase)
        if phase.beside_wait:
            yield Use("number", phase.beside_wait, phase.phase)
        for name in (s.rests for s in phase.gate.stuck if s.rests):
            yield Use("number", name, phase.phase)
        for key in (k for h in phase.gate.holds for k in h.instead):
            yield Use("task", key, phase.phase)
        for text in phase_texts(phase):
            yield from text_names(text, phase.phase, figures)
        for task in phase.tasks:
            yield from _task_names(task, f"{phase.phase}/{task.id}", figures)
    for alert in book.alerts:
        yield from text_names(alert.say, alert.alert, figures)
        for gate in alert.holds:
            yield Use("phase", gate, alert.alert)
        for graver in alert.unless_up:
            yield Use("owner", graver, alert.alert)
        for task in alert.tasks:
            yield from _task_names(task, f"{alert.alert}/{task.id}", figures)
    if book.treadmill is not None:
        for asked in (book.treadmill.times, book.treadmill.test_again):
            yield Use("number", asked, "together/treadmill")
        for text in (book.treadmill.title, *book.treadmill.steps, book.treadmill.test_say):
            yield from text_names(text, "together/treadmill", figures)
    for line in book.apart:
        for named in filter(None, (line.large, line.before, line.after)):
            yield Use("number", named, f"together/{line.id}")
        for standing in line.while_alerts:
            yield Use("owner", standing, f"together/{line.id}")
        yield from text_names(line.say, f"together/{line.id}", figures)


def task_names(task: TaskRule, at: str, figures: frozenset[str]) -> Iterator[Use]:
    """Every name in a task, those of its conditions first."""
    for placed in task_conditions(task, at):
        yield from condition_names(placed.condition, at)
    yield from _task_names(task, at, figures)


def looked_up(book: Rulebook) -> tuple[str, ...]:
    """Every number that the engine looks up by its name."""
    return (*FIXED_NUMBERS, *(name for names in book.figures_given().values() for name in names))


def _task_names(task: TaskRule, at: str, figures: frozenset[str]) -> Iterator[Use]:
    a = task.anchor
    if a is not None:
        for kind, name in (("phase", a.phase), ("phase", a.gate), ("task", a.task), ("phase", a.before)):
            if name:
                yield Use(kind, name, at)
    for name in (task.wait, task.every, task.not_before_wait, task.called_after, task.ahead, *(g.wait for g in task.guards), *(g.late for g in task.guards)):
        if name:
            yield Use("figure", name, at, figures)
    if task.not_before:
        kind, _, gate = task.not_before.partition("/")
        yield Use("phase", gate, at) if kind == "gate" else Use("task", task.not_before, at)
    for key in (*filter(None, (task.seen_by, *(g.task for g in task.guards))), *(key.partition("#")[0] for key in task.also_done_by), *((task.void_after,) if task.void_after else ())):
        yield Use("task", key, at)
    if task.until:
        yield Use("phase", task.until, at)
    for name in task.reads:
        yield Use("reading", name, at, frozenset(READINGS))
    for name in (*task.amounts, *((task.writes.amount,) if task.writes and task.writes.amount else ()), *filter(None, (task.each_batch, task.days, task.enough, task.times))):
        yield Use("quantity", name, at)
    for name in (*task.cautions, *(c for v in task.variants for c in v.spared)):
        yield Use("caution", name, at)
    for name in task.cites:
        yield Use("number", name, at)
    for name in (task.again, task.later, task.spoils.hours if task.spoils else None):
        if name:
            yield Use("number", name, at)
    for name in task.spoils.of if task.spoils else ():
        yield Use("reading", name, at, frozenset(READINGS))
    for text in task_texts(task):
        yield from text_names(text, at, figures)


def phase_texts(phase: PhaseRule) -> tuple[str, ...]:
    """What a phase and its gate say beside their tasks."""
    return (phase.intro, *(h.because for h in phase.gate.holds), *(t for s in phase.gate.stuck for t in (s.say, *s.do, *((s.look,) if s.look is not None else ()))))


def task_texts(task: TaskRule) -> tuple[str, ...]:
    return (task.title, task.title_without or "", *task.steps, *task.watch, *task.because, *(t for v in task.variants for t in (v.title or "", *v.steps, *v.watch)))


def condition_names(condition: Condition, at: str) -> Iterator[Use]:
    """Every name in a condition: of each leaf the numbers first, then what the texts of its parts name."""
    for leaf, _ in leaves(condition):
        for threshold in leaf.thresholds():
            if threshold.written:
                yield Use("number", threshold.name, at)
        for kind, name in leaf.names():
            yield Use(kind, name, at, FIXED_CHOICES[kind]() if kind in FIXED_CHOICES else frozenset())
    for part in inside(condition):
        yield from text_names(part.say or "", at, frozenset())


FIXED_CHOICES: dict[str, Callable[[], frozenset[str]]] = {"reading": lambda: frozenset(READINGS), "tank-key": known_paths}
"""Kinds of names whose choices no rule can add to."""


def text_names(text: str, at: str, figures: frozenset[str]) -> Iterator[Use]:
    """What the braces of a text name."""
    for part in flat(parts_of(text)):
        match part:
            case Figure(name):
                yield Use("figure", name, at, figures)
            case Command("failed", key, _, _) | TaskName(key):
                yield Use("task", key, at)
            case TaskDay(keys):
                yield from (Use("task", key, at) for key in keys)
            case Command("note", event, _, _):
                yield Use("event", event, at, frozenset(OTHER_WORDS))
            case TankKey(path, _):
                yield Use("tank-key", path, at, known_paths())


__all__ = ["FIXED_NUMBERS", "Use", "condition_names", "looked_up", "names_used", "phase_texts", "task_names", "task_texts", "text_names"]
