"""A slipped zero in an amount: `done` and `round` ask before it is written, and write it if it is meant. The contract of this project."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from planner.cli.common import load_tank
from planner.cli.round import Round
from tests.unit.cli.test_write_commands import MONDAY, cycling, folder, refused, run, text

__all__ = ["cycling", "folder"]
ASKED = "times what the page asks for"


def test_a_tick_with_a_slipped_zero_is_refused_without_yes_and_written_with_it(cycling: Path) -> None:
    assert ASKED in refused(cycling, "done", "first-dose", "--amount", "1400 g") and "dosed" not in text(cycling)
    assert run(cycling, "done", "first-dose", "--amount", "1400 g", "--yes").exit_code == 0
    assert ",dosed,ammonia,1400,g," in text(cycling)


@pytest.mark.parametrize(("answer", "written"), [("n", 0), ("y", 1)])
def test_the_round_asks_the_same_and_goes_on(cycling: Path, answer: str, written: int) -> None:
    evening = Round(load_tank(cycling, MONDAY, None))
    job = next(j for j in evening.day.jobs if j.task.key == "cycle/first-dose")
    with CliRunner().isolation(input=f"1400 g\n{answer}\n") as (output, *_):
        evening._job(job)
        said = output.getvalue().decode()  # type: ignore[attr-defined]
    assert ASKED in said and text(cycling).count(",dosed,ammonia,1400,g,") == written
