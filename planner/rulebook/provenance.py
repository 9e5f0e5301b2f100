"""The figures of the rules with what backs them: grade, source and range; the bibliography; and the usual cautions."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Literal

from planner.files.checked import Field, check
from planner.rulebook.nodes import Written
from planner.rulebook.texts import PlainText

Grade = Literal["measured", "standard", "review", "practice"]
Says = Literal["states", "within"]
Weight = Literal["danger", "care", "note"]
CITED = re.compile(r"\{cite:([a-z0-9_]+)\}")
"""How a text about evidence names a source of the bibliography."""
HOURS_IN = {"h": 1.0, "d": 24.0, "min": 1 / 60, "wk": 168.0, "months": 730.5}


class Number(Written):
    """A figure with its provenance. `where` and `note` name further sources as `{cite:KEY}`. `grade` is the kind of evidence, `says` what the source says of our value: it `states`
    the value, or a range that it publishes holds it (`within`: then `range_published`, in our unit, of what `of` names).
    Above practice all of it is asked for. `range` bounds what a house rule may choose; `protects` marks figures that a
    house rule may only tighten, in the direction named. `chosen`: our own, where grade practice would say that the trade commonly does so."""

    value: float = Field(allow_inf_nan=False)
    unit: str = ""
    grade: Grade
    source: str | None = None
    where: str = ""
    says: Says | None = None
    range_published: tuple[float, float] | None = None
    of: str = ""
    note: str = ""
    range: tuple[float, float] | None = None
    protects: Literal["lower_is_stricter", "higher_is_stricter"] | None = None
    chosen: bool = False

    @check
    def _sourced(self) -> None:
        if (fault := provenance_fault(self)) is not None:
            raise ValueError(fault)


def provenance_fault(number: Number) -> str | None:
    """What is missing or wrong in how a number is backed, in words; None where it holds together."""
    if number.grade != "practice" and not number.source:
        return "a number graded above practice needs a source key"
    if number.grade != "practice" and number.says is None:
        return "a number graded above practice tells what its source says: `says: states`, or `says: within` with `range_published`"
    if number.says is not None and not number.source:
        return "`says` tells what a source says, and there is no source key"
    if (number.says == "within") != (number.range_published is not None):
        return "`says: within` and `range_published` belong together"
    if number.range_published is not None:
        low, high = number.range_published
        if not low <= number.value <= high:
            return f"{number.value:g} does not lie within the published range of {low:g} to {high:g}"
    return None


class Source(Written):
    """One entry of the bibliography."""

    authors: str = ""
    year: int | None = None
    title: str
    published: str = ""
    read: Literal["whole", "part", "abstract", "quoted", "memory"]

    @property
    def short(self) -> str:
        """How a sentence names it."""
        return " ".join(filter(None, (self.authors or self.title, str(self.year or ""))))


class Caution(Written):
    """A usual caution: what can happen, what to do, and to whom the plan defers. `line` is the one sentence that protects,
    which no face cuts; `line_names_it` where it needs no name before it. `weight`: `danger` where people or animals may die, `care` where there may be damage or injury."""

    title: PlainText
    line: PlainText = ""
    line_names_it: bool = False
    weight: Weight = "care"
    text: PlainText
    defer: PlainText
    grade: Grade = "practice"
    source: str | None = None
    where: str = ""


def cites(backed: Number | Caution) -> tuple[str, ...]:
    """The keys of all sources that it names, in `source` and in braces of its texts."""
    note = backed.note if isinstance(backed, Number) else ""
    return (*((backed.source,) if backed.source else ()), *CITED.findall(f"{backed.where} {note}"))


def cited_text(text: str, sources: Mapping[str, Source]) -> str:
    """The text with the names of the sources in place of their keys."""
    return CITED.sub(lambda found: sources[found[1]].short if found[1] in sources else found[1], text)


__all__ = ["HOURS_IN", "Caution", "Grade", "Number", "Says", "Source", "cited_text", "cites", "provenance_fault"]
