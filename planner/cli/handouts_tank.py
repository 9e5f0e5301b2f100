"""One tank's work for a batch: its plan, calendar and printed plan, from its own folder into its own output.

`make_tank` is a function of one small record that can be pickled, and touches that tank's folder and output alone, so
that any executor can run it, in any order and in any number at a time.
"""

from __future__ import annotations

import hashlib
import json
import platform
import sys
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, datetime
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from planner.cli.bug import bug_report
from planner.cli.common import json_text, logo_of, read_shop_file
from planner.cli.kept_place import kept_here
from planner.cli.share import export_calendar, id_missing
from planner.door.folder import Loaded, Rules, cannot_read, read_folder, read_rules, shown_path
from planner.files.calendar_log import EXPORT_LOG_NAME
from planner.files.read_file import JOURNAL_MOST_BYTES, read_plain_file
from planner.files.tank import read_tank
from planner.files.whole_file import put_whole_file
from planner.judge.facts import first_animal, zone_of
from planner.plan.make import plan_with_stock
from planner.plan.many_tanks import CALENDAR, CHANGED, FILES, HANDOUT, PLAN, End, Made
from planner.plan.milestones import next_animal
from planner.show.json.plan_document import plan_document
from planner.show.words.causes import all_words

if TYPE_CHECKING:  # the page setter is loaded by the first tank that needs it
    from planner.plan.shop_file import Shop
    from planner.show.paper.handout import Paper

NOTED = ".newtank.json"
"""Beside the files of a tank: from what they were made, so that nothing is worked out twice."""


@dataclass(frozen=True, slots=True)
class Settings:
    """What all tanks of a batch share. `on` is a pretended day, else each tank has its own at `now`; `program` stands for
    everything else that decides the files: this program, its libraries, rules and shop. `changed`: a printed plan goes on from
    the last edition in its place, and what to exchange stands in a file of its own."""

    now: datetime
    on: date | None = None
    rules_dir: Path | None = None
    shop_file: Path | None = None
    paper: Paper | None = None
    program: str = ""
    changed: bool = False


@dataclass(frozen=True, slots=True)
class Job:
    """One tank: its folder, the folder of its files, and both as shown."""

    folder: Path
    output: Path
    shown: str
    shown_output: str
    settings: Settings


def make_tank(job: Job) -> Made:
    """Make the files of one tank, or say why not. Never raises but for an interrupt."""
    blank = Made(job.shown, job.shown_output)
    try:
        return _make(job, blank)
    except OSError as error:
        return replace(blank, problems=(cannot_read(Path(str(error.filename or job.folder)), error),))
    except (KeyboardInterrupt, GeneratorExit):
        raise
    except BaseException:  # a panic of the page setter, which is written in another language, is no Exception
        return replace(blank, bug=bug_report(f"handouts, folder {job.shown}"))


def _make(job: Job, blank: Made) -> Made:
    settings = job.settings
    given = read_plain_file(job.folder / "tank.yaml")
    tank, problems = read_tank(given, shown_path(job.folder / "tank.yaml"))
    if tank is None:
        return replace(blank, problems=problems)
    blank = replace(blank, name=tank.name, tank_id=tank.id)
    if tank.id is None:
        return replace(blank, problems=(*problems, id_missing(job.folder)))
    on = settings.on or settings.now.astimezone(zone_of(tank)).date()
    inputs = [settings.program, str(on), str(settings.on is None), str(settings.paper), *(["changed"] if settings.changed else []), given, *_bytes_of(job.folder / "journal.csv")]
    noted = _noted(job, [*inputs, *_bytes_of(job.folder / EXPORT_LOG_NAME)])
    if noted is not None:
        return replace(blank, files=tuple((name, End.UNCHANGED) for name in FILES), warnings=noted.warnings,
                       first_animal=noted.first_animal, animals_in=noted.animals_in)
    loaded = read_folder(job.folder, settings.on, _rules(settings.rules_dir, settings.program), settings.now, kept=kept_here())
    if not isinstance(loaded, Loaded):  # somebody is writing there
        return replace(blank, problems=loaded.problems)
    made = _write(job, loaded, blank)
    _note(job, made, [*inputs, *_bytes_of(job.folder / EXPORT_LOG_NAME)])
    return made


