"""How every writing command writes: ask, refuse, append rows that share a tag, and tell what they moved."""

from __future__ import annotations

import secrets
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, tzinfo
from functools import partial
from typing import IO, Any, TypeVar

import click

from planner.cli.common import console_width, finish, print_json, print_problems, typed_folder, wrapped
from planner.cli.screen import show
from planner.door.acts import Act, Desk
from planner.door.answered_tests import tells_from
from planner.door.entry_words import Entry, Stamp, checked, read_stamp, stamp_from_clock
from planner.door.folder import Loaded, cannot_write, events_of, shown_path
from planner.files.journal import read_journal
from planner.files.journal_form import decode_lines
from planner.files.journal_write import NewRow, append_rows, make_tag, tags_in, with_tag
from planner.judge.facts import zone_of
from planner.plan.day_jobs import Day
from planner.plan.texts import amount_words, typed
from planner.show.terminal.effect import Effect, effect_document, effect_lines, effect_of
from planner.show.terminal.effect_brief import brief_lines, brings_danger, danger_lines, next_words
from planner.show.words.causes import all_words
from planner.show.words.words import Line, bare_day, short_day
from planner.terms.causes import Cause
from planner.terms.records import WATERS, Plan, Row, Task
from planner.terms.texts import joined, parts_of, run
from planner.terms.units import Refusal

T = TypeVar("T")
F = TypeVar("F", bound=Callable[..., Any])
NOTHING = "Nothing was written."


def all_option(function: F) -> F:
    """--all: the whole answer."""
    return click.option("--all", "whole", is_flag=True, help="Tell each date that moved, not only what moved most.")(function)


def entry_options(function: F) -> F:
    """--at, --where, --note, --yes, --all."""
    function = all_option(function)
    function = click.option("--yes", is_flag=True, help="Do not ask whether it is meant.")(function)
    function = click.option("--note", "note", default="", metavar="TEXT", help="A remark that is kept with the entry.")(function)
    function = click.option("--where", "where", type=click.Choice(WATERS), help="Which water it was.")(function)
    return click.option("--at", "at_text", metavar="WHEN", help="When it was: a date, a date and time, a time of today, or yesterday.")(function)


class Refused(click.ClickException):
    """An entry that is not written: exit code 2."""

    exit_code = 2

    def show(self, file: IO[str] | None = None) -> None:
        """As wide as any page, also where it is piped."""
        click.echo(wrapped(f"Error: {self.format_message()}"), file=file, err=file is None)

    def __init__(self, message: str) -> None:
        self.reason = message
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
        raise Refused(f"{question} Add --yes if so")
    if not click.confirm(question, default=False):
        raise Refused("as you say")


@dataclass(frozen=True, slots=True)
class Failed:
    """One of several things that could not be written, and why."""

    id: str
    why: str
    title: str = ""
    """What stands before the reason, where this does not name the job itself."""

    @property
    def told(self) -> str:
        return f"{self.title}{': ' if self.title else ''}{self.why}{'' if self.why[-1:] in '.?' else '.'}"


