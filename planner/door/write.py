"""One row into a journal, written as the commands write it: judged by the journal's own reader, tagged, under its lock."""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path

from planner.door import entry_words as entries
from planner.door.folder import TankFolder, cannot_write, read_folder, shown_path
from planner.files.journal_form import NewRow, decode_lines
from planner.files.journal_write import append_rows, make_tag, tags_in, with_tag
from planner.files.tank import Tank
from planner.judge.facts import zone_of
from planner.terms.problems import Place, Problem, nearest
from planner.terms.records import TASK_KINDS, Row
from planner.terms.units import Refusal

Problems = tuple[Problem, ...]


def write_row(path: Path | str, kind: str, what: str, value: str | float = "", unit: str = "", where: str = "", note: str = "",
              at: str | date | datetime | None = None, on: date | None = None) -> Row | Problems:
    """Append one row to the journal of a tank folder, and give it back as it will be read; or the problems for which nothing
    was written.

    `kind` and `what` are the journal's (`reading` `ammonia`, `done` `leak-test/watch`, `event` `leak`, ...). A reading says
    its own basis and unit afterwards; `value` may be `over5`. `where`: the water; else the task's own, or the display. `at`:
    a day, a time with its offset, or what `--at` takes (`08:15`, `yesterday`); else now. `on` pretends that today is that
    day. A tick alone is written here: `tick` also writes the fact that a task stands for. Never raises for what is given.
    """
    folder = read_folder(path, on)
    if folder.tank is None:
        return folder.problems
    stamp = stamp_of(folder, folder.tank, at)
    if isinstance(stamp, Refusal):
        return refused(folder, stamp)
    row = _row(folder, folder.tank, kind, what, str(value), unit, where, note, stamp)
    if isinstance(row, Refusal):
        return refused(folder, row)
    rows, problems = write_entries(folder, [row])
    return rows[0] if rows else problems


def _row(folder: TankFolder, tank: Tank, kind: str, what: str, value: str, unit: str, where: str, note: str, stamp: entries.Stamp) -> entries.Entry | Refusal:
    if kind == "reading":
        said = entries.split_reading(f"{what}={value} {unit}")
        return said if isinstance(said, Refusal) else entries.reading_row(*said, stamp, where or "display", note, tank, zone_of(tank))
    if kind in TASK_KINDS:
        rule = folder.rules.tasks.get(what.partition("#")[0])
        if rule is None:
            near = nearest(what, folder.rules.tasks)
            return Refusal("unknown-task", f"there is no task '{what}'", f"write `{near}`" if near else "name one of the plan's tasks")
        where = where or rule.where
    return entries.checked(NewRow(stamp.text, kind, what, value, unit, where or "display", entries.safe_text(note)), tank, zone_of(tank))


def stamp_of(folder: TankFolder, tank: Tank, at: str | date | datetime | None) -> entries.Stamp | Refusal:
    """When an entry happened, as said or by the clock."""
    zone = zone_of(tank)
    now = datetime.now(UTC).astimezone(zone)
    if at is None:
        return entries.stamp_from_clock(folder.on, now, folder.pretended, str(tank.keeper.reminder_time)[:5], zone)
    return entries.read_stamp(at if isinstance(at, str) else at.isoformat(), folder.on, now, folder.pretended, zone)


def write_entries(folder: TankFolder, new: Sequence[entries.Entry]) -> tuple[tuple[Row, ...], Problems]:
    """Append rows that share a tag, all or none, and give them back with their lines in the file; or why none was written."""
    path, tag = folder.path / "journal.csv", make_tag(secrets.token_hex(16), tags_in(folder.journal))
    try:
        append_rows(path, [replace(e.new, note=with_tag(e.new.note, tag)) for e in new])
        first = len(decode_lines(path.read_bytes())) - len(new)
    except OSError as error:
        return (), (cannot_write(path, error),)
    return tuple(replace(e.row, note=with_tag(e.row.note, tag), line=first + n) for n, e in enumerate(new)), ()


def refused(folder: TankFolder, refusal: Refusal) -> Problems:
    return (Problem(Place(shown_path(folder.path / "journal.csv")), refusal.code, refusal.message, refusal.fix),)


__all__ = ["Problems", "refused", "stamp_of", "write_row", "write_entries"]
