"""Events by the words of keepers."""

from __future__ import annotations

import re
from collections import Counter

import pytest

from planner.door.entry_words import known_events
from planner.rulebook.events import OTHER_WORDS, event_called, event_leading, events_sharing, nearest_first, speaks_of_danger, speaks_of_death
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


def test_what_a_polyp_squirted_is_a_poison_and_no_mere_splash() -> None:
    known = known_events(BOOK)
    for said in ("zoa squirted in my eye", "polyp squirt", "Polyps squirted at me", "squirted in the face"):
        assert (found := event_leading(said.split(), known)) is not None
        assert found[0] == "palytoxin", said
    assert event_leading(["zoas", "closed"], known) is None
    people_first = [event for event, _ in events_told(BOOK)]
    assert events_sharing("a_coral_squirted_in_my_face", people_first)[0] == "palytoxin"


def test_an_event_takes_as_many_words_as_its_name_has() -> None:
    known = known_events(BOOK)
    assert event_leading(["power", "cut"], known) == ("power_cut", 0, 2)
    assert event_leading(["leak", "under", "the", "sump"], known) == ("leak", 0, 1)


def test_a_dead_fish_is_a_death_and_a_dead_heater_is_not() -> None:
    assert all(speaks_of_death(said) for said in ("fish_dead", "my_fish_died", "found_a_dead_snail"))
    assert not any(speaks_of_death(said) for said in ("heater_dead", "coral_dead", "fish_jumped", "the_pump_died"))


def test_a_power_cut_is_offered_without_a_word_on_animals() -> None:
    """The list is read before anybody said whether animals are in."""
    assert dict(events_told(BOOK))["power_cut"] == "The power is out"


@pytest.mark.parametrize(("said", "event"), [("tank is leaking", "leak"), ("the tank was leaking", "leak"), ("I got a shock from the tank", "electric_shock"), ("my son swallowed ammonia", "chemical_splash"),
                                             ("my cat drank the water", "chemical_splash"), ("dog drank tank water", "chemical_splash"), ("fish is lying on the bottom", "ill"), ("tank moved", "tank_moved")])
def test_words_that_name_nothing_are_passed_over_before_the_event(said: str, event: str) -> None:
    found = event_leading(said.split(), known_events(BOOK))
    assert found is not None and found[0] == event


def test_words_that_may_be_another_fact_are_not_passed_over() -> None:
    known = known_events(BOOK)
    assert [event_leading(said.split(), known) for said in ("moved clownfish", "my fish died", "dosed ammonia 2 mg/L", "moonlight leak", "fish ate the shrimp")] == [None] * 5


def test_a_sentence_of_a_shock_a_child_or_hard_breath_speaks_of_danger_and_a_fish_that_breathes_fast_does_not() -> None:
    assert all(map(speaks_of_danger, ("i_got_a_shock", "my_son_swallowed_ammonia", "my_child_is_not_breathing", "bleach_in_my_eye")))
    assert not any(map(speaks_of_danger, ("fish_breathing_fast", "tank_is_leaking", "the_coral_ate_a_shrimp", "power_cut")))
