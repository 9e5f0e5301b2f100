"""What is left, by the journal's count, and the day to order."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from planner.files.journal import read_journal
from planner.files.tank import read_tank
from planner.judge.facts import gather, zone_of
from planner.plan.rule_cases import HEADER
from planner.plan.supplies import Supply, read_purchase, supplies
from planner.terms.units import Refusal
from tests.rulecases import rulebook
from tests.unit.plan_builder import plan, task

ON = date(2026, 6, 30)


def found(*rows: str, kits: str = "", tests: int = 0) -> dict[str, Supply]:
    tank, problems = read_tank(f"tank: {{volume: 200 L}}\ntimezone: UTC\nwater: {{source: ro, salt_per_litre: 38 g/L}}\n{kits}", "tank.yaml")
    assert tank is not None and problems == ()
    journal, wrong = read_journal(HEADER + "".join(r + "\n" for r in rows), "journal.csv", tank, zone_of(tank))
    assert wrong == ()
    planned = plan(*(task(f"care/test#{n}", ON + timedelta(days=n), reads=("ammonia",)) for n in range(1, tests + 1)), on=ON)
    return {s.item: s for s in supplies(gather(tank, journal, ON), rulebook(), planned)}


SALT = "2026-06-01,event,bought,salt 20 kg,,display,"
KIT = "2026-06-01,event,bought,ammonia_kit 50 tests,,display,"


def test_nothing_written_is_not_known() -> None:
    assert found()["salt"].left is None


def test_a_water_change_takes_its_salt() -> None:
    """20 L at 38 g a litre are 760 g."""
    salt = found(SALT, "2026-06-10,changed_water,water,20,L,display,")["salt"]
    assert salt.used == pytest.approx(760) and salt.left == pytest.approx(19_240)


def test_half_of_the_quarantine_water_takes_the_salt_of_that_tank() -> None:
    """Half of 40 L at 38 g a litre are 760 g. Of the display half would be 3.8 kg."""
    salt = found(SALT, "2026-06-10,changed_water,water,50,%,quarantine,", kits="equipment: {quarantine_tank: 40 L}")["salt"]
    assert salt.used == pytest.approx(760)


def test_salt_is_ordered_before_it_falls_to_the_reserve_of_half_a_tank() -> None:
    """Beyond 3.8 kg for 100 L there are 16.2 kg, at 760 g a week 21.3 weeks; three weeks earlier it is ordered."""
    salt = found(SALT)["salt"]
    assert salt.reserve == pytest.approx(3800) and salt.week == pytest.approx(760)
    assert salt.order_by == ON + timedelta(days=int(16_200 / 760 * 7) - 21)


def test_a_tank_whose_nitrate_asks_for_larger_changes_takes_the_salt_of_those() -> None:
    """Nitrate that climbs by a milligram a day asks for the largest change, 25 % a week: 50 L at 38 g are 1.9 kg."""
    climbing = [f"2026-06-{day:02},reading,nitrate,{day},mg/L as NO3,display," for day in (2, 9, 16, 23, 30)]
    salt = found("2026-05-01,added,amphiprion-ocellaris,2,,display,", *climbing, SALT)["salt"]
    assert salt.week == pytest.approx(1900)


def test_what_was_used_before_the_first_purchase_does_not_count() -> None:
    assert found("2026-05-01,changed_water,water,20,L,display,", SALT)["salt"].used == 0


def test_every_reading_takes_a_test_and_one_in_five_is_wasted() -> None:
    kit = found(KIT, "2026-06-02,reading,ammonia,0,mg/L as N,display,", "2026-06-02,reading,ammonia,0,mg/L as N,mixing,")["ammonia_kit"]
    assert (kit.used, kit.left) == (2, 38)


def test_a_kit_with_five_tests_left_is_ordered_today() -> None:
    few = "2026-06-01,event,bought,ammonia_kit 7 tests,,display,"
    assert found(few, tests=8)["ammonia_kit"].order_by == ON


def test_a_kit_that_expires_is_ordered_three_weeks_before() -> None:
    kit = found(KIT, kits="test_kits:\n  ammonia: {basis: N, expires: 2026-08}\n")["ammonia_kit"]
    assert kit.ends is not None and kit.order_by == kit.ends - timedelta(days=21)


def test_dry_food_is_too_old_four_months_after_it_was_bought() -> None:
    food = found("2026-06-01,event,bought,food 100 g,,display,")["dry_food"]
    assert food.ends == date(2026, 6, 1) + timedelta(days=120)


@pytest.mark.parametrize(("text", "read"), [("salt 20 kg", ("salt", 20_000.0)), ("ammonia_kit 50 tests", ("ammonia_kit", 50.0)), ("ammonia 50", ("ammonia_kit", 50.0)), ("ro_water 20 L", ("pure_water", 20.0))])
def test_a_purchase_is_read(text: str, read: tuple[str, float]) -> None:
    assert read_purchase(text) == read


@pytest.mark.parametrize("text", ["sallt 20 kg", "salt", "salt 20", "ammonia_kit 3 L", ""])
def test_a_purchase_that_cannot_be_read_is_refused(text: str) -> None:
    assert isinstance(read_purchase(text), Refusal)
