"""The one strict YAML reader: plain data with the place of every key and value, and our own wording for mistakes.

Every scalar stays text: `off`, `12:30`, `2026-03-04` and `1.0` are what was written. Duplicate keys, anchors, aliases,
tags, tabs, several documents and keys that are not text are refused. The C parser does the work; the tree is built
here, from its events, because the library's own builder keeps no places and resolves aliases silently.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any, TypeAlias

import yaml

from planner.files.read_file import UTF16, is_utf16
from planner.files.yaml_broken import character_problem, column_of_sentence, line_of, syntax_problem
from planner.terms.problems import Place, Problem, sort_problems

Path: TypeAlias = tuple[str | int, ...]
Data: TypeAlias = "dict[str, Data] | list[Data] | str | None"
Spot: TypeAlias = "tuple[int, int, dict[str, tuple[Spot, Spot]] | list[Spot] | None]"
"""Line and column, counted from 0, with those of what stands inside: (key, value) by key, or values in order."""

_DEPTH = 40
_SENTENCES = 200
"""Texts of one file that may lack their quotes before its reading is given up."""
_COLON = "\ua789"
"""Stands for a colon that belongs to a sentence while the file is read once more."""


class Places:
    """Where each value and each key was written, by its path. Only line and column are kept while reading: a place is
    made when it is asked for, and hardly any is."""

    def __init__(self, file: str, root: Spot | None = None) -> None:
        self.file, self.root = file, root

    def get(self, path: Path) -> Place | None:
        """The place of the value at `path`, None where nothing stands."""
        reached, _, spot = self._walk(path)
        return self._place(spot) if spot is not None and reached == len(path) else None

    def of_key(self, path: Path) -> Place:
        """The place of the key that leads to `path`, else of the value, else of the nearest thing around it."""
        reached, key, spot = self._walk(path)
        return self._place(key if key is not None and reached == len(path) else spot)

    def around(self, path: Path) -> Place:
        """The place of the value at `path`, else of the nearest thing around it."""
        return self._place(self._walk(path)[2])

    def under(self, heading: str) -> Places:
        """The same places where the whole file stands below a heading that nobody wrote."""
        return Places(self.file, self.root and (-1, -1, {heading: (self.root, self.root)}))

    def part(self, path: Path) -> Places:
        """The places of what stands at `path`, by paths that begin there."""
        reached, _, spot = self._walk(path)
        return Places(self.file, spot if reached == len(path) else None)

    def _walk(self, path: Path) -> tuple[int, Spot | None, Spot | None]:
        """How far a path leads, with the key (of a block) and the value last reached."""
        spot, key, reached = self.root, None, 0
        for step in path:
            inner = spot[2] if spot is not None else None
            if isinstance(inner, dict) and isinstance(step, str) and step in inner:
                key, spot = inner[step]
            elif isinstance(inner, list) and isinstance(step, int) and 0 <= step < len(inner):
                key, spot = None, inner[step]
            else:
                break
            reached += 1
        return reached, key, spot

    def _place(self, spot: Spot | None) -> Place:
        return Place(self.file) if spot is None else Place(self.file, spot[0] + 1, spot[1] + 1)


class _Stop(Exception):
    """Reading cannot go on: the rest of the text has lost its structure."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem


