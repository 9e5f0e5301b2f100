"""How every writing command writes: ask, refuse, append rows that share a tag, and tell what they moved."""

from __future__ import annotations

import secrets
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, tzinfo
from typing import Any, TypeVar

import click

from planner.cli.common import Loaded, console_width, finish, print_json, print_problems
from planner.cli.screen import show
from planner.door.acts import Act, Desk
from planner.door.entry_words import Entry, Stamp, checked, read_stamp, stamp_from_clock
from planner.door.folder import cannot_write, events_of, shown_path
from planner.files.journal import read_journal
from planner.files.journal_form import decode_lines
from planner.files.journal_write import NewRow, append_rows, make_tag, tags_in, with_tag
from planner.judge.facts import zone_of
from planner.show.terminal.effect import effect_document, effect_lines, effect_of
from planner.show.words.causes import all_words
from planner.terms.causes import Cause
from planner.terms.records import WATERS, Plan, Row
from planner.terms.units import Refusal

T = TypeVar("T")
F = TypeVar("F", bound=Callable[..., Any])
NOTHING = "Nothing was written."


def entry_options(function: F) -> F:
    """--at, --where, --note, --yes."""
    function = click.option("--yes", is_flag=True, help="Do not ask whether it is meant.")(function)
    function = click.option("--note", "note", default="", metavar="TEXT", help="A remark that is kept with the entry.")(function)
    function = click.option("--where", "where", type=click.Choice(WATERS), help="Which water it was.")(function)
    return click.option("--at", "at_text", metavar="WHEN", help="When it was: a date, a date and time, a time of today, or yesterday.")(function)


class Refused(click.ClickException):
    """An entry that is not written: exit code 2."""

    exit_code = 2

    def __init__(self, message: str) -> None:
        first = message.partition(" ")[0]
        message = message if "/" in first else message[:1].upper() + message[1:]
        super().__init__(f"{message}{'' if message[-1:] in '.?' else '.'} {NOTHING}")


def take(found: T | Refusal) -> T:
    """What was understood; a refusal ends the command."""
    if isinstance(found, Refusal):
        raise Refused(f"{found.message}. {found.fix[:1].upper()}{found.fix[1:]}" if found.fix else found.message)
    return found


def has_terminal() -> bool:
    return sys.stdin.isatty()


def make_sure(question: str, yes: bool) -> None:
    """Go on only if it is meant: by --yes, or by the keeper's answer."""
    if yes:
        return
    if not has_terminal():
        raise Refused(f"{question} Add --yes if it is")
    if not click.confirm(question, default=False):
        raise Refused("as you say")


@dataclass
class Pen:
    """One writing command on one tank: the plan before, the entries so far and what has to be said about them."""

    loaded: Loaded
    as_json: bool
    at_text: str | None = None
    entries: list[Entry] = field(default_factory=list)
    warnings: list[str | Cause] = field(default_factory=list)

    def __post_init__(self) -> None:
        loaded = self.loaded
        self.zone: tzinfo = zone_of(loaded.tank)
        self.before: Plan = loaded.plan()
        now = datetime.now(UTC).astimezone(self.zone)
        if self.at_text is not None:
            self.stamp: Stamp = take(read_stamp(self.at_text, loaded.on, now, loaded.pretended, self.zone))
        else:
            self.stamp = stamp_from_clock(loaded.on, now, loaded.pretended, str(loaded.tank.keeper.reminder_time)[:5], self.zone)

        self.desk = Desk(loaded.tank, loaded.journal, loaded.rules, loaded.on, self.before, self.stamp, loaded.catalogue())

    def do(self, act: Act, yes: bool = False) -> None:
        """Take in what a keeper does, once every question about it is answered with yes."""
        for question in act.questions:
            make_sure(question, yes)
        self.entries += act.entries
        self.warnings += act.warnings

    def add(self, row: NewRow) -> Row:
        """Take a row in, once the reader of journals would; the row as it will be read back."""
        entry = take(checked(row, self.loaded.tank, self.zone))
        self.entries.append(entry)
        return entry.row

    def write(self, tagged: bool = True, if_unchanged: bool = False) -> None:
        """Append all rows at once under one tag, and tell what they did. Ends the command. `if_unchanged`: the rows mean
        something only beside the journal that was read."""
        loaded = self.loaded
        path = loaded.folder / "journal.csv"
        if tagged:
            tag = make_tag(secrets.token_hex(16), tags_in(loaded.journal))
            self.entries = [Entry(replace(e.new, note=with_tag(e.new.note, tag)), replace(e.row, note=with_tag(e.row.note, tag))) for e in self.entries]
        if not self.as_json:
            print_problems(loaded.problems)
        try:
            data = append_rows(path, [e.new for e in self.entries], loaded.journal.length if if_unchanged else None)
        except OSError as error:
            why = cannot_write(path, error)
            ended = "" if why.code == "journal-half-written" else f" {NOTHING}"
            raise click.ClickException(f"{why.place}: {why.message}. {why.fix}{ended}") from None
        if any(p.code == "torn-row" for p in loaded.problems):
            self.warnings.append("The last line of the journal had been cut off. It stands on a line of its own now, unreadable as before: mend it or take it out.")
        first = len(decode_lines(data)) - len(self.entries)
        written = [replace(e.row, line=first + n) for n, e in enumerate(self.entries)]
        journal, problems = read_journal(data, shown_path(path), loaded.tank, self.zone, events_of(loaded.rules))
        after = replace(loaded, journal=journal).plan()
        effect = effect_of(self.before, after, written)
        self.tell_later(written)
        problems = tuple(p for p in loaded.problems if not p.place.file.endswith(".csv")) + problems
        warnings = all_words(self.warnings, loaded.tank.units)
        if self.as_json:
            print_json(effect_document(effect, warnings, problems))
        else:
            show(effect_lines(effect, after, console_width()))
            for warning in warnings:
                click.echo(f"Note: {warning}", err=True)
        finish(problems)

    def tell_later(self, rows: Sequence[Row]) -> None:
        if any(r.day > self.loaded.on for r in rows):
            self.warnings.append(f"Some of these rows lie after {self.loaded.on.isoformat()}, the day of this plan, which does not see them.")


__all__ = ["NOTHING", "Pen", "Refused", "entry_options", "has_terminal", "make_sure", "take"]
