"""One input through everything that reads it: nothing breaks, nothing takes long, and each problem has its place."""

from __future__ import annotations

import os
import resource
import shutil
import signal
import tempfile
import traceback
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import date
from functools import cache
from pathlib import Path
from types import FrameType
from zoneinfo import ZoneInfo

from click.testing import CliRunner

from planner.cli import newtank
from planner.door.folder import Loaded, TankFolder, make_plan, read_folder
from planner.files.calendar_log import read_export_log
from planner.files.journal import read_journal
from planner.files.lost_calendar_log import read_target, seed_from_target
from planner.files.tank import Tank, read_tank
from planner.judge.figures import RESTS_ON
from planner.plan.shop_file import read_shop
from planner.rulebook.house.overlay import load_book
from planner.terms.problems import Problem
from tests.fuzz.inputs import ROOT, Input

MOST_S, MOST_MB = 5, 1000
WHOLE_FILE = frozenset({"size-missing", "missing-key", "not-utf8", "file-ignored", "calendar-foreign", "calendar-entry", "id-missing", "file-missing", "not-a-block", "unreadable", "role-missing", "yaml-syntax", "yaml-character"})
"""Codes that may speak of a file as a whole."""
ON = date(2026, 3, 5)


class TooSlow(Exception):
    """An input that takes longer than it may."""


@contextmanager
def time_limit(seconds: float) -> Iterator[None]:
    def stop(_number: int, _frame: FrameType | None) -> None:
        raise TooSlow(f"longer than {seconds} s")

    before = signal.signal(signal.SIGALRM, stop)
    signal.setitimer(signal.ITIMER_REAL, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, before)


def memory_mb() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


@cache
def before_mb() -> float:
    """What this process held before its first input: a process of the tests has printed plans and served pages by then."""
    return memory_mb()


@cache
def den() -> Tank:
    tank, _ = read_tank((ROOT / "scenarios/dry-rock-us/tank.yaml").read_bytes(), "tank.yaml")
    assert tank is not None
    return tank


def what_breaks(given: Input, whole: bool, patience: float = 1.0) -> str:
    """Empty if all is well; else what broke, in a line. `whole`: also plan from it and show the plan. `patience` stretches
    the limit of time on a machine that is shared."""
    before_mb()
    try:
        with time_limit(MOST_S * patience):
            problems = read(given, whole)
        if wrong := next((p for p in problems if not placed(p)), None):
            return f"a problem without its place or fix: {wrong.code} {wrong}"
    except TooSlow as slow:
        return str(slow)
    except SystemExit:
        pass
    except BaseException as error:
        last = traceback.extract_tb(error.__traceback__)[-1]
        return f"{type(error).__name__}: {error} ({Path(last.filename).name}:{last.lineno})"[:300]
    return f"more than {MOST_MB} MB" if memory_mb() - before_mb() > MOST_MB else ""


def placed(problem: Problem) -> bool:
    return bool(problem.place.file and problem.fix and problem.message and len(str(problem)) < 4000) and (problem.place.line > 0 or problem.code in WHOLE_FILE)


def read(given: Input, whole: bool) -> tuple[Problem, ...]:
    match given.target:
        case "tank":
            tank, problems = read_tank(given.data, "tank.yaml")
            if whole and tank is not None:
                show(tank_bytes=given.data)
            return problems
        case "journal":
            _, problems = read_journal(given.data, "journal.csv", den(), ZoneInfo("America/Chicago"))
            if whole:
                show(journal_bytes=given.data)
            return problems
        case "shop":
            with tempfile.TemporaryDirectory() as folder:
                return read_shop(given.data, "shop.yaml", Path(folder), ("amphiprion-ocellaris",))[1]
        case "house":
            return house(given.data)
        case "log" | "calendar":
            with tempfile.TemporaryDirectory() as folder:
                path = Path(folder) / "x"
                path.write_bytes(given.data)
                if given.target == "log":
                    return read_export_log(path).problems
                target = read_target(path)
                refused = target.refused(path, target.uid or "none")
                return (refused,) if refused is not None else seed_from_target(replace(target, pretended=False), path)[1]
        case _:
            return command(given.data.decode("utf-8", "replace").split("\n"))


def house(data: bytes) -> tuple[Problem, ...]:
    """A house file in the place that its heading asks for."""
    place = "alerts/ours.yaml" if b"alerts:" in data[:400] else "livestock/fish.yaml" if b"animals:" in data else "numbers.yaml" if data.startswith(b"numbers:") else "setup/ours.yaml"
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / place).parent.mkdir(exist_ok=True)
        (Path(folder) / place).write_bytes(data)
        if place.startswith("livestock"):
            from planner.rulebook.read import shipped
            from planner.stock.catalogue import load_catalogue

            return load_catalogue([shipped("rules") / "livestock", Path(folder) / "livestock"]).problems
        return load_book(Path(folder), RESTS_ON, "house")[1]


def folder_with(tank_bytes: bytes | None, journal_bytes: bytes | None, place: Path) -> Path:
    made = place / "den"
    made.mkdir()
    (made / "tank.yaml").write_bytes((ROOT / "scenarios/dry-rock-us/tank.yaml").read_bytes() if tank_bytes is None else tank_bytes)
    (made / "journal.csv").write_bytes((ROOT / "scenarios/dry-rock-us/journal.csv").read_bytes() if journal_bytes is None else journal_bytes)
    return made


def show(tank_bytes: bytes | None = None, journal_bytes: bytes | None = None) -> None:
    """A plan, and every face that draws it."""
    from planner.show.calendar.calendar import calendar_from_plan
    from planner.show.calendar.feeds import FEEDS, feed
    from planner.show.json.plan_document import plan_document
    from planner.show.terminal.checklist import plan_lines
    from planner.show.terminal.today import today_lines

    with tempfile.TemporaryDirectory() as place:
        read: TankFolder = read_folder(folder_with(tank_bytes, journal_bytes, Path(place)), ON)
        if not isinstance(read, Loaded):
            return
        plan = make_plan(read)
        plan_lines(plan, read.rules, 80)
        today_lines(read.day(plan), read.rules, 80)
        plan_document(plan, read.rules)
        if plan.tank_id is not None:
            calendar_from_plan(plan, read.rules, read_export_log(Path(place) / "none"), now=None)
            for which in FEEDS:
                feed(read, which, read.on, plan=plan)


def command(words: list[str]) -> tuple[Problem, ...]:
    """A command line beside a real tank: it ends as documented, by 0, 1 or 2."""
    here = Path.cwd()
    with tempfile.TemporaryDirectory() as place:
        folder_with(None, None, Path(place))
        os.chdir(place)
        try:
            done = CliRunner().invoke(newtank, words)
        finally:
            os.chdir(here)
        shutil.rmtree(Path(place) / "den")
    if isinstance(done.exception, Exception):
        raise done.exception
    if done.exit_code not in (0, 1, 2):
        raise AssertionError(f"exit code {done.exit_code}")
    return ()
