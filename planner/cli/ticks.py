"""Commands on tasks: done, skip, postpone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import click

from planner.cli.common import console_width, json_option, load_tank, read_on, take_folder, tank_options, typed_folder
from planner.cli.complete import completing
from planner.cli.entry import Failed, Pen, Refused, all_option, entry_options, has_terminal, make_sure, take
from planner.cli.screen import show
from planner.door.acts import tick_tasks, writes_an_amount
from planner.door.put_off import postpone_tasks, skip_tasks
from planner.door.questions import task_key
from planner.door.which_task import as_one_title, tasks_meant
from planner.plan.evening import left_out_of_all
from planner.plan.places import asks_first, in_order
from planner.plan.texts import typed, untold
from planner.show.terminal.joblines import asked_if_done, job_words
from planner.show.words.words import Page
from planner.terms.amounts import numbers_words
from planner.terms.days import DAY_NAMES
from planner.terms.texts import TaskName, parts_of
from planner.terms.units import Refusal


@click.command("done")
@click.argument("args", nargs=-1, metavar="[DIR] JOB...", shell_complete=completing("jobs"))
@tank_options
@entry_options
@click.option("--amount", metavar="AMOUNT", help="How much it was, if not the planned amount.")
@json_option
def done_command(args: tuple[str, ...], tank_dir: Path | None, on_text: str | None, rules_dir: Path | None, at_text: str | None,
                 where: str | None, note: str, yes: bool, whole: bool, amount: str | None, as_json: bool) -> None:
    """Tick jobs by their numbers on today's list, their names or `phase/task#n`, and write the facts they stand for.

    `newtank done 1 3`, or `newtank done all`, which leaves out tests, doses, animals, the end of an alarm and what is on hold.
    """
    folder, rest = take_folder(args, tank_dir)
    pen = Pen(load_tank(folder, on_text, rules_dir), as_json, at_text, whole)
    if not rest:
        raise click.UsageError("name the jobs, such as `newtank done 1 3`. `newtank today` lists them.")
    ids, failed = (_all_open(pen, yes), []) if rest == ("all",) else _each_meant(pen, rest)
    if rest == ("all",):
        yes = True  # asked once for the whole list; collisions with the journal were left out with the doses and animals
    stand_for = [id for id, _ in ids if writes_an_amount(pen.desk, id)]
    if amount is not None and len(stand_for) != 1:
        raise Refused("--amount is for one job whose amount the plan counts: a dose, a first fill, a water change or new animals; " + (
            f"{', '.join(stand_for)} do. Tick them one by one" if stand_for else "this is none. Leave it out"))
    amounts = {stand_for[0]: amount} if amount is not None else {}
    for id, by_number in ids:
        wrong = _tick_one(pen, id, by_number, [i for i, _ in ids], {task_key(f.id) for f in failed}, where, note, amounts, yes)
        if wrong is not None:
            failed.append(wrong)
    pen.finish_batch(failed)


def _each_meant(pen: Pen, texts: Sequence[str]) -> tuple[list[tuple[str, bool]], list[Failed]]:
    """The tasks meant, each once, with whether it was named by its number; and what no task could be found for. The titles
    behind numbers are told before anything is written."""
    found: dict[str, bool] = {}
    failed = []
    texts = as_one_title(texts, pen.before)
    for text in texts:
        ids = tasks_meant(pen.desk, [text], pen.day, typed_folder(pen.loaded.path))
        if isinstance(ids, Refusal):
            if len(texts) == 1:
                task_ids(pen, texts, "done")  # the one and only: its own refusal
            if not text.isdigit() and "/" not in text:  # words of one title may each have hit another job
                raise Refused(f"{ids.message}. {ids.fix} A title of several words stands in quotes")
            failed.append(Failed(text, f"{ids.message}. {ids.fix}", text))
            continue
        found.setdefault(ids[0], text.isdigit())
    if not pen.as_json:
        named: list[tuple[int, str]] = []
        for text in texts:
            if text.isdigit() and (job := pen.day().job(int(text))) is not None:
                named.append((int(text), job_words(job.task, pen.loaded.rules, pen.loaded.tank.units)))
        echo_jobs(named)
    # A cause before what hangs on it, so that a failed one is known in time.
    order = [t.id for t in in_order((t for t in pen.before.tasks if t.id in found), pen.loaded.rules)]
    return sorted(found.items(), key=lambda f: order.index(f[0]) if f[0] in order else -1), failed


def _all_open(pen: Pen, yes: bool) -> list[tuple[str, bool]]:
    """Everything on today's list that a single question can cover."""
    jobs, rules = pen.day().jobs, pen.loaded.rules
    out = left_out_of_all(jobs, rules)
    ids = [j for j in jobs if j.standing == "open" and j not in [o for o, _ in out]]
    if not pen.as_json:
        echo_jobs([(job.number, job_words(job.task, rules, pen.loaded.tank.units)) for job in ids])
        if out:
            click.echo(f"Left out: {'; '.join(f'{LEFT_OUT[why]}, {numbers_words(j.number for j, w in out if w == why)}' for why in dict.fromkeys(w for _, w in out))}.")
    if not ids:
        raise Refused("there is nothing left that `done all` could tick")
    make_sure(f"{f'Were all {len(ids)} of these' if len(ids) > 1 else 'Was this'} done?", yes)
    return [(j.task.id, False) for j in ids]


LEFT_OUT = {"test": "tests", "dose": "doses", "animals": "animals", "held": "on hold", "ends an alarm": "ends an alarm"}
FEW = 3


