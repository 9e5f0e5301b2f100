"""`newtank start`: a few answers become a commented tank file and an empty journal."""

from __future__ import annotations

import os
import sys
import uuid
from collections.abc import Callable
from contextlib import suppress
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

import click

from planner.cli.common import json_option, print_json, print_problems, read_on, wrapped
from planner.cli.entry import Refused, has_terminal
from planner.cli.setup_questions import ask, fill_description, first_problem, tell_understood
from planner.cli.setup_questions import quoted as _quoted
from planner.door.new_tank import EMPTY_JOURNAL, write_new_tank
from planner.files.read_file import is_there
from planner.files.tank import PASSED, known_paths, read_tank
from planner.rulebook.read import shipped
from planner.rulebook.shipped_cache import load_shipped_rules
from planner.show.words.blank_tank_file import replace_key, tank_text, undescribed
from planner.show.words.words import visible
from planner.terms.problems import Problem, nearest
from planner.terms.written_amounts import system_of

F = TypeVar("F", bound=Callable[..., Any])

# option -> path in the tank file, and what it says in --help
OPTIONS = {
    "name": ("name", "Its name."), "timezone": ("timezone", "Time zone, such as Europe/London."), "units": ("units", "metric or us."),
    "length": ("tank.length", "Outside, along the front."), "width": ("tank.width", "Outside, front to back."), "height": ("tank.height", "Outside, floor to rim."),
    "volume": ("tank.volume", "What it holds, in place of the three measures."), "glass": ("tank.glass", "Thickness of the panes."),
    "rock": ("rock.kind", "live, cured or dry."), "rock_mass": ("rock.mass", "How much rock."), "sand": ("sand.kind", "dry, live or none."),
    "sand_mass": ("sand.mass", "How much sand."), "source": ("water.source", "ro, distilled, tap or ready_mixed."), "bin": ("equipment.bin", "Size of the mixing bin."),
    "room": ("room.temperature", "The coolest the room usually gets."), "floor": ("room.floor", "solid, suspended or unknown."),
}
LOCALTIME, TIMEZONE = Path("/etc/localtime"), Path("/etc/timezone")
TOP_KEYS = ("name", "timezone", "units")


def answer_options(function: F) -> F:
    for name, (_, help_text) in reversed(OPTIONS.items()):
        function = click.option(f"--{name.replace('_', '-')}", name, metavar="VALUE", help=help_text)(function)
    return function


@click.command("start")
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
@answer_options
@click.option("--set", "settings", multiple=True, metavar="KEY=VALUE", help="Any key of the tank file, such as tank.lid=yes or test_kits.ammonia.basis=N. May be repeated.")
@click.option("--from", "scenario", metavar="SCENARIO", help="Begin with a described tank that ships with newtank.")
@click.option("--with-journal", is_flag=True, help="With --from: take its journal and its dates along.")
@click.option("--on", "on_text", metavar="DATE", help="Pretend that today is DATE (YYYY-MM-DD).")
@json_option
def start_command(folder: Path, settings: tuple[str, ...], scenario: str | None, with_journal: bool, on_text: str | None, as_json: bool, **options: str | None) -> None:
    """Describe a new tank: writes DIR/tank.yaml, with every key explained, and an empty journal.

    On a description that is there already it asks for what is missing, and changes nothing else in it.
    """
    if is_there(folder / "tank.yaml"):
        given = {OPTIONS[name][0]: value for name, value in options.items() if value is not None} | dict(_setting(s) for s in settings)
        if scenario is not None or as_json or not (given or has_terminal()) or any(path.startswith("tank.") and path not in ("tank.lid", "tank.sump", "tank.glass", "tank.waterline") for path in given):
            raise Refused(f"{folder / 'tank.yaml'} is there already and is not overwritten. Name another folder, or edit that file; on a terminal `newtank start {_quoted(folder)}` asks for what it leaves open")
        fill_description(folder, given)
        return
    if folder.exists() and not folder.is_dir():
        raise Refused(f"{folder} is there already and is not overwritten. Name another folder, or edit that file")
    today = read_on(on_text) if on_text else None
    given = {OPTIONS[name][0]: value for name, value in options.items() if value is not None} | dict(_setting(s) for s in settings)
    journal = EMPTY_JOURNAL
    problems: tuple[Problem, ...] = ()
    if with_journal and scenario is None:
        raise Refused("--with-journal belongs to --from SCENARIO")
    id = given.get("id") or str(uuid.uuid4())
    if scenario is not None:
        source = _scenario(scenario)
        text = _from_scenario(source, given, id, None if with_journal else today or _today(given.get("timezone")))
        if with_journal and (source / "journal.csv").is_file():
            journal = (source / "journal.csv").read_bytes()
        tank, problems = read_tank(text, str(folder / "tank.yaml"))
        if tank is None:
            print_problems(problems)
            raise Refused(f"the scenario '{scenario}' cannot be read")
        missing: tuple[str, ...] = ()
    else:
        answers = _answers(folder, given, id, today)
        text, missing = tank_text(answers), undescribed(answers)
    kept = _write(folder, text, journal)
    _tell(folder, id, missing, kept, as_json)
    if not as_json:
        tell_understood(text)
    _tell_wishes(text)
    print_problems(problems)
    if problems:
        sys.exit(1)


