"""Commands that write the journal: log, done, skip, postpone, note, undo."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date, timedelta
from pathlib import Path
from typing import Any, TypeVar

import click

from planner.absences import HORIZON_DAYS
from planner.cli import entries
from planner.cli.common import Loaded, find_task_key, json_option, load_tank, no_more, print_json, print_problems, take_folder, tank_options
from planner.cli.pen import NOTHING, Pen, Refused, has_terminal, make_sure, take
from planner.gather import gather
from planner.journalwrite import NewRow, undo_rows
from planner.model import WATERS, Row, State, Task
from planner.problems import nearest
from planner.quantities import READINGS, question_reading
from planner.rulefiles import shipped
from planner.schedule import closings
from planner.show.words import day_words
from planner.units import Refusal

F = TypeVar("F", bound=Callable[..., Any])
ASKED_TWICE = frozenset({"display", "quarantine", "mixing"})
"""Waters that are meant for animals. Tap, RO and curing water are often outside what is usual in a tank."""


def entry_options(function: F) -> F:
    """--at, --where, --note, --yes."""
    function = click.option("--yes", is_flag=True, help="Do not ask whether it is meant.")(function)
    function = click.option("--note", "note", default="", metavar="TEXT", help="A remark that is kept with the entry.")(function)
    function = click.option("--where", "where", type=click.Choice(WATERS), help="Which water it was.")(function)
    return click.option("--at", "at_text", metavar="WHEN", help="When it was: a date, a date and time, a time of today, or yesterday.")(function)


@click.command("log")
@click.argument("args", nargs=-1, metavar="[DIR] NAME=VALUE[UNIT]...")
@tank_options
@entry_options
@json_option
def log_command(args: tuple[str, ...], tank_dir: Path | None, on_text: str | None, rules_dir: Path | None, at_text: str | None,
                where: str | None, note: str, yes: bool, as_json: bool) -> None:
    """Record test results, tick the tests they answer, and say what moved.

    `newtank log ammonia=0.25 nitrite=over5 "salinity=1.026 SG 25/25"`. With no reading it asks for the ones that are due.
    """
    folder, rest = take_folder(args, tank_dir)
    said = [take(entries.split_reading(text)) for text in rest]
    pen = Pen(load_tank(folder, on_text, rules_dir), as_json, at_text)
    if said:
        waters = [where] if where else list(entries.choose_water([name for name, _, _ in said], pen.before, pen.stamp.day))
        water = waters[0] if len(waters) == 1 else _ask_water(waters)
        results = [(name, value, unit, water) for name, value, unit in said]
    else:
        results = _ask_due(pen, where)
        if not results:
            return
    new: list[Row] = []
    for name, value, unit, water in results:
        made = take(entries.reading_row(name, value, unit, pen.stamp, water, note, pen.loaded.tank, pen.zone))
        row = pen.check(made)
        question = question_reading(name, row.low or 0.0, row.high or 0.0) if water in ASKED_TWICE else None
        if question is not None:
            make_sure(question, yes)
        pen.rows.append(made)
        new.append(row)
    for task, day in entries.fulfilled(pen.before, pen.loaded.rules, pen.loaded.journal, new):
        when = pen.stamp.text if day == pen.stamp.day else day.isoformat()
        pen.add(NewRow(when, "done", task.id, "", "", task.where))
    pen.write()


def _ask_water(waters: Sequence[str]) -> str:
    choices = " or ".join(f"--where {w}" for w in waters)
    if not has_terminal():
        raise Refused(f"open tests ask for these readings in more than one water, and one never speaks for another. Say which it was: {choices}")
    found: str = click.prompt("Which water was it?", type=click.Choice(list(waters)))
    return found


def _ask_due(pen: Pen, where: str | None) -> list[tuple[str, str, str, str]]:
    """Today's due readings, asked one by one (Enter skips); without a terminal they are only named."""
    tests = [t for t in entries.open_tests(pen.before, pen.stamp.day) if where in (None, t.where)]
    if pen.as_json:
        print_json({"written": [], "moved": [], "due": [{"id": t.id, "title": t.title, "reads": list(t.reads), "where": t.where} for t in tests]})
        return []
    print_problems(pen.loaded.problems)
    if not tests:
        click.echo("No test is due today. A result is logged all the same with NAME=VALUE, such as `newtank log ammonia=0.25`.")
        return []
    if not has_terminal():
        click.echo("Due today, and to be given as NAME=VALUE:")
        for test in tests:
            place = "" if test.where == "display" else f" --where {test.where}"
            click.echo(f"  {test.title} ({test.id}): {' '.join(f'{name}=VALUE' for name in test.reads)}{place}")
        return []
    found = []
    click.echo("Enter skips a reading; `over5` and `under0.25` are results off the kit's scale.")
    for name, water in dict.fromkeys((name, t.where) for t in tests for name in t.reads):
        while answer := click.prompt(f"{READINGS[name].title}{'' if water == 'display' else f' ({water})'}", default="", show_default=False).strip():
            said = entries.split_reading(f"{name}={answer}")
            made = said if isinstance(said, Refusal) else entries.reading_row(*said, pen.stamp, water, "", pen.loaded.tank, pen.zone)
            if not isinstance(made, Refusal):
                found.append((name, made.value, made.unit, water))
                break
            click.echo(f"{made.message}: {made.fix}.")
    if not found:
        click.echo(f"No reading given. {NOTHING}")
    return found


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
    ids = _task_ids(pen, rest, "done")
    loaded, facts = pen.loaded, gather(pen.loaded.tank, pen.loaded.journal, pen.loaded.on)
    stand_for = [id for id in ids if (rule := loaded.rules.tasks[_key(id)]).writes is not None and rule.writes.kind != "event"]
    if amount is not None and len(stand_for) != 1:
        raise Refused("--amount belongs to one task that doses, pours, changes water or adds animals; " + (
            f"{', '.join(stand_for)} do. Tick them one by one" if stand_for else "none of these does. Leave it out"))
    for id in ids:
        rule = loaded.rules.tasks[_key(id)]
        task = loaded_task(pen, id)
        _ask_second_tick(pen, id, yes)
        pen.add(NewRow(pen.stamp.text, "done", id, "", "", where or rule.where, entries.safe_text(note)))
        if rule.writes is not None:
            planned = entries.planned_amount(rule, facts, loaded.rules)
            typed = amount if id in stand_for else None
            fact = entries.fact_row(rule.writes, where or rule.where, pen.stamp, planned, typed)
            if isinstance(fact, Refusal) and fact.code == "amount-missing" and has_terminal():
                fact = entries.fact_row(rule.writes, where or rule.where, pen.stamp, planned, click.prompt(f"{rule.title}: how much was it, with its unit"))
            pen.add(take(fact))
        if task is not None and task.state in (State.WAITING, State.ON_HOLD):
            pen.warnings.append(f"{id} stands behind a shut gate or a hold; it is written as it happened. See `newtank why {id}`.")
        if rule.reads:
            pen.warnings.append(f"{id} is a test, and a tick is no result: gates open on readings. Give them with `newtank log {' '.join(f'{n}=VALUE' for n in rule.reads)}`.")
        if rule.role == "animals" and rule.writes is None:
            pen.warnings.append("Say which animals came, so that the plan counts them: `newtank note added ANIMAL COUNT`.")
    pen.write()


