"""What lets animals in is tested by a job of the phases: otherwise whoever does all that the plan says waits for ever (a contract of the plan)."""

from __future__ import annotations

from dataclasses import replace

from planner.rulebook.shapes import Rulebook
from planner.rulebook.untested import untested_needs
from tests.rulecases import rulebook


def without(*ids: str) -> Rulebook:
    book = rulebook()
    return replace(book, phases=tuple(p.model_copy(update={"tasks": tuple(t for t in p.tasks if f"{p.phase}/{t.id}" not in ids)}) for p in book.phases))


def test_every_reading_that_lets_animals_in_has_a_job_that_tests_it() -> None:
    assert list(untested_needs(rulebook())) == []


def test_stony_corals_without_the_monthly_test_of_calcium_and_magnesium_are_told() -> None:
    told = {p.message for p in untested_needs(without("care/stony-tests"))}
    assert told == {f"corals/{task} asks for {name} in the display water, which no job of a phase tests" for task, name in (("lps", "calcium"), ("sps", "calcium"), ("sps", "magnesium"))}
