"""An absence on a page: how long the tank may be alone, what to do before, the sitter's sheet, and the return."""

from __future__ import annotations

from typing import Any

from planner.plan.absence import BEFORE, RETURN, Absence, NightLimit
from planner.show.words.causes import all_words
from planner.show.words.sitter import sitter_rows
from planner.show.words.words import Line, Page, command, day_words, days_words, short_day
from planner.terms.records import URGENT, Plan

TOO_LATE = "It is too late for a trial run. Trust no top-up, feeder or dosing that you have not watched for a week; let a person do it."
LEAVE_OUT = "Leave out while you are away: doses by hand, an adsorber, cleaning, other light times, and every treatment. Nobody should weigh a dose for you."
LIMITS = {
    "alarm": "An alarm is up: {name}. Settle it before you go.",
    "quarantine": "Animals are in the quarantine tank, and it needs a test every day.",
    "age": "No animal is in yet, but the cycle wants a look.",
    "one_heater": "There is one heater alone. If it fails, nothing else warms the tank.",
    "no_top_up": "Nothing tops the water up, so the salt grows denser.",
    "top_up": "The top-up water lasts no longer. A larger container could flood the tank with fresh water.",
    "food": "Fish without food, as long as no feeder has been tried for a week.",
}


def away_lines(found: Absence, plan: Plan, width: int, *, described: bool) -> tuple[Line, ...]:
    """`described`: the tank file knows of this absence already."""
    page = Page(width)
    page.heading(f"{plan.name}: away from {short_day(found.first, plan.on)} to {short_day(found.last, plan.on)}", f"{found.nights} night{'s' if found.nights != 1 else ''}")
    page.gap()
    page.say(_alone(found), "strong")
    causes = [limit.why for limit in found.limits]
    for limit in [lim for n, lim in enumerate(found.limits) if lim.why not in causes[:n]][:4]:  # a cause is told once, by what it allows least
        page.labelled(_nights(limit.nights), _limit(limit), 2, 10)
    page.say(_visits(found))
    if not described:
        page.say(f"The plan does not know of it yet. Write it into your description (tank.yaml), under keeper: away: [{{from: {found.first.isoformat()}, to: {found.last.isoformat()}}}]")
    page.heading("Before")
    for day, n in found.before:
        page.labelled(short_day(day, plan.on) if n not in found.passed else "now", _before(n, n in found.passed), 2, 12)
    page.say(LEAVE_OUT)
    if found.open_jobs:
        page.say(f"Due while you are away: {'; '.join(t.title for t in found.open_jobs[:4])}. Do it before, or when you are back.")
    if found.visits != "none":
        write_sheet(page, found, plan)
    page.heading("When you are back")
    page.numbered(RETURN, 2)
    return tuple(page.lines)


def write_sheet(page: Page, found: Absence, plan: Plan) -> None:
    """What the sitter reads: one page, nothing to decide."""
    page.heading("For the person who looks after it")
    for label, text in sitter_rows(found, plan):
        page.labelled(label, text, 2, 12, label_role="alarm" if label == "Danger" else "soft")
    page.labelled("Phones", "keeper ______  second ______  shop ______  vet ______  electrician ______", 2, 12)
    page.labelled("Where", "fuse box ______  water valve ______  battery air pump ______", 2, 12)


def home_alone_lines(found: Absence, plan: Plan, width: int, folder: str = "") -> tuple[Line, ...]:
    """The page of a day on which the keeper is away: the sitter's sheet, an alarm if one is up, and nothing else."""
    page = Page(width)
    page.heading(f"{plan.name}: you are away until {short_day(found.last, plan.on)}", day_words(plan.on))
    for alarm in found.alarms:
        page.say(f"Alarm: {alarm}. Call the person with the key.", "strong")
    # Nobody at the tank has the plan: what helps is read to them, the gravest in full.
    for n, task in enumerate(t for t in plan.tasks if found.alarms and t.role == "remedy" and t.state in URGENT and not t.tentative):
        page.say(f"{'Then' if n else 'Read this to them first'}: {task.title}." + (f" Its steps: `{command('today', folder, task.id)}`." if n else ""), "strong")
        if n == 0:
            page.numbered(all_words(task.steps, plan.units), 2)
    page.gap()
    if plan.on == found.first:
        page.say(f"Before you leave: {BEFORE[0]}")
    page.say(f"All {'other ' if found.alarms else ''}jobs wait for your return.")
    write_sheet(page, found, plan)
    return tuple(page.lines)


def _alone(found: Absence) -> str:
    if found.alone == 0:
        return "This tank may not be alone for a night."
    return f"This tank may be alone for {_nights(found.alone)}. You are away for {found.nights}."


def _nights(count: int) -> str:
    return f"{count} night{'s' if count != 1 else ''}"


def _before(days: int, passed: bool) -> str:
    """What is done so many days before leaving. A trial that has no week left is none."""
    return TOO_LATE if passed and days == 7 else BEFORE[days]


def _limit(limit: NightLimit) -> str:
    if limit.why == "age" and limit.days is not None:
        more = f" From {limit.more_from} days on it may be longer." if limit.more_from is not None else ""
        return f"When you leave, the first animals will have been in for {days_words(limit.days)}.{more}"
    return LIMITS[limit.why].format(name=limit.name)


def _visits(found: Absence) -> str:
    said = {"none": "Nobody needs to come. Ask somebody with a key to be reachable all the same.", "every_second_day": "Somebody has to come every second day.", "daily": "Somebody has to come every day."}[found.visits]
    return said + (f" For more than {days_words(14)} it should be somebody who keeps a marine tank, with a test of ammonia and salinity every week." if found.experienced else "")


def away_document(found: Absence, plan: Plan) -> dict[str, Any]:
    return {"on": plan.on.isoformat(), "from": found.first.isoformat(), "to": found.last.isoformat(), "nights": found.nights, "alone_nights": found.alone, "visits": found.visits,
            "limits": [{"why": limit.why, "nights": limit.nights, "text": _limit(limit)} for limit in found.limits],
            "before": [{"date": day.isoformat(), "days_before": n, "text": _before(n, n in found.passed)} for day, n in found.before], "return": list(RETURN), "alarms": list(found.alarms)}


__all__ = ["away_document", "away_lines", "home_alone_lines"]
