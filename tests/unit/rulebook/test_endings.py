"""An alarm that a reading raised ends by two good readings, stricter than what raised it, or its rule says that one is enough.

The demand is the contract of the plan; common practice, no source."""

from __future__ import annotations

import pytest

from planner.rulebook.endings import early_endings
from tests.engine_desk import small_book

NUMBERS = {"much": (30.0, "C"), "less": (28.0, "C"), "more": (31.0, "C")}


def faults(keys: str, when: str = "{reading: {name: temperature, at_least: much}}") -> list[str]:
    book = small_book("- phase: site", f"[{{alert: hot, title: Hot, {keys} when: {when}, say: Cool it., tasks: []}}]", **NUMBERS)
    return [p.message for p in early_endings(book)]


@pytest.mark.parametrize(("keys", "fault"), [
    ("", "hot is raised by a reading and ends by a single one"),
    ("over: {reading: {name: temperature, at_most: less}},", "hot is raised by a reading and ends by a single one"),
    ("over: {reading: {name: ph, at_most: less, times: 2}},", "hot is raised by a reading and ends by a single one"),
    ("over: {reading: {name: temperature, at_most: much, times: 2}},", "hot is over at a reading that is no stricter than the one that raised it"),
    ("over: {reading: {name: temperature, at_most: more, times: 2}},", "hot is over at a reading that is no stricter than the one that raised it"),
])
def test_an_alarm_that_ends_by_less_is_told(keys: str, fault: str) -> None:
    assert faults(keys) == [fault]


@pytest.mark.parametrize("keys", ["over: {reading: {name: temperature, at_most: less, times: 2}},", "one_is_enough: yes,"])
def test_two_stricter_readings_or_the_word_that_one_is_enough_will_do(keys: str) -> None:
    assert faults(keys) == []


def test_an_alarm_from_something_seen_ends_by_what_its_rule_names() -> None:
    assert faults("", "{event: leak}") == []


def test_two_small_bounds_are_compared_as_well() -> None:
    """A bound of nothing at all alone has nothing stricter below it."""
    raised = "{reading: {name: temperature, at_least: tiny}}"
    for end, told in (("tiny", ["hot is over at a reading that is no stricter than the one that raised it"]), ("tinier", [])):
        book = small_book("- phase: site", f"[{{alert: hot, title: Hot, over: {{reading: {{name: temperature, at_most: {end}, times: 2}}}}, when: {raised}, say: Cool it., tasks: []}}]", tiny=(0.05, "C"), tinier=(0.02, "C"))
        assert [p.message for p in early_endings(book)] == told
    nothing = small_book("- phase: site", "[{alert: hot, title: Hot, over: {reading: {name: temperature, at_most: none, times: 2}}, when: {reading: {name: temperature, above: none}}, say: Cool it., tasks: []}]", none=(0.0, "C"))
    assert [p.message for p in early_endings(nothing)] == []


def test_a_bound_that_nobody_wrote_down_is_told_elsewhere_and_counts_as_nothing_at_all() -> None:
    assert faults("over: {reading: {name: temperature, at_most: less, times: 2}},", "{reading: {name: temperature, at_least: unwritten}}") == []
