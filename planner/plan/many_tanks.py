"""Many tank folders at once, the part that touches nothing: what became of each, and where its files go."""

from __future__ import annotations

import hashlib
import os
import re
import unicodedata
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from pathlib import PurePosixPath

from planner.terms.records import Problem

PLAN, CALENDAR, HANDOUT = "plan.json", "calendar.ics", "handout.pdf"
FILES = (PLAN, CALENDAR, HANDOUT)
"""The three files of a tank, the same in every output folder."""
CHANGED = "changed.pdf"
"""Beside them, after a run that asked for it: the first side and the sheets that changed, to be printed and exchanged."""

NAME_OCTETS = 200
"""UTF-8 octets of one part of an output path; what is longer is cut, so that the mark behind it fits on any system."""

_RESERVED = re.compile(r"(con|prn|aux|nul|conin\$|conout\$|(com|lpt)[0-9\u00b9\u00b2\u00b3])( *\..*)?", re.IGNORECASE)
_UNSEEN = ("Cc", "Cf", "Cs", "Zl", "Zp")
_MARKED = re.compile(r".*~[0-9a-f]{12}")


class End(StrEnum):
    """How one file ended."""

    WRITTEN = "written"
    UNCHANGED = "unchanged"
    REFUSED = "refused"


@dataclass(frozen=True, slots=True)
class Made:
    """What became of one tank folder. `folder` and `out` are relative paths as shown; `files` follows `FILES`, empty where
    the whole folder was refused; `changes`: what the new edition says of the last one; `bug` is the report of a mistake of ours."""

    folder: str
    out: str
    name: str = ""
    tank_id: str | None = None
    first_animal: date | None = None
    animals_in: bool = False
    files: tuple[tuple[str, End], ...] = ()
    problems: tuple[Problem, ...] = ()
    warnings: tuple[str, ...] = ()
    bug: str = ""
    changes: tuple[str, ...] = ()

    @property
    def refused(self) -> bool:
        """Nothing of this folder was made."""
        return not self.files

    def count(self, end: End) -> int:
        return sum(e is end for _, e in self.files)


def exit_code(made: Iterable[Made]) -> int:
    """0 all well, 1 some folder has problems, 3 a mistake of ours was met."""
    made = tuple(made)
    return 3 if any(m.bug for m in made) else 1 if any(m.problems for m in made) else 0


def twins(ids: Sequence[tuple[str, str | None]]) -> dict[str, tuple[str, ...]]:
    """For (folder, id) pairs: each folder whose id stands in others too, with those others."""
    by_id: dict[str, list[str]] = {}
    for folder, tank_id in ids:
        if tank_id is not None:
            by_id.setdefault(tank_id, []).append(folder)
    return {folder: tuple(o for o in same if o != folder) for same in by_id.values() if len(same) > 1 for folder in same}


def output_paths(folders: Sequence[PurePosixPath]) -> tuple[PurePosixPath, ...]:
    """For each tank folder (relative to the folder of all) the relative path of its files: the same path, in names that any
    system can hold. A name that had to be changed, and names that differ only in what some system ignores (capitals, how an
    accent is coded), carry a mark made from the folder's own path, so that no two folders share an output."""
    found = [PurePosixPath(*(_safe(part) for part in folder.parts)) for folder in folders]
    seen = Counter(_folded(path) for path in found)
    return tuple(
        path.with_name(path.name + _mark(str(folder))) if seen[_folded(path)] > 1 and path.name else path
        for folder, path in zip(folders, found, strict=True)
    )


def _safe(part: str) -> str:
    """One part of a path; unchanged but for the coding of its accents where any system can hold it."""
    name = unicodedata.normalize("NFC", part)
    plain = "".join("_" if c in '<>:"/\\|?*' or unicodedata.category(c) in _UNSEEN and c != "\u200d" else c for c in name)
    plain = plain.encode()[:NAME_OCTETS].decode("utf-8", "ignore")
    plain = re.sub(r"^[. ]|[. ]$", "_", plain.replace("~", "_") if _MARKED.fullmatch(plain) else plain)
    if _RESERVED.fullmatch(plain) or plain.casefold() in FILES:
        plain = f"_{plain}"
    return plain if plain == name else plain + _mark(part)


def _mark(text: str) -> str:
    return "~" + hashlib.sha256(os.fsencode(text)).hexdigest()[:12]


def _folded(path: PurePosixPath) -> str:
    return unicodedata.normalize("NFC", str(path).casefold())


__all__ = ["CALENDAR", "CHANGED", "FILES", "HANDOUT", "PLAN", "End", "Made", "exit_code", "output_paths", "twins"]
