"""The plan on one screen: where we are, what is next, the road with its dates, and what must be bought when."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from planner.plan.day_jobs import Day
from planner.plan.milestones import unplanned
from planner.rulebook.shapes import Rulebook
from planner.show.terminal.agenda import next_of_each, next_tasks
from planner.show.terminal.checklist import problem_words
from planner.show.terminal.holdlist import open_holds
from planner.show.terminal.joblines import job_words
from planner.show.terminal.taskcard import Sheet
from planner.show.terminal.today import write_where_we_are
from planner.show.terminal.today_tail import LABEL
from planner.show.words.causes import cause_words
from planner.show.words.words import Line, Page, Role, Span, bare_day, day_words, listed, short_day, span_words, wrap
from planner.terms.records import CLOSED, URGENT, Phase, Plan

TRIPS, NEXT, INDENT = 4, 4, 2
ROAD_HEAD = "done about (quick to slow)"


def overview_lines(day: Day, rules: Rulebook, width: int, *, folder: str = "") -> tuple[Line, ...]:
    """The first screen of the plan; each phase in full is a page of its own."""
    plan = day.plan
    sheet = Sheet(Page(width), plan, rules.cautions, folder=folder)
    page = sheet.page
    page.heading(plan.name, day_words(plan.on))
    page.gap()
    if plan.problems:
        page.labelled("Files", problem_words(plan), 0, LABEL, "strong", "strong")
    write_where_we_are(sheet, day.standing)
    for because in open_holds(plan):
        page.labelled("On hold", sheet.typed(because), 0, LABEL, "strong", "strong")
    page.gap()
    now = [t for t in plan.tasks if t.state in URGENT]
    for n, task in enumerate([*now, *next_tasks(plan)][:NEXT]):
        when = "today" if task in now else short_day(task.date, plan.on) if task.date else ""
        _dated(page, "" if n else "Next", when, job_words(task, rules, plan.units))
    page.gap()
    done = [p for p in plan.phases if p.state == "done"]
    if done:
        last = max((p.opened for p in done if p.opened is not None), default=None)
        word = [p.title for p in done if p.on_word]
        page.labelled("The road", f"{len(done)} of {len(plan.phases)} phases are done" + (f", the last on {bare_day(last, plan.on)}" if last is not None else "")
                      + (f"; on your word, not on evidence: {listed(word)}" if word else "") + ".", 0, LABEL, "soft", "strong")
    ahead = sorted((p for p in plan.phases if p.state != "done"), key=lambda p: (p.role == "without_end", p.window.likely or date.max))
    _road(page, ahead, plan, "" if done else "The road")
    page.gap()
    _trips(sheet, plan, rules)
    page.gap()
    page.say("In brackets: if all goes quickly, and if it goes slowly. Days are guesses; only your tests let you go on.", "soft")
    going = [p.id for p in plan.phases if p.role == "without_end" and p.state in ("open", "on_hold")]
    current = [*(w.gate for w in plan.waiting_for), *going, *(p.id for p in plan.phases), "PHASE"][0]
    line = "    ".join((sheet.run("plan", current), sheet.run("plan", "--all"), sheet.run("today", "")))
    for command in [line] if len(line) <= width else line.split("    "):
        page.say(command, "soft") if len(command) > page.width else page.lines.append((Span(command, "soft"),))
    return tuple(page.lines)


def _road(page: Page, ahead: Sequence[Phase], plan: Plan, label: str) -> None:
    """The phases to come: each with the day on which it is over, and the quick and the slow way."""
    year, rows = plan.on.year, list[tuple[Phase, str]]()
    for phase in ahead:
        if unplanned(phase, plan):
            rows.append((phase, "none planned"))
            continue
        rows.append((phase, _when(phase, year)))
        year = phase.window.likely.year if phase.window.likely is not None else year
    column = max(len(ROAD_HEAD), *(len(when) for _, when in rows)) if rows else 0
    room = page.width - INDENT - column - 2
    if rows:
        page.lines.append((Span(f"{label:<{INDENT + room + 2}}", "strong"), Span(ROAD_HEAD, "soft")))
    for phase, when in rows:
        role: Role = "strong" if phase.state in ("open", "on_hold") else ""
        first, *more = wrap(phase.title, INDENT + room, " " * INDENT, " " * (INDENT + 2))
        page.lines.append((Span(f"{first:<{INDENT + room + 2}}", role), Span(when, role)))
        page.lines += [(Span(line, role),) for line in more]
        if phase.reason and phase.window.likely is None:
            page.say(cause_words(phase.reason, plan.units), "soft", INDENT + 2)


def _when(phase: Phase, year: int) -> str:
    """`now to 3 Dec (1 to 10 Dec)`; the year only where it is not the one of the row above."""
    window, state = phase.window, {"open": "now, ", "on_hold": "on hold, "}.get(phase.state, "")
    if phase.role == "without_end":
        return f"{state}goes on"
    if window.likely is None:
        return f"{state}no date"
    state = "now to " if phase.state == "open" else state
    spread = "" if window.earliest == window.latest else f" ({span_words(window)})"
    return f"{state}{bare_day(window.likely, window.likely)}{f' {window.likely.year}' if window.likely.year != year else ''}{spread}"


def _dated(page: Page, label: str, when: str, text: str) -> None:
    """A label, a day and what belongs to it, each in a column of its own."""
    lead = label.ljust(LABEL) + when.ljust(12)
    first, *more = wrap(text, page.width, " " * len(lead))
    page.lines.append((Span(lead[:LABEL], "strong"), Span(lead[LABEL:] + first[len(lead):])))
    page.lines += [(Span(line),) for line in more]


def _trips(sheet: Sheet, plan: Plan, rules: Rulebook) -> None:
    """What must be bought, by day."""
    page = sheet.page
    trips = [t for t, _ in next_of_each(t for t in plan.tasks if t.role == "shopping" and t.state not in CLOSED)]
    for n, task in enumerate(trips[:TRIPS]):
        day = short_day(task.date, plan.on) if task.date else "no date"
        _dated(page, "" if n else "To buy", day, job_words(task, rules, plan.units) + (", maybe" if task.tentative else ""))
    if len(trips) > TRIPS:
        page.labelled("", f"and {len(trips) - TRIPS} more later: {sheet.run('plan', '--all')}", 0, LABEL, "soft")


__all__ = ["overview_lines"]
