"""Text on its way onto paper: one clean line each, with places to break in what has none, and days that say whether they are certain."""

from __future__ import annotations

import re
from datetime import date
from functools import lru_cache
from typing import Any

from planner.show.calendar.text import one_line
from planner.show.words.words import unbroken
from planner.terms.records import State, Task

LONGEST_WORD = 30
"""Characters that a word may have on paper; in a longer one a break is allowed after every `PIECE`."""
PIECE = 8
WEEK = 7
SOFT_BREAK = "\u200b"
_LONG = re.compile(rf"[^\s{SOFT_BREAK}]{{{LONGEST_WORD + 1},}}")
_STEP = re.compile(rf"(.{{{PIECE}}})(?=[^\u0300-\u036f\u200d\ufe0f])")

_DAY = r"(?:(?:Mon|Tue|Wed|Thu|Fri|Sat|Sun) )?\d{1,2} (?:Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec)(?: \d{4})?\b"
_HELD = re.compile(rf"\((?:from )?{_DAY} (?:to {_DAY}|on)\)|\b{_DAY}|(?<=\d) (?=(?:minutes?|hours?|months?)\b)|(?<=[Lg]) as (?=(?:N|P|N[OH]\d|PO4|…))| (?=·)")
"""Days, spans of days in brackets, a number with a long unit, a unit with what it counts, and the point that ends an item."""
_PER = re.compile(r"(?<=[A-Za-z])/(?=(?:[Lh]|m²|ft²|day)\b)")
"""The slash of a unit, after which no line ends."""


def fit_for_paper(data: Any) -> Any:
    """The same data with every text fit for paper."""
    if isinstance(data, str):
        return paper_line(data)
    if isinstance(data, dict):
        return {key: fit_for_paper(value) for key, value in data.items()}
    if isinstance(data, (list, tuple)):
        return [fit_for_paper(value) for value in data]
    return data


@lru_cache(maxsize=4096)
def paper_line(text: str) -> str:
    """One line without control characters; numbers keep their units, days stay whole, and very long words may be broken."""
    clean = _PER.sub("/\u2060", unbroken(_HELD.sub(lambda found: found[0].replace(" ", "\u00a0"), one_line(text))))
    return _LONG.sub(lambda word: _STEP.sub(rf"\1{SOFT_BREAK}", word[0]), clean) if len(clean) > LONGEST_WORD else clean


def is_late(task: Task, on: date) -> bool:
    """Was there a whole day on which it could have been done? Not if it was due yesterday, nor within a week of that if its
    next usable day, such as a day for shopping, is still to come."""
    if task.state != State.LATE or task.due is None:
        return False
    days = (on - task.due).days
    return days >= WEEK or (days > 1 and (task.date is None or task.date <= on))


def is_provisional(task: Task) -> bool:
    """Does its day depend on a gate that is shut?"""
    return task.tentative or task.state == State.WAITING


__all__ = ["SOFT_BREAK", "fit_for_paper", "is_late", "is_provisional", "paper_line"]
