"""A keeper who types anything in any order: hypothesis draws commands against one tank folder, and after each what must
always hold is held against the folder."""

from __future__ import annotations

import os
import shutil
import tempfile
from datetime import UTC
from pathlib import Path

from click.testing import CliRunner, Result
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from planner.cli import newtank
from planner.files.journal import read_journal
from planner.files.journal_file import read_journal_file
from tests.fuzz.faces import den, folder_with
from tests.fuzz.inputs import UNITS, VALUES, WHEN, WORDS

DAYS = st.sampled_from(("2026-01-02", "2026-03-05", "2026-03-29", "2027-12-31", "1990-01-01", "2199-12-31", "9999-12-31", "today"))
TEXT = st.one_of(st.sampled_from((*VALUES, *UNITS, *WHEN, *WORDS)), st.text(st.characters(exclude_characters="\0", exclude_categories=["Cs"]), max_size=30))
TASKS = st.sampled_from(("site/place", "site/level", "leak-test/fill", "cycle/dose", "cycle/re-dose#2", "fish/stage-1", "care/weekly", "nothing/here"))
READINGS = st.sampled_from(("ammonia", "nitrite", "ph", "salinity", "temperature", "alkalinity", "lead"))
KINDS = st.sampled_from(("dosed", "changed_water", "poured", "added", "moved", "lost", "event", "failed", "done"))


class Keeper(RuleBasedStateMachine):
    def __init__(self) -> None:
        super().__init__()
        self.place = Path(tempfile.mkdtemp())
        self.folder = folder_with(None, b"", self.place)
        self.journal = self.folder / "journal.csv"
        self.before = b""

    def teardown(self) -> None:
        shutil.rmtree(self.place)

    def run(self, *words: str) -> Result:
        here = Path.cwd()
        os.chdir(self.place)
        try:
            done = CliRunner().invoke(newtank, [words[0], "den", *words[1:]])
        finally:
            os.chdir(here)
        assert not isinstance(done.exception, Exception), (words, done.exception)
        assert done.exit_code in (0, 1, 2), (words, done.output)
        assert "Traceback" not in done.output
        return done

    @rule(name=READINGS, value=st.sampled_from(VALUES), unit=st.sampled_from(UNITS), on=DAYS)
    def logs(self, name: str, value: str, unit: str, on: str) -> None:
        self.run("log", f"{name}={value} {unit}", "--on", on, "--yes")

    @rule(command=st.sampled_from(("done", "skip")), task=TASKS, on=DAYS)
    def ticks(self, command: str, task: str, on: str) -> None:
        self.run(command, task, "--on", on, *(("--yes",) if command == "done" else ()))

    @rule(task=TASKS, to=st.sampled_from(WHEN), on=DAYS)
    def postpones(self, task: str, to: str, on: str) -> None:
        self.run("postpone", task, "--to", to, "--on", on)

    @rule(kind=KINDS, what=TEXT, value=TEXT, on=DAYS)
    def notes(self, kind: str, what: str, value: str, on: str) -> None:
        self.run("note", kind, what, value, "--on", on, "--yes")

    @rule(command=st.sampled_from(("today", "plan", "readings", "forecast", "stock")), on=DAYS, json=st.booleans())
    def looks(self, command: str, on: str, json: bool) -> None:
        self.run(command, "--on", on, *(("--json",) if json else ()))

    @rule(what=st.one_of(TASKS, TEXT), on=DAYS)
    def asks_why(self, what: str, on: str) -> None:
        self.run("why", what, "--on", on)

    @rule(on=DAYS)
    def exports(self, on: str) -> None:
        self.run("calendar", "-o", "den.ics", "--on", on)

    @rule(text=TEXT)
    def scribbles(self, text: str) -> None:
        """A line written by hand, with whatever in it."""
        self.journal.write_bytes(read_journal_file(self.journal) + text.encode("utf-8", "replace") + b"\n")
        self.before = self.journal.read_bytes()

    @precondition(lambda self: self.journal.read_bytes())
    @rule()
    def undoes(self) -> None:
        """Twice back is never more than what stood there."""
        rows = len(self.rows())
        done = self.run("undo", "--on", "2026-03-05")
        assert len(self.rows()) <= rows if done.exit_code == 0 else self.rows() is not None

    def rows(self) -> tuple[object, ...]:
        return read_journal(read_journal_file(self.journal), "journal.csv", den(), UTC)[0].rows

    @invariant()
    def the_journal_only_grows(self) -> None:
        now = self.journal.read_bytes()
        assert now.startswith(self.before)
        assert not list(self.folder.glob(".*.tmp")) and not list(self.folder.glob(".*.intent"))
        self.before = now
