"""Stony corals of a wish list come at last: each thing that they wait for is tested, and brought to where they want it.

Limits of nitrate, calcium and magnesium for stony corals, and weekly tests with a weekly change between them: common practice, no
source. The weekdays are those of the Gregorian calendar (2026-05-02 is a Saturday; checked with `datetime`)."""

from __future__ import annotations

from datetime import date
from functools import cache

import pytest

from planner.judge.facts import gather
from planner.plan.make import make_plan, plan_with_stock
from planner.plan.stage_records import StockPlan
from planner.rulebook.read import shipped
from planner.show.terminal.stocklist import stock_page
from planner.show.words.words import plain_text
from planner.stock.catalogue import Catalogue, load_catalogue
from planner.terms.records import Plan, State
from tests.engine_desk import journal_of, tank_with
from tests.rulecases import rulebook

LPS, SPS, SOFT = "caulastraea-furcata", "montipora-digitata", "zoanthus-spp"
SNAILS = "2026-03-10 12:00,added,trochus-maculatus,3"
TUESDAYS = ("2026-04-07", "2026-04-14", "2026-04-21", "2026-04-28")
MAY = ("2026-05-05", "2026-05-12", "2026-05-19", "2026-05-26")
IONS = ("2026-04-22 12:00,reading,calcium,420,mg/L", "2026-04-22 12:00,reading,magnesium,1300,mg/L")
CLEAR = ("2026-05-02 08:00,reading,ammonia,0,mg/L", "2026-05-02 08:00,reading,nitrite,0,mg/L", "2026-05-02 08:00,reading,temperature,25.5,C")


@cache
def catalogue() -> Catalogue:
    return load_catalogue([shipped("rules") / "livestock"])


def week(day: str, hour: str = "12:00", nitrate: float = 10) -> tuple[str, ...]:
    """The weekly test of one day."""
    told = (("ammonia", "0,mg/L"), ("nitrite", "0,mg/L"), ("nitrate", f"{nitrate:g},mg/L"), ("ph", "8.1,pH"), ("alkalinity", "8,dKH"), ("salinity", "35,ppt"), ("temperature", "25.5,C"))
    return tuple(f"{day} {hour},reading,{name},{value}" for name, value in told)


def planned(*rows: str, on: str, wish: str, also: str = "") -> Plan:
    return with_list(*rows, on=on, wish=wish, also=also)[0]


def with_list(*rows: str, on: str, wish: str, also: str = "") -> tuple[Plan, StockPlan]:
    """The plan, and its stages of the list."""
    tank = tank_with(wish_list=[{"animal": name} for name in (wish, also) if name], tank__lid=True, keeper__shopping_days=["saturday"], equipment__light="250 PAR", already__scape="2025-11-20", **{"already__big-change": "2026-03-01"})
    plan, stock = plan_with_stock(tank, journal_of(*week("2026-03-03", "10:00"), *rows, tank=tank), rulebook(), date.fromisoformat(on), catalogue=catalogue())
    assert stock is not None
    return plan, stock


def due(plan: Plan) -> set[str]:
    return {t.key for t in plan.tasks if t.state in (State.DUE, State.LATE)}


def there(plan: Plan) -> set[str]:
    return {t.key for t in plan.tasks if t.state not in (State.DONE, State.SKIPPED)}


def test_they_come_on_saturday_by_the_tests_of_four_tuesdays_though_water_was_changed_after_the_last() -> None:
    rows = (SNAILS, *(row for day in TUESDAYS for row in week(day)), *IONS, "2026-04-28 14:00,changed_water,water,50,L", *CLEAR)
    assert "corals/stage" in due(planned(*rows, on="2026-05-02", wish=LPS))


@pytest.mark.parametrize(("share", "come"), [(0.35, True), (0.36, False)])
def test_a_change_of_more_than_a_third_after_the_last_test_makes_other_water(share: float, come: bool) -> None:
    """The share: common practice, no source."""
    rows = (SNAILS, *(row for day in TUESDAYS for row in week(day)), *IONS)
    litres = share * gather(tank_with(), journal_of(), date(2026, 4, 30)).net_volume_l
    plan = planned(*rows, f"2026-04-30 18:00,changed_water,water,{litres:.3f},L", *CLEAR, on="2026-05-02", wish=LPS)
    assert ("corals/stage" in due(plan)) == come