def _setting(text: str) -> tuple[str, str]:
    """`tank.lid=yes` as a path and a value."""
    path, sign, value = text.partition("=")
    path = path.strip()
    if not sign or not value.strip():
        raise Refused(f"--set '{text}' has no value. Write it as KEY=VALUE, such as --set tank.lid=yes")
    phase = path.removeprefix(PASSED) if path.startswith(PASSED) else None
    if phase is not None:
        ours = [p.phase for p in load_shipped_rules()[0].phases]
        near = f"{PASSED}{found}" if phase not in ours and (found := nearest(phase, ours)) else None
    else:
        near = nearest(path, known_paths())
    if path not in known_paths() and (phase is None or near):
        raise Refused(f"--set {path}: a tank file has no such key. " + (f"Did you mean '{near}'?" if near else "Keys look like tank.lid or room.floor"))
    if path == "wish_list" and not value.replace(" ", "").startswith("[{"):
        raise Refused("--set wish_list: this is a list of animals. Write it as `--set 'wish_list=[{animal: ocellaris clownfish, count: 2}]'`")
    parts = [p for p in known_paths() if p.startswith(path + ".")] or ([f"{PASSED}leak-test"] if path == "already" else [])
    if parts:
        raise Refused(f"--set {path}: this is a heading. Set what stands below it, such as {min(parts)}")
    return path, value.strip()


def _answers(folder: Path, given: dict[str, str], id: str, today: date | None) -> dict[str, str]:
    """Options and answers with the defaults below them, checked together."""
    answers = {"id": id} | given
    zone, name = local_zone(), folder.resolve().name or "my tank"
    if has_terminal():
        ask(answers, {"timezone": zone or "", "name": name}, folder)
    elif zone is not None:
        answers.setdefault("timezone", zone)
    answers.setdefault("name", name)
    if (system := system_of(value for path, value in answers.items() if path.startswith(("tank.", "rock.", "room.", "equipment.")))) is not None:
        answers.setdefault("units", system)  # whoever measures in inches reads gallons
    if "tank.volume" not in answers and not {"tank.length", "tank.width", "tank.height"} <= answers.keys():
        raise Refused("the size of the tank is not given. Add --length, --width and --height, such as `--length 80cm --width 45cm --height 45cm`, or --volume")
    answers.setdefault("start", (today or _today(answers.get("timezone"))).isoformat())
    if problem := first_problem(answers):
        raise Refused(problem)
    return answers


