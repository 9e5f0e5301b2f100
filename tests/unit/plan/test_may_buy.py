"""May this animal be bought today: no for what cannot live here or beside who lives here, not yet with what is missing, and never a guess."""

from __future__ import annotations

from datetime import date

import pytest

from planner.door.folder import read_animals, read_rules
from planner.files.journal import read_journal
from planner.files.tank import read_tank
from planner.judge.facts import zone_of
from planner.plan.may_buy import MayBuy, may_buy
from planner.rulebook.read import shipped
from planner.show.words.causes import cause_words
from planner.show.words.wish_list import reason_words
from planner.stock.suitability import Reason

TANK = "start: 2026-01-05\ntimezone: Europe/London\ntank: {length: 150 cm, width: 60 cm, height: 60 cm, lid: yes}\nrock: {kind: dry, mass: 40 kg}\nsand: {kind: dry, depth: 4 cm}\n"
ON = date(2026, 6, 1)


def asked(animal: str, rows: str = "", tank: str = TANK) -> MayBuy:
    described, problems = read_tank(tank.encode(), "tank.yaml")
    assert described is not None and not problems
    journal, wrong = read_journal(f"when,kind,what,value,unit,where,note\n{rows}".encode(), "journal.csv", described, zone_of(described))
    assert not wrong
    return may_buy(animal, described, journal, read_rules().book, ON, read_animals((shipped("rules") / "livestock",)))


def said(found: MayBuy) -> str:
    return " ".join(reason_words(r, "metric") if isinstance(r, Reason) else cause_words(r, "metric") for r in found.reasons)


def test_before_the_filter_is_proven_the_answer_is_not_yet_with_what_is_missing() -> None:
    found = asked("royal gramma")
    assert found.answer == "not_yet" and found.needs and found.window.likely is not None and found.window.likely > ON


def test_an_animal_that_outgrows_the_tank_is_a_no() -> None:
    found = asked("orangespine unicornfish", tank=TANK.replace("150 cm", "60 cm"))
    assert found.answer == "no" and said(found)


@pytest.mark.parametrize("lives", ["display", "quarantine"])
def test_who_would_eat_or_be_eaten_by_who_lives_there_is_a_no(lives: str) -> None:
    found = asked("skunk cleaner shrimp", f"2026-05-01,added,pterois-volitans,1,,{lives},\n")
    assert found.answer == "no" and "lionfish" in said(found)


def test_who_was_lost_is_no_neighbour_any_more() -> None:
    found = asked("skunk cleaner shrimp", "2026-05-01,added,pterois-volitans,1,,display,\n2026-05-20,lost,pterois-volitans,1,,display,\n")
    assert found.answer == "not_yet"


@pytest.mark.parametrize(("typed", "could"), [("tang", True), ("sea dragonfly", False), ("", False)])
def test_a_name_that_is_not_clear_is_asked_about_and_never_guessed(typed: str, could: bool) -> None:
    found = asked(typed)
    assert found.answer == "unclear" and bool(found.could) == could
