"""What protects people says the same everywhere, and warns of what its steps really use."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest

from planner.plan.texts import untold
from planner.show.words.causes import WORDS
from tests.each import over
from tests.rulecases import rulebook

SIGNS = "fever, cough, weakness, muscle pain, tingling, sore eyes or a metallic taste"
"""Centers for Disease Control and Prevention 2015 (MMWR 64(31)) for the taste, fever, cough, weakness and muscle pain; tingling and sore eyes are from
memory. The order is our own."""
FIRST = "breathing is hard, the chest hurts or somebody collapses"
A_SIGN = re.compile(r"metallic taste|tastes metal|tingling|muscle pain|\bfever, cough\b", re.IGNORECASE)


def texts() -> Iterator[tuple[str, tuple[str, ...]]]:
    """Each block of text of the rules under the name of what says it: its sentences, braces taken out."""
    book = rulebook()
    for key, caution in book.cautions.items():
        yield f"caution {key}", (f"{caution.text} {caution.defer}",)
    for key, task in book.tasks.items():
        told = (*task.steps, *task.watch, *task.because, *(t for v in task.variants for t in (*v.steps, *v.watch)))
        yield key, tuple(map(untold, told))
    yield "hazard of an animal", (WORDS["hazard_palytoxin"],)


def test_the_signs_of_palytoxin_are_one_list_everywhere() -> None:
    speak_of_it = [(name, " ".join(told)) for name, told in texts() if "infection" not in name and A_SIGN.search(" ".join(told))]
    assert len(speak_of_it) >= 6
    assert [name for name, told in speak_of_it if SIGNS not in told] == []


def test_hard_breathing_or_collapse_comes_before_the_milder_signs_of_palytoxin() -> None:
    wrong = [name for name, told in texts() if SIGNS in (all_of := " ".join(told)) and not -1 < all_of.find(FIRST) < all_of.find("emergency number first") < all_of.find(SIGNS)]
    assert wrong == []


@pytest.mark.parametrize(("caution", "of"), [("bleach", r"(?i)bleach|products met|cleaner"), ("ammonia", r"(?i)ammoni|bottle|dose")])
def test_a_caution_about_a_product_stands_only_where_the_job_has_to_do_with_it(caution: str, of: str) -> None:
    book = rulebook()
    bearing = {key for key, task in book.tasks.items() if caution in task.cautions}
    assert bearing
    assert [name for name, told in texts() if name in bearing and not re.search(of, " ".join((untold(book.tasks[name].title), *told)))] == []


OFF = re.compile(r"\bswitch(?:ed)? (?:\w+ ){0,4}off\b|\bunplug|\bpull its plugs|\beverything unplugged", re.IGNORECASE)
ON = re.compile(r"\bswitch (?:\w+ ){0,5}on\b|\bplug (?:\w+ ){0,3}in\b", re.IGNORECASE)
IN_THE_WATER = re.compile(
    r"\bput (?:an|in an) air stone|\bair stone in\b|\b(?:point|turn) (?:a|another|more) (?:pump|flow)|\bsiphon (?!by|water|ran)|\bpluck|\bwipe (?:a finger|the glass)|\bclean (?:the floss|the glass|shaft)"
    r"|\btake (?:it (?!up|back)|a body|the body|the source|the adsorber|out any|out the|out some)\b|\bput in (?:the new|fresh|\{carbon)|\bput fresh carbon|\bset (?:the coral|each)|\bplace it (?:low|in the flow)"
    r"|\blift the fish|\bmove each animal over|\bchange (?:up to |about )?\{|\bchange half|\breplace a quarter|\bscoop what|\blower the sand|\bfix (?:both heaters|the pumps)|\bswap (?:a part|3)|\bguards? on every pump"
    r"|\bcover the intake|\bput it into the filter|\bput a new heater",
    re.IGNORECASE)
"""A hand, or a thing in a hand, in water in which mains equipment stands."""
NOTHING_PLUGGED_IN = {
    "leak-test/": "the leak test runs with nothing electric in the water", "site/": "nothing stands in water yet", "scape/sand": "the pumps come after it",
    "start-up/pumps": "they are switched on for the first time", "quarantine/set-up": "it is switched on for the first time", "rock/soak": "the same", "water/": "its own bin, filled before anything is plugged in",
}


def walks() -> Iterator[tuple[str, tuple[str, ...]]]:
    """The steps of each task in each variant, as they are done one after another."""
    for key, task in rulebook().tasks.items():
        yield key, tuple(str(step) for step in task.steps)
        yield from ((key, tuple(str(step) for step in v.steps)) for v in task.variants if v.steps)


def hands_in_live_water(steps: tuple[str, ...]) -> list[str]:
    """The steps that put a hand into the water before anything was switched off, or after it was switched on again."""
    off, found = False, []
    for step in steps:
        marks = sorted([(m.start(), "off") for m in OFF.finditer(step)] + [(m.start(), "on") for m in ON.finditer(step)] + [(m.start(), "hand") for m in IN_THE_WATER.finditer(step)])
        for _, mark in marks:
            if mark == "hand" and not off:
                found.append(step)
            elif mark != "hand":
                off = mark == "off"
    return found


@over(("key", "steps"), [(key, steps) for key, steps in walks() if IN_THE_WATER.search(" ".join(steps))])
def test_no_hand_goes_into_the_water_before_it_is_switched_off(key: str, steps: tuple[str, ...]) -> None:
    """Electrical Safety Council and every maker's manual: isolate before reaching in (common practice, no page cited here)."""
    assert key.startswith(tuple(NOTHING_PLUGGED_IN)) or hands_in_live_water(steps) == []


@over(("key", "steps"), [(key, steps) for key, steps in walks() if "at the wall" in " ".join(steps)])
def test_what_is_switched_off_at_the_wall_for_a_hand_is_switched_on_in_the_same_job(key: str, steps: tuple[str, ...]) -> None:
    told = " ".join(steps)
    assert [m.start() for m in ON.finditer(told)][-1:] > [told.rindex("at the wall")] or key == "leak-test/plumbing"


def test_whoever_reaches_into_the_water_is_warned_of_the_mains() -> None:
    silent = {key for key, steps in walks() if IN_THE_WATER.search(" ".join(steps)) and not key.startswith(tuple(NOTHING_PLUGGED_IN)) and "mains" not in rulebook().tasks[key].cautions}
    assert silent == set()


def test_a_hand_before_the_switch_is_found() -> None:
    assert hands_in_live_water(("Put an air stone in.", "Switch off heater and pumps at the wall.", "Change {half_change} of water.", "Switch the pumps on again.", "Siphon the sand.")) == ["Put an air stone in.", "Siphon the sand."]
