"""The one walk over conditions: it finds all of them, tells what a `not` turns, and what the journal can change."""

from __future__ import annotations

from collections import Counter
from typing import Any

from planner.files.checked import Checked
from planner.rulebook.kinds.done import DoneNode
from planner.rulebook.kinds.reading import ReadingNode
from planner.rulebook.lines import Conditional
from planner.rulebook.nodes import Condition
from planner.rulebook.walk import Purpose, asked_for, conditions_of, inside, leaves, met_once, subjects, ways_to_meet
from tests.engine_desk import book_with, small_book
from tests.rulecases import rulebook


def condition(**node: Any) -> Condition:
    return Condition.model_validate(node)


def every_condition_below(thing: Any) -> list[int]:
    """Found by looking into every field of every rule, whatever it is called."""
    if isinstance(thing, Condition):
        return [id(thing), *(i for part in thing.parts for i in every_condition_below(part))]
    if isinstance(thing, Checked):
        return [i for name in type(thing).model_fields for i in every_condition_below(getattr(thing, name))]
    if isinstance(thing, Conditional):
        return every_condition_below(thing.unless)
    return [i for part in thing for i in every_condition_below(part)] if isinstance(thing, tuple) else []


def test_no_condition_of_the_shipped_rules_is_missed() -> None:
    book = rulebook()
    walked = [id(c) for placed in conditions_of(book) for c in inside(placed.condition)]
    assert Counter(walked) == Counter(every_condition_below((*book.phases, *book.alerts)))


def test_a_variant_of_words_and_a_first_expectation_are_conditions_too() -> None:
    assert {p.purpose for p in conditions_of(rulebook())} == set(Purpose)


def test_a_not_within_a_not_is_upright_again() -> None:
    both = condition(all=[{"not": {"any": [{"event": "leak"}, {"not": {"done": "site/level"}}]}}, {"event": "fed"}])
    assert [*leaves(both)] == [
        (condition(event="leak").event, True), (condition(done="site/level").done, False), (condition(event="fed").event, False)]


def test_nothing_behind_a_not_is_asked_for() -> None:
    assert [*asked_for(condition(any=[{"not": {"event": "leak"}}, {"event": "fed"}]))] == [condition(event="fed").event]


def test_the_task_that_counts_as_another_is_watched_as_well() -> None:
    book = small_book("[{phase: a, tasks: [{id: x, also_done_by: [b/y#2]}]}, {phase: b, tasks: [{id: y}]}]")
    assert subjects(condition(done="a/x"), book) == {(kind, key) for kind in ("done", "skipped") for key in ("a/x", "b/y")}


def test_what_a_reading_counts_from_is_watched_with_it() -> None:
    assert subjects(condition(reading={"name": "ammonia", "since": "dosed:ammonia"}), book_with()) == {("reading", "ammonia"), ("dosed", "ammonia")}


def test_calcium_taken_at_35_ppt_is_judged_anew_when_the_salinity_is_read() -> None:
    assert subjects(condition(reading={"name": "calcium", "at_least": "least", "at_35": True}), book_with()) == {("reading", "calcium"), ("reading", "salinity")}


def test_the_ways_to_meet_a_condition_are_told_apart() -> None:
    made = condition(any=[{"done": "a/b"}, {"all": [{"event": "leak"}, {"not": {"any": [{"event": "sick"}, {"done": "c/d"}]}}]}])
    told = [[(type(leaf).__name__, turned) for leaf, turned in way] for way in ways_to_meet(made)]
    assert told == [[("DoneNode", False)], [("EventNode", False), ("EventNode", True), ("DoneNode", True)]]


def test_what_asks_for_several_readings_can_be_asked_for_one_and_the_rest_stays() -> None:
    twice = {"reading": {"name": "ammonia", "below": "x", "times": 2}}
    made = met_once(condition(all=[twice, {"done": "a/b"}, {"not": twice}]))
    assert made.all is not None
    first, second, third = (part.leaf for part in (*made.all[:2], made.all[2].parts[0]))
    assert isinstance(first, ReadingNode) and first.times == 1 and first.tested() == ("ammonia", "display")
    assert second == DoneNode(task="a/b") and second.tested() is None
    assert isinstance(third, ReadingNode) and third.times == 2
