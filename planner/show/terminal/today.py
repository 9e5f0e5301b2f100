"""The page of one day on the terminal: alarms, what is late or due, and in a line each what comes next and what waits."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta

from planner.rulebook.shapes import Rulebook
from planner.show.terminal.agenda import NEXT_DAYS, URGENT, alarm_ids, in_full, next_tasks
from planner.show.terminal.checklist import problem_words
from planner.show.terminal.holdlist import write_alarms, write_holds
from planner.show.terminal.taskcard import MET, Sheet, shown_words, state_words, tick_command, write_full, write_line, write_short
from planner.show.words.causes import cause_words
from planner.show.words.conditions import need_words
from planner.show.words.glossary import Glossary
from planner.show.words.together import yielded_words
from planner.show.words.words import Line, Page, away_words, day_words, short_day, window_words
from planner.terms.records import CLOSED, Answer, Plan, State, Task


def today_lines(plan: Plan, rules: Rulebook, width: int, *, folder: str = "") -> tuple[Line, ...]:
    """Alarms first, then late and due: steps in full for what a day holds, one line for the rest; then what is on hold,
    what comes next, and what the plan waits for."""
    sheet = Sheet(Page(width), plan, rules.cautions, folder=folder, glossary=Glossary(rules.words))
    page = sheet.page
    page.heading(plan.name, day_words(plan.on))
    if plan.problems:
        page.say(problem_words(plan), "alarm")
    said = write_alarms(sheet, rules)
    _questions(sheet)
    alarms = alarm_ids(plan, rules)
    now = [t for t in plan.tasks if t.state in URGENT and t.phase not in alarms]
    alarming = any(t.state in URGENT and t.phase in alarms for t in plan.tasks)
    full = [] if alarming else in_full(plan, now)
    for word, state in (("Late", State.LATE), ("Today", State.DUE)):
        _tasks(sheet, word, [t for t in full if t.state == state], [t for t in now if t.state == state and t not in full])
    if not any(t.state in URGENT for t in plan.tasks):
        page.gap()
        page.say("Nothing to do today. " + _when_next(plan), "strong")
    coming = next_tasks(plan)
    _not_today(sheet, [*now, *coming, *(t for t in plan.tasks if t.phase in alarms)])
    write_holds(sheet, rules)
    if coming:
        page.heading(f"Next {NEXT_DAYS} days")
        for task in coming:
            write_short(sheet, task, reasons=task.phase not in alarms)
    _waiting(sheet)
    advice = [line for phase in plan.phases if phase.opened is None for line in phase.advice]
    said |= {hold.because for hold in plan.holds}
    for title, lines in (("While the gate stays shut", advice), ("Good to know", [n for n in plan.notices if n not in said])):
        if lines:
            page.heading(title)
            for line in lines:
                page.item("-", sheet.typed(cause_words(line, plan.units)))
    _how_to_write(sheet, [*full, *(t for t in plan.tasks if t.phase in alarms and t.state in URGENT)], brief=len(full) < len(now))
    page.gap()
    sheet.glossary.explain(page)
    return tuple(page.lines)


def task_lines(plan: Plan, rules: Rulebook, task: Task, width: int, *, folder: str = "") -> tuple[Line, ...]:
    """One task alone, in full."""
    sheet = Sheet(Page(width), plan, rules.cautions, folder=folder, glossary=Glossary(rules.words))
    write_full(sheet, task)
    return tuple(sheet.page.lines)


def _tasks(sheet: Sheet, word: str, full: Sequence[Task], brief: Sequence[Task]) -> None:
    page, tasks = sheet.page, [*full, *brief]
    if not tasks:
        return
    whole = sum(t.minutes for t in tasks)
    page.heading(f"{word}: {len(tasks)} task{'s' if len(tasks) != 1 else ''}" + (f", about {_time_words(whole)}" if whole and len(tasks) > 1 else ""))
    if word == "Late":
        page.say("Nothing is lost: the dates that depend on these have moved along.", "soft")
    for task in full:
        write_full(sheet, task)
    if full and brief:
        page.gap()
        page.say("And in a line each:", "soft")
    for task in brief:
        write_line(sheet, task, state_words(task, sheet.plan.on))


def _questions(sheet: Sheet) -> None:
    """Animals whose day has passed without a word: much hangs on whether they are in."""
    page, plan = sheet.page, sheet.plan
    asked = [t for t in plan.tasks if t.state not in CLOSED and any(y.way == "asked" for y in t.yielded)]
    if asked:
        page.heading("A question first")
    for task in asked:
        page.item("?", f"{task.title}, planned for {short_day(task.due or plan.on, plan.on)}. " + " ".join(sheet.typed(yielded_words(y)) for y in task.yielded if y.way == "asked"))


def _not_today(sheet: Sheet, told: Sequence[Task]) -> None:
    """What would stand here if its day were not another order's; what the page tells elsewhere is not told twice."""
    plan = sheet.plan
    elsewhere = {t.id for t in told}
    given_way = [t for t in plan.tasks if t.yielded and t.id not in elsewhere and t.state not in CLOSED and not t.tentative
                 and (any(y.until == t.date or y.way in ("left_out", "rests", "taken_in") for y in t.yielded)) and (t.due is None or t.due <= plan.on + timedelta(days=NEXT_DAYS))]
    if not given_way:
        return
    sheet.page.heading("Not today")
    for task in given_way:
        write_short(sheet, task)


def _time_words(minutes: int) -> str:
    return f"{minutes} min" if minutes <= 120 else f"{minutes / 60:.0f} hours"


def _waiting(sheet: Sheet) -> None:
    """Every gate that is waited for with its dates; what the first of them still needs."""
    page, plan = sheet.page, sheet.plan
    if not plan.waiting_for:
        return
    page.heading("The plan is waiting for")
    for number, waiting in enumerate(plan.waiting_for):
        page.item("-", f"{waiting.title}: {window_words(waiting.expected, plan.on)}", role="strong" if number == 0 else "")
        missing = [need for need in waiting.needs if need.met != Answer.YES]
        if number > 0:
            continue
        for need in missing:
            page.labelled(MET[need.met], need_words(need) + shown_words(need), 2, 9)
            sheet.glossary.hear(need_words(need))
    if len(plan.waiting_for) > 1:
        page.say(f"What each still needs: {sheet.run('why', 'PHASE')}", "soft")


def _how_to_write(sheet: Sheet, tasks: Sequence[Task], brief: bool) -> None:
    page = sheet.page
    page.gap()
    if brief:
        page.labelled("steps", f"{sheet.run('today', 'TASK')} gives those of any task in a line, with its cautions", 0)
    if not tasks:
        page.labelled("to write", f"{sheet.run('log', 'NAME=VALUE')} for a test you made anyway", 0)
        return
    reading = next((t for t in tasks if t.reads), None)
    other = next((t for t in tasks if not t.reads), None)
    if other is not None:
        page.labelled("to tick", tick_command(sheet, other), 0)
    if reading is not None:
        page.labelled("to log", tick_command(sheet, reading) + "   (0 for none; under0.25 and over5 off the kit's scale)", 0)


def _when_next(plan: Plan) -> str:
    ahead = [t for t in plan.tasks if t.state in (State.PLANNED, State.WAITING) and t.date is not None and t.date > plan.on]
    if not ahead:
        return "No task is dated ahead." if not plan.holds else "What comes next waits for the hold below."
    first = ahead[0]
    assert first.date is not None
    return f"The next is '{first.title}' on {day_words(first.date)}, {away_words(first.date, plan.on)}{' (provisional)' if first.tentative else ''}."


__all__ = ["task_lines", "today_lines"]
