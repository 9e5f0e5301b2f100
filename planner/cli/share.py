"""Commands that carry the plan out of the terminal: the calendar file."""

from __future__ import annotations

import sys
import uuid
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import click

from planner.cli.common import (
    console_width,
    finish,
    folder_alone,
    json_option,
    load_tank,
    must_have_folder,
    print_json,
    print_problems,
    tank_options,
)
from planner.cli.screen import show
from planner.door.folder import Loaded, cannot_write, shown_path
from planner.files.calendar_log import EXPORT_LOG_NAME, Appended, append_exported, journal_mark, read_export_log
from planner.files.lost_calendar_log import ROWS_PROPERTY, Target, calendar_uid, other_targets, read_target, seed_from_target
from planner.files.whole_file import put_whole_file
from planner.show.calendar.calendar import Change, Revision, calendar_from_plan
from planner.show.calendar.feeds import FEEDS, Which, feed_of_plan, last_modified
from planner.show.calendar.text import day_in_words
from planner.show.words.words import Page, day_words
from planner.terms.records import Place, Plan, Problem

TRIES = 5
"""How often an export starts again when another one wrote the log in the meantime."""


@click.command("calendar")
@click.argument("args", nargs=-1, metavar="[DIR]")
@tank_options
@click.option("-o", "--output", type=click.Path(dir_okay=False, path_type=Path), metavar="FILE.ics", help="The calendar file to write, to be imported.")
@click.option("--publish", type=click.Path(file_okay=False, path_type=Path), metavar="DIR", help="Write the feeds jobs.ics and outlook.ics into DIR, to be subscribed to.")
@click.option("--all-day", is_flag=True, help="Entries without a time of day; the file rings the evening before.")
@json_option
def calendar_command(args: tuple[str, ...], tank_dir: Path | None, on_text: str | None, rules_dir: Path | None, output: Path | None, publish: Path | None, all_day: bool, as_json: bool) -> None:
    """The plan as an iCalendar file, or as two feeds. Write them again after each test: every job keeps its entry, and only what moved changes."""
    folder = folder_alone(args, tank_dir)
    if output is None and publish is None:
        raise click.UsageError("name what to write: -o FILE.ics to import, or --publish DIR to subscribe to.")
    if all_day and output is None:
        raise click.UsageError("--all-day is for a file that is imported (-o FILE.ics).")
    loaded = load_tank(folder, on_text, rules_dir)
    plan = loaded.plan()
    if plan.tank_id is None:
        click.echo(str(id_missing(folder)), err=True)
        sys.exit(1)
    for place in (output, publish / "jobs.ics" if publish is not None else None):
        if place is not None:
            must_have_folder(place)
    now = None if loaded.pretended else datetime.now(UTC)
    revision, _, problems = export_calendar(loaded, plan, output, not all_day, now) if output is not None else (None, False, ())
    fed, more = publish_feeds(loaded, plan, publish) if publish is not None else ((), ())
    problems = (*problems, *more)
    if revision is None and not fed:
        print_problems(problems)
        sys.exit(1)
    problems = (*loaded.problems, *problems)
    if as_json:
        print_json(_document(plan, output, revision, fed))
    else:
        print_problems(problems)
        show(_page(output, revision, fed, loaded.pretended).lines)
    finish(problems)


def _document(plan: Plan, output: Path | None, revision: Revision | None, fed: tuple[tuple[Path, bool], ...]) -> dict[str, Any]:
    changes = revision.changes if revision is not None else ()
    return {
        "on": plan.on.isoformat(), "file": output.as_posix() if output is not None and revision is not None else None,
        "entries": len(revision.entries) if revision is not None else 0, "logged": len(revision.rows) if revision is not None else 0,
        "changes": [{"id": c.key, "title": c.title, "what": c.what, "from": c.before.isoformat() if c.before else None, "to": c.after.isoformat() if c.after else None,
                     "without_journal_row": c.without_journal_row} for c in changes],
        "feeds": [{"file": path.as_posix(), "written": written} for path, written in fed],
    }


def _page(output: Path | None, revision: Revision | None, fed: tuple[tuple[Path, bool], ...], pretended: bool) -> Page:
    page = Page(console_width())
    if output is not None and revision is not None:
        page.say(f"{output.as_posix()}: {len(revision.entries)} entries, {_counts(revision.changes)}.")
        unexplained = [c for c in revision.changes if c.without_journal_row]
        if unexplained:
            page.say("Moved without a new journal entry (time went by, or the rules or your description changed):")
            for change in unexplained[:5]:
                days = " to ".join(day_words(d) for d in (change.before, change.after) if d)
                page.item("-", f"{change.title}: {days}", indent=2)
            if len(unexplained) > 5:
                page.say(f"and {len(unexplained) - 5} more.", indent=2)
        if pretended:
            page.say("With --on nothing is written into the export log.")
    for path, written in fed:
        page.say(f"{path.as_posix()}: {'written' if written else 'unchanged'}.")
    if fed:
        page.say("Put both at an address that is hard to guess: whoever knows it can read them. Then subscribe to that address on the phone.")
    return page


