"""The jobs of a day in a line each, with the cautions that guard them before them; steps where they are not known by heart."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Literal

from planner.plan.day_jobs import Day, Job
from planner.plan.evening import can_wait, comes_later, endings_last
from planner.plan.places import alarm_order, asks_first
from planner.plan.texts import told_amount
from planner.rulebook.shapes import Rulebook
from planner.rulebook.what_jobs_do import only_forbids
from planner.show.terminal.taskcard import MOST_TERMS, WEIGHT_ROLES, WEIGHTS, Sheet, amount_words, write_cautions
from planner.show.words.causes import all_words
from planner.show.words.explained_terms import Glossary
from planner.show.words.together import yielded_words
from planner.show.words.words import Page, Role, Span, late_words, listed, short_day, wrap
from planner.terms.causes import Cause
from planner.terms.records import Plan, Task

NUMBER_WIDTH = 5
Told = Literal["full", "steps", "line"]
"""How much of a job stands on the page: everything; its steps behind the protective lines of its cautions; those lines and its title."""


def as_printed(day: Day, rules: Rulebook) -> tuple[list[Job], list[Job], list[Job]]:
    """Jobs to do in the order of the page, ordinary ones that can wait until tomorrow, and those that are ticked or fell away.

    Numbers stay as they came up, but what an alarm asks for stands first, the gravest alarm before all, and what only ends one behind
    the help for all. While its remedy is
    open, an alarm that may kill leaves room beside it for nothing but what ends a hold."""
    jobs = [j for j in day.jobs if not only_forbids(rules.tasks.get(j.task.key))]  # stands among what must not happen yet
    open_jobs = [j for j in jobs if j.standing == "open"]
    places = {a.alert for a in rules.alerts}
    wait = can_wait(day, rules)
    alarms = sorted((j for j in open_jobs if j.task.phase in places and j not in wait), key=lambda j: (*alarm_order(j.task, rules), j.number))
    others = [j for j in open_jobs if j.task.phase not in places]
    return endings_last([*alarms, *(j for j in others if j not in wait)], day, rules), wait, [j for j in jobs if j.standing != "open"]


def write_job(sheet: Sheet, job: Job, rules: Rulebook, told: Told, terms: int = MOST_TERMS) -> None:
    """One job: its cautions, its line, and what its day made of it; but for `line` also amounts, steps and what to watch. Only `full` has
    each caution whole; else it stands in its one protective line. `terms`: how many words of the trade may be explained."""
    page, task = sheet.page, job.task
    if job.standing != "open":
        _line(page, job.number, task.title, standing_words(job, sheet.plan), "soft", "soft")
        return
    reminders: list[str] = []
    if told == "full":
        write_cautions(sheet, task.cautions, NUMBER_WIDTH, job.number)
    else:
        reminders = _short_cautions(sheet, task, job.number)
    marks = ["new"] if not job.known else []
    marks += [late] if (late := late_words(task, sheet.plan.on)) else []
    lead = "Later: " * comes_later(job) + (f"(as above: {', '.join(reminders)}) " if reminders else "")
    _line(page, job.number, lead + job_words(task, rules, sheet.plan.units), ", ".join(marks), "strong" if told != "line" else "", "strong")
    for why in task.yielded:
        if why.way != "asked":
            page.say(sheet.typed(yielded_words(why, sheet.numbers)), indent=NUMBER_WIDTH)
    if told != "line":
        _steps(sheet, task, min(terms, 1 if told == "steps" else MOST_TERMS))


def height(sheet: Sheet, jobs: Sequence[Job], rules: Rulebook, told: Told, terms: int = MOST_TERMS) -> int:
    """How many lines these jobs take below what the page has said already."""
    words = Glossary(sheet.glossary.words, set(sheet.glossary.told))
    trial = replace(sheet, page=Page(sheet.page.width), warned=set(sheet.warned), glossary=words)
    for job in jobs:
        write_job(trial, job, rules, told, terms)
    return len(trial.page.lines)


def job_words(task: Task, rules: Rulebook, units: str) -> str:
    """A job in a line: its title, of which readings the sample is diluted, and the amount that it is about."""
    told = task.title
    asked = [dict(why.values)["readings"] for why in task.steps if isinstance(why, Cause) and why.kind == "dilute"]
    if diluted := [name for names in asked if isinstance(names, tuple) for name in names if isinstance(name, str)]:
        told += f", diluted for {listed(diluted)}"
    rule = rules.tasks.get(task.key)
    main = rule.writes.amount if rule is not None and rule.writes is not None else None
    less = main is None and any(y.way == "step_left_out" for y in task.yielded)  # its amount may be of what is left out
    for name, made in task.amounts if task.role != "shopping" and not less else ():  # the list has each thing with its own amount
        shown = told_amount(made, units)
        if name == main or (main is None and len(task.amounts) == 1):
            told += f", {shown}" if shown not in told and name == main else f", about {shown}" if shown not in told else ""
            break
    return told


def maybe_words(coming: Sequence[Task], day: Day) -> dict[str, str]:
    """What stands before each coming job, by its id. A dose of today that no test has called yet is none to give now; of two doses of one
    thing on one day the test calls one. Of the jobs that wait for the end of the phase in hand the first one says so."""
    on = day.plan.on
    phase = day.plan.waiting_for[0].gate if day.plan.waiting_for else ""
    first = next((t.id for t in coming if phase and t.tentative and t.depends_on == phase != t.phase), "")
    today = "if today's test allows it: " if any(j.standing == "open" and j.task.by_readings for j in day.jobs) else "not yet: "
    found: dict[str, str] = {}
    for before, task in pairwise((None, *coming)):
        assert task is not None
        dosed = task.writes if task.tentative and task.writes is not None and task.writes[0] == "dosed" else None
        if dosed and before is not None and before.tentative and before.date == task.date and before.writes == dosed:
            found[task.id] = "or, as the test says: "
        else:
            found[task.id] = today if dosed and task.date == on else "once this phase is done: " if task.id == first else "maybe: " if task.tentative else ""
    return found


def asked_if_done(task: Task, rules: Rulebook, units: str, instead: Sequence[str] = ()) -> str:
    """What is asked before a dose, a change or an animal is written. `instead`: the amounts typed in place of the planned one, as they
    will stand in the journal."""
    return f"{job_words(task, rules, units)}: was it done{f', with {listed(instead)}' if instead else ''}?"


def really_done(task: Task, rules: Rulebook) -> str:
    """The word for what is ticked with the amount that it really was: every dose goes by what was poured, and a change of an alarm by
    what water there was. Nothing for any other job."""
    rule = rules.tasks.get(task.key)
    if task.writes is None:
        return ""
    return "poured" if task.writes[0] == "poured" else "changed" if rule is not None and (rule.between or rule.in_parts) else ""


def tick_rest(tasks: Sequence[Task], rules: Rulebook, asked: bool) -> str:
    """What stands behind a command that ticks these jobs, so that it works as it is typed. `asked`: whether a terminal can ask before something weighty is ticked."""
    return " --amount AMOUNT" * any(really_done(t, rules) for t in tasks) + " --yes" * (not asked and any(asks_first(t, rules) for t in tasks))


def caution_keyword(key: str) -> str:
    """What reminds of a caution whose line the page has said: `wet floor`."""
    return key.replace("_", " ").replace("-", " ")


def _short_cautions(sheet: Sheet, task: Task, number: int) -> list[str]:
    """Each caution of a task in its line where the page has not said it yet, with the number of the job that it guards, or it is read as the
    end of the job above; the keywords of the others. Without a line of its own a caution is called by its title."""
    again = []
    for key in task.cautions:
        caution = sheet.cautions.get(key)
        if caution is None:
            continue
        if key in sheet.warned:
            again.append(caution_keyword(key))
            continue
        sheet.warned.add(key)
        said = caution.line or caution.title
        named = "" if caution.line_names_it or not caution.line else f", {caution_keyword(key)}"
        lead = f"{number:>3}: {WEIGHTS[caution.weight]}{named}: "
        for n, line in enumerate(wrap(said, sheet.page.width, " " * len(lead), " " * NUMBER_WIDTH)):
            sheet.page.lines.append((Span(lead, WEIGHT_ROLES[caution.weight]), Span(line[len(lead):])) if n == 0 else (Span(line),))
    return again


def standing_words(job: Job, plan: Plan) -> str:
    """How a job stands that is not open, in a few words."""
    now = plan.task(job.task.id)
    match job.standing:
        case "put_off":
            if now is None or now.date is None:
                return "put off"
            return f"moved to {short_day(now.date, plan.on)}" if now.date > plan.on else "not today"  # what waits for a test keeps its likely day
        case "held":
            return "on hold"
        case "gone":
            return "no longer asked for"
        case word:
            return word


def _line(page: Page, number: int, text: str, right: str, role: Role, right_role: Role) -> None:
    page.item(f"{number:>3} ", text, right, role=role, right_role=right_role)


def _steps(sheet: Sheet, task: Task, terms: int) -> None:
    """`terms`: how many words of the trade it may explain."""
    page, plan = sheet.page, sheet.plan
    steps = all_words(task.steps, plan.units)
    for name, made in task.amounts:
        if not any(told_amount(made, plan.units) in told for told in (task.title, *steps)):
            page.say(amount_words(name, made, plan.units), indent=NUMBER_WIDTH)
    for n, step in enumerate(steps, 1):
        page.labelled(f"{n}.", sheet.typed(step), NUMBER_WIDTH, 4, label_role="")
    for watch in task.watch:
        page.labelled("!", sheet.typed(watch), NUMBER_WIDTH, 4, label_role="strong")
    sheet.glossary.hear(task.title, *steps, *task.watch)
    sheet.explain(NUMBER_WIDTH, terms)


def count_words(now: Sequence[Job], wait: Sequence[Job]) -> str:
    """How many jobs there are and how long they take, without those that are done hours later."""
    later = sum(comes_later(j) for j in now)
    soon = [j.task for j in now if not comes_later(j)]
    if not soon:
        return f"{later} job{'s' if later != 1 else ''} later"
    return f"{len(soon)} job{'s' if len(soon) != 1 else ''}{' now' if wait or later else ''}, {minutes_words(soon)}" + (f", and {later} later" if later else "")


def minutes_words(tasks: Sequence[Task]) -> str:
    whole = sum(t.minutes for t in tasks)
    return f"{whole} minutes" if whole <= 90 else f"about {round(whole / 30) / 2:g} hours"


__all__ = ["NUMBER_WIDTH", "Told", "as_printed", "asked_if_done", "caution_keyword", "count_words", "height", "job_words", "maybe_words", "minutes_words", "really_done", "standing_words", "tick_rest", "write_job"]
