"""The plan's first screen: where we are, what is next, the road with its dates, what to buy when."""

from __future__ import annotations

from datetime import date

import pytest

from planner.plan.day_jobs import Day
from planner.show.terminal.overview import overview_lines
from planner.show.words.words import plain_text
from planner.terms.causes import cause
from planner.terms.records import Plan, State, Waiting
from tests.rulecases import rulebook
from tests.story_facts import day_of_story
from tests.unit.plan_builder import ON, hold, phase, plan, task, window


def screen(p: Plan, width: int = 80) -> str:
    return plain_text(overview_lines(Day(p, ()), rulebook(), width))


def test_the_screen_has_its_parts_in_order() -> None:
    p = plan(phase("site", state="done", opened=date(2026, 2, 1)), phase("cycle", state="open", started=ON, title="Grow the filter", window=window(date(2026, 4, 1), date(2026, 4, 20), date(2026, 6, 5))),
             task("water/mix", ON, state=State.DUE, title="Mix"), task("site/shop", date(2026, 3, 7), role="shopping", title="Buy salt"), hold("cycle", "A leak."),
             waiting_for=(Waiting("cycle", "t", (), window(date(2026, 4, 20))),))
    text = screen(p)
    parts = ("Where we are Phase 2 of 2: Grow the filter.", "On hold      A leak.", "Next         today       Mix", "The road     1 of 2 phases are done, the last on 1 Feb.",
             "now to 20 Apr (1 Apr to 5 Jun)", "To buy       Sat 7 Mar   Buy salt", "newtank plan cycle    newtank plan --all    newtank today")
    assert [part for part in parts if part not in text] == []
    assert [text.index(part) for part in parts] == sorted(text.index(part) for part in parts)


@pytest.mark.parametrize(("state", "leads_to"), [("open", "care"), ("ahead", "site")])
def test_the_command_of_a_tank_that_waits_for_nothing_leads_to_its_care(state: str, leads_to: str) -> None:
    text = screen(plan(phase("site", state="done", opened=ON), phase("care", role="without_end", state=state, window=window(None))))
    assert f"newtank plan {leads_to} " in text


def test_a_phase_passed_on_word_says_that_no_evidence_backs_it() -> None:
    assert "on your word, not on evidence: Site" in " ".join(screen(plan(phase("site", state="done", opened=ON, on_word=True))).split())


def test_a_phase_without_a_date_says_why() -> None:
    text = screen(plan(phase("fish", window=window(None), reason="away for two years")))
    assert "no date" in text and "away for two years" in text


@pytest.mark.parametrize("width", [60, 80, 120])
@pytest.mark.parametrize("on", [date(2026, 1, 11), date(2026, 2, 13), date(2026, 4, 25)])
def test_it_is_one_screen_on_every_day_of_a_story(on: date, width: int) -> None:
    lines = plain_text(overview_lines(day_of_story("dry-rock-us", on), rulebook(), width)).splitlines()
    assert max(map(len, lines)) <= width and len(lines) <= (48 if width >= 80 else 70)


def test_a_new_year_is_named_once_and_no_line_of_the_road_outgrows_the_window() -> None:
    spans = [(date(2027, m, 4), date(2027, m, 20), date(2027, m + 3, 13)) for m in (1, 2)]
    text = screen(plan(*(phase(f"p{n}", title="A phase with a title of some length, and more of it", window=window(*days)) for n, days in enumerate(spans))))
    assert "20 Jan 2027 (4 Jan to 13 Apr)" in text and "20 Feb (4 Feb to 13 May)" in text and max(map(len, text.splitlines())) <= 80


def test_a_phase_for_corals_that_nobody_wishes_for_has_no_date_on_the_road() -> None:
    corals = phase("corals", role="stocks_corals", title="Corals", window=window(date(2026, 4, 1), date(2026, 4, 5), date(2026, 4, 10)))
    unwished = screen(plan(corals, notices=(cause("none_wished", sort="corals"),)))
    assert "none planned" in unwished and "5 Apr" not in unwished
    assert "5 Apr (1 to 10 Apr)" in screen(plan(corals))


def test_of_many_trips_the_rest_is_told_with_the_command_that_shows_it() -> None:
    assert "and 2 more later: newtank plan --all" in screen(plan(*(task(f"site/s{n}", date(2026, 3, 7), role="shopping", title=f"Buy {n}") for n in range(6))))


def test_two_days_of_one_month_name_it_once() -> None:
    assert "5 Apr (1 to 10 Apr)" in screen(plan(phase("fish", window=window(date(2026, 4, 1), date(2026, 4, 5), date(2026, 4, 10)))))


def test_the_road_is_in_the_order_of_its_days_and_says_what_they_are() -> None:
    p = plan(phase("lights", title="Lengthen the light", window=window(date(2026, 5, 20))), phase("crew", title="The crew", window=window(date(2026, 5, 2))), phase("animals", title="Retest", window=window(None)))
    text = screen(p)
    assert text.index("done about") < text.index("The crew") < text.index("Lengthen the light") < text.index("Retest")
