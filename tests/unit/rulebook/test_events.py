"""Events by the words of keepers."""

from __future__ import annotations

import re
from collections import Counter

from planner.door.entry_words import known_events
from planner.rulebook.events import OTHER_WORDS, event_called, nearest_first
from planner.rulebook.read import load_rules, shipped
from planner.show.terminal.eventlist import events_told

BOOK, _ = load_rules(shipped("rules"))


def test_every_word_leads_to_one_event_that_the_rules_know() -> None:
    assert set(OTHER_WORDS) == set(known_events(BOOK)) - {"failed"}
    assert [w for w, n in Counter(w for words in OTHER_WORDS.values() for w in words).items() if n > 1] == []


def test_a_word_of_an_event_that_no_rule_knows_finds_nothing() -> None:
    assert event_called("sickness", ["ill"]) == "ill"
    assert event_called("sickness", ["leak"]) is None
    assert event_called("moonlight", known_events(BOOK)) is None


def test_the_likest_event_stands_first() -> None:
    assert nearest_first("leek", known_events(BOOK))[0] == "leak"
    assert nearest_first("gaspin", known_events(BOOK))[0] == "gasping"


def test_no_rule_text_speaks_of_noting_an_event_without_its_command() -> None:
    vague = re.compile(r"\(event, |note event |as event, |write down (a leak|a smell|an illness|an algae|that algae)")
    assert [str(path) for path in shipped("rules").rglob("*.yaml") if vague.search(path.read_text(encoding="utf-8"))] == []


def test_every_event_is_offered_with_what_it_means() -> None:
    told = dict(events_told(BOOK))
    assert set(told) == set(known_events(BOOK)) - {"failed"}
    assert all(told.values())


def test_people_stand_first() -> None:
    assert [event for event, _ in events_told(BOOK)][:3] == ["chemical_splash", "electric_shock", "gas"]
