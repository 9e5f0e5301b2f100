"""The readings of one kind as a chart: each a mark on its day, joined by a line of dots where the terminal can show one, with
the lines for clear and the end of the kit, in the keeper's own unit."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from planner.files.tank import Tank
from planner.rulebook.shapes import Rulebook
from planner.show.terminal.chart import CEILING, CLEAR, DOTS, FINE, LABELS, OFF_SCALE, READING, Scale, days_below, scale_of
from planner.terms.readings import READINGS
from planner.terms.records import Row
from planner.terms.written_amounts import NITROGEN

LEAST_D = 14
MARGIN = 0.1
"""Of the range, above and below, so that no reading lies on the frame."""


@dataclass(frozen=True, slots=True)
class Frame:
    """What a chart of readings shows, in the keeper's own unit: `rows` and their `values`, the `levels` that are clear or off the kit, and the
    ends of both axes."""

    title: str
    rows: tuple[Row, ...]
    values: tuple[float, ...]
    levels: tuple[tuple[float, str], ...]
    bottom: float
    top: float
    start: date
    days: int


def frame_of(rows: Sequence[Row], on: date, tank: Tank, rules: Rulebook, parts: int) -> Frame | None:
    """The frame of a chart with so many parts of its upright axis; nothing for less than two readings."""
    name = rows[0].what if rows else ""
    shown = tuple(r for r in rows if r.low is not None)
    if len(shown) < 2:
        return None
    nitrogen = name in NITROGEN
    scale = scale_of(name, tank, rules) if nitrogen else Scale(unit=READINGS[name].unit)
    fahrenheit = READINGS[name].unit == "°C" and tank.units == "us"

    def value(internal: float) -> float:
        return internal * 1.8 + 32 if fahrenheit else internal * scale.factor

    values = tuple(value(r.low or 0.0) for r in shown)
    levels = tuple((value(level), mark) for level, mark in ((scale.ceiling, CEILING), (scale.clear, CLEAR)) if nitrogen and level is not None)
    room = (max(values) - min(values)) * MARGIN or max(abs(max(values)) * 0.05, 0.5)
    low, high = (0.0, max([*values, value(scale.clear or 0.0)]) + room) if nitrogen else (min(values) - room, max(values) + room)
    bottom, top = round_axis(low, high, parts)
    start = min(shown[0].day, on - timedelta(days=LEAST_D))
    title = f"{READINGS[name].title}, {'°F' if fahrenheit else scale.unit}" if scale.unit != "pH" else "pH"
    return Frame(title, shown, values, tuple((level, mark) for level, mark in levels if bottom <= level <= top), bottom, top, start, max(1, (on - start).days))


def draw_readings(rows: Sequence[Row], on: date, width: int, height: int, tank: Tank, rules: Rulebook, fine: bool) -> list[str]:
    """The chart under its unit; nothing for less than two readings."""
    every = 4 if (height - 1) % 4 == 0 else height - 1
    frame = frame_of(rows, on, tank, rules, (height - 1) // every)
    if frame is None:
        return []
    start, days, bottom, top, used = frame.start, frame.days, frame.bottom, frame.top, width - LABELS - 1
    grid = [[" "] * used for _ in range(height)]

    def row_of(shown_value: float) -> float:
        return (1 - (shown_value - bottom) / (top - bottom)) * (height - 1)

    def column_of(day: date) -> float:
        return (day - start).days / days * (used - 1)

    for level, mark in frame.levels:
        grid[round(row_of(level))] = [mark] * used
    points = [(column_of(r.day), row_of(v)) for r, v in zip(frame.rows, frame.values, strict=True)]
    if fine:
        _joined(grid, points)
    for (x, y), reading in zip(points, frame.rows, strict=True):
        grid[round(y)][round(x)] = OFF_SCALE if reading.value.lstrip().startswith(">") else READING
    found = [frame.title]
    for n, cells in enumerate(grid):
        label = f"{top - (top - bottom) * n / (height - 1):{LABELS - 1}.4g} " if n % every == 0 else " " * LABELS
        found.append((label + "".join(FINE.get(cell, cell) if fine else cell for cell in cells)).rstrip())
    return [*found, days_below(start, days / (used - 1), used, on)]


def round_axis(low: float, high: float, parts: int) -> tuple[float, float]:
    """The ends of an axis of so many equal parts that holds both values, each part 1, 2, 2.5 or 5 times a power of ten, so that
    a figure stands at every end of a part that somebody can read."""
    power = 10.0 ** math.floor(math.log10((high - low) / parts))
    for part in (power * step for step in (1, 2, 2.5, 5, 10, 20)):
        bottom = math.floor(low / part + 1e-9) * part
        if bottom + parts * part >= high - 1e-9 * part:
            break
    return bottom, bottom + parts * part


def _joined(grid: list[list[str]], points: Sequence[tuple[float, float]]) -> None:
    """From reading to reading a straight line of dots, two across and four down in each cell."""
    bits: dict[tuple[int, int], int] = {}
    for (x1, y1), (x2, y2) in zip(points, points[1:], strict=False):
        steps = max(1, round(max(abs(x2 - x1) * 2, abs(y2 - y1) * 4)))
        for n in range(steps + 1):
            x, y = x1 + (x2 - x1) * n / steps, y1 + (y2 - y1) * n / steps
            row, column = round(y), round(x)
            dot = min(3, max(0, round((y - row + 0.5) * 4 - 0.5)))
            bits[(row, column)] = bits.get((row, column), 0) | DOTS[dot][1 if x > column else 0]
    for (row, column), dots in bits.items():
        grid[row][column] = chr(0x2800 + dots)


__all__ = ["Frame", "draw_readings", "frame_of"]
