"""Files far larger than any keeper's: refused at once with a sentence, or read in bounded time and memory."""

from __future__ import annotations

import time
import tracemalloc
from datetime import UTC
from pathlib import Path

import pytest
from click.testing import CliRunner

from planner.cli import newtank
from planner.files.journal import FIELD_MOST, HEADER, read_journal
from planner.files.read_file import JOURNAL_MOST_BYTES
from planner.files.yaml_tree import read_yaml
from planner.terms.problems import LINE_SHOWN, Place, Problem

TANK = "name: Den\nstart: 2026-03-01\ntank: {volume: 160 L}\n"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "tank.yaml").write_text(TANK)
    return tmp_path


@pytest.mark.parametrize("command", [("today",), ("log", "ph=8.2", "--yes"), ("undo",)], ids=lambda c: c[0])
def test_a_journal_of_two_hundred_megabytes_is_refused_at_once(command: tuple[str, ...], folder: Path) -> None:
    with (folder / "journal.csv").open("wb") as file:
        file.write(f"{HEADER}\n".encode())
        file.truncate(200_000_000)
    began, _ = time.process_time(), tracemalloc.start()
    done = CliRunner().invoke(newtank, [command[0], str(folder), *command[1:]])
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert done.exit_code == 1
    assert "this file has 200 MB, and more than 20 MB of it cannot be worked with" in done.output
    assert "Fix: Take out what does not belong there" in done.output
    assert peak < 60_000_000
    assert time.process_time() - began < 10
    assert (folder / "journal.csv").stat().st_size == 200_000_000


def test_a_million_rows_are_refused_by_their_size() -> None:
    row = '2026-01-01T08:00:00+00:00,reading,ph,8.1,,display,""\n'
    assert len(row) * 1_000_000 > JOURNAL_MOST_BYTES


@pytest.mark.parametrize("place", ["note", "what", "when"])
def test_a_field_of_five_megabytes_is_one_problem_of_a_readable_length(place: str) -> None:
    cells = {"when": "2026-03-04", "what": "ph", "note": '""'}
    cells[place] = '"' + "x" * 5_000_000 + '"'
    text = f"{HEADER}\n{cells['when']},reading,{cells['what']},8.1,,display,{cells['note']}\n2026-03-05,reading,ph,8.2,,,\n"
    began = time.process_time()
    journal, problems = read_journal(text.encode(), "journal.csv", None, UTC)
    assert time.process_time() - began < 3
    assert [(p.code, p.place.line) for p in problems] == [("field-too-long", 2)]
    assert len(str(problems[0])) < 1000
    assert [row.line for row in journal.rows] == [3]
    assert [bad.line for bad in journal.unreadable] == [2]


def test_the_longest_field_is_read() -> None:
    text = f'{HEADER}\n2026-03-04,reading,ph,8.1,,display,"{"x" * FIELD_MOST}"\n'
    assert read_journal(text, "journal.csv", None, UTC)[1] == ()


def test_a_long_line_is_shown_around_its_mistake() -> None:
    told = str(Problem(Place("tank.yaml", 3, 4000), "unknown-key", "unknown key", "take it out", "a" * 3999 + "Z" + "b" * 4000))
    shown, caret = told.splitlines()[1:3]
    assert len(shown) < LINE_SHOWN + 13
    assert shown[caret.index("^")] == "Z"


def test_a_value_of_nearly_a_megabyte_in_a_description_is_read_in_bounded_time() -> None:
    began = time.process_time()
    data, _, _ = read_yaml("name: " + "x" * 900_000 + "\n", "tank.yaml")
    assert isinstance(data, dict)
    assert time.process_time() - began < 3


def test_a_message_that_quotes_a_very_long_word_stays_readable() -> None:
    _, _, problems = read_yaml("name: &a" + "y" * 5000 + "\n", "tank.yaml")
    assert problems
    assert all(len(str(problem)) < 3000 for problem in problems)
