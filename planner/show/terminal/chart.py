"""The course of ammonia and nitrite as a terminal chart: readings, the likely course, and the band around it, legible
without colour and at 80 columns."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from planner.files.tank import Tank
from planner.judge.evidence import clear_level
from planner.rulebook.shapes import Rulebook
from planner.show.words.words import Page, Span, bare_day
from planner.terms.amounts import three_digits
from planner.terms.records import CurvePoint, Plan, Row
from planner.terms.written_amounts import IONS, nitrogen_factor

ROWS = 9
LABELS = 7
READING, OFF_SCALE, LIKELY, BAND, TODAY, CLEAR, CEILING = "o", "^", "=", ".", "|", "-", "~"
MARKS = {READING: "reading", OFF_SCALE: "reading off the kit's scale", LIKELY: "likely course", BAND: "where 8 of 10 tanks like yours lie", TODAY: "today",
         CLEAR: "clear, at or below this line", CEILING: "above this line off your kit"}
FINE = {READING: "●", OFF_SCALE: "▲", LIKELY: "⣀", BAND: "░", TODAY: "│", CLEAR: "┄", CEILING: "╌"}
"""How a terminal that knows more than ASCII shows the marks; the likely course is drawn in dots, eight to a cell."""
DOTS = ((0x01, 0x08), (0x02, 0x10), (0x04, 0x20), (0x40, 0x80))
"""Bits of a braille cell (Unicode, Braille Patterns): four rows of two dots."""
BASES = "Counted as nitrogen: 1 mg/L as N is 1.2 of NH3, 1.3 of NH4 or 3.3 of NO2 on a kit that counts the ion."
TOPS = (0.5, 1, 2, 2.5, 3, 4, 5, 6, 8, 10, 12, 16, 20, 30, 40, 60, 100, 200)
AFTER_D, LEAST_D = 10, 27


@dataclass(frozen=True, slots=True)
class Scale:
    """How a chart counts: `factor` from mg/L as N to `unit`, the figure for clear and the top of the kit, both in mg/L as N."""

    factor: float = 1.0
    unit: str = "mg/L as N"
    clear: float | None = None
    ceiling: float | None = None


def scale_of(name: str, tank: Tank, rules: Rulebook) -> Scale:
    """The keeper's own kit: its unit, what it calls clear, where its colours end."""
    kit = tank.test_kits.get(name)
    basis = kit.basis if kit is not None and kit.basis is not None else "N"
    return Scale(nitrogen_factor(name, basis), f"mg/L as {IONS[name] if basis == 'ion' else basis}", clear_level(name, tank, rules)[0], kit.highest_internal(name) if kit is not None else None)


def forecast_page(plan: Plan, readings: dict[str, tuple[Row, ...]], width: int, scales: Mapping[str, Scale] | None = None, rows: int = ROWS, fine: bool = False) -> Page:
    """The two charts and what they mean. `scales`: how the keeper's kits count; `rows`: the height of a chart; `fine`: the
    terminal shows more than ASCII."""
    page, forecast, scales = Page(width), plan.forecast, scales or {}
    page.heading(f"{plan.name}: the nitrogen cycle")
    if forecast.curve:
        drawn: list[str] = []
        for name in ("ammonia", "nitrite"):
            page.gap()
            lines = draw(name, forecast.curve, readings.get(name, ()), plan.on, width, scales.get(name, Scale()), rows, fine)
            drawn += lines[1:-1]
            page.lines += [(Span(line),) for line in lines]
        page.gap()
        seen = {mark for line in drawn for mark in line[LABELS:]}
        page.say("; ".join(f"{FINE[mark] if fine else mark} {said}" for mark, said in MARKS.items() if (FINE[mark] if fine else mark) in seen or mark == LIKELY), "soft")
        if "cycle_done" in forecast.events and forecast.events["cycle_done"].happened is None:
            page.say("Where ammonia rises again, you feed the filter.", "soft")
        if all(scales.get(name, Scale()).factor == 1 for name in ("ammonia", "nitrite")):
            page.say(BASES, "soft")
    page.gap()
    for sentence in forecast.sentences:
        page.say(sentence)
    if "cycle_done" in forecast.events and forecast.events["cycle_done"].happened is None:
        page.say("A forecast lets no animal in. Your tests do.", "soft")
    return page


