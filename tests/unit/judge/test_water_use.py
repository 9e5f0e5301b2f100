"""What the journal proves of the daily use: said in five ways, never sooner than the readings allow."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from planner.files.journal import read_journal
from planner.files.tank import read_tank
from planner.judge.calcium_use import calcium_from
from planner.judge.facts import Facts, gather, zone_of
from planner.judge.water_use import alkalinity_use, nutrient_use, top_up
from planner.judge.weekly_change import weekly_change_percent, why_larger
from planner.plan.rule_cases import HEADER
from planner.show.words.causes import cause_words
from tests.rulecases import rulebook

ON = date(2026, 6, 30)
TANK = "tank: {volume: 200 L}\ntimezone: Europe/London\ntest_kits:\n  alkalinity: {step: 0.5}\n"


def facts(*rows: str) -> Facts:
    tank, problems = read_tank(TANK, "tank.yaml")
    assert tank is not None and problems == ()
    journal, wrong = read_journal(HEADER + "".join(r + "\n" for r in rows), "journal.csv", tank, zone_of(tank))
    return gather(tank, journal, ON)


def day(before: int) -> str:
    return (ON - timedelta(days=before)).isoformat()


def readings(**levels: float) -> list[str]:
    return [f"{day(int(name[1:]))},reading,alkalinity,{value},dKH,display," for name, value in levels.items()]


STONY = f"{day(60)},added,acropora-millepora,3,,display,"
FALLING = readings(d21=9.0, d17=8.0, d14=7.5, d10=6.5, d7=6.0, d3=5.0)


def test_a_line_of_readings_is_known() -> None:
    found = alkalinity_use(facts(*FALLING), rulebook())
    assert found.verdict == "known" and found.fit is not None
    assert found.fit.use == pytest.approx(0.217, abs=0.01)


def test_doses_and_changes_are_counted_in() -> None:
    dosed = [f"{day(n)},dosed,bicarbonate,0.1,dKH,display," for n in range(20, 2, -1)]
    found = alkalinity_use(facts(*FALLING, *dosed), rulebook())
    assert found.fit is not None and found.fit.use == pytest.approx(0.317, abs=0.01)


def test_grams_of_bicarbonate_are_a_rise_by_the_net_litres() -> None:
    """2.996 g lift 100 L by 1 dKH (molar masses), so 5.99 g lift 200 L by as much."""
    found = alkalinity_use(facts(*FALLING, f"{day(12)},dosed,bicarbonate,5.9922,g,display,"), rulebook())
    assert [d.rise for d in found.doses] == [pytest.approx(1.0, abs=1e-4)]


@pytest.mark.parametrize(("rows", "gap"), [
    (readings(d10=8.0, d3=7.0), "few_readings"),
    (readings(d4=8.0, d3=7.5, d2=7.0), "short"),
    (readings(d14=8.0, d10=5.0, d7=9.0, d3=5.0), "no_line"),
    ([*FALLING, f"{day(5)},dosed,alkalinity,20,mL,display,"], "strength_unknown"),
    ([*FALLING, f"{day(5)},changed_water,water,,,display,"], "damaged"),
    ([*FALLING, f"{day(5)},changed_water,water,40,%,display,"], "few_readings"),
    ([*FALLING, f"{day(9)},reading,salinity,35,ppt,display,", f"{day(5)},reading,salinity,33,ppt,display,"], "few_readings"),
])
def test_what_keeps_a_use_from_being_known(rows: list[str], gap: str) -> None:
    found = alkalinity_use(facts(*rows), rulebook())
    assert found.verdict == "not_known"
    assert gap in [m.gap for m in found.missing]


def test_readings_of_too_few_days_say_how_many_days_they_span() -> None:
    found = alkalinity_use(facts(*readings(d4=8.0, d3=7.5, d2=7.0)), rulebook())
    assert [m.have for m in found.missing if m.gap == "short"] == [pytest.approx(2.0, abs=0.01)]


def test_a_large_change_begins_the_count_anew_and_says_so() -> None:
    found = alkalinity_use(facts(*FALLING, f"{day(5)},changed_water,water,40,%,display,"), rulebook())
    assert [m.gap for m in found.missing] == ["few_readings", "begun_anew"]


def test_a_rise_that_nobody_wrote_down_is_told() -> None:
    assert alkalinity_use(facts(*readings(d21=7.0, d14=8.0, d7=9.0, d2=10.0)), rulebook()).verdict == "adds"


def test_level_readings_over_four_weeks_show_no_use() -> None:
    assert alkalinity_use(facts(*readings(d27=8.0, d20=8.0, d14=8.0, d7=8.0, d1=8.0)), rulebook()).verdict == "none"


def test_three_readings_in_a_week_are_not_sure_enough_to_dose_by() -> None:
    assert alkalinity_use(facts(*readings(d7=8.0, d4=8.0, d0=7.5)), rulebook()).verdict == "about"
    assert alkalinity_use(facts(*readings(d7=8.0, d4=8.0, d0=7.7)), rulebook()).verdict == "not_known"


def test_new_water_that_nobody_tested_makes_the_use_less_sure() -> None:
    rows = [*FALLING, f"{day(12)},changed_water,water,20,%,display,"]
    blind, tested = (alkalinity_use(facts(*rows, *more), rulebook()).fit for more in ([], [f"{day(13)},reading,alkalinity,9,dKH,mixing,"]))
    assert blind is not None and tested is not None and blind.use_se > 1.2 * tested.use_se


def test_calcium_follows_alkalinity_in_the_proportion_of_skeletons() -> None:
    """7.147 mg/L for each dKH (40.078/2 over 2.8039)."""
    rows = [STONY, *FALLING]
    known = alkalinity_use(facts(*rows), rulebook())
    found = calcium_from(known, facts(*rows), rulebook())
    assert known.fit is not None and found is not None and found[0] == pytest.approx(known.fit.use * 7.1469, rel=1e-4)


def test_alkalinity_that_nitrate_takes_counts_for_no_calcium() -> None:
    """10 mg/L of nitrate take 0.90 dKH, two equivalents a mole (nitrification; 10/62.005 x 2 x 2.8039)."""
    rows = [STONY, *FALLING, *(f"{day(n)},reading,nitrate,{30 - n},mg/L as ion,display," for n in (28, 21, 14, 7, 0))]
    known, plain = alkalinity_use(facts(*rows), rulebook()), calcium_from(alkalinity_use(facts(STONY, *FALLING), rulebook()), facts(STONY, *FALLING), rulebook())
    found = calcium_from(known, facts(*rows), rulebook())
    assert found is not None and plain is not None and plain[0] - found[0] == pytest.approx(0.0904 * 7.1469, rel=0.01)


@pytest.mark.parametrize("animal", ["discosoma-spp", "amphiprion-ocellaris"])
def test_mushrooms_and_fish_take_no_calcium(animal: str) -> None:
    rows = [f"{day(60)},added,{animal},2,,display,", *FALLING]
    assert calcium_from(alkalinity_use(facts(*rows), rulebook()), facts(*rows), rulebook()) is None


def test_nitrate_that_rises_needs_four_readings_over_three_weeks() -> None:
    rising = [f"{day(n)},reading,nitrate,{value},mg/L as ion,display," for n, value in ((28, 5), (21, 8), (14, 11), (7, 14), (1, 17))]
    found = nutrient_use("nitrate", facts(*rising), rulebook())
    assert found.verdict == "known" and found.fit is not None and found.fit.use == pytest.approx(-0.44, abs=0.02)
    assert nutrient_use("nitrate", facts(*rising[-3:]), rulebook()).verdict == "not_known"


ADDED = f"{day(60)},added,amphiprion-ocellaris,2,,display,"


def nitrate_of(a_week: float) -> list[str]:
    return [f"{day(7 * n + 1)},reading,nitrate,{5 + a_week * (5 - n):.3g},mg/L as ion,display," for n in range(5, -1, -1)]


@pytest.mark.parametrize(("a_week", "percent"), [(1.5, 10), (1.7, 15), (2.3, 15), (2.6, 20), (3.9, 25), (9, 25)])
def test_the_weekly_change_grows_with_the_nitrate_that_the_tank_makes(a_week: float, percent: float) -> None:
    assert weekly_change_percent(facts(ADDED, *nitrate_of(a_week)), rulebook()) == percent


@pytest.mark.parametrize("a_week", [1.7, 2.6, 3.9])
def test_with_that_share_nitrate_settles_at_the_aim_or_below(a_week: float) -> None:
    """Week by week: so much is made, then the share goes out with water without any."""
    share, level = weekly_change_percent(facts(ADDED, *nitrate_of(a_week)), rulebook()) / 100, 0.0
    for _ in range(200):
        peak = level + a_week
        level = peak * (1 - share)
    assert peak <= 16


@pytest.mark.parametrize(("to_come", "percent"), [(None, 25), (frozenset({"soft_coral"}), 25), (frozenset(), 20)])
def test_once_all_animals_of_a_list_without_stony_corals_are_in_nitrate_may_stand_at_twenty(to_come: frozenset[str] | None, percent: float) -> None:
    """Aim 2 to 20 mg/L without stony corals (common practice, no source); 3.9 a week / 20 = 19.5 %, / 16 = 24.4 %."""
    found = facts(ADDED, *nitrate_of(3.9))
    tank, _ = read_tank(TANK + "wish_list: [{animal: amphiprion-ocellaris, count: 2}]\n", "tank.yaml")
    assert tank is not None
    assert weekly_change_percent(replace(found, tank=tank, wished=frozenset({"fish"}), wished_to_come=to_come), rulebook()) == percent


def test_a_larger_change_says_how_much_nitrate_is_made_and_to_feed_less() -> None:
    """Cut the input first (common practice, no source). Mass balance: 3.9 a week at 10 % settles at 39."""
    found = why_larger(facts(ADDED, *nitrate_of(3.9)), rulebook())
    assert found is not None and cause_words(found, "metric").startswith("Feed a little less: your tests show that the tank makes about 3.9 mg/L of nitrate a week. With 10 % changed a week it would settle near 39 mg/L")
    assert why_larger(facts(ADDED, *nitrate_of(1.5)), rulebook()) is None


def test_new_water_with_nitrate_asks_for_more_of_it() -> None:
    assert weekly_change_percent(facts(ADDED, *nitrate_of(1.5), f"{day(3)},reading,nitrate,8,mg/L as ion,mixing,"), rulebook()) == 20


@pytest.mark.parametrize("rows", [nitrate_of(4.9), [ADDED, *nitrate_of(4.9)[-3:]], [ADDED, *nitrate_of(0)], [ADDED, *nitrate_of(-2)]])
def test_without_animals_or_a_known_rise_the_usual_share_is_changed(rows: list[str]) -> None:
    assert weekly_change_percent(facts(*rows), rulebook()) == 10


def pours(*litres: float) -> list[str]:
    return [f"{day(len(litres) - n)},poured,fresh,{value},L,display," for n, value in enumerate(litres, 1)]


def salinity(*values: float) -> list[str]:
    return [f"{day(3 * (len(values) - n))},reading,salinity,{value},ppt,display," for n, value in enumerate(values, 1)]


def test_more_top_up_with_level_salinity_is_air_and_with_falling_salinity_a_leak() -> None:
    usual = pours(2.1, 1.9, 2.0, 2.2, 2.0, 1.8, 2.1, 3.4, 3.4)
    dry = top_up(facts(*usual, *salinity(35, 35, 35, 35)), rulebook())
    leak = top_up(facts(*usual, *salinity(35, 34.4, 33.8, 33.2)), rulebook())
    assert dry is not None and dry.high and not dry.salt_leaves
    assert leak is not None and leak.high and leak.salt_leaves and leak.lost_l == pytest.approx(0.2 * 200 / 33.2, rel=0.01)


def test_one_day_of_more_top_up_is_no_alarm() -> None:
    found = top_up(facts(*pours(2.1, 1.9, 2.0, 2.2, 2.0, 1.8, 2.1, 2.0, 3.4)), rulebook())
    assert found is not None and not found.high


def test_a_test_of_the_day_or_of_the_day_before_leaves_the_amount_that_was_mixed() -> None:
    """Salt water mixes for a day (practice: common practice, no source), so what the change takes is settled by then."""
    rows = [ADDED, *nitrate_of(1.5)[:-1]]
    for newest in (0, 1):
        assert weekly_change_percent(facts(*rows, f"{day(newest)},reading,nitrate,60,mg/L as ion,display,"), rulebook()) == weekly_change_percent(facts(*rows), rulebook()) == 10
    assert weekly_change_percent(facts(*rows, f"{day(2)},reading,nitrate,19,mg/L as ion,display,"), rulebook()) > 10