def _write(job: Job, loaded: Loaded, blank: Made) -> Made:
    """Work everything out, then write: plan, calendar, printed plan. A calendar that is refused stops neither of the others."""
    from planner.show.paper.edition import facts_in
    from planner.show.paper.handout import handout_from_plan
    from planner.show.paper.parts import CHANGED as CHANGED_PARTS

    catalogue = loaded.catalogue
    plan, stock = plan_with_stock(loaded.tank, loaded.journal, loaded.rules, loaded.on, None, loaded.problems, catalogue, kept_here())
    text = json_text(plan_document(plan, loaded.rules)) + "\n"
    shop, logo = _shop(job.settings.shop_file, job.settings.program)
    last = facts_in(_bytes_or_none(job.output / HANDOUT)) if job.settings.changed else None
    printed = handout_from_plan(plan, loaded.tank, loaded.journal, loaded.rules, stock, catalogue, shop=shop, logo=logo, paper=job.settings.paper, last=last)
    same = last is not None and printed.edition.number == last["edition"]
    exchanged = handout_from_plan(plan, loaded.tank, loaded.journal, loaded.rules, stock, catalogue, shop=shop, logo=logo, paper=job.settings.paper, last=last, only=(CHANGED_PARTS,)) if last is not None and not same else None
    job.output.mkdir(parents=True, exist_ok=True)
    ends = {PLAN: _put(job.output / PLAN, text.encode())}
    revision, written, problems = export_calendar(loaded, plan, job.output / CALENDAR, True, None if loaded.pretended else job.settings.now)
    ends[CALENDAR] = End.REFUSED if revision is None else End.WRITTEN if written else End.UNCHANGED
    ends[HANDOUT] = End.UNCHANGED if same else _put(job.output / HANDOUT, printed.pdf)
    if exchanged is not None:
        _put(job.output / CHANGED, exchanged.pdf)
    else:
        (job.output / CHANGED).unlink(missing_ok=True)
    came = first_animal(loaded.facts())
    return replace(blank, files=tuple((name, ends[name]) for name in FILES), problems=(*loaded.problems, *problems), warnings=(*(all_words(stock.about_wishes, plan.units) if stock is not None else ()), *printed.warnings),
                   first_animal=came.day if came else next_animal(plan).likely, animals_in=came is not None, changes=printed.edition.changes if exchanged is not None else ())


def _bytes_or_none(path: Path) -> bytes:
    """What stands in the file, nothing where there is none."""
    try:
        return path.read_bytes()
    except FileNotFoundError:
        return b""


def _put(path: Path, data: bytes) -> End:
    return End.WRITTEN if put_whole_file(path, data) else End.UNCHANGED


@lru_cache(1)
def _rules(rules_dir: Path | None, _program: str) -> Rules:
    """The rules, read once for each process and state of them."""
    return read_rules(rules_dir)


@lru_cache(1)
def _shop(shop_file: Path | None, _program: str) -> tuple[Shop | None, bytes | None]:
    """The shop and its logo, in the same way; what is wrong with them is told once for the batch."""
    shop, _ = read_shop_file(shop_file)
    return shop, logo_of(shop)


# --- what the files were made from


def _bytes_of(path: Path) -> tuple[bytes | str, ...]:
    try:
        return (read_plain_file(path, JOURNAL_MOST_BYTES),)
    except FileNotFoundError:
        return ("",)


def mark_of(parts: Iterable[bytes | str]) -> str:
    """One digest of several parts, each with its length, so that no two lists of parts run together."""
    told = hashlib.sha256()
    for part in parts:
        data = part if isinstance(part, bytes) else part.encode("utf-8", "surrogateescape")
        told.update(f"{len(data)}:".encode() + data)
    return told.hexdigest()


def _noted(job: Job, inputs: list[bytes | str]) -> Made | None:
    """What was noted when these files were made from just these inputs; None if anything differs or a file is not as made."""
    try:
        note = json.loads((job.output / NOTED).read_bytes())
        if note["inputs"] != mark_of(inputs) or any(note["files"][name] != mark_of(_bytes_of(job.output / name)) for name in FILES):
            return None
        day = note["first_animal"]
        return Made(job.shown, job.shown_output, first_animal=date.fromisoformat(day) if day else None, animals_in=bool(note["animals_in"]),
                    warnings=tuple(map(str, note["warnings"])))
    except (FileNotFoundError, NotADirectoryError, ValueError, KeyError, TypeError):
        return None


def _note(job: Job, made: Made, inputs: list[bytes | str]) -> None:
    """Note from what the files were made. Where there are problems nothing is passed over next time: they are said again."""
    note = {
        "folder": made.folder, "inputs": "" if made.problems else mark_of(inputs), "files": {name: mark_of(_bytes_of(job.output / name)) for name in FILES},
        "first_animal": made.first_animal.isoformat() if made.first_animal else None, "animals_in": made.animals_in, "warnings": list(made.warnings),
    }
    put_whole_file(job.output / NOTED, (json.dumps(note, ensure_ascii=True, indent=1) + "\n").encode())


def program_mark(folders: Iterable[Path], files: Iterable[Path]) -> str:
    """What else decides the files: this program, the version of everything installed beside it, and these folders and files."""
    parts: list[bytes | str] = [platform.python_version()]
    parts += sorted(told.name for folder in dict.fromkeys(sys.path) for told in Path(folder).glob("*.*-info"))  # the name of each folder has the version in it
    for root in (Path(__file__).parents[1], *folders):
        for path in sorted(p for p in root.rglob("*") if p.is_file() and "__pycache__" not in p.parts):
            parts += [path.relative_to(root).as_posix(), path.read_bytes()]
    for path in files:
        parts += [path.name, path.read_bytes()]
    return mark_of(parts)


__all__ = ["NOTED", "Job", "Settings", "make_tank", "mark_of", "program_mark"]
