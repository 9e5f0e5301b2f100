"""Commands that carry the plan out of the terminal: the calendar file."""

from __future__ import annotations

import sys
import uuid
from datetime import UTC, datetime
from pathlib import Path

import click

from planner.cli.common import (
    Loaded,
    console_width,
    finish,
    json_option,
    load_tank,
    must_have_folder,
    no_more,
    print_json,
    print_problems,
    take_folder,
    tank_options,
)
from planner.cli.screen import show
from planner.door.folder import cannot_write, shown_path
from planner.files.calendar_log import EXPORT_LOG_NAME, Appended, append_exported, journal_mark, read_export_log
from planner.files.lost_calendar_log import foreign_problem, is_foreign, seed_from_calendar
from planner.files.whole_file import put_whole_file
from planner.show.calendar.calendar import Change, Revision, calendar_from_plan
from planner.show.words.words import Page, day_words
from planner.terms.records import Place, Plan, Problem

TRIES = 5
"""How often an export starts again when another one wrote the log in the meantime."""


@click.command("calendar")
@click.argument("args", nargs=-1, metavar="[DIR]")
@tank_options
@click.option("-o", "--output", type=click.Path(dir_okay=False, path_type=Path), required=True, metavar="FILE.ics", help="The calendar file to write.")
@click.option("--all-day", is_flag=True, help="Entries without a time of day.")
@json_option
def calendar_command(args: tuple[str, ...], tank_dir: Path | None, on_text: str | None, rules_dir: Path | None, output: Path, all_day: bool, as_json: bool) -> None:
    """The plan as an iCalendar file. Write it again after each test: every step keeps its entry, and only what moved changes."""
    folder, rest = take_folder(args, tank_dir)
    no_more(rest)
    loaded = load_tank(folder, on_text, rules_dir)
    plan = loaded.plan()
    if plan.tank_id is None:
        click.echo(str(id_missing(folder)), err=True)
        sys.exit(1)
    must_have_folder(output)
    now = None if loaded.pretended else datetime.now(UTC)
    revision, _, problems = export_calendar(loaded, plan, output, not all_day, now)
    if revision is None:
        print_problems(problems)
        sys.exit(1)
    problems = (*loaded.problems, *problems)
    unexplained = [c for c in revision.changes if c.without_journal_row]
    if as_json:
        print_json({
            "on": plan.on.isoformat(), "file": output.as_posix(), "entries": len(revision.entries), "logged": len(revision.rows),
            "changes": [{"id": c.key, "title": c.title, "what": c.what, "from": c.before.isoformat() if c.before else None, "to": c.after.isoformat() if c.after else None,
                         "without_journal_row": c.without_journal_row} for c in revision.changes],
        })
    else:
        print_problems(problems)
        page = Page(console_width())
        page.say(f"{output.as_posix()}: {len(revision.entries)} entries, {_counts(revision.changes)}.")
        if unexplained:
            page.say("Moved without a new journal entry (time went by, or the rules or the tank file changed):")
            for change in unexplained[:5]:
                days = " to ".join(day_words(d) for d in (change.before, change.after) if d)
                page.item("-", f"{change.title}: {days}", indent=2)
            if len(unexplained) > 5:
                page.say(f"and {len(unexplained) - 5} more.", indent=2)
        if loaded.pretended:
            page.say("With --on nothing is written into the export log.")
        show(page.lines)
    finish(problems)


def export_calendar(loaded: Loaded, plan: Plan, output: Path, timed: bool, now: datetime | None) -> tuple[Revision | None, bool, tuple[Problem, ...]]:
    """Log first, then file: what changed, whether the file was written, and the problems met; no revision if nothing may be
    written. If another export wrote the log in the meantime, everything is worked out again. Without `now` the log stays as
    it is, and what changed is stamped with the start of the plan's day."""
    path = loaded.folder / EXPORT_LOG_NAME
    mark = journal_mark(loaded.journal)
    try:
        for _ in range(TRIES):
            log = read_export_log(path)
            problems = log.problems
            if any(p.code == "calendar-log-header" for p in problems):
                return None, False, problems
            if is_foreign(output):
                return None, False, (*problems, foreign_problem(output))
            seeded, more = seed_from_calendar(output) if not log.rows else ((), ())
            problems = (*problems, *more)
            data, revision = calendar_from_plan(plan, log.seeded(seeded), now=now, journal=mark, timed=timed, cautions=loaded.rules.cautions)
            ended = Appended.WRITTEN if now is None else append_exported(path, (*seeded, *revision.rows), log)
            if ended is Appended.WRITTEN:
                return revision, put_whole_file(output, data), problems
            if ended is Appended.BUSY:
                break
    except OSError as error:
        return None, False, (cannot_write(Path(str(error.filename or output)), error),)
    return None, False, (Problem(Place(shown_path(path)), "calendar-log-busy", "the export log is in use by another program, so no calendar was written",
                                 "Close it there, then run the command again."),)


def id_missing(folder: Path) -> Problem:
    """A tank without an id, with a new one to paste."""
    return Problem(Place(shown_path(folder / "tank.yaml")), "id-missing", "the tank has no id, so a calendar could not know its entries again",
                   f"add this line at the top of the file:\n\nid: {uuid.uuid4()}\n")


def _counts(changes: tuple[Change, ...]) -> str:
    """`3 new, 1 moved`, or that nothing changed."""
    found = [f"{n} {what}" for what in ("new", "moved", "edited", "done", "cancelled", "back") if (n := sum(c.what == what for c in changes))]
    return ", ".join(found) or "nothing changed"


__all__ = ["calendar_command", "export_calendar", "id_missing"]
