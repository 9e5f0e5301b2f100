"""Alarms and holds on a page: what is wrong, what to do about it, and what has to wait meanwhile."""

from __future__ import annotations

from collections.abc import Sequence

from planner.rulebook.shapes import Rulebook
from planner.rulebook.what_jobs_do import RANKS
from planner.show.terminal.agenda import CLOSED, URGENT, alarm_ids, next_of_each, told_holds
from planner.show.terminal.taskcard import INDENT, Sheet, write_full, write_short
from planner.show.words.conditions import seen_words
from planner.show.words.words import listed, short_day
from planner.terms.causes import Cause
from planner.terms.records import Hold, Plan, State
from planner.terms.traces import NotHappened, NotTicked

HELD_SHOWN = 6


def write_alarms(sheet: Sheet, rules: Rulebook) -> set[str]:
    """Each alarm with what to do now, in the order of what kills first, and what it holds; returns what was said of them."""
    plan, said = sheet.plan, set[str]()
    ids = alarm_ids(plan, rules)
    alerts = [a for a in rules.alerts if a.alert in ids]
    alerts.sort(key=lambda a: (RANKS.index(a.place), all(t.role == "test" for t in a.tasks), a.alert))
    for alert in alerts:
        tasks = [t for t in plan.tasks if t.phase == alert.alert and t.state not in CLOSED]
        if not tasks:
            continue
        sheet.page.heading("Alarm: " + alert.title)
        holds = [h for h in plan.holds if alarm_of(h) == alert.alert]
        if words := next((h.do for h in holds if h.do), alarm_notices(plan).get(alert.alert)):
            said.update((words, *(h.because for h in holds)))
            sheet.page.say(words)
        for task, later in next_of_each(tasks):
            if task.state in URGENT:
                write_full(sheet, task, later)
            else:
                write_short(sheet, task, later)
        if holds:
            sheet.page.gap()
            _held_words(sheet, holds)
    return said


def open_holds(plan: Plan) -> dict[str, list[Hold]]:
    """The holds of the page by their reason."""
    found: dict[str, list[Hold]] = {}
    for hold in told_holds(plan):
        found.setdefault(hold.because, []).append(hold)
    return found


def write_holds(sheet: Sheet, rules: Rulebook) -> None:
    """What else is on hold, since when, why, and what to do instead; and what waits because of all that."""
    page, plan = sheet.page, sheet.plan
    told = {t.phase for t in plan.tasks if t.state not in CLOSED} & alarm_ids(plan, rules)
    reasons: dict[tuple[str, tuple[str, ...]], list[Hold]] = {}
    for hold in told_holds(plan):
        if alarm_of(hold) not in told:
            reasons.setdefault((hold.because, hold.instead), []).append(hold)
    held = [t.title for t, _ in next_of_each(t for t in plan.tasks if t.state == State.ON_HOLD and not any(y.way in ("left_out", "tested_with") for y in t.yielded))] if plan.holds else []
    if not reasons and not held:
        return
    page.heading("On hold")
    for same in reasons.values():
        hold = same[0]
        page.item("[=]", f"Since {short_day(hold.since, plan.on)}: {hold.because}", role="strong")
        _held_words(sheet, same)
        if hold.trace is not None:
            for seen in dict.fromkeys(seen_words(e) for e in hold.trace.evidence if not isinstance(e, NotHappened | NotTicked)):
                page.labelled("seen", seen, INDENT)
        for n, (title, id) in enumerate(_instead(plan, hold)):
            page.labelled("instead" if n == 0 else "", f"{title} ({id})", INDENT)
    if held:
        more = f" and {len(held) - HELD_SHOWN} more" if len(held) > HELD_SHOWN else ""
        page.say(f"Held back until then: {'; '.join(held[:HELD_SHOWN])}{more}.")


def alarm_notices(plan: Plan) -> dict[str, str]:
    """What each alarm that is up says, filled for this tank, by its name; the gravest first."""
    return {n.text("alert"): n.text("told") for n in plan.notices if isinstance(n, Cause) and n.kind == "alarm"}


def alarm_of(hold: Hold) -> str:
    """The alarm whose tasks a hold names as the way out."""
    return hold.instead[0].partition("/")[0] if hold.instead else ""


def _held_words(sheet: Sheet, holds: Sequence[Hold]) -> None:
    """What is held: phases that go on now by name, the rest counted."""
    plan = sheet.plan
    now: list[str] = []
    rest: list[str] = []
    for hold in holds:
        phase = plan.phase(hold.gate)
        going = phase is None or phase.role == "without_end" or (phase.opened is None and phase.started is not None)
        (now if going else rest).append(phase.title if phase is not None else hold.gate)
    if now and rest:
        now.append(f"{len(rest)} phase{'s' if len(rest) != 1 else ''} that {'are' if len(rest) != 1 else 'is'} finished or not begun")
    elif rest:
        now = ["what comes after: " + rest[-1]]
    sheet.page.labelled("holds", listed(now), INDENT)


def _instead(plan: Plan, hold: Hold) -> list[tuple[str, str]]:
    found = []
    for key in hold.instead:
        task = next((t for t in plan.tasks if key in (t.key, t.id) and t.state not in CLOSED), None)
        if task is not None:
            found.append((task.title, task.id))
    return found


__all__ = ["alarm_notices", "alarm_of", "open_holds", "write_alarms", "write_holds"]
