"""Daily use, top-up, doses and the sums of the kitchen, on both sides of each limit."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.judge.challenge import dose_rise, first_ammonia, least_rise
from planner.judge.daily_doses import DailyDoses
from planner.judge.evidence import kit_sd
from planner.judge.figures import quantity
from planner.judge.figures.tank import HEATER_WATTS
from planner.judge.plausible import asked_rises, believed, doubts
from planner.judge.possible import EVER, NOWHERE, possible_in_all, possible_in_any, since
from planner.judge.proportion import litres_of
from planner.judge.scene import NEVER, both, either, negation
from planner.judge.water_use import alkalinity_use, dose_rise_dkh, nutrient_use, top_up
from planner.judge.weekly_change import weekly_share
from planner.rulebook.kinds.challenge import ChallengeNode
from planner.science.heat import heater_pair
from planner.terms.records import Answer
from tests.engine_desk import book_with, facts_of, journal_of, tank_with
from tests.rulecases import rulebook
from tests.unit.judge.test_water_use import day, facts, readings

YES, NO, UNKNOWN = Answer.YES, Answer.NO, Answer.UNKNOWN


# Kleene's strong logic of three values, by its truth tables (from memory).
@pytest.mark.parametrize(("answers", "all_of", "one_of"), [((), YES, NO), ((YES,), YES, YES), ((NO,), NO, NO), ((UNKNOWN,), UNKNOWN, UNKNOWN), ((YES, NO), NO, YES), ((YES, UNKNOWN), UNKNOWN, YES), ((NO, UNKNOWN), NO, UNKNOWN), ((YES, NO, UNKNOWN), NO, YES)])
def test_three_values_are_joined_as_kleene_joins_them(answers: tuple[Answer, ...], all_of: Answer, one_of: Answer) -> None:
    assert (both(answers), either(answers)) == (all_of, one_of) and [negation(a) for a in (YES, NO, UNKNOWN)] == [NO, YES, UNKNOWN]


def test_what_may_hold_holds_from_its_instant_on() -> None:
    early, late = ((facts_of(on=on).on, 5.0) for on in ("2026-03-01", "2026-03-02"))
    assert possible_in_all([since(early), since(late)])(early) == late and possible_in_any([since(late), since(early)])(early) == early
    assert possible_in_all([since(early), NOWHERE])(early) == NEVER == possible_in_any([])(early) == possible_in_any([NOWHERE])(early) and possible_in_all([])(early) == early == EVER(early)


# --- daily use


@pytest.mark.parametrize(("unit", "what", "amount", "rise"), [("dKH", "bicarbonate", 1.5, 1.5), ("dKH", "soda", 1.5, 1.5), ("g", "bicarbonate", 5.9922, 1), ("g", "carbonate", 3.7799, 1), ("g", "kalkwasser", 2.6425, 1), ("g", "soda", 5, None), ("mL", "alkalinity", 5, None)])
def test_a_dose_of_alkalinity_lifts_by_its_molecules(unit: str, what: str, amount: float, rise: float | None) -> None:
    """200 L by one dKH: 84.007, 105.988/2 and 74.093/2 grams an equivalent, 71.33 meq (IUPAC weights, from memory)."""
    (row,) = facts(f"{day(3)},dosed,{what},{amount},{unit},display,").rows("dosed")
    assert dose_rise_dkh(row, 200.0) == (None if rise is None else pytest.approx(rise, rel=1e-3))


@pytest.mark.parametrize(("before", "size", "counts"), [(27, 30, False), (5, 30, False), (5, 31, True), (5, 60, True)])
def test_a_change_beyond_thirty_percent_begins_the_count_anew(before: int, size: int, counts: bool) -> None:
    assert rulebook().number("use_change_most") == 30
    found = alkalinity_use(facts(*readings(d3=8.0, d2=8.0), f"{day(before)},changed_water,water,{size},%,display,"), rulebook())
    assert ("begun_anew" in [m.gap for m in found.missing]) is counts


@pytest.mark.parametrize(("step", "counts"), [(34.0, False), (36.0, False), (33.9, True), (36.1, True)])
def test_a_step_of_salinity_beyond_one_begins_the_count_anew(step: float, counts: bool) -> None:
    assert rulebook().number("use_salinity_step") == 1
    rows = (f"{day(9)},reading,salinity,35,ppt,display,", f"{day(8)},reading,salinity,20,ppt,mixing,", f"{day(5)},reading,salinity,{step},ppt,display,")
    found = alkalinity_use(facts(*readings(d3=8.0, d2=8.0), *rows), rulebook())
    assert ("begun_anew" in [m.gap for m in found.missing]) is counts


@pytest.mark.parametrize(("rows", "verdict"), [(readings(d8=8.0, d5=7.5, d3=7.2), "known"), (readings(d8=8.0, d3=7.5), "not_known"), (readings(d8=8.0, d5=7.8, d4=7.7), "not_known"), (readings(d29=9.0, d8=8.0, d3=7.5), "not_known"), (readings(d27=9.0, d8=8.0, d3=7.5), "about")])
def test_three_readings_over_five_days_of_the_last_four_weeks_are_asked_for(rows: list[str], verdict: str) -> None:
    assert (rulebook().number("use_readings"), rulebook().number("use_span"), rulebook().number("use_window")) == (3, 5, 28)
    found = alkalinity_use(facts(*rows), rulebook()).verdict
    assert (found == "not_known") is (verdict == "not_known")


def test_readings_of_another_water_or_off_the_scale_are_no_line() -> None:
    rows = [f"{day(8)},reading,alkalinity,8,dKH,mixing,", f"{day(5)},reading,alkalinity,>7,dKH,display,", f"{day(3)},reading,alkalinity,7,dKH,display,"]
    assert len(alkalinity_use(facts(*rows), rulebook()).samples) == 1


@pytest.mark.parametrize(("name", "value", "error"), [("alkalinity", 8, 0.15), ("nitrate", 1, 1.0), ("nitrate", 10, 1.5), ("phosphate", 10, 1.5)])
def test_a_kit_errs_by_its_step_or_by_a_share(name: str, value: float, error: float) -> None:
    """Half a step of 0.5 dKH times 0.3 is 0.15, the finest that counts; 15 percent of a nutrient (the shipped numbers)."""
    assert kit_sd(name, value, facts(), rulebook()) == pytest.approx(error)


def dose(*before: int, rise: float = 0.5, where: str = "display") -> list[str]:
    return [f"{day(n)} 12:00,dosed,bicarbonate,{rise},dKH,{where}," for n in before]


@pytest.mark.parametrize(("rows", "mean"), [(dose(*range(14)), 0.5), (dose(*range(7)), None), (dose(8), None), (dose(0, 8), 0.5 / 7), (dose(0, 15), None), (dose(0, 13), 0.5 / 7), (dose(*range(14), where="mixing"), None), ([], None)])
def test_what_is_given_a_day_is_the_mean_of_a_week_that_began_before_it(rows: list[str], mean: float | None) -> None:
    found = DailyDoses(facts(*rows), rulebook()).a_day()
    assert found == (None if mean is None else pytest.approx(mean))


def test_a_dose_is_going_on_where_it_was_ticked_within_two_weeks() -> None:
    key = rulebook().tasks_as("daily_dose")[0]

    def ticked(*before: int) -> list[str]:
        return [line for n in before for line in (*dose(n), f"{day(n)} 12:00,done,{key},,,display,")]

    def going(*before: int) -> float | None:
        found = DailyDoses(facts(*ticked(*before)), rulebook()).going()
        return found[1] if found is not None else None

    assert going(1, 3) == pytest.approx(0.5) and going(14) is None and going(13) == pytest.approx(0.5)
    assert DailyDoses(facts(*dose(1, 3)), rulebook()).going() is None
    assert DailyDoses(facts(*ticked(1, 3, 9)), rulebook()).a_day() == pytest.approx(0.5)  # of ticked doses the days without one are none of nothing


@pytest.mark.parametrize(("rows", "share"), [([], 0.1), ([f"{day(1)},changed_water,water,20,%,display,"], 0.05), ([f"{day(27)},changed_water,water,20,%,display,"], 0.05), ([f"{day(29)},changed_water,water,20,%,display,"], 0.1), ([f"{day(1)},changed_water,water,20,%,mixing,"], 0.1)])
def test_a_weeks_change_is_what_was_done_in_four_else_what_is_asked_for(rows: list[str], share: float) -> None:
    assert weekly_share(facts(*rows), rulebook()) == pytest.approx(share)


def test_on_the_morning_of_a_weekly_change_four_weeks_have_four_changes() -> None:
    rows = [f"{day(n)} 20:00,changed_water,water,20,%,display," for n in (7, 14, 21, 28)]
    assert weekly_share(facts(*rows), rulebook()) == pytest.approx(0.2)
    assert weekly_share(facts(*rows, f"{day(0)} 08:00,changed_water,water,20,%,display,"), rulebook()) == pytest.approx(0.2)


def test_nitrate_is_counted_as_the_ion() -> None:
    """62.005/14.007 (IUPAC weights, from memory)."""
    found = nutrient_use("nitrate", facts(f"{day(3)},reading,nitrate,1,mg/L as N,display,", f"{day(2)},reading,nitrate,2,mg/L as N,mixing,"), rulebook())
    assert found.samples[0].value == pytest.approx(62.005 / 14.007, rel=1e-4) and found.new_water == pytest.approx(2 * 62.005 / 14.007, rel=1e-4)


# --- top-up


def tops(*litres: float, what: str = "fresh") -> list[str]:
    return [f"{day(len(litres) - 1 - n)},poured,{what},{amount},L,display," for n, amount in enumerate(litres)]


@pytest.mark.parametrize(("litres", "high", "low"), [((2, 2, 2, 2, 2), False, False), ((2, 2, 2, 3.1, 3.1), True, False), ((2, 2, 2, 3, 3), False, False), ((2, 2, 2, 3.1, 2.9), False, False), ((2, 2, 2, 0.9, 0.9), False, True), ((2, 2, 2, 1, 0.9), False, False), ((2, 2, 2, 0.9, 1.1), False, False)])
def test_two_days_of_top_up_out_of_the_ordinary_are_told(litres: tuple[float, ...], high: bool, low: bool) -> None:
    """Half as much again, and half (the shipped numbers)."""
    found = top_up(facts(*tops(*litres)), rulebook())
    assert found is not None and (found.high, found.low, found.usual_l) == (high, low, 2)


def test_a_top_up_is_known_from_five_days_of_two_weeks_on() -> None:
    assert top_up(facts(*tops(2, 2, 2, 2)), rulebook()) is None and top_up(facts(*tops(2, 2, 2, 2, 2, what="water")), rulebook()) is None
    assert top_up(facts(*tops(2, 2, 2, 2, 2, what="top_up")), rulebook()) is not None
    old = [f"{day(n)},poured,fresh,2,L,display," for n in (14, 3, 2, 1, 0)]
    assert top_up(facts(*old), rulebook()) is None and top_up(facts(f"{day(13)},poured,fresh,2,L,display,", *old[1:]), rulebook()) is not None


def test_salinity_that_falls_while_fresh_water_holds_the_level_is_a_leak() -> None:
    """200 L of 35 that lose 0.5 a day lose 2.9 L of tank water a day."""
    falls = [f"{day(n)} 12:00,reading,salinity,{33 + 0.5 * n},ppt,display," for n in (4, 2, 0)]
    found = top_up(facts(*tops(2, 2, 2, 2, 2), *falls), rulebook())
    assert found is not None and found.salinity_fall is not None and found.salinity_fall[0] == pytest.approx(0.5, abs=0.01) and found.lost_l == pytest.approx(0.5 * 200 / 33, rel=0.02)
    steady = top_up(facts(*tops(2, 2, 2, 2, 2), *falls[:2]), rulebook())
    assert steady is not None and steady.salinity_fall is None and steady.lost_l == 0 and not steady.salt_leaves


# --- doses of the cycle


@pytest.mark.parametrize(("cells", "rise"), [("2,mg/L as N", 2), ("3.8190,g", 10), ("5,mL", 0), ("1,L", 0)])
def test_a_dose_of_ammonia_lifts_by_its_molecules_and_a_volume_by_nothing_known(cells: str, rise: float | None) -> None:
    """53.491/14.007 grams of ammonium chloride hold one of nitrogen (IUPAC weights, from memory): 3.819 g lift 100 L by 10 mg/L."""
    tank = tank_with(tank={"volume": "100 L"}, rock=None, sand=None)
    at = facts_of(f"2026-03-01,dosed,ammonia,{cells}", on="2026-03-02", tank=tank)
    found = dose_rise(at.rows("dosed")[0], at)
    assert rise is None or found == pytest.approx(rise, rel=1e-3)


def test_the_dose_of_a_proof_is_what_the_list_asks_for_where_that_is_more() -> None:
    node, book = ChallengeNode(dose="two", hours="day"), book_with(two=(2, "mg/L as N"), day=(24, "h"))
    at = facts_of(on="2026-03-02")
    assert [least_rise(node, replace(at, list_proof=more), book) for more in (None, 1.0, 3.0)] == pytest.approx([1.99, 1.99, 2.985])


@pytest.mark.parametrize(("tank", "rows", "line"), [({}, (), None), ({}, ("2026-03-01,dosed,ammonia,1,g,mixing", "2026-03-02,dosed,ammonia,1,g"), 3), ({}, ("2026-03-01,reading,ammonia,1,mg/L as N",), None), ({"rock": {"kind": "live", "cured_in": "tank"}, "cycle": None}, ("2026-03-01,reading,ammonia,1,mg/L as N", "2026-03-02,reading,ammonia,1,mg/L as N"), 2), ({"rock": {"kind": "live", "cured_in": "bin"}, "cycle": None}, ("2026-03-01,reading,ammonia,1,mg/L as N",), None), ({"cycle": {"ammonia": "food"}}, ("2026-03-01,event,fed",), 2), ({}, ("2026-03-01,event,fed",), None)])
def test_a_cycle_begins_with_what_brings_the_ammonia(tank: dict[str, object], rows: tuple[str, ...], line: int | None) -> None:
    found = first_ammonia(facts_of(*rows, on="2026-03-05", tank=tank_with(**tank)), rulebook())
    assert (found.line if found is not None else None) == line


HUNDRED = {"tank": {"volume": "100 L"}, "rock": None, "sand": None}


@pytest.mark.parametrize(("rows", "doubted"), [(("poured,water,125,L",), 0), (("poured,water,126,L",), 1), (("poured,water,75,L",), 0), (("poured,water,74,L",), 1), (("poured,water,60,L", "poured,water,70,L"), 2), (("poured,water,126,L,,confirmed",), 0), (("changed_water,water,125,L",), 0), (("changed_water,water,126,L",), 1), (("changed_water,water,126,L,,confirmed",), 0), (("changed_water,water,100,%",), 0)])
def test_litres_that_a_tank_cannot_hold_are_doubted_beyond_a_quarter(rows: tuple[str, ...], doubted: int) -> None:
    tank = tank_with(**HUNDRED)
    journal = journal_of(*(f"2026-03-01,{cells.replace(',,confirmed', ',display,confirmed')}" for cells in rows), tank=tank)
    found = list(doubts(tank, journal, rulebook(), facts_of(on="2026-03-05").on))
    assert len(found) == doubted and sum(bool(wrong) for _, wrong in found) == min(doubted, 1)
    assert len(believed(tank, journal, rulebook(), facts_of(on="2026-03-05").on).unreadable) == min(doubted, 1)


def test_a_dose_far_below_or_above_what_is_ever_asked_is_doubted() -> None:
    tank = tank_with(**HUNDRED)
    least, most = asked_rises(facts_of(on="2026-03-05", tank=tank), rulebook())
    assert 0 < least <= most
    for rise, wrong in ((least / 2, False), (least / 2 * 0.98, True), (most * 2, False), (most * 2.05, True), (most, False)):
        journal = journal_of(f"2026-03-01,dosed,ammonia,{rise:.6g},mg/L as N", tank=tank)
        assert bool(list(doubts(tank, journal, rulebook(), facts_of(on="2026-03-05").on))) is wrong, rise


def test_litres_are_those_of_the_water_that_is_named() -> None:
    at = facts_of(on="2026-03-05", tank=tank_with(**HUNDRED, equipment__quarantine_tank="40 L"))
    assert (litres_of("display", at, rulebook()), litres_of("quarantine", at, rulebook()), litres_of("source", at, rulebook())) == (100, 40, 0) and litres_of("mixing", at, rulebook()) > 0
    assert litres_of("quarantine", facts_of(on="2026-03-05", tank=tank_with(**HUNDRED)), rulebook()) == 0


# --- figures of a tank


# Wattages of aquarium heaters as shops sell them (common practice, no source).
@pytest.mark.parametrize(("need", "watts"), [(0, 25), (25, 25), (26, 50), (51, 75), (76, 100), (101, 150), (151, 200), (201, 250), (251, 300), (301, 400), (401, 500), (501, 800), (801, 1000), (1000, 1000)])
def test_a_heater_is_the_next_one_that_shops_sell(need: float, watts: float) -> None:
    assert heater_pair(need, HEATER_WATTS, share_each=1.0) == watts


@pytest.mark.parametrize(("name", "value"), [("circulation", 1000), ("skimming", 400), ("cold_room", 19), ("temperature_step", 1), ("first_shopping", 2), ("room_temperature", None), ("sand_mass", None), ("rock_mass", None)])
def test_figures_of_a_hundred_litres_by_the_shipped_numbers(name: str, value: float | None) -> None:
    """Ten and four turns an hour; 22 °C less 3 on a winter night."""
    made = quantity(name, facts_of(on="2026-03-05", tank=tank_with(**HUNDRED, room=None)), rulebook())
    assert (made.value if made is not None else None) == value


def test_the_first_shopping_is_none_where_the_start_is_a_shopping_day() -> None:
    """The 4th of March 2026 is a Wednesday (cal(1))."""
    def wait(*days: str) -> float:
        made = quantity("first_shopping", facts_of(on="2026-03-05", tank=tank_with(start="2026-03-04", keeper={"shopping_days": list(days)})), rulebook())
        assert made is not None
        return made.value

    assert (wait("wednesday"), wait("thursday"), wait("saturday", "wednesday")) == (0, 2, 0)


@pytest.mark.parametrize(("room", "cold"), [("18 C", 15), ("22 C", 19), ("28 C", 19)])
def test_heaters_are_sized_for_a_winter_night(room: str, cold: float) -> None:
    tank = tank_with(**HUNDRED, room={"temperature": room})
    made, total, each = (quantity(name, facts_of(on="2026-03-05", tank=tank), rulebook()) for name in ("cold_room", "heater_total", "heater_each"))
    assert made is not None and made.value == cold and total is not None and each is not None
    assert each.value == min(w for w in HEATER_WATTS if w >= 0.6 * total.value)
    month, shut = quantity("monthly_power", facts_of(on="2026-03-05", tank=tank), rulebook()), quantity("evaporation_day", facts_of(on="2026-03-05", tank=tank_with(**HUNDRED | {"tank": {"volume": "100 L", "lid": "yes"}}, room={"temperature": room})), rulebook())
    open_top = quantity("evaporation_day", facts_of(on="2026-03-05", tank=tank), rulebook())
    # A mean month has 365.25 * 24 / 12 = 730.5 hours; the heater runs 70 % of them, and a lid leaves a fifth of the surface (common practice, no source).
    assert month is not None and month.value == pytest.approx(total.value * 0.7 * 0.7305, rel=1e-6)
    assert shut is not None and open_top is not None and shut.value == pytest.approx(open_top.value * 0.2, rel=1e-6)
