"""`newtank words`: each term of the sheet is found under its names."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner, Result

from planner.cli import newtank
from planner.rulebook.shipped_cache import load_shipped_rules

SHEET = load_shipped_rules()[0].words


def words(*asked: str) -> Result:
    return CliRunner().invoke(newtank, ["words", *asked])


def test_every_term_is_explained_under_each_of_its_names() -> None:
    for word in SHEET.values():
        for said in (word.term, *word.also):
            found = json.loads(words(said, "--json").output)["words"]
            assert any(word.says == f["says"] for f in found), said


def test_a_term_is_told_in_its_sentence_with_its_other_names() -> None:
    word = next(w for w in SHEET.values() if w.also)
    told = " ".join(words(word.term).output.split())
    assert f"{word.term} {word.says}." in told and word.also[0] in told


def test_without_a_term_the_sheet_is_listed_by_the_alphabet() -> None:
    listed = [line.split("  ")[0] for line in words().output.splitlines() if line[:1] not in ("", " ")]
    assert len(listed) == len(SHEET) and listed == sorted(listed, key=str.lower)


@pytest.mark.parametrize(("asked", "says"), [("refractometr", "Did you mean"), ("qqqq", "lists them")])
def test_an_unknown_term_names_the_nearest(asked: str, says: str) -> None:
    done = words(asked)
    assert done.exit_code == 2 and says in done.output
