"""User mistakes as values: where, what was found, what was wanted, and one fix.

A problem is never raised: readers collect problems, commands print them all at once, sorted by place.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass

LINE_SHOWN = 300
"""Characters of a line that a problem shows."""


@dataclass(frozen=True, slots=True, order=True)
class Place:
    """Where something was written. Line and column count from 1; 0 means "the file as a whole"."""

    file: str
    line: int = 0
    column: int = 0

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}" if self.line else self.file


@dataclass(frozen=True, slots=True, order=True)
class Problem:
    """One mistake. `code` is a stable word from `codes`; `fix` is one sentence in the imperative."""

    place: Place
    code: str
    message: str
    fix: str
    source_line: str = ""

    def __str__(self) -> str:
        lines = [f"{self.place}: {_shortened(self.message)}"]
        if self.source_line:
            shown, column = _shown_part(self.source_line.rstrip(), self.place.column)
            lines.append(f"    {shown}")
            if column:
                lines.append("    " + " " * (column - 1) + "^")
        lines.append(f"    Fix: {_shortened(self.fix)}")
        return "\n".join(lines)


def _shortened(text: str) -> str:
    """A message that quotes what no keeper wrote: its beginning and its end."""
    return text if len(text) <= 3 * LINE_SHOWN else f"{text[: 2 * LINE_SHOWN]} ... {text[-LINE_SHOWN:]}"


def _shown_part(line: str, column: int) -> tuple[str, int]:
    """A line as it is shown, and the column in it: all of it, or what stands around the mistake."""
    if len(line) <= LINE_SHOWN:
        return line, column
    start = max(0, column - LINE_SHOWN // 2)
    before, after = "... " if start else "", " ..." if start + LINE_SHOWN < len(line) else ""
    return f"{before}{line[start : start + LINE_SHOWN]}{after}", column and column - start + len(before)


def sort_problems(problems: Iterable[Problem]) -> tuple[Problem, ...]:
    """By place, each once."""
    return tuple(sorted(set(problems)))


NAME_SLIP = 0.85
"""How alike two made-up names must be for one to be a slip of the other: names such as `fish_wait` and `mix_wait` share whole words."""


def nearest(word: str, known: Iterable[str], alike: float = 0.6) -> str | None:
    """The known word that was probably meant, or None. Case is ignored; ties go to the first in sorted order. `alike` from 0 to 1."""
    by_lower = {k.lower(): k for k in sorted(known, reverse=True)}
    found = difflib.get_close_matches(word.lower(), sorted(by_lower), n=1, cutoff=alike)
    return by_lower[found[0]] if found else None
