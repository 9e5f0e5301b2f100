"""How long a tank may be alone, and which limit says so."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from planner.files.journal import read_journal
from planner.files.tank import read_tank
from planner.judge.facts import Facts, gather, zone_of
from planner.plan.absence import Absence, plan_absence
from planner.plan.rule_cases import HEADER
from planner.show.terminal.away import away_document, home_alone_lines
from planner.show.words.words import plain_text
from planner.terms.records import State
from tests.rulecases import rulebook
from tests.unit.plan_builder import plan, task

ON = date(2026, 6, 1)
WELL = "heater: [100 W, 100 W], top_up: 30 L"


def facts(*rows: str, equipment: str = WELL) -> Facts:
    tank, problems = read_tank(f"tank: {{length: 100 cm, width: 50 cm, height: 50 cm}}\ntimezone: UTC\nroom: {{temperature: 21 C}}\nequipment: {{{equipment}}}\n", "tank.yaml")
    assert tank is not None and problems == ()
    journal, wrong = read_journal(HEADER + "".join(r + "\n" for r in rows), "journal.csv", tank, zone_of(tank))
    assert wrong == ()
    return gather(tank, journal, ON)


def came(days: int, where: str = "display") -> str:
    return f"{ON - timedelta(days=days)},added,amphiprion-ocellaris,2,,{where},"


def absence(*rows: str, nights: int = 7, equipment: str = WELL, alarms: tuple[str, ...] = ()) -> Absence:
    return plan_absence(ON, ON + timedelta(days=nights), facts(*rows, equipment=equipment), rulebook(), plan(*(task(id, ON) for id in alarms), on=ON))


@pytest.mark.parametrize(("days", "nights", "why"), [(29, 0, "age"), (30, 1, "age"), (90, 1, "age"), (91, 2, "food"), (181, 2, "food")])
def test_the_younger_the_animals_the_shorter_it_may_be_alone(days: int, nights: int, why: str) -> None:
    found = absence(came(days))
    assert (found.alone, found.limits[0].why) == (nights, why)


def test_a_cycling_tank_without_animals_may_be_alone_for_five_nights() -> None:
    found = absence(equipment="top_up: 50 L")
    assert (found.alone, found.limits[0].why) == (5, "age")


def test_one_heater_keeps_an_old_tank_from_being_alone() -> None:
    assert absence(came(300), equipment="heater: [200 W], top_up: 30 L").limits[0].why == "one_heater"


def test_the_top_up_container_is_a_limit_of_its_own() -> None:
    """0.5 L lasts less than a day where more than that evaporates."""
    found = absence(came(300), equipment="heater: [100 W, 100 W], top_up: 0.5 L")
    assert (found.alone, found.limits[0].why) == (0, "top_up")


def test_an_open_alarm_and_an_occupied_quarantine_tank_allow_no_night() -> None:
    assert absence(came(300), alarms=("heat/cool",)).limits[0].why == "alarm"
    assert absence(came(300), came(3, "quarantine")).limits[0].why == "quarantine"


@pytest.mark.parametrize(("nights", "visits"), [(2, "none"), (3, "daily")])
def test_beyond_that_somebody_comes(nights: int, visits: str) -> None:
    assert absence(came(120), nights=nights).visits == visits


def test_where_three_nights_alone_are_allowed_every_second_day_is_enough() -> None:
    assert absence(came(300), nights=8).alone == 4
    assert absence(came(300), nights=8).visits == "every_second_day"


def test_two_weeks_want_somebody_who_keeps_a_marine_tank() -> None:
    assert not absence(came(300), nights=14).experienced
    assert absence(came(300), nights=15).experienced


def test_what_should_have_been_done_before_today_stands_on_today() -> None:
    found = absence(came(300))
    assert set(found.passed) == {14, 7, 4, 2}
    assert all(day >= ON for day, _ in found.before)


@pytest.mark.parametrize(("days", "told"), [(66, "for 66 days. From 91 days on"), (91, "for 91 days. From 182 days on"), (400, "for 400 days.")])
def test_the_age_of_the_stock_is_told_with_the_day_from_which_it_may_be_longer(days: int, told: str) -> None:
    found = absence(came(days))
    text = " ".join(limit["text"] for limit in away_document(found, plan())["limits"])
    assert told in text and "long enough" not in text
    assert ("may be longer" in text) == (days < 182)


def test_a_trial_run_that_has_no_week_left_is_left_to_a_person() -> None:
    found = absence(came(66))
    late = replace(found, before=tuple((found.first - timedelta(days=1), n) for _, n in found.before), passed=(14, 7, 4, 2))
    texts = {b["days_before"]: b["text"] for b in away_document(late, plan())["before"]}
    assert "too late for a trial run" in texts[7] and "Watch them every day" not in texts[7]
    assert "Watch them every day" in {b["days_before"]: b["text"] for b in away_document(replace(found, passed=()), plan())["before"]}[7]


def test_on_a_day_away_the_steps_of_the_gravest_alarm_stand_there_to_be_read_to_whoever_has_the_key() -> None:
    hot = task("heat-severe/cool", ON, role="remedy", state=State.DUE, title="Cool the water", steps=("Unplug the heaters.",))
    gasping = task("gasping/air", ON, role="remedy", state=State.DUE, title="Give air", steps=("Put an air stone in.",))
    away = plan(gasping, hot, on=ON)
    told = plain_text(home_alone_lines(plan_absence(ON, ON + timedelta(days=7), facts(came(200)), rulebook(), away), away, 100))
    assert "Read this to them first: Give air." in told and "1. Put an air stone in." in told
    assert "Then: Cool the water. Its steps: `newtank today heat-severe/cool`." in told and "All other jobs wait" in told


def test_on_a_quiet_day_away_nothing_is_to_be_read() -> None:
    away = plan(task("care/floss", ON, role="remedy", state=State.DUE), on=ON)
    told = plain_text(home_alone_lines(plan_absence(ON, ON + timedelta(days=7), facts(came(200)), rulebook(), away), away, 100))
    assert "Read this" not in told and "All jobs wait for your return." in told
