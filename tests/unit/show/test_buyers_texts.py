"""Rule texts fit the buyer: the source of water, and what stands in the tank file, decide what a task asks for."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import pytest

from planner.judge.figures import FIGURES
from planner.plan.make import make_plan
from planner.plan.texts import shown_amount, text_filler
from planner.rulebook.house.overlay import load_house
from planner.rulebook.read import shipped
from planner.show.words.causes import all_words
from planner.show.words.conditions import condition_words
from planner.show.words.words import NAMES
from planner.stock.catalogue import load_catalogue
from planner.terms.records import Plan, Task, Trace
from tests.engine_desk import book_with, journal_of, plan_with, tank_with
from tests.rulecases import rulebook

DAY = "2026-03-02"


def plan_for(**tank: object) -> Plan:
    return plan_with(rulebook(), on=DAY, tank=tank_with(**tank))


def task_of(key: str, **tank: object) -> Task:
    return next(t for t in plan_for(**tank).tasks if t.key == key)


def words_of(task: Task) -> str:
    return " ".join((task.title, *all_words(task.steps, "us"), *task.watch))


@pytest.mark.parametrize("key", ["big-change/mix", "care/weekly-change", "rock/curing-bin"])
def test_who_buys_ready_mixed_water_fetches_it_and_weighs_no_salt(key: str) -> None:
    task = task_of(key, water__source="ready_mixed", rock__kind="live", rock__cured_in="bin")
    assert "ready-mixed water" in words_of(task)
    assert not [word for word in ("the salt", "of salt", "Make RO", "describe the tank") if word in words_of(task)]
    assert not [name for name, _ in task.amounts if "salt" in name]


def test_no_task_shows_an_amount_of_salt_to_who_buys_ready_mixed_water() -> None:
    plan = plan_for(water__source="ready_mixed", rock__kind="live", rock__cured_in="bin")
    shown = {name for t in plan.tasks for name, _ in t.amounts} | {q.name for q in plan.quantities}
    assert not {name for name in shown if "salt" in name}


@pytest.mark.parametrize(("source", "asks"), [("ro", "of RO water"), ("distilled", "of distilled water"), ("tap", "of tap water")])
def test_water_for_the_big_change_comes_from_where_the_buyer_has_it(source: str, asks: str) -> None:
    task = task_of("big-change/mix", water__source=source)
    assert asks in task.steps[1]
    assert "big_change_batch_salt" in dict(task.amounts)


@pytest.mark.parametrize("source", ["distilled", "tap", "ready_mixed"])
def test_without_an_ro_unit_no_task_speaks_of_ro_water_alone(source: str) -> None:
    plan = plan_for(water__source=source, equipment__ro_rate=None)
    assert not [t.key for t in plan.tasks for text in (*all_words(t.steps, "us"), *t.watch) if "RO water" in text]
    assert "care/water-unit" not in {t.key for t in plan.tasks}


def test_who_tops_up_from_a_unit_of_their_own_changes_its_filters() -> None:
    assert "care/water-unit" in {t.key for t in plan_for(water__source="tap").tasks}


def test_a_hot_room_is_told_on_the_first_day_and_heaters_do_not_contradict_it() -> None:
    plan = plan_for(room__temperature="30 C")
    assert [n for n in all_words(plan.notices, "metric") if "The room is at 30 °C" in n and "chiller" in n]
    steps = next(t for t in plan.tasks if t.key == "site/shop-equipment").steps
    assert "chiller" in steps[0] and "They are sized for 19 °C. A room that never does needs none." in steps[2]


def test_a_room_of_unknown_temperature_is_sold_heaters_and_no_cooling() -> None:
    plan = plan_for(room__temperature=None)
    assert not [n for n in all_words(plan.notices, "metric") if "chiller" in n]
    assert next(t for t in plan.tasks if t.key == "site/shop-equipment").steps[1].startswith("Buy two heaters")


def test_a_number_of_a_house_shows_in_every_text_that_speaks_of_it() -> None:
    plan = plan_with(book_with(leak_watch=(96, "h")), "2026-03-03,done,leak-test/fill", on="2026-03-04", tank=tank_with(already={"site": "2026-03-01"}))
    phase = plan.phase("leak-test")
    assert phase is not None
    texts = [phase.intro, *phase.advice, *(text for t in plan.tasks if t.phase == "leak-test" for text in (t.title, *all_words(t.steps, "us")))]
    assert "Watch it for 4 days" in phase.intro
    assert "Give it the full 4 days" in " ".join(phase.advice)
    assert not [text for text in texts if "24 h" in text or "two days" in text]


def test_why_spells_out_the_figures_of_a_gate() -> None:
    plan = plan_for()

    def told(trace: Trace) -> str:
        return " ".join((condition_words(trace), *map(told, trace.parts)))

    assert not [key for key, trace in plan.traces.items() if "{" in told(trace)]
    assert "nitrate is at most 20 mg/L" in told(plan.traces["gate/big-change"])


def test_a_step_of_temperature_is_shown_as_a_step_in_us_units() -> None:
    assert shown_amount(1, "K", "metric") == "1 °C"
    assert shown_amount(1, "K", "us") == "1.5 °F"


@pytest.mark.parametrize("quarantine", ["yes", "no"])
def test_the_first_stage_of_fish_is_not_spoken_of_as_the_next_one(quarantine: str) -> None:
    tank = tank_with(equipment__quarantine_tank=quarantine, wish_list=[{"animal": "amphiprion-ocellaris", "count": 2}])
    plan = make_plan(tank, journal_of(tank=tank), rulebook(), date.fromisoformat(DAY), catalogue=load_catalogue([shipped("rules") / "livestock"]))
    stages = [t for t in plan.tasks if t.phase == "fish" and t.key in ("fish/stage", "fish/stage-choose") and t.occurrence == 1]
    assert "fish/stage" in {t.key for t in stages}
    assert not [text for t in stages for text in (t.title, *all_words(t.steps, "us")) if "next fish" in text or "every animal" in text]


@pytest.mark.parametrize("floor", ["solid", "suspended"])
def test_the_first_days_ask_for_a_few_hours_each(floor: str) -> None:
    days: dict[date, int] = {}
    for task in plan_for(room__floor=floor).tasks:
        if task.date is not None and (task.date - date.fromisoformat(DAY)).days < 5:
            days[task.date] = days.get(task.date, 0) + task.minutes
    assert days[date.fromisoformat(DAY)] <= 120
    assert max(days.values()) <= 300, "the longest is the day of the first shopping, on which the stand comes and is set level"


@pytest.mark.parametrize(("rock", "sand", "says", "never"), [
    ("live", {"kind": "live", "depth": "2 cm"}, ["Reserve live or cured rock", "Order live sand"], ["Buy dry"]),
    ("live", {"kind": "dry", "depth": "2 cm"}, ["Reserve live or cured rock", "Buy dry sand"], ["dry rock", "live sand"]),
    ("dry", {"kind": "none"}, ["Buy dry rock now"], ["sand", "Reserve"]),
    ("dry", {"kind": "dry", "depth": "2 cm"}, ["Buy dry rock and dry sand now"], ["Reserve", "Order live"]),
])
def test_rock_and_sand_are_bought_or_ordered_as_the_tank_file_has_them(rock: str, sand: dict[str, str], says: list[str], never: list[str]) -> None:
    said = " ".join(task_of("site/shop-rock", rock__kind=rock, sand=sand).steps)
    assert not [words for words in says if words not in said]
    assert not [words for words in never if words in said]


def test_the_task_for_salt_says_what_its_figure_holds_and_what_comes_on_top() -> None:
    cures = " ".join(task_of("site/shop-water", rock__kind="live", rock__cured_in="bin").steps)
    assert "That covers the first fill" in cures and "of salt on top for the bin in which your live rock cures" in cures
    dry = " ".join(task_of("site/shop-water", rock__kind="dry").steps)
    assert "That covers the first fill" in dry and "live rock" not in dry


def test_words_of_a_shop_stand_for_buyers_of_every_kind(tmp_path: Path) -> None:
    (tmp_path / "setup").mkdir()
    (tmp_path / "setup" / "site.yaml").write_text("phase: site\ntasks:\n  - id: shop-equipment\n    steps: [Choose your lamp in our cellar.]\n", encoding="utf-8")
    (tmp_path / "setup" / "fish.yaml").write_text("phase: fish\ntasks:\n  - id: stage\n    steps:\n" + "".join(f"      - {json.dumps(s)}\n" for s in rulebook().tasks["fish/stage"].steps)
                                        + "      - Ring us when they are in.\n", encoding="utf-8")
    book, problems = load_house(tmp_path, rulebook())
    assert not problems
    assert {v.steps for v in book.tasks["site/shop-equipment"].variants} == {()}
    assert [v.steps[-1] for v in book.tasks["fish/stage"].variants] == ["Ring us when they are in."]
    assert book.tasks["fish/stage"].variants[0].steps[:-1] == rulebook().tasks["fish/stage"].variants[0].steps


@pytest.mark.parametrize(("value", "unit", "told"), [
    (10, "cm", "4 in"), (20, "cm", "8 in"), (3, "cm", "1.2 in"), (1, "m", "3.5 ft"), (18, "°C", "64 °F"), (27, "°C", "81 °F"), ((77.5 - 32) / 1.8, "°C", "77.5 °F"), (1, "K", "1.5 °F"), (0.2, "K", "0.5 °F"),
])
def test_what_a_rule_says_in_round_figures_is_as_round_in_the_us(value: float, unit: str, told: str) -> None:
    """1 in is 2.54 cm, 1 ft 0.3048 m, t/°F = 1.8 t/°C + 32 (NIST SP 811, appendix B.8). A step of temperature is a most and is never rounded up."""
    assert shown_amount(value, unit, "us") == told
    assert unit not in ("°C", "K") or shown_amount(value, unit, "us", exact=True) == f"{round(value * 1.8 + 32 * (unit == '°C'), 1):g} °F"


def test_nitrogen_stands_on_every_page_as_the_keepers_own_kit_counts_it() -> None:
    """0.5 mg/L as N is 0.61 of NH3 (17.031 / 14.007), of which a card in steps of 0.25 shows 0.5, and 5 are 16 of NO2 (46.005 / 14.007; atomic weights: IUPAC 2021)."""
    rule = rulebook().tasks["cycle/re-dose"]
    own = {"ammonia": {"basis": "NH3", "step": "0.25"}, "nitrite": {"basis": "ion", "step": "0.25"}}
    fill = text_filler(tank_with(test_kits=own), journal_of(tank=tank_with(test_kits=own)), rulebook(), date(2026, 3, 2))
    texts = " ".join(map(fill, (rule.title, *map(str, rule.steps), *map(str, rule.because))))
    assert texts.count("0.5 mg/L as NH3 or less") == 2 and "0.61" not in texts and "16 mg/L as NO2" in texts and "as N " not in f"{texts} ".replace(".", " ")
    bare = text_filler(tank_with(test_kits={}), journal_of(tank=tank_with(test_kits={})), rulebook(), date(2026, 3, 2))
    assert "0.4 mg/L as N or less" in " ".join(map(bare, rule.steps))


def test_what_dates_a_job_by_a_figure_is_told_as_days_of_something() -> None:
    """`newtank why` says: first from the day ..., and `the days that its batches take`."""
    dated = {name for rule in rulebook().tasks.values() for name in (rule.wait, rule.every) if name in FIGURES}
    assert {name for name in dated if not NAMES.get(name or "", "").startswith("the days ")} == set()
