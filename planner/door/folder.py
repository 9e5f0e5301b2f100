"""A tank folder into one record, and the record into a plan.

Mistakes in files are values: they stand in `problems`, and whatever can still be planned is planned.
"""

from __future__ import annotations

import errno
import os
from dataclasses import replace
from datetime import UTC, date, datetime
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, overload

from planner.files.journal import read_journal
from planner.files.journal_file import read_journal_file
from planner.files.kept import Kept
from planner.files.read_file import FileRefused, read_plain_file
from planner.files.tank import Tank, wrong_phases
from planner.files.tank_kept import read_tank_kept
from planner.frozen import dataclass
from planner.judge.facts import Facts, gather, zone_of
from planner.judge.plausible import believed
from planner.plan import make as core
from planner.rulebook.read import shipped
from planner.rulebook.shapes import Rulebook
from planner.rulebook.shipped_cache import load_shipped_rules
from planner.terms.journal_words import EVENTS
from planner.terms.problems import Place, Problem, sort_problems
from planner.terms.records import Journal, Plan

if TYPE_CHECKING:  # loaded only where there is a wish list, or a page of the day
    from planner.plan.day_jobs import Day
    from planner.stock.catalogue import Catalogue


@dataclass(frozen=True, slots=True)
class Rules:
    """The shipped rules, with a folder of house rules laid over them if one was named; the folders of animals in the order
    in which they lie over one another; and what is wrong with all of it."""

    book: Rulebook
    livestock: tuple[Path, ...]
    problems: tuple[Problem, ...]


@dataclass(frozen=True, slots=True)
class TankFolder:
    """A tank folder, read for the day `on`. `tank` is None where nothing can be planned: no tank file, one that describes
    no tank, or a journal that cannot be opened. `pretended` says that the caller named the day."""

    path: Path
    tank: Tank | None
    journal: Journal
    rules: Rulebook
    on: date
    pretended: bool
    problems: tuple[Problem, ...]
    livestock: tuple[Path, ...]

    @property
    def catalogue(self) -> Catalogue | None:
        """The animals, read only where a wish list asks for them."""
        return read_animals(self.livestock) if self.tank is not None and self.tank.wish_list else None


@dataclass(frozen=True, slots=True)
class Loaded(TankFolder):
    """One from which something can be planned. `kept` spares work done before."""

    tank: Tank
    kept: Kept | None = None

    def plan(self, until: date | None = None) -> Plan:
        return self.plan_of(self.journal, self.on, until)

    def plan_of(self, journal: Journal, on: date, until: date | None = None) -> Plan:
        """The plan of this tank with another journal or on another day."""
        return core.make_plan(self.tank, journal, self.rules, on, until, self.problems, self.catalogue, self.kept)

    def facts(self) -> Facts:
        """What the tank and its journal say on this day; a row that cannot be right does not count, as in the plan."""
        return gather(self.tank, believed(self.tank, self.journal, self.rules, self.on), self.on)

    def day(self, plan: Plan | None = None, news: bool = True) -> Day:
        """The page of this day: its plan and its numbered jobs. Without news: for who looks at single jobs, also at closed ones."""
        from planner.plan.day_jobs import day_of

        return day_of(self.tank, self.journal, self.rules, plan or self.plan(), self.plan_of, news, self.kept if news else None)


def read_folder(path: Path | str, on: date | None = None, rules: Rules | Path | str | None = None, now: datetime | None = None,
                kept: Kept | None = None) -> TankFolder:
    """Tank, journal and rules of a tank folder: `Loaded` where something can be planned from it.

    `on`: the day of the plan; else the tank's own day at `now` (with an offset; else by the clock). `rules`: a folder of
    house rules, or what `read_rules` gave, where many tanks share it (its problems are not told again); else the shipped rules. Never raises for what stands
    in the files or for a file that cannot be read: both are in `problems`, sorted by place.
    """
    folder, now = Path(path), now or datetime.now(UTC)
    tank, journal = None, Journal(())
    problems: tuple[Problem, ...] = ()
    if not isinstance(rules, Rules):
        rules = read_rules(Path(rules) if rules is not None else None)
        problems = rules.problems
    file = folder / "tank.yaml"
    try:
        text = read_plain_file(file)
        tank, more = read_tank_kept(kept, text, shown_path(file))
        problems = (*problems, *more)
        if tank is not None:
            tank, more = wrong_phases(tank, [p.phase for p in rules.book.phases], text, shown_path(file))
            problems = (*problems, *more)
            file = folder / "journal.csv"
            journal, more = read_journal(journal_bytes(file), shown_path(file), tank, zone_of(tank), events_of(rules.book))
            problems = (*problems, *more)
    except OSError as error:
        tank, problems = None, (*problems, cannot_read(file, error))
    day = on or now.astimezone(zone_of(tank) if tank is not None else UTC).date()
    read = TankFolder(folder, tank, journal, rules.book, day, on is not None, sort_problems(problems), rules.livestock)
    return read if tank is None else Loaded(folder, tank, journal, rules.book, day, read.pretended, read.problems, rules.livestock, kept)


