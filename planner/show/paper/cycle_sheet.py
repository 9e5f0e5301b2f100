"""The cycle sheet: a row a day to write on, and the expected course of ammonia and nitrite to plot on by hand, both in the
units of the keeper's own kits."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from datetime import date, timedelta

from planner.files.tank import Tank
from planner.plan.texts import told_amount
from planner.rulebook.shapes import Rulebook
from planner.show.json.record_objects import Json
from planner.show.paper.road import FIRST_FOOD, NAMES, milestones
from planner.show.paper.wall import span_words
from planner.show.terminal.chart import Scale, extent, scale_of
from planner.show.words.words import bare_day, short_day
from planner.terms.readings import READINGS
from planner.terms.records import Journal, Plan, Row
from planner.terms.written_amounts import IONS, NITROGEN

MOST_POINTS, LEAST_STEP = 45, 2
"""Each point of the drawn course stands for so many days or more, and shows the highest of them: feeding every other day
would else be drawn as a saw."""
WEEK = 7
LINES = (4, 6)
"""Least and most lines of the scale beside a chart."""
STEPS = (0.05, 0.1, 0.2, 0.25, 0.5, 1.0, 2.0, 2.5, 5.0, 10.0, 20.0, 25.0, 50.0, 100.0, 200.0)
DOSES = (("first", "ammonia_dose"), ("feeding", "ammonia_redose"), ("proof", "challenge_dose"))
OTHERS = ("nitrate", "ph", "alkalinity", "salinity", "temperature")


def cycle_data(plan: Plan, tank: Tank, journal: Journal, rules: Rulebook) -> Json | None:
    """None once the filter is proven, and where nothing is expected."""
    phase = plan.phase_as("proves_filter")
    if phase is None or phase.opened is not None or not plan.forecast.curve:
        return None
    start = plan.forecast.curve[0].day
    given = {name: q for t in plan.tasks if t.phase == phase.id for name, q in t.amounts}
    doses = [(word, given[name]) for word, name in DOSES if name in given and not (word == "first" and start <= plan.on)]
    events = [(title, f"read on {bare_day(done, plan.on)}" if done else span_words(window, plan)) for title, window, done in (*milestones(plan), (NAMES["cycle_done"], phase.window, None))]
    told = {*phase.advice, plan.forecast.dates}  # on its card, and in the line of events
    return {
        "charts": [_chart(name, plan, tank, journal, rules) for name in ("ammonia", "nitrite")], "events": events, "sentences": [s for s in plan.forecast.sentences if s not in told],
        "day_zero": FIRST_FOOD[tank.cycle.ammonia or "dosed"], "started": short_day(start, plan.on) if start <= plan.on else "", "first": max(0, (plan.on - start).days), "dose_unit": doses[0][1].unit if doses else "",
        "doses": [(word, told_amount(q, plan.units)) for word, q in doses],
        "pass": [_pass(name, tank, rules) for name in ("ammonia", "nitrite")], "others": [(title(name), unit_of(name, tank)) for name in OTHERS],
    }


def title(name: str) -> str:
    return "pH" if name == "ph" else READINGS[name].title[:1].upper() + READINGS[name].title[1:]


def unit_of(name: str, tank: Tank) -> str:
    """The unit in which this keeper's kit shows a reading; a blank to fill where nobody said how it counts."""
    if name in NITROGEN:
        kit = tank.test_kits.get(name)
        basis = kit.basis if kit else None
        return "mg/L as " + ("N" if basis == "N" else "…" if basis is None else IONS[name] if basis == "ion" else basis)
    if name == "temperature":
        return "°F" if tank.units == "us" else "°C"
    return "" if name == "ph" else READINGS[name].unit


def _pass(name: str, tank: Tank, rules: Rulebook) -> Json:
    scale = scale_of(name, tank, rules)
    clear = "" if scale.clear is None else "your kit's zero"  # the words of the gate: a card may have a field between its zero and the limit
    return {"title": title(name), "unit": scale.unit, "clear": clear, "top": "" if scale.ceiling is None else f"{_round(scale.ceiling * scale.factor)}"}


def _round(value: float) -> str:
    return f"{float(f'{value:.2g}'):g}"


