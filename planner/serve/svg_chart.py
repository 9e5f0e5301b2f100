"""Charts as drawings that a page holds: the expected course of the cycle with the keeper's own points, and any reading over time.

Everything that is put in is a number or a text that is escaped; what a chart shows also stands beside it as a table.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date, timedelta

from markupsafe import Markup

from planner.files.tank import Tank
from planner.rulebook.shapes import Rulebook
from planner.show.terminal.chart import Scale, extent, scale_of
from planner.show.terminal.reading_chart import round_axis
from planner.show.words.words import bare_day
from planner.terms.readings import READINGS
from planner.terms.records import Plan, Row
from planner.terms.written_amounts import NITROGEN

WIDTH, HEIGHT = 380, 230
LEFT, RIGHT, TOP, BOTTOM = 40, 8, 12, 28
PARTS, DAY_LABELS, LEAST_D = 4, 3, 14


class Frame:
    """The unit square of a chart on its place in the drawing."""

    def __init__(self, start: date, last: int, bottom: float, top: float) -> None:
        self.start, self.last, self.bottom, self.top = start, max(1, last), bottom, top

    def x(self, day: date) -> float:
        return round(LEFT + (day - self.start).days / self.last * (WIDTH - LEFT - RIGHT), 1)

    def y(self, value: float) -> float:
        share = min(1.0, max(0.0, (value - self.bottom) / (self.top - self.bottom)))
        return round(TOP + (1 - share) * (HEIGHT - TOP - BOTTOM), 1)

    def shell(self, on: date, levels: Sequence[tuple[str, float]]) -> Markup:
        """Grid, figures, days, today, and the named levels."""
        made = Markup()
        for n in range(PARTS + 1):
            value = self.bottom + (self.top - self.bottom) * n / PARTS
            made += Markup('<path class="grid" d="M{} {}H{}"/><text x="{}" y="{}" text-anchor="end">{}</text>').format(LEFT, self.y(value), WIDTH - RIGHT, LEFT - 6, self.y(value) + 4, f"{value:.4g}")
        for n in range(DAY_LABELS + 1):
            day = self.start + timedelta(days=n * self.last // DAY_LABELS)
            anchor = "start" if n == 0 else "end" if n == DAY_LABELS else "middle"
            made += Markup('<text x="{}" y="{}" text-anchor="{}">{}</text>').format(self.x(day), HEIGHT - 8, anchor, bare_day(day, on))
        for words, value in levels:
            if self.bottom <= value <= self.top:
                made += Markup('<path class="level" d="M{} {}H{}"/><text x="{}" y="{}" text-anchor="end">{}</text>').format(LEFT, self.y(value), WIDTH - RIGHT, WIDTH - RIGHT - 4, self.y(value) - 4, words)
        if self.start <= on <= self.start + timedelta(days=self.last):
            made += Markup('<path class="today" d="M{} {}V{}"/><text x="{}" y="{}">today</text>').format(self.x(on), TOP, HEIGHT - BOTTOM, min(self.x(on) + 3, WIDTH - 40), TOP + 10)
        return made

    def points(self, rows: Sequence[tuple[date, float, bool]]) -> Markup:
        """Own readings; one off the scale is a triangle."""
        made = Markup()
        for day, value, off in rows:
            x, y = self.x(day), self.y(value)
            made += Markup('<path class="own" d="M{} {}l5 9h-10z"/>').format(x, y - 7) if off else Markup('<circle class="own" cx="{}" cy="{}" r="4"/>').format(x, y)
        return made


def svg(inside: Markup, title: str) -> Markup:
    return Markup('<svg class="chart" viewBox="0 0 {} {}" role="img" aria-label="{}">').format(WIDTH, HEIGHT, title) + inside + Markup("</svg>")


def cycle_chart(name: str, plan: Plan, rows: Sequence[Row], tank: Tank, rules: Rulebook) -> tuple[str, Markup] | None:
    """The expected course of ammonia or nitrite, its band, and the own points, in the unit of the kit; None without a forecast."""
    curve = plan.forecast.curve
    if not curve:
        return None
    scale = scale_of(name, tank, rules)
    shown = tuple(r for r in rows if r.low is not None)
    bands, top = extent(name, curve, shown, plan.on, scale.factor)
    frame = Frame(curve[0].day, len(bands) - 1, *round_axis(0.0, top * scale.factor, PARTS))
    days = [curve[0].day + timedelta(days=n) for n in range(len(bands))]

    def path(of: int, reverse: bool = False) -> str:
        found = [f"{frame.x(day)} {frame.y(band[of] * scale.factor)}" for day, band in zip(days, bands, strict=True)]
        return "L".join(reversed(found) if reverse else found)

    levels = [(words, level * scale.factor) for words, level in (("clear", scale.clear), ("off your kit", scale.ceiling)) if level is not None]
    peak = max(range(len(bands)), key=lambda n: bands[n][1])
    inside = Markup('<path class="band" d="M{}L{}z"/>').format(path(2), path(0, True)) + frame.shell(plan.on, levels) + Markup('<path class="curve" d="M{}"/>').format(path(1))
    inside += frame.points([(r.day, (r.low or 0.0) * scale.factor, math.isinf(r.high or 0.0)) for r in shown if r.day >= curve[0].day])
    title = f"Expected course of {name}: highest about {bare_day(days[peak], plan.on)}, at {bands[peak][1] * scale.factor:.2g} {scale.unit}, within a band up to {bands[peak][2] * scale.factor:.2g}. {len(shown)} own readings."
    return f"{name.capitalize()}, {scale.unit}", svg(inside, title)


def reading_chart(rows: Sequence[Row], on: date, tank: Tank, rules: Rulebook) -> tuple[str, Markup] | None:
    """The readings of one kind in one water, joined; None for less than two."""
    shown = [r for r in rows if r.low is not None]
    if len(shown) < 2:
        return None
    name = shown[0].what
    nitrogen, fahrenheit = name in NITROGEN, READINGS[name].unit == "°C" and tank.units == "us"
    scale = scale_of(name, tank, rules) if nitrogen else Scale(unit=READINGS[name].unit)

    def value(internal: float) -> float:
        return internal * 1.8 + 32 if fahrenheit else internal * scale.factor

    values = [value(r.low or 0.0) for r in shown]
    room = (max(values) - min(values)) * 0.1 or max(abs(max(values)) * 0.05, 0.5)
    low, high = (0.0, max([*values, value(scale.clear or 0.0)]) + room) if nitrogen else (min(values) - room, max(values) + room)
    bottom, top = round_axis(low, high, PARTS)
    start = min(shown[0].day, on - timedelta(days=LEAST_D))
    frame = Frame(start, (on - start).days, bottom, top)
    unit = "°F" if fahrenheit else "" if scale.unit == "pH" else scale.unit
    levels = [(words, value(level)) for words, level in (("clear", scale.clear), ("off your kit", scale.ceiling)) if nitrogen and level is not None]
    joined = "L".join(f"{frame.x(r.day)} {frame.y(v)}" for r, v in zip(shown, values, strict=True))
    inside = frame.shell(on, levels) + Markup('<path class="join" d="M{}"/>').format(joined) + frame.points([(r.day, v, math.isinf(r.high or 0.0)) for r, v in zip(shown, values, strict=True)])
    title = f"{READINGS[name].title}: {len(shown)} readings from {bare_day(shown[0].day, on)} to {bare_day(shown[-1].day, on)}, the last {values[-1]:.4g} {unit}".strip()
    return unit or "pH", svg(inside, title)


__all__ = ["cycle_chart", "reading_chart"]