def _today(zone: str | None) -> date:
    """The day in the tank's zone; in UTC where none is given or it is unknown (which is told when the file is checked)."""
    try:
        return datetime.now(UTC).astimezone(ZoneInfo(zone) if zone else UTC).date()
    except (ValueError, OSError, KeyError):
        return datetime.now(UTC).date()


def local_zone() -> str | None:
    """The computer's zone by its region and city, where that can be told. A computer that was left at UTC (`Etc/UTC`) tells nothing of its place."""
    named = [os.environ.get("TZ", "").removeprefix(":"), LOCALTIME.resolve().as_posix().partition("zoneinfo/")[2]]
    with suppress(ValueError, OSError):  # only some systems have this file
        named.append(TIMEZONE.read_text("utf-8").strip())
    for zone in named:
        try:
            if "/" in zone and not zone.startswith("Etc/"):
                return ZoneInfo(zone).key
        except (ValueError, OSError, KeyError):
            continue
    return None


def _scenario(name: str) -> Path:
    """The folder of a scenario: one that ships with the package, or any tank folder."""
    root = shipped("scenarios")
    for path in (root / Path(name).name, Path(name)):
        if (path / "tank.yaml").is_file():
            return path
    known = sorted(p.parent.name for p in root.glob("*/tank.yaml"))
    near = nearest(name, known)
    raise Refused(f"there is no scenario '{name}'. " + (f"Did you mean '{near}'?" if near else f"There are: {', '.join(known) or 'none in this copy'}"))


def _from_scenario(source: Path, given: dict[str, str], id: str, start: date | None) -> str:
    """The scenario's text with an id of its own and, unless its journal comes along, a start of its own."""
    other = [path for path in given if path not in (*TOP_KEYS, "id", "start")]
    if other:
        raise Refused(f"{other[0]} comes from the scenario here. Start from it, and edit tank.yaml afterwards")
    text = (source / "tank.yaml").read_text(encoding="utf-8-sig")
    for key, value in ({"start": start.isoformat()} if start is not None else {}).items():
        text = replace_key(text, key, value)
    for key, value in given.items():
        text = replace_key(text, key, value)
    return replace_key(text, "id", id)


def _write(folder: Path, text: str, journal: bytes) -> bool:
    """True: an older journal was kept."""
    try:
        return write_new_tank(folder, text, journal)
    except FileExistsError:
        raise Refused(f"{folder / 'tank.yaml'} is there already and is not overwritten") from None
    except OSError as error:
        raise click.ClickException(f"{folder} cannot be written: {error.strerror or error}.") from None


def _tell_wishes(text: str) -> None:
    """Wishes that name no single animal, while their file is still in mind."""
    tank, _ = read_tank(text, "tank.yaml")
    if tank is None or not tank.wish_list:
        return
    from planner.show.words.wish_list import unclear_words
    from planner.stock.catalogue import load_catalogue

    catalogue = load_catalogue([shipped("rules") / "livestock"])
    for wish in tank.wish_list:
        found = catalogue.find(wish.animal)
        if found.animal is None:
            click.echo(visible(unclear_words(wish.animal, found.candidates, catalogue)), err=True)


def _tell(folder: Path, id: str, missing: tuple[str, ...], kept: bool, as_json: bool) -> None:
    place = _quoted(folder)
    if as_json:
        print_json({"folder": str(folder), "id": id, "undescribed": list(missing), "journal_kept": kept, "next": f"newtank plan {place}"})
        return
    click.echo(f"Written: {folder / 'tank.yaml'} and {folder / 'journal.csv'}" + (" (the journal was there already and is kept)." if kept else "."))
    if missing:
        click.echo(wrapped(f"Not described yet: {', '.join(missing)}. Until you add them, the plan stays on the safe side."))
    click.echo(f"Next: newtank plan {place}   and every day: newtank today {place}")


__all__ = ["local_zone", "start_command"]
