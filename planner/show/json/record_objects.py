"""Records as the objects of the machine form: one function a record, shared by everything that prints JSON.

Dates are ISO 8601, amounts carry their (metric) unit, lists keep their order.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any

from planner.plan.day_jobs import Job
from planner.rulebook.shapes import Rulebook
from planner.show.words.causes import all_words, cause_words
from planner.show.words.conditions import condition_words, evidence_words, need_evidence, need_words
from planner.show.words.together import because_of, yielded_document
from planner.terms.records import CLOSED, Amount, Forecast, Hold, Moved, Need, Phase, Plan, Problem, Quantity, Row, Task, Trace, Waiting, Window

Json = dict[str, Any]


def tank_document(plan: Plan) -> Json:
    """Name and volumes; a volume that cannot be had is null."""
    net, gross = plan.quantity("net_volume"), plan.quantity("gross_volume")
    return {
        "name": plan.name, "net_volume_l": figure(net.value) if net else None, "gross_volume_l": figure(gross.value) if gross else None,
        "id": plan.tank_id, "timezone": plan.timezone, "units": plan.units,
    }


def phase_document(phase: Phase, units: str) -> Json:
    return {
        "id": phase.id, "title": phase.title, "state": phase.state, "started": iso(phase.started), "opened": iso(phase.opened), **window_document(phase.window),
        "reason": cause_words(phase.reason, units), "needs": [need_document(n) for n in phase.needs], "advice": list(phase.advice), "on_word": phase.on_word,
    }


def task_document(task: Task, units: str) -> Json:
    return {
        "id": task.id, "key": task.key, "occurrence": task.occurrence, "phase": task.phase, "title": task.title, "role": task.role,
        "due": iso(task.due), "date": iso(task.date), "time": task.time, "earliest": iso(task.window.earliest), "latest": iso(task.window.latest),
        "state": task.state.value, "tentative": task.tentative, "depends_on": task.depends_on, "closed_on": iso(task.closed_on),
        "amounts": {name: quantity_document(q) for name, q in task.amounts}, "steps": all_words(task.steps, units), "watch": list(task.watch),
        "cautions": list(task.cautions), "because": list(because_of(task, units)), "cites": list(task.cites), "reads": list(task.reads), "where": task.where,
        "minutes": task.minutes, "calendar": task.calendar, "writes": {"kind": task.writes[0], "what": task.writes[1]} if task.writes else None,
        "animals": [{"id": id, "count": count} for id, count in task.animals], "house": task.house,
        "yielded": [yielded_document(y) for y in task.yielded] if task.state not in CLOSED else [],
    }


def job_document(job: Job) -> Json:
    """A line of the day's list: its number, the task, and whether it is open, done, skipped, held, put_off or gone. `known`: its
    kind was ticked before."""
    return {"number": job.number, "id": job.task.id, "title": job.task.title, "state": job.standing, "known": job.known, "cautions": list(job.task.cautions)}


def need_document(need: Need) -> Json:
    return {"text": need_words(need), "met": need.met.value, "evidence": list(need_evidence(need))}


def hold_document(hold: Hold) -> Json:
    return {"gate": hold.gate, "since": hold.since.isoformat(), "because": hold.because, "do": hold.do, "instead": list(hold.instead)}


def waiting_document(waiting: Waiting) -> Json:
    return {"gate": waiting.gate, "title": waiting.title, "needs": [need_document(n) for n in waiting.needs], **window_document(waiting.expected)}


def problem_document(problem: Problem) -> Json:
    place = problem.place
    return {"file": place.file, "line": place.line, "column": place.column, "code": problem.code, "message": problem.message, "fix": problem.fix}


def forecast_document(forecast: Forecast) -> Json:
    """Milestones and curves of the nitrogen cycle; concentrations are mg/L as N."""
    return {
        "events": {name: {**window_document(e.window), "happened": iso(e.happened)} for name, e in forecast.events.items()},
        "curve": [{"date": p.day.isoformat(), **{name: dict(zip(("p10", "p50", "p90"), map(figure, band), strict=True))
                                                 for name, band in (("ammonia", p.ammonia), ("nitrite", p.nitrite), ("nitrate", p.nitrate))}}
                  for p in forecast.curve],
        "readings_used": forecast.readings_used, "members": forecast.members, "basis": forecast.basis,
    }


def moved_document(moved: Iterable[Moved]) -> list[Json]:
    """What moved: `from` and `to` are null where there is no date."""
    return [{"id": m.id, "title": m.title, "from": iso(m.before), "to": iso(m.after), "because": m.because} for m in moved]


def row_document(row: Row) -> Json:
    """A journal row as it stands in the file, with its line."""
    return {"when": row.at.isoformat() if row.at else row.day.isoformat(), "kind": row.kind, "what": row.what, "value": row.value, "unit": row.unit,
            "where": row.where, "note": row.note, "line": row.line}


def trace_document(trace: Trace) -> Json:
    return {"text": condition_words(trace), "answer": trace.answer.value, "evidence": evidence_words(trace), "rows": [row_document(r) for r in trace.rows] if not trace.parts else [],
            "parts": [trace_document(p) for p in trace.parts]}


def window_document(window: Window) -> Json:
    return {"earliest": iso(window.earliest), "likely": iso(window.likely), "latest": iso(window.latest)}


def quantity_document(made: Quantity | Amount) -> Json:
    """`assumed` stands there only where it is so."""
    return {"value": figure(made.value), "unit": made.unit} | ({"assumed": True} if made.assumed else {})


def caution_texts(tasks: Sequence[Task], rules: Rulebook | None) -> Json:
    """The cautions that these tasks name, by key."""
    keys = sorted({key for task in tasks for key in task.cautions})
    found = {key: rules.cautions[key] for key in keys if rules is not None and key in rules.cautions}
    return {key: {"title": c.title, "text": c.text, "defer": c.defer} for key, c in found.items()}


def iso(day: date | None) -> str | None:
    return day.isoformat() if day is not None else None


def figure(value: float) -> float | None:
    """Six significant digits: as many as any input bears, and the same bytes on any machine. Infinity is null."""
    return float(f"{value:.6g}") if math.isfinite(value) else None