def stage_day(plan: Plan) -> date | None:
    return next(t.date for t in plan.tasks if t.key == "corals/stage")


def test_they_are_dated_by_the_weekly_tests_that_are_still_to_come() -> None:
    """Four Tuesdays after a bad one end on 26 May; one Tuesday after a large change brings the four before it back."""
    bad = (SNAILS, *(row for day in TUESDAYS for row in week(day, nitrate=18)), *IONS)
    assert stage_day(planned(*bad, on="2026-05-02", wish=LPS)) == date(2026, 5, 30)
    changed = (SNAILS, *(row for day in TUESDAYS for row in week(day)), "2026-04-30 18:00,changed_water,water,100,L", *(row.replace("04-22", "05-01") for row in IONS))
    assert stage_day(planned(*changed, on="2026-05-02", wish=LPS)) == date(2026, 5, 9)


def test_the_list_says_what_a_stony_coral_still_waits_for_and_that_none_is_left_once_it_is_in() -> None:
    rows = (SNAILS, *(row for day in TUESDAYS for row in week(day, nitrate=18)), *IONS)
    plan, stock = with_list(*rows, on="2026-05-02", wish=LPS)
    told = " ".join(plain_text(stock_page(stock, plan, catalogue(), 80).lines).split())
    assert "also wait for: nitrate at most 15 mg/L as NO3, on 4 different days." in told
    plan, stock = with_list(*rows, f"2026-05-01 12:00,added,{LPS},1", on="2026-05-02", wish=LPS)
    told = plain_text(stock_page(stock, plan, catalogue(), 80).lines)
    assert "none is still to come" in told and "In this order" not in told


def test_before_the_first_may_come_a_job_asks_for_what_the_weekly_tests_do_not_read() -> None:
    rows = (SNAILS, *week("2026-04-18"))
    assert "care/stony-tests" in due(planned(*rows, on="2026-04-21", wish=LPS))
    assert "care/stony-tests" not in there(planned(*rows, on="2026-04-21", wish=SOFT))


@pytest.mark.parametrize(("wish", "month", "nitrate", "asked"), [(LPS, "04", 18, True), (LPS, "04", 14, False), (SOFT, "04", 18, False), (SPS, "04", 12, False), (SPS, "08", 12, True), (SPS, "08", 9, False)])
def test_nitrate_that_keeps_them_away_asks_for_less_food(wish: str, month: str, nitrate: float, asked: bool) -> None:
    rows = (SNAILS, *week(f"2026-{month}-14", nitrate=nitrate), *week(f"2026-{month}-21", nitrate=nitrate))
    assert ("nitrate-waits/lower" in due(planned(*rows, on=f"2026-{month}-21", wish=wish))) == asked


def test_large_polyp_corals_come_without_a_notice_for_those_whose_time_is_months_away() -> None:
    rows = (SNAILS, *(row for n, day in enumerate(("2026-04-14", "2026-04-21", "2026-04-28", *MAY)) for row in week(day, nitrate=18 if n < 3 else 14)))
    ions = tuple(row.replace("2026-04-22", "2026-05-20") for row in IONS)
    clear = tuple(row.replace("05-02", "05-30") for row in CLEAR)
    plan = planned(*rows, *ions, *clear, on="2026-05-30", wish=LPS, also=SPS)
    assert "corals/stage" in due(plan) and not any(key.startswith("nitrate-waits/") for key in there(plan))