class _Builder:
    def __init__(self, file: str, lines: list[str], text: str) -> None:
        self.file, self.lines, self.mended = file, lines, _COLON in text
        self.next: Callable[[], Any] = yaml.CSafeLoader(text).get_event
        self.problems: list[Problem] = []

    def problem(self, mark: Any, code: str, message: str, fix: str) -> Problem:
        place = Place(self.file, mark.line + 1, mark.column + 1)
        return Problem(place, code, message, fix, line_of(self.lines, place.line))

    def complain(self, mark: Any, code: str, message: str, fix: str) -> None:
        self.problems.append(self.problem(mark, code, message, fix))

    def document(self) -> tuple[Data, Spot | None]:
        data: Data = None
        spot: Spot | None = None
        documents = 0
        while (kind := type(event := self.next())) is not yaml.StreamEndEvent:
            if kind is yaml.DocumentStartEvent:
                documents += 1
                if documents > 1:
                    raise _Stop(
                        self.problem(
                            event.start_mark,
                            "yaml-documents",
                            "a second document begins here",
                            "take the line `---` out, or move what follows to a file of its own",
                        )
                    )
            elif kind is not yaml.StreamStartEvent and kind is not yaml.DocumentEndEvent:
                data, spot = self.node(event, 0)
        return data, spot

    def node(self, event: Any, depth: int) -> tuple[Data, Spot]:
        mark = event.start_mark
        line, column = mark.line, mark.column
        if depth > _DEPTH:
            raise _Stop(self.problem( mark, "yaml-deep", "keys are nested more deeply than any file of ours needs", "check the brackets and the indentation", ))
        kind = type(event)
        if kind is yaml.AliasEvent:
            self.complain(mark, "yaml-anchor", f"`*{event.anchor}` refers to another part of the file", "write the value out where it is needed")
            return None, (line, column, None)
        if event.anchor is not None:
            self.complain(
                mark,
                "yaml-anchor",
                f"`&{event.anchor}` names a part of the file for use elsewhere",
                f"take `&{event.anchor}` out and write the value where it is needed; "
                "put quotes round text that begins with `&`",
            )
        if event.tag is not None:
            self.complain(
                mark,
                "yaml-tag",
                f"`{self.written_tag(mark)}` asks for a special type; all values here are plain text",
                "take the tag out; put quotes round text that begins with `!`",
            )
        if kind is yaml.MappingStartEvent:
            found, inside = self.mapping(depth)
            return found, (line, column, inside)
        if kind is yaml.SequenceStartEvent:
            items, spots = self.sequence(depth)
            return items, (line, column, spots)
        text: str = event.value.replace(_COLON, ":") if self.mended else event.value
        return None if not text and not event.style else text, (line, column, None)

    def written_tag(self, mark: Any) -> str:
        return (re.match(r"![^\s]*", line_of(self.lines, mark.line + 1)[mark.column :]) or ["!"])[0]

    def sequence(self, depth: int) -> tuple[list[Data], list[Spot]]:
        items: list[Data] = []
        spots: list[Spot] = []
        while type(event := self.next()) is not yaml.SequenceEndEvent:
            item, spot = self.node(event, depth + 1)
            items.append(item)
            spots.append(spot)
        return items, spots

    def mapping(self, depth: int) -> tuple[dict[str, Data], dict[str, tuple[Spot, Spot]]]:
        found: dict[str, Data] = {}
        inside: dict[str, tuple[Spot, Spot]] = {}
        while (kind := type(event := self.next())) is not yaml.MappingEndEvent:
            mark = event.start_mark
            if kind is not yaml.ScalarEvent:
                self.complain(mark, "yaml-key", "a key must be plain text", "write `key: value`")
                self.skip(event)
                self.skip(self.next())
                continue
            if event.anchor is not None or event.tag is not None:
                self.complain(
                    mark, "yaml-key", "a key must be plain text, without anchor or tag", "write `key: value`"
                )
            key: str = event.value
            if key in found:
                self.complain(
                    mark,
                    "duplicate-key",
                    f"the key `{key}` stands here a second time (first in line {inside[key][0][0] + 1})",
                    "keep one of the two",
                )
                self.skip(self.next())
                continue
            found[key], spot = self.node(self.next(), depth + 1)
            inside[key] = ((mark.line, mark.column, None), spot)
        return found, inside

    def skip(self, event: Any) -> None:
        depth = 0
        while True:
            depth += isinstance(event, yaml.CollectionStartEvent) - isinstance(event, yaml.CollectionEndEvent)
            if depth == 0:
                return
            event = self.next()


def decode_text(text: str | bytes, file: str) -> tuple[str, tuple[Problem, ...]]:
    """UTF-8 with or without a byte-order mark; a line that is something else is named."""
    if isinstance(text, str):
        return text.removeprefix("\ufeff"), ()
    if is_utf16(text):
        return "", (Problem(Place(file), *UTF16),)
    try:
        return text.decode("utf-8-sig"), ()
    except UnicodeDecodeError as error:
        line = text.count(b"\n", 0, error.start) + 1
        problem = Problem(
            Place(file, line, 1), "not-utf8", "this line is not UTF-8 text", "save the file as UTF-8"
        )
        return text.decode("utf-8-sig", errors="replace"), (problem,)


def read_yaml(text: str | bytes, file: str) -> tuple[Data, Places, tuple[Problem, ...]]:
    """Text into plain data, the places of it, and what was wrong. After a syntax error the data is None; after other
    mistakes it holds what could be read. An empty value is None; an empty text in quotes is text."""
    text, told = decode_text(text, file)
    lines = text.splitlines()
    problems = list(told)
    for number, line in enumerate(lines, 1):
        if "\t" in line:
            problems.append(
                Problem(Place(file, number, line.index("\t") + 1), "yaml-tab", "there is a tab in this line", "use spaces instead", line.replace("\t", " "))
            )
    source = text.replace("\t", " ")
    data: Data = None
    spot: Spot | None = None
    for _ in range(_SENTENCES):
        builder = _Builder(file, lines, source)
        try:
            data, spot = builder.document()
        except _Stop as stop:
            builder.problems.append(stop.problem)
        except yaml.MarkedYAMLError as error:
            mark: Any = error.problem_mark
            if (column := column_of_sentence(error, lines)) is not None:
                problems.append(
                    Problem(
                        Place(file, mark.line + 1, column + 1),
                        "text-unquoted",
                        "a `: ` stands inside this text, where it has a meaning of its own",
                        "put quotes around this text",
                        line_of(lines, mark.line + 1),
                    )
                )
                source = source[: mark.index] + _COLON + source[mark.index + 1 :]
                continue
            builder.problems.append(syntax_problem(error, file, lines))
        except yaml.YAMLError:
            builder.problems.append(character_problem(text, file))
        problems += builder.problems
        break
    return data, Places(file, spot), sort_problems(problems)


__all__ = ["Data", "Path", "Places", "decode_text", "line_of", "read_yaml"]
