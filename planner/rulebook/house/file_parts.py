"""The files of a folder of house rules: which are read, and the parts of each with the places of their values."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from planner.files.read_file import FileRefused, read_plain_file
from planner.files.yaml_checked import Refusal
from planner.files.yaml_tree import Data, Places, decode_text, line_of, read_yaml
from planner.files.yaml_tree import Path as At
from planner.terms.problems import Place, Problem, nearest

FOLDERS = ("setup", "care", "alerts")
WHOLE_FILES = ("cautions.yaml", "sources.yaml", "numbers.yaml")
SUFFIXES = (".yaml", ".yml")


@dataclass(frozen=True, slots=True)
class Piece:
    """A part of a house file: its data, where each value of it stands, and where it begins."""

    data: Data
    places: Places
    lines: Sequence[str]
    head: Place

    def part(self, *path: str | int) -> Piece:
        data: Any = self.data
        for step in path:
            data = data[step]
        return Piece(data, self.places.part(path), self.lines, self.places.of_key(path))

    def without(self, *keys: str) -> Piece:
        data = {k: v for k, v in self.data.items() if k not in keys} if isinstance(self.data, dict) else self.data
        return Piece(data, self.places, self.lines, self.head)

    def place(self, path: At) -> Place:
        return self.places.of_key(path) if path else self.head

    def names(self) -> tuple[str, ...]:
        return tuple(self.data) if isinstance(self.data, dict) else ()

    def keys(self, key: str) -> Iterator[tuple[str, Piece]]:
        """The parts of a block of keys."""
        block = self.data.get(key) if isinstance(self.data, dict) else None
        for name in block if isinstance(block, dict) else ():
            yield name, self.part(key, name)

    def items(self, key: str) -> Iterator[Piece]:
        """The parts of a list."""
        listed = self.data.get(key) if isinstance(self.data, dict) else None
        for n, _ in enumerate(listed if isinstance(listed, list) else ()):
            yield self.part(key, n)

    def problem(self, refusal: Refusal, at: At = ()) -> Problem:
        place = self.place((*at, *refusal.at))
        return Problem(place, refusal.code, refusal.message, refusal.fix, line_of(list(self.lines), place.line))


def read_pieces(folder: Path, name: str) -> tuple[list[tuple[Path, Piece]], list[Problem]]:
    """Every file of the folder that can be a rule file, as one piece under its place in the folder; what looks like one and
    lies elsewhere is told. `name` is how the folder is called in messages."""
    pieces: list[tuple[Path, Piece]] = []
    problems: list[Problem] = []
    try:
        found = sorted(folder.iterdir())
    except OSError as error:
        return [], [Problem(Place(name), "unreadable", f"this folder cannot be read: {error.strerror}", "mend its permissions")]
    for path in found:
        if path.is_dir():
            files = sorted(p for p in path.rglob("*") if p.suffix in SUFFIXES)
            if path.name in FOLDERS or path.name == "livestock":
                for file in files:
                    problems += _read_file(file, file.relative_to(folder), name, pieces)
            elif any(p.suffix in SUFFIXES for p in path.iterdir()):
                near = nearest(path.name, (*FOLDERS, "livestock"))
                problems.append(_ignored(f"{name}/{path.name}", "no rule file is looked for in this folder", f"call it {near}" if near else f"put rule files into {', '.join(FOLDERS)} or livestock"))
        elif path.suffix in SUFFIXES and path.name != "shop.yaml":
            problems += _read_file(path, path.relative_to(folder), name, pieces)
    return pieces, problems


def _read_file(path: Path, inside: Path, folder: str, pieces: list[tuple[Path, Piece]]) -> Sequence[Problem]:
    """One file among the pieces, unless it is none of ours; with what is wrong with it."""
    name = f"{folder}/{inside.as_posix()}"
    if inside.name.endswith(".cases.yaml") or (inside.parts[0] == "livestock" and path.suffix == ".yaml"):
        return ()
    if path.suffix == ".yml":
        return (_ignored(name, "a file that ends in .yml is not read", f"call it {path.stem}.yaml"),)
    if inside.as_posix() not in WHOLE_FILES and len(inside.parts) != 2:
        return (_ignored(name, "no rule file is looked for here", f"put it into {', '.join(FOLDERS)} or livestock, or call it {' or '.join(WHOLE_FILES)}"),)
    try:
        written = read_plain_file(path)
    except FileRefused as error:
        return (Problem(Place(name), error.code, error.message, error.fix),)
    except OSError:
        return (Problem(Place(name), "file-missing", "this file cannot be read", "check who may read it"),)
    data, places, found = read_yaml(written, name)
    if data is None:
        return found
    piece = Piece(data, places, decode_text(written, name)[0].splitlines(), places.around(()))
    if not isinstance(data, dict):
        return (*found, piece.problem(Refusal("not-a-block", "a rule file is a block of keys", "compare it with the rule files of ours")))
    pieces.append((inside, piece))
    return found


def _ignored(name: str, message: str, fix: str) -> Problem:
    return Problem(Place(name), "file-ignored", message, fix)


__all__ = ["WHOLE_FILES", "At", "Piece", "read_pieces"]
