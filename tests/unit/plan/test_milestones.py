"""The days a keeper waits for, read off a plan: who counts as the next animal, as a fish, and as the last of the list."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from planner.plan.milestones import NEVER, fish_came, gate_window, next_animal, next_fish, wish_list_done
from planner.terms.records import State, Task
from tests.unit.plan_builder import phase, plan, task, window


def stage(id: str, day: int, **changes: Any) -> Task:
    """A stage of the wish list that comes in on a day of April."""
    return task(id, date(2026, 4, day), **({"role": "animals", "animals": (("ocellaris", 1),)} | changes))


SNAILS, FISH, APART = stage("crew/stage#1", 10), stage("fish/stage#1", 20), stage("quarantine/batch#1", 2, where="quarantine")
PHASES = (phase("crew"), phase("fish"), phase("quarantine"))


def test_the_next_animal_is_the_first_that_enters_the_display() -> None:
    assert next_animal(plan(*PHASES, FISH, SNAILS, APART)) == window(date(2026, 4, 10))
    assert next_animal(plan(*PHASES, APART)) == NEVER


def test_the_next_fish_is_no_snail_and_no_fish_in_quarantine() -> None:
    assert next_fish(plan(*PHASES, SNAILS, FISH, APART)) == window(date(2026, 4, 20))
    assert next_fish(plan(*PHASES, SNAILS, APART)) == NEVER


def test_a_test_before_a_stage_of_fish_is_no_fish() -> None:
    assert next_fish(plan(*PHASES, task("fish/stage-test-before#1", date(2026, 4, 19), role="test"), FISH)) == window(date(2026, 4, 20))


@pytest.mark.parametrize(("state", "came", "next_day"), [(State.DONE, True, 27), (State.SKIPPED, False, 27), (State.LATE, False, 20), (State.WAITING, False, 20)])
def test_a_stage_of_fish_that_is_in_or_left_out_is_no_longer_the_next(state: State, came: bool, next_day: int) -> None:
    made = plan(*PHASES, stage("fish/stage#1", 20, state=state), stage("fish/stage#2", 27))
    assert (fish_came(made), next_fish(made)) == (came, window(date(2026, 4, next_day)))


def test_snails_that_are_in_are_no_fish_that_came() -> None:
    assert not fish_came(plan(*PHASES, stage("crew/stage#1", 10, state=State.DONE), FISH))


def test_the_list_is_done_with_its_last_stage_in_the_display() -> None:
    assert wish_list_done(plan(*PHASES, SNAILS, FISH, stage("quarantine/batch#2", 29, where="quarantine"))) == window(date(2026, 4, 20))
    assert wish_list_done(plan(*PHASES, SNAILS, stage("fish/stage#1", 20, window=NEVER))) == NEVER


def test_an_open_gate_has_one_day_and_a_phase_that_is_not_there_none() -> None:
    made = plan(phase("cycle", opened=date(2026, 4, 3)), phase("animals", date(2026, 4, 9)))
    assert gate_window(made, "proves_filter") == window(date(2026, 4, 3))
    assert gate_window(made, "opens_to_animals") == window(date(2026, 4, 9))
    assert gate_window(made, "quarantine") == NEVER
