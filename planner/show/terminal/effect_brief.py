"""The answer to an entry in five lines at most: danger before all, then what was written, what it means, and what moved most."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from datetime import timedelta
from typing import NamedTuple

from planner.plan.day_jobs import Day
from planner.rulebook.shapes import Rulebook
from planner.show.terminal.effect import NOT_IN_THE_WAY, Effect, entry_words, written_words
from planner.show.terminal.holdlist import alarm_of
from planner.show.terminal.joblines import as_printed, job_words
from planner.show.words.words import Line, Page, Role, command, days_words, listed, short_day, wrap
from planner.terms.records import CLOSED, Moved, Plan, Task

MOST_LINES = 5
LABEL = 10
DO_NOW, ALARM, HOLD = "Do now", "Alarm", "On hold"
ALARM_STOPS = "New animals and the next steps, until this is over."
SEE_ALL = "Many dates."


def brings_danger(effect: Effect, rules: Rulebook) -> bool:
    """Is a job newly due of an alarm that may kill?"""
    grave = {a.alert for a in rules.alerts if a.is_grave}
    return any(t.phase in grave for t in effect.newly_due)


def danger_lines(effect: Effect, day: Day, rules: Rulebook, width: int, folder: str = "", when: Callable[[Task], str] = lambda _: "") -> tuple[Line, ...]:
    """The gravest alarm that an entry raised, what to do now, and the command that shows how. Never cut. `when`: from which hour on."""
    page, new = Page(width), {t.id for t in effect.newly_due}
    alerts = {a.alert: a for a in rules.alerts if a.is_grave}
    jobs = [j for j in as_printed(day, rules)[0] if j.task.phase in alerts]
    job = next((j for j in jobs if j.task.id in new), None)
    if job is not None:
        behind = f", after job {jobs[0].number}" if jobs[0].task.phase != job.task.phase else ""  # of an alarm that stood before
        page.labelled("Danger", f"{alerts[job.task.phase].title}. {job_words(job.task, rules, day.plan.units)}{behind}{when(job.task)}: `{command('today', folder, str(job.number))}`", 0, LABEL, "strong", "alarm")
    return tuple(page.lines)


def next_words(effect: Effect, day: Day, rules: Rulebook, folder: str = "", when: Callable[[Task], str] = lambda _: "") -> str:
    """What an alarm that may kill asks for next, once something of it was done or read, or a milder one was raised beside it: today, or that it goes on and with what."""
    alerts = {a.alert for a in rules.alerts if a.is_grave}
    if not any(h.do for h in effect.raised) and not any(r.kind == "reading" or r.what.partition("/")[0] in alerts for r in effect.written):
        return ""
    touched = {r.what.partition("/")[0] for r in effect.written if r.kind == "done"}
    printed = as_printed(day, rules)[0]
    if printed and printed[0].task.phase not in alerts and printed[0].task in effect.newly_due:
        return ""  # what was raised stands first, and is told as the deed of now
    jobs = sorted((j for j in printed if j.task.phase in alerts), key=lambda j: j.task.phase not in touched)  # what goes on before what else there is
    if not jobs:
        coming = [(t.date, t.role != "remedy", t.id, t) for t in day.plan.tasks if t.phase in alerts and t.state not in CLOSED and t.date is not None and t.date > day.plan.on]
        on, *_, later = min(coming, default=(day.plan.on, None))
        return f"The alarm goes on. {short_day(on, day.plan.on)}: {job_words(later, rules, day.plan.units)}" if later is not None else ""
    return f"{job_words(jobs[0].task, rules, day.plan.units)}{when(jobs[0].task)}: `{command('today', folder, str(jobs[0].number))}`"


def brief_lines(effect: Effect, plan: Plan, width: int, most: int = MOST_LINES, danger: Sequence[Line] = (), folder: str = "", then: str = "") -> tuple[Line, ...]:
    """So many lines at most, the weightiest first. `danger` stands before all and is never cut; then a hold is told, and where its
    words find no room the page of today has them whole. `then`: what comes next of an alarm that goes on, never cut either."""
    page = Page(width)
    page.lines += danger
    if most >= MOST_LINES:
        page.labelled("Written", _told(effect, width), role="strong")
    if then:
        page.labelled("Next", then, 0, LABEL, "strong")
    for meant in meaning(effect, f"`{command('today', folder)}` says what to do.", not danger):
        room = most - len(page.lines) - (0 if meant.label == HOLD and (danger or any(h.do for h in effect.raised)) else 1)  # a line for what moved, unless a hold of an alarm needs it
        kept = next((way for way in meant.ways if len(wrap(way, width - LABEL)) <= room), "")
        if kept:
            page.labelled(meant.label, kept, role=meant.role, label_role="soft")
    if len(page.lines) < most and (moved_dates(effect, plan) or not then):
        room = most - len(page.lines)
        since = min((r.day for r in effect.written), default=plan.on) - timedelta(days=1)  # what was just written is not written a second time for its dates
        more = f": `{command('plan', folder, f'--since {since}')}`"
        page.labelled("Moved", next((told for told in _moved_ways(effect, plan, more) if len(wrap(told, width - LABEL)) <= room), SEE_ALL))
    return tuple(page.lines)


def _told(effect: Effect, width: int) -> str:
    """All rows in words if two lines hold them, else how many of which kind."""
    whole = written_words(effect.written, effect.titles, effect.units)
    if len(whole) <= width - LABEL:
        return whole
    if len(effect.written) > 1 and {r.kind for r in effect.written} == {"done"}:
        return f"{len(effect.written)} jobs ticked"
    short = entry_words(effect.written, effect.titles, effect.units)
    if len(wrap(short, width - LABEL)) <= 2:
        return short
    counts: dict[str, int] = {}
    for row in effect.written:
        counts[row.kind] = counts.get(row.kind, 0) + 1
    names = {"reading": "reading", "done": "tick", "undo": "entry taken back", "dosed": "dose", "added": "kind of animal", "changed_water": "water change"}
    many = {"reading": "readings", "done": "ticks", "dosed": "doses", "added": "kinds of animals", "changed_water": "water changes"}
    return listed(f"{n} {many[kind] if n != 1 and kind in many else names.get(kind, kind.replace('_', ' '))}" for kind, n in counts.items())


class Meant(NamedTuple):
    """What an entry means under its label: the whole text, and where there is one a shorter way to say where it stands."""

    label: str
    ways: tuple[str, ...]
    role: Role = ""


def meaning(effect: Effect, see: str, deed: bool = True) -> Iterator[Meant]:
    """What an entry means, the weightiest first, each under its label. `see`: where more of a hold is told. `deed`: what an alarm asks
    for is not said yet."""
    for hold in [h for h in effect.raised if h.do][:1]:
        now = deed and effect.stands_first(hold)
        deeds = sorted((t for t in effect.newly_due if t.phase == alarm_of(hold)), key=lambda t: t.role == "test") if now else []
        yield Meant(DO_NOW, (f"{deeds[0].title}. {hold.do}", f"{deeds[0].title}. {see}"), "strong") if deeds else Meant(ALARM, (hold.do, *([see] if now else [hold.because] if deed else [])), "strong")
    if any(h.do for h in effect.raised):  # says all that the others would
        yield Meant(HOLD, (ALARM_STOPS,), "strong")
    elif effect.raised:
        reasons = list(dict.fromkeys(h.because for h in effect.raised))
        told = reasons[0] + (f" And {len(reasons) - 1} more." if len(reasons) > 1 else "")
        yield Meant(HOLD, (f"{told} {see}", told, f"What comes next. {see}"), "strong")
    if effect.shut:
        yield Meant("Open again", (f"{listed(f'“{p.title}”' for p in effect.shut)} is no longer finished.",), "strong")
    if effect.opened:
        yield Meant("Finished", (f"{listed(f'“{p.title}”' for p in effect.opened)}.",), "strong")
    if effect.ready:
        yield Meant("Ready for", (f"What is still to come of {listed(f'“{p.title}”' for p in effect.ready)}.",), "strong")
    over = list(dict.fromkeys(h.because for h in effect.lifted))
    if over:
        yield Meant("Goes on", (f"{NOT_IN_THE_WAY}{over[0]}", "What was on hold may go on."))
    if effect.newly_due:
        titles = [t.title for t in effect.newly_due]
        yield Meant("Now due", (f"{titles[0]}" + (f", and {len(titles) - 1} more" if len(titles) > 1 else "") + ".",))
    if effect.water is not None:
        yield Meant("Water", (f"The tank counts as {effect.water[1]} now, not {effect.water[0]}; every dose follows.",), "strong")
    for text in reversed(effect.forecast):  # what nothing explains, then the filter proven, then the milestones before it
        yield Meant("Filter", (text,))
    for text in effect.advice:
        yield Meant("Advice", (text,), "strong")


def moved_words(effect: Effect, plan: Plan) -> str:
    """The date that moved most, and how many others did."""
    return _moved_ways(effect, plan, "")[0]


def moved_dates(effect: Effect, plan: Plan) -> list[Moved]:
    """Dates that moved by an entry, beside the next time of what it ticks."""
    ticked = _ticked(effect)
    return [m for m in effect.moved if m.days and m.id.partition("#")[0] not in ticked and (p := plan.phase(m.id.removeprefix("gate/")), p is None or p.role != "without_end")[1]]


def again_words(effect: Effect, plan: Plan) -> str:
    """When a job that was ticked comes again; nothing for one that does not, nor of an alarm, which a test may end."""
    ticked = {key for key in _ticked(effect) if plan.phase(key.partition("/")[0]) is not None}
    return next((f"“{m.title}” comes again on {short_day(m.after, plan.on)}." for m in effect.moved if m.after is not None and m.id.partition("#")[0] in ticked), "")


def _ticked(effect: Effect) -> set[str]:
    return {r.what.partition("#")[0] for r in effect.written if r.kind in ("done", "skipped")}


def _moved_ways(effect: Effect, plan: Plan, more: str) -> tuple[str, ...]:
    """The same in whole sentences, each shorter than the one before: no title is cut."""
    real = moved_dates(effect, plan)
    if not real:
        again = again_words(effect, plan)
        return (f"Nothing. {again}", "Nothing.") if again else ("Nothing.",)
    most = max(real, key=lambda m: (abs(m.days or 0), m.of_gate))
    assert most.days and most.before and most.after
    others = f" {len(real) - 1} other date{'s' if len(real) != 2 else ''} moved{more}." if len(real) > 1 else ""
    by = f"{days_words(abs(most.days))} {'later' if most.days > 0 else 'sooner'}"
    return (f"“{most.title}” by {days_words(abs(most.days))}, {short_day(most.before, plan.on)} to {short_day(most.after, plan.on)}.{others}",
            f"“{most.title}” {by}, {short_day(most.after, plan.on)}.{others}",
            f"{len(real)} date{'s, the most' if len(real) > 1 else ''} by {days_words(abs(most.days))}{more}.")


__all__ = ["MOST_LINES", "Meant", "again_words", "brief_lines", "brings_danger", "danger_lines", "meaning", "moved_dates", "moved_words", "next_words"]
