"""Whole stories of our own invention, from the empty box on: each fact of a story is one test, and the pages that a
keeper of that story sees are kept beside it: whole for one story, as lists of states and entries for the others.
A run of everything has a third of the facts, the others are slow. `pytest tests/test_scenarios.py --accept` rewrites what is kept."""

from __future__ import annotations

import pytest

from planner.show.json.plan_document import plan_document
from tests.each import spread
from tests.story_facts import Page, StoryFact, against_schema, all_facts, all_pages, content_of, failures, names, plan_of, rulebook, story_of

WHOLE = "dry-rock-us"
"""The story of which whole pages are kept."""


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    if "fact" in metafunc.fixturenames:
        spread(metafunc, "fact", all_facts(), 3, lambda f: f"{f.story} on {f.on}: {f.say}")


def test_the_plan_of_a_story_says_what_was_written_down_beforehand(fact: StoryFact) -> None:
    assert failures(fact) == []


@pytest.mark.parametrize("page", all_pages(), ids=lambda p: f"{p.story} {p.path.name}")
def test_what_is_kept_of_a_story_is_what_it_says_now(page: Page, request: pytest.FixtureRequest) -> None:
    content = content_of(page)
    if request.config.getoption("--accept"):
        page.path.write_bytes(content)
    assert content.decode("utf-8") == page.path.read_bytes().decode("utf-8")


@pytest.mark.parametrize("step", [4, pytest.param(1, marks=pytest.mark.slow)], ids=["each fourth", "each"])
@pytest.mark.parametrize("name", names())
def test_every_day_of_a_story_makes_a_whole_plan_object(name: str, step: int) -> None:
    days = sorted({f.on for f in all_facts() if f.story == name})
    for on in days[::step]:
        assert against_schema(plan_document(plan_of(name, on), rulebook()), "plan") == []


@pytest.mark.parametrize("name", names())
def test_every_tick_of_a_story_names_a_task_that_the_rules_have(name: str) -> None:
    known = rulebook().tasks
    unknown = [f"line {r.line}: {r.what}" for r in story_of(name).journal.rows if r.kind in ("done", "skipped", "postponed") and r.what.partition("#")[0] not in known]
    assert unknown == []


@pytest.mark.parametrize("name", names())
def test_a_story_is_seen_on_at_least_three_days_and_in_all_its_forms(name: str) -> None:
    pages = [p for p in all_pages() if p.story == name]
    assert {p.kind for p in pages} == ({"plan", "today", "calendar"} if name == WHOLE else {"states", "entries"})
    assert len({p.on for p in pages}) >= 3