def _chart(name: str, plan: Plan, tank: Tank, journal: Journal, rules: Rulebook) -> Json:
    """One chart in a unit square, days counted from the first food of the filter."""
    scale, curve = scale_of(name, tank, rules), plan.forecast.curve
    start = curve[0].day
    rows = tuple(r for r in journal.of("reading", name, plan.on) if r.where == "display" and r.low is not None)
    bands, top = extent(name, curve, rows, plan.on, scale.factor)
    last = len(bands) - 1
    step = max(LEAST_STEP, -(-len(bands) // MOST_POINTS))
    tick, lines = ticks(top * scale.factor)
    high = tick * lines / scale.factor

    def y(value: float) -> float:
        return round(min(1.0, max(0.0, value / high)), 4)

    end = _fallen(name, bands, plan, scale)
    points = [(round(min(d + step / 2, last) / max(1, last), 4) if d else 0.0, *(y(max(b[k] for b in bands[d : d + step])) for k in range(3))) for d in range(0, len(bands), step)]
    peak = max(range(len(bands)), key=lambda i: bands[i][1])
    weeks = range(0, last + 1, WEEK)
    return {
        "name": title(name), "unit": scale.unit, "points": points, "ticks": [(f"{tick * n:g}", round(n / lines, 4)) for n in range(lines + 1)], "lines": _marks(scale, y, high),
        "days": [(str(d), round(d / max(1, last), 4), bare_day(start + timedelta(days=d), plan.on)) for d in weeks], "span": last, "step": step,
        "likely": [(p[0], p[2]) for p in points] if end is None else _fall([(p[0], p[2]) for p in points if p[0] * max(1, last) < end], (round(end / max(1, last), 4), y(scale.clear or 0.0))),
        "fed": end is not None, "today": round((plan.on - start).days / max(1, last), 4) if start <= plan.on <= start + timedelta(days=last) else None,
        "readings": [(round((r.day - start).days / max(1, last), 4), y(r.low or 0.0)) for r in _shown(rows, start, last)],
        "alt": f"The expected course of {name}: the likely line stands highest about day {peak}, at {_round(bands[peak][1] * scale.factor)} {scale.unit}, within a band up to {_round(bands[peak][2] * scale.factor)}.",
    }


def _fall(line: Sequence[tuple[float, float]], end: tuple[float, float]) -> list[tuple[float, float]]:
    """The line up to its highest point, then only what falls, and its end."""
    top = max(range(len(line)), key=lambda n: line[n][1])
    falling = list(line[: top + 1])
    for point in line[top + 1 :]:
        if end[1] < point[1] < falling[-1][1]:
            falling.append(point)
    # Where tanks differ much the middle of them all stays high to the end: then the fall is drawn straight.
    half = (line[top][0] + end[0]) / 2, (line[top][1] + end[1]) / 2
    while len(falling) > top + 1 and falling[-1][0] > half[0] and falling[-1][1] > half[1]:
        falling.pop()
    return [*falling, end]


def _fallen(name: str, bands: Sequence[tuple[float, float, float]], plan: Plan, scale: Scale) -> int | None:
    """The day on which ammonia is likely clear for the first time: there its likely line ends. Behind it the filter is fed again and again,
    and the middle of many such saws is a flat line, which reads like a filter that stands still."""
    event = plan.forecast.events.get("ammonia_clear") if name == "ammonia" else None
    day = None if event is None else event.happened or event.window.likely
    count = (day - plan.forecast.curve[0].day).days if day is not None else 0
    return count if 0 < count < len(bands) and scale.clear is not None else None


def _shown(rows: Sequence[Row], start: date, last: int) -> list[Row]:
    return [r for r in rows if start <= r.day <= start + timedelta(days=last)]


def _marks(scale: Scale, y: Callable[[float], float], high: float) -> list[tuple[str, float]]:
    """`clear` and `off my kit`, each where the chart reaches it."""
    return [(word, y(level)) for word, level in (("clear", scale.clear), ("off my kit", scale.ceiling)) if level is not None and level < high]


def ticks(top: float) -> tuple[float, int]:
    """A round step of the scale and how many of them reach the top."""
    step = next((s for s in STEPS if top / s <= LINES[1]), top / LINES[0])
    return step, max(1, math.ceil(top / step - 1e-9))


__all__ = ["cycle_data", "ticks", "title", "unit_of"]
