"""Plans with kept forecasts are the plans without, and what is kept is used."""

from __future__ import annotations

import json
from datetime import date, timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import planner.science.cycle.weigh as weighing
from planner.files.journal import read_journal
from planner.files.kept import Kept
from planner.files.tank import Tank, read_tank
from planner.judge.cycle_expected import forecast_untested
from planner.judge.facts import zone_of
from planner.judge.forecast_cache import condition_once
from planner.plan.make import make_plan
from planner.rulebook.shipped_cache import load_shipped_rules
from planner.show.json.plan_document import plan_document
from planner.terms.records import Journal, Plan

RULES = load_shipped_rules()[0]
BEGIN = date(2026, 1, 5)
TANK = """\
id: 3e1f1e2c-90b5-4b3b-8a4e-5f6f3b6c2a11
start: 2026-01-04
timezone: Europe/London
tank: {length: 100 cm, width: 50 cm, height: 50 cm, glass: 10 mm, waterline: 3 cm}
rock: {kind: %s, mass: 15 kg}
test_kits: {ammonia: {basis: N, step: 0.25}, nitrite: {basis: N, step: 0.25}, nitrate: {basis: ion, step: 5}}
already: {start-up: 2026-01-04}
"""
ROWS = ((2, "ammonia", 2.0), (6, "ammonia", 1.5), (6, "nitrite", 0.5), (10, "ammonia", 0.5), (10, "nitrite", 2.0))


def tank(rock: str = "dry") -> Tank:
    made, problems = read_tank(TANK % rock, "tank.yaml")
    assert made is not None and not problems
    return made


def journal(rows: tuple[tuple[int, str, float], ...] = ROWS, more: str = "") -> Journal:
    text = f"when,kind,what,value,unit,where,note\n{BEGIN} 10:00,dosed,ammonia,2,mg/L as N,display,\n"
    text += "".join(f"{BEGIN + timedelta(days=day)} 18:00,reading,{name},{value},mg/L,display,\n" for day, name, value in rows)
    made, problems = read_journal(text + more, "journal.csv", tank(), zone_of(tank()))
    assert not problems
    return made


def text_of(plan: Plan) -> str:
    forecast_untested.cache_clear()
    return json.dumps(plan_document(plan, RULES)) + repr(plan)


def planned(day: int, kept: Kept | None, read: Journal | None = None) -> str:
    """The plan of a program that has just been started."""
    condition_once.cache_clear()
    return planned_on(day, kept, read)


def planned_on(day: int, kept: Kept | None = None, read: Journal | None = None) -> str:
    """The plan of a program that runs on."""
    forecast_untested.cache_clear()
    return text_of(make_plan(tank(), read or journal(), RULES, BEGIN + timedelta(days=day), kept=kept))


@pytest.fixture
def rounds(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """Grows by one whenever the ensemble is weighed against readings."""
    counted: list[int] = []
    real = weighing.probabilities

    def counting(*args: object) -> object:
        counted.append(1)
        return real(*args)  # type: ignore[arg-type]

    monkeypatch.setattr(weighing, "probabilities", counting)
    return counted


def test_a_second_plan_of_the_day_runs_no_model(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    first = planned(12, Kept(tmp_path))

    def never(*_: object, **__: object) -> None:
        raise AssertionError("the model ran again")

    monkeypatch.setattr("planner.science.cycle.forecast.integrate", never)
    assert planned(12, Kept(tmp_path)) == first


def test_the_next_morning_weighs_nothing_again(tmp_path: Path, rounds: list[int]) -> None:
    planned(12, Kept(tmp_path))
    assert rounds
    rounds.clear()
    morning = planned(13, Kept(tmp_path))
    assert not rounds
    assert morning == planned(13, None)


def test_a_program_that_runs_on_weighs_nothing_again_the_next_morning(rounds: list[int]) -> None:
    planned(12, None)
    rounds.clear()
    morning = planned_on(13)
    assert not rounds
    assert morning == planned(13, None)


def test_a_dose_after_the_last_reading_weighs_nothing_again(tmp_path: Path, rounds: list[int]) -> None:
    planned(12, Kept(tmp_path))
    rounds.clear()
    dosed = journal(more=f"{BEGIN + timedelta(days=11)} 19:00,dosed,ammonia,1,mg/L as N,display,\n")
    there = planned(12, Kept(tmp_path), dosed)
    assert not rounds
    assert there == planned(12, None, dosed)


@pytest.mark.parametrize("rows", [ROWS[:-1], (*ROWS[:-1], (10, "nitrite", 2.25)), (*ROWS, (11, "nitrite", 2.0))], ids=["gone", "changed", "new"])
def test_a_row_that_differs_is_weighed(tmp_path: Path, rounds: list[int], rows: tuple[tuple[int, str, float], ...]) -> None:
    planned(12, Kept(tmp_path))
    rounds.clear()
    there = planned(12, Kept(tmp_path), journal(rows))
    assert rounds
    assert there == planned(12, None, journal(rows))


def test_what_is_whole_but_no_forecast_is_worked_out_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    right = planned(12, Kept(tmp_path))
    for nonsense in ({"days": 1}, [], 3, {"z": [[1.0]]}):
        monkeypatch.setattr(Kept, "find", lambda *_, found=nonsense: found)
        assert planned(12, Kept(tmp_path)) == right


@settings(max_examples=4)
@given(st.lists(st.tuples(st.integers(1, 20), st.sampled_from(["ammonia", "nitrite", "nitrate"]), st.sampled_from([0.0, 0.25, 1.0, 2.0, 5.0])), max_size=6, unique_by=lambda r: r[:2]),
       st.sampled_from(["dry", "live"]), st.integers(20, 60))
def test_plans_with_and_without_are_equal(tmp_path_factory: pytest.TempPathFactory, rows: list[tuple[int, str, float]], rock: str, day: int) -> None:
    place, read = tmp_path_factory.mktemp("kept"), journal(tuple(sorted(rows)))
    texts = []
    for on, kept in ((day - 1, Kept(place)), (day, None), (day, Kept(place)), (day, Kept(place))):
        forecast_untested.cache_clear()
        condition_once.cache_clear()
        texts.append(text_of(make_plan(tank(rock), read, RULES, BEGIN + timedelta(days=on), kept=kept)))
    assert texts[1] == texts[2] == texts[3]
