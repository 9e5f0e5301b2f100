"""Records: a journal is what its rows are, and is cut at a day."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from planner.terms.problems import Place, Problem, nearest
from planner.terms.records import Journal, Moved, Unreadable, Yielded, index_journal
from tests.engine_desk import journal_of
from tests.unit.plan_builder import phase, plan, task

ROWS = journal_of("2026-03-02,reading,ph,8.1,,display,", "2026-03-04,reading,ph,8.2,,display,", "2026-03-05,done,site/level,,,display,").rows


def test_a_journal_is_its_rows_and_not_how_they_are_found() -> None:
    """Plans are kept under what a journal says, so two that say the same are one, however they were indexed or read."""
    plain, indexed = Journal(ROWS), index_journal(ROWS)
    assert plain == indexed == replace(indexed, length=900, taken_back=((date(2026, 3, 3), 0.0),))
    assert repr(plain) == repr(indexed) and repr(indexed).count("'ph'") == 2
    assert index_journal(ROWS[:2]) != indexed != index_journal(ROWS, [Unreadable(7, None, None, None)])


def test_what_a_journal_has_of_a_subject_ends_with_the_day() -> None:
    journal = index_journal(ROWS)
    assert [[r.day.day for r in journal.of("reading", "ph", date(2026, 3, day))] for day in (1, 2, 3, 4, 9)] == [[], [2], [2], [2, 4], [2, 4]]
    assert len(journal.of("reading", "*", date(2026, 3, 9))) == 2 and len(journal.of("*", "*", date(2026, 3, 9))) == 3
    assert list(journal.of("reading", "nitrate", date(2026, 3, 9))) == []


def test_a_line_that_cannot_be_read_is_not_taken_for_one_that_is_only_doubted() -> None:
    assert Unreadable(7, None, None, None).doubted is False


def test_the_mark_below_a_line_stands_under_the_column_of_the_mistake() -> None:
    told = str(Problem(Place("tank.yaml", 3, 7), "unknown-unit", "unknown unit", "write cm", "size: 3 ells")).splitlines()
    assert told[2].index("^") - told[1].index("size") == 6


@pytest.mark.parametrize(("kind", "animals"), [(None, True), ("added", True), ("moved", True), ("reading", False), ("done", False)])
def test_a_damaged_line_may_have_brought_an_animal_unless_it_says_another_thing(kind: str | None, animals: bool) -> None:
    assert Unreadable(7, None, None, None, kind=kind).hides_animals is animals


@pytest.mark.parametrize(("apart", "one_instant"), [(0, True), (1, True), (59, True), (60, False), (61, False)])
def test_two_tests_of_one_thing_within_a_minute_share_the_later_instant(apart: int, one_instant: bool) -> None:
    """Written to the minute, they tell nothing of which was first."""
    (first,) = journal_of("2026-03-02 08:00,reading,ph,8.1,,display,").rows
    later = replace(first, value="8.2", earliest=first.latest + apart, latest=first.latest + apart)
    for rows in ([first, later], [later, first]):
        found = index_journal(rows).rows
        assert (found[0].latest == found[1].latest) is one_instant
        assert max(row.latest for row in found) == later.latest
    elsewhere = replace(later, where="mixing")
    assert {row.latest for row in index_journal([first, elsewhere]).rows} == {first.latest, elsewhere.latest}


def test_of_three_tests_in_a_minute_and_a_half_the_first_keeps_its_instant() -> None:
    (first,) = journal_of("2026-03-02 08:00,reading,ph,8.1,,display,").rows
    rows = [replace(first, value=str(n), latest=first.latest + 45 * n, earliest=first.latest + 45 * n) for n in range(3)]
    assert [row.latest - first.latest for row in index_journal(rows).rows] == [0, 90, 90]


def test_tests_of_two_days_or_of_two_things_never_share_an_instant() -> None:
    late, early = journal_of("2026-03-02 23:59,reading,ph,8.1,,display,", "2026-03-03 00:00,reading,ph,8.2,,display,").rows
    near = replace(early, latest=late.latest + 20)
    assert [row.latest for row in index_journal([late, near]).rows] == [late.latest, late.latest + 20]
    other = replace(near, day=late.day, what="nitrate")
    assert [row.latest for row in index_journal([late, other]).rows] == [late.latest, late.latest + 20]
    bare = replace(near, day=late.day, at=None)
    assert [row.latest for row in index_journal([late, bare]).rows] == [late.latest, late.latest + 20]
    ticks = [replace(row, kind="done", what="site/level", day=late.day) for row in (late, near)]
    assert [row.latest for row in index_journal(ticks).rows] == [late.latest, late.latest + 20]


def test_a_tick_of_a_numbered_job_stands_under_the_job() -> None:
    journal = journal_of("2026-03-02,done,care/test#3,,,display,", "2026-03-02,reading,ph,8.1,,display,")
    assert len(journal.of("done", "care/test", date(2026, 3, 2))) == 1 and len(journal.of("done", "care/test#3", date(2026, 3, 2))) == 0


def test_what_moved_is_counted_in_days_where_both_days_are_known() -> None:
    march, april = date(2026, 3, 2), date(2026, 4, 2)
    assert Moved("a/b", "", march, april, "").days == 31 and Moved("a/b", "", april, march, "").days == -31 and Moved("a/b", "", march, march, "").days == 0
    assert Moved("a/b", "", None, april, "").days is Moved("a/b", "", march, None, "").days is Moved("a/b", "", None, None, "").days is None
    assert Moved("gate/cycle", "", march, april, "").of_gate and not Moved("cycle/gate", "", march, april, "").of_gate


def test_a_plan_finds_its_phases_and_jobs_by_their_names() -> None:
    made = plan(phase("site"), phase("cycle"), task("site/level"), task("site/level#2"))
    assert [p.id for p in map(made.phase, ("site", "cycle")) if p] == ["site", "cycle"] and made.phase("care") is None
    assert [t.id for t in map(made.task, ("site/level", "site/level#2")) if t] == ["site/level", "site/level#2"] and made.task("site") is None
    assert made.quantity("rock_kg") is None and (found := made.phase_as(phase("cycle").role)) is not None and found.id == "cycle"


def test_a_job_is_done_by_its_readings_if_it_is_a_test_that_reads() -> None:
    assert [task(role=role, reads=reads).by_readings for role, reads in (("test", ("ph",)), ("test", ()), ("remedy", ("ph",)), ("remedy", ()))] == [True, False, False, False]


def test_a_job_tested_with_another_names_that_one_alone() -> None:
    ways = (Yielded("put_off", to="a/b"), Yielded("tested_with", to="c/d"), Yielded("rests", to="e/f"))
    assert task(yielded=ways).tested_with == "c/d" and task(yielded=ways[:1]).tested_with == "" and task().tested_with == ""


@pytest.mark.parametrize(("column", "before", "after"), [(1, False, True), (150, False, True), (151, True, True), (500, True, True), (750, True, False), (900, True, False)])
def test_of_a_long_line_the_part_round_the_mistake_is_shown(column: int, before: bool, after: bool) -> None:
    line = "".join(chr(0x4E00 + n) for n in range(900))  # every sign another one
    _, shown, mark, _ = str(Problem(Place("tank.yaml", 3, column), "unknown-unit", "unknown unit", "write cm", line)).splitlines()
    assert shown[mark.index("^")] == line[column - 1]
    assert (shown.strip().startswith("... "), shown.strip().endswith(" ...")) == (before, after)


def test_a_line_of_three_hundred_signs_is_shown_whole_and_without_a_mark_where_no_column_is_known() -> None:
    shown = str(Problem(Place("tank.yaml", 3), "unknown-unit", "unknown unit", "write cm", "x" * 300)).splitlines()
    assert shown[1].strip() == "x" * 300 and len(shown) == 3
    assert "..." in str(Problem(Place("tank.yaml", 3), "unknown-unit", "unknown unit", "write cm", "x" * 301))


def test_a_long_message_keeps_its_beginning_and_its_end() -> None:
    whole, cut = "a" * 899 + "z", "a" * 900 + "z"
    assert str(Problem(Place("t"), "c", whole, "fix")).splitlines()[0] == f"t: {whole}"
    told = str(Problem(Place("t"), "c", cut, "fix")).splitlines()[0]
    assert " ... " in told and told.endswith("z")


def test_a_place_is_a_file_with_line_and_column_where_they_are_known() -> None:
    assert [str(Place("tank.yaml", *at)) for at in ((), (3,), (3, 7))] == ["tank.yaml", "tank.yaml:3:0", "tank.yaml:3:7"]


def test_the_nearest_known_word_is_offered_and_a_strange_one_gets_none() -> None:
    assert nearest("Amonia", ["nitrite", "ammonia"]) == "ammonia" and nearest("zzz", ["nitrite", "ammonia"]) is None
    assert nearest("tank", ["Tank", "TANK"]) == nearest("tank", ["TANK", "Tank"]) and nearest("x", []) is None
    assert nearest("abcd", ["abxy"]) is None and nearest("abcde", ["abcxy"]) == "abcxy"  # two of four letters, three of five
