"""Each shipped order says what it does to its water, and the check finds orders that shut each other out."""

from __future__ import annotations

from dataclasses import replace

import pytest
from pydantic import ValidationError

from planner.rulebook.check import check_rules, tasks_of
from planner.rulebook.contradictions import contradictions
from planner.rulebook.task_rule import TaskRule
from planner.rulebook.what_jobs_do import RANKS, Apart, acts_of, only_forbids, written_act
from planner.show.terminal.rulelist import rules_document, rules_lines
from planner.show.words.words import plain_text
from tests.engine_desk import small_book
from tests.rulecases import rulebook

TOLD_LATER = "cycle/dose-asked"
"""It writes down what was given on another day, and asks for nothing."""
WRITING = sorted(key for key, t in tasks_of(rulebook()) if key != TOLD_LATER and t.writes is not None and written_act(t.writes.kind, t.writes.what) is not None)
DOSES_IN_STEPS = ("quarantine/prove-1", "quarantine/prove-2", "quarantine/keep-alive", "cycle/feed-food")


@pytest.mark.parametrize("key", WRITING)
def test_a_task_that_writes_a_dose_a_change_or_an_animal_names_that_act(key: str) -> None:
    task = rulebook().tasks[key]
    assert task.writes is not None
    assert written_act(task.writes.kind, task.writes.what) in {*task.acts} | ({"moves_alkalinity"} if "keeps_alkalinity" in task.acts else set())


def test_tasks_that_write_such_facts_are_there_at_all() -> None:
    assert len(WRITING) >= 30


@pytest.mark.parametrize("key", DOSES_IN_STEPS)
def test_a_dose_that_only_the_steps_ask_for_is_an_act_too(key: str) -> None:
    assert "adds_ammonia" in rulebook().tasks[key].acts


def test_a_task_that_forgets_its_act_has_it_from_the_fact_it_stands_for() -> None:
    assert acts_of(TaskRule.model_validate({"id": "dose", "title": "Dose", "writes": {"kind": "dosed", "what": "ammonia"}})) == {"adds_ammonia"}


def test_remedies_are_ranked_in_the_order_of_what_kills_first() -> None:
    assert RANKS == ("people", "oxygen", "temperature", "poison", "ammonia", "salinity", "ph", "alkalinity", "disease", "nutrients", "rest")


def test_what_hurts_people_ranks_before_every_other_alarm() -> None:
    alerts = {a.alert: a for a in rulebook().alerts}
    guarding = {id for id, a in alerts.items() if a.place == "people"}
    assert {"leak", "trip-failed", "sting", "palytoxin", "floor-not-settled"} <= guarding


def test_a_step_that_is_not_there_is_no_act() -> None:
    with pytest.raises(ValidationError, match="a step that is not there"):
        TaskRule.model_validate({"id": "a", "title": "A", "acts": ["feeds"], "act_steps": {"feeds": [2]}, "steps": ["Feed."]})


def test_a_line_says_in_one_way_what_goes_first() -> None:
    with pytest.raises(ValidationError, match="in one way"):
        Apart.model_validate({"id": "x", "first": ["feeds"], "while_animals": True, "yields": ["feeds"], "how": "leave_out", "say": "Because."})


def test_the_shipped_rules_hold_no_orders_that_shut_each_other_out() -> None:
    assert list(contradictions(rulebook())) == []


def book_of(tasks: str) -> object:
    return replace(small_book(f"[{{phase: one, tasks: {tasks}}}]"), apart=rulebook().apart, cautions=rulebook().cautions)


@pytest.mark.parametrize("tasks", [
    "[{id: a, acts: [feeds, stops_feeding]}]",
    "[{id: a, acts: [adds_ammonia]}, {id: b, acts: [adds_animals]}]",
    "[{id: a, acts: [adds_ammonia]}, {id: b, acts: [adds_ammonia], anchor: {task: one/a}}]",
], ids=["in one task", "in two of one day", "in a task and the one that follows it on its day"])
def test_the_check_finds_acts_that_shut_each_other_out(tasks: str) -> None:
    found = [p for p in check_rules(book_of(tasks)) if p.code == "acts-collide"]  # type: ignore[arg-type]
    assert found and "always on one day" in found[0].message or "never stand on one day" in found[0].message


@pytest.mark.parametrize("tasks", [
    "[{id: a, acts: [adds_ammonia]}, {id: b, acts: [adds_animals], wait: stock_gap}]",
    "[{id: a, acts: [adds_ammonia]}, {id: b, acts: [adds_animals], where: quarantine}]",
    "[{id: a, acts: [adds_ammonia]}, {id: b, acts: [adds_animals], when: {event: film}}]",
], ids=["on different days", "in different waters", "only at times on one day"])
def test_the_check_says_nothing_of_acts_that_may_stand_apart(tasks: str) -> None:
    assert [p for p in check_rules(book_of(tasks)) if p.code == "acts-collide"] == []  # type: ignore[arg-type]


def test_the_list_of_rules_says_what_never_stands_on_one_day() -> None:
    told = plain_text(rules_lines(rulebook(), 80))
    assert "One day, one set of orders" in told
    assert "together/animals-coming" in told


def test_the_machine_form_of_the_rules_has_the_lines_with_their_places() -> None:
    lines = rules_document(rulebook(), ())["together"]
    assert {line["id"] for line in lines} == {f"together/{line.id}" for line in rulebook().apart}
    assert all(line["rule"].startswith("rules/together.yaml:") for line in lines)


def test_only_an_order_to_leave_food_out_forbids_and_asks_for_nothing() -> None:
    fasting = TaskRule(id="fast", title="No food today", role="remedy", acts=("stops_feeding",))
    assert only_forbids(fasting)
    assert not only_forbids(None)
    assert not any(only_forbids(fasting.model_copy(update=more)) for more in ({"acts": ("feeds",)}, {"acts": ("stops_feeding", "feeds")}, {"reads": ("ammonia",)}, {"cautions": ("mains",)}))


def test_no_title_counts_days_from_today() -> None:
    """On the day of the job "in 1 day" would read as tomorrow."""
    book = rulebook()
    days = [f" in {{{name}}}" for name, number in book.numbers.items() if number.unit in ("d", "h", "months")]
    assert [key for key, task in book.tasks.items() if any(task.title.endswith(end) for end in days)] == []
