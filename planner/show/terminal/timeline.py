"""The phases as a time line: when each is expected to be over if all goes quickly, as likely, or slowly."""

from __future__ import annotations

from datetime import date

from planner.plan.milestones import unplanned
from planner.show.words.causes import cause_words
from planner.show.words.words import Line, Page, Role, Span, bare_day, wrap
from planner.terms.records import Phase, Plan

STATES = {"done": "done", "open": "now", "ahead": "ahead", "on_hold": "on hold"}
BAND_FROM = 108
"""Narrower terminals have the dates alone; from here on there is room for a drawn band."""


def write_timeline(page: Page, plan: Plan) -> None:
    """A row a phase: state, quick, likely and slow; on a wide terminal with a band drawn to scale."""
    page.heading("When each phase may be over")
    columns = _columns(plan)
    dates_width = sum(columns)
    band = page.width - 40 - 9 - dates_width - 1 if page.width >= BAND_FROM else 0
    title_width = page.width - 9 - dates_width - (band + 1 if band else 0)
    head = f"{'':{title_width + 9}}" + "".join(f"{w:<{c}}" for w, c in zip(("quick", "likely", "slow"), columns, strict=True))
    page.lines.append((Span(head.rstrip(), "soft"),))
    span = _span(plan)
    for phase in plan.phases:
        page.lines += _row(phase, plan, columns, title_width, page.width, _band(phase, plan.on, span, band) if band else "")
    page.say("Quick, likely and slow are three ways it may go, worked through step by step. None is a promise: only your tests let you go on.", "soft")
    if band:
        page.say("On the line: | today, x done, o likely, - from quick to slow.", "soft")


def _columns(plan: Plan) -> tuple[int, int, int]:
    """Widths of the three dates: wider where a year has to be said."""
    days = [d for p in plan.phases for d in (p.window.earliest, p.window.likely, p.window.latest) if d is not None]
    year = any(d.year != plan.on.year for d in days)
    return (12, 12, 11) if year else (8, 8, 7)


def _row(phase: Phase, plan: Plan, columns: tuple[int, int, int], title_width: int, width: int, band: str) -> list[Line]:
    titles = wrap(phase.title, title_width - 1)
    role: Role = {"open": "strong", "done": "soft", "on_hold": "strong"}.get(phase.state, "")  # type: ignore[assignment]
    left = f"{titles[0]:{title_width}}{STATES[phase.state]:<9}"
    note = ""
    if phase.state == "done":
        cells = ["", bare_day(phase.opened, plan.on) if phase.opened else "", ""]
        note = "on your word, not on evidence" if phase.on_word else ""
    elif phase.role == "without_end":
        cells = ["", "goes on", ""]
    elif unplanned(phase, plan):
        cells = ["none planned", "", ""]
    else:
        cells = [bare_day(d, plan.on) if d else "no date" for d in (phase.window.earliest, phase.window.likely, phase.window.latest)]
        note = cause_words(phase.reason, plan.units) if phase.window.likely is None else ""
    dates = "".join(f"{cell:<{c}}" for cell, c in zip(cells, columns, strict=True))
    rows: list[Line] = [(Span(left, role), Span(f"{dates} {band}".rstrip() if band else dates.rstrip()))]
    rows += [(Span(line, role),) for line in titles[1:]]
    return rows + ([(Span(line, "soft"),) for line in wrap(note, width, "    ")] if note else [])


def _span(plan: Plan) -> tuple[date, date] | None:
    days = [d for p in plan.phases if p.role != "without_end" for d in (p.opened, p.window.earliest, p.window.latest) if d is not None]
    return (min(plan.on, *days), max(plan.on, *days)) if days else None


def _band(phase: Phase, on: date, span: tuple[date, date] | None, width: int) -> str:
    """`---o-----` from quick to slow with the likely day marked, and `|` for today."""
    if span is None or span[0] == span[1]:
        return ""
    whole = (span[1] - span[0]).days

    def place(day: date) -> int:
        return min(max(round((day - span[0]).days / whole * (width - 1)), 0), width - 1)

    cells = [" "] * width
    cells[place(on)] = "|"
    if phase.opened is not None:
        cells[place(phase.opened)] = "x"
    elif phase.role != "without_end" and phase.window.earliest and phase.window.likely and phase.window.latest:
        for n in range(place(phase.window.earliest), place(phase.window.latest) + 1):
            cells[n] = "-"
        cells[place(phase.window.likely)] = "o"
    return "".join(cells).rstrip()
