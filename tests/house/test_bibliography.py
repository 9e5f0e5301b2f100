"""The bibliography: one entry a source, each of them cited, and a source is named by its key alone."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

from planner.rulebook.provenance import CITED
from tests.rulecases import RULES, rulebook

KEYED = re.compile(r"\bsource: *([a-z0-9_]+)")
NAMED_IN_HEADS = re.compile(r"\b([a-z]+(?:_[a-z0-9]+)*_(?:19|20)\d\d)\b")
YEAR_OF_A_WORK = re.compile(r"\b[A-Z][A-Za-z.-]+(?: and (?:others|[A-Z][a-z]+))?,? \(?(?:19|20)\d\d\b")
OWN_WORDS = {"practice"}
"""What stands at an animal whose size no source gives."""


@cache
def texts() -> dict[Path, str]:
    return {path: path.read_text(encoding="utf-8") for path in sorted(RULES.rglob("*.yaml")) if path.name != "sources.yaml" and not path.name.endswith(".cases.yaml")}


def citations() -> Iterator[tuple[Path, str]]:
    """Every key by which a rule or an animal names a source; the heads of files of animals name some for all of the file."""
    for path, text in texts().items():
        for pattern in (KEYED, CITED, NAMED_IN_HEADS):
            yield from ((path, found[1]) for found in pattern.finditer(text) if found[1] not in OWN_WORDS)


def test_every_citation_has_its_entry() -> None:
    assert [f"{path.name}: {key}" for path, key in citations() if key not in rulebook().sources] == []


def test_every_entry_is_cited() -> None:
    assert sorted(set(rulebook().sources) - {key for _, key in citations()}) == []


def test_a_source_has_one_entry() -> None:
    told = [(source.authors, source.year, source.title) for source in rulebook().sources.values()]
    assert [one for one in told if told.count(one) > 1] == []


def test_no_rule_names_a_source_by_its_author_and_year() -> None:
    """Such a name would not be found in the bibliography, and nothing would hold the two together."""
    found = [f"{path.name}:{n}: {named[0]}" for path, text in texts().items() for n, line in enumerate(text.splitlines(), 1)
             if re.search(r"\b(?:where|note|of):", line) for named in YEAR_OF_A_WORK.finditer(line)]
    assert found == []
