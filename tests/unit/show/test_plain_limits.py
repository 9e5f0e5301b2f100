"""Limits and last readings as a keeper reads them: no limit of nothing, no unit said twice, no way that this tank does not have."""

from __future__ import annotations

from planner.judge.conditions import Scene
from planner.judge.facts import gather
from planner.plan.day_jobs import Day
from planner.plan.standing import stand_of_filter
from planner.show.terminal.readings_table import reading_series
from planner.show.terminal.reasons import reason_lines, why_gate
from planner.show.terminal.rulelist import rules_lines
from planner.show.terminal.today import today_lines
from planner.show.words.causes import CHOSEN
from planner.show.words.conditions import need_words
from planner.show.words.words import plain_text
from planner.terms.records import Need
from tests.engine_desk import journal_of, plan_with, tank_with, trace_of
from tests.rulecases import rulebook
from tests.unit.plan_builder import jobs_of_plan

WISHED = [{"animal": "amphiprion-ocellaris", "count": 2}]


def why_filter() -> str:
    plan = plan_with(rulebook(), on="2026-03-02", tank=tank_with(wish_list=WISHED))
    return " ".join(plain_text(reason_lines(why_gate(plan, rulebook(), "cycle"), plan, 100)).split())


def test_why_of_the_filter_says_first_that_two_proof_doses_must_each_be_gone_within_a_day() -> None:
    page = why_filter()
    assert "two proof doses of" in page and "each gone within 24 hours" in page
    assert page.index("two proof doses") < page.index("Numbers it rests on")


def test_why_shows_no_condition_that_is_for_another_kind_of_rock_or_for_a_tank_without_a_list() -> None:
    told = why_filter().partition("needs ")[2].partition("Numbers it rests on")[0]
    assert told and "rock kind" not in told and "wish list" not in told


def test_a_limit_of_nothing_is_called_zero() -> None:
    trace = trace_of({"reading": {"name": "chlorine", "where": "source", "at_most": "chlorine_none"}}, on="2026-03-02")
    assert need_words(Need(trace)) == "chlorine in the source water at zero"


def test_less_than_the_least_figure_stands_behind_no_at_or_below() -> None:
    assert "stays below 0.001 mg/L" in CHOSEN["load"](given=3.0, reached=0.0002, limit=0.02)
    assert "stays at or below 0.004 mg/L" in CHOSEN["load"](given=3.0, reached=0.004, limit=0.02)


def test_a_title_in_the_list_of_rules_has_its_number_and_not_the_name_of_it() -> None:
    page = plain_text(rules_lines(rulebook(), 120, "start-up"))
    assert "Warm the water to 24 °C or more" in page and "gate temperature low or more" not in page


def test_what_the_next_dose_waits_for_is_told_in_the_unit_of_the_kit_with_the_last_reading() -> None:
    """NH4 by N is 18.039 to 14.007 (IUPAC 2007 atomic weights), so that 2 mg/L as N is 2.58 mg/L as NH4."""
    for basis, read in (("N", "2 mg/L as N"), ("ion", "2.58 mg/L as NH4")):
        tank = tank_with(already={"start-up": "2026-03-01"}, test_kits={"ammonia": {"basis": basis, "step": "0.25"}})
        rows = ("2026-03-02 18:00,dosed,ammonia,2,mg/L as N", "2026-03-03 18:00,reading,ammonia,2,mg/L as N")
        plan = plan_with(rulebook(), *rows, on="2026-03-03", tank=tank)
        standing = stand_of_filter(tank, journal_of(*rows, tank=tank), rulebook(), plan)
        page = " ".join(plain_text(today_lines(Day(plan, jobs_of_plan(plan, rulebook()), standing), rulebook(), 100)).split())
        assert f"Last reading: {read}." in page


def test_what_one_alarm_asks_for_from_there_on_is_not_said_again_of_a_part_of_it() -> None:
    """A tank without animals at a temperature that two alarms answer with the same order, one of them without an upper end."""
    tank = tank_with(already={"start-up": "2026-03-01"})
    rows = ("2026-03-02 18:00,reading,temperature,26,C",)
    plan = plan_with(rulebook(), *rows, on="2026-03-03", tank=tank)
    (series,) = reading_series(plan, Scene(gather(tank, journal_of(*rows, tank=tank), plan.on), rulebook(), {}))
    acts = [limit.asks for limit in series.limits if limit.met is None]
    assert "cool the water" in acts and acts.count("cool the water") == 1
