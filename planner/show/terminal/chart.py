"""The course of ammonia and nitrite as a terminal chart: readings, the likely course, and the band around it, legible
without colour and at 80 columns."""

from __future__ import annotations

from datetime import date, timedelta

from planner.show.words.words import Page, Span, bare_day
from planner.terms.records import CurvePoint, Plan, Row

ROWS = 9
LABELS = 7
READING, OFF_SCALE, LIKELY, BAND, TODAY = "o", "^", "=", ".", "|"
MARKS = {READING: "reading", OFF_SCALE: "reading off the kit's scale", LIKELY: "likely course", BAND: "band of 8 in 10 plausible tanks", TODAY: "today"}
NAMES = {"ammonia_clear": "ammonia clear", "nitrite_clear": "nitrite clear", "cycle_done": "filter proven"}
BASES = "Counted as nitrogen: 1 mg/L as N is 1.2 of NH3, 1.3 of NH4 or 3.3 of NO2 on a kit that counts the ion."
TOPS = (0.5, 1, 2, 2.5, 3, 4, 5, 6, 8, 10, 12, 16, 20, 30, 40, 60, 100, 200)
AFTER_D, LEAST_D = 10, 27


def forecast_page(plan: Plan, readings: dict[str, tuple[Row, ...]], width: int) -> Page:
    """The two charts and what they mean."""
    page, forecast = Page(width), plan.forecast
    page.heading(f"{plan.name}: the nitrogen cycle", "mg/L as N" if forecast.curve else "")
    if forecast.curve:
        drawn: list[str] = []
        for name in ("ammonia", "nitrite"):
            page.gap()
            lines = draw(name, forecast.curve, readings.get(name, ()), plan.on, width)
            drawn += lines[1:-1]
            page.lines += [(Span(line),) for line in lines]
        page.gap()
        seen = {mark for line in drawn for mark in line[LABELS:]}
        page.say("; ".join(f"{mark} {said}" for mark, said in MARKS.items() if mark in seen), "soft")
        if "cycle_done" in forecast.events and forecast.events["cycle_done"].happened is None:
            page.say("Where ammonia rises again it is fed, as the rules would ask for.", "soft")
        page.say(BASES, "soft")
    page.gap()
    for sentence in forecast.sentences:
        page.say(sentence)
    if "cycle_done" in forecast.events and forecast.events["cycle_done"].happened is None:
        page.say("A forecast opens nothing: the gate waits for your tests.", "soft")
    return page


def extent(name: str, curve: tuple[CurvePoint, ...], readings: tuple[Row, ...], on: date) -> tuple[list[tuple[float, float, float]], float]:
    """The band of each day that a chart shows, and the top of its scale. The days are the same for every name: from the
    first ammonia until nitrite has likely gone, with some days after it; to some days after today; at least four weeks."""
    start = curve[0].day
    gone = max((i for i, point in enumerate(curve) if point.nitrite[1] > 0.25), default=0)
    last = max(gone + AFTER_D, (on - start).days + AFTER_D, LEAST_D)
    bands: list[tuple[float, float, float]] = [getattr(point, name) for point in curve[: last + 1]]
    most = max([band[2] for band in bands] + [r.low or 0.0 for r in readings if r.day >= start] + [0.4]) * 1.05
    return bands, next((t for t in TOPS if t >= most), most)


def draw(name: str, curve: tuple[CurvePoint, ...], readings: tuple[Row, ...], on: date, width: int) -> list[str]:
    """One chart of `ROWS` rows under its name, and its days below. A day is as many columns wide as fit; where there are
    more days than columns a column shows the band of all its days, and the likely course of the first of them."""
    bands, top = extent(name, curve, readings, on)
    start, columns = curve[0].day, width - LABELS - 1
    per = 1.0 / max(1, columns // len(bands)) if len(bands) <= columns else len(bands) / columns
    used = int(len(bands) / per)
    grid = [[" "] * used for _ in range(ROWS)]

    def row_of(value: float) -> int:
        return ROWS - 1 - min(ROWS - 1, max(0, round(value / top * (ROWS - 1))))

    for column in range(used):
        first = int(column * per)
        days = range(first, max(first + 1, int((column + 1) * per)))
        for row in range(row_of(max(bands[d][2] for d in days)), row_of(min(bands[d][0] for d in days)) + 1):
            grid[row][column] = BAND
        grid[row_of(bands[first][1])][column] = LIKELY
    today = int((on - start).days / per)
    for row in range(ROWS):
        if 0 <= today < used and grid[row][today] != LIKELY:
            grid[row][today] = TODAY
    for reading in readings:
        column = int((reading.day - start).days / per)
        if reading.low is not None and reading.day >= start and column < used:
            grid[row_of(reading.low)][column] = OFF_SCALE if reading.value.lstrip().startswith(">") else READING
    lines = [name]
    for index, cells in enumerate(grid):
        label = f"{top * (ROWS - 1 - index) / (ROWS - 1):{LABELS - 1}.3g} " if index % 4 == 0 else " " * LABELS
        lines.append((label + "".join(cells)).rstrip())
    lines.append(_days_below(start, per, used, on))
    return lines


def _days_below(start: date, per: float, used: int, on: date) -> str:
    """Dates below the columns on which their days begin."""
    axis, column = [" "] * used, 0
    while column < used:
        word = bare_day(start + timedelta(days=int(column * per)), on)
        if column + len(word) <= used:
            axis[column : column + len(word)] = list(word)
        column += max(14, len(word) + 3)
    return " " * LABELS + "".join(axis).rstrip()
