"""Commands on tasks: done, skip, postpone."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, timedelta
from pathlib import Path
from typing import Literal

import click

from planner.cli import entry_words as entries
from planner.cli.common import find_task_key, json_option, load_tank, take_folder, tank_options
from planner.cli.entry import Pen, Refused, entry_options, has_terminal, make_sure, take
from planner.files.journal_write import NewRow
from planner.judge.conditions import Scene, judge_condition
from planner.judge.facts import animals_in, gather
from planner.plan.occurrences import closings
from planner.plan.usable_days import HORIZON_DAYS
from planner.rulebook.shapes import Writes
from planner.show.words.words import day_words
from planner.terms.records import CLOSED, URGENT, Answer, State, Task
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
    loaded, facts = pen.loaded, gather(pen.loaded.tank, pen.loaded.journal, pen.loaded.on)
    stand_for = [id for id in ids if (rule := loaded.rules.tasks[task_key(id)]).writes is not None and rule.writes.kind != "event"]
    if amount is not None and len(stand_for) != 1:
        raise Refused("--amount belongs to one task that doses, pours, changes water or adds animals; " + (
            f"{', '.join(stand_for)} do. Tick them one by one" if stand_for else "none of these does. Leave it out"))
    for id in ids:
        rule = loaded.rules.tasks[task_key(id)]
        task = task_before(pen, id)
        _ask_second_tick(pen, id, yes)
        pen.add(NewRow(pen.stamp.text, "done", id, "", "", where or rule.where, entries.safe_text(note)))
        if task is not None and task.animals:
            from planner.cli.arrival_warnings import warn_of_arrival

            for row in _stage_rows(pen, task, where or rule.where, amount):
                pen.add(row)
            catalogue = pen.loaded.catalogue()
            if catalogue is not None and (where or rule.where) == "display":
                warn_of_arrival(pen, catalogue, *task.animals[0])
        elif rule.writes is not None and (task is None or task.writes is not None):
            planned = entries.planned_amount(rule, facts, loaded.rules)
            typed = amount if id in stand_for else None
            fact = entries.fact_row(rule.writes, where or rule.where, pen.stamp, planned, typed)
            if isinstance(fact, Refusal) and fact.code == "amount-missing" and has_terminal():
                fact = entries.fact_row(rule.writes, where or rule.where, pen.stamp, planned, click.prompt(f"{rule.title}: how much was it, with its unit"))
            pen.add(take(fact))
        if task is not None and task.state in (State.WAITING, State.ON_HOLD) and not task.animals:
            pen.warnings.append(f"{id} stands behind a shut gate or a hold; it is written as it happened. See `newtank why {id}`.")
        if task is None and rule.only_when is not None and judge_condition(rule.only_when, Scene(facts, loaded.rules, {})).answer == Answer.NO:
            pen.warnings.append(f"{id} is no task of this tank: it is for one of another kind. It is written as it happened; `newtank undo` takes it back.")
        if rule.reads:
            pen.warnings.append(f"{id} is a test, and a tick is no result: gates open on readings. Give them with `newtank log {' '.join(f'{n}=VALUE' for n in rule.reads)}`.")
        if rule.role == "animals" and rule.writes is None:
            pen.warnings.append("Say which animals came, so that the plan counts them: `newtank note added ANIMAL COUNT`.")
    pen.write()


def _stage_rows(pen: Pen, task: Task, where: str, amount: str | None) -> Iterator[NewRow]:
    """One row for each animal of a stage: moved if it waits in the quarantine tank, else added. With --amount the one
    animal of the stage came in another number."""
    catalogue = pen.loaded.catalogue()
    waiting = animals_in(gather(pen.loaded.tank, pen.loaded.journal, pen.loaded.on), "quarantine")
    if amount is not None and len(task.animals) > 1:
        raise Refused(f"{task.id} brings several animals, so one --amount does not say which. Write each down: `newtank note added ANIMAL COUNT`")
    for animal_id, count in task.animals:
        there = {name for name in waiting if catalogue is not None and (a := catalogue.find(name).animal) is not None and a.id == animal_id}
        kind: Literal["added", "moved"] = "moved" if there else "added"
        name = min(there, default=animal_id)
        yield take(entries.fact_row(Writes(kind=kind, what=name), where, pen.stamp, None, amount or str(count)))


def task_key(id: str) -> str:
    return id.partition("#")[0]


def task_before(pen: Pen, id: str) -> Task | None:
    """The task of this id in the plan before the entry; a repeating one may be too far ahead to be in it."""
    return pen.before.task(id)


def task_ids(pen: Pen, texts: Sequence[str], command: str) -> list[str]:
    """The occurrences meant, each once. A gate is no task: it opens on evidence."""
    if not texts:
        raise click.UsageError(f"name the task, such as `newtank {command} leak-test/watch`. `newtank today` lists what is due.")
    rules, plan = pen.loaded.rules, pen.before
    facts = gather(pen.loaded.tank, pen.loaded.journal, pen.loaded.on)
    found = []
    for text in texts:
        base, _, number = text.partition("#")
        if text.startswith("gate/") or any(p.phase == text for p in rules.phases):
            raise Refused(f"'{text}' is a gate: it opens on test results and ticks, never by hand. `newtank why {text}` says what it needs")
        if number and not (number.isdigit() and int(number) > 0):
            raise Refused(f"'#{number}' is no number of a task. Write it as {base}#2")
        open_now = [t.key for t in plan.tasks if t.state in URGENT and t.key.partition("/")[2] == base]
        key = open_now[0] if len(set(open_now)) == 1 else task_key(find_task_key(text, sorted(rules.tasks)))
        found.append(entries.occurrence_of(key, number, plan, closings(key, facts), rules))
    return list(dict.fromkeys(found))


def _ask_second_tick(pen: Pen, id: str, yes: bool) -> None:
    """A second tick on one day, or of a task that comes once, is more often a slip than a second deed."""
    facts = gather(pen.loaded.tank, pen.loaded.journal, pen.loaded.on)
    for n, row in closings(task_key(id), facts):
        same = n == int(id.partition("#")[2]) if "#" in id else True
        if row.kind == "done" and (same or row.day == pen.stamp.day):
            make_sure(f"{task_key(id)} is ticked already, {day_words(row.day)} (journal line {row.line}). Is a second tick meant?", yes)
            return


@click.command("skip")
@click.argument("args", nargs=-1, metavar="[DIR] TASK...")
@tank_options
@click.option("--note", "note", default="", metavar="TEXT", help="Why it is left out.")
@json_option
def skip_command(args: tuple[str, ...], tank_dir: Path | None, on_text: str | None, rules_dir: Path | None, note: str, as_json: bool) -> None:
    """Say that a task will not be done. What protects people or animals cannot be skipped."""
    folder, rest = take_folder(args, tank_dir)
    pen = Pen(load_tank(folder, on_text, rules_dir), as_json)
    for id in task_ids(pen, rest, "skip"):
        rule = pen.loaded.rules.tasks[task_key(id)]
        planned = task_before(pen, id)
        title = planned.title if planned is not None else rule.title.replace("{", "").replace("}", "").replace("_", " ")
        if rule.protects:
            raise Refused(f"'{title}' ({id}) protects people or animals, so it is not skipped. Postpone it with `newtank postpone {id} --to DATE`, or do it")
        _refuse_closed(pen, id)
        pen.add(NewRow(pen.stamp.text, "skipped", id, "", "", rule.where, entries.safe_text(note)))
    pen.write()


def _refuse_closed(pen: Pen, id: str) -> None:
    task = task_before(pen, id)
    if task is not None and task.state in CLOSED:
        raise Refused(f"{id} is {task.state.value} already. `newtank undo` takes the last entry back")


@click.command("postpone")
@click.argument("args", nargs=-1, metavar="[DIR] TASK")
@tank_options
@click.option("--to", "to_text", metavar="DATE", required=True, help="The day before which it will not be done.")
@click.option("--note", "note", default="", metavar="TEXT", help="Why it has to wait.")
@json_option
def postpone_command(args: tuple[str, ...], tank_dir: Path | None, on_text: str | None, rules_dir: Path | None, to_text: str, note: str, as_json: bool) -> None:
    """Say that a task will be done later, on DATE at the earliest."""
    folder, rest = take_folder(args, tank_dir)
    try:
        to = date.fromisoformat(to_text)
    except ValueError:
        raise Refused(f"--to '{to_text}' is not a date. Write it as year-month-day, for example 2026-03-01") from None
    pen = Pen(load_tank(folder, on_text, rules_dir), as_json)
    on = pen.loaded.on
    if to < on:
        raise Refused(f"{to} has passed: a task is put off to a day to come")
    if to > on + timedelta(days=HORIZON_DAYS):
        raise Refused(f"{to} lies beyond the two years that are planned")
    for id in task_ids(pen, rest, "postpone"):
        _refuse_closed(pen, id)
        task, rule = task_before(pen, id), pen.loaded.rules.tasks[task_key(id)]
        if task is not None and task.date is not None and to < task.date:
            if rule.protects:
                raise Refused(f"{id} protects people or animals and can only be put off: it is not before {day_words(task.date)}")
            pen.warnings.append(f"{id} is not due before {day_words(task.date)}, so an earlier day moves nothing.")
        pen.add(NewRow(pen.stamp.text, "postponed", id, to.isoformat(), "", rule.where, entries.safe_text(note)))
    pen.write()


__all__ = ["done_command", "postpone_command", "skip_command", "task_ids", "task_key"]
