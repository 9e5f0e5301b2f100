"""What the commands share: which folder is the tank, which day is today, reading its files, printing problems."""

from __future__ import annotations

import json
import os
import re
import sys
import textwrap
from collections.abc import Callable, Iterable
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from planner.cli.kept_place import kept_here
from planner.cli.screen import show
from planner.door.folder import Loaded, cannot_write, read_folder, shown_path
from planner.files.read_file import is_there, read_plain_file
from planner.files.tank import Tank
from planner.judge.facts import zone_of
from planner.rulebook.read import shipped
from planner.show.words.words import Line, unbroken, visible
from planner.terms.days import YEARS
from planner.terms.problems import Problem

if TYPE_CHECKING:  # loaded only where there is a wish list, or a shop
    from planner.plan.shop_file import Shop

F = TypeVar("F", bound=Callable[..., Any])
_STEERING = re.compile("[\x7f-\x9f\u2028-\u202e\u2066-\u2069\ufeff\ud800-\udfff]")


def read_shop_file(file: Path | None) -> tuple[Shop | None, tuple[Problem, ...]]:
    """The shop of a file and its problems; no shop where none is named, or where the file has no name to print."""
    if file is None:
        return None, ()
    from planner.plan.shop_file import read_shop

    try:
        data = read_plain_file(file)
    except OSError as error:
        return None, (cannot_write(file, error),)
    return read_shop(data, shown_path(file), file.parent)


def logo_of(shop: Shop | None) -> bytes | None:
    """The picture that a shop's file names."""
    return shop.logo.read_bytes() if shop is not None and shop.logo is not None else None


def tank_options(function: F) -> F:
    """--tank, --on, --rules: the options of every command that looks at a tank on a day."""
    function = house_option(function)
    function = click.option("--on", "on_text", metavar="DATE", help="Pretend that today is DATE (YYYY-MM-DD).")(function)
    return click.option("--tank", "tank_dir", type=click.Path(path_type=Path), metavar="DIR", help="The tank folder (else the first argument, else here).")(function)


def house_option(function: F) -> F:
    return click.option("--rules", "rules_dir", type=click.Path(exists=True, file_okay=False, path_type=Path), metavar="DIR", help="Lay this folder of house rules over the shipped ones.")(function)


def json_option(function: F) -> F:
    return click.option("--json", "as_json", is_flag=True, help="Print one JSON object instead of text.")(function)


def take_folder(args: tuple[str, ...], tank_dir: Path | None) -> tuple[Path, tuple[str, ...]]:
    """(tank folder, remaining arguments). The first argument is the folder only if it holds a tank.yaml."""
    if tank_dir is not None:
        folder, rest = tank_dir, args
    elif args and (named := tank_folder(Path(args[0]))) is not None:
        folder, rest = named, args[1:]
    else:
        folder, rest = Path(), args
    if not is_there(folder / "tank.yaml"):
        if tank_dir is None and rest and "=" not in rest[0] and not rest[0].isdigit():
            raise click.UsageError(f"there is no tank.yaml in {rest[0]}, and none here. Check the name of the tank folder, or make one with `newtank start my-tank`.")
        raise click.UsageError(f"there is no tank.yaml in {folder.resolve() if str(folder) == '.' else folder}. Name a tank folder, or make one with `newtank start my-tank`.")
    return folder, rest


def tank_folder(named: Path) -> Path | None:
    """The tank folder of this name, or None. An installed copy works away from the checkout: `scenarios/NAME` is found where
    the package keeps it."""
    scenario = shipped("scenarios") / named.name
    if is_there(named / "tank.yaml"):
        return named
    return scenario if named.parts[:-1] == ("scenarios",) and (scenario / "tank.yaml").is_file() else None


def typed_folder(folder: Path) -> str:
    """The folder as an argument, or nothing where it is the current one."""
    import shlex

    return "" if folder == Path() else shlex.quote(folder.as_posix())


def no_more(rest: tuple[str, ...]) -> None:
    """Refuse arguments that a command does not take."""
    if rest:
        raise click.UsageError(f"'{rest[0]}' is no tank folder (it has no tank.yaml) and nothing else is expected here.")


def folder_alone(args: tuple[str, ...], tank_dir: Path | None) -> Path:
    """The folder of a command that takes nothing else."""
    folder, rest = take_folder(args, tank_dir)
    no_more(rest)
    return folder


