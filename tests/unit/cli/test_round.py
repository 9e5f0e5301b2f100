"""The evening round, played in a pseudo-terminal (`pty` of the standard library) as a keeper types it."""

from __future__ import annotations

import csv
import os
import pty
import re
import select
import shutil
import signal
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from datetime import date, timedelta
from pathlib import Path

import pytest

from planner import make_plan, read_folder
from planner.files.journal import HEADER

if sys.platform == "win32":
    pytest.skip("a pseudo-terminal is a thing of POSIX systems", allow_module_level=True)

ROOT = Path(__file__).parents[3]
STORY = ROOT / "scenarios" / "dry-rock-us"
PROMPT = re.compile(r"(?:^|\n)([^\n]*): $")
ESCAPES = re.compile(r"\x1b\[[0-9;?]*[a-zA-Z]")
CHILD = """
import sys
from planner.cli import newtank
for day in sys.argv[2:]:
    newtank(["round", sys.argv[1], "--on", day], standalone_mode=False)
    print("EVENING OVER")
"""
PATIENCE_S = 120
Answer = Callable[[date, str, str], str]
"""What a keeper types on a day, by what was said since the last answer and the question itself."""


def play(folder: Path, days: list[date], answer: Answer) -> str:
    """All that these rounds print. The keeper answers whatever ends in a colon and a blank, as click asks."""
    pid, terminal = pty.fork()
    if pid == 0:
        signal.signal(signal.SIGINT, signal.SIG_DFL)  # a job that runs in the background was started with it ignored
        os.chdir(ROOT)
        os.execvpe(sys.executable, [sys.executable, "-c", CHILD, str(folder), *map(str, days)], {**os.environ, "COLUMNS": "80", "NO_COLOR": "1", "PYTHONPATH": str(ROOT)})
    said, fresh, typed, end = "", "", "", time.monotonic() + PATIENCE_S
    try:
        while True:
            ready, _, _ = select.select([terminal], [], [], 0.5)
            if time.monotonic() > end:
                raise AssertionError(f"no more output; last was {fresh[-400:]!r}")
            if not ready:
                # An interrupt that comes in the midst of a clean-up is lost; a keeper presses again.
                if typed == "\x03" and time.monotonic() > end - PATIENCE_S + 5:
                    os.write(terminal, b"\x03")
                continue
            try:
                got = os.read(terminal, 4096).decode("utf-8", "replace")
            except OSError:  # the child is gone
                return said
            if not got:
                return said
            got = ESCAPES.sub("", got.replace("\r", ""))
            said, fresh = said + got, fresh + got
            if asked := PROMPT.search(fresh):
                on = days[min(said.count("EVENING OVER"), len(days) - 1)]
                typed = answer(on, fresh, asked[1].strip())
                os.write(terminal, typed.encode() if typed == "\x03" else f"{typed}\n".encode())
                fresh, end = "", time.monotonic() + PATIENCE_S
    finally:
        os.close(terminal)
        with suppress(ProcessLookupError):
            os.kill(pid, signal.SIGKILL)
        os.waitpid(pid, 0)


@contextmanager
def story_until(tmp_path: Path, day: str) -> Iterator[Path]:
    """The tank of the story, with what its keeper wrote before a day."""
    folder = tmp_path / "den"
    folder.mkdir()
    shutil.copy(STORY / "tank.yaml", folder)
    rows = (STORY / "journal.csv").read_text(encoding="utf-8").splitlines()[1:]
    (folder / "journal.csv").write_text("\n".join([HEADER, *(r for r in rows if r[:10] < day)]) + "\n", encoding="utf-8")
    yield folder


def journal(folder: Path) -> list[list[str]]:
    return list(csv.reader((folder / "journal.csv").read_text(encoding="utf-8").splitlines()))[1:]


def story_readings() -> dict[tuple[date, str], str]:
    """What the keeper of the story read, by day and name."""
    rows = csv.reader((STORY / "journal.csv").read_text(encoding="utf-8").splitlines()[1:])
    return {(date.fromisoformat(r[0][:10]), r[2]): f"{r[3]} {r[4]}".strip() for r in rows if r[1] == "reading" and r[5] == "display"}


READ = {"ammonia": "ammonia", "nitrite": "nitrite", "nitrate": "nitrate", "salinity": "salinity", "temperature": "temperature", "pH": "ph", "alkalinity": "alkalinity", "total chlorine": "chlorine", "chlorine": "chlorine", "phosphate": "phosphate", "dissolved solids": "tds"}


def obedient(on: date, said: str, question: str) -> str:
    """Does all that is asked, and reads what the keeper of the story read that day, else what was read last before it."""
    name = question.lower().partition(" (")[0]
    name = next((n for title, n in READ.items() if title.lower() == name), "")
    if name:
        found = [(d, v) for (d, n), v in story_readings().items() if n == name and d <= on]
        return max(found)[1] if found else ""
    return "y"


