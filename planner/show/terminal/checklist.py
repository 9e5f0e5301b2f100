"""The whole plan on the terminal, phase by phase, and what moved in it.

Nothing is decided here: states, dates, amounts and texts are the plan's. This room chooses how much of each is said.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from planner.plan.texts import told_amount
from planner.rulebook.shapes import Rulebook
from planner.show.terminal.agenda import CLOSED, NEXT_DAYS, next_of_each
from planner.show.terminal.holdlist import write_alarms, write_holds
from planner.show.terminal.taskcard import MET, Sheet, shown_words, write_closed, write_full, write_short
from planner.show.terminal.timeline import write_timeline
from planner.show.words.causes import cause_words
from planner.show.words.conditions import need_to_tick, need_words
from planner.show.words.explained_terms import Glossary
from planner.show.words.words import Line, Page, day_words, days_words, listed, short_day, window_words
from planner.terms.records import Answer, Moved, Need, Phase, Plan, State

MARKS_SAY = "In the lists: [ ] to do, [x] done, [-] skipped, [?] day may move, [=] on hold."


def plan_lines(plan: Plan, rules: Rulebook, width: int, *, phase: str | None = None, folder: str = "") -> tuple[Line, ...]:
    """The whole dated plan; with `phase` one phase alone, in full whatever its state."""
    sheet = Sheet(Page(width), plan, rules.cautions, folder=folder, glossary=Glossary(rules.words))
    _head(sheet)
    if phase is None:
        write_alarms(sheet, rules)
        write_holds(sheet, rules)
        _notices(sheet)
        write_timeline(sheet.page, plan)
        sheet.page.say(MARKS_SAY, "soft")
    elif any(t.state == State.WAITING for t in plan.tasks if t.phase == phase):
        sheet.page.say(MARKS_SAY, "soft")
    for found in plan.phases:
        if phase in (None, found.id):
            _phase(sheet, found, full=phase is not None)
    page = sheet.page
    page.gap()
    sheet.glossary.explain(page)
    page.gap()
    page.say(f"What to do now: {sheet.run('today', '')}", "soft")
    example = next((t for t in plan.tasks if phase in (None, t.phase) and t.state not in CLOSED and not t.by_readings), None)
    if example is not None:
        page.say("To tick a job, or to read why it stands here, write its title in quotes:", "soft")
        for verb in ("done", "why"):
            page.say(sheet.run(verb, f'"{example.title}"'), "soft", 2)
    return tuple(page.lines)


def since_lines(plan: Plan, since: date, rows: Sequence[str], moved: Sequence[Moved], width: int) -> tuple[Line, ...]:
    """What moved since a day, and the journal entries that moved it."""
    page = Page(width)
    page.heading(f"What moved since {day_words(since)}")
    if not rows:
        page.say("The journal has no entry after that day: nothing moved because of a test or a tick.")
    else:
        page.say(f"{len(rows)} journal {'entry' if len(rows) == 1 else 'entries'} since:")
        for row in rows[-12:]:
            page.item("-", row, indent=2)
    moved_lines(page, moved, plan.on)
    return tuple(page.lines)


def moved_lines(page: Page, moved: Sequence[Moved], on: date) -> None:
    """Each thing whose date changed: from, to, by how much, and why."""
    if not moved:
        page.say("No date moved.")
        return
    page.gap()
    for m in moved:
        before = short_day(m.before, on) if m.before else "no date"
        after = short_day(m.after, on) if m.after else "no date"
        if m.before is None and m.after is not None:
            change = f"new: {after}"
        elif m.after is None and m.before is not None:
            change = f"{before} no longer holds"
        else:
            change = f"{before} to {after}" + (f", {days_words(abs(m.days))} {'later' if m.days > 0 else 'sooner'}" if m.days else "")
        title = f"End of “{m.title}”" if m.of_gate else m.title
        page.item("-", f"{title}: {change}", indent=2)
    reasons = dict.fromkeys(m.because for m in moved if m.because)
    for reason in reasons:
        page.labelled("because", reason, 2)


def _head(sheet: Sheet) -> None:
    page, plan = sheet.page, sheet.plan
    page.heading(plan.name, day_words(plan.on))
    shown = {q.name: told_amount(q, plan.units) for q in plan.quantities}
    if "net_volume" in shown:
        gross = f" (the box measures {shown['gross_volume']} outside)" if "gross_volume" in shown else ""
        page.labelled("water", f"{shown['net_volume']} once rock and sand are in; doses go by it{gross}")
    if "target_salinity" in shown:
        pair = f", that is {shown['target_sg']}" if "target_sg" in shown else ""
        page.labelled("salinity", f"aim for {shown['target_salinity']}{pair}")
    if "total_weight" in shown:
        load = f", {shown['floor_load']} under the base" if "floor_load" in shown else ""
        page.labelled("weight", f"about {shown['total_weight']} when full{load}")
    sheet.glossary.hear(*(f"{v}" for v in shown.values()))
    sheet.glossary.explain(page)
    if plan.problems:
        page.say(problem_words(plan), "strong")


def problem_words(plan: Plan) -> str:
    files = listed(dict.fromkeys(p.place.file for p in plan.problems))
    count = len(plan.problems)
    return (f"{count} problem{'s' if count != 1 else ''} in {files}: what {'they concern' if count != 1 else 'it concerns'} is missing here. "
            "The rest is planned as far as it can be.")


def _notices(sheet: Sheet) -> None:
    if sheet.plan.notices:
        sheet.page.gap()
        for notice in sheet.plan.notices:
            sheet.page.item("-", sheet.typed(cause_words(notice, sheet.plan.units)))


def _phase(sheet: Sheet, phase: Phase, full: bool) -> None:
    page, plan = sheet.page, sheet.plan
    page.heading(phase.title, {"done": "done", "open": "now", "ahead": "ahead", "on_hold": "on hold"}[phase.state])
    if phase.state == "done":
        word = " on your word, not on evidence" if phase.on_word else ""
        page.say(f"Finished {short_day(phase.opened, plan.on)}{word}." if phase.opened else f"Finished{word}.", "soft")
    elif phase.role != "without_end":
        begin = f"begun {short_day(phase.started, plan.on)}; " if phase.started and phase.started <= plan.on else ""
        page.say(f"{begin}{window_words(phase.window, plan.on, cause_words(phase.reason, plan.units), 'done about')}", "soft")
    current = phase.state in ("open", "on_hold") and phase.started is not None
    if (current or full) and phase.intro:
        page.say(phase.intro)
        sheet.glossary.hear(phase.intro)
        sheet.glossary.explain(page)
    for line in phase.advice:
        page.item("-", line)
    tasks = [t for t in plan.tasks if t.phase == phase.id]
    write_closed(sheet, [t for t in tasks if t.state in CLOSED])
    for task, later in next_of_each(t for t in tasks if t.state not in CLOSED):
        near = task.date is not None and task.date <= plan.on + timedelta(days=NEXT_DAYS)
        if full or (current and not task.tentative) or task.state in (State.LATE, State.DUE) or (phase.state == "done" and near and not task.tentative):
            write_full(sheet, task, later)
        else:
            write_short(sheet, task, later)
    if phase.opened is None or full:
        _needs(sheet, phase.needs, "To end this phase" if phase.role != "without_end" else "It asks for")
    sheet.glossary.explain(page)


def _needs(sheet: Sheet, needs: Sequence[Need], title: str) -> None:
    if not needs:
        return
    page = sheet.page
    page.gap()
    page.say(title + ":")
    for need in needs:
        page.labelled(MET[need.met], need_to_tick(need) + shown_words(need, sheet.plan.on), 2, 9, label_role="strong" if need.met != Answer.YES else "soft")
        sheet.glossary.hear(need_words(need))
