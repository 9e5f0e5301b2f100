"""The one strict YAML reader: plain data with the place of every key and value, and our own wording for mistakes.

Every scalar stays text: `off`, `12:30`, `2026-03-04` and `1.0` are what was written. Duplicate keys, anchors, aliases,
tags, tabs, several documents and keys that are not text are refused. The C parser does the work; the tree is built
here, from its events, because the library's own builder keeps no places and resolves aliases silently.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any, TypeAlias

import yaml

from planner.problems import Place, Problem, sort_problems

Path: TypeAlias = tuple[str | int, ...]
Data: TypeAlias = "dict[str, Data] | list[Data] | str | None"

_DEPTH = 40


class Places(dict[Path, Place]):
    """Where each value was written, by its path. `keys` of mappings have a place of their own."""

    def __init__(self, file: str) -> None:
        super().__init__()
        self.file = file
        self.of_keys: dict[Path, Place] = {}

    def of_key(self, path: Path) -> Place:
        """The place of the key that leads to `path`, else of the value, else of the nearest thing around it."""
        return self.of_keys.get(path) or self.around(path)

    def around(self, path: Path) -> Place:
        """The place of the value at `path`, else of the nearest thing around it."""
        while path:
            if path in self:
                return self[path]
            path = path[:-1]
        return self.get((), Place(self.file))


class _Stop(Exception):
    """Reading cannot go on: the rest of the text has lost its structure."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem


class _Builder:
    def __init__(self, file: str, lines: list[str]) -> None:
        self.file, self.lines = file, lines
        self.places = Places(file)
        self.problems: list[Problem] = []

    def problem(self, mark: Any, code: str, message: str, fix: str) -> Problem:
        place = Place(self.file, mark.line + 1, mark.column + 1)
        return Problem(place, code, message, fix, line_of(self.lines, place.line))

    def complain(self, mark: Any, code: str, message: str, fix: str) -> None:
        self.problems.append(self.problem(mark, code, message, fix))

    def document(self, events: Iterator[Any]) -> Data:
        data: Data = None
        documents = 0
        for event in events:
            if isinstance(event, yaml.DocumentStartEvent):
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
            elif not isinstance(event, (yaml.StreamStartEvent, yaml.StreamEndEvent, yaml.DocumentEndEvent)):
                data = self.node(event, events, ())
        return data

    def node(self, event: Any, events: Iterator[Any], path: Path) -> Data:
        mark = event.start_mark
        self.places[path] = Place(self.file, mark.line + 1, mark.column + 1)
        if len(path) > _DEPTH:
            raise _Stop(
                self.problem(
                    mark,
                    "yaml-deep",
                    "keys are nested more deeply than any file of ours needs",
                    "check the brackets and the indentation",
                )
            )
        if isinstance(event, yaml.AliasEvent):
            self.complain(
                mark,
                "yaml-anchor",
                f"`*{event.anchor}` refers to another part of the file",
                "write the value out where it is needed",
            )
            return None
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
        if isinstance(event, yaml.MappingStartEvent):
            return self.mapping(events, path)
        if isinstance(event, yaml.SequenceStartEvent):
            return self.sequence(events, path)
        text: str = event.value
        return None if not text and not event.style else text

    def written_tag(self, mark: Any) -> str:
        return (re.match(r"![^\s]*", line_of(self.lines, mark.line + 1)[mark.column :]) or ["!"])[0]

    def sequence(self, events: Iterator[Any], path: Path) -> Data:
        items: list[Data] = []
        for event in events:
            if isinstance(event, yaml.SequenceEndEvent):
                break
            items.append(self.node(event, events, (*path, len(items))))
        return items

    def mapping(self, events: Iterator[Any], path: Path) -> Data:
        found: dict[str, Data] = {}
        for event in events:
            if isinstance(event, yaml.MappingEndEvent):
                break
            mark = event.start_mark
            if not isinstance(event, yaml.ScalarEvent):
                self.complain(mark, "yaml-key", "a key must be plain text", "write `key: value`")
                self.skip(event, events)
                self.skip(next(events), events)
                continue
            if event.anchor is not None or event.tag is not None:
                self.complain(
                    mark, "yaml-key", "a key must be plain text, without anchor or tag", "write `key: value`"
                )
            key: str = event.value
            here = (*path, key)
            if key in found:
                first = self.places.of_key(here)
                self.complain(
                    mark,
                    "duplicate-key",
                    f"the key `{key}` stands here a second time (first in line {first.line})",
                    "keep one of the two",
                )
                self.skip(next(events), events)
                continue
            self.places.of_keys[here] = Place(self.file, mark.line + 1, mark.column + 1)
            found[key] = self.node(next(events), events, here)
        return found

    def skip(self, event: Any, events: Iterator[Any]) -> None:
        depth = 0
        while True:
            depth += isinstance(event, yaml.CollectionStartEvent) - isinstance(event, yaml.CollectionEndEvent)
            if depth == 0:
                return
            event = next(events)


