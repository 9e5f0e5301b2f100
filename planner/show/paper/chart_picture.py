"""The charts of the cycle, or of readings, as a picture, SVG or PNG, in the units of the keeper's kits."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from pathlib import Path
from typing import Any, Literal, cast

import typst

from planner.show.terminal.chart import CLEAR, Scale, extent
from planner.show.terminal.reading_chart import Frame
from planner.show.words.words import bare_day, day_words
from planner.terms.records import Plan, Row

TEMPLATE = Path(__file__).with_name("chart_picture.typ")
DAY_LABELS = 5
PIXELS_PER_INCH = 144


def charts_drawn(plan: Plan, readings: Mapping[str, tuple[Row, ...]], scales: Mapping[str, Scale], form: Literal["svg", "png"]) -> bytes:
    """Both charts below each other. The plan has a curve."""
    charts = [_chart(name, plan, readings.get(name, ()), scales.get(name, Scale())) for name in ("ammonia", "nitrite")]
    return _drawn(f"{plan.name}: the nitrogen cycle", plan.on, charts, "Line: likely. Grey: where 8 of 10 plausible tanks lie. Rings: your readings.", form)


def readings_drawn(name: str, on: date, frames: Sequence[tuple[str, Frame]], form: Literal["svg", "png"]) -> bytes:
    """A chart below another for each frame, with the water that was read."""
    charts = [_readings_chart(frame, "" if where == "display" else f" in the {where} water", on) for where, frame in frames]
    return _drawn(f"{name}: readings", on, charts, "Rings: your readings.", form)


def _drawn(title: str, on: date, charts: Sequence[dict[str, Any]], note: str, form: Literal["svg", "png"]) -> bytes:
    data = {"title": title, "day": day_words(on), "charts": charts, "note": note}
    # The library's own types do not name the dict of files that it takes.
    files = {"main.typ": TEMPLATE, "data.json": json.dumps(data, ensure_ascii=False).encode()}
    made = typst.Compiler(ignore_system_fonts=True).compile(cast(Any, files), format=form, ppi=PIXELS_PER_INCH)
    assert isinstance(made, bytes)
    return made


def _chart(name: str, plan: Plan, readings: tuple[Row, ...], scale: Scale) -> dict[str, Any]:
    """One chart in a unit square."""
    start, on = plan.forecast.curve[0].day, plan.on
    bands, top = extent(name, plan.forecast.curve, readings, on, scale.factor)
    last = len(bands) - 1

    def x(day: date) -> float:
        return round((day - start).days / max(1, last), 4)

    def y(value: float) -> float:
        return round(min(1.0, max(0.0, value / top)), 4)

    lines = [(word, y(level)) for word, level in (("clear", scale.clear), ("off your kit", scale.ceiling)) if level is not None and level < top]
    return {
        "name": f"{name.capitalize()}, {scale.unit}", "points": [(round(d / max(1, last), 4), *map(y, band)) for d, band in enumerate(bands)],
        "ticks": [(f"{top * scale.factor * n / 4:.3g}", n / 4) for n in range(5)], "days": _days(start, last, on),
        "today": x(on) if start <= on <= start + timedelta(days=last) else None, "lines": lines,
        "readings": [(x(r.day), y(r.low or 0.0)) for r in readings if r.low is not None and start <= r.day <= start + timedelta(days=last)],
        "joined": False,
    }


def _readings_chart(frame: Frame, water: str, on: date) -> dict[str, Any]:
    """One chart of readings in a unit square."""
    span = frame.top - frame.bottom
    points = [(round((r.day - frame.start).days / frame.days, 4), round((v - frame.bottom) / span, 4)) for r, v in zip(frame.rows, frame.values, strict=True)]
    return {
        "name": frame.title + water, "points": [], "ticks": [(f"{frame.bottom + span * n / 4:.4g}", n / 4) for n in range(5)], "days": _days(frame.start, frame.days, on), "today": None,
        "lines": [("clear" if mark == CLEAR else "off your kit", round((level - frame.bottom) / span, 4)) for level, mark in frame.levels], "readings": points, "joined": True,
    }


def _days(start: date, last: int, on: date) -> list[tuple[str, float]]:
    """The labels below a chart."""
    found = [start + timedelta(days=n * last // DAY_LABELS) for n in range(DAY_LABELS)]
    return [(bare_day(d, on), round((d - start).days / max(1, last), 4)) for d in found]


__all__ = ["charts_drawn", "readings_drawn"]