def _key(id: str) -> str:
    return id.partition("#")[0]


def loaded_task(pen: Pen, id: str) -> Task | None:
    """The task of this id in the plan before the entry; a repeating one may be too far ahead to be in it."""
    return pen.before.task(id)


def _task_ids(pen: Pen, texts: Sequence[str], command: str) -> list[str]:
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
        open_now = [t.key for t in plan.tasks if t.state in entries.OPEN_NOW and t.key.partition("/")[2] == base]
        key = open_now[0] if len(set(open_now)) == 1 else _key(find_task_key(text, _known(pen)))
        found.append(entries.occurrence_of(key, number, plan, closings(key, facts), rules))
    return list(dict.fromkeys(found))


def _known(pen: Pen) -> list[str]:
    return sorted(pen.loaded.rules.tasks)


def _ask_second_tick(pen: Pen, id: str, yes: bool) -> None:
    """A second tick on one day, or of a task that comes once, is more often a slip than a second deed."""
    facts = gather(pen.loaded.tank, pen.loaded.journal, pen.loaded.on)
    for n, row in closings(_key(id), facts):
        same = n == int(id.partition("#")[2]) if "#" in id else True
        if row.kind == "done" and (same or row.day == pen.stamp.day):
            make_sure(f"{_key(id)} is ticked already, {day_words(row.day)} (journal line {row.line}). Is a second tick meant?", yes)
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
    for id in _task_ids(pen, rest, "skip"):
        rule = pen.loaded.rules.tasks[_key(id)]
        if rule.protects:
            raise Refused(f"'{rule.title}' ({id}) protects people or animals, so it is not skipped. Postpone it with `newtank postpone {id} --to DATE`, or do it")
        _refuse_closed(pen, id)
        pen.add(NewRow(pen.stamp.text, "skipped", id, "", "", rule.where, entries.safe_text(note)))
    pen.write()


