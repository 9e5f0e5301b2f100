"""The codes of problems as a list."""

from __future__ import annotations

from planner.show.words.words import Line, Page
from planner.terms.codes import CODES


def codes_lines(width: int) -> tuple[Line, ...]:
    """Each code and, below it, an example of what is said."""
    page = Page(width)
    page.heading("Codes of problems", f"{len(CODES)}, each with an example")
    for code, example in sorted(CODES.items()):
        page.say(code, "strong")
        page.labelled("", example, 0, 2, hang=2)
    return tuple(page.lines)


def codes_document() -> dict[str, list[dict[str, str]]]:
    """The same as one object."""
    return {"codes": [{"code": code, "example": example} for code, example in sorted(CODES.items())]}


__all__ = ["codes_document", "codes_lines"]