def must_have_folder(output: Path) -> None:
    """Refuse an output file whose folder is not there."""
    if not output.parent.is_dir():
        raise click.UsageError(f"there is no folder {output.parent}. Make it first, or name another one.")


def today_in(tank: Tank) -> date:
    return datetime.now(UTC).astimezone(zone_of(tank)).date()


def load_tank(folder: Path, on_text: str | None = None, rules_dir: Path | None = None) -> Loaded:
    """Read tank, journal and rules. Problems are values; only a tank file with nothing to plan from ends the command."""
    read = read_folder(folder, read_on(on_text) if on_text else None, rules_dir, kept=kept_here())
    if not isinstance(read, Loaded):
        print_problems(read.problems)
        sys.exit(1)
    return read


def read_on(text: str, option: str = "--on", fix: str = "Write it as year-month-day, for example 2026-03-01.") -> date:
    """A day as an option names it, of the years that a journal may have."""
    try:
        day = date.fromisoformat(text)
    except ValueError:
        if re.fullmatch(r"\d{4}-\d\d-\d\d", text):
            raise click.UsageError(f"{option} {text} is not in the calendar. Check the month and the day.") from None
        raise click.UsageError(f"{option} '{text}' is not a date. {fix}") from None
    if day.year not in YEARS:
        raise click.UsageError(f"{option} {text} is out of reach: it takes days of the years {YEARS[0]} to {YEARS[-1]}.")
    return day


def print_problems(problems: tuple[Problem, ...]) -> None:
    """All problems at once, then the count, on standard error."""
    for problem in problems:
        click.echo(visible(str(problem)), err=True)
    if problems:
        click.echo(f"{len(problems)} problem{'s' if len(problems) != 1 else ''}.", err=True)


def finish(problems: tuple[Problem, ...]) -> None:
    """Exit 1 if the keeper's files have problems, after everything that could be planned was shown."""
    if problems:
        sys.exit(1)


def print_answer(as_json: bool, problems: tuple[Problem, ...], document: Callable[[], dict[str, Any]], lines: Callable[[], Iterable[Line]]) -> None:
    """How a command ends: its answer as one object, or the problems of the files and a page under them; then the exit code."""
    if as_json:
        print_json(document())
    else:
        print_problems(problems)
        show(lines())
    finish(problems)


def print_json(document: dict[str, Any]) -> None:
    click.echo(json_text(document))


def json_text(document: dict[str, Any]) -> str:
    """The object as text. What a terminal would obey is written as an escape, which reads back as it was."""
    text = json.dumps(document, ensure_ascii=False, indent=2, sort_keys=False)
    return _STEERING.sub(lambda m: f"\\u{ord(m[0]):04x}", text)


TYPED, HELD = re.compile("`[^`]+`"), "\ue000"
"""What is to be typed, and what stands for its spaces while lines are broken."""


def wrapped(text: str, indent: int = 0, hang: int = 0) -> str:
    """A sentence as wide as any page, also where it is piped; what is to be typed stays on one line. `hang`: how much further its later lines stand in."""
    held = unbroken(TYPED.sub(lambda part: part[0].replace(" ", HELD), " ".join(text.split())))
    lines = textwrap.wrap(held, console_width(), initial_indent=" " * indent, subsequent_indent=" " * (indent + hang), break_on_hyphens=False, break_long_words=False)
    return "\n".join(lines).replace(HELD, " ").replace("\u00a0", " ")


def console_width() -> int:
    """Columns of the terminal; 80 where there is none."""
    try:
        return max(60, min(120, os.get_terminal_size(sys.stdout.fileno()).columns or 80))
    except (OSError, ValueError):
        return int(os.environ.get("COLUMNS", "80")) if os.environ.get("COLUMNS", "").isdigit() else 80


def chart_rows(charts: int = 2) -> int:
    """Rows of each of so many charts: as tall as the window allows, with four rows to each figure at the side."""
    try:
        lines = os.get_terminal_size(sys.stdout.fileno()).lines or 24
    except (OSError, ValueError):
        lines = 32
    return max(9, min(25, (lines - 6) // charts // 4 * 4 + 1))


__all__ = ["chart_rows", "console_width", "finish", "folder_alone", "house_option", "json_option", "json_text", "load_tank", "logo_of", "must_have_folder", "no_more", "print_answer", "print_json",
           "print_problems", "read_on", "read_shop_file", "take_folder", "tank_folder", "tank_options", "today_in", "typed_folder"]
