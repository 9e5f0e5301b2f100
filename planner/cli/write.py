"""Commands that write the journal. `log` stands here; the others are beside it by family."""

from __future__ import annotations

import shlex
from collections.abc import Sequence
from pathlib import Path

import click

from planner.cli.common import json_option, load_tank, print_json, print_problems, take_folder, tank_options, typed_folder, wrapped
from planner.cli.complete import completing
from planner.cli.entry import NOTHING, Pen, Refused, entry_options, has_terminal, make_sure, take
from planner.cli.notes import note_command, undo_command
from planner.cli.ticks import done_command, postpone_command, skip_command
from planner.door import entry_words as entries
from planner.door.acts import log_readings, read_results
from planner.door.answered_tests import choose_water, open_tests
from planner.show.words.understood import is_taken_as_more, understood_words, unit_question
from planner.terms.readings import READINGS
from planner.terms.texts import joined, run
from planner.terms.units import Refusal
from planner.terms.written_amounts import SG_PAIRS, one_of

WRITTEN_OUT = 3


@click.command("log")
@click.argument("args", nargs=-1, metavar="[DIR] NAME=VALUE[UNIT]...", shell_complete=completing("results"))
@tank_options
@entry_options
@json_option
def log_command(args: tuple[str, ...], tank_dir: Path | None, on_text: str | None, rules_dir: Path | None, at_text: str | None,
                where: str | None, note: str, yes: bool, whole: bool, as_json: bool) -> None:
    """Record test results, tick the tests they answer, and say what moved.

    `newtank log ammonia=0.25 nitrite=over5 "salinity=1.026 SG 25/25"`. With no reading it asks for the ones that are due.
    """
    folder, rest = take_folder(args, tank_dir)
    if len(rest) > 1 and not any("=" in text for text in rest[:2]):
        rest = (f"{rest[0]} {rest[1]}", *rest[2:])  # `nitrate 5`: the answer shows it with its sign
    said = [take(entries.split_reading(text)) for text in rest]
    pen = Pen(load_tank(folder, on_text, rules_dir), as_json, at_text, whole)
    if said:
        waters = [where] if where else list(choose_water([name for name, _, _ in said], pen.before, pen.stamp.day, pen.loaded.journal))
        water = waters[0] if len(waters) == 1 else _ask_water(waters, " ".join(("newtank log", typed_folder(pen.loaded.path), shlex.join([*rest, *_dated(on_text, at_text)]))).replace("  ", " "))
        found = read_results(pen.desk, [(*one, water) for one in said], note)
        if isinstance(found, Refusal) and found.code == "sg-pair-missing":
            found = _pair_in_quotes(found, next(value for name, value, _ in said if name == "salinity"))
        read = take(found)
        # A unit that was left out stands in what was written; what a line has no room for is echoed.
        questions = [unit_question(entry.row, unit, pen.loaded.tank.units) for (_, _, unit), entry in zip(said, read, strict=True)]
        weighty = [(one, entry) for one, entry, asked in zip(said, read, questions, strict=True)
                   if one[2] or (one[0] == "alkalinity" and (yes or asked is None)) or is_taken_as_more(entry.row, one[1]) or len(said) > WRITTEN_OUT]
        echo_understood(pen, [one for one, _ in weighty], [entry for _, entry in weighty])
        for question in filter(None, questions):
            make_sure(question, yes)
    else:
        read = _ask_due(pen, where, note)
        if not read:
            return
    pen.do(take(log_readings(pen.desk, read)), yes)
    pen.write()


def echo_understood(pen: Pen, said: Sequence[tuple[str, str, str]], read: Sequence[entries.Entry]) -> None:
    """What was assumed or converted: a wrong guess is seen at once."""
    told = [words for (_, value, unit), entry in zip(said, read, strict=True) if (words := understood_words(entry.row, unit, pen.loaded.tank.units, value))]
    if told and not pen.as_json:
        click.echo(wrapped(f"Read as: {'; '.join(told)}."), err=True)
        if any(is_taken_as_more(entry.row, value) for (_, value, _), entry in zip(said, read, strict=True)):
            click.echo(wrapped(pen.typed(joined("If you diluted the sample, ", run("undo"), ", and log it again with `--note diluted`."))), err=True)


