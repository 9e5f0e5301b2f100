"""The cards to work from, one a phase: what it is for, what is dangerous, the jobs with their boxes, and when it is done."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from datetime import date

from planner.plan.milestones import unplanned
from planner.plan.texts import told_amount
from planner.rulebook.nodes import Condition
from planner.rulebook.shapes import PhaseRole, Rulebook
from planner.rulebook.task_rule import TaskRule
from planner.show.calendar.text import shorten
from planner.show.json.record_objects import Json
from planner.show.paper.after import after_of, tests_together
from planner.show.paper.guards import WEIGHTS, guards, throughout, weighed
from planner.show.paper.needs import open_needs, wall_tests
from planner.show.paper.often import first_day, interval_words, of_stages, often_words
from planner.show.paper.text import is_late, is_provisional
from planner.show.paper.wall import span_words
from planner.show.terminal.agenda import CLOSED, alarm_ids, next_of_each
from planner.show.words.causes import all_words
from planner.show.words.together import yielded_of
from planner.show.words.words import bare_day, listed, plain_name, short_day
from planner.terms.records import Phase, Plan, State, Task

Told = dict[str, tuple[str, ...]]
"""The steps that already stand on the paper, by the key of their task."""
ON_SHEET = "Tick them on the sheet for twelve weeks."
MOST_BOXES = 8
"""Boxes of a job that comes again and has no sheet of its own."""
CHOOSING = "Shopping: how to choose"
CHOICE = "Before you pay"
RUNNING_OCTETS = 36
"""How long the name of a card may be at the foot of its pages."""
GOAL = 150
"""Characters of what a card is for."""
UNDATED: tuple[PhaseRole, ...] = ("quarantine", "stocks_crew")
"""Phases whose jobs wait for what no plan can date."""
ELSEWHERE = ("shopping",)
"""Roles of jobs that stand on pages of their own."""


def cards_data(plan: Plan, rules: Rulebook, sheets: frozenset[str], said_of: Callable[[str], str]) -> Json:
    """Alarms first, then how to choose what is to be bought, then the phases that have something left, in their order.
    `sheets`: the phases whose repeated jobs are ticked on a sheet; `said_of`: a text of a rule as paper writes it."""
    told: Told = {}
    said: set[str] = set()
    on_wall = wall_tests(plan)
    alarms = alarm_ids(plan, rules)
    titles = {a.alert: a.title for a in rules.alerts}
    sections = [_section(f"Alarm: {titles[id]}", _of(plan, id), plan, rules, told, said, sheets, on_wall) for id in sorted(alarms)]
    sections += [_shopping(plan, rules, told)]
    for phase in _in_turn(plan.phases):
        tasks = _of(plan, phase.id)
        if unplanned(phase, plan) and not any(t.animals for t in tasks):
            continue
        if phase.opened is not None and all(t.state in CLOSED for t in tasks):
            continue  # the road has its day
        if tasks or phase.needs:
            section = _section(phase.title, tasks, plan, rules, told, said, sheets, on_wall, phase)
            sections.append(section | {"cards": _before_animals([*section["cards"], *_once_more(tasks, rules, said_of)], later_cards(phase, plan, rules, said_of, said), tasks)})
    return {"sections": _told_once([s for s in sections if s["cards"] or s["done"] or s["needs"]])}


def _told_once(sections: list[Json]) -> list[Json]:
    """What is done in the very way of a job before it, such as the test before each purchase of animals, points to that one."""
    seen: dict[tuple[tuple[str, ...], tuple[str, ...]], str] = {}

    def shown(card: Json) -> Json:
        way = (tuple(card["steps"]), tuple(card["watch"]))
        first = seen.setdefault(way, card["title"]) if len(card["steps"]) > 1 and not card["times"] else card["title"]
        return card if first == card["title"] else card | {"steps": [], "watch": [], "as": first}

    return [section | {"cards": [shown(card) for card in section["cards"]]} for section in sections]


def _in_turn(phases: Sequence[Phase]) -> list[Phase]:
    """The phases as their cards follow each other: what goes on of a finished one (topping up) comes behind the phase that runs now (the look
    at the floor), as in the order of an evening."""
    now = next((n for n, p in enumerate(phases) if p.opened is None), len(phases))
    return [*phases[now : now + 1], *phases[:now], *phases[now + 1 :]]


def _before_animals(cards: list[Json], later: list[Json], tasks: Sequence[Task]) -> list[Json]:
    """The jobs without a day before the first card that brings animals, what belongs to animals that are in behind it."""
    staged = {t.title for t in tasks if t.animals}
    at = next((n for n, c in enumerate(cards) if c["title"] in staged), len(cards))
    early = [c for c in later if not c["aboard"]]
    return [*cards[:at], *early, *cards[at:], *(c for c in later if c not in early)]


def _shopping(plan: Plan, rules: Rulebook, told: Told) -> Json:
    """What to look for when one buys, of all errands on one card: what to buy stands on the list. Only dangers have their line
    here, and have it again where the things are used."""
    tasks = [t for t, _ in next_of_each(t for t in plan.tasks if t.role in ELSEWHERE and t.state not in CLOSED)]
    milder = {key for key, caution in rules.cautions.items() if caution.weight != WEIGHTS[0]}
    cards = [card(task, (), plan, rules, told, milder) for task in tasks]
    one = cards[0] | {
        "title": CHOICE, "day": "", "state": "", "minutes": "", "amounts": [], "often": "", "then": [], "house": any(c["house"] for c in cards), "hold": False,
        "steps": [" ".join(filter(None, c["steps"])) for c in cards if any(c["steps"])], "watch": [line for c in cards for line in c["watch"] if line], "hints": True, "guards": sorted([g for c in cards for g in c["guards"]], key=lambda g: WEIGHTS.index(g[0].lower())), "cautions": [],
    } if cards else None
    return {"title": CHOOSING, "short": CHOOSING, "running": CHOOSING, "when": "", "day_one": "", "start": "", "goal": "", "through": [], "advice": [], "cards": [one] if one is not None and one["steps"] else [], "done": [], "shopping": 0, "needs": [], "opened": True, "endless": False}


def _once_more(tasks: Sequence[Task], rules: Rulebook, said_of: Callable[[str], str]) -> list[Json]:
    """The jobs that a repair makes void: they come again once it is ticked, before any other plan is printed."""
    repairs = {t.key: t.title for t in tasks if t.state not in CLOSED}
    return [_of_rule(rule, rules, said_of, f"again once “{repairs[rule.void_after]}” is done") for key, rule in rules.tasks.items() if rule.void_after in repairs]


def _of_rule(rule: TaskRule, rules: Rulebook, said_of: Callable[[str], str], state: str, said: set[str] | None = None) -> Json:
    """A job that the plan does not date yet, as its rule has it. `said`: the cautions that have their line already; None where all have."""
    new = [key for key in rule.cautions if said is not None and key in rules.cautions and key not in said]
    if said is not None:
        said.update(new)
    days = rules.days(rule.every) if rule.every in rules.numbers and rule.day != "shopping" else None
    return {
        "title": said_of(rule.title), "day": "", "state": state, "hold": False, "minutes": f"{rule.minutes} min", "amounts": [],
        "steps": list(filter(None, map(said_of, rule.steps))), "watch": list(filter(None, map(said_of, rule.watch))), "guards": guards(new, rules), "cautions": weighed([key for key in rule.cautions if key not in new], rules),
        "often": interval_words(days) if days else "", "boxes": MOST_BOXES if days else 0, "times": [], "stands_for": [], "then": [], "sheet": False, "house": False, "again": False, "brief": False, "hints": False, "as": "",
        "aboard": rule.when is not None and any(part.animal is not None for part in rule.when.all or (rule.when,)),
    }


def later_cards(phase: Phase, plan: Plan, rules: Rulebook, said_of: Callable[[str], str], said: set[str]) -> list[Json]:
    """The jobs of a quarantine and of the first snails that wait for something that no plan can date: a clear test, a film, a fish that is in. Whoever has only the paper
    needs them all the same. What an alarm or an illness asks for is not among them, nor what hangs on a job
    that this tank does without: the stage that stands for it has tests of its own."""
    if phase.role not in UNDATED or phase.opened is not None and not any(t.phase == phase.id and t.state not in CLOSED for t in plan.tasks):
        return []
    planned = {t.key for t in plan.tasks}
    staged = {rules.tasks[t.key].per_stage for t in plan.tasks if t.key in rules.tasks}
    waiting = [(rule, words) for key, rule in rules.tasks.items() if key.partition("/")[0] == phase.id and key not in planned | plan.left_out and rule.rank is None
               and (rule.unless_stages is None or rule.unless_stages not in staged)
               and rule.when is not None and not any(part.done is not None and part.done.task in plan.left_out for part in rule.when.all or (rule.when,)) and (words := waits_words(rule.when, rules, said_of))[0]]
    cards = [_of_rule(rule, rules, said_of, f"{said_of('{' + rule.wait + '}')} {words}" if rule.wait and counts else words, said) for rule, (words, counts) in waiting]
    return tests_together(cards, [after_of(rule, "", plan, rules, said_of) for rule, _ in waiting])


def waits_words(when: Condition, rules: Rulebook, said_of: Callable[[str], str]) -> tuple[str, bool]:
    """What a job waits for, of the things that a keeper sees (`once ammonia and nitrite are clear, while no animal is in it`), and whether a wait is counted from it.
    An illness is none: it has its line where one looks for it."""
    titles = {p.phase: p.title for p in rules.phases}

    def title(key: str) -> str:
        return f"“{said_of(rules.tasks[key].title)}”" if key in rules.tasks else f"“{titles.get(key, key)}”"

    parts = when.all or (when,)
    clear = [x.reading.name for x in parts if x.reading is not None and x.reading.clear]
    below = [f"{x.reading.name} is {said_of('below {' + x.reading.below + '}')}" for x in parts if x.reading is not None and x.reading.below]
    waits: list[tuple[str, bool]] = [(f"once {listed(clear)} {'are' if len(clear) > 1 else 'is'} clear", False)] if clear else [(f"once {listed(below)}", False)] if below else []
    for part in parts:
        if part.event is not None:
            if part.event.what == "ill":
                return "", False
            waits.append(("once the wiped glass shows film", False) if part.event.what == "algae_seen" else (f"after {plain_name(part.event.what)}", True))
        elif part.animal is not None:
            waits.append(("from the day on which an animal is in it", False))
        elif part.age is not None and part.age.at_least:
            waits.append((f"{said_of('{' + part.age.at_least + '}')} after {title(part.age.of)}" if part.age.of in rules.tasks and rules.number(part.age.at_least) else f"once {title(part.age.of)} is finished", False))
        elif part.done is not None and not waits:
            waits.append((f"after {title(part.done.task)}", True))
    idle = [part.not_.animal for part in parts if part.not_ is not None and part.not_.animal is not None]
    return ", ".join([*(words for words, _ in waits[:1]), *(["while no animal is in it"] if idle else [])]), bool(waits) and waits[0][1]


def _of(plan: Plan, phase: str) -> list[Task]:
    return [t for t in plan.tasks if t.phase == phase]


def _section(title: str, tasks: Sequence[Task], plan: Plan, rules: Rulebook, told: Told, said: set[str], sheets: frozenset[str], wall: Sequence[Json], phase: Phase | None = None) -> Json:
    open_ones = [t for t in tasks if t.state not in CLOSED]
    own = [t for t in open_ones if t.role not in ELSEWHERE]
    fed = plan.forecast.curve[0].day if phase is not None and phase.role == "proves_filter" and plan.forecast.curve else None
    start = fed or (phase.started if phase is not None and phase.started is not None else first_day(open_ones))
    endless = phase is not None and phase.role == "without_end"
    jobs = next_of_each(own)
    dated: set[date] = set()
    cards = [card(task, later, plan, rules, told, said, start, tick_on_sheet=task.phase in sheets, first_day=0 if fed else 1, dated=dated) | {"brief": endless} for task, later in jobs]
    cards = tests_together(cards, [after_of(rules.tasks.get(task.key), task.stage, plan, rules, str) for task, _ in jobs])
    if endless:  # a job without end has no day of its own on a card: the grid has its weeks
        cards = [c | {"day": ""} for c in cards if not c["again"]]
    cards, through = throughout(cards)
    goal = goal_words(phase.intro) if phase is not None and not phase.opened else ""
    return {
        "title": title, "short": rules.phase(phase.id).short if phase is not None else title, "running": shorten(title, RUNNING_OCTETS), "when": _when(phase, plan), "day_one": "Day 0, the first food" if fed else "Day 1", "start": bare_day(start, plan.on) if start is not None and start <= plan.on else "", "goal": f"{goal} {ON_SHEET}".strip() if endless and any(c["sheet"] for c in cards) else goal, "through": through,
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


def card(task: Task, later: Sequence[Task], plan: Plan, rules: Rulebook, told: Told, said: set[str], start: date | None = None, *, tick_on_sheet: bool = False, first_day: int = 1, dated: set[date] | None = None) -> Json:
    """One job with its later days. How it is done stands on the paper once for all jobs of one key; a later batch of
    animals has its own steps alone. A caution has its line before the steps of the first job that it is for; the jobs
    after it (`said`) name it."""
    first = task.key not in told
    new = [key for key in task.cautions if first and key in rules.cautions and key not in said]
    said.update(new)
    all_steps = tuple(all_words(task.steps, plan.units))
    before = told.setdefault(task.key, all_steps)
    steps = list(all_steps) if first else [s for s in all_steps if s not in before] if task.animals else []
    often = often_words(task, later, plan, rules)
    return {
        "title": task.title, "day": day_in_phase(task, start, plan.on, first_day, dated), "state": state_note(task, plan.on), "hold": task.state == State.ON_HOLD, "minutes": f"{task.minutes} min" if first else "",
        "amounts": _amounts(task, plan.units, " ".join(all_steps)) if first or task.animals else [], "steps": steps, "watch": [*yielded_of(task, by_hand=True), *(task.watch if first else ())],
        "guards": guards(new, rules), "cautions": weighed([key for key in task.cautions if key not in new], rules) if first else [], "often": often, "boxes": 0 if tick_on_sheet or not often or not later else min(MOST_BOXES, len(later)),
        "times": [], "stands_for": [], "then": [(other.stage or other.title, day_in_phase(other, start, plan.on)) for other in later] if of_stages(task, later) else [],
        "sheet": bool(often) and tick_on_sheet, "house": bool(task.house), "again": not first, "brief": False, "hints": False, "as": "",
    }


def day_in_phase(task: Task, start: date | None, on: date, first: int = 1, dated: set[date] | None = None) -> str:
    """`day 3, Thu 14 May`: the day of its phase, and the date. `first`: the number of the day from which is counted. What waits has its likely
    date once a card, and where animals come in: the other days are counted from the one that is written in, for a date at each is wrong at the
    first slip. `dated`: the days that have their date on the card already."""
    if task.date is None:
        return ""
    likely = ("about " if is_provisional(task) else "") + short_day(task.date, on)
    if start is None or task.date < start:
        return likely
    day = f"day {(task.date - start).days + first}"
    anchored = start <= on or dated is None or bool(dated)
    counted = anchored and is_provisional(task) and task.role != "animals"
    if counted or (dated is not None and task.date in dated):
        return day
    if dated is not None:
        dated.add(task.date)
    return f"{day}, {likely}"


def _amounts(task: Task, units: str, steps: str) -> list[tuple[str, str]]:
    """The amounts that the steps do not name themselves."""
    return [(name, much) for name, much in amounts_of(task, units) if much not in steps]


def amounts_of(task: Task, units: str) -> list[tuple[str, str]]:
    return [(plain_name(name), told_amount(made, units)) for name, made in task.amounts]


def state_note(task: Task, on: date) -> str:
    """`late, was due Fri 8 May`, `on hold`, or nothing."""
    if is_late(task, on):
        return "late" + (f", was due {short_day(task.due, on)}" if task.due else "")
    return "with another test" if task.tested_with else "on hold" if task.state == State.ON_HOLD else ""


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


__all__ = ["Told", "amounts_of", "card", "cards_data", "closed", "state_note"]