def _refuse_closed(pen: Pen, id: str) -> None:
    task = loaded_task(pen, id)
    if task is not None and task.state in entries.CLOSED:
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
    for id in _task_ids(pen, rest, "postpone"):
        _refuse_closed(pen, id)
        task, rule = loaded_task(pen, id), pen.loaded.rules.tasks[_key(id)]
        if task is not None and task.date is not None and to < task.date:
            if rule.protects:
                raise Refused(f"{id} protects people or animals and can only be put off: it is not before {day_words(task.date)}")
            pen.warnings.append(f"{id} is not due before {day_words(task.date)}, so an earlier day moves nothing.")
        pen.add(NewRow(pen.stamp.text, "postponed", id, to.isoformat(), "", rule.where, entries.safe_text(note)))
    pen.write()


@click.command("note")
@click.argument("args", nargs=-1, metavar="[DIR] KIND WHAT [VALUE]")
@tank_options
@entry_options
@json_option
def note_command(args: tuple[str, ...], tank_dir: Path | None, on_text: str | None, rules_dir: Path | None, at_text: str | None,
                 where: str | None, note: str, yes: bool, as_json: bool) -> None:
    """Any other fact: dosed, changed_water, poured, added, moved, lost, event.

    `newtank note dosed ammonia 4.1g`, `note changed_water 10%`, `note poured 120L`, `note added ANIMAL 2`,
    `note event leak`, `note failed leak-test/watch`.
    """
    folder, rest = take_folder(args, tank_dir)
    pen = Pen(load_tank(folder, on_text, rules_dir), as_json, at_text)
    events = entries.known_events(pen.loaded.rules)
    remark = entries.safe_text(note)
    if rest and entries.event_word(rest[0]) == "event" and len(rest) > 1 and entries.event_word(rest[1]) == "failed":
        rest = rest[1:]
    if rest and entries.event_word(rest[0]) == "failed":
        (id,) = _task_ids(pen, rest[1:2], "note failed")
        no_more(rest[2:])
        if id.partition("#")[2] and "#" not in rest[1]:
            id = _last_closed(pen.loaded, id)
        pen.add(NewRow(pen.stamp.text, "event", "failed", "", "", where or pen.loaded.rules.tasks[_key(id)].where, f"{id} {remark}".strip()))
        pen.write()
        return
    kind, what, value, unit = take(entries.split_fact(rest, events))
    what = _known_what(kind, what, events, yes)
    if kind == "dosed" and not value:
        make_sure(f"How much {what} was dosed? Without a rise (`2 mg/L as N`) or a mass (`4.1 g`) the forecast cannot count it. Write it without?", yes)
    row = NewRow(pen.stamp.text, kind, what, value, unit, where or "display", remark)
    pen.add(row)
    animals = pen.before.phase("animals")
    if kind in ("added", "moved") and row.where == "display" and animals is not None and animals.opened is None:
        pen.warnings.append("The gate to animals is not open: the water is not proven for them. What happened is written; the plan says what to do now.")
    pen.write()


def _last_closed(loaded: Loaded, id: str) -> str:
    """A check that failed was most often just ticked: its last number, else the open one."""
    done = closings(_key(id), gather(loaded.tank, loaded.journal, loaded.on))
    return f"{_key(id)}#{done[-1][0]}" if done else id


def _known_what(kind: str, what: str, events: Sequence[str], yes: bool) -> str:
    """The subject as the rules spell it. A slip would hide a leak or an animal from the plan, so it is asked about."""
    if kind == "event" and what not in events:
        near = nearest(what, events)
        if near is not None:
            make_sure(f"The plan knows no event '{what}'; did you mean '{near}'? Is '{what}' meant?", yes)
    if kind in ("added", "moved", "lost"):
        from planner.catalogue import load_catalogue

        found = load_catalogue([shipped("rules") / "livestock"]).find(what)
        if found.how in ("id", "name") and found.animal is not None:
            return found.animal.id
        if found.candidates:
            make_sure(f"'{what}' may be {', '.join(found.candidates[:4])}. Name one of them. Is '{what}' meant as it stands?", yes)
        else:
            make_sure(f"The catalogue has no animal '{what}'. Is it meant as it stands?", yes)
    return what


@click.command("undo")
@click.argument("args", nargs=-1, metavar="[DIR]")
@tank_options
@json_option
def undo_command(args: tuple[str, ...], tank_dir: Path | None, on_text: str | None, rules_dir: Path | None, as_json: bool) -> None:
    """Take the last entry back: everything that the last command wrote. Nothing is deleted; new rows say that it is void."""
    folder, rest = take_folder(args, tank_dir)
    no_more(rest)
    pen = Pen(load_tank(folder, on_text, rules_dir), as_json)
    pen.rows = list(undo_rows(pen.loaded.journal))
    if not pen.rows:
        raise Refused("the journal has no entry to take back")
    pen.write(tagged=False)


__all__ = ["done_command", "log_command", "note_command", "postpone_command", "skip_command", "undo_command"]
