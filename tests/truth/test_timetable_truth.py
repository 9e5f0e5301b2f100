"""The dated plan of a new tank beside a published timetable: order and spans, not days.

The youth timetable of the 4-H Marine Aquarium Project Book (UF/IFAS, EDIS 129496; contents and timeline read): crew in week 3 from the
set-up, a water change and the first corals in week 5, more fish in week 7, a look at the instruments in week 8. It is a fast one, so
each of its steps is the earliest that a plan of ours may name."""

from __future__ import annotations

from datetime import date, timedelta
from functools import cache

import pytest

from planner.plan.make import make_plan
from planner.stock.catalogue import load_catalogue
from planner.terms.records import Plan
from tests.engine_desk import journal_of, tank_with
from tests.rulecases import RULES, rulebook

START = date(2026, 3, 2)
WEEK = timedelta(days=7)
LIST = [{"animal": "amphiprion-ocellaris", "count": 2}, {"animal": "gramma-loreto"}, {"animal": "lysmata-amboinensis", "count": 2}, {"animal": "sarcophyton-glaucum"}]


@cache
def plan() -> Plan:
    tank = tank_with(wish_list=LIST, tank__lid=True)
    return make_plan(tank, journal_of(tank=tank), rulebook(), START, catalogue=load_catalogue([RULES / "livestock"]))


def days(task: str, way: str = "likely") -> list[date]:
    """The quick (`earliest`) or likely days of all occurrences, in order."""
    found = sorted(day for t in plan().tasks if t.key == task and (day := getattr(t.window, way)) is not None)
    assert found, f"{task} has no day"
    return found


@pytest.mark.parametrize(("task", "week"), [("crew/stage", 3), ("corals/stage", 5), ("fish/stage", 5)])
def test_nothing_comes_in_before_its_week_of_the_timetable(task: str, week: int) -> None:
    assert days(task, "earliest")[0] >= START + (week - 1) * WEEK


def test_more_fish_come_no_earlier_than_week_seven() -> None:
    assert days("fish/stage", "earliest")[1] >= START + 6 * WEEK


def test_the_order_is_that_of_the_timetable() -> None:
    """But for the first fish, which the timetable does not name: crew before corals and before more fish, the change before all."""
    crew, corals, fish = (days(task) for task in ("crew/stage", "corals/stage", "fish/stage"))
    assert days("big-change/change")[-1] < crew[0] < min(corals[0], fish[0])
    assert crew[0] < fish[1]


def test_the_spans_are_at_least_those_of_the_timetable() -> None:
    """Two weeks from the crew to the corals, four from the crew to more fish."""
    crew = days("crew/stage")[0]
    assert days("corals/stage")[0] - crew >= 2 * WEEK
    assert days("fish/stage")[1] - crew >= 4 * WEEK
