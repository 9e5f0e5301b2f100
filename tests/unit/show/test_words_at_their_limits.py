"""Words of dates, numbers, moves and uses on both sides of each place where they change. Contract of this project; 2 March 2026 is a Monday (cal(1))."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest

from planner.rulebook.provenance import Caution, Number, Source
from planner.show.calendar.days import late_day
from planner.show.calendar.text import fitted, guard, leading, one_line, shorten, title_of, window_in_words
from planner.show.paper.text import fit_for_paper, is_late, is_provisional, paper_line
from planner.show.words.numbers import backing, share_words, source_words
from planner.show.words.words import (
    Page,
    Span,
    away_words,
    bare_day,
    days_words,
    plain_name,
    plain_text,
    short_day,
    span_words,
    unbroken,
    uncapped,
    visible,
    window_words,
    wrap,
)
from planner.terms.records import State, Window
from tests.unit.plan_builder import task

ON = date(2026, 3, 2)


def day(n: int) -> date:
    return ON + timedelta(days=n)


# --- days


@pytest.mark.parametrize(("n", "told"), [(0, "today"), (1, "tomorrow"), (-1, "yesterday"), (2, "in 2 days"), (-2, "2 days ago"), (30, "in 30 days")])
def test_how_far_a_day_is(n: int, told: str) -> None:
    assert away_words(day(n), ON) == told


@pytest.mark.parametrize(("then", "told"), [(ON, "Mon 2 Mar"), (date(2027, 3, 2), "Tue 2 Mar 2027"), (date(2025, 12, 31), "Wed 31 Dec 2025"), (date(2026, 12, 31), "Thu 31 Dec")])
def test_a_year_is_told_where_it_is_another_one(then: date, told: str) -> None:
    assert short_day(then, ON) == told and bare_day(then, ON) == told.partition(" ")[2]


@pytest.mark.parametrize(("days", "told"), [((0, 0, 0), "likely Mon 2 Mar"), ((0, 0, 1), "likely Mon 2 Mar (quick 2 Mar, slow 3 Mar)"), ((0, 1, 1), "likely Tue 3 Mar (quick 2 Mar, slow 3 Mar)"), ((None, 1, 2), "likely Tue 3 Mar (quick no date, slow 4 Mar)"), ((0, 1, None), "likely Tue 3 Mar (quick 2 Mar, slow no date)"), ((0, None, 1), "no date can be given")])
def test_three_dates_are_one_where_they_agree(days: tuple[int | None, ...], told: str) -> None:
    made = Window(*(None if n is None else day(n) for n in days))
    assert window_words(made, ON) == told and window_words(Window(None, None, None), ON, "why") == "no date can be given: why"


@pytest.mark.parametrize(("first", "last", "told"), [(date(2026, 12, 1), date(2026, 12, 10), "1 to 10 Dec"), (date(2026, 12, 13), date(2027, 2, 6), "13 Dec to 6 Feb 2027"), (date(2026, 12, 1), date(2027, 12, 1), "1 Dec to 1 Dec 2027"), (None, date(2026, 12, 1), "? to 1 Dec"), (date(2026, 12, 1), None, "1 Dec to ?"), (date(2027, 1, 1), date(2027, 1, 2), "1 to 2 Jan 2027")])
def test_a_span_names_its_month_once(first: date | None, last: date | None, told: str) -> None:
    assert span_words(Window(first, None, last), on=ON) == told


@pytest.mark.parametrize(("passed", "told"), [(1, 1), (2, 3), (3, 3), (4, 7), (7, 7), (8, 14), (14, 14), (15, 28), (28, 28), (29, 42), (0, 1)])
def test_what_is_late_is_told_on_some_days_and_then_each_fortnight(passed: int, told: int) -> None:
    assert late_day(ON, day(passed)) == day(told)


@pytest.mark.parametrize(("state", "days", "overdue", "part"), [("firm", (0, 0, 0), False, "Planned for 2 March 2026."), ("provisional", (0, 0, 0), False, "Expected on 2 March 2026. The date waits"), ("firm", (-1, 0, 1), False, "If quick: 1 March 2026. Likely: 2 March 2026. If slow: 3 March 2026."), ("firm", (0, 0, None), False, "more than two years away"), ("firm", (None, 0, 0), False, "Planned for"), ("firm", (1, 0, -1), False, "Planned for"), ("done", (0, 0, 0), False, "Done on"), ("cancelled", (0, 0, 0), False, "no more"), ("firm", (0, 0, 0), True, "still open"), ("firm", (0, 0, 1), False, "If slow: 3 March 2026.")])
def test_when_is_told_in_words(state: str, days: tuple[int | None, int, int | None], overdue: bool, part: str) -> None:
    first, likely, last = (None if n is None else day(n) for n in days)
    assert likely is not None
    told = window_in_words(state, likely, first, last, overdue)
    assert part in told and ("nothing rings" in told) is (state == "provisional")


@pytest.mark.parametrize(("state", "due", "now", "late"), [(State.LATE, 1, None, False), (State.LATE, 2, 0, True), (State.LATE, 2, 1, False), (State.LATE, 6, 1, False), (State.LATE, 7, 1, True), (State.LATE, 2, None, True), (State.DUE, 9, 0, False)])
def test_on_paper_a_job_is_late_after_a_whole_day_on_which_it_could_be_done(state: State, due: int, now: int | None, late: bool) -> None:
    made = replace(task(day=None if now is None else day(now), state=state), due=day(-due))
    assert is_late(made, ON) is late and not is_late(replace(made, due=None), ON)


def test_what_waits_for_a_gate_is_provisional() -> None:
    assert [is_provisional(task(state=state, tentative=tentative)) for state, tentative in ((State.PLANNED, False), (State.PLANNED, True), (State.WAITING, False), (State.ON_HOLD, False))] == [False, True, True, False]


# --- lines


def test_a_number_stays_with_its_unit_and_a_line_within_its_width() -> None:
    assert unbroken("add 10 L of it") == "add 10\u00a0L of it" and unbroken("10 Lisbon") == "10 Lisbon" and unbroken("say `newtank today`") == "say `newtank\u00a0today`" and unbroken("3 days, 4 %") == "3\u00a0days, 4\u00a0%"
    assert wrap("aaa bbb ccc", 14) == ["aaa bbb ccc"] and wrap("aaa bbb ccc ddd", 12) == ["aaa bbb ccc", "ddd"] and wrap("", 20, "- ") == ["-"] and wrap("one two three four", 14, "- ") == ["- one two", "  three four"]
    assert wrap("take ten or 10 L", 12) == ["take ten or", "10 L"] and all(len(line) <= 20 for line in wrap("x" * 50, 20))


def test_a_command_that_ends_a_line_stays_whole_so_that_it_can_be_typed() -> None:
    assert wrap("Two jobs can wait. See them: newtank today reef --steps", 40) == ["Two jobs can wait. See them:", "newtank today reef --steps"]


def test_a_page_has_no_gap_at_its_top_and_never_two() -> None:
    page = Page(30)
    page.gap()
    page.say("a")
    page.gap()
    page.gap()
    page.say("b")
    assert plain_text(page.lines) == "a\n\nb"


@pytest.mark.parametrize(("label", "text", "told"), [("water", "10 L", "water     10 L"), ("", "10 L", "          10 L"), ("a label that is long", "10 L", "a label that is long 10 L"), ("exactly 10", "10 L", "exactly 10 10 L")])
def test_a_label_has_a_column_of_its_own(label: str, text: str, told: str) -> None:
    page = Page(40)
    page.labelled(label, text)
    assert plain_text(page.lines) == told


@pytest.mark.parametrize(("width", "right", "lines"), [(20, "due", ["- job            due"]), (20, "", ["- job"]), (20, "a long word here", ["- job", "  a long word here"]), (10, "12345", ["- job", "  12345"])])
def test_a_word_at_the_right_edge_goes_below_where_both_do_not_fit(width: int, right: str, lines: list[str]) -> None:
    page = Page(width)
    page.item("-", "job", right)
    assert plain_text(page.lines).splitlines() == lines


def test_headings_and_steps() -> None:
    page = Page(20)
    page.heading("Title", "right")
    page.numbered(["one", "two"], 1)
    assert plain_text(page.lines).splitlines() == ["Title          right", " 1. one", " 2. two"]
    assert plain_text([(Span("a  "),), (Span("b"), Span(" c "))]) == "a\nb c"


@pytest.mark.parametrize(("title", "told"), [("The tank", "the tank"), ("RCD tripped", "RCD tripped"), ("pH is low", "pH is low"), ("A leak", "a leak"), ("", ""), ("X", "X")])
def test_a_title_begins_small_within_a_sentence(title: str, told: str) -> None:
    assert uncapped(title) == told


def test_names_and_counts_and_signs_that_steer() -> None:
    assert (days_words(0), days_words(1), days_words(2)) == ("0 days", "1 day", "2 days") and plain_name("big_change") == "water to change" and plain_name("my_own-name") == "my own name"
    assert visible("a\x1bb") == "a\ufffdb" and visible("a\nb\tc") == "a\nb c" and visible("plain") == "plain" and visible("\u202eab") == "\ufffdab" and visible("é") == "é" and visible("\x9f\xa0") == "\ufffd\xa0"


@pytest.mark.parametrize(("text", "told"), [("a  b", "a b"), (" a ", "a"), ("a\nb", "a b"), ("a\x00b", "ab"), ("a\u202eb", "ab"), ("a\ud800b", "a\ufffdb"), ("a\u2028b", "a b"), ("plain", "plain"), ("", "")])
def test_a_calendar_text_is_one_clean_line(text: str, told: str) -> None:
    assert one_line(text) == told


@pytest.mark.parametrize(("text", "octets", "told"), [("abcdef", 6, "abcdef"), ("abcdefg", 6, "abc…"), ("ab cdefgh", 8, "ab cd…"), ("abcd efgh", 8, "abcd…"), ("äöü", 6, "äöü"), ("äöüx", 6, "ä…"), ("abc", 3, "abc"), ("e\u0301e\u0301e\u0301e\u0301", 8, "e\u0301…")])
def test_a_text_is_cut_within_its_octets_and_between_whole_signs(text: str, octets: int, told: str) -> None:
    assert shorten(text, octets) == told and len(told.encode()) <= octets


@pytest.mark.parametrize(("title", "signs", "told"), [("Mix the salt", 12, "Mix the salt"), ("Mix the salt", 11, "Mix the…"), ("Mix the salt", 7, "Mix"), ("Mix salt and water", 12, "Mix salt"), ("Unbreakable", 6, "Unbre…"), ("Feed: the fish", 9, "Feed"), ("ab cdefghijkl", 9, "ab cdefg…"), ("abc defghijkl", 9, "abc defg…"), ("abcd efghijkl", 9, "abcd")])
def test_a_title_keeps_whole_words(title: str, signs: int, told: str) -> None:
    assert fitted(title, signs) == told


def test_a_title_bears_its_state_and_is_never_empty() -> None:
    assert [leading(state, "Mix") for state in ("firm", "provisional", "held", "done", "cancelled")] == ["Mix", "maybe Mix", "wait: Mix", "done: Mix", "dropped: Mix"]
    assert title_of("", "") == "Job" and title_of("Short", "Long title") == "Short" and title_of(" ", "Long") == "Long" and len(leading("provisional", "x" * 30)) == 24


def test_the_gravest_caution_stands_first_and_each_once() -> None:
    known = {k: Caution(title=k, line=f"{k}.", weight=w, text="t", defer="d", line_names_it=True) for k, w in (("n", "note"), ("d", "danger"), ("c", "care"))}  # type: ignore[arg-type]
    assert guard(["n", "c", "d", "n"], known).splitlines() == ["Danger: d.", "Care: c.", "Note: n."]


def test_very_long_words_may_be_broken_on_paper() -> None:
    assert paper_line("x" * 30) == "x" * 30 and paper_line("x" * 31).replace("\u200b", "") == "x" * 31 and paper_line("x" * 31).count("\u200b") == 3
    assert fit_for_paper({"a": ["b\nc", ("d",), 3]}) == {"a": ["b c", ["d"], 3]} and paper_line("on 2 Mar 2026") == "on 2\u00a0Mar\u00a02026"


# --- what backs a number


def number(**keys: Any) -> Number:
    return Number(**({"value": 5, "grade": "practice"} | keys))


def test_numbers_are_counted_by_what_backs_them() -> None:
    states, within, described, bare = number(grade="review", source="s", says="states"), number(grade="review", source="s", says="within", range_published=(1, 9)), number(source="s"), number()
    assert [backing(n) for n in (states, within, described, bare)] == [0, 1, 2, 3]
    assert share_words([states, within, described, bare, bare]).startswith("3 of 5 numbers rest on a source: 1 as it states them, 1 within") and share_words([states, within, described, bare, bare]).endswith("The other 2 are common practice alone.")
    assert share_words([states]) == "1 of 1 numbers rest on a source: 1 as it states them." and share_words([bare]) == "0 of 1 numbers rest on a source. The other 1 are common practice alone."
    assert source_words(Source(title="T", read="whole", authors="A", year=2020, published="J")).startswith("A 2020, T, J") and source_words(Source(title="T", read="whole")).startswith("T")