def echo_jobs(jobs: Sequence[tuple[int, str]]) -> None:
    """The jobs behind their numbers: a line each, and more than a few in one paragraph."""
    if len(jobs) <= FEW:
        for number, title in jobs:
            click.echo(f"{number:>3}  {title}")
        return
    page = Page(console_width())
    page.say("; ".join(f"{number} {title}" for number, title in jobs) + ".")
    show(page.lines)


def _tick_one(pen: Pen, id: str, by_number: bool, together: Sequence[str], failed: set[str], where: str | None, note: str, amounts: dict[str, str], yes: bool) -> Failed | None:
    """Take one tick in; or why it failed."""
    rule = pen.loaded.rules.tasks[task_key(id)]
    cause = rule.anchor.task if rule.anchor is not None else None
    if cause is not None and cause in failed:
        return Failed(id, f"it comes after “{_title(pen, cause)}”, which failed", _title(pen, id))
    task = pen.before.task(id)
    if rule.between and id not in amounts and task is not None and task.writes is not None:  # the page leaves the amount open
        if not has_terminal():
            return Failed(id, "how much was it? Tick it alone, with what you really did, such as `--amount " + ("15gal`" if pen.loaded.tank.units == "us" else "50L`"), _title(pen, id))
        amounts[id] = click.prompt(f"{task.title}: how much was it, with its unit")
    act = tick_tasks(pen.desk, [id], where, note, amounts, together)
    while isinstance(act, Refusal) and act.code == "amount-missing" and has_terminal():
        amounts[id] = click.prompt(f"{untold(rule.title)}: how much was it, with its unit")
        act = tick_tasks(pen.desk, [id], where, note, amounts, together)
    if isinstance(act, Refusal):
        return Failed(id, f"{act.message}. {act.fix}" if act.fix else act.message, _title(pen, id))
    asked = tuple(_by_titles(question, pen) for question in act.questions)
    if by_number and not asked and task is not None and asks_first(task, pen.loaded.rules):
        asked = (asked_if_done(task, pen.loaded.rules, pen.loaded.tank.units, act.amounts if id in amounts else ()),)
    try:
        pen.do(replace(act, questions=asked), yes)
    except Refused as refused:
        return Failed(id, str(refused.reason))  # the question names the job
    return None


def _by_titles(text: str, pen: Pen) -> str:
    """A text with its tasks by their titles."""
    return "".join(f"“{_title(pen, part.key)}”" if isinstance(part, TaskName) else typed((part,), str, typed_folder(pen.loaded.path)) for part in parts_of(text))


def _title(pen: Pen, id: str) -> str:
    task = next((t for t in pen.before.tasks if t.key == task_key(id)), None)
    return task.title if task is not None else untold(pen.loaded.rules.tasks[task_key(id)].title)


def task_ids(pen: Pen, texts: Sequence[str], command: str) -> list[str]:
    """The occurrences meant, each once."""
    if not texts:
        raise click.UsageError(f"name the task, such as `newtank {command} leak-test/watch`. `newtank today` lists what is due.")
    ids = tasks_meant(pen.desk, texts, pen.day, typed_folder(pen.loaded.path))
    if isinstance(ids, Refusal) and ids.code == "unknown-task":
        raise click.UsageError(f"{ids.message}. {ids.fix}")
    return take(ids)


@click.command("skip")
@click.argument("args", nargs=-1, metavar="[DIR] JOB...", shell_complete=completing("jobs"))
@tank_options
@all_option
@click.option("--note", "note", default="", metavar="TEXT", help="Why it is left out.")
@json_option
def skip_command(args: tuple[str, ...], tank_dir: Path | None, on_text: str | None, rules_dir: Path | None, note: str, whole: bool, as_json: bool) -> None:
    """Say that a task will not be done. What protects people or animals cannot be skipped."""
    folder, rest = take_folder(args, tank_dir)
    pen = Pen(load_tank(folder, on_text, rules_dir), as_json, whole=whole)
    pen.do(take(skip_tasks(pen.desk, task_ids(pen, rest, "skip"), note)))
    pen.write()


@click.command("postpone")
@click.argument("args", nargs=-1, metavar="[DIR] JOB", shell_complete=completing("jobs"))
@tank_options
@all_option
@click.option("--to", "to_text", metavar="DATE", required=True, help="Its new day, such as sat, tomorrow or 2026-03-14.")
@click.option("--note", "note", default="", metavar="TEXT", help="Why it has to wait.")
@json_option
def postpone_command(args: tuple[str, ...], tank_dir: Path | None, on_text: str | None, rules_dir: Path | None, to_text: str, note: str, whole: bool, as_json: bool) -> None:
    """Say that a task will be done later, on DATE at the earliest: a date, `tomorrow`, or the next `sat`."""
    folder, rest = take_folder(args, tank_dir)
    pen = Pen(load_tank(folder, on_text, rules_dir), as_json, whole=whole)
    to = day_named(to_text, pen.loaded.on) or read_on(to_text, "--to", "Write a day such as sat or tomorrow, or a date such as 2026-03-01.")
    pen.do(take(postpone_tasks(pen.desk, task_ids(pen, rest, "postpone"), to, note)))
    pen.write()


def day_named(text: str, on: date) -> date | None:
    """`tomorrow`, or the next day of that name (`sat`, `Saturday`), never today itself; None for anything else."""
    word = text.strip().lower()
    if word == "tomorrow":
        return on + timedelta(days=1)
    named = [n for n, name in enumerate(DAY_NAMES) if len(word) >= 3 and name.startswith(word)]
    return on + timedelta(days=(named[0] - on.weekday() - 1) % 7 + 1) if named else None


__all__ = ["day_named", "done_command", "postpone_command", "skip_command", "task_ids"]
