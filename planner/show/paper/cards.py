"""The cards to work from, one a phase: what it is for, what is dangerous, the jobs with their boxes, and when it is done."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from datetime import date

from planner.plan.texts import shown_amount
from planner.rulebook.shapes import Rulebook
from planner.show.calendar.text import shorten
from planner.show.json.record_objects import Json
from planner.show.paper.needs import open_needs, wall_tests
from planner.show.paper.often import ends_at_animals, first_day, of_stages, often_words
from planner.show.paper.road import unplanned
from planner.show.paper.text import is_late, is_provisional
from planner.show.paper.wall import span_words
from planner.show.terminal.agenda import CLOSED, alarm_ids, next_of_each
from planner.show.words.causes import all_words
from planner.show.words.together import yielded_of
from planner.show.words.words import bare_day, plain_name, short_day
from planner.terms.records import Phase, Plan, State, Task

Told = dict[str, tuple[str, ...]]
"""The steps that already stand on the paper, by the key of their task."""
WEIGHTS = ("danger", "care", "note")
MOST_BOXES = 8
"""Boxes of a job that comes again and has no sheet of its own."""
CHOOSING = "Shopping: how to choose"
RUNNING_OCTETS = 36
"""How long the name of a card may be at the foot of its pages."""
GOAL = 150
"""Characters of what a card is for."""
ELSEWHERE = ("shopping",)
"""Roles of jobs that stand on pages of their own."""


def cards_data(plan: Plan, rules: Rulebook, sheets: frozenset[str], said_of: Callable[[str], str]) -> Json:
    """Alarms first, then how to choose what is to be bought, then the phases that have something left, in their order.
    `sheets`: the phases whose repeated jobs are ticked on a sheet; `said_of`: a text of a rule as paper writes it."""
    told: Told = {}
    said: set[str] = set()
    tests = wall_tests(plan)
    on_wall = tests.lines if tests is not None else ()
    alarms = alarm_ids(plan, rules)
    titles = {a.alert: a.title for a in rules.alerts}
    sections = [_section(f"Alarm: {titles[id]}", _of(plan, id), plan, rules, told, said, sheets, on_wall) for id in sorted(alarms)]
    sections += [_shopping(plan, rules, told)]
    for phase in plan.phases:
        tasks = _of(plan, phase.id)
        if unplanned(phase, plan) and not any(t.animals for t in tasks):
            continue
        if phase.opened is not None and all(t.state in CLOSED for t in tasks):
            continue  # the road has its day
        if tasks or phase.needs:
            section = _section(phase.title, tasks, plan, rules, told, said, sheets, on_wall, phase)
            sections.append(section | {"cards": [*section["cards"], *_once_more(tasks, rules, said_of)]})
    return {"sections": [s for s in sections if s["cards"] or s["done"] or s["needs"]]}


def _shopping(plan: Plan, rules: Rulebook, told: Told) -> Json:
    """The steps of the shopping jobs: what to look for, and what to ask. Only dangers have their line here, and have it again
    where the things are used."""
    tasks = [t for t in plan.tasks if t.role in ELSEWHERE and t.state not in CLOSED]
    milder = {key for key, caution in rules.cautions.items() if caution.weight != WEIGHTS[0]}
    cards = [card(task, later, plan, rules, told, milder) | {"brief": True} for task, later in next_of_each(tasks)]
    return {"title": CHOOSING, "running": CHOOSING, "when": "", "start": "", "goal": "", "advice": [], "cards": cards, "done": [], "shopping": 0, "needs": [], "opened": True, "endless": False}


def _once_more(tasks: Sequence[Task], rules: Rulebook, said_of: Callable[[str], str]) -> list[Json]:
    """The jobs that a repair makes void: they come again once it is ticked, before any other plan is printed."""
    repairs = {t.key: t.title for t in tasks if t.state not in CLOSED}
    return [{
        "title": said_of(rule.title), "day": "", "state": f"again once “{repairs[rule.void_after]}” is done", "hold": False, "minutes": f"{rule.minutes} min", "amounts": [],
        "steps": [said_of(step) for step in rule.steps], "watch": [said_of(line) for line in rule.watch], "guards": [], "cautions": _weighed(rule.cautions, rules), "often": "", "boxes": 0, "then": [], "sheet": False,
        "house": False, "again": False, "brief": False,
    } for key, rule in rules.tasks.items() if rule.void_after in repairs]


def _of(plan: Plan, phase: str) -> list[Task]:
    return [t for t in plan.tasks if t.phase == phase]


def _section(title: str, tasks: Sequence[Task], plan: Plan, rules: Rulebook, told: Told, said: set[str], sheets: frozenset[str], wall: Sequence[Json], phase: Phase | None = None) -> Json:
    open_ones = [t for t in tasks if t.state not in CLOSED]
    own = [t for t in open_ones if t.role not in ELSEWHERE]
    start = phase.started if phase is not None and phase.started is not None else first_day(open_ones)
    endless = phase is not None and phase.role == "without_end"
    cards = [card(task, later, plan, rules, told, said, start, tick_on_sheet=task.phase in sheets) | {"brief": endless} for task, later in next_of_each(own)]
    if endless:  # a job without end has no day of its own on a card: the grid has its weeks
        cards = [c | {"day": ""} for c in cards if not c["again"]]
    return {
        "title": title, "running": shorten(title, RUNNING_OCTETS), "when": _when(phase, plan), "start": bare_day(start, plan.on) if start is not None and start <= plan.on else "", "goal": goal_words(phase.intro) if phase is not None and not phase.opened else "",
        "advice": list(phase.advice) if phase is not None and phase.id not in {h.gate for h in plan.holds} else [], "cards": cards, "done": closed([t for t in tasks if t.state in CLOSED], plan.on),
        "shopping": sum(t.role in ELSEWHERE for t in open_ones), "needs": [] if endless else open_needs(phase, [c["title"] for c in cards], wall) if phase is not None else [], "opened": endless or bool(phase is not None and phase.opened), "endless": endless,
    }


def goal_words(intro: str) -> str:
    """The first sentences of what a phase is for, as many as make a line or two."""
    sentences = re.split(r"(?<=\.) +(?=[A-Z])", intro)
    goal = sentences[0]
    for sentence in sentences[1:]:
        if len(goal) + len(sentence) > GOAL:
            break
        goal += f" {sentence}"
    return goal


def _when(phase: Phase | None, plan: Plan) -> str:
    if phase is None or phase.role == "without_end":
        return ""
    return f"finished {bare_day(phase.opened, plan.on)}" if phase.opened else "done " + span_words(phase.window, plan) if phase.window.likely else ""


def _guards(keys: Iterable[str], rules: Rulebook) -> list[tuple[str, str, str]]:
    """The lines of these cautions, the gravest first."""
    shown = sorted(keys, key=lambda key: WEIGHTS.index(rules.cautions[key].weight))
    return [(rules.cautions[key].weight.capitalize(), caution_name(key).capitalize(), rules.cautions[key].line or rules.cautions[key].text) for key in shown]


def card(task: Task, later: Sequence[Task], plan: Plan, rules: Rulebook, told: Told, said: set[str], start: date | None = None, *, tick_on_sheet: bool = False) -> Json:
    """One job with its later days. How it is done stands on the paper once for all jobs of one key; a later batch of
    animals has its own steps alone. A caution has its line before the steps of the first job that it is for; the jobs
    after it (`said`) name it."""
    first = task.key not in told
    new = [key for key in task.cautions if first and key in rules.cautions and key not in said]
    said.update(new)
    all_steps = tuple(all_words(task.steps, plan.units))
    before = told.setdefault(task.key, all_steps)
    steps = list(all_steps) if first else [s for s in all_steps if s not in before] if task.animals else []
    if ends_at_animals(task, rules):  # when to stop comes before how
        steps.sort(key=lambda step: not step.startswith("Stop "))
    often = often_words(task, later, plan, rules)
    return {
        "title": task.title, "day": day_in_phase(task, start, plan.on), "state": state_note(task, plan.on), "hold": task.state == State.ON_HOLD, "minutes": f"{task.minutes} min" if first else "",
        "amounts": _amounts(task, plan.units, " ".join(all_steps)) if first or task.animals else [], "steps": steps, "watch": [*yielded_of(task), *(task.watch if first else ())],
        "guards": _guards(new, rules), "cautions": _weighed([key for key in task.cautions if key not in new], rules) if first else [], "often": often, "boxes": 0 if tick_on_sheet or not often or not later else min(MOST_BOXES, len(later)),
        "then": [f"{other.title.rpartition(': ')[2]}, {day_in_phase(other, start, plan.on)}" for other in later] if of_stages(task, later) else [],
        "sheet": bool(often) and tick_on_sheet, "house": bool(task.house), "again": not first, "brief": False,
    }


def day_in_phase(task: Task, start: date | None, on: date) -> str:
    """`day 3, about Thu 14 May`: the day of its phase, and the likely date."""
    if task.date is None:
        return ""
    likely = ("about " if is_provisional(task) else "") + short_day(task.date, on)
    return f"day {(task.date - start).days + 1}, {likely}" if start is not None and task.date >= start else likely


def _weighed(cautions: Sequence[str], rules: Rulebook) -> list[tuple[str, list[str]]]:
    """`Danger: mains, wet floor`: the cautions of a job by their weight."""
    named = [(w.capitalize(), [caution_name(key) for key in cautions if key in rules.cautions and rules.cautions[key].weight == w]) for w in WEIGHTS]
    return [(weight, names) for weight, names in named if names]


def _amounts(task: Task, units: str, steps: str) -> list[tuple[str, str]]:
    """The amounts that the steps do not name themselves."""
    return [(name, much) for name, much in amounts_of(task, units) if much not in steps]


def amounts_of(task: Task, units: str) -> list[tuple[str, str]]:
    return [(plain_name(name), shown_amount(made.value, made.unit, units)) for name, made in task.amounts]


def state_note(task: Task, on: date) -> str:
    """`late, was due Fri 8 May`, `on hold`, or nothing."""
    if is_late(task, on):
        return "late" + (f", was due {short_day(task.due, on)}" if task.due else "")
    return "with another test" if task.tested_with else "on hold" if task.state == State.ON_HOLD else ""


def caution_name(key: str) -> str:
    """The short name under which a job points to a caution: `wet floor`."""
    return key.replace("_", " ").replace("-", " ")


def closed(tasks: Iterable[Task], on: date) -> list[str]:
    """What was ticked or skipped, each job once, with its last day."""
    groups: dict[str, list[Task]] = {}
    for task in tasks:
        groups.setdefault(task.key, []).append(task)
    found = []
    for group in groups.values():
        last = group[-1]
        told = [w for w in ("skipped" if last.state == State.SKIPPED else "", bare_day(last.closed_on, on) if last.closed_on else "", f"{len(group)} times" if len(group) > 1 else "") if w]
        found.append(last.title + (f" ({', '.join(told)})" if told else ""))
    return found


__all__ = ["Told", "amounts_of", "card", "cards_data", "caution_name", "closed", "state_note"]
