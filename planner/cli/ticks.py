"""Commands on tasks: done, skip, postpone."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import click

from planner.cli.common import json_option, load_tank, read_on, take_folder, tank_options
from planner.cli.entry import Pen, Refused, entry_options, has_terminal, take
from planner.door.acts import postpone_tasks, skip_tasks, task_key, tasks_meant, tick_tasks, writes_an_amount
from planner.plan.texts import untold
from planner.terms.units import Refusal


@click.command("done")
@click.argument("args", nargs=-1, metavar="[DIR] TASK...")
@tank_options
@entry_options
@click.option("--amount", metavar="AMOUNT", help="How much it was, if not the planned amount.")
@json_option
def done_command(args: tuple[str, ...], tank_dir: Path | None, on_text: str | None, rules_dir: Path | None, at_text: str | None,
                 where: str | None, note: str, yes: bool, amount: str | None, as_json: bool) -> None:
    """Tick tasks (`phase/task`, `phase/task#2`, or a name that only one task has), and write the facts they stand for."""
    folder, rest = take_folder(args, tank_dir)
    pen = Pen(load_tank(folder, on_text, rules_dir), as_json, at_text)
    ids = task_ids(pen, rest, "done")
    stand_for = [id for id in ids if writes_an_amount(pen.desk, id)]
    if amount is not None and len(stand_for) != 1:
        raise Refused("--amount belongs to one task that doses, pours, changes water or adds animals; " + (
            f"{', '.join(stand_for)} do. Tick them one by one" if stand_for else "none of these does. Leave it out"))
    amounts = {stand_for[0]: amount} if amount is not None else {}
    act = tick_tasks(pen.desk, ids, where, note, amounts)
    while isinstance(act, Refusal) and act.code == "amount-missing" and has_terminal():
        id = str(act.at[0])
        amounts[id] = click.prompt(f"{untold(pen.loaded.rules.tasks[task_key(id)].title)}: how much was it, with its unit")
        act = tick_tasks(pen.desk, ids, where, note, amounts)
    pen.do(take(act), yes)
    pen.write()


def task_ids(pen: Pen, texts: Sequence[str], command: str) -> list[str]:
    """The occurrences meant, each once."""
    if not texts:
        raise click.UsageError(f"name the task, such as `newtank {command} leak-test/watch`. `newtank today` lists what is due.")
    ids = tasks_meant(pen.desk, texts)
    if isinstance(ids, Refusal) and ids.code == "unknown-task":
        raise click.UsageError(f"{ids.message}. {ids.fix}")
    return take(ids)


@click.command("skip")
@click.argument("args", nargs=-1, metavar="[DIR] TASK...")
@tank_options
@click.option("--note", "note", default="", metavar="TEXT", help="Why it is left out.")
@json_option
def skip_command(args: tuple[str, ...], tank_dir: Path | None, on_text: str | None, rules_dir: Path | None, note: str, as_json: bool) -> None:
    """Say that a task will not be done. What protects people or animals cannot be skipped."""
    folder, rest = take_folder(args, tank_dir)
    pen = Pen(load_tank(folder, on_text, rules_dir), as_json)
    pen.do(take(skip_tasks(pen.desk, task_ids(pen, rest, "skip"), note)))
    pen.write()


@click.command("postpone")
@click.argument("args", nargs=-1, metavar="[DIR] TASK")
@tank_options
@click.option("--to", "to_text", metavar="DATE", required=True, help="The day before which it will not be done.")
@click.option("--note", "note", default="", metavar="TEXT", help="Why it has to wait.")
@json_option
def postpone_command(args: tuple[str, ...], tank_dir: Path | None, on_text: str | None, rules_dir: Path | None, to_text: str, note: str, as_json: bool) -> None:
    """Say that a task will be done later, on DATE at the earliest."""
    folder, rest = take_folder(args, tank_dir)
    to = read_on(to_text, "--to")
    pen = Pen(load_tank(folder, on_text, rules_dir), as_json)
    pen.do(take(postpone_tasks(pen.desk, task_ids(pen, rest, "postpone"), to, note)))
    pen.write()


__all__ = ["done_command", "postpone_command", "skip_command", "task_ids"]