def test_an_evening_asks_each_job_and_each_reading_and_ends_with_three_questions_and_what_moved(tmp_path: Path) -> None:
    with story_until(tmp_path, "2026-02-14") as folder:
        said = play(folder, [date(2026, 2, 14)], lambda on, s, q: "160 ppm" if q == "alkalinity" else obedient(on, s, q))
        rows = journal(folder)
    order = [said.index(w) for w in ("Check the tank", "Top up with pure water", "Test nitrate", "Does every pump run?", "lid and the net", "hands washed", "Moved", "Tomorrow")]
    assert order == sorted(order)
    assert "160 ppm (taken as mg/L CaCO3) is 9 dKH" in said  # 160 / 17.848 = 8.96 (50.04 mg of CaCO3 and 2.8036 dKH in each meq/L)
    assert "Wait 30 minutes after the top-up" in said
    today = [r for r in rows if r[0].startswith("2026-02-14")]
    assert ["reading", "alkalinity", "160", "mg/L CaCO3"] in [r[1:5] for r in today]
    assert {r[2].partition("#")[0] for r in today if r[1] == "done"} >= {"cycle/look", "start-up/top-up", "cycle/weekly-tests"}


def test_a_reading_is_taken_as_the_log_has_it_and_its_steps_are_there(tmp_path: Path) -> None:
    """What the hint names is taken: `NAME=VALUE`, `s` for the steps, and a word that is no number is told what would be one."""
    typed = iter(["s", "y", "ammonia=3", "nitrate=12"])
    with story_until(tmp_path, "2026-02-14") as folder:
        said = play(folder, [date(2026, 2, 14)], lambda on, s, q: next(typed, "") if q == "nitrate" else obedient(on, s, q))
        rows = [r[1:4] for r in journal(folder) if r[0].startswith("2026-02-14")]
    asked = said.split("nitrate: ")
    assert "1." in asked[1] and "Test nitrate" in asked[1]
    assert "'y' is not a test result: write a number, such as 0.25, or over5 where the scale ends." in asked[2]
    assert "This asks for nitrate." in asked[3]
    assert ["reading", "nitrate", "12"] in rows and ["reading", "ammonia", "3"] not in rows


def test_a_bare_alkalinity_that_is_no_degrees_is_asked_about(tmp_path: Path) -> None:
    """200 / 17.848 = 11.2 (DIN 38409-6)."""
    typed, answers = iter(["200", "9"]), iter(["n"])
    with story_until(tmp_path, "2026-02-14") as folder:
        said = play(folder, [date(2026, 2, 14)], lambda on, s, q: next(typed, "") if q == "alkalinity" else next(answers, "n") if "Is that right" in q else obedient(on, s, q))
        rows = [r[1:5] for r in journal(folder) if r[0].startswith("2026-02-14")]
    assert "200 is taken as 200 mg/L CaCO3, 11.2 dKH. Is that right?" in said
    assert ["reading", "alkalinity", "9", "dKH"] in rows and not any(r[1:3] == ["alkalinity", "200"] for r in rows)


def test_ctrl_c_keeps_what_was_confirmed(tmp_path: Path) -> None:
    with story_until(tmp_path, "2026-02-14") as folder:
        before = len(journal(folder))
        said = play(folder, [date(2026, 2, 14)], lambda _on, s, _q: "y" if "Check the tank" in s else "\x03")
        rows = journal(folder)[before:]
    assert "Stopped." in said and "Tomorrow" in said
    assert [(r[1], r[2].partition("#")[0]) for r in rows] == [("done", "cycle/look")]


def test_who_leaves_the_power_on_is_asked_for_no_work_in_the_water(tmp_path: Path) -> None:
    with story_until(tmp_path, "2026-04-20") as folder:
        said = play(folder, [date(2026, 4, 20)], lambda on, s, q: "n" if "off at the wall" in q else "" if "Change" in s else obedient(on, s, q))
        rows = journal(folder)
    assert "Then leave this for another day: " in said and "switched on again" not in said
    assert not any(r[1] == "changed_water" and r[0].startswith("2026-04-20") for r in rows)


@pytest.mark.slow
def test_a_whole_cycle_is_played_through_rounds_until_its_gate_opens(tmp_path: Path) -> None:
    """From the first dose to the proof, an evening a day, by nothing but the answers of the round."""
    first, last = date(2026, 2, 5), date(2026, 3, 26)
    with story_until(tmp_path, first.isoformat()) as folder:
        days = [first + timedelta(days=n) for n in range((last - first).days + 1)]
        said = play(folder, days, obedient)
        plan = make_plan(read_folder(folder, last))
        phase = plan.phase("cycle")
        rows = journal(folder)
    assert said.count("EVENING OVER") == len(days)
    assert phase is not None and phase.opened is not None and date(2026, 3, 9) <= phase.opened <= last
    ticked = {r[2].partition("#")[0] for r in rows if r[1] == "done" and r[0] >= first.isoformat()}
    assert ticked >= {"cycle/first-dose", "cycle/tests", "cycle/re-dose", "cycle/challenge-dose", "cycle/challenge-test", "cycle/look"}