@dataclass
class Pen:
    """One writing command on one tank: the plan before, the entries so far and what has to be said about them."""

    loaded: Loaded
    as_json: bool
    at_text: str | None = None
    whole: bool = False
    entries: list[Entry] = field(default_factory=list)
    warnings: list[str | Cause] = field(default_factory=list)
    failed: tuple[Failed, ...] = ()
    _day: Day | None = None

    def __post_init__(self) -> None:
        loaded = self.loaded
        self.zone: tzinfo = zone_of(loaded.tank)
        self.before: Plan = loaded.plan()
        now = datetime.now(UTC).astimezone(self.zone)
        self.clock_day = now.date()
        if self.at_text is not None:
            self.stamp: Stamp = take(read_stamp(self.at_text, loaded.on, now, loaded.pretended, self.zone))
        else:
            self.stamp = stamp_from_clock(loaded.on, now, loaded.pretended, str(loaded.tank.keeper.reminder_time)[:5], self.zone)

        self.desk = Desk(loaded.tank, loaded.journal, loaded.rules, loaded.on, self.before, self.stamp, loaded.catalogue)

    def day(self) -> Day:
        """Today's list as it stands before the entry."""
        if self._day is None:
            self._day = self.loaded.day(self.before, news=False)
        return self._day

    def do(self, act: Act, yes: bool = False) -> None:
        """Take in what a keeper does, once every question about it is answered with yes."""
        for question in act.questions:
            make_sure(self.typed(question), yes)
        self.entries += act.entries
        self.warnings += act.warnings

    def add(self, row: NewRow) -> Row:
        """Take a row in, once the reader of journals would; the row as it will be read back."""
        entry = take(checked(row, self.loaded.tank, self.zone))
        self.entries.append(entry)
        return entry.row

    def finish_batch(self, failed: Sequence[Failed]) -> None:
        """Write what is good of several things, tell what failed, and exit 2 if anything did."""
        if not failed:
            self.write()
            return
        if len(failed) == 1 and not self.entries:
            raise Refused(failed[0].why)
        self.failed = tuple(failed)
        if not self.entries:
            raise Refused(" ".join(f.told for f in failed))
        self.write()
        for one in failed if not self.as_json else ():
            click.echo(f"Not done: {one.told}", err=True)
        sys.exit(2)

    def write(self, tagged: bool = True, if_unchanged: bool = False) -> None:
        """Append all rows at once under one tag, and tell what they did. Ends the command. `if_unchanged`: the rows mean
        something only beside the journal that was read."""
        if not self.as_json:
            print_problems(self.loaded.problems)
        if any(p.code == "torn-row" for p in self.loaded.problems):
            self.warnings.append("The last line of the journal had been cut off. It stands on a line of its own now, unreadable as before: mend it or take it out.")
        written, after_entry = append_entries(self.loaded, self.entries, tagged, if_unchanged)
        after = after_entry.plan()
        effect = effect_of(self.before, after, written)
        self.tell_later(written)
        if self.loaded.on > self.clock_day and any(r.kind != "undo" for r in written):
            self.warnings.append(joined(f"Written for {bare_day(self.loaded.on, self.clock_day)}, which has not come yet; ", run("undo"), " takes it back."))
        warnings = all_words(self.warnings, self.loaded.tank.units)
        if self.as_json:
            print_json(effect_document(effect, warnings, after_entry.problems) | ({"failed": [{"id": f.id, "why": f.why} for f in self.failed]} if self.failed else {}))
        else:
            danger = danger_told(effect, after, after_entry)
            then = "" if danger or self.whole else next_told(effect, after, after_entry)
            show((*danger, *effect_lines(effect, after, console_width())) if self.whole else brief_lines(effect, after, console_width(), danger=danger, folder=typed_folder(self.loaded.path), then=then))
            for warning in warnings:
                click.echo(wrapped(f"Note: {self.typed(warning)}"), err=True)
        if not self.failed:
            finish(after_entry.problems)

    def typed(self, text: str) -> str:
        """A text with its commands as they are typed for this folder."""
        return typed(parts_of(text), partial(amount_words, units=self.loaded.tank.units), typed_folder(self.loaded.path))

    def tell_later(self, rows: Sequence[Row]) -> None:
        if any(r.day > self.loaded.on for r in rows):
            self.warnings.append(f"Some of these rows lie after {self.loaded.on.isoformat()}, the day of this plan, which does not see them.")


def danger_told(effect: Effect, after: Plan, loaded: Loaded) -> tuple[Line, ...]:
    """What comes before all else in the answer to an entry. The day is numbered only where there is danger."""
    if not brings_danger(effect, loaded.rules):
        return ()
    return danger_lines(effect, loaded.day(after, news=False), loaded.rules, console_width(), typed_folder(loaded.path), partial(_from_hour, loaded=loaded))


def next_told(effect: Effect, after: Plan, loaded: Loaded) -> str:
    """What an alarm that may kill asks for next, today with its hour. The day is numbered only while there is such an alarm."""
    grave = {a.alert for a in loaded.rules.alerts if a.is_grave}
    if not any(t.phase in grave for t in after.tasks):
        return ""
    return next_words(effect, loaded.day(after, news=False), loaded.rules, typed_folder(loaded.path), partial(_from_hour, loaded=loaded))


def _from_hour(task: Task, loaded: Loaded) -> str:
    """From which hour on a test of an alarm counts: `, from 20:00`."""
    instant = tells_from(task, loaded.rules, loaded.journal, loaded.on)
    if instant is None:
        return ""
    hour = datetime.fromtimestamp(instant, zone_of(loaded.tank))
    return f", from {hour:%H:%M}" + (f" on {short_day(hour.date(), loaded.on)}" if hour.date() != loaded.on else "")


def append_entries(loaded: Loaded, entries: Sequence[Entry], tagged: bool = True, if_unchanged: bool = False) -> tuple[list[Row], Loaded]:
    """Append entries under one tag, all or none: the rows with their lines, and the folder as it reads now."""
    path = loaded.path / "journal.csv"
    if tagged:
        tag = make_tag(secrets.token_hex(16), tags_in(loaded.journal))
        entries = [Entry(replace(e.new, note=with_tag(e.new.note, tag)), replace(e.row, note=with_tag(e.row.note, tag))) for e in entries]
    try:
        data = append_rows(path, [e.new for e in entries], loaded.journal.length if if_unchanged else None)
    except OSError as error:
        why = cannot_write(path, error)
        ended = "" if why.code == "journal-half-written" else f" {NOTHING}"
        raise click.ClickException(f"{why.place}: {why.message}. {why.fix}{ended}") from None
    first = len(decode_lines(data)) - len(entries)
    journal, problems = read_journal(data, shown_path(path), loaded.tank, zone_of(loaded.tank), events_of(loaded.rules))
    kept = tuple(p for p in loaded.problems if not p.place.file.endswith(".csv"))
    return [replace(e.row, line=first + n) for n, e in enumerate(entries)], replace(loaded, journal=journal, problems=(*kept, *problems))


__all__ = ["NOTHING", "Failed", "Pen", "Refused", "all_option", "append_entries", "danger_told", "entry_options", "has_terminal", "make_sure", "take"]
