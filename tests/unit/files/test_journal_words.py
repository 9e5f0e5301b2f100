"""One vocabulary at the reader: however a word is spelled, the plan hears one word; what nobody knows is never passed over in
silence. The spellings are our own and the trade's usual ones (from memory)."""

from __future__ import annotations

import pytest

from planner.terms.records import Answer
from tests.engine_desk import answer_to, journal_of, verdicts_of
from tests.rulecases import rulebook


@pytest.mark.parametrize(("row", "said"), [
    ("2026-03-04,Dosed,Ammonia,2,mg/L as N,Display,", ("dosed", "ammonia", "display")),
    ("2026-03-04,dose,ammonium chloride,2,g,,", ("dosed", "ammonia", "display")),
    ("2026-03-04,dosed,Baking Soda,2,g,,", ("dosed", "bicarbonate", "display")),
    ("2026-03-04,dosed,sodium bicarbonate,1,dKH,tank,", ("dosed", "bicarbonate", "display")),
    ("2026-03-04,EVENT,Leak,,,,", ("event", "leak", "display")),
    ("2026-03-04,event,wet floor,,,,", ("event", "leak", "display")),
    ("2026-03-04,event,Power-cut,,,,", ("event", "power_cut", "display")),
    ("2026-03-04,Water change,,10,%,,", ("changed_water", "", "display")),
    ("2026-03-04,Test,KH,8,dKH,Quarantine tank,", ("reading", "alkalinity", "quarantine")),
    ("2026-03-04,added,Trochus,2,,QT,", ("added", "trochus", "quarantine")),
    ("2026-03-04,done,Site/Place,,,,", ("done", "site/place", "display")),
])
def test_other_spellings_are_the_one_word(row: str, said: tuple[str, str, str]) -> None:
    (read,) = journal_of("!" + row).rows
    assert (read.kind, read.what, read.where) == said


def test_an_undo_row_in_another_spelling_takes_back_its_row() -> None:
    assert journal_of("!2026-03-04,dosed,Baking soda,2,g,,", "!2026-03-04,undo,dosed:bicarbonate,2,g,display,").rows == ()


def test_a_misspelled_event_raises_what_the_known_one_raises() -> None:
    meant = verdicts_of(rulebook(), "2026-03-05,event,leak,,,display,", on="2026-03-06")
    typed = verdicts_of(rulebook(), "2026-03-05,event,leek,,,display,", on="2026-03-06", problems=1)
    assert {a.alert for a, _ in typed.alerts} == {a.alert for a, _ in meant.alerts} != set()


def test_a_misspelled_event_that_feeds_is_no_food() -> None:
    assert answer_to({"event": "fed"}, "2026-03-05,event,fedd,,,display,", on="2026-03-06", problems=1) == Answer.UNKNOWN


def test_a_misspelled_dose_counts_as_the_full_one_of_what_it_was() -> None:
    journal = journal_of("2026-03-05,dosed,amonia,2,mg/L as N,display,", problems=1)
    assert [(u.kind, u.what) for u in journal.unreadable] == [("dosed", "ammonia")]


@pytest.mark.parametrize(("typed", "hidden"), [("amonia", "ammonia"), ("alkalinty", "alkalinity"), ("Phosfate", "phosphate"), ("nitrte", None), ("xyzzy", None)])
def test_a_misspelled_reading_hides_the_one_that_it_is_near_to_and_no_other(typed: str, hidden: str | None) -> None:
    journal = journal_of(f"2026-03-05,reading,{typed},0..25,mg/L as N,display,", problems=1)
    assert [(u.kind, u.what) for u in journal.unreadable] == [("reading", hidden)]


def test_a_strange_word_that_is_meant_is_confirmed_in_the_note() -> None:
    (row,) = journal_of("2026-03-05,event,leek,,,display,confirmed").rows
    assert row.what == "leek"


def test_an_event_that_is_like_no_other_is_a_row_of_its_own() -> None:
    assert journal_of("2026-03-05,event,heater_replaced,,,display,").rows[0].what == "heater_replaced"
