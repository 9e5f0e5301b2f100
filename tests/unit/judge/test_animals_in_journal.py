"""Animals as the journal tells them: what came, was lost, waits in quarantine, and when."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from planner.judge.animals_in_journal import Arrivals, Counted, read_arrivals
from planner.stock.catalogue import Catalogue, load_catalogue
from tests.engine_desk import facts_of

FISH, SNAIL = "amphiprion-ocellaris", "trochus-maculatus"


@pytest.fixture(scope="module")
def catalogue() -> Catalogue:
    return load_catalogue([Path(__file__).parents[3] / "rules" / "livestock"])


def arrivals(catalogue: Catalogue, *rows: str) -> Arrivals:
    return read_arrivals(facts_of(*(f"2026-03-{row}" for row in rows), on="2026-03-30"), catalogue)


def test_what_came_counts_with_what_was_lost_of_it(catalogue: Catalogue) -> None:
    found = arrivals(catalogue, f"05,added,{FISH},2", f"07,added,{SNAIL},4", f"09,lost,{FISH},1")
    assert found.came == (Counted(FISH, 2), Counted(SNAIL, 4)) and found.lost == (Counted(FISH, 1),)
    assert (found.first_day, found.last_day, found.last_fish_day) == (date(2026, 3, 5), date(2026, 3, 7), date(2026, 3, 5))
    assert [(d.day, n) for d, _, n in found.changes] == [(5, 2), (7, 4), (9, -1)]


def test_an_animal_that_nobody_knows_has_its_day_when_it_is_added_and_none_when_it_is_moved(catalogue: Catalogue) -> None:
    """A move of `fish` is part of a stage, which is ticked as well."""
    added, moved = arrivals(catalogue, "05,added,fish,2"), arrivals(catalogue, "05,moved,fish,2")
    assert added.last_day == added.last_fish_day == date(2026, 3, 5) and added.general == ("fish",)
    assert moved.last_day is None and moved.general == ()
    assert arrivals(catalogue, f"05,moved,{FISH},2").last_day == date(2026, 3, 5)


def test_fish_wait_in_quarantine_until_they_are_moved(catalogue: Catalogue) -> None:
    waiting = arrivals(catalogue, f"05,added,{FISH},2,,quarantine", f"08,lost,{FISH},1,,quarantine")
    assert waiting.in_quarantine == (Counted(FISH, 1),) and waiting.in_quarantine_since == date(2026, 3, 5)
    assert waiting.lost_before == (Counted(FISH, 1),) and waiting.came == ()
    over = arrivals(catalogue, f"05,added,{FISH},2,,quarantine", f"20,moved,{FISH},2")
    assert over.in_quarantine == () and over.in_quarantine_since is None and over.came == (Counted(FISH, 2),)


def test_an_illness_starts_the_clock_of_the_quarantine_again(catalogue: Catalogue) -> None:
    assert arrivals(catalogue, f"05,added,{FISH},2,,quarantine", "11,event,ill,,,quarantine").in_quarantine_since == date(2026, 3, 11)


def test_a_fish_taken_out_to_be_treated_is_no_more_in_the_display(catalogue: Catalogue) -> None:
    found = arrivals(catalogue, f"05,added,{FISH},2", f"11,moved,{FISH},1,,quarantine")
    assert found.came == (Counted(FISH, 1),) and found.in_quarantine == (Counted(FISH, 1),)
    assert [(d.day, n) for d, _, n in found.changes] == [(5, 2), (11, -1)]
