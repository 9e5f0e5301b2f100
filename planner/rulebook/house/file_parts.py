"""A part of a house file: its data, and where each value of it stands."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from planner.files.yaml_checked import Refusal
from planner.files.yaml_tree import Data, Places, line_of
from planner.files.yaml_tree import Path as At
from planner.terms.problems import Place, Problem


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


__all__ = ["At", "Piece"]