@overload
def make_plan(folder: TankFolder, *, on: date | None = None, until: date | None = None, kept: Kept | None = None) -> Plan: ...
@overload
def make_plan(folder: Tank, journal: Journal, rules: Rulebook, on: date, until: date | None = None, problems: tuple[Problem, ...] = (), catalogue: Catalogue | None = None, kept: Kept | None = None) -> Plan: ...
def make_plan(folder: TankFolder | Tank, journal: Journal | None = None, rules: Rulebook | None = None, on: date | None = None, until: date | None = None,
              problems: tuple[Problem, ...] = (), catalogue: Catalogue | None = None, kept: Kept | None = None) -> Plan:
    """The plan of a folder that was read, on its day or on `on`; or of a tank, its journal, rules and a day. The stages of a
    wish list are in it, from the folder's own animals, from `catalogue`, or else from the shipped ones. `until` asks for
    repeating tasks up to that day. `kept` (`planner.files.kept.Kept(folder)`) spares work done before and changes
    nothing else. Raises ValueError for a folder without a tank, for which there is no plan.
    """
    if isinstance(folder, TankFolder):
        if folder.tank is None:
            raise ValueError(f"nothing can be planned from {folder.path}: see its problems")
        return core.make_plan(folder.tank, folder.journal, folder.rules, on or folder.on, until, folder.problems, folder.catalogue, kept)
    if journal is None or rules is None or on is None:
        raise TypeError("a plan needs a folder that was read, or a tank, a journal, rules and a day")
    if catalogue is None and folder.wish_list:
        catalogue = read_animals((shipped("rules") / "livestock",))
    return core.make_plan(folder, journal, rules, on, until, problems, catalogue, kept)


def read_rules(house: Path | None = None) -> Rules:
    """The shipped rules, with a folder of house rules laid over them if one is named."""
    animals: tuple[Path, ...] = (shipped("rules") / "livestock",)
    if house is None:
        book, problems = load_shipped_rules()
        return Rules(book, animals, problems)
    from planner.judge.figures import RESTS_ON
    from planner.rulebook.house.overlay import load_book  # the rooms of house rules are loaded only where there are any

    book, problems = load_book(house, RESTS_ON, shown_path(house))
    if (house / "livestock").is_dir():
        animals = (*animals, house / "livestock")
        catalogue = read_animals(animals)
        book = replace(book, house=(*book.house, *catalogue.house), groups={**book.groups, **{a.id: a.group for a in catalogue.animals}})
        problems = sort_problems([*problems, *catalogue.problems])
    return Rules(book, animals, problems)


def events_of(book: Rulebook) -> frozenset[str]:
    """The events that a journal beside these rules may speak of."""
    if not book.house:
        return EVENTS
    from planner.door.entry_words import known_events

    return EVENTS | frozenset(known_events(book))


@cache
def read_animals(folders: tuple[Path, ...]) -> Catalogue:
    """The catalogue of these folders, read once for each process."""
    from planner.stock.catalogue import load_catalogue

    return load_catalogue(folders)


def journal_bytes(path: Path) -> bytes:
    """A journal as it stands; nothing where there is none. Raises OSError."""
    try:
        return read_journal_file(path)
    except FileNotFoundError:
        return b""


def shown_path(path: Path) -> str:
    """A path as the keeper would type it."""
    try:
        return Path(os.path.realpath(path)).relative_to(Path.cwd()).as_posix()
    except (ValueError, OSError):
        return path.as_posix()


def cannot_read(path: Path, error: OSError) -> Problem:
    """A file that is not there, or that cannot be read."""
    if isinstance(error, FileNotFoundError | NotADirectoryError):
        return Problem(Place(shown_path(path)), "file-missing", f"there is no file '{path.name}' here", "Name a tank folder, or make one with `newtank start my-tank`.")
    return cannot_write(path, error)


def cannot_write(path: Path, error: OSError) -> Problem:
    """Why a file cannot be read or written: what stands in its place, or the system's refusal."""
    place = Place(shown_path(path))
    if isinstance(error, FileRefused):
        return Problem(place, error.code, error.message, error.fix)
    return Problem(place, "file-refused", f"the system refuses this file: {error.strerror or error}", FIXES.get(error.errno or 0, "Close the program that has it open, or name another place."))


FIXES = {errno.EEXIST: "Move it away, or name another place.", errno.EACCES: "Mend its permissions.", errno.EPERM: "Mend its permissions.", errno.EROFS: "Name a place that can be written to.",
         errno.ENOSPC: "The disk is full: free some space on it.", errno.EDQUOT: "Your share of the disk is used up: free some of it.",
         errno.EFBIG: "No file here may be so large: raise the limit, or name another place."}
"""What helps, by the system's own number of its refusal."""


__all__ = ["Loaded", "Rules", "TankFolder", "cannot_read", "cannot_write", "events_of", "journal_bytes", "make_plan", "read_animals", "read_folder", "read_rules", "shown_path"]