def export_calendar(loaded: Loaded, plan: Plan, output: Path, timed: bool, now: datetime | None) -> tuple[Revision | None, bool, tuple[Problem, ...]]:
    """Log first, then file: what changed, whether the file was written, and the problems met; no revision if nothing may be
    written. If another export wrote the log in the meantime, everything is worked out again. Without `now` the log stays as
    it is, and what changed is stamped with the start of the plan's day. What the file at the target knows better than the
    log (a lost or copied log, another machine) goes into the log first."""
    path = loaded.path / EXPORT_LOG_NAME
    mark = journal_mark(loaded.journal)
    uid = calendar_uid(plan.tank_id or "")
    try:
        for _ in range(TRIES):
            log = read_export_log(path)
            problems = log.problems
            if any(p.code == "calendar-log-header" for p in problems):
                return None, False, problems
            target = read_target(output)
            refused = target.refused(output, uid) or (_real(output, target) if now is None else None)
            if refused is not None:
                return None, False, (*problems, refused)
            seeded, more = seed_from_target(target, output)
            problems = (*problems, *more, *_lost(loaded.path, output, uid, bool(log.rows), bool(seeded)))
            seeded = log.better_of(seeded)
            data, revision = calendar_from_plan(plan, loaded.rules, log.seeded(seeded), now=now, journal=mark, timed=timed)
            ended = Appended.WRITTEN if now is None else append_exported(path, (*seeded, *revision.rows), log)
            if ended is Appended.WRITTEN:
                return revision, put_whole_file(output, data), problems
            if ended is Appended.BUSY:
                break
    except OSError as error:
        return None, False, (cannot_write(Path(str(error.filename or output)), error),)
    return None, False, (Problem(Place(shown_path(path)), "calendar-log-busy", "the export log is in use by another program, so no calendar was written",
                                 "Close it there, then run the command again."),)


def _real(path: Path, target: Target) -> Problem | None:
    """Why a pretended day may not be written here: what stands there was meant."""
    if not target.there or target.pretended:
        return None
    return Problem(Place(shown_path(path)), "calendar-real", "this calendar was really exported, and a pretended day must not replace it", "Name another place beside --on.")


def _lost(folder: Path, output: Path, uid: str, has_log: bool, seeded: bool) -> tuple[Problem, ...]:
    """Told where no log is left, though something was exported: to this place, from which it is filled again, or to another one."""
    if has_log:
        return ()
    known = [output] if seeded else other_targets((folder, output.parent), uid, output)
    if not known:
        return ()
    fix = ("Nothing needs doing: it was filled again from that file. Keep it beside the journal." if seeded
           else "Export to that file, or delete this tank's calendar on the phone before you import the new one.")
    return (Problem(Place(shown_path(folder / EXPORT_LOG_NAME)), "calendar-lost", f"{EXPORT_LOG_NAME} is not here, though {known[0].name} was exported from it", fix),)


def publish_feeds(loaded: Loaded, plan: Plan, folder: Path) -> tuple[tuple[tuple[Path, bool], ...], tuple[Problem, ...]]:
    """Both feeds as files, each put in place in one step: which were written, and why not. The export log is not touched. The
    file that stands there is the memory: what says the same keeps its bytes, and whatever else moved an entry (a description that changed,
    other rules, a row of an earlier day) raises its number. A file of a newer journal is left, so that what a phone has seen never goes back."""
    done: list[tuple[Path, bool]] = []
    problems: list[Problem] = []
    rows_until = last_modified(loaded.tank, loaded.journal, plan.on)
    for which in FEEDS:
        path = folder / f"{which}.ics"
        try:
            target = read_target(path)
            before = target.last_modified if not target.pretended and not loaded.pretended else None
            refused = target.refused(path, calendar_uid(plan.tank_id or "", which)) or (_real(path, target) if loaded.pretended else None)
            if refused is None and before is not None and _without_rows(_fed(loaded, plan, which, before)) == _without_rows(path.read_bytes()):
                done.append((path, False))
                continue
            if refused is None and before is not None and target.rows_until is not None and target.rows_until > rows_until:
                refused = Problem(Place(shown_path(path)), "calendar-newer", f"the file there is newer than what would be written: {_moment(target.rows_until)}",
                                  "Publish where the newest journal is, or take the file away.")
            if refused is None:
                # A number counts minutes.
                done.append((path, put_whole_file(path, _fed(loaded, plan, which, max(rows_until, before + timedelta(minutes=1)) if before is not None else rows_until))))
            else:
                problems.append(refused)
        except OSError as error:
            problems.append(cannot_write(Path(str(error.filename or path)), error))
    return tuple(done), tuple(problems)


def _fed(loaded: Loaded, plan: Plan, which: Which, stamp: datetime) -> bytes:
    return feed_of_plan(plan, loaded.tank, loaded.journal, loaded.rules, which, loaded.pretended, lambda _content, _by_rows: stamp, tells_rows=True).data


def _without_rows(data: bytes) -> list[bytes]:
    return [line for line in data.splitlines() if not line.startswith(ROWS_PROPERTY.encode())]


def _moment(moment: datetime) -> str:
    return f"{day_in_words(moment.date())} {moment:%H:%M} UTC"


def id_missing(folder: Path) -> Problem:
    """A tank without an id, with a new one to paste."""
    return Problem(Place(shown_path(folder / "tank.yaml")), "id-missing", "the tank has no id, so a calendar could not know its entries again",
                   f"add this line at the top of the file:\n\nid: {uuid.uuid4()}\n")


def _counts(changes: tuple[Change, ...]) -> str:
    """`3 new, 1 moved`, or that nothing changed."""
    found = [f"{n} {what}" for what in ("new", "moved", "edited", "done", "cancelled", "back") if (n := sum(c.what == what for c in changes))]
    return ", ".join(found) or "nothing changed"


__all__ = ["calendar_command", "export_calendar", "id_missing", "publish_feeds"]
