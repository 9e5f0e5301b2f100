"""Kills the writers: `python -m tests.kills --kills 1000` prints what became of each.

Every kill hits a process of its own, forked from this warm one. Half of them fall at a place: the file layer ends the
process after so many bytes and calls, in the middle of a write if it comes so. The other half fall at a random moment,
by SIGKILL from outside. After each, the folder is read as a command would read it, and written to once more: nothing that
was acknowledged may be lost, nothing may be torn, and nothing may lie about.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import random
import select
import shutil
import signal
import sys
import tempfile
import time
from abc import ABC, abstractmethod
from collections import Counter
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

from planner.cli.setup import _write as write_start
from planner.cli.share import export_calendar
from planner.door.folder import Loaded, read_folder
from planner.files.calendar_log import EXPORT_LOG_NAME, read_export_log
from planner.files.journal import HEADER, read_journal
from planner.files.journal_file import read_journal_file
from planner.files.journal_write import NewRow, append_rows, tag_of
from planner.files.kept import Kept, Maker
from planner.files.lost_calendar_log import read_target, seed_from_target
from planner.files.tank import read_tank
from planner.files.whole_file import put_whole_file
from planner.show.words.blank_tank_file import tank_text
from planner.terms.records import Plan

ROOT = Path(__file__).parents[1]


class Layer:
    """A file layer in which every byte written and every call that changes something counts one; at `end` the process is
    killed, and of a write then under way only the bytes up to there are in the file."""

    CALLS = ("open", "fsync", "replace", "rename", "link", "unlink", "ftruncate")

    def __init__(self, end: int | None) -> None:
        self.end, self.passed = end, 0

    def __enter__(self) -> Layer:
        self.real = {name: getattr(os, name) for name in (*self.CALLS, "write")}
        for name in self.CALLS:
            setattr(os, name, self._counted(self.real[name]))
        os.write = self._write  # type: ignore[assignment]
        return self

    def __exit__(self, *_: object) -> None:
        for name, real in self.real.items():
            setattr(os, name, real)

    def _counted(self, real: Callable[..., Any]) -> Callable[..., Any]:
        def call(*args: Any, **more: Any) -> Any:
            self._pass(1)
            done = real(*args, **more)
            self._pass(1)
            return done
        return call

    def _write(self, handle: int, data: Any) -> int:
        left = None if self.end is None else self.end - self.passed
        if left is not None and left < len(data):
            self.real["write"](handle, bytes(data)[:left])
            os.kill(os.getpid(), signal.SIGKILL)
        self.passed += len(data)
        written: int = self.real["write"](handle, data)
        return written

    def _pass(self, steps: int) -> None:
        if self.end is not None and self.passed + steps > self.end:
            os.kill(os.getpid(), signal.SIGKILL)
        self.passed += steps


class Writer(ABC):
    """One kind of writing. `turn` counts writings; `check` gives what is wrong, told in a line."""

    name = ""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    @abstractmethod
    def write(self, turn: int) -> None: ...

    @abstractmethod
    def check(self, acknowledged: list[int], killed: int | None) -> Iterator[str]: ...

    def litter(self) -> list[str]:
        return sorted(p.name for p in self.folder.rglob("*") if p.name.endswith((".tmp", ".intent")))


class JournalWriter(Writer):
    """Entries of three rows, of which none may stand without the others."""

    name = "journal"

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        self.path = folder / "journal.csv"
        self.path.write_text(f'{HEADER}\n2026-01-01,event,smell,,,,"by hand"\n', "utf-8")
        self.first = self.path.read_bytes()

    def write(self, turn: int) -> None:
        tag = f"[{turn:06d}]"
        append_rows(self.path, [NewRow("2026-03-04T18:00+01:00", "done", f"cycle/dose#{turn}", note=tag), NewRow("2026-03-04T18:00+01:00", "dosed", "ammonia", "2", "mg/L as N", "display", tag),
                                NewRow("2026-03-04T18:00+01:00", "reading", "ammonia", "0.25", "mg/L as N", "display", f"{'a remark of some length ' * (turn % 40)}{tag}")])

    def check(self, acknowledged: list[int], killed: int | None) -> Iterator[str]:  # noqa: ARG002  # a killed entry is whole or absent, like any
        data = read_journal_file(self.path)
        journal, problems = read_journal(data, "journal.csv", None, UTC)
        rows = Counter(tag_of(row.note) for row in journal.rows)
        if not data.startswith(self.first):
            yield "earlier rows are not as they were"
        if problems:
            yield f"torn: {problems[0].message}"
        if any(n != 3 for tag, n in rows.items() if tag is not None):
            yield "half an entry"
        if missing := {f"{turn:06d}" for turn in acknowledged} - rows.keys():
            yield f"acknowledged and lost: {sorted(missing)}"


class CalendarWriter(Writer):
    """Log and calendar file of a real plan, which moves from day to day."""

    name = "calendar"
    days: dict[int, tuple[Loaded, Plan]] = {}

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        shutil.copy(ROOT / "scenarios/dry-rock-us/tank.yaml", folder)
        shutil.copy(ROOT / "scenarios/dry-rock-us/journal.csv", folder)
        self.target, self.log = folder / "reef.ics", folder / EXPORT_LOG_NAME
        for turn in range(2):
            if turn not in self.days:
                loaded = read_folder(folder, date(2026, 3, 2) + timedelta(days=9 * turn))
                assert isinstance(loaded, Loaded)
                self.days[turn] = (loaded, loaded.plan())
        self.numbers: dict[str, int] = {}

    def write(self, turn: int) -> None:
        from dataclasses import replace

        loaded, plan = self.days[turn % 2]
        revision, _, problems = export_calendar(replace(loaded, path=self.folder), plan, self.target, True, datetime(2026, 3, 2, tzinfo=UTC) + timedelta(minutes=turn))
        if revision is None:
            raise AssertionError(str(problems[0]))

    def check(self, acknowledged: list[int], killed: int | None) -> Iterator[str]:
        log = read_export_log(self.log)
        if killed is None and log.problems:
            yield f"torn log: {log.problems[0].message}"
        if any(p.code != "calendar-log-torn" for p in log.problems):
            yield f"log: {log.problems[0].message}"
        rows, problems = seed_from_target(read_target(self.target), self.target)
        if problems:
            yield f"torn calendar: {problems[0].message}"
        if acknowledged and not rows:
            yield "acknowledged and lost: the calendar"
        known = log.latest()
        for row in rows:
            if row.sequence < self.numbers.get(row.uid, 0):
                yield f"a number of {row.key} went backwards"
            if row.uid not in known or known[row.uid].sequence < row.sequence:
                yield f"the calendar says {row.key}, and the log does not"
        self.numbers |= {row.uid: row.sequence for row in rows}


class PaperWriter(Writer):
    """A file of the size of a printed plan, which is the old one or the new one."""

    name = "paper"

    def bytes_of(self, turn: int) -> bytes:
        return b"%%PDF %06d\n" % turn + bytes([turn % 251]) * 200_000

    def write(self, turn: int) -> None:
        put_whole_file(self.folder / "reef.pdf", self.bytes_of(turn))

    def check(self, acknowledged: list[int], killed: int | None) -> Iterator[str]:
        found = (self.folder / "reef.pdf").read_bytes() if (self.folder / "reef.pdf").exists() else None
        may = [self.bytes_of(acknowledged[-1])] if acknowledged else [None]
        if found not in (may if killed is None else [*may, self.bytes_of(killed)]):
            yield "torn, or an older one than was acknowledged"


class KeptWriter(Writer):
    """Results kept under the digest of their inputs: found whole, or not at all."""

    name = "kept"

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        self.kept, self.maker = Kept(folder / "kept"), Maker((Path(__file__),))

    def write(self, turn: int) -> None:
        self.kept.keep("curve", self.maker, turn, [turn] * 400)

    def check(self, acknowledged: list[int], killed: int | None) -> Iterator[str]:
        for turn in [*acknowledged, *([killed] if killed is not None else [])]:
            found = self.kept.find("curve", self.maker, turn)
            if found not in ([turn] * 400, None):
                yield "a kept result that is not the one that was kept"
            if found is None and turn in acknowledged:
                yield "acknowledged and lost"


class StartWriter(Writer):
    """A new tank folder: its tank file stands there whole, with its journal, or not at all."""

    name = "start"
    text = tank_text({"id": "62ea5d52-8f3e-5282-8e77-3d349c9826b7", "name": "den", "tank.volume": "160 L"})

    def write(self, turn: int) -> None:
        write_start(self.folder / f"den-{turn}", self.text, f"{HEADER}\n".encode())

    def check(self, acknowledged: list[int], killed: int | None) -> Iterator[str]:
        for turn in [*acknowledged, *([killed] if killed is not None else [])]:
            folder = self.folder / f"den-{turn}"
            if not (folder / "tank.yaml").exists():
                if turn in acknowledged:
                    yield "acknowledged and lost"
                continue
            if read_tank((folder / "tank.yaml").read_bytes(), "tank.yaml")[1] or read_journal_file(folder / "journal.csv") != f"{HEADER}\n".encode():
                yield "a torn tank folder"
        if killed is not None:  # begun again, it comes to its end
            with contextlib.suppress(Exception):
                self.write(killed)


WRITERS: tuple[type[Writer], ...] = (JournalWriter, CalendarWriter, PaperWriter, KeptWriter, StartWriter)


def in_child(work: Callable[[], None], kill_after_s: float | None = None) -> tuple[bool, float]:
    """Run in a forked process; whether it acknowledged its end, and how long that took."""
    reads, writes = os.pipe()
    began = time.perf_counter()
    child = os.fork()
    if child == 0:
        os.close(reads)
        say = os.write
        try:
            work()
            say(writes, b"done")
        finally:
            os._exit(0)
    os.close(writes)
    if kill_after_s is not None:
        select.select([reads], [], [], kill_after_s)
        os.kill(child, signal.SIGKILL)
    with os.fdopen(reads, "rb") as answers:
        acknowledged = answers.read() == b"done"
    os.waitpid(child, 0)
    return acknowledged, time.perf_counter() - began


def steps_of(writer: Writer, turn: int) -> int:
    """How many bytes and calls a writing has, counted in a process of its own."""
    reads, writes = os.pipe()

    def work() -> None:
        with Layer(None) as layer:
            writer.write(turn)
        os.write(writes, str(layer.passed).encode())

    in_child(work)
    os.close(writes)
    with os.fdopen(reads, "rb") as told:
        return int(told.read())


def kill_writer(kind: type[Writer], kills: int, seed: int) -> dict[str, Any]:
    """Kill one kind of writer many times, at places and at moments by turns; what was found, by kind of finding."""
    dice, wrong, ended = random.Random(seed), Counter[str](), Counter[str]()
    with tempfile.TemporaryDirectory() as root:
        writer, acknowledged, turn = kind(Path(root)), [], 0
        usual = 0.01
        for n in range(kills):
            turn += 1
            steps = steps_of(writer, turn)  # this one is whole, and counts as acknowledged
            acknowledged.append(turn)
            turn += 1
            if n % 2:
                # Calls are few beside bytes: half of the places lie within the first and last forty steps.
                near = dice.choice([dice.randrange(min(40, steps)), max(0, steps - 1 - dice.randrange(40)), dice.randrange(steps), dice.randrange(steps)])

                def work(turn: int = turn, near: int = near) -> None:
                    with Layer(near):
                        writer.write(turn)

                done, _ = in_child(work)
            else:
                done, took = in_child(lambda turn=turn: writer.write(turn), dice.uniform(0, 1.1 * usual))  # type: ignore[misc]
                if done:
                    usual = 0.7 * usual + 0.3 * took
                else:
                    usual = max(usual, took)
            ended["acknowledged before the kill" if done else "killed"] += 1
            if done:
                acknowledged.append(turn)
            wrong.update(writer.check(acknowledged, None if done else turn))
            turn += 1
            writer.write(turn)
            acknowledged.append(turn)
            wrong.update(f"after the next writing: {w}" for w in writer.check(acknowledged, None))
            wrong.update(f"left about: {name}" for name in writer.litter())
            acknowledged = acknowledged[-30:]
    return {"writer": writer.name, "kills": kills, "killed": ended["killed"], "acknowledged": ended["acknowledged before the kill"], "wrong": wrong}


def main() -> int:
    from rich.console import Console
    from rich.table import Table

    ask = argparse.ArgumentParser(prog="python -m tests.kills", description=__doc__)
    ask.add_argument("--kills", type=int, default=1000, help="in all, over all writers")
    ask.add_argument("--seed", type=int, default=0)
    asked = ask.parse_args()
    table = Table(title=f"{asked.kills} kills")
    for head in ("writer", "kills", "midway", "after its word", "found wrong"):
        table.add_column(head, overflow="fold", justify="left" if head in ("writer", "found wrong") else "right")
    found = 0
    for kind in WRITERS:
        told = kill_writer(kind, asked.kills // len(WRITERS), asked.seed)
        found += sum(told["wrong"].values())
        table.add_row(told["writer"], str(told["kills"]), str(told["killed"]), str(told["acknowledged"]), "\n".join(f"{n} x {what}" for what, n in told["wrong"].most_common(8)) or "nothing")
    Console(width=100).print(table)
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