def _pair_in_quotes(found: Refusal, value: str) -> Refusal:
    """With spaces in it an amount is typed in quotes, its name with it."""
    first, *more = SG_PAIRS
    return Refusal(found.code, found.message, f"write it in quotes, with the pair printed on the hydrometer or refractometer: `\"salinity={value} SG {first}\"`, or {one_of(more)} in place of {first}. If it shows ppt beside it, `salinity=35ppt` with what you read there needs no pair")


def _dated(on_text: str | None, at_text: str | None) -> list[str]:
    return [*(["--on", on_text] if on_text else []), *(["--at", at_text] if at_text else [])]


def _ask_water(waters: Sequence[str], command: str) -> str:
    """`command`: what was typed, so that an answer can be typed as it stands."""
    choices = " or ".join(f"`{command} --where {w}`" for w in waters)
    if not has_terminal():
        raise Refused(f"open tests ask for these readings in more than one water, and one never speaks for another. Say which it was: {choices}")
    found: str = click.prompt("Which water was it?", type=click.Choice(list(waters)))
    return found


def _ask_due(pen: Pen, where: str | None, note: str) -> list[entries.Entry]:
    """Today's due readings, asked one by one (Enter skips); without a terminal they are only named."""
    tests = [t for t in open_tests(pen.before, pen.stamp.day) if where in (None, t.where)]
    if pen.as_json:
        print_json({"written": [], "moved": [], "due": [{"id": t.id, "title": t.title, "reads": list(t.reads), "where": t.where} for t in tests]})
        return []
    print_problems(pen.loaded.problems)
    if not tests:
        click.echo("No test is due today. You can still log a result, such as `newtank log ammonia=0.25`.")
        return []
    if not has_terminal():
        click.echo("Due today, and to be given as NAME=VALUE:")
        for test in tests:
            place = "" if test.where == "display" else f" --where {test.where}"
            click.echo(f"  {test.title} ({test.id}): {' '.join(f'{name}=VALUE' for name in test.reads)}{place}")
        return []
    found = []
    # A test of a vessel of its own has no reading in common with another: it is logged by itself.
    later = [t for t in tests if (rule := pen.loaded.rules.tasks.get(t.key)) is not None and rule.own_sample and any(o.where == t.where and set(o.reads) & set(t.reads) for o in tests if o is not t)]
    for test in later:
        click.echo(f"“{test.title}” comes afterwards: give this command once more for it.")
    click.echo("Enter skips a reading; `over5` and `under0.25` are results off the kit's scale.")
    for name, water in dict.fromkeys((name, t.where) for t in tests for name in t.reads):
        while answer := click.prompt(f"{READINGS[name].title}{'' if water == 'display' else f' ({water})'}", default="", show_default=False).strip():
            said = entries.split_reading(f"{name}={answer}")
            made = said if isinstance(said, Refusal) else entries.reading_row(*said, pen.stamp, water, note, pen.loaded.tank, pen.zone)
            if not isinstance(made, Refusal) and not isinstance(said, Refusal):
                question = unit_question(made.row, said[2], pen.loaded.tank.units)
                if question is None:
                    echo_understood(pen, [said], [made])
                elif not click.confirm(question, default=False):
                    continue
                found.append(made)
                break
            assert isinstance(made, Refusal)
            click.echo(f"{made.message}: {made.fix}.")
    if not found:
        click.echo(f"No reading given. {NOTHING}")
    return found


__all__ = ["done_command", "log_command", "note_command", "postpone_command", "skip_command", "undo_command"]
