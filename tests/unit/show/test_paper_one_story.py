"""What the paper says once it says alike everywhere: one day, one limit, one order, one number for one thing."""

from __future__ import annotations

import copy
from datetime import date, timedelta
from functools import cache
from typing import Any

import pytest
import yaml

from planner.files.tank import read_tank
from planner.terms.records import index_journal
from tests import paper_proof
from tests.story_facts import story_of
from tests.unit.handout_reader import said_day
from tests.unit.show.test_paper_proof import Sheet, sheet_of

HALL = {
    "name": "Hall reef", "start": "2026-02-28", "units": "metric", "timezone": "Europe/Berlin", "tank": {"length": "80 cm", "width": "45 cm", "height": "45 cm", "lid": True},
    "rock": {"kind": "dry", "mass": "14 kg"}, "sand": {"kind": "dry", "depth": "3 cm"}, "cycle": {"ammonia": "dosed", "seed": "bottled"}, "water": {"source": "tap", "mixed_in": "bin"},
    "equipment": {"heater": ["100 W", "100 W"], "circulation": "3000 L/h", "skimmer": False, "light": "100 PAR", "bin": "60 L", "quarantine_tank": "40 L", "top_up": "10 L"},
    "room": {"temperature": "19 °C", "floor": "suspended"}, "test_kits": {"ammonia": {"basis": "N", "step": 0.25, "highest": 8}, "nitrite": {"basis": "ion", "step": 0.25, "highest": 5}},
    "wish_list": [{"animal": "amphiprion-ocellaris", "count": 2}, {"animal": "gramma-loreto"}],
}
"""Our own: tap water, a quarantine tank, much that stands there already, and no wish for a crew."""


@cache
def hall() -> Sheet:
    tank, problems = read_tank(yaml.safe_dump(HALL, allow_unicode=True).encode(), "tank.yaml")
    assert tank is not None and problems == ()
    return sheet_of(tank, index_journal((), (), "journal.csv"), date(2026, 2, 28))


@cache
def den(day: str) -> Sheet:
    return sheet_of(story_of("dry-rock-us").tank, story_of("dry-rock-us").journal, date.fromisoformat(day))


def cards(data: dict[str, Any]) -> dict[str, dict[str, Any]]:
    return {c["title"]: c for s in data["cards"]["sections"] for c in s["cards"] if not c["again"]}


def test_the_days_of_fish_in_quarantine_have_their_jobs_and_so_has_its_second_dose() -> None:
    data = hall()[0]
    found = cards(data)
    assert found["Test the quarantine tank and watch the fish"]["state"] == "from the day on which an animal is in it" and found["Test the quarantine tank and watch the fish"]["often"] == "every day"
    assert found["Give the quarantine filter a second dose"]["state"] == "once ammonia and nitrite are clear, while no animal is in it"
    assert found["Keep the waiting quarantine filter fed and tested"]["state"].endswith("while no animal is in it")
    order = list(found)
    assert order.index("Give the quarantine filter a second dose") < order.index("Move the next batch into quarantine: 2 × ocellaris clownfish") < order.index("Test the quarantine tank and watch the fish")
    assert paper_proof.faults(*hall()) == []


@pytest.mark.parametrize(("title", "told"), [
    ("Give the quarantine filter a second dose", "no job: A quarantine tank for the first fish: Give the quarantine filter a second dose"),
    ("Test the quarantine tank and watch the fish", "no job: A quarantine tank for the first fish: Test the quarantine tank and watch the fish"),
])
def test_the_program_finds_a_job_of_the_quarantine_that_is_not_printed(title: str, told: str) -> None:
    data, plan, shopping = hall()
    data = copy.deepcopy(data)
    for section in data["cards"]["sections"]:
        section["cards"] = [c for c in section["cards"] if c["title"] != title]
    assert told in paper_proof.faults(data, plan, shopping)


def test_the_program_finds_a_top_up_before_the_look_at_the_floor() -> None:
    data, plan, shopping = den("2026-02-13")
    data = copy.deepcopy(data)
    assert [j["title"] for j in data["wall"]["week"]][:2] == ["Check the tank and the thermometer", "Top up with pure water to the line"]
    data["wall"]["week"].reverse()
    assert "top-up before look: first side" in paper_proof.faults(data, plan, shopping)


