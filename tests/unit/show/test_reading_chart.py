"""The chart of one reading: every reading on its day and height, in the keeper's own unit."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path

import pytest
from click.testing import CliRunner

from planner.cli import newtank
from planner.show.paper.chart_picture import readings_drawn
from planner.show.terminal.chart import CEILING, CLEAR, LABELS, OFF_SCALE, READING
from planner.show.terminal.reading_chart import draw_readings, frame_of
from planner.terms.records import Row
from tests.engine_desk import journal_of, tank_with
from tests.rulecases import rulebook

ON = date(2026, 3, 20)
KIT = tank_with(test_kits={"nitrite": {"basis": "NO2", "step": "0.25", "highest": "5"}})


def rows(name: str, *values: str, unit: str) -> tuple[Row, ...]:
    return journal_of(*(f"2026-03-{3 * n + 2:02} 18:00,reading,{name},{v},{unit}" for n, v in enumerate(values)), tank=KIT).rows


def chart(readings: tuple[Row, ...], fine: bool = False, width: int = 80) -> list[str]:
    return draw_readings(readings, ON, width, 17, KIT, rulebook(), fine)


def marks(lines: list[str], sign: str) -> list[tuple[int, int]]:
    return [(m, n) for n, line in enumerate(lines[1:-1]) for m, s in enumerate(line) if m >= LABELS and s == sign]


def test_readings_stand_from_left_to_right_as_high_as_they_are() -> None:
    found = sorted(marks(chart(rows("alkalinity", "7", "8", "9", "8.5", unit="dKH")), READING))
    heights = [y for _, y in found]
    assert len(found) == 4 and heights[0] > heights[1] > heights[2] and heights[2] < heights[3] < heights[1]
    assert found[0][0] == LABELS  # the oldest at the left edge


def test_nitrite_is_drawn_in_the_kits_own_unit_with_its_end_and_clear() -> None:
    lines = chart(rows("nitrite", "0", "2", ">5", unit="mg/L as NO2"))
    assert lines[0] == "nitrite, mg/L as NO2" and len(marks(lines, READING)) == 2 and len(marks(lines, OFF_SCALE)) == 1
    assert marks(lines, CLEAR) and marks(lines, CEILING)
    ends = {y for _, y in marks(lines, CEILING)}
    assert ends == {y for _, y in marks(lines, OFF_SCALE)}, "a reading off the scale stands on the line where the kit ends"


@pytest.mark.parametrize(("name", "values", "unit"), [("ammonia", ("2", "1", "0.5"), "mg/L as NH3"), ("nitrite", ("0", "2", "5"), "mg/L as NO2"), ("ph", ("8.05", "8.2", "8.31"), ""),
                                                      ("salinity", ("34.6", "35.2", "35.1"), "ppt"), ("calcium", ("405", "433", "421"), "mg/L")])
def test_the_figures_beside_the_chart_are_round(name: str, values: tuple[str, ...], unit: str) -> None:
    """A figure that a keeper reads off has no more than three digits that are not nought, and each part is as large as the next."""
    figures = [float(line[:LABELS]) for line in chart(rows(name, *values, unit=unit))[1:-1] if line[:LABELS].strip()]
    assert len(figures) == 5 and figures[0] >= max(map(float, values)) and figures[-1] <= min(map(float, values))
    part = figures[0] - figures[1]
    assert [round(a - b, 9) for a, b in zip(figures, figures[1:], strict=False)] == [round(part, 9)] * 4
    assert f"{part:.0e}"[0] in "125" and abs(part / float(f"{part:.1e}") - 1) < 1e-9


def test_one_reading_makes_no_chart() -> None:
    assert chart(rows("ph", "8.1", unit="")) == []


@pytest.mark.parametrize("width", [60, 80, 120])
@pytest.mark.parametrize("fine", [False, True])
def test_it_fits_and_is_plain_ascii_unless_the_terminal_can_show_more(width: int, fine: bool) -> None:
    lines = chart(rows("salinity", "34", "35", "36", unit="ppt"), fine, width)
    assert max(map(len, lines)) <= width and all(line.isascii() for line in lines) == (not fine)


def test_a_level_series_is_a_chart_too() -> None:
    assert len(marks(chart(rows("ph", "8.1", "8.1", "8.1", unit="")), READING)) == 3


# --- as a picture


def picture(values: tuple[str, ...]) -> bytes:
    frame = frame_of(rows("alkalinity", *values, unit="dKH"), ON, KIT, rulebook(), 4)
    assert frame is not None
    return readings_drawn("Den", ON, [("display", frame)], "svg")


def rings(svg: bytes) -> int:
    """Typst draws a circle as a closed path of four arcs; each ring of the chart is filled white."""
    return len(re.findall(rb'fill="#ffffff"[^>]*stroke="#000000"', svg))


def test_each_reading_is_a_ring_of_the_picture() -> None:
    three, four = picture(("7", "8", "9")), picture(("7", "8", "9", "8.5"))
    assert (rings(three), rings(four)) == (3, 4)
    assert three == picture(("7", "8", "9")) and three != picture(("7", "8", "7"))


@pytest.mark.parametrize(("name", "begins"), [("a.svg", b"<svg"), ("a.png", b"\x89PNG\r\n\x1a\n")])  # W3C SVG 1.1; W3C PNG, 5.2
def test_readings_are_drawn_into_the_file_that_is_named(tmp_path: Path, name: str, begins: bytes) -> None:
    (tmp_path / "tank.yaml").write_text("start: 2026-03-01\ntank: {volume: 100 L}\n")
    (tmp_path / "journal.csv").write_text("when,kind,what,value,unit,where,note\n2026-03-02,reading,ph,8.1,,display,\n2026-03-05,reading,ph,8.2,,display,\n")
    done = CliRunner().invoke(newtank, ["readings", str(tmp_path), "ph", "-o", str(tmp_path / name), "--on", "2026-03-06"])
    assert f"Written: {tmp_path / name}." in done.output
    assert (tmp_path / name).read_bytes().lstrip().startswith(begins)


@pytest.mark.parametrize(("file", "said"), [("a.pdf", "neither"), ("none/a.svg", "no folder"), ("a.svg", "two readings of one kind")])
def test_what_cannot_be_drawn_is_said_and_nothing_is_written(tmp_path: Path, file: str, said: str) -> None:
    (tmp_path / "tank.yaml").write_text("start: 2026-03-01\ntank: {volume: 100 L}\n")
    done = CliRunner().invoke(newtank, ["readings", str(tmp_path), "-o", str(tmp_path / file), "--on", "2026-03-06"])
    assert done.exit_code == 2 and said in done.output and not (tmp_path / file).exists()