def extent(name: str, curve: tuple[CurvePoint, ...], readings: tuple[Row, ...], on: date, factor: float = 1.0) -> tuple[list[tuple[float, float, float]], float]:
    """The band of each day that a chart shows, and the top of its scale. The days are the same for every name: from the
    first ammonia until nitrite has likely gone, with some days after it; to some days after today; at least four weeks. The top
    is a round figure in the unit of `factor`, given in mg/L as N."""
    start = curve[0].day
    gone = max((i for i, point in enumerate(curve) if point.nitrite[1] > 0.25), default=0)
    last = max(gone + AFTER_D, (on - start).days + AFTER_D, LEAST_D)
    bands: list[tuple[float, float, float]] = [getattr(point, name) for point in curve[: last + 1]]
    most = max([band[2] for band in bands] + [r.low or 0.0 for r in readings if r.day >= start] + [0.4]) * 1.05 * factor
    return bands, next((t for t in TOPS if t >= most), most) / factor


def draw(name: str, curve: tuple[CurvePoint, ...], readings: tuple[Row, ...], on: date, width: int, scale: Scale = Scale(), rows: int = ROWS, fine: bool = False) -> list[str]:
    """One chart under its name, and its days below. A day is as many columns wide as fit; where there are more days than
    columns a column shows the band of all its days, and the likely course of the first of them."""
    bands, top = extent(name, curve, readings, on, scale.factor)
    start, columns = curve[0].day, width - LABELS - 1
    per = 1.0 / max(1, columns // len(bands)) if len(bands) <= columns else len(bands) / columns
    used = int(len(bands) / per)
    grid = [[" "] * used for _ in range(rows)]

    def row_of(value: float) -> int:
        return rows - 1 - min(rows - 1, max(0, round(value / top * (rows - 1))))

    for level, mark in ((scale.ceiling, CEILING), (scale.clear, CLEAR)):
        if level is not None and level <= top:
            grid[row_of(level)] = [mark] * used
    for column in range(used):
        first = int(column * per)
        days = range(first, max(first + 1, int((column + 1) * per)))
        for row in range(row_of(max(bands[d][2] for d in days)), row_of(min(bands[d][0] for d in days)) + 1):
            grid[row][column] = BAND
        if not fine:
            grid[row_of(bands[first][1])][column] = LIKELY
    if fine:
        _curve_in_dots(grid, [band[1] / top for band in bands], per)
    today = int((on - start).days / per)
    for row in range(rows):
        if 0 <= today < used and grid[row][today] in (" ", BAND, CLEAR, CEILING):
            grid[row][today] = TODAY
    for reading in readings:
        column = int((reading.day - start).days / per)
        if reading.low is not None and reading.day >= start and column < used:
            grid[row_of(reading.low)][column] = OFF_SCALE if reading.value.lstrip().startswith(">") else READING
    lines = [f"{name}, {scale.unit}"]
    every = 4 if (rows - 1) % 4 == 0 else rows - 1
    for index, cells in enumerate(grid):
        label = f"{three_digits(float(f'{top * scale.factor * (rows - 1 - index) / (rows - 1):.2g}')):>{LABELS - 1}} " if index % every == 0 else " " * LABELS
        lines.append((label + "".join(FINE.get(cell, cell) if fine else cell for cell in cells)).rstrip())
    lines.append(days_below(start, per, used, on))
    return lines


def _curve_in_dots(grid: list[list[str]], shares: Sequence[float], per: float) -> None:
    """The likely course as a line of dots, two across and four down in each cell; what jumps is joined from dot to dot."""
    rows, used = len(grid), len(grid[0])
    bits: dict[tuple[int, int], int] = {}
    before: int | None = None
    for x in range(used * 2):
        at = min(len(shares) - 1.0, x / 2 * per)
        day = int(at)
        share = shares[day] + (shares[min(day + 1, len(shares) - 1)] - shares[day]) * (at - day)
        # The middle of a row's cell stands for its value, as it does for the marks.
        y = min(rows * 4 - 1, max(0, round((1 - share) * (rows - 1) * 4 + 1.5)))
        for step in range(min(y, before if before is not None else y), max(y, before if before is not None else y) + 1):
            bits[(step // 4, x // 2)] = bits.get((step // 4, x // 2), 0) | DOTS[step % 4][x % 2]
        before = y
    for (row, column), dots in bits.items():
        grid[row][column] = chr(0x2800 + dots)


def days_below(start: date, per: float, used: int, on: date) -> str:
    """Dates below the columns on which their days begin."""
    axis, column = [" "] * used, 0
    while column < used:
        word = bare_day(start + timedelta(days=int(column * per)), on)
        if column + len(word) <= used:
            axis[column : column + len(word)] = list(word)
        column += max(14, len(word) + 3)
    return " " * LABELS + "".join(axis).rstrip()
