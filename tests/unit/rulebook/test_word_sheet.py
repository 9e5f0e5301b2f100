"""The sheet of terms: words are found as a person writes them, and explained once."""

import pytest

from planner.rulebook.words import Word, find_word, words_in
from planner.show.words.explained_terms import Glossary
from planner.show.words.words import Page, plain_text
from tests.rulecases import rulebook

SHEET = {
    "sg": Word(term="SG", also=("specific gravity",), says="how heavy the water is"),
    "top-up": Word(term="top up", also=("top-up",), says="replacing what evaporated", avoid=("top off",)),
}


@pytest.mark.parametrize(("text", "terms"), [
    ("Read the SG twice.", ["SG"]),
    ("read the specific gravity", ["SG"]),
    ("sg is no word, nor is MSG", []),
    ("Top up to the line.", ["top up"]),
    ("A stop up the road, and top upper", []),
    ("Top up, then read the SG.", ["SG", "top up"]),
])
def test_a_text_uses_a_word_only_as_a_word(text: str, terms: list[str]) -> None:
    assert [w.term for w in words_in((text,), SHEET)] == terms


@pytest.mark.parametrize("asked", ["top up", "Top-Up", "TOP  UP", "top off"])
def test_a_word_is_found_under_each_of_its_names_and_under_one_we_avoid(asked: str) -> None:
    assert find_word(asked, SHEET) is SHEET["top-up"]


def test_a_word_that_is_not_on_the_sheet_is_not_found() -> None:
    assert find_word("top", SHEET) is None


def test_a_term_is_explained_once_on_a_page() -> None:
    page, glossary = Page(80), Glossary(SHEET)
    for _ in range(2):
        glossary.hear("Top up to the line.")
        glossary.explain(page)
    assert plain_text(page.lines) == "meaning   top up: replacing what evaporated."


def test_no_word_of_the_sheet_stands_for_two_things() -> None:
    names = [said.lower() for w in rulebook().words.values() for said in (w.term, *w.also, *w.avoid)]
    assert sorted({n for n in names if names.count(n) > 1}) == []


def test_no_explanation_is_longer_than_a_person_reads_at_once() -> None:
    assert {w.term: n for w in rulebook().words.values() if (n := len(w.says.split())) > 25} == {}
