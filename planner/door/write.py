"""Rows into a journal, written as the commands write them: judged by the journal's own reader, tagged, under its lock.

`write_row` writes one row as it is given. `log`, `tick`, `skip` and `postpone` do what the commands of these names do: they
look at the plan first, so that readings tick their tests and a tick writes the fact that its task stands for.
"""

from __future__ import annotations

import secrets
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from pathlib import Path

from planner.door import entry_words as entries
from planner.door.acts import Act, Desk, log_readings, read_results, tick_tasks, writes_an_amount
from planner.door.answered_tests import choose_water
from planner.door.folder import TankFolder, cannot_write, make_plan, read_folder, shown_path
from planner.door.put_off import postpone_tasks, skip_tasks
from planner.door.which_task import tasks_meant
from planner.files.journal_form import NewRow, decode_lines
from planner.files.journal_write import append_rows, make_tag, tags_in, undo_entry, with_tag
from planner.files.tank import Tank
from planner.judge.facts import zone_of
from planner.terms.causes import Cause
from planner.terms.problems import Place, Problem, nearest
from planner.terms.records import TASK_KINDS, Plan, Row
from planner.terms.units import Refusal

Problems = tuple[Problem, ...]
At = str | date | datetime | None


def write_row(path: Path | str, kind: str, what: str, value: str | float = "", unit: str = "", where: str = "", note: str = "",
              at: At = None, on: date | None = None) -> Row | Problems:
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


@dataclass(frozen=True, slots=True)
class Written:
    """What became of an entry: the rows as they will be read back, or the problems for which nothing was written; and what
    else has to be said to the keeper."""

    rows: tuple[Row, ...] = ()
    problems: Problems = ()
    warnings: tuple[str | Cause, ...] = ()


def log(folder: TankFolder, results: Sequence[str], where: str = "", note: str = "", at: At = None, sure: bool = False, plan: Plan | None = None) -> Written:
    """Test results as they are typed (`ammonia=0.25`, `nitrite=over5`), and a tick for each open test that they answer. Without
    `where` the open tests say which water it was."""

    def readings(desk: Desk) -> Act | Refusal:
        said = [entries.split_reading(text) for text in results]
        wrong = next((s for s in said if isinstance(s, Refusal)), None)
        if wrong is not None:
            return wrong
        typed = [s for s in said if not isinstance(s, Refusal)]
        waters = (where,) if where else choose_water([name for name, _, _ in typed], desk.plan, desk.stamp.day, desk.journal)
        if len(waters) > 1:
            return Refusal("water-unclear", "open tests ask for these readings in more than one water", f"say which it was: {' or '.join(waters)}")
        read = read_results(desk, [(*one, waters[0]) for one in typed], note)
        return read if isinstance(read, Refusal) else log_readings(desk, read)

    return _do(folder, readings, at, sure, plan)


def tick(folder: TankFolder, tasks: Sequence[str], where: str = "", note: str = "", amount: str | None = None, at: At = None, sure: bool = False, plan: Plan | None = None) -> Written:
    """Tasks that were done, with the facts that they stand for. `amount` is how much it was, where not as planned."""

    def ticks(desk: Desk, ids: list[str]) -> Act | Refusal:
        return tick_tasks(desk, ids, where or None, note, {id: amount for id in ids if amount is not None and writes_an_amount(desk, id)})

    return _do(folder, lambda desk: _of_tasks(desk, tasks, lambda ids: ticks(desk, ids)), at, sure, plan)


def skip(folder: TankFolder, tasks: Sequence[str], note: str = "", plan: Plan | None = None) -> Written:
    """Tasks that will not be done."""
    return _do(folder, lambda desk: _of_tasks(desk, tasks, lambda ids: skip_tasks(desk, ids, note)), plan=plan)


def postpone(folder: TankFolder, tasks: Sequence[str], to: date, note: str = "", plan: Plan | None = None) -> Written:
    """Tasks that will be done later, on `to` at the earliest."""
    return _do(folder, lambda desk: _of_tasks(desk, tasks, lambda ids: postpone_tasks(desk, ids, to, note)), plan=plan)


