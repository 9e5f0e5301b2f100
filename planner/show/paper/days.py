"""The printed plan day by day: every task up to the first fish, phase by phase, then what follows week by week."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date

from planner.plan.milestones import fish_came, next_fish
from planner.plan.texts import shown_amount
from planner.rulebook.shapes import Rulebook
from planner.show.json.record_objects import Json
from planner.show.paper.text import Day, day_of, is_provisional
from planner.show.terminal.agenda import CLOSED, alarm_ids, next_of_each
from planner.show.words.causes import all_words, cause_words
from planner.show.words.conditions import need_to_tick
from planner.show.words.together import yielded_of
from planner.show.words.words import bare_day, plain_name, short_day, window_words
from planner.terms.records import Answer, Need, Phase, Plan, State, Task

Told = dict[str, tuple[str, ...]]
"""The steps that already stand on the paper, by the key of their task."""
LONG_CARD = 650
"""Characters from which a task may be broken over two columns: about a quarter of a column."""


def until_first_fish(plan: Plan) -> list[Task]:
    """Every task up to the first fish, done ones too; all tasks where no fish has a day."""
    last = next_fish(plan).likely
    return [t for t in plan.tasks if last is None or t.state in CLOSED or t.date is None or t.date <= last]


def days_data(plan: Plan, rules: Rulebook) -> Json:
    """Sections of task cards: alarms first, then the phases that have something left."""
    before = until_first_fish(plan)
    told: Told = {}
    alarms = alarm_ids(plan, rules)
    titles = {a.alert: a.title for a in rules.alerts}
    sections = [_section(f"Alarm: {titles[id]}", "", [t for t in before if t.phase == id], plan, rules, told) for id in sorted(alarms)]
    finished = []
    for phase in plan.phases:
        tasks = [t for t in before if t.phase == phase.id]
        if phase.opened is not None and all(t.state in CLOSED for t in tasks):
            finished.append({"title": phase.title, "when": f"finished {bare_day(phase.opened, plan.on)}" + (", on your word" if phase.on_word else ""),
                             "done": _closed(tasks, plan.on)})
        elif tasks or phase.needs:
            when = "" if phase.role == "without_end" else f"finished {bare_day(phase.opened, plan.on)}" if phase.opened else window_words(phase.window, plan.on, cause_words(phase.reason, plan.units))
            section = _section(phase.title, when, tasks, plan, rules, told)
            sections.append(section | {"intro": "" if phase.opened else phase.intro, "advice": list(phase.advice), "needs": _needs(phase)})
    which = "next" if fish_came(plan) else "first"
    title = f"Day by day to the {which} fish" if next_fish(plan).likely else "Day by day"
    return {"title": title, "after": f"After the {which} fish, week by week", "finished": finished, "sections": [s for s in sections if s["cards"] or s["done"] or s.get("needs")], "weeks": _weeks(plan, before, rules, told)}


def _section(title: str, when: str, tasks: Sequence[Task], plan: Plan, rules: Rulebook, told: Told) -> Json:
    cards = [card(task, later, plan, rules, told) for task, later in next_of_each(t for t in tasks if t.state not in CLOSED)]
    return {"title": title, "when": when, "cards": cards, "done": _closed([t for t in tasks if t.state in CLOSED], plan.on)}


def card(task: Task, later: Sequence[Task], plan: Plan, rules: Rulebook, told: Told) -> Json:
    """One task with its later days. How it is done stands on the paper once for all tasks of one key; a later batch of
    animals has its own steps, and the page on which the others stand."""
    first = task.key not in told
    all_steps = tuple(all_words(task.steps, plan.units))
    before = told.setdefault(task.key, all_steps)
    own = [s for s in all_steps if s not in before] if task.animals else []
    steps, watch = list(all_steps) if first else own, list(task.watch) if first else []
    mark = f"told-{task.key.replace('/', '-')}" if task.animals else ""
    return {
        "title": task.title, "day": day_of(task, plan.on), "state": state_note(task, plan.on), "hold": task.state == State.ON_HOLD,
        "facts": ", ".join(([f"{task.minutes} min"] if task.minutes and first else []) + ([f"in the {task.where} water"] if task.where != "display" else [])),
        "amounts": amounts_of(task, plan.units), "steps": steps, "watch": [*yielded_of(task), *watch], "long": sum(map(len, (*steps, *watch))) > LONG_CARD,
        "cautions": [caution_name(key) for key in task.cautions if key in rules.cautions] if first else [], "again": _again(later, plan.on),
        "house": bool(task.house), "mark": mark if first else "", "see": "" if first or len(own) == len(task.steps) else mark,
    }


def _again(later: Sequence[Task], on: date) -> list[Json]:
    """The days on which a task comes again, a strip for each year and for certain and provisional days apart."""
    strips: dict[str, list[Day]] = {}
    for task in later:
        if task.date is not None:
            provisional = is_provisional(task)
            label = "Again" + (f" in {task.date.year}" if task.date.year != on.year else "") + (", about" if provisional else "")
            strips.setdefault(label, []).append((short_day(task.date, task.date), provisional))
    return [{"label": label, "days": days} for label, days in strips.items()]


def state_note(task: Task, on: date) -> str:
    """`late, was due Fri 8 May`, `on hold`, or nothing."""
    if task.state == State.LATE:
        return "late" + (f", was due {short_day(task.due, on)}" if task.due else "")
    return "with another test" if task.tested_with else "on hold" if task.state == State.ON_HOLD else ""


def amounts_of(task: Task, units: str) -> list[tuple[str, str]]:
    return [(plain_name(name), shown_amount(made.value, made.unit, units)) for name, made in task.amounts]


def caution_name(key: str) -> str:
    """The short name under which a task points to a caution: `wet floor`."""
    return key.replace("_", " ").replace("-", " ")


def need_text(need: Need) -> str:
    """What a gate asks for, as a line of a list to tick."""
    plain = need_to_tick(need)
    return plain[:1].upper() + plain[1:] if not plain.startswith("pH") else plain


def _needs(phase: Phase) -> list[str]:
    return [] if phase.opened is not None or phase.role == "without_end" else [need_text(n) for n in phase.needs if n.met is not Answer.YES]


def _closed(tasks: Iterable[Task], on: date) -> list[str]:
    """What was ticked or skipped, each task once, with its last day."""
    groups: dict[str, list[Task]] = {}
    for task in tasks:
        groups.setdefault(task.key, []).append(task)
    found = []
    for group in groups.values():
        last = group[-1]
        told = [w for w in ("skipped" if last.state == State.SKIPPED else "", bare_day(last.closed_on, on) if last.closed_on else "", f"{len(group)} times" if len(group) > 1 else "") if w]
        found.append(last.title + (f" ({', '.join(told)})" if told else ""))
    return found


def _weeks(plan: Plan, before: Sequence[Task], rules: Rulebook, told: Told) -> list[Json]:
    """What comes after the first fish, by weeks counted from the day of the plan."""
    known = {t.id for t in before}
    weeks: dict[int, list[Task]] = {}
    for task in plan.tasks:
        if task.id not in known and task.date is not None:
            weeks.setdefault((task.date - plan.on).days // 7 + 1, []).append(task)
    found = []
    for number, tasks in sorted(weeks.items()):
        first: Day = (short_day(min(t.date for t in tasks if t.date), plan.on), any(map(is_provisional, tasks)))
        found.append({"title": f"Week {number}", "from": first, "cards": [card(task, later, plan, rules, told) for task, later in next_of_each(tasks)]})
    return found


__all__ = ["amounts_of", "card", "caution_name", "days_data", "need_text", "state_note", "until_first_fish"]