def decode_text(text: str | bytes, file: str) -> tuple[str, tuple[Problem, ...]]:
    """UTF-8 with or without a byte-order mark; a line that is something else is named."""
    if isinstance(text, str):
        return text.removeprefix("\ufeff"), ()
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
    text, problems = decode_text(text, file)
    lines = text.splitlines()
    builder = _Builder(file, lines)
    builder.problems.extend(problems)
    for number, line in enumerate(lines, 1):
        if "\t" in line:
            builder.problems.append(
                Problem(
                    Place(file, number, line.index("\t") + 1),
                    "yaml-tab",
                    "there is a tab in this line",
                    "use spaces instead",
                    line.replace("\t", " "),
                )
            )
    try:
        data = builder.document(yaml.parse(text.replace("\t", " "), Loader=yaml.CSafeLoader))
    except _Stop as stop:
        return None, builder.places, sort_problems([*builder.problems, stop.problem])
    except yaml.MarkedYAMLError as error:
        builder.problems.append(_syntax_problem(error, file, lines))
        return None, builder.places, sort_problems(builder.problems)
    except yaml.YAMLError:
        builder.problems.append(_character_problem(text, file))
        return None, builder.places, sort_problems(builder.problems)
    return data, builder.places, sort_problems(builder.problems)


def line_of(lines: list[str], number: int) -> str:
    """A line as it is shown: tabs as one space, so that the caret stands right."""
    return lines[number - 1].replace("\t", " ") if 0 < number <= len(lines) else ""


_SYNTAX = (
    (
        "mapping values are not allowed",
        "there is a second `: ` in this line, or the line is indented too far",
        "put quotes round a text that contains `: `, or line the key up with the keys above it",
    ),
    ("could not find expected ':'", "this line has no `: ` after its key", "write `key: value`"),
    (
        "cannot start any token",
        "this line begins with a sign that has a meaning of its own",
        "put quotes round the text",
    ),
    ("unexpected end of stream", "a quotation mark is opened and never closed", "close the quotation mark"),
    (
        "did not find expected ',' or",
        "a bracket is opened and never closed, or a comma is missing",
        "close the bracket, and part its items with commas",
    ),
    (
        "did not find expected key",
        "this line does not line up with the keys above it",
        "give all keys of one block the same number of spaces",
    ),
    (
        "did not find expected '-' indicator",
        "this line does not line up with the list above it",
        "give all items of one list the same number of spaces",
    ),
    (
        "block sequence entries are not allowed",
        "a list item stands where none can be",
        "put each item on a line of its own, below its key",
    ),
    (
        "undefined alias",
        "`*` at the beginning refers to another part of the file",
        "put quotes round the text, or write the value out",
    ),
    (
        "found unknown escape character",
        "a backslash inside double quotes has a meaning of its own",
        "use single quotes",
    ),
)


def _syntax_problem(error: yaml.MarkedYAMLError, file: str, lines: list[str]) -> Problem:
    said = f"{error.problem or ''} {error.context or ''}"
    mark: Any = error.problem_mark or error.context_mark
    if ("end of stream" in said or "',' or" in said) and error.context_mark is not None:
        mark = error.context_mark
    message, fix = next(
        ((m, f) for key, m, f in _SYNTAX if key in said),
        (
            "the structure of the file cannot be followed here",
            "compare the indentation and the signs with the lines above",
        ),
    )
    if mark is None:
        return Problem(Place(file), "yaml-syntax", message, fix)
    number = min(mark.line + 1, max(len(lines), 1))
    column = mark.column + 1 if number == mark.line + 1 else 1
    return Problem(Place(file, number, column), "yaml-syntax", message, fix, line_of(lines, number))


def _character_problem(text: str, file: str) -> Problem:
    found = re.search(r"[^\n\r\x20-\x7e\x85\xa0-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]", text)
    before = text[: found.start()] if found else ""
    number = before.count("\n") + 1
    column = len(before) - (before.rfind("\n") + 1) + 1
    return Problem(
        Place(file, number, column),
        "yaml-character",
        "there is a character here that cannot be shown",
        "delete it and type the text again",
    )


__all__ = ["Data", "Path", "Places", "decode_text", "line_of", "read_yaml"]
