"""The keepers' one door to the planner: read a tank folder, plan a day, write rows as the commands write them.

Everything here stands in one file, so that nothing else of these tests knows how the planner is built. It uses what the
planner hands to other programs, the records that this gives, and the words of a need; nothing below that. An entry is handed the plan of the page that the keeper has before
him, so that only an evening's pages are planned.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from functools import cache
from pathlib import Path

from planner import TankFolder, make_plan, read_folder, write_row
from planner.door import write
from planner.door.folder import Rules, read_rules
from planner.show.words.causes import all_words
from planner.show.words.conditions import need_words
from planner.terms.records import CLOSED, URGENT, Hold, Plan, Row, State, Task


@cache
def rules() -> Rules:
    """The shipped rules and the folders of animals, read once."""
    read = read_rules()
    assert not read.problems, read.problems
    return read


def alert_names() -> frozenset[str]:
    return frozenset(a.alert for a in rules().book.alerts)


@dataclass
class Written:
    """What one entry wrote, or why it would not."""

    rows: tuple[tuple[str, str, str, str, str], ...] = ()
    """kind, what, value, unit, where"""
    refused: str = ""


@dataclass
class Door:
    """One tank folder on its way through the days."""

    folder: Path
    on: date
    plan: Plan | None = None
    _seen: tuple[date, bytes] | None = None
    _folder: TankFolder | None = None

    def open(self, on: date) -> Plan:
        """The plan of a day, from the folder as it stands."""
        self.on = on
        self.plan = make_plan(self._read())
        return self.plan

    def _read(self) -> TankFolder:
        """The folder as it stands; what has not changed since is not read again (a tenth of the time of a life)."""
        seen = (self.on, (self.folder / "journal.csv").read_bytes())
        if self._folder is None or seen != self._seen:
            self._folder, self._seen = read_folder(self.folder, self.on, rules(), datetime(2026, 1, 1, tzinfo=UTC)), seen
        assert self._folder.tank is not None, self._folder.problems
        return self._folder

    # --- writing

    def log(self, readings: dict[str, str], where: str, at: str | None, note: str = "") -> Written:
        """`newtank log`: tests that these readings answer and that are ticked already are not ticked again."""
        return self._told(write.log(self._read(), [f"{n}={v}" for n, v in readings.items()], where, note, at=at, sure=True, plan=self._page()))

    def done(self, task: str, at: str | None, amount: str | None = None) -> Written:
        return self._told(write.tick(self._read(), [task], amount=amount, at=at, sure=True, plan=self._page()))

    def skip(self, task: str) -> Written:
        return self._told(write.skip(self._read(), [task], plan=self._page()))

    def postpone(self, task: str, to: date) -> Written:
        return self._told(write.postpone(self._read(), [task], to, plan=self._page()))

    def note(self, kind: str, what: str, value: str = "", unit: str = "", at: str | None = None, where: str | None = None) -> Written:
        """`newtank note`. A check that failed is the event `failed` with the task's id beside it."""
        if kind == "failed":
            written = write_row(self.folder, "event", "failed", note=what, at=at, on=self.on)
        else:
            written = write_row(self.folder, kind, what, value, unit, where or "", at=at, on=self.on)
        if isinstance(written, Row):
            return self._told(write.Written((written,)))
        return self._told(write.Written(problems=written))

    def _page(self) -> Plan:
        """The plan of today's page."""
        if self.plan is None or self.plan.on != self.on:
            self.open(self.on)
        assert self.plan is not None
        return self.plan

    def _told(self, written: write.Written) -> Written:
        if written.problems:
            return Written(refused="; ".join(f"{p.message} ({p.fix})" for p in written.problems))
        ticked = {r.what for r in written.rows if r.kind == "done"}
        if ticked and self.plan is not None:
            self.plan = replace(self.plan, tasks=tuple(replace(t, state=State.DONE) if t.id in ticked and t.state not in CLOSED else t for t in self.plan.tasks))
        return Written(tuple((r.kind, r.what, r.value, r.unit, r.where or "display") for r in written.rows))


__all__ = ["CLOSED", "URGENT", "Door", "Hold", "Plan", "Row", "Task", "Written", "alert_names", "all_words", "need_words", "rules"]
