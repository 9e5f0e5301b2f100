"""The course of ammonia and nitrite as a terminal chart: readings, the likely course, and the band around it, legible
without colour and at 80 columns."""

from __future__ import annotations

from datetime import date, timedelta

from planner.model import CurvePoint, Plan, Row
from planner.show.words import Page, Span, bare_day, window_words

ROWS = 9
MARKS = "o reading   = likely course   . band of 8 in 10 plausible tanks   | today"
NAMES = {"ammonia_clear": "ammonia clear", "nitrite_clear": "nitrite clear", "cycle_done": "filter proven"}


def forecast_page(plan: Plan, readings: dict[str, tuple[Row, ...]], width: int) -> Page:
    """The two charts and what they mean."""
    page = Page(width)
    page.heading(f"{plan.name}: the nitrogen cycle", "mg/L as N")
    if plan.forecast.curve:
        for name in ("ammonia", "nitrite"):
            page.gap()
            for line in draw(name, plan.forecast.curve, readings.get(name, ()), plan.on, width):
                page.lines.append((Span(line),))
        page.say(MARKS, "soft")
    page.gap()
    for sentence in plan.forecast.sentences:
        page.say(sentence)
    page.gap()
    for name, event in plan.forecast.events.items():
        said = f"read on {bare_day(event.happened, plan.on)}" if event.happened else window_words(event.window, plan.on, "beyond the forecast")
        page.labelled(NAMES[name], said, column=16)
    page.say("A forecast opens nothing: the gate waits for your tests.", "soft")
    return page


def extent(name: str, curve: tuple[CurvePoint, ...], readings: tuple[Row, ...], on: date) -> tuple[list[tuple[float, float, float]], float]:
    """The band of each day that a chart shows, from the first ammonia to two weeks after the likely end (at least four
    weeks), and the top of its scale."""
    bands: list[tuple[float, float, float]] = [getattr(point, name) for point in curve]
    last = max([i for i, band in enumerate(bands) if band[1] > 0.1] + [(on - curve[0].day).days, 14]) + 14
    bands = bands[: min(len(bands), max(28, last) + 1)]
    most = max([band[2] for band in bands] + [r.low or 0.0 for r in readings if r.day >= curve[0].day] + [0.5]) * 1.05
    return bands, next(t for t in (0.5, 1, 2, 3, 4, 5, 6, 8, 10, 12, 15, 20, 30, 50, 100, 200) if t >= most)


def draw(name: str, curve: tuple[CurvePoint, ...], readings: tuple[Row, ...], on: date, width: int) -> list[str]:
    """One chart of `ROWS` rows. The columns cover the days from the first ammonia to two weeks after the likely end,
    at least four weeks; each column shows the highest value of its days."""
    bands, top = extent(name, curve, readings, on)
    start = curve[0].day
    columns = width - 8
    per = max(1.0, len(bands) / columns)
    used = int(len(bands) / per)
    shown = [r for r in readings if r.low is not None and r.day >= start]
    grid = [[" "] * used for _ in range(ROWS)]

    def row_of(value: float) -> int:
        return ROWS - 1 - min(ROWS - 1, max(0, round(value / top * (ROWS - 1))))

    for column in range(used):
        days = range(int(column * per), max(int(column * per) + 1, int((column + 1) * per)))
        low, mid, high = (max(bands[d][k] for d in days) for k in range(3))
        for row in range(row_of(high), row_of(low) + 1):
            grid[row][column] = "."
        grid[row_of(mid)][column] = "="
    today = int((on - start).days / per)
    if 0 <= today < used:
        for row in range(ROWS):
            if grid[row][today] in " .":
                grid[row][today] = "|"
    for reading in shown:
        column = int((reading.day - start).days / per)
        if 0 <= column < used:
            grid[row_of(reading.low or 0.0)][column] = "o"
    lines = [name]
    for index, cells in enumerate(grid):
        value = top * (ROWS - 1 - index) / (ROWS - 1)
        label = f"{value:6.2g} " if index % 4 == 0 else " " * 7
        lines.append((label + "".join(cells)).rstrip())
    axis, column = [" "] * used, 0
    while column < used:
        word = bare_day(start + timedelta(days=int(column * per)), on)
        if column + len(word) <= used:
            axis[column : column + len(word)] = list(word)
        column += max(14, len(word) + 3)
    lines.append(" " * 7 + "".join(axis).rstrip())
    return lines