def test_the_next_dose_waits_for_one_figure_that_a_card_can_show() -> None:
    """The kit counts NH3 in steps of 0.25: 0.5 mg/L as N is 0.61 mg/L as NH3 (17.03 / 14.007), and 0.5 is the step below it."""
    data = den("2026-02-13")[0]
    assert data["wall"]["not_yet"]["also"] == ["No more ammonia until your kit reads 0.5 mg/L as NH3 or less. Last reading: 2 mg/L as NH3."]
    said = " ".join(paper_proof.texts(data["cards"]))
    assert "below 0.61" not in said and "0.61" not in " ".join(cards(data)["Feed the filter with ammonia"]["steps"])


def test_what_waits_for_the_gate_of_the_first_side_says_so_in_the_week() -> None:
    """live-rock-small on its first day: the leak test begins in this week, behind the place and the floor."""
    data = sheet_of(story_of("live-rock-small").tank, story_of("live-rock-small").journal, date(2026, 2, 14))[0]
    week = {j["title"]: j["after"] for j in data["wall"]["week"]}
    assert week["Ask the landlord and the insurer"] == "" and week["Fill the tank with fresh water, a quarter at a time"] == "The place, the floor, the power and the shopping list"
    assert list(week).index("Empty the tank and wipe it dry") > list(week).index("Fill the tank with fresh water, a quarter at a time")


def test_the_day_of_the_first_dose_is_day_0_on_road_card_and_cycle_sheet() -> None:
    """It was given on 5 February: the 23rd is day 18."""
    data = den("2026-02-13")[0]
    (row,) = [r for s in data["road"]["stretches"] for r in s["rows"] if r["title"] == "Ammonia clear"]
    assert (row["counted"], row["likely"][:10]) == ("day 18", "Mon 23 Feb")
    assert cards(data)["Feed the filter with ammonia"]["day"] == "day 18" and data["cycle"]["first"] == 8 == (date(2026, 2, 13) - date(2026, 2, 5)).days


@pytest.mark.parametrize("sheet", [hall, lambda: den("2026-02-13")])
def test_the_likely_line_of_ammonia_falls_and_ends_clear_on_the_day_that_is_named(sheet: Any) -> None:
    data, plan, _ = sheet()
    chart = data["cycle"]["charts"][0]
    clear = dict(chart["lines"])["clear"]
    day = plan.forecast.events["ammonia_clear"].window.likely
    assert chart["likely"][-1] == (round((day - plan.forecast.curve[0].day).days / chart["span"], 4), clear)
    after = [y for x, y in chart["likely"] if x >= max(chart["likely"], key=lambda p: p[1])[0]]
    assert after == sorted(after, reverse=True) and len(after) > 3


def test_the_last_day_of_the_waiting_filter_is_the_day_before_the_first_animal_of_the_road() -> None:
    plan = den("2026-02-13")[1]
    first = min(t.date for t in plan.tasks if t.role == "animals" and t.where == "display" and t.date)
    assert cards(den("2026-02-13")[0])["Feed the waiting filter"]["often"].endswith(f"first animal (about {said_day(first - timedelta(days=1), plan.on)})")
    assert cards(hall()[0])["Feed the waiting filter"]["often"] == "every 5 days until the day before the first animal"  # snails come with a film, which has no day


def test_the_list_holds_what_cards_ask_for_and_says_what_was_told_of_what_stands_there() -> None:
    data = hall()[0]
    rows = {r["name"] for t in data["shopping"]["trips"] for a in t["aisles"] for r in a["rows"]}
    assert {"dechlorinator for chlorine and chloramine", "old towels, a mop, a torch and a new cloth"} <= rows
    assert "heater for the tank, 100 W and 100 W" in data["there"] and any(x.startswith("container for top-up water, 10 L (fill at most 3.") for x in data["there"])
    owned = " ".join([j["title"] for j in data["wall"]["week"]] + cards(data)["Before you pay"]["steps"])
    assert "Buy " not in owned


def test_a_stage_has_one_number_on_the_list_and_on_the_page_of_the_animals() -> None:
    data = den("2026-02-13")[0]
    for row in data["shopping"]["animals"]:
        numbers = {a["stage"] for a in data["animals"]["animals"] if a["name"].rpartition("× ")[2] == row["name"]}
        assert not numbers or row["remark"] == f"stage {numbers.pop()}"
    assert [r["remark"] for r in data["shopping"]["animals"]][:2] == ["stage 1", "stage 2"]
