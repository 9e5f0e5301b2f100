"""What is wrong with YAML that cannot be read: the place where a keeper has to look, and our own words for it.

The library names the sign at which it gave up, often in a line below the mistake; its words are looked up here and never shown.
"""

from __future__ import annotations

import re
from typing import Any

import yaml

from planner.terms.problems import Place, Problem

_SYNTAX = (
    (
        "mapping values are not allowed",
        "there is a second `: ` in this line, or the line is indented too far",
        "put quotes round a text that contains `: `, or line the key up with the keys above it",
    ),
    ("could not find expected ':'", "this line has no `: ` after its key", "write `key: value`"),
    ("cannot start any token", "this line begins with a sign that has a meaning of its own", "put quotes round the text"),
    ("unexpected end of stream", "a quotation mark is opened and never closed", "close the quotation mark"),
    ("did not find expected ',' or", "a bracket is opened and never closed, or a comma is missing", "close the bracket, and part its items with commas"),
    ("did not find expected key", "this line does not line up with the keys above it", "give all keys of one block the same number of spaces"),
    ("did not find expected '-' indicator", "this line does not line up with the list above it", "give all items of one list the same number of spaces"),
    ("block sequence entries are not allowed", "a list item stands where none can be", "put each item on a line of its own, below its key"),
    ("undefined alias", "`*` at the beginning refers to another part of the file", "put quotes round the text, or write the value out"),
    ("found unknown escape character", "a backslash inside double quotes has a meaning of its own", "use single quotes"),
)
_NO_COLON = re.compile(r"(\s*)([A-Za-z_]\w*)(?=\s|:\S|$)(?!.*:(?:\s|$)):?\s*(.*?)\s*$")
"""A line whose key has no `: ` after it: its indent, its key and the rest."""


def line_of(lines: list[str], number: int) -> str:
    """A line as it is shown: tabs as one space, so that the caret stands right."""
    return lines[number - 1].replace("\t", " ") if 0 < number <= len(lines) else ""


def column_of_sentence(error: yaml.MarkedYAMLError, lines: list[str]) -> int | None:
    """The column of a text that YAML took for a key because of a colon in it. None: something else is wrong there."""
    mark: Any = error.problem_mark
    if mark is None or "mapping values are not allowed" not in (error.problem or ""):
        return None
    before = line_of(lines, mark.line + 1)[: mark.column]
    words = re.sub(r"^\s*(?:- +)*", "", before)
    start = len(before) - len(words)
    if found := re.match(r"[^\s:]+: +(?=\S)", words):
        return start + found.end()
    return start if " " in words.strip() else None


def _lost_colon(line: int, file: str, lines: list[str]) -> Problem | None:
    """The nearest line above this one where a key lost its colon: YAML then stumbles only at the next key."""
    before = next((n for n in range(min(line, len(lines)) - 1, -1, -1) if (text := lines[n].strip()) and not text.startswith("#")), None)
    found = _NO_COLON.match(lines[before].partition(" #")[0]) if before is not None else None
    if before is None or found is None:
        return None
    indent, key, rest = found.groups()
    fix = f"write `{key}: {rest}`" if rest else f"write `{key}:`, and its value behind it if it has one"
    return Problem(Place(file, before + 1, len(indent) + 1), "yaml-syntax", "this line has no `: ` after its key", fix, line_of(lines, before + 1))


def syntax_problem(error: yaml.MarkedYAMLError, file: str, lines: list[str]) -> Problem:
    said = f"{error.problem or ''} {error.context or ''}"
    mark: Any = error.problem_mark or error.context_mark
    if ("end of stream" in said or "',' or" in said) and error.context_mark is not None:
        mark = error.context_mark
    message, fix = next(
        ((m, f) for key, m, f in _SYNTAX if key in said),
        ("the structure of the file cannot be followed here", "compare the indentation and the signs with the lines above"),
    )
    if mark is None:
        return Problem(Place(file), "yaml-syntax", message, fix)
    if any(word in said for word in ("expected key", "mapping values", "expected ':'")) and (lost := _lost_colon(mark.line, file, lines)) is not None:
        return lost
    number = min(mark.line + 1, max(len(lines), 1))
    column = mark.column + 1 if number == mark.line + 1 else 1
    return Problem(Place(file, number, column), "yaml-syntax", message, fix, line_of(lines, number))


def character_problem(text: str, file: str) -> Problem:
    found = re.search(r"[^\n\r\x20-\x7e\x85\xa0-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]", text)
    before = text[: found.start()] if found else ""
    number = before.count("\n") + 1
    column = len(before) - (before.rfind("\n") + 1) + 1
    return Problem(Place(file, number, column), "yaml-character", "there is a character here that cannot be shown", "delete it and type the text again")


__all__ = ["character_problem", "column_of_sentence", "line_of", "syntax_problem"]
