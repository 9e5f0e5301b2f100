"""The expected course of ammonia and nitrite as shapes in a unit square, for the printed plan to draw."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from itertools import pairwise
from typing import Any

from planner.show.terminal.chart import NAMES, extent
from planner.show.words.words import bare_day, window_words
from planner.terms.records import Journal, Plan, Row

DAY_LABELS = 4
FED = ("You feed ammonia again and again until the filter is proven. Each rise is a dose, and each fall shows the bacteria at work. "
       "Where the line stays high, it joins the highest points.")
A_DOSE = 0.2
"""mg/L as N within a day: a rise of the likely line from which it is taken for a dose."""
MOST_POINTS = 45
LEAST_STEP = 2
"""Each point stands for so many days or more, and shows the highest of them: feeding every other day would else be drawn
as a saw."""


def chart_data(plan: Plan, journal: Journal) -> dict[str, Any]:
    """Two charts, what the milestones are, and the forecast's own sentences. No charts where there is no curve."""
    forecast, on = plan.forecast, plan.on
    charts = []
    if forecast.curve:
        for name in ("ammonia", "nitrite"):
            rows = tuple(r for r in journal.of("reading", name, on) if r.where == "display" and r.low is not None)
            charts.append(_chart(name, plan, rows))
    events = [(NAMES[n].capitalize(), f"read on {bare_day(e.happened, on)}" if e.happened else window_words(e.window, on, "beyond the forecast")) for n, e in forecast.events.items()]
    return {"charts": charts, "step": charts[0].pop("step") if charts else 0, "events": events if charts or any(e.window.likely for e in forecast.events.values()) else [], "sentences": list(forecast.sentences), "fed": FED if charts and _is_fed(plan) else ""}


def _is_fed(plan: Plan) -> bool:
    """Is a dose after the first one still to come?"""
    proven = plan.forecast.events.get("cycle_done")
    rises = sum(b.ammonia[1] - a.ammonia[1] > A_DOSE for a, b in pairwise(plan.forecast.curve) if b.day > plan.on)
    return proven is not None and proven.happened is None and rises > 0


def _chart(name: str, plan: Plan, readings: Sequence[Row]) -> dict[str, Any]:
    start, on = plan.forecast.curve[0].day, plan.on
    bands, top = extent(name, plan.forecast.curve, tuple(readings), on)
    last = len(bands) - 1
    step = max(LEAST_STEP, -(-len(bands) // MOST_POINTS))

    def x(day: date) -> float:
        return round((day - start).days / max(1, last), 4)

    def y(value: float) -> float:
        return round(min(1.0, max(0.0, value / top)), 4)

    shown = [r for r in readings if start <= r.day <= start + timedelta(days=last)]
    labels = [start + timedelta(days=n * last // DAY_LABELS) for n in range(DAY_LABELS)]
    peak = max(range(len(bands)), key=lambda i: bands[i][1])
    return {
        "name": name.capitalize(), "step": step, "points": [(round(min(d + step / 2, last) / max(1, last), 4) if d else 0.0, *(y(max(b[k] for b in bands[d : d + step])) for k in range(3))) for d in range(0, len(bands), step)], "top": f"{top:g}", "half": f"{top / 2:g}",
        "days": [(bare_day(d, on), x(d)) for d in labels], "today": x(on) if start <= on <= start + timedelta(days=last) else None,
        "readings": [(x(r.day), y(r.low or 0.0)) for r in shown],
        "alt": f"The expected course of {name}: the likely line stands highest about {bare_day(start + timedelta(days=peak), on)}, at {bands[peak][1]:.1f} mg/L as N, within a band up to {bands[peak][2]:.1f}.",
    }


__all__ = ["chart_data"]
