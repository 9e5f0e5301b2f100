"""Records: a journal is what its rows are, and is cut at a day."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from planner.terms.problems import Place, Problem
from planner.terms.records import Journal, Unreadable, index_journal
from tests.engine_desk import journal_of

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
