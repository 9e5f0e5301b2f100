"""The plan as a whole: order, words, and sameness."""

from __future__ import annotations

import json
import pickle
import subprocess
import sys
from datetime import date

import pytest

from planner.plan.make import make_plan
from planner.show.json.plan_document import plan_document
from planner.show.words.causes import all_words
from planner.terms.records import State
from tests.engine_desk import journal_of, plan_with, small_book, tank_with
from tests.rulecases import rulebook

STORY = ["2026-03-02,done,site/place", "2026-03-03,done,leak-test/rinse", "2026-03-04,event,smell", "2026-03-05,reading,salinity,34,ppt,mixing"]


@pytest.fixture(scope="module")
def whole():  # type: ignore[no-untyped-def]
    return plan_with(rulebook(), *STORY, on="2026-03-08")


def test_tasks_are_in_a_total_order_by_date(whole) -> None:  # type: ignore[no-untyped-def]
    days = [t.date or date.max for t in whole.tasks]
    assert days == sorted(days)
    assert len({t.id for t in whole.tasks}) == len(whole.tasks) > 50


def test_phases_stand_in_the_order_of_the_rules(whole) -> None:  # type: ignore[no-untyped-def]
    order = {p.phase: p.order for p in rulebook().phases}
    assert [order[p.id] for p in whole.phases] == sorted(order[p.id] for p in whole.phases)


def test_every_brace_is_filled(whole) -> None:  # type: ignore[no-untyped-def]
    texts = [text for t in whole.tasks for text in (t.title, *all_words(t.steps, "metric"), *t.watch, *all_words(t.because, "metric"))]
    texts += [text for p in whole.phases for text in (p.intro, *p.advice)] + [h.because for h in whole.holds] + all_words(whole.notices, "metric")
    assert [text for text in texts if "{" in text or "}" in text] == []


def test_every_date_window_is_in_order(whole) -> None:  # type: ignore[no-untyped-def]
    for window in [t.window for t in whole.tasks] + [p.window for p in whole.phases]:
        days = [d for d in (window.earliest, window.likely, window.latest) if d is not None]
        assert days == sorted(days)


def test_figures_are_in_the_buyers_units() -> None:
    book = small_book("[{phase: site, tasks: [{id: fill, title: 'Fill {leak_water}', anchor: {phase: site}}]}]")
    assert " gal" in plan_with(book, on="2026-03-02", tank=tank_with(units="us")).tasks[0].title
    assert plan_with(book, on="2026-03-02").tasks[0].title.endswith(" L")


def test_a_figure_that_cannot_be_worked_out_says_so() -> None:
    book = small_book("[{phase: site, tasks: [{id: fill, title: 'Fill {no_such_figure}', anchor: {phase: site}}]}]")
    assert plan_with(book, on="2026-03-02").tasks[0].title == "Fill an amount that is not known yet"


def test_the_same_input_gives_the_same_bytes_twice() -> None:
    tank = tank_with()
    first, second = (make_plan(tank, journal_of(*STORY), rulebook(), date(2026, 3, 8)) for _ in range(2))
    assert first == second
    assert json.dumps(plan_document(first), sort_keys=False) == json.dumps(plan_document(second), sort_keys=False)


AGAIN = """
import hashlib, json
from planner.show.json.plan_document import plan_document
from tests.engine_desk import plan_with
from tests.rulecases import rulebook
from tests.unit.plan.test_plan import STORY
print(hashlib.sha256(json.dumps(plan_document(plan_with(rulebook(), *STORY, on="2026-03-08"))).encode()).hexdigest())
"""


def test_the_bytes_do_not_depend_on_the_hash_seed_or_the_zone_of_the_machine() -> None:
    told = [subprocess.run([sys.executable, "-c", AGAIN], env={"PYTHONHASHSEED": seed, "TZ": zone, "PYTHONPATH": "."}, capture_output=True, text=True, check=True).stdout
            for seed, zone in (("1", "UTC"), ("77", "Asia/Tokyo"))]
    assert told[0] == told[1] and len(told[0]) == 65


def test_making_a_plan_leaves_its_input_as_it_was() -> None:
    tank, journal = tank_with(), journal_of(*STORY)
    before = pickle.dumps((journal.rows, journal.unreadable))
    make_plan(tank, journal, rulebook(), date(2026, 3, 8))
    assert pickle.dumps((journal.rows, journal.unreadable)) == before and tank == tank_with()


def test_a_done_task_bears_the_day_of_its_tick() -> None:
    book = small_book("[{phase: site, tasks: [{id: buy, anchor: {phase: site}}, {id: fill, anchor: {task: site/buy}}]}]")
    plan = plan_with(book, "2026-03-03,done,site/buy", "2026-03-04,skipped,site/fill", on="2026-03-05")
    assert [(t.id, t.state, t.closed_on) for t in plan.tasks][:2] == [("site/buy", State.DONE, date(2026, 3, 3)), ("site/fill", State.SKIPPED, date(2026, 3, 4))]


def test_a_retest_asks_only_for_what_its_gate_does_not_know_or_knows_to_be_out_of_its_band() -> None:
    whole_set = ("ammonia,0,mg/L", "nitrite,0,mg/L", "nitrate,10,mg/L", "ph,8.1,pH", "alkalinity,8,dKH", "salinity,35,ppt", "temperature,28.4,C")
    rows = [f"2026-03-03 10:00,reading,{row},display" for row in whole_set]
    tank = tank_with(**{"already__big-change": "2026-03-01"})
    first = make_plan(tank, journal_of(tank=tank), rulebook(), date(2026, 3, 3)).task("animals/retest#1")
    again = make_plan(tank, journal_of(*rows, "2026-03-03 10:00,done,animals/retest#1", tank=tank), rulebook(), date(2026, 3, 4)).task("animals/retest#2")
    assert first is not None and first.reads == ("ammonia", "nitrite", "nitrate", "ph", "alkalinity", "salinity", "temperature")
    assert again is not None and again.reads == ("ammonia", "nitrite", "temperature")  # a day old, a day old, too warm
