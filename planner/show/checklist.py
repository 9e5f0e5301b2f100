"""The checklist on the terminal: the whole plan by phase, and what there is to do today.

Nothing is decided here: states, dates, amounts and texts are the plan's. This room chooses how much of each is said.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from planner.model import Answer, Hold, Moved, Need, Phase, Plan, State, Task
from planner.plan import shown_amount
from planner.rulebook import Rulebook
from planner.show.agenda import CLOSED, NEXT_DAYS, alarm_ids, next_of_each, next_tasks
from planner.show.taskcard import INDENT, Sheet, evidence_words, tick_command, write_closed, write_full, write_short
from planner.show.timeline import write_timeline
from planner.show.words import Line, Page, away_words, day_words, days_words, listed, short_day, window_words

HELD_SHOWN = 6
MET = {Answer.YES: "met", Answer.NO: "not yet", Answer.UNKNOWN: "unknown"}


def plan_lines(plan: Plan, rules: Rulebook, width: int, *, phase: str | None = None, folder: str = "") -> tuple[Line, ...]:
    """The whole dated plan; with `phase` one phase alone, in full whatever its state."""
    sheet = Sheet(Page(width), plan, rules.cautions, folder=folder)
    _head(sheet)
    if phase is None:
        _notices(sheet)
        write_holds(sheet)
        _alarms(sheet, rules, full=True)
        write_timeline(sheet.page, plan)
        sheet.page.say("In the lists: [ ] to do, [x] done, [-] skipped, [?] provisional, [=] on hold.", "soft")
    for found in plan.phases:
        if phase in (None, found.id):
            _phase(sheet, found, full=phase is not None)
    page = sheet.page
    page.gap()
    sheet.glossary.explain(page)
    page.gap()
    page.say(f"What to do now: {sheet.run('today', '')}   Why: {sheet.run('why', 'PHASE/TASK')}", "soft")
    return tuple(page.lines)


def today_lines(plan: Plan, rules: Rulebook, width: int, *, folder: str = "") -> tuple[Line, ...]:
    """On hold and what to do instead, alarms, late, due, what comes next, and what the plan waits for."""
    sheet = Sheet(Page(width), plan, rules.cautions, folder=folder)
    page, on = sheet.page, plan.on
    page.heading(plan.name, day_words(on))
    if plan.problems:
        page.say(_problem_words(plan), "alarm")
    write_holds(sheet)
    alarms = alarm_ids(plan, rules)
    _alarms(sheet, rules, full=True)
    late = [t for t in plan.tasks if t.state == State.LATE and t.phase not in alarms]
    due = [t for t in plan.tasks if t.state == State.DUE and t.phase not in alarms]
    instead = {key for hold in plan.holds for key in hold.instead}
    late.sort(key=lambda t: t.key not in instead and t.id not in instead)
    due.sort(key=lambda t: t.key not in instead and t.id not in instead)
    for title, tasks in ((f"Late: {_tasks_words(len(late))}", late), (f"Today: {_tasks_words(len(due))}", due)):
        if tasks:
            page.heading(title)
            if tasks is late:
                page.say("Nothing is lost: the dates that depend on these have moved along.", "soft")
            if len(tasks) > 1:
                _overview(sheet, tasks)
            for task in tasks:
                write_full(sheet, task)
    coming = next_tasks(plan)
    if not (late or due or any(t.state in (State.LATE, State.DUE) for t in plan.tasks)):
        page.gap()
        page.say("Nothing to do today. " + _when_next(plan), "strong")
    if coming:
        page.heading(f"Next {NEXT_DAYS} days")
        for task in coming:
            write_short(sheet, task)
    _waiting(sheet)
    advice = [line for phase in plan.phases if phase.opened is None for line in phase.advice]
    said = {hold.because for hold in plan.holds}
    for title, lines in (("While the gate stays shut", advice), ("Good to know", [n for n in plan.notices if n not in said])):
        if lines:
            page.heading(title)
            for line in lines:
                page.item("-", line)
    _how_to_tick(sheet, late + due or [t for t in plan.tasks if t.phase in alarms and t.state in (State.LATE, State.DUE)])
    page.gap()
    sheet.glossary.explain(page)
    return tuple(page.lines)


def _overview(sheet: Sheet, tasks: Sequence[Task]) -> None:
    """Titles and minutes first, so that a long day can be seen at a glance."""
    page = sheet.page
    whole = sum(t.minutes for t in tasks)
    page.numbered(f"{t.title}" + (f", about {t.minutes} min" if t.minutes else "") for t in tasks)
    if whole > 120:
        page.say(f"About {whole / 60:.0f} hours in all. What does not fit into today simply stays on the list.", "soft")


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
        page.item("-", f"{m.title}: {change}", indent=2)
    reasons = dict.fromkeys(m.because for m in moved if m.because)
    for reason in reasons:
        page.labelled("because", reason, 2)


def _head(sheet: Sheet) -> None:
    page, plan = sheet.page, sheet.plan
    page.heading(plan.name, day_words(plan.on))
    shown = {q.name: shown_amount(q.value, q.unit, plan.units) for q in plan.quantities}
    if "net_volume" in shown:
        gross = f" (the box is sold as {shown['gross_volume']})" if "gross_volume" in shown else ""
        page.labelled("water", f"{shown['net_volume']} net, the figure for every dose{gross}")
    if "target_salinity" in shown:
        pair = f", that is {shown['target_sg']}" if "target_sg" in shown else ""
        page.labelled("salinity", f"aim for {shown['target_salinity']}{pair}")
    if "total_weight" in shown:
        load = f", {shown['floor_load']} under the base" if "floor_load" in shown else ""
        page.labelled("weight", f"about {shown['total_weight']} when full{load}")
    sheet.glossary.hear(*(f"{v}" for v in shown.values()))
    sheet.glossary.explain(page)
    if plan.problems:
        page.say(_problem_words(plan), "alarm")


def _problem_words(plan: Plan) -> str:
    files = listed(dict.fromkeys(p.place.file for p in plan.problems))
    count = len(plan.problems)
    return (f"{count} problem{'s' if count != 1 else ''} in {files}: what {'they concern' if count != 1 else 'it concerns'} is missing here. "
            "The rest is planned as far as it can be.")


def _notices(sheet: Sheet) -> None:
    if sheet.plan.notices:
        sheet.page.gap()
        for notice in sheet.plan.notices:
            sheet.page.item("-", notice)


def write_holds(sheet: Sheet) -> None:
    """What is on hold, since when, why, and what to do instead."""
    page, plan = sheet.page, sheet.plan
    if not plan.holds:
        return
    page.heading("On hold")
    reasons: dict[tuple[str, tuple[str, ...]], list[Hold]] = {}
    for hold in plan.holds:
        reasons.setdefault((hold.because, hold.instead), []).append(hold)
    for same in reasons.values():
        hold = same[0]
        page.item("[=]", f"Since {short_day(hold.since, plan.on)}: {hold.because}", role="strong")
        page.labelled("holds", listed([_gate_words(plan, h.gate) for h in same]), INDENT)
        if hold.trace is not None:
            for told in dict.fromkeys(e for e in hold.trace.evidence if e != "has not happened yet"):
                page.labelled("seen", told, INDENT)
        instead = _instead(plan, hold)
        for n, (title, id) in enumerate(instead):
            page.labelled("instead" if n == 0 else "", f"{title} ({id})", INDENT)
    held = [t.title for t, _ in next_of_each(t for t in plan.tasks if t.state == State.ON_HOLD)]
    if held:
        more = f" and {len(held) - HELD_SHOWN} more" if len(held) > HELD_SHOWN else ""
        page.say(f"Held back until then: {'; '.join(held[:HELD_SHOWN])}{more}.")


def _instead(plan: Plan, hold: Hold) -> list[tuple[str, str]]:
    found = []
    for key in hold.instead:
        task = next((t for t in plan.tasks if key in (t.key, t.id) and t.state not in CLOSED), None)
        if task is not None:
            found.append((task.title, task.id))
    return found


def _alarms(sheet: Sheet, rules: Rulebook, full: bool) -> None:
    """Tasks of alerts come before everything else."""
    ids = alarm_ids(sheet.plan, rules)
    titles = {a.alert: a.title for a in rules.alerts}
    for id in sorted(ids):
        tasks = [t for t in sheet.plan.tasks if t.phase == id and t.state not in CLOSED]
        if not tasks:
            continue
        sheet.page.heading("Alarm: " + titles.get(id, id.replace("-", " ")))
        for task, later in next_of_each(tasks):
            if full and task.state in (State.LATE, State.DUE):
                write_full(sheet, task, later)
            else:
                write_short(sheet, task, later)


def _phase(sheet: Sheet, phase: Phase, full: bool) -> None:
    page, plan = sheet.page, sheet.plan
    page.heading(phase.title, {"done": "done", "open": "now", "ahead": "ahead", "on_hold": "on hold"}[phase.state])
    if phase.state == "done":
        word = " on your word, not on evidence" if phase.on_word else ""
        page.say(f"Finished {short_day(phase.opened, plan.on)}{word}." if phase.opened else f"Finished{word}.", "soft")
    elif phase.id != "care":
        begin = f"begun {short_day(phase.started, plan.on)}; " if phase.started and phase.started <= plan.on else ""
        page.say(f"{begin}{window_words(phase.window, plan.on, phase.reason)}", "soft")
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
        _needs(sheet, phase.needs, "The gate at its end needs" if phase.id != "care" else "It asks for")
    sheet.glossary.explain(page)


def _needs(sheet: Sheet, needs: Sequence[Need], title: str) -> None:
    if not needs:
        return
    page = sheet.page
    page.gap()
    page.say(title + ":")
    for need in needs:
        page.labelled(MET[need.met], need.text + evidence_words(need), 2, 9, label_role="strong" if need.met != Answer.YES else "soft")
        sheet.glossary.hear(need.text)
    sheet.glossary.hear("gate")


def _waiting(sheet: Sheet) -> None:
    page, plan = sheet.page, sheet.plan
    if not plan.waiting_for:
        return
    page.heading("The plan is waiting for")
    for waiting in plan.waiting_for:
        page.item("-", f"{waiting.title}: {window_words(waiting.expected, plan.on)}", role="strong")
        for need in waiting.needs:
            if need.met != Answer.YES:
                page.labelled(MET[need.met], need.text + evidence_words(need), 2, 9)
                sheet.glossary.hear(need.text)


def _how_to_tick(sheet: Sheet, tasks: Sequence[Task]) -> None:
    page = sheet.page
    page.gap()
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
        return "No task is dated ahead." if not plan.holds else "What comes next waits for the hold above."
    first = ahead[0]
    assert first.date is not None
    return f"The next is '{first.title}' on {day_words(first.date)}, {away_words(first.date, plan.on)}{' (provisional)' if first.tentative else ''}."


def _tasks_words(count: int) -> str:
    return f"{count} task{'s' if count != 1 else ''}"


def _gate_words(plan: Plan, gate: str) -> str:
    phase = plan.phase(gate)
    return phase.title if phase else gate
