"""The proof-reading program over the paper of every story and of drawn tanks, and that it finds what it looks for."""

from __future__ import annotations

import copy
from dataclasses import replace
from datetime import date, timedelta
from functools import cache
from typing import Any

import pytest
import yaml

from planner.files.tank import Tank, read_tank
from planner.plan.make import plan_with_stock
from planner.plan.shopping_list import ShoppingList, shopping_list
from planner.plan.texts import text_filler
from planner.show.paper.handout import handout_data
from planner.show.paper.pencil import pencil_for, plan_on_paper
from planner.terms.records import Journal, Plan, index_journal
from tests import paper_proof
from tests.keepers.lives import make_life
from tests.rulecases import rulebook
from tests.story_facts import all_facts, catalogue, names, story_of

FEW, MANY = range(12), range(12, 212)
Sheet = tuple[dict[str, Any], Plan, ShoppingList]


def sheet_of(tank: Tank, journal: Journal, on: date) -> Sheet:
    rules = rulebook()
    plan, stock = plan_with_stock(tank, journal, rules, on, catalogue=catalogue() if tank.wish_list else None)
    data = handout_data(plan, tank, journal, rules, stock, catalogue(), None)
    return data, plan_on_paper(plan, pencil_for(plan, rules, text_filler(tank, journal, rules, on))), shopping_list(plan, tank, journal, rules, catalogue())


def drawn(seed: int) -> Sheet:
    """A tank on its first day, drawn from a seed: every way to start, kits, wish lists and both systems of units."""
    life = make_life(seed, 150)
    tank, problems = read_tank(yaml.safe_dump(life.tank, allow_unicode=True).encode(), "tank.yaml")
    assert tank is not None and problems == ()
    return sheet_of(tank, index_journal((), (), "journal.csv"), life.start + timedelta(days=seed % 3))


@cache
def handed_over() -> Sheet:
    return sheet_of(story_of("shop-handover").tank, story_of("shop-handover").journal, date(2026, 5, 9))


@pytest.mark.parametrize("story", names())
def test_the_paper_of_every_story_reads_clean_at_its_beginning_middle_and_end(story: str) -> None:
    days = sorted({f.on for f in all_facts() if f.story == story})
    found = {(str(on), fault) for on in {days[0], days[len(days) // 2], days[-1]} for fault in paper_proof.faults(*sheet_of(story_of(story).tank, story_of(story).journal, on))}
    assert sorted(found) == []


@pytest.mark.parametrize("seed", FEW)
def test_the_paper_of_a_drawn_tank_reads_clean(seed: int) -> None:
    assert paper_proof.faults(*drawn(seed)) == []


@pytest.mark.slow
@pytest.mark.parametrize("seed", MANY)
def test_the_paper_of_many_drawn_tanks_reads_clean(seed: int) -> None:
    assert paper_proof.faults(*drawn(seed)) == []


def spoiled(change: Any) -> list[str]:
    """What the program finds once this is done to the paper of shop-handover."""
    data, plan, shopping = handed_over()
    data = copy.deepcopy(data)
    change(data)
    return paper_proof.faults(data, plan, shopping)


def first(data: dict[str, Any]) -> dict[str, Any]:
    card: dict[str, Any] = data["cards"]["sections"][1]["cards"][0]
    return card


@pytest.mark.parametrize(("change", "told"), [
    (lambda d: d["wall"]["tests"].clear(), "no box: "),
    (lambda d: [s["needs"].clear() for s in d["cards"]["sections"]], "no box: "),
    (lambda d: first(d)["steps"].append("See “The page that is not there”."), "stands nowhere else: "),
    (lambda d: first(d)["steps"].append("Weigh (not known yet) of salt."), "for a screen: "),
    (lambda d: first(d)["steps"].append("Log it with `newtank log`."), "for a screen: "),
    (lambda d: first(d)["steps"].append("Pour in 5 gal."), "other units: "),
    (lambda d: first(d)["steps"].append("Weigh 12.345 g."), "too many digits: "),
    (lambda d: d["notices"].append("No more ammonia until it is gone.") or d["wall"]["week"].append({"title": "Feed the filter", "day": "Sat 9 May", "often": "", "hold": False}), "forbidden and ordered: "),
    (lambda d: [c.update(often="", then=[]) for s in d["cards"]["sections"] for c in s["cards"]], "comes "),
    (lambda d: d["shopping"]["trips"][0]["aisles"].pop(), "things to get"),
    (lambda d: d.update(edition=""), "no day or no edition"),
    (lambda d: d["cycle"]["events"].append(("The filter is proven", "about Sat 9 May (8 May to 10 May)")), "two spans: The filter is proven"),
    (lambda d: d["road"]["stretches"][0]["rows"].reverse(), "not in the order of their days"),
    (lambda d: [c["steps"].append("Dilute it with pure water. " * 5) for c in d["cards"]["sections"][1]["cards"]], "said "),
    (lambda d: first(d)["steps"].append("Wait for 'The tank is open'."), "a name in other quotation marks"),
])
def test_the_program_finds_what_it_looks_for(change: Any, told: str) -> None:
    assert [f for f in spoiled(change) if told in f], spoiled(change)


def test_the_program_finds_a_thing_that_is_bought_after_it_is_needed() -> None:
    data, plan, shopping = handed_over()
    late = replace(shopping, lines=tuple(replace(x, bought=date(2027, 1, 1)) for x in shopping.lines))
    assert any(f.startswith("bought 2027-01-01 and needed") for f in paper_proof.faults(data, plan, late))