def _of_tasks(desk: Desk, tasks: Sequence[str], act: Callable[[list[str]], Act | Refusal]) -> Act | Refusal:
    ids = tasks_meant(desk, tasks)
    return ids if isinstance(ids, Refusal) else act(ids)


def _do(folder: TankFolder, ask: Callable[[Desk], Act | Refusal], at: At = None, sure: bool = False, plan: Plan | None = None) -> Written:
    """Ask for an act at the desk of this folder, and write it. `plan` is the plan of the folder as it was read, if it is at hand.
    A question that the command would ask is a problem, unless the caller is `sure`."""
    if folder.tank is None:
        return Written(problems=folder.problems)
    desk = desk_of(folder, folder.tank, at, plan)
    act = desk if isinstance(desk, Refusal) else ask(desk)
    if isinstance(act, Refusal):
        return Written(problems=refused(folder, act))
    if act.questions and not sure:
        return Written(problems=tuple(p for q in act.questions for p in refused(folder, Refusal("is-it-meant", q, "say that you are sure, if it is"))), warnings=act.warnings)
    rows, problems = write_entries(folder, act.entries)
    return Written(rows, problems, act.warnings)


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


def desk_of(folder: TankFolder, tank: Tank, at: At = None, plan: Plan | None = None) -> Desk | Refusal:
    """What an entry into the journal of this folder is made from; or why its time cannot be. `plan` as for `log`."""
    stamp = stamp_of(folder, tank, at)
    return stamp if isinstance(stamp, Refusal) else Desk(tank, folder.journal, folder.rules, folder.on, plan or make_plan(folder), stamp, folder.catalogue)


def stamp_of(folder: TankFolder, tank: Tank, at: At) -> entries.Stamp | Refusal:
    """When an entry happened, as said or by the clock."""
    zone = zone_of(tank)
    now = datetime.now(UTC).astimezone(zone)
    if at is None:
        return entries.stamp_from_clock(folder.on, now, folder.pretended, str(tank.keeper.reminder_time)[:5], zone)
    return entries.read_stamp(at if isinstance(at, str) else at.isoformat(), folder.on, now, folder.pretended, zone)


def write_entries(folder: TankFolder, new: Sequence[entries.Entry], tag: str = "", if_unchanged: bool = False) -> tuple[tuple[Row, ...], Problems]:
    """Append rows that share a tag, all or none, and give them back with their lines in the file; or why none was written.
    `tag`: a free one, where the caller has chosen it. `if_unchanged`: only if nobody wrote there since the folder was read."""
    path, tag = folder.path / "journal.csv", tag or make_tag(secrets.token_hex(16), tags_in(folder.journal))
    return append_entries(folder, [entries.Entry(replace(e.new, note=with_tag(e.new.note, tag)), replace(e.row, note=with_tag(e.row.note, tag))) for e in new], path, if_unchanged)


def take_back(folder: TankFolder, tag: str) -> tuple[tuple[Row, ...], Problems]:
    """Take back the rows that share a tag, by new rows that say so; nothing is deleted. No rows where none of them stands."""
    if folder.tank is None:
        return (), folder.problems
    made = [entries.checked(row, folder.tank, zone_of(folder.tank)) for row in undo_entry(folder.journal, tag)]
    wrong = next((m for m in made if isinstance(m, Refusal)), None)
    if wrong is not None:
        return (), refused(folder, wrong)
    return append_entries(folder, [m for m in made if not isinstance(m, Refusal)], folder.path / "journal.csv", True)


def append_entries(folder: TankFolder, new: Sequence[entries.Entry], path: Path, if_unchanged: bool) -> tuple[tuple[Row, ...], Problems]:
    """Append rows as they are, all or none."""
    try:
        data = append_rows(path, [e.new for e in new], folder.journal.length if if_unchanged else None)
    except OSError as error:
        return (), (cannot_write(path, error),)
    first = len(decode_lines(data)) - len(new)
    return tuple(replace(e.row, line=first + n) for n, e in enumerate(new)), ()


def refused(folder: TankFolder, refusal: Refusal) -> Problems:
    return (Problem(Place(shown_path(folder.path / "journal.csv")), refusal.code, refusal.message, refusal.fix),)


__all__ = ["Written", "desk_of", "log", "postpone", "refused", "skip", "take_back", "tick", "write_entries", "write_row"]
