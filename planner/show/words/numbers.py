"""A rule's number as words and as an object, always with its grade and source."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from planner.plan.texts import UNIT_WORDS, shown_amount
from planner.rulebook.provenance import Number, Source, cited_text
from planner.rulebook.shapes import HouseRule, Rulebook
from planner.show.json.record_objects import figure
from planner.show.words.words import NAMES, plain_name
from planner.terms.problems import Place
from planner.terms.records import Quantity

BOUNDS = {"most": "at most", "least": "at least"}
STOPS = frozenset({"ammonia_pause", "nitrite_pause"})
"""From here on no ammonia is given; nobody aims for them."""
FOUND = ("_low", "_high", "_severe", "_warmest", "_quick", "_likely", "_slow")
"""As the names of ends, limits and expectations end, which nobody aims for either; what backs them stands beside them."""
GRADES = {"measured": "measured", "standard": "a standard", "review": "a review of the literature", "practice": "common practice, no source"}
READ = {"whole": "", "part": " (read in part)", "abstract": " (abstract read)", "quoted": " (quoted; original not read)", "memory": " (from memory)"}


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
    return tuple(cite_number(name, rules.numbers[name], rules, house.get(f"number/{name}")) for name in dict.fromkeys(names) if name in rules.numbers)


def cite_number(name: str, number: Number, rules: Rulebook, house: HouseRule | None = None) -> Cited:
    """The number with the names of its sources in its texts."""
    texts = {key: cited_text(text, rules.sources) for key in ("where", "note") if "{" in (text := getattr(number, key))}
    return Cited(name, number.model_copy(texts) if texts else number, rules.sources.get(number.source or ""), rules.places.get(f"number/{name}"), house)


def number_words(name: str, number: Number, units: str) -> str:
    """The figure as it may be said: what common practice alone backs is aimed for, never a standard; but nobody aims for a limit."""
    value = bare_number_words(number, units)
    if name in STOPS:
        return f"{value} or more"
    aimed = number.grade == "practice" and not name.startswith("alarm_") and not name.endswith(FOUND)
    return f"{bound} {value}" if (bound := _bound(name)) else f"aim for {value}" if aimed else value


def number_name(name: str) -> str:
    """Its name in words, without the `most` or `least` that its figure says."""
    return plain_name(name.rpartition("_")[0] if _bound(name) else name)


def _bound(name: str) -> str:
    """`at most` or `at least`, as the name of a number ends; nothing where words of its own say it."""
    return "" if name in NAMES else BOUNDS.get(name.rpartition("_")[2], "")


def bare_number_words(number: Number, units: str) -> str:
    """The figure alone."""
    return shown_amount(number.value, UNIT_WORDS.get(number.unit, number.unit), units, exact=True)


def grade_words(cited: Cited, units: str) -> str:
    """What backs the figure and what the source says of it: `measured, within 21.7 to 29.6 °C of reefs`; `common practice, no
    source`; a practice that a source does describe says so."""
    number = cited.number
    if number.chosen and number.grade == "practice" and not number.source:
        return "our choice, no source"
    if number.grade == "practice" and number.source:
        return "common practice, as described in the source"
    if number.says == "states":
        return f"{GRADES[number.grade]}, as the source states it"
    if number.range_published is not None:
        low, high = (shown_amount(x, UNIT_WORDS.get(number.unit, number.unit), units, exact=True) for x in number.range_published)
        unit = high.lstrip("-0123456789., ")
        return f"{GRADES[number.grade]}, within {low.removesuffix(unit).rstrip() if unit else low} to {high}" + (f" of {number.of}" if number.of else "")
    return GRADES[number.grade]


def backing(number: Number) -> int:
    """0 where a source states our value, 1 where a published range holds it, 2 where a source describes the practice, 3 where
    nothing backs it but practice."""
    if number.grade == "practice":
        return 2 if number.source else 3
    return 0 if number.says == "states" else 1


def share_words(numbers: Iterable[Number]) -> str:
    """How many of the numbers rest on a source, and in what way."""
    found = [backing(n) for n in numbers]
    states, within, described, bare = (found.count(i) for i in range(4))
    told = f"{len(found) - bare} of {len(found)} numbers rest on a source"
    parts = [f"{n} {words}" for n, words in ((states, "as it states them"), (within, "within a range that it publishes"), (described, "as a practice that it describes")) if n]
    return told + (f": {', '.join(parts)}" if parts else "") + (f". The other {bare} are common practice alone." if bare else ".")


def source_words(source: Source) -> str:
    """Authors, year, title, place of publication, and how much of it was read."""
    head = f"{source.authors} {source.year}".strip() if source.year else source.authors
    return ", ".join(p for p in (head, source.title, source.published) if p) + READ[source.read]


def cited_source(cited: Cited) -> str:
    """The source with the place in it; empty where there is none."""
    told = source_words(cited.source) if cited.source is not None else cited.number.source or ""
    return told + (f"; {cited.number.where}" if told and cited.number.where else "")


def number_line(cited: Cited) -> str:
    """A number in one sentence: name, figure (metric), grade, source."""
    source = cited_source(cited)
    house = f"; house rule, {shipped_words(cited.house)}" if cited.house else ""
    return f"{number_name(cited.name)}: {number_words(cited.name, cited.number, 'metric')} ({grade_words(cited, 'metric')}{house})" + (f". Source: {source}" if source else "")


def shipped_words(rule: HouseRule) -> str:
    """Where a house rule stands, and what the shipped one says."""
    return f"{rule.place}" + (f"; shipped: {rule.was}, {rule.shipped}" if rule.was else "")


def number_document(cited: Cited) -> dict[str, Any]:
    """A number with its provenance as an object."""
    n = cited.number
    return {"name": cited.name, "value": figure(n.value), "unit": n.unit, "grade": n.grade, "source": source_words(cited.source) if cited.source else n.source,
            "where": n.where, "says": n.says, "published": [figure(x) for x in n.range_published] if n.range_published else None, "of": n.of, "note": n.note, "rule": str(cited.place) if cited.place else "",
            "house": {"rule": str(cited.house.place), "was": cited.house.was} if cited.house else None}