def test_after_eight_weeks_in_vain_the_keeper_is_asked_to_decide_and_then_left_in_peace_for_a_season() -> None:
    """Eight weeks and a season: common practice, no source."""
    begun = (SNAILS, *week("2026-04-14", nitrate=18), *week("2026-04-21", nitrate=18), "2026-04-21 18:00,done,nitrate-waits/lower#1")
    assert "nitrate-waits/decide" not in due(planned(*begun, *week("2026-06-14", nitrate=18), on="2026-06-15", wish=LPS))
    asked = (*begun, *week("2026-06-14", nitrate=18), *week("2026-06-16", nitrate=18))
    assert "nitrate-waits/decide" in due(planned(*asked, on="2026-06-16", wish=LPS))
    decided = (*asked, "2026-06-16 18:00,done,nitrate-waits/decide#1", *week("2026-07-07", nitrate=18), *week("2026-07-14", nitrate=18))
    assert not any(key.startswith("nitrate-waits/") for key in there(planned(*decided, on="2026-07-14", wish=LPS)))
    later = (*decided, *week("2026-09-14", nitrate=18), *week("2026-09-21", nitrate=18))
    assert "nitrate-waits/lower" in due(planned(*later, on="2026-09-21", wish=LPS))


def test_once_they_have_come_their_nitrate_is_no_matter_of_arrivals_any_more() -> None:
    rows = (SNAILS, f"2026-04-10 12:00,added,{LPS},1", *week("2026-04-14", nitrate=18), *week("2026-04-21", nitrate=18))
    assert "nitrate-waits/lower" not in there(planned(*rows, on="2026-04-21", wish=LPS))


@pytest.mark.parametrize(("wish", "month", "calcium", "asked"), [(LPS, "04", 379, True), (LPS, "04", 390, False), (SPS, "08", 390, True), (SPS, "08", 400, False), (SPS, "04", 390, False), (SOFT, "08", 379, False)])
def test_calcium_below_what_they_wait_for_is_lifted(wish: str, month: str, calcium: float, asked: bool) -> None:
    """In April a small-polyp coral is months away: until then 390 may not keep soft corals out."""
    rows = (SNAILS, *week(f"2026-{month}-21"), f"2026-{month}-21 12:00,reading,calcium,{calcium:g},mg/L")
    assert ("calcium-low/raise" in due(planned(*rows, on=f"2026-{month}-21", wish=wish))) == asked


@pytest.mark.parametrize(("wish", "month", "magnesium", "asked"), [(SPS, "08", 1240, True), (SPS, "08", 1250, False), (SPS, "04", 1240, False), (LPS, "08", 1240, False)])
def test_magnesium_below_what_they_wait_for_is_lifted(wish: str, month: str, magnesium: float, asked: bool) -> None:
    rows = (SNAILS, *week(f"2026-{month}-21"), f"2026-{month}-21 12:00,reading,magnesium,{magnesium:g},mg/L")
    assert ("magnesium-low/raise" in due(planned(*rows, on=f"2026-{month}-21", wish=wish))) == asked


def test_the_weekly_change_is_larger_for_a_list_with_stony_corals() -> None:
    """Nitrate that rises by 2 a week is held at 16 by an eighth, at 8 by a quarter, in steps of 5 % (mass balance: share = rise a week / aim)."""
    rows: tuple[str, ...] = (SNAILS,)
    for n, day in enumerate(("2026-03-17", "2026-03-24", "2026-03-31", "2026-04-07", "2026-04-14", "2026-04-21")):
        rows += week(day, nitrate=14 + 2 * n)
    litres = {wish: next(a.value for t in planned(*rows, on="2026-04-21", wish=wish).tasks if t.key == "care/weekly-change" for a in (dict(t.amounts)["weekly_change"],)) for wish in (SOFT, LPS)}
    assert litres[LPS] == pytest.approx(litres[SOFT] * 25 / 15)


def test_who_names_the_snails_on_the_list_is_not_asked_for_a_test_before_a_second_half_that_never_comes() -> None:
    tank = tank_with(wish_list=[{"animal": "trochus-maculatus", "count": 3}], keeper__shopping_days=["saturday"], **{"already__big-change": "2026-03-01"})
    rows = (*week("2026-03-03", "10:00"), "2026-03-07 15:00,done,crew/stage#1", "2026-03-07 15:00,added,trochus-maculatus,3", *week("2026-03-31"))
    plan = make_plan(tank, journal_of(*rows, tank=tank), rulebook(), date(2026, 4, 4), catalogue=catalogue())
    assert "crew/test-second" not in there(plan)
