"""What protects people says the same everywhere, and warns of what its steps really use."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest

from planner.plan.texts import untold
from planner.show.words.causes import WORDS
from tests.rulecases import rulebook

SIGNS = "fever, cough, weakness, muscle pain, tingling, sore eyes or a metallic taste"
"""Centers for Disease Control and Prevention 2015 (MMWR 64(31)) for the taste, fever, cough, weakness and muscle pain; tingling and sore eyes are from
memory. The order is our own."""
FIRST = "breathing is hard, the chest hurts or somebody collapses"
A_SIGN = re.compile(r"metallic taste|tastes metal|tingling|muscle pain|\bfever, cough\b", re.IGNORECASE)


def texts() -> Iterator[tuple[str, tuple[str, ...]]]:
    """Each block of text of the rules under the name of what says it: its sentences, braces taken out."""
    book = rulebook()
    for key, caution in book.cautions.items():
        yield f"caution {key}", (f"{caution.text} {caution.defer}",)
    for key, task in book.tasks.items():
        told = (*task.steps, *task.watch, *task.because, *(t for v in task.variants for t in (*v.steps, *v.watch)))
        yield key, tuple(map(untold, told))
    yield "hazard of an animal", (WORDS["hazard_palytoxin"],)


def test_the_signs_of_palytoxin_are_one_list_everywhere() -> None:
    speak_of_it = [(name, " ".join(told)) for name, told in texts() if "infection" not in name and A_SIGN.search(" ".join(told))]
    assert len(speak_of_it) >= 6
    assert [name for name, told in speak_of_it if SIGNS not in told] == []


def test_hard_breathing_or_collapse_comes_before_the_milder_signs_of_palytoxin() -> None:
    wrong = [name for name, told in texts() if SIGNS in (all_of := " ".join(told)) and not -1 < all_of.find(FIRST) < all_of.find("emergency number first") < all_of.find(SIGNS)]
    assert wrong == []


@pytest.mark.parametrize(("caution", "of"), [("bleach", r"(?i)bleach|products met|cleaner"), ("ammonia", r"(?i)ammoni|bottle|dose")])
def test_a_caution_about_a_product_stands_only_where_the_job_has_to_do_with_it(caution: str, of: str) -> None:
    book = rulebook()
    bearing = {key for key, task in book.tasks.items() if caution in task.cautions}
    assert bearing
    assert [name for name, told in texts() if name in bearing and not re.search(of, " ".join((untold(book.tasks[name].title), *told)))] == []
