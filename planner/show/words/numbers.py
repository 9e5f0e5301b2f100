"""A rule's number as words and as an object, always with its grade and source."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from planner.plan.texts import UNIT_WORDS, shown_amount
from planner.rulebook.shapes import HouseRule, Number, Rulebook, Source
from planner.show.json.record_objects import figure
from planner.show.words.words import plain_name
from planner.terms.problems import Place
from planner.terms.records import Quantity

GRADES = {"measured": "measured", "standard": "a standard", "review": "a review of the literature", "practice": "common practice, no source"}
READ = {"whole": "", "part": " (read in part)", "abstract": " (abstract read)", "memory": " (from memory)"}


@dataclass(frozen=True, slots=True)
class Cited:
    """A number of the rules with its source and where it is written; `house` if a shop's own rule gave it."""

    name: str
    number: Number
    source: Source | None
    place: Place | None
    house: HouseRule | None = None


def formula_words(made: Quantity) -> str:
    """How a figure came about, with the advice that belongs to it."""
    return f"{made.formula}; {made.advice}" if made.advice else made.formula


def cited_numbers(names: Iterable[str], rules: Rulebook) -> tuple[Cited, ...]:
    """The numbers of these names, each once, in order; names that are no numbers are passed over."""
    house = {rule.id: rule for rule in rules.house}
    return tuple(Cited(name, rules.numbers[name], rules.sources.get(rules.numbers[name].source or ""), rules.places.get(f"number/{name}"), house.get(f"number/{name}"))
                 for name in dict.fromkeys(names) if name in rules.numbers)


def number_words(number: Number, units: str) -> str:
    """The figure as it may be said: what common practice alone backs is aimed for, never a standard."""
    value = shown_amount(number.value, UNIT_WORDS.get(number.unit, number.unit), units)
    return f"aim for {value}" if number.grade == "practice" else value


def grade_words(cited: Cited) -> str:
    """`common practice, no source`; a practice that a source does describe says so."""
    if cited.number.grade == "practice" and cited.number.source:
        return "common practice, as described in the source"
    return GRADES[cited.number.grade]


def source_words(source: Source) -> str:
    """Authors, year, title, place of publication, and how much of it was read."""
    head = f"{source.authors} {source.year}".strip() if source.year else source.authors
    return ", ".join(p for p in (head, source.title, source.published) if p) + READ[source.read]


def cited_source(cited: Cited) -> str:
    """The source with the place in it; empty where there is none."""
    told = source_words(cited.source) if cited.source is not None else cited.number.source or ""
    return told + (f"; {cited.number.where}" if told and cited.number.where else "")


def number_line(cited: Cited, units: str) -> str:
    """A number in one sentence: name, figure, grade, source."""
    source = cited_source(cited)
    house = f"; house rule, {shipped_words(cited.house)}" if cited.house else ""
    return f"{plain_name(cited.name)}: {number_words(cited.number, units)} ({grade_words(cited)}{house})" + (f". Source: {source}" if source else "")


def shipped_words(rule: HouseRule) -> str:
    """Where a house rule stands, and what the shipped one says."""
    return f"{rule.place}" + (f"; shipped: {rule.was}, {rule.shipped}" if rule.was else "")


def number_document(cited: Cited) -> dict[str, Any]:
    """A number with its provenance as an object."""
    n = cited.number
    return {"name": cited.name, "value": figure(n.value), "unit": n.unit, "grade": n.grade, "source": source_words(cited.source) if cited.source else n.source,
            "where": n.where, "note": n.note, "rule": str(cited.place) if cited.place else "",
            "house": {"rule": str(cited.house.place), "was": cited.house.was} if cited.house else None}
