"""What the forecast takes for now: the midnight that ends the plan's day, and never a reading after it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from planner.judge.cycle_expected import Expectation, expect
from planner.judge.cycle_inputs import policy_from_now
from planner.judge.gates import judge
from tests.engine_desk import facts_of, tank_with
from tests.rulecases import rulebook

TANK = tank_with(start="2026-02-20", already={"start-up": "2026-03-01"})
DOSE = "2026-03-02 12:00,dosed,ammonia,2,mg/L as N"


def expected(*rows: str, on: str) -> Expectation:
    facts = facts_of(*rows, on=on, tank=TANK)
    return expect(rulebook(), facts, judge(rulebook(), facts))


def test_the_curves_run_a_fixed_time_on_from_the_midnight_that_ends_the_day() -> None:
    """From noon of the 2nd to the midnight after the 12th are ten days and a half; the forecast looks 120 days on."""
    made = expected(DOSE, on="2026-03-12")
    assert made.model is not None
    assert made.model.days[-1] == 130
    assert [p.day for p in made.curve][-1] == date(2026, 3, 2) + timedelta(days=130)


@pytest.mark.parametrize(("when", "counted"), [("2026-03-12 00:00", 1), ("2026-03-12 23:59", 1), ("2026-03-12", 1), ("2026-03-13 00:00", 0)])
def test_a_reading_counts_until_the_day_ends(when: str, counted: int) -> None:
    assert expected(DOSE, f"{when},reading,ammonia,1,mg/L as N", on="2026-03-12").readings_used == counted


@pytest.mark.parametrize(("dose", "on", "told"), [
    # A bare date counts as its noon: to the midnight after day 364 it is 364.5 days, after day 365 it is 365.5.
    ("2026-03-02,dosed,ammonia,2,mg/L as N", "2027-03-01", False), ("2026-03-02,dosed,ammonia,2,mg/L as N", "2027-03-02", True),
    # From midnight to midnight 365 days are whole, and still in.
    ("2026-03-02 00:00,dosed,ammonia,2,mg/L as N", "2027-03-01", False), ("2026-03-02 00:00,dosed,ammonia,2,mg/L as N", "2027-03-02", True)])
def test_after_more_than_a_year_without_a_passed_cycle_nothing_is_forecast(dose: str, on: str, told: bool) -> None:
    made = expected(dose, on=on)
    assert (made.basis == "more than a year without a passed cycle: begin anew") == told
    assert (made.model is None) == told


# --- what really happened


SEVEN_DAYS = tuple(f"2026-03-{d:02d} 18:00,reading,{name},{value},mg/L as N" for d in (4, 6, 8) for name, value in (("ammonia", 2), ("nitrite", 0)))


def likely_clear(made: Expectation) -> int:
    """Beyond the horizon counts as the horizon."""
    day = made.offsets["nitrite_clear"][1]
    return 120 if day is None else day


def test_a_low_ph_that_was_cured_slows_the_days_that_it_lasted_and_no_more() -> None:
    """6.4 leaves a third of the speed (the line of the design manuals, from memory)."""
    rows = (DOSE, *SEVEN_DAYS)
    well, low = (expected(*rows, f"2026-03-03 18:00,reading,ph,{ph},pH", f"2026-03-08 18:00,reading,ph,{ph},pH", on="2026-03-08") for ph in ("8.2", "6.4"))
    cured = expected(*rows, "2026-03-03 18:00,reading,ph,6.4,pH", "2026-03-05 18:00,reading,ph,8.2,pH", "2026-03-08 18:00,reading,ph,8.2,pH", on="2026-03-08")
    assert likely_clear(low) > likely_clear(cured) + 20
    assert abs(likely_clear(cured) - likely_clear(well)) <= 3
    assert cured.start is not None and [(w.t_d, w.ph) for w in cured.start.waters] == [(2.25, 8.2)]


def test_bicarbonate_counts_from_its_dose_and_not_from_the_next_test() -> None:
    made = expected(DOSE, *SEVEN_DAYS, "2026-03-04 12:00,reading,alkalinity,2,dKH", "2026-03-06 12:00,dosed,bicarbonate,5,dKH", on="2026-03-08")
    assert made.start is not None and made.start.alkalinity_dkh == 2
    assert [(w.t_d, w.alkalinity_dkh) for w in made.start.waters] == [(4.0, 7.0)]


def test_a_few_tenths_of_a_degree_are_the_unrest_of_the_thermometer_and_move_nothing() -> None:
    restless = tuple(f"2026-03-{d:02d} 18:00,reading,temperature,{t},C" for d, t in ((2, 25.5), (4, 25.8), (6, 25.3), (8, 25.7)))
    made = expected(DOSE, *SEVEN_DAYS, *restless, on="2026-03-08")
    assert made.start is not None and made.start.temperature_c == 25.5 and made.start.waters == ()


@pytest.mark.parametrize(("name", "unit", "first", "then"), [("ph", "pH", 8.2, 8.0), ("ph", "pH", 8.0, 7.8), ("ph", "pH", 7.8, 8.0), ("alkalinity", "dKH", 8.0, 7.0), ("temperature", "C", 25.5, 26.0)])
def test_a_reading_that_moves_by_exactly_one_step_moves_the_speed(name: str, unit: str, first: float, then: float) -> None:
    """8.2 - 8.0 is 0.1999... in binary fractions."""
    made = expected(DOSE, *SEVEN_DAYS, f"2026-03-03 18:00,reading,{name},{first},{unit}", f"2026-03-05 18:00,reading,{name},{then},{unit}", on="2026-03-08")
    field = {"ph": "ph", "alkalinity": "alkalinity_dkh", "temperature": "temperature_c"}[name]
    assert made.start is not None and getattr(made.start, field) == first
    assert [getattr(w, field) for w in made.start.waters] == [then]


def test_seed_works_from_the_day_on_which_it_came() -> None:
    tank = tank_with(start="2026-02-20", already={"start-up": "2026-03-01"}, cycle__seed="media_marine")

    def seeded(*rows: str) -> Expectation:
        facts = facts_of(DOSE, *SEVEN_DAYS, *rows, on="2026-03-08", tank=tank)
        return expect(rulebook(), facts, judge(rulebook(), facts))

    first, later, never = seeded("2026-03-02 18:00,done,cycle/seed"), seeded("2026-03-08 17:00,done,cycle/seed"), seeded("2026-03-08 17:00,skipped,cycle/seed")
    assert first.start is not None and (first.start.seed, first.start.later_seeds) == ("media_marine", ())
    assert later.start is not None and later.start.seed == "none" and [s.seed for s in later.start.later_seeds] == ["media_marine"]
    assert likely_clear(later) < likely_clear(never) - 5


def test_seed_that_is_not_ticked_yet_is_expected_today_and_a_bottle_beside_the_plan_counts_too() -> None:
    tank = tank_with(start="2026-02-20", already={"start-up": "2026-03-01"}, cycle__seed="media_marine")
    facts = facts_of(DOSE, on="2026-03-08", tank=tank)
    start = expect(rulebook(), facts, judge(rulebook(), facts)).start
    assert start is not None and [(round(s.t_d, 1), s.seed) for s in start.later_seeds] == [(6.5, "media_marine")]
    bottle = expected(DOSE, "2026-03-06 12:00,dosed,bacteria,50,ml", on="2026-03-08").start
    assert bottle is not None and [(s.t_d, s.seed) for s in bottle.later_seeds] == [(4.0, "bottled")]


def test_what_is_still_to_be_done_today_is_not_put_off_until_it_is_past() -> None:
    """On the morning of a test the forecast is that of the evening before, with a dose due at every test."""
    clear = tuple(f"2026-03-{d:02d} 18:00,reading,{name},{value},mg/L as N" for d in (4, 6, 8, 10) for name, value in (("ammonia", 0), ("nitrite", 2)))
    doses = tuple(f"2026-03-{d:02d} 18:05,dosed,ammonia,1,mg/L as N" for d in (4, 6, 8, 10))
    evening, between, morning = (expected(DOSE, *clear, *doses, on=f"2026-03-{d}").offsets["cycle_done"] for d in (10, 11, 12))
    assert evening == between == morning


@pytest.mark.parametrize(("last", "ammonia", "nitrite", "pace"), [(12, 0, 3, 4), (6, 2, 0, 3), (8, 1, 1, 2)])
def test_no_night_moves_the_forecast_before_the_next_test_is_due(last: int, ammonia: float, nitrite: float, pace: int) -> None:
    """While the next milestone is far, the plan tests less often than every other day, and the forecast with it."""
    days = [date(2026, 3, 2) + timedelta(days=d) for d in range(2, last + 1, 2)]
    rows = [f"{day} 18:00,reading,{name},{value},mg/L as N" for day in days for name, value in (("ammonia", ammonia if day == days[-1] else 1.5), ("nitrite", nitrite if day == days[-1] else 0.25))]
    made = [expected(DOSE, *rows, f"{days[-1]} 18:10,dosed,ammonia,1,mg/L as N", on=str(days[-1] + timedelta(days=d))) for d in range(pace + 1)]
    assert {m.pace for m in made} == {pace}
    assert len({m.offsets["cycle_done"] for m in made}) == 1


def test_after_a_failed_proof_the_evening_expects_no_second_dose_that_the_morning_no_longer_does() -> None:
    """Where two days lie between two doses, a filter that was fed yesterday is fed again tomorrow at the soonest, so a test of today is followed by no dose."""
    book = rulebook()
    every = book.numbers["redose_every"]
    book = replace(book, numbers={**book.numbers, "redose_every": every.model_copy(update={"value": 2})})
    clear = tuple(f"2026-03-{d:02d} 18:00,reading,{name},{value},mg/L as N" for d, nitrite in ((16, 1), (18, 0), (20, 0), (21, 0.3)) for name, value in (("ammonia", 0), ("nitrite", nitrite)))
    doses = tuple(f"2026-03-{d:02d} 18:10,dosed,ammonia,1,mg/L as N" for d in (8, 12, 16, 20))
    evening, morning = (expect(book, facts, judge(book, facts)).offsets for d in (21, 22) for facts in [facts_of(DOSE, *clear, *doses, on=f"2026-03-{d}", tank=TANK)])
    assert evening == morning


def test_the_evening_expects_no_dose_that_the_test_of_the_day_forbids() -> None:
    """Nitrite off the scale pauses the feeding, whatever some of the simulated tanks show."""
    kits = {"ammonia": {"basis": "N", "step": 0.02, "highest": 3}, "nitrite": {"basis": "N", "step": 0.01, "highest": 5}}
    tank = tank_with(start="2026-02-20", already={"start-up": "2026-03-01"}, test_kits=kits)
    read = [f"2026-03-{d:02d} 18:00,reading,{name},{value},mg/L as N" for d, *values in ((12, 0.36, 2.3), (14, 0.24, 3), (16, 0.06, 3.75), (18, 0, 4.45), (20, 0, ">5"))
            for name, value in zip(("ammonia", "nitrite"), values, strict=True)]
    days = [facts_of(DOSE, *read, *(f"2026-03-{d} 18:10,dosed,ammonia,1,mg/L as N" for d in range(10, 20, 2)), on=on, tank=tank) for on in ("2026-03-20", "2026-03-21")]
    evening, morning = (expect(rulebook(), facts, judge(rulebook(), facts)).offsets for facts in days)
    assert evening == morning


def test_no_day_of_an_absence_moves_the_forecast() -> None:
    """Nobody tests before the 16th, as the calendar says from the start."""
    tank = tank_with(start="2026-02-20", already={"start-up": "2026-03-01"}, keeper={"away": [{"from": "2026-03-11", "to": "2026-03-15"}]})
    rows = [f"2026-03-{d:02d} 18:00,reading,{name},{value},mg/L as N" for d in (4, 6, 8, 10) for name, value in (("ammonia", 0), ("nitrite", 2))]
    rows += [f"2026-03-{d:02d} 18:05,dosed,ammonia,1,mg/L as N" for d in (4, 6, 8, 10)]
    days = [facts_of(DOSE, *rows, on=f"2026-03-{d}", tank=tank) for d in (10, 12, 13, 14, 15, 16)]
    assert len({expect(rulebook(), facts, judge(rulebook(), facts)).offsets["cycle_done"] for facts in days}) == 1


def test_before_the_first_test_the_forecast_expects_it_where_the_plan_has_it() -> None:
    """Live rock began the cycle on 1 March, its tests begin two days after the phase, on 5 March: no day in between moves that."""
    tank = tank_with(start="2026-02-20", already={"start-up": "2026-03-03"}, rock={"kind": "live", "mass": "12 kg", "cured_in": "tank"}, cycle={"ammonia": "rock"})
    first = []
    for on in ("2026-03-03", "2026-03-04", "2026-03-05"):
        facts = facts_of("2026-03-01 12:00,done,scape/rock", on=on, tank=tank)
        policy = policy_from_now(rulebook(), facts, judge(rulebook(), facts), proving=False, origin=date(2026, 3, 1))
        first.append(date(2026, 3, 1) + timedelta(days=policy.first_day_d))
    assert first == [date(2026, 3, 5)] * 3


def test_nitrite_that_falls_is_no_standstill_however_late_it_is() -> None:
    flat = tuple(f"{date(2026, 3, 4) + timedelta(days=d)} 18:00,reading,{name},{value},mg/L as N" for d in range(0, 70, 2) for name, value in (("ammonia", 0), ("nitrite", 4)))
    fed = tuple(f"{date(2026, 3, 4) + timedelta(days=d)} 18:05,dosed,ammonia,1,mg/L as N" for d in range(0, 50, 4))
    on = "2026-05-12"
    assert "nitrite_clear" in expected(DOSE, *fed, *flat, on=on).late
    assert expected(DOSE, *fed, *flat, f"{on} 19:00,reading,nitrite,2.5,mg/L as N", on=on).late == frozenset()


@pytest.mark.parametrize("dose", ["3", "6", "20"])
def test_an_overdose_brings_no_day_forward(dose: str) -> None:
    planned, over = (expected(f"2026-03-02 10:00,dosed,ammonia,{d},mg/L as N,display,confirmed", on="2026-03-05").offsets for d in ("2", dose))
    assert {name: [(now, was) for now, was in zip(over[name], planned[name], strict=True) if now is not None and was is not None and now < was] for name in over} == dict.fromkeys(over, [])


def test_a_dose_before_its_test_brings_no_day_forward() -> None:
    """In the model it would feed a larger filter; between two doses belongs a test (common practice, no source)."""
    tests = ((5, 2, 0.5), (8, 1, 2), (11, 0.25, 3), (13, 0, 4), (15, 0, 4), (17, 0, 3.5))
    rows = [f"2026-03-{day:02} 18:00,reading,{name},{value},mg/L as N" for day, ammonia, nitrite in tests for name, value in (("ammonia", ammonia), ("nitrite", nitrite))]
    rows += [f"2026-03-{day} 18:30,dosed,ammonia,1,mg/L as N" for day in (13, 15, 17)]
    waited = expected(DOSE, *rows, on="2026-03-18").offsets
    for more in (("2026-03-18 18:30,dosed,ammonia,1,mg/L as N",), ("2026-03-18 18:30,dosed,ammonia,2,mg/L as N",)):
        hasty = expected(DOSE, *rows, *more, on="2026-03-18").offsets
        assert {name: [(now, was) for now, was in zip(hasty[name], waited[name], strict=True) if was is None and now is not None or now is not None and was is not None and now < was]
                for name in hasty} == dict.fromkeys(hasty, [])


# --- food has to rot before a zero says anything


FOOD_TANK = tank_with(start="2026-02-20", already={"start-up": "2026-03-01"}, cycle={"ammonia": "food", "seed": "media_marine"})
FED = "2026-03-02 12:00,event,fed,,"


def clear_with_food(*rows: str, on: str) -> set[str]:
    facts = facts_of(FED, *rows, on=on, tank=FOOD_TANK)
    return {name for name in expect(rulebook(), facts, judge(rulebook(), facts)).happened if name.endswith("_clear")}


def both(when: str, ammonia: float) -> tuple[str, str]:
    return f"{when},reading,ammonia,{ammonia},mg/L as N", f"{when},reading,nitrite,0,mg/L as N"


@pytest.mark.parametrize(("rows", "on", "clear"), [
    (both("2026-03-04 18:00", 0), "2026-03-04", False),
    ((*both("2026-03-06 18:00", 0.5), *both("2026-03-09 18:00", 0)), "2026-03-09", True),
    (both("2026-03-12 11:00", 0), "2026-03-12", False), (both("2026-03-12 13:00", 0), "2026-03-12", True),
    (("2026-03-03 12:00,dosed,ammonia,0.2,mg/L as N", *both("2026-03-11 18:00", 0)), "2026-03-11", True)])
def test_zeros_count_once_food_showed_or_lay_there_for_ten_days_or_ammonia_was_dosed(rows: tuple[str, ...], on: str, clear: bool) -> None:
    assert clear_with_food(*rows, on=on) == ({"ammonia_clear", "nitrite_clear"} if clear else set())
