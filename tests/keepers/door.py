"""The keepers' one door to the planner: read a tank folder, plan a day, write rows as the commands write them.

Everything here stands in one file, so that nothing else of these tests knows how the planner is built. Rows are written by
the real commands, called in this process; the only thing left out is the second plan that a command makes to say what
moved. The commands are handed the plan of the page that the keeper has before him.
"""

from __future__ import annotations

import contextlib
import io
import pickle
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime
from functools import cache
from pathlib import Path
from typing import Any

import click
import planner.cycle_forecast as cycle_forecast
from planner.cli.pen import Pen
from planner.journalwrite import append_rows, make_tag, with_tag
from planner.model import CLOSED, URGENT, Hold, Plan, Row, Task
from planner.show.today import today_lines

import planner.cli.notes as notes
import planner.cli.ticks as ticks
import planner.cli.write as write
from planner.cli.common import Loaded, read_folder, read_rules
from planner.show.words import plain_text


@cache
def rules() -> tuple[Any, tuple[Path, ...]]:
    """The shipped rules and the folders of animals, read once."""
    book, animals, problems = read_rules(None)
    assert not problems, problems
    return book, animals


def alert_names() -> frozenset[str]:
    return frozenset(a.alert for a in rules()[0].alerts)


@dataclass
class Written:
    """What one command wrote, or why it would not."""

    rows: tuple[tuple[str, str, str, str, str], ...] = ()
    """kind, what, value, unit, where"""
    refused: str = ""


class _QuickPen(Pen):
    """Writes as every command does, and leaves out the plan afterwards."""

    def write(self, tagged: bool = True) -> None:
        number = self.door.commands
        if tagged:
            tag = make_tag(f"{self.loaded.folder.name}/{number}", self.door.tags)
            self.door.tags.add(tag)
            self.rows = [replace(r, note=with_tag(r.note, tag)) for r in self.rows]
        for row in self.rows:
            self.check(row)
        append_rows(self.loaded.folder / "journal.csv", self.rows)
        self.door.written = tuple((r.kind, r.what, r.value, r.unit, r.where or "display") for r in self.rows)

    @property
    def door(self) -> Door:
        return _AT_WORK[-1]


_AT_WORK: list[Door] = []


def _remember(function: Callable[..., Any], room: int = 4) -> Callable[..., Any]:
    """A pure function that keeps its last few answers. A plan of an evening asks again what the one before asked."""
    known: dict[bytes, Any] = {}

    def answer(*args: Any, **options: Any) -> Any:
        key = pickle.dumps((args, options))
        if key not in known:
            while len(known) >= room:
                del known[next(iter(known))]
            known[key] = function(*args, **options)
        return known[key]

    return answer


@cache
def _quicken() -> None:
    """The forecast is most of the cost of a plan, and of it the weighing of readings that have not changed since yesterday."""
    cycle_forecast.condition = _remember(cycle_forecast.condition)
    cycle_forecast.forecast_cycle = _remember(cycle_forecast.forecast_cycle)


@dataclass
class Door:
    """One tank folder on its way through the days."""

    folder: Path
    on: date
    loaded: Loaded | None = None
    plan: Plan | None = None
    commands: int = 0
    tags: set[str] = field(default_factory=set)
    written: tuple[tuple[str, str, str, str, str], ...] = ()

    def open(self, on: date) -> Plan:
        """The plan of a day, from the folder as it stands."""
        _quicken()
        self.on = on
        self.loaded = self._load()
        self.plan = self.loaded.plan()
        return self.plan

    def _load(self) -> Loaded:
        book, animals = rules()
        loaded, problems = read_folder(self.folder, book, animals, self.on, datetime(2026, 1, 1, tzinfo=UTC))
        assert loaded is not None, problems
        return loaded

    def page(self, width: int = 80) -> str:
        """The page `today` as printed."""
        assert self.plan is not None
        return plain_text(today_lines(self.plan, rules()[0], width))

    # --- writing

    def log(self, readings: dict[str, str], where: str, at: str | None) -> Written:
        """`newtank log`: tests that these readings answer and that are ticked already are not ticked again."""
        return self._run(write.log_command, args=tuple(f"{n}={v}" for n, v in readings.items()), at_text=at, where=where, note="", yes=True)

    def done(self, task: str, at: str | None, amount: str | None = None) -> Written:
        return self._run(ticks.done_command, args=(task,), at_text=at, where=None, note="", yes=True, amount=amount)

    def skip(self, task: str) -> Written:
        return self._run(ticks.skip_command, args=(task,), note="")

    def postpone(self, task: str, to: date) -> Written:
        return self._run(ticks.postpone_command, args=(task,), to_text=to.isoformat(), note="")

    def note(self, *args: str, at: str | None = None, where: str | None = None, remark: str = "") -> Written:
        return self._run(notes.note_command, args=args, at_text=at, where=where, note=remark, yes=True)

    def _run(self, command: click.Command, **options: Any) -> Written:
        self.commands += 1
        self.written = ()
        said = io.StringIO()
        with self._at_work(), contextlib.redirect_stdout(said), contextlib.redirect_stderr(said):
            try:
                command.callback(tank_dir=self.folder, on_text=self.on.isoformat(), rules_dir=None, as_json=False, **options)  # type: ignore[misc]
            except click.ClickException as refusal:
                return Written(refused=refusal.format_message())
            except SystemExit as end:
                if end.code not in (0, 1):
                    return Written(refused=said.getvalue().strip())
        return Written(self.written)

    @contextlib.contextmanager
    def _at_work(self) -> Iterator[None]:
        """The commands load this folder, with the plan of the page; ticks made since are taken into it."""
        rooms = (ticks, write, notes)
        before = [(room.load_tank, room.Pen) for room in rooms]
        _AT_WORK.append(self)
        loaded = _ReadAlready(self)
        for room in rooms:
            room.load_tank, room.Pen = loaded.load, _QuickPen  # type: ignore[assignment, misc]
        try:
            yield
        finally:
            _AT_WORK.pop()
            for room, (load, pen) in zip(rooms, before, strict=True):
                room.load_tank, room.Pen = load, pen  # type: ignore[misc]


class _ReadAlready:
    """Hands a command the folder, whose plan is the page's, with tasks closed that were ticked since it was made."""

    def __init__(self, door: Door) -> None:
        self.door = door

    def load(self, *_: object) -> Loaded:
        fresh, plan = self.door._load(), self.door.plan
        if plan is None or plan.on != fresh.on:
            plan = self.door.open(fresh.on)
        ticked = {r.what for r in fresh.journal.of("done", "*", fresh.on)}
        plan = replace(plan, tasks=tuple(replace(t, state=ticks.State.DONE) if t.id in ticked and t.state not in CLOSED else t for t in plan.tasks))
        return _WithPlan(fresh.folder, fresh.tank, fresh.journal, fresh.rules, fresh.on, True, fresh.problems, fresh.livestock, plan)


@dataclass(frozen=True)
class _WithPlan(Loaded):
    ready: Plan | None = None

    def plan(self, until: date | None = None) -> Plan:  # noqa: ARG002 - the command asks for no later day
        assert self.ready is not None
        return self.ready


__all__ = ["CLOSED", "URGENT", "Door", "Hold", "Plan", "Row", "Task", "Written", "alert_names", "rules"]
