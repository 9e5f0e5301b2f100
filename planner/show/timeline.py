"""The phases as a time line: when each is expected to be over if all goes quickly, as likely, or slowly."""

from __future__ import annotations

from datetime import date

from planner.model import Phase, Plan
from planner.show.words import Line, Page, Span, bare_day, short_day, wrap

STATES = {"done": "done", "open": "now", "ahead": "ahead", "on_hold": "ON HOLD"}
BAND_FROM = 108
"""Narrower terminals have the dates alone; from here on there is room for a drawn band."""


def write_timeline(page: Page, plan: Plan) -> None:
    """A row a phase: state, quick, likely and slow; on a wide terminal with a band drawn to scale."""
    page.heading("When each phase may be over")
    band = page.width - 86 if page.width >= BAND_FROM else 0
    title_width = page.width - 46 - (band + 2 if band else 0)
    span = _span(plan)
    head = f"{'':{title_width}}{'':9}{'quick':<12}{'likely':<14}{'slow':<11}"
    page.lines.append((Span(head.rstrip(), "soft"),))
    for phase in plan.phases:
        page.lines += _row(phase, plan.on, title_width, page.width, _band(phase, plan.on, span, band) if band else "")
    page.say("quick, likely and slow: three ways it may go, worked through step by step; none is promised, and no gate opens on a date.", "soft")


def _row(phase: Phase, on: date, title_width: int, width: int, band: str) -> list[Line]:
    titles = wrap(phase.title, title_width - 1)
    if phase.state == "done":
        when = f"{short_day(phase.opened, on)}" if phase.opened else ""
        dates = f"{'':12}{when + (' (on your word)' if phase.on_word else '')}"
    elif phase.id == "care":
        dates = f"{'':12}goes on"
    elif phase.window.likely is None:
        dates = "no date" + (f": {phase.reason}" if phase.reason else "")
    else:
        quick = bare_day(phase.window.earliest, on) if phase.window.earliest else "no date"
        slow = bare_day(phase.window.latest, on) if phase.window.latest else "no date"
        dates = f"{quick:<12}{bare_day(phase.window.likely, on):<14}{slow:<11}"
    left = f"{titles[0]:{title_width}}{STATES[phase.state]:<9}"
    role = {"open": "strong", "done": "soft", "on_hold": "alarm"}.get(phase.state, "")
    if len(left) + len(dates) + (len(band) + 2 if band else 0) > width:
        rows: list[Line] = [(Span(left.rstrip(), role),)]  # type: ignore[arg-type]
        rows += [(Span(line),) for line in wrap(dates.strip(), width, "    ")]
    else:
        rows = [(Span(left, role), Span(f"{dates:<39}" + band if band else dates.rstrip()))]  # type: ignore[arg-type]
    return rows + [(Span(line),) for line in titles[1:]]


def _span(plan: Plan) -> tuple[date, date] | None:
    days = [d for p in plan.phases if p.id != "care" for d in (p.opened, p.window.earliest, p.window.latest) if d is not None]
    return (min(plan.on, *days), max(plan.on, *days)) if days else None


def _band(phase: Phase, on: date, span: tuple[date, date] | None, width: int) -> str:
    """`---=====O====` from quick to slow with the likely day marked, and `|` for today."""
    if span is None or span[0] == span[1]:
        return ""
    whole = (span[1] - span[0]).days

    def place(day: date) -> int:
        return round((day - span[0]).days / whole * (width - 1))

    cells = [" "] * width
    cells[place(on)] = "|"
    if phase.opened is not None:
        cells[max(0, place(phase.opened))] = "x"
    elif phase.id != "care" and phase.window.earliest and phase.window.likely and phase.window.latest:
        for n in range(place(phase.window.earliest), place(phase.window.latest) + 1):
            cells[n] = "-"
        cells[place(phase.window.likely)] = "o"
    return "".join(cells).rstrip()
