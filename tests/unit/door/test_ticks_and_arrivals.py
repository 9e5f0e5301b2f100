"""Ticks and arrivals before they are written: what is asked, what is said, and which facts go with them."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta
from functools import cache

import pytest

from planner.door.acts import Act, Desk, tick_tasks
from planner.door.animal_warnings import of_arrival, of_loss
from planner.door.entry_words import Stamp
from planner.door.put_off import skip_tasks
from planner.files.journal_form import NewRow
from planner.plan.make import make_plan
from planner.rulebook.read import shipped
from planner.show.words.causes import all_words
from planner.stock.catalogue import Catalogue, load_catalogue
from planner.terms.causes import Cause
from planner.terms.units import Refusal
from tests.engine_desk import journal_of, plan_with, tank_with
from tests.rulecases import rulebook

ON = date(2026, 3, 10)
READY = {"already": {"big-change": "2026-03-05"}}


@cache
def animals() -> Catalogue:
    return load_catalogue([shipped("rules") / "livestock"])


def desk(*rows: str, **tank: object) -> Desk:
    made = tank_with(**tank)
    return Desk(made, journal_of(*rows, tank=made), rulebook(), ON, plan_with(rulebook(), *rows, on=ON.isoformat(), tank=made), Stamp(ON), animals())


def tick(at: Desk, *ids: str) -> tuple[list[NewRow], str, str]:
    act = tick_tasks(at, ids)
    assert isinstance(act, Act), act
    return [e.row for e in act.entries], " ".join(act.questions), said(act.warnings)


def said(told: tuple[str | Cause, ...] | list[str | Cause]) -> str:
    return " ".join(all_words(told, "metric"))


def test_what_is_on_hold_is_asked_about_and_the_rest_is_not() -> None:
    held = next(t.id for t in desk("2026-03-09,event,leak").plan.tasks if t.state == "on_hold")
    assert f"{held} is on hold" in tick(desk("2026-03-09,event,leak"), held)[1]
    assert "on hold" not in tick(desk(), held)[1]


@pytest.mark.parametrize(("event", "end"), [("heater_off", "heater-off/replaced"), ("pump_stopped", "pump-stopped/running"), ("electric_shock", "electric-shock/found"),
                                            ("animal_missing", "animal-missing/found"), ("leak", "leak/repaired")])
def test_the_end_of_an_alarm_is_asked_about_within_the_hour_of_its_event_and_not_after_it(event: str, end: str) -> None:
    def asked(minutes: int) -> str:
        at = desk("2026-03-01T12:00+01:00,added,trochus-maculatus,2", f"2026-03-10T18:00+01:00,event,{event}")
        noted = datetime.fromisoformat("2026-03-10T18:00+01:00")
        return tick(replace(at, stamp=Stamp(noted + timedelta(minutes=minutes))), end)[1]

    assert "this tick ends the alarm" in asked(0) and "this tick ends the alarm" in asked(59)
    assert "this tick ends the alarm" not in asked(60)


def test_an_event_without_a_time_may_have_been_within_the_hour() -> None:
    assert "this tick ends the alarm" in tick(desk("2026-03-10,event,heater_off"), "heater-off/replaced")[1]
    assert "this tick ends the alarm" not in tick(desk("2026-03-09,event,heater_off"), "heater-off/replaced")[1]


def test_a_task_of_another_kind_of_tank_is_written_by_itself_and_told() -> None:
    plain = desk()
    other = next(key for key, rule in plain.rules.tasks.items() if rule.only_when is not None and rule.writes is None and not rule.reads and plain.plan.task(key) is None
                 and "is no task of this tank" in tick(plain, key)[2])
    rows, _, _ = tick(plain, other)
    assert [(r.kind, r.what) for r in rows] == [("done", other)]


def test_an_animal_before_its_gate_is_told_and_one_that_cannot_stay_is_told_why() -> None:
    early = said(list(of_arrival(desk(), animals(), "amphiprion-ocellaris", 1)))
    assert "The tank is not open to animals yet" in early and "cannot stay" not in early.lower()
    large = said(list(of_arrival(desk(**READY), animals(), "paracanthurus-hepatus", 1)))
    assert "cannot stay in this tank" in large


def test_an_animal_that_nobody_knows_is_judged_by_nothing_but_the_gates() -> None:
    assert list(of_arrival(desk(), animals(), "some fish from a friend", 1)) == list(of_arrival(desk(), animals(), "fish", 1))


def test_animals_too_soon_after_the_last_are_told_with_the_days_between() -> None:
    """A stage a fortnight is common practice, no source."""
    gap = round(animals().figures.value("stage_gap"))
    for day, soon in ((9, True), (10, False)):
        told = said(list(of_arrival(desk(f"2026-03-{day:02},added,trochus-maculatus,2"), animals(), "amphiprion-ocellaris", 1)))
        assert (f"The last animals came {10 - day} day" in told and f"{gap} days and clear tests" in told) == soon


def test_no_more_are_lost_than_lived_there() -> None:
    two = desk("2026-03-05,added,amphiprion-ocellaris,2")
    assert isinstance(of_loss(two, animals(), "amphiprion-ocellaris", 3, "display"), Refusal)
    assert of_loss(two, animals(), "amphiprion-ocellaris", 2, "display") is None
    assert of_loss(two, animals(), "ocellaris clownfish", 1, "display") is None
    assert "knows of no" in str(of_loss(two, animals(), "amphiprion-ocellaris", 1, "quarantine"))


FIRST_FISH = ("2026-02-10,done,fish/stage-1", "2026-02-10,added,amphiprion-ocellaris,1", "2026-02-24,done,fish/stage-2", "2026-02-24,added,amphiprion-ocellaris,1")
RUNS = {"already": {"big-change": "2026-01-10", "crew": "2026-02-01"}}


def test_a_stage_of_animals_may_be_skipped_and_a_test_that_protects_may_not() -> None:
    at = desk(*FIRST_FISH, **RUNS)
    assert isinstance(skip_tasks(at, ["fish/stage-3"]), Act)
    assert isinstance(skip_tasks(at, ["site/rcd"]), Refusal) and isinstance(skip_tasks(at, ["quarantine/fish-in"]), Refusal)


def test_fish_that_wait_in_quarantine_are_not_left_there() -> None:
    assert isinstance(skip_tasks(desk(*FIRST_FISH, "2026-03-01,added,amphiprion-ocellaris,1,,quarantine", **RUNS), ["fish/stage-3"]), Refusal)


@pytest.mark.parametrize(("waits", "row"), [
    ("2026-02-26,added,royal gramma,1,,quarantine", ("moved", "royal gramma")), ("2026-02-26,added,gramma-loreto,1,,quarantine", ("moved", "gramma-loreto")),
    ("2026-02-26,added,amphiprion-ocellaris,1,,quarantine", ("added", "gramma-loreto")),
])
def test_a_stage_whose_animal_waits_in_quarantine_moves_it_by_the_name_that_the_journal_has(waits: str, row: tuple[str, str]) -> None:
    at = desk(waits, **RUNS, wish_list=[{"animal": "gramma-loreto", "count": "1"}])
    at = replace(at, plan=make_plan(at.tank, at.journal, at.rules, ON, catalogue=animals()))
    stage = next(t for t in at.plan.tasks if t.animals == (("gramma-loreto", 1),))
    rows, _, _ = tick(at, stage.id)
    assert row in [(r.kind, r.what) for r in rows]


def test_a_fish_that_no_stage_moves_leaves_the_quarantine_under_its_own_name() -> None:
    """Moved as `fish` it would live in the display, and as a clownfish in quarantine as well."""
    at = desk("2026-03-01 12:00,added,amphiprion-ocellaris,2,,quarantine,", "2026-03-01 12:00,added,gramma-loreto,1,,quarantine,")
    moved = [(row.what, row.value, row.where) for row in tick(at, "quarantine/move")[0] if row.kind == "moved"]
    assert moved == [("amphiprion-ocellaris", "2", "display"), ("gramma-loreto", "1", "display")]
    assert [row.what for row in tick(desk(), "quarantine/move")[0] if row.kind == "moved"] == ["fish"]


@pytest.mark.parametrize(("days", "asks"), [(41, True), (42, False)])
def test_a_move_out_of_quarantine_before_its_day_is_asked_about(days: int, asks: bool) -> None:
    day = ON - timedelta(days=days)
    at = desk(f"{day},done,quarantine/fish-in#1,,,quarantine", f"{day},added,amphiprion-ocellaris,1,,quarantine",
              *(f"{ON},reading,{name},{value}" for name, value in (("ammonia", "0,mg/L as N"), ("nitrite", "0,mg/L as N"), ("nitrate", "10,mg/L as NO3"), ("ph", "8.1,pH"), ("alkalinity", "8,dKH"), ("salinity", "35,ppt"), ("temperature", "25.5,C"))),
              **READY, start="2026-01-01")
    assert ("is not asked for yet, because what it waits for is not proven" in tick(at, "quarantine/move")[1]) is asks


@pytest.mark.parametrize(("rows", "asks"), [((), False), (("2026-02-28,added,amphiprion-ocellaris,1,,quarantine",), True)])
def test_ammonia_for_the_quarantine_filter_is_asked_about_while_a_fish_is_in(rows: tuple[str, ...], asks: bool) -> None:
    assert ("ammonia kills" in tick(desk(*rows, **READY), "quarantine/feed")[1]) is asks
