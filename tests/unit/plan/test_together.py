"""One day, one set of orders: what yields says why on every face, and remedies of one day are merged.

The order of remedies, the exclusions and the limits are common practice, no source."""

from __future__ import annotations

from datetime import date

import pytest

from planner.files.calendar_log import ExportLog
from planner.judge.facts import last_meal
from planner.plan.day_jobs import Day
from planner.plan.together import rest_until
from planner.rulebook.shapes import Stuck
from planner.show.calendar.calendar import calendar_from_plan
from planner.show.json.record_objects import task_document
from planner.show.paper.cards import card
from planner.show.terminal.joblines import as_printed
from planner.show.terminal.reasons import why_task
from planner.show.terminal.today import today_lines
from planner.show.words.causes import all_words
from planner.show.words.together import yielded_of
from planner.show.words.words import plain_text
from planner.terms.records import Plan, State
from tests.engine_desk import facts_of, journal_of, open_task, plan_with, tank_with
from tests.rulecases import rulebook
from tests.unit.plan_builder import jobs_of_plan

OPEN = [f"2026-03-02 09:00,reading,{name},{value},{unit},display" for name, value, unit in (
    ("ammonia", 0, "mg/L"), ("nitrite", 0, "mg/L"), ("nitrate", 5, "mg/L"), ("ph", 8.2, ""), ("alkalinity", 8, "dKH"), ("salinity", 35, "ppt"), ("temperature", 25.5, "C"))]
STOCKED = [*OPEN, "2026-03-03 09:00,added,trochus-maculatus,3,,display"]


def running(*rows: str, on: str = "2026-03-20") -> Plan:
    """A tank that is open for animals since the second of March, with these rows more."""
    tank = tank_with(already={"big-change": "2026-03-01"})
    return plan_with(rulebook(), *rows, on=on, tank=tank)


def page(plan: Plan) -> str:
    return " ".join(plain_text(today_lines(Day(plan, jobs_of_plan(plan, rulebook())), rulebook(), 100, steps=True)).split())


# --- merged remedies

def test_a_tank_with_ammonia_nitrite_nitrate_and_a_weekly_change_due_asks_for_one_change_of_water() -> None:
    plan = running(*STOCKED, "2026-03-20 08:00,reading,ammonia,0.5,mg/L", "2026-03-20 08:00,reading,nitrite,1,mg/L", "2026-03-20 08:00,reading,nitrate,80,mg/L")
    asking = [t.id for t in plan.tasks if t.state in (State.DUE, State.LATE) and any("Change" in step and " L " in step for step in all_words(t.steps, "metric"))]
    assert asking == ["ammonia-two/change#1"]


def test_the_change_that_stands_is_the_largest_one() -> None:
    plan = running(*STOCKED, "2026-03-20 08:00,reading,ammonia,0.5,mg/L", "2026-03-20 08:00,reading,ph,7.5,")
    half = dict(open_task(plan, "ammonia-two/change").amounts)["half_change"].value
    net = plan.quantity("net_volume")
    assert net is not None and half == pytest.approx(net.value / 2)
    assert open_task(plan, "ph-severe/air").amounts == ()


def test_a_remedy_whose_change_another_one_makes_keeps_its_other_steps_and_loses_the_change_from_its_title() -> None:
    aired = open_task(running(*STOCKED, "2026-03-20 08:00,reading,ammonia,0.5,mg/L", "2026-03-20 08:00,reading,ph,7.5,"), "ph-severe/air")
    assert aired.title == "Aerate hard"
    assert not any("Change" in step for step in aired.steps)
    assert any("air stone" in step for step in aired.steps)


@pytest.mark.parametrize(("changed", "asked_again"), [(32, True), (33, False), (40, False)])
def test_a_third_of_the_water_changed_today_is_the_change_of_the_day(changed: int, asked_again: bool) -> None:
    """The remedy says a third to half. What is done within that is not asked for a second time on the same day."""
    task = open_task(running(*STOCKED, "2026-03-20 08:00,reading,ammonia,0.5,mg/L", f"2026-03-20 09:00,changed_water,water,{changed},%"), "ammonia-two/change")
    assert any("Change" in step for step in task.steps) == asked_again


def test_the_nitrate_of_the_day_after_a_change_is_tested_the_day_after() -> None:
    """A kit shows the change of the evening more than the tank (common practice, no source)."""
    rows = (*STOCKED, "2026-03-18 08:00,reading,nitrate,90,mg/L", "2026-03-19 08:00,reading,nitrate,90,mg/L", "2026-03-20 18:00,changed_water,water,50,%")
    assert open_task(running(*rows), "nitrate/retest").date == date(2026, 3, 21)


def test_ticking_a_remedy_whose_change_another_one_makes_writes_no_change_of_water() -> None:
    task = open_task(running(*STOCKED, "2026-03-20 08:00,reading,ammonia,0.5,mg/L", "2026-03-20 08:00,reading,nitrate,80,mg/L"), "nitrate/change")
    assert task.writes is None


def test_no_caution_is_lost_with_a_step() -> None:
    task = open_task(running(*STOCKED, "2026-03-20 08:00,reading,ammonia,0.5,mg/L", "2026-03-20 08:00,reading,ph,7.5,"), "ph-severe/air")
    assert task.cautions == rulebook().tasks["ph-severe/air"].cautions


def test_what_the_larger_change_took_in_comes_whole_tomorrow() -> None:
    task = open_task(running(*STOCKED, "2026-03-20 08:00,reading,ammonia,0.5,mg/L", "2026-03-20 08:00,reading,nitrite,1,mg/L"), "nitrite/change")
    assert task.date == date(2026, 3, 21)
    assert any("Change about" in step for step in task.steps)


def test_after_a_small_change_this_morning_the_large_one_of_an_alarm_still_stands() -> None:
    plan = running(*STOCKED, "2026-03-20 07:00,changed_water,water,10,%", "2026-03-20 08:00,reading,ammonia,0.5,mg/L")
    assert open_task(plan, "ammonia-two/change").state == State.DUE


def test_the_second_change_of_an_emergency_says_why_it_is_there() -> None:
    plan = running(*STOCKED, "2026-03-20 08:00,reading,ammonia,3,mg/L", "2026-03-20 09:00,done,ammonia-three/change#1", "2026-03-20 09:00,changed_water,water,50,%",
                   "2026-03-20 10:30,reading,ammonia,1.5,mg/L")
    assert yielded_of(open_task(plan, "ammonia-three/change")) == ("This is the second water change today, and the last. The test after the first one still shows too much. If the test after this one does too, find the animals a running tank. The plan goes on from that test tomorrow.",)


def test_after_part_of_a_large_change_the_rest_of_its_litres_is_asked_for() -> None:
    """Contract of this project: 20 of 50 % are in, so three fifths of the whole are missing."""
    rows = (*STOCKED, "2026-03-20 08:00,reading,ammonia,3,mg/L as N")
    whole, = (made.value for name, made in open_task(running(*rows), "ammonia-three/change").amounts if name == "half_change")
    plan = running(*rows, "2026-03-20 09:00,done,ammonia-three/change#1", "2026-03-20 09:00,changed_water,water,20,%")
    rest, = (made.value for name, made in open_task(plan, "ammonia-three/change").amounts if name == "half_change")
    assert rest == pytest.approx(whole * 0.6)
    assert yielded_of(open_task(plan, "ammonia-three/change")) == ("You changed less than this job needs. This is the rest of it, for today.",)


def test_beside_the_gravest_alarm_high_nitrate_can_wait_also_once_the_water_is_changed() -> None:
    rows = (*STOCKED, "2026-03-20 08:00,reading,nitrate,90,mg/L", "2026-03-20 08:00,reading,ammonia,3,mg/L as N")
    for more in ((), ("2026-03-20 09:00,done,ammonia-three/change#1", "2026-03-20 09:00,changed_water,water,50,%")):
        plan = running(*rows, *more)
        now, wait, _ = as_printed(Day(plan, jobs_of_plan(plan, rulebook())), rulebook())
        assert "nitrate/change" in {j.task.key for j in wait} and "ammonia-three/retest" in {j.task.key for j in now}


def test_in_a_power_cut_no_step_of_a_change_says_to_switch_on() -> None:
    plan = running(*STOCKED, "2026-03-20 07:00,event,power_cut", "2026-03-20 08:00,reading,ammonia,1.5,mg/L")
    steps = open_task(plan, "ammonia-three/change").steps
    assert steps and [s for s in map(str, steps) if "witch on" in s or "Switch the pumps on" in s] == []


def test_a_reading_without_an_hour_asks_for_no_second_change() -> None:
    plan = running(*STOCKED, "2026-03-20,reading,ammonia,3,mg/L", "2026-03-20,done,ammonia-three/change#1", "2026-03-20,changed_water,water,50,%", "2026-03-20,reading,ammonia,1.5,mg/L")
    assert open_task(plan, "ammonia-three/change").date == date(2026, 3, 21)


def test_alarms_stand_in_the_order_of_what_kills_first() -> None:
    plan = running(*STOCKED, "2026-03-20 07:00,event,power_cut", "2026-03-20 08:00,reading,ammonia,1.5,mg/L", "2026-03-20 08:00,reading,alkalinity,5.5,dKH")
    told = page(plan)
    places = [told.index(title) for title in ("The power is out, and animals are in", "Ammonia with animals in, the gravest of three levels", "Alkalinity is low, but ammonia comes first")]
    assert places == sorted(places)


def test_at_most_three_remedies_stand_but_none_for_air_heat_or_ammonia_waits() -> None:
    plan = running(*STOCKED, "2026-03-20 07:00,event,power_cut", "2026-03-20 08:00,reading,temperature,29,C", "2026-03-20 08:00,reading,ammonia,1.5,mg/L",
                   "2026-03-20 08:00,reading,salinity,32,ppt", "2026-03-20 08:00,reading,ph,7.7,")
    standing = {t.id for t in plan.tasks if t.role == "remedy" and t.state in (State.DUE, State.LATE)}
    assert {"power-cut-stocked/air#1", "heat/cool#1", "ammonia-three/bind#1", "ammonia-three/change#1"} == standing
    assert "if the test still asks for it then" in " ".join(yielded_of(open_task(plan, "salinity-low/raise")))


# --- food

def test_no_page_says_both_no_food_and_a_small_meal() -> None:
    plan = running("2026-03-02 09:00,added,amphiprion-ocellaris,1,,display", "2026-03-20 08:00,reading,ammonia,0.5,mg/L")
    steps = [step for t in plan.tasks if t.state in (State.DUE, State.LATE) for step in all_words(t.steps, "metric")]
    assert any("Give no food" in step for step in steps)
    assert not any(step.startswith(("Feed a small meal", "Feed half", "Feed the animals as usual")) or "If fish are in, feed" in step for step in steps)


def test_a_page_has_one_word_on_food_that_of_the_gravest_order() -> None:
    plan = running("2026-03-02 09:00,added,amphiprion-ocellaris,1,,display", "2026-03-20 08:00,reading,nitrite,1,mg/L", "2026-03-20 08:00,reading,nitrate,80,mg/L", "2026-03-20 08:00,reading,ammonia,0,mg/L")
    steps = [step for t in plan.tasks if t.state in (State.DUE, State.LATE) for step in all_words(t.steps, "metric") if "feed" in step.lower()]
    assert steps == ["Feed half as much as usual, and take out what they leave."]


@pytest.mark.parametrize(("changed", "again"), [(49, False), (30, True)])
def test_after_half_the_water_was_changed_half_is_asked_again_tomorrow_and_not_today(changed: int, again: bool) -> None:
    plan = running(*STOCKED, "2026-03-20 08:00,reading,ammonia,1,mg/L", f"2026-03-20 09:00,changed_water,water,{changed},%", "2026-03-20 10:30,reading,ammonia,0.5,mg/L")
    assert any("Change" in step for step in all_words(open_task(plan, "ammonia-two/change").steps, "metric")) is again


@pytest.mark.parametrize(("row", "said"), [("reading,nitrate,60,mg/L", "Feed a third less than usual."), ("event,hair_algae", "Feed a third less than usual."),
                                          ("reading,nitrite,1,mg/L", "Feed half as much as usual."), ("reading,ammonia,0.5,mg/L", "Do not feed today.")])
def test_the_daily_look_feeds_as_much_as_the_alarm_leaves_and_says_how_much(row: str, said: str) -> None:
    look = open_task(running(*STOCKED, f"2026-03-20 08:00,{row}"), "care/look")
    assert not any("feed no more than" in step for step in look.steps)
    (told,) = yielded_of(look)
    assert told.startswith(said)


def test_on_the_day_of_a_return_ammonia_leaves_no_half_meal() -> None:
    """What is due on that day bears the date of the next; the page asks for it today, and has one word on food."""
    tank = tank_with(already={"big-change": "2026-03-01"}, keeper__away=[{"from": "2026-03-10", "to": "2026-03-20"}])
    look = open_task(plan_with(rulebook(), *STOCKED, "2026-03-20 08:00,reading,ammonia,0.75,mg/L", on="2026-03-20", tank=tank), "care/look")
    said = yielded_of(look)
    assert any(line.startswith("Do not feed today.") for line in said) and not any("Feed half" in line for line in said)


def test_less_food_holds_as_long_as_its_alarm_also_when_its_job_was_ticked_days_ago() -> None:
    plan = running(*STOCKED, "2026-03-18 08:00,reading,nitrate,60,mg/L", "2026-03-18 09:00,done,nitrate/change#1")
    assert yielded_of(open_task(plan, "care/look"))[0].startswith("Feed a third less than usual.")


def test_in_a_power_cut_no_meal_is_asked_for() -> None:
    plan = running(*STOCKED, "2026-03-20 07:00,event,power_cut")
    assert not any("feed no more than" in step for step in open_task(plan, "care/look").steps)


# --- ammonia

def test_the_page_asks_whether_animals_came_when_their_day_passed_without_a_word() -> None:
    plan = running(*OPEN, "2026-03-07 08:00,event,algae_seen", on="2026-03-09")
    assert "Did they come? Buy the first snails, Sat 7 Mar. If so newtank done crew/first-half#1, else newtank postpone crew/first-half#1" in page(plan)


def test_the_page_asks_nothing_on_the_day_itself() -> None:
    assert "Did they come?" not in page(running(*OPEN, "2026-03-05 08:00,event,algae_seen", "2026-03-05 08:00,reading,ammonia,0,mg/L", "2026-03-05 08:00,reading,nitrite,0,mg/L", on="2026-03-05"))


def test_an_order_that_is_left_out_gives_no_amount_and_no_step_and_keeps_its_cautions() -> None:
    fed = open_task(running(*OPEN, "2026-03-07 08:00,event,algae_seen", on="2026-03-09"), "cycle/feed-idle")
    assert (fed.state, fed.amounts, fed.steps) == (State.ON_HOLD, (), ())
    assert fed.cautions == rulebook().tasks["cycle/feed-idle"].cautions


def test_in_quarantine_the_filter_is_not_fed_on_the_day_of_the_fish_while_its_test_stays() -> None:
    plan = plan_with(rulebook(), "2026-03-04 09:00,done,quarantine/prove-1,,,quarantine", "2026-03-08 09:00,reading,ammonia,0,mg/L,quarantine",
                     "2026-03-08 09:00,reading,nitrite,0,mg/L,quarantine", "2026-03-08 10:00,done,quarantine/prove-2#1,,,quarantine",
                     "2026-03-09 09:00,reading,ammonia,0,mg/L,quarantine", "2026-03-09 09:00,reading,nitrite,0,mg/L,quarantine",
                     "2026-03-09 09:00,reading,salinity,35,ppt,quarantine", "2026-03-09 09:00,reading,temperature,25.5,C,quarantine",
                     on="2026-03-09", tank=tank_with(equipment__quarantine_tank="yes", already={"start-up": "2026-03-01"}))
    fed = [t for t in plan.tasks if t.key == "quarantine/keep-alive" and t.closed_on is None]
    assert open_task(plan, "quarantine/fish-in").date == date(2026, 3, 9)
    assert fed and not any("Feed the filter" in step for t in fed for step in t.steps)
    assert all(any("Test ammonia and nitrite" in step for step in t.steps) for t in fed)


def in_quarantine(*rows: str) -> Plan:
    """A fish in 40 L of quarantine, beside a display of about 200 L."""
    return plan_with(rulebook(), "2026-03-07 09:00,done,quarantine/fish-in,,,quarantine", "2026-03-07 09:00,added,gramma-loreto,1,,quarantine",
                     "2026-03-08 09:00,reading,ammonia,0,mg/L,quarantine", "2026-03-08 09:00,reading,nitrite,0,mg/L,quarantine", "2026-03-08 09:00,done,quarantine/daily-tests#1,,,quarantine",
                     *rows, on="2026-03-09", tank=tank_with(equipment__quarantine_tank="40 L", already={"start-up": "2026-03-01"}))


def test_fish_in_quarantine_are_tested_and_watched_also_on_the_day_of_a_large_change() -> None:
    assert open_task(in_quarantine("2026-03-09 08:00,changed_water,water,20,L,quarantine"), "quarantine/daily-tests").date == date(2026, 3, 9)


@pytest.mark.parametrize(("changed", "again"), [(7, True), (10, False)])
def test_a_change_in_quarantine_that_was_too_small_is_asked_for_again_by_that_tanks_own_measure(changed: int, again: bool) -> None:
    """A quarter of 40 L is asked for. 3 L short are 7.5 % of it, and not the 1.5 % that they are of the display."""
    plan = in_quarantine("2026-03-09 07:00,reading,ammonia,1,mg/L,quarantine", f"2026-03-09 08:00,changed_water,water,{changed},L,quarantine")
    assert bool(open_task(plan, "quarantine-ammonia/change").amounts) == again


RESTING = Stuck.model_validate({"when": {"animal": {}}, "say": "Stalled.", "do": ["Leave out ammonia."], "sign": True, "rests": "ammonia_rest", "rest_step": 1})


@pytest.mark.parametrize(("on", "until"), [("2026-03-04", date(2026, 3, 8)), ("2026-03-07", date(2026, 3, 8)), ("2026-03-08", None)])
def test_a_filter_that_stands_still_rests_for_five_days_from_its_last_meal_and_no_longer(on: str, until: date | None) -> None:
    assert rest_until(RESTING, facts_of("2026-03-03 09:00,dosed,ammonia,2,mg/L", on=on), rulebook()) == until


def stalled(on: str) -> Plan:
    """Nitrite high for weeks and not falling, the last dose on the fifth of April."""
    rows = [f"{day} 18:00,reading,{name},{value},mg/L" for day in ("2026-03-12", "2026-03-19", "2026-03-26", "2026-04-02", "2026-04-05", "2026-04-07") for name, value in (("ammonia", 0.25), ("nitrite", 4))]
    return plan_with(rulebook(), "2026-03-02 09:00,done,cycle/first-dose", "2026-03-02 09:00,dosed,ammonia,2,mg/L", *rows, "2026-04-05 19:00,dosed,ammonia,1,mg/L",
                     on=on, tank=tank_with(already={"start-up": "2026-03-01"}))


def test_ammonia_in_quarantine_lengthens_no_rest_of_the_display() -> None:
    rows = ("2026-03-08 18:00,dosed,ammonia,2,mg/L as N,display", "2026-03-10 18:00,dosed,ammonia,1,mg/L as N,quarantine")
    assert last_meal(facts_of(*rows, on="2026-03-11")) == date(2026, 3, 8)
    assert last_meal(facts_of(*rows, "2026-03-09 18:00,event,fed", on="2026-03-11")) == date(2026, 3, 9)
    assert last_meal(facts_of(*rows[1:], on="2026-03-11")) is None


def test_while_the_advice_is_to_leave_out_ammonia_none_is_ordered() -> None:
    plan = stalled("2026-04-07")
    assert any("Give no ammonia for three to five days" in line for p in plan.phases for line in p.advice)
    assert [t.id for t in plan.tasks if "adds_ammonia" in rulebook().tasks[t.key].acts and t.state in (State.DUE, State.LATE)] == []
    assert open_task(plan, "cycle/re-dose").date == date(2026, 4, 10)


# --- every face

def test_the_reason_stands_on_the_page_in_why_in_json_in_the_calendar_and_on_paper() -> None:
    plan = running(*STOCKED, "2026-03-20 08:00,reading,ammonia,0.5,mg/L")
    task = open_task(plan, "care/weekly-change")
    (said,) = yielded_of(task)
    assert "This job needs no change of its own today." in said
    assert said in page(plan)
    assert said in why_task(plan, rulebook(), task).because
    assert said in task_document(task, plan.units)["because"]
    assert task_document(task, plan.units)["yielded"][0]["rule"] == "together/one-change"
    assert said in card(task, (), plan, rulebook(), {}, set())["watch"]


def test_the_calendar_says_why_an_order_gave_way() -> None:
    tank = tank_with(already={"big-change": "2026-03-01"}, id="6f0d3c1e-8f0a-4a58-9a59-5d2f6b1a7c11")
    plan = plan_with(rulebook(), *STOCKED, "2026-03-20 08:00,reading,ammonia,0.5,mg/L", on="2026-03-20", tank=tank)
    written = calendar_from_plan(plan, rulebook(), ExportLog(), now=None)[0].decode("utf-8").replace("\r\n ", "")
    assert "does the water change for this one too" in written


def test_a_fish_that_was_chosen_is_not_to_be_chosen_again() -> None:
    from planner.plan.make import make_plan
    from planner.stock.catalogue import load_catalogue
    from tests.rulecases import RULES

    tank = tank_with(already={"big-change": "2026-03-01"}, wish_list=[{"animal": "amphiprion-ocellaris", "count": 2}])
    catalogue = load_catalogue([RULES / "livestock"])
    before = make_plan(tank, journal_of(*OPEN, tank=tank), rulebook(), date(2026, 3, 6), catalogue=catalogue)
    chosen = open_task(before, "fish/stage-choose")
    after = make_plan(tank, journal_of(*OPEN, f"2026-03-06 10:00,done,{chosen.id}", tank=tank), rulebook(), date(2026, 3, 6), catalogue=catalogue)
    assert [t.state for t in after.tasks if t.id == chosen.id] == [State.DONE]


def test_the_feeds_of_a_waiting_filter_are_dated_up_to_the_day_before_the_snails_come() -> None:
    plan = running(*OPEN, "2026-03-07 08:00,event,algae_seen", "2026-03-07 08:05,postponed,crew/first-half,2026-03-20", on="2026-03-07")
    came = open_task(plan, "crew/first-half").date
    fed = [t.date for t in plan.tasks if t.key == "cycle/feed-idle" and t.closed_on is None]
    assert came == date(2026, 3, 20)
    assert len(fed) > 1
    assert all(day is not None and day < date(2026, 3, 19) for day in fed)


def test_a_tank_that_stands_still_after_a_long_silence_gets_no_ammonia_on_the_day_on_which_that_is_told() -> None:
    dosed = ("2026-03-02 18:00,dosed,ammonia,2,mg/L as N", *(f"2026-03-{d:02} 18:00,reading,{n},{v},mg/L" for d in (3, 6, 9) for n, v in (("ammonia", 2), ("nitrite", 0))))
    plan = plan_with(rulebook(), *dosed, on="2026-05-20", tank=tank_with(already={"start-up": "2026-03-01"}))
    cycle = plan.phase("cycle")
    assert cycle is not None and any("Stalled" in str(line) for line in cycle.advice)
    given = [t for t in plan.tasks if t.key in ("cycle/re-dose", "cycle/challenge-dose") and t.closed_on is None]
    assert given and all(t.date is None or t.date > date(2026, 5, 20) for t in given)


def test_a_small_first_dose_is_tested_for_before_anything_else() -> None:
    assert str(rulebook().tasks["cycle/small-dose"].steps[0]).startswith("Test ammonia first")


# --- several alarms at one time


def test_help_for_every_alarm_comes_before_what_only_tells_that_one_is_over() -> None:
    plan = plan_with(rulebook(), *STOCKED, "2026-03-20 10:00,event,leak", "2026-03-20 10:05,event,power_cut", on="2026-03-20", tank=tank_with(already={"big-change": "2026-03-01"}))
    todays = [t.id.partition("#")[0] for t in plan.tasks if t.state == State.DUE and t.phase in ("leak", "power-cut-stocked")]
    assert todays[:2] == ["leak/stop", "power-cut-stocked/air"]
    assert todays[-1] == "leak/repaired"


def test_nothing_of_an_alarm_switches_the_pumps_on_while_the_power_is_out() -> None:
    def steps(*rows: str) -> str:
        plan = plan_with(rulebook(), *STOCKED, "2026-03-20 10:00,event,leak", *rows, on="2026-03-20", tank=tank_with(already={"big-change": "2026-03-01"}))
        return " ".join(map(str, open_task(plan, "leak/repaired").steps))

    assert "Switch the pumps on" in steps()
    assert "Switch the pumps on" not in steps("2026-03-20 10:05,event,power_cut")


# --- animals whose day passed


def asked_about(*rows: str, on: str) -> list[str]:
    plan = plan_with(rulebook(), *STOCKED, *rows, on=on, tank=tank_with(already={"big-change": "2026-03-01", "crew": "2026-03-05", "lights": "2026-03-05"}))
    return [t.id for t in plan.tasks if any(y.way == "asked" for y in t.yielded)]


def test_a_fish_written_down_by_hand_since_its_day_answers_whether_it_came() -> None:
    assert asked_about(on="2026-03-20") == ["fish/stage-1"]
    assert asked_about("2026-03-14 12:00,added,amphiprion-ocellaris,1", on="2026-03-20") == []
    assert asked_about("2026-03-08 12:00,added,amphiprion-ocellaris,1", on="2026-03-20") == ["fish/stage-1"]  # before its day
    assert asked_about("2026-03-14 12:00,added,trochus-maculatus,1", on="2026-03-20") == ["fish/stage-1"]  # a snail is no fish


@pytest.mark.parametrize("event", ["palytoxin", "electric_shock", "smoke", "leak", "power_cut", "gasping"])
def test_on_a_day_of_danger_the_first_job_stands_among_the_first_lines(event: str) -> None:
    """Whoever is in danger reads no further than the top of the page (common practice, no source)."""
    plan = running(*STOCKED, f"2026-03-20 10:00,event,{event}")
    lines = plain_text(today_lines(Day(plan, jobs_of_plan(plan, rulebook())), rulebook(), 80)).splitlines()
    first = next(t for t in plan.tasks if t.state == State.DUE and t.phase in {a.alert for a in rulebook().alerts})
    assert next(n for n, line in enumerate(lines) if first.title[:40] in line and line.lstrip()[:1].isdigit()) < 18


# --- alarms that end

@pytest.mark.parametrize(("where", "alert"), [("display", "ammonia-two"), ("quarantine", "quarantine-ammonia")])
def test_whoever_changes_and_tests_within_the_hour_tests_tomorrow_before_he_changes_again(where: str, alert: str) -> None:
    """A test within the hour after a large change ends no alarm. Half of the water went out every day, and the fish got no food, for weeks."""
    fish = f"2026-03-03 09:00,added,amphiprion-ocellaris,2,,{where}"
    changed = [f"2026-03-20 {hour},{row},{where}" for hour, row in (
        ("08:00", "reading,ammonia,0.5,mg/L as N"), ("18:03", f"done,{alert}/change#1,,"), ("18:03", "changed_water,water,50,%"), ("18:06", "reading,ammonia,0,mg/L as N"), ("18:06", f"done,{alert}/retest#1,,"))]
    tank = tank_with(already={"big-change": "2026-03-01"}, equipment__quarantine_tank="40 L")

    def asked(*rows: str, on: str = "2026-03-21") -> set[str]:
        plan = plan_with(rulebook(), *OPEN, fish, *rows, on=on, tank=tank)
        return {t.key for t in plan.tasks if t.phase == alert and t.state in (State.DUE, State.LATE)} & {f"{alert}/change", f"{alert}/retest"}

    assert asked(*changed) == {f"{alert}/retest"}
    assert asked(*changed, f"2026-03-21 08:00,reading,ammonia,0.5,mg/L as N,{where}") == {f"{alert}/change", f"{alert}/retest"}
    assert asked(*changed[:3]) == {f"{alert}/change", f"{alert}/retest"}  # nobody tested: the second of two changes
    clear = [f"2026-03-{day} 18:00,{row},{where}" for day in (21, 22) for row in ("reading,ammonia,0,mg/L as N", f"done,{alert}/retest#{day - 19},,")]
    assert asked(*changed, *clear, on="2026-03-23") == set()


def test_a_late_meal_of_the_filter_waits_for_the_water_change_of_an_alarm() -> None:
    """The fish died while their keeper was away: the filter has waited for its food for days, and the change of the alarm comes first."""
    lost = [f"2026-03-20 08:00,lost,amphiprion-ocellaris,{n},,display" for n in (1, 1)]
    tests = [f"2026-03-20 08:30,reading,{name},0,mg/L,display" for name in ("ammonia", "nitrite")]
    plan = running(*OPEN, "2026-03-03 09:00,added,amphiprion-ocellaris,2,,display", *lost, *tests)
    today = [t.key for t in plan.tasks if t.state in (State.DUE, State.LATE)]
    assert "two-lost/act" in today
    assert not [key for key in today if (due := plan.task(f"{key}#1")) is not None and due.writes == ("dosed", "ammonia")]


@pytest.mark.parametrize(("nitrite", "cleaned"), [(0, True), (0.5, False)])
def test_pumps_are_not_cleaned_while_nitrite_shows(nitrite: float, cleaned: bool) -> None:
    """Also once its change of water is done, and only tests are left."""
    tests = [f"2026-06-{day} 08:00,reading,{name},{value},mg/L,display" for day in ("01", "02", "06") for name, value in (("ammonia", 0), ("nitrite", nitrite))]
    changed = ("2026-06-02 18:00,done,nitrite/change#1", "2026-06-02 18:00,changed_water,water,25,%") if nitrite else ()
    job = open_task(running(*STOCKED, *tests, *changed, on="2026-06-06"), "care/pumps")
    assert (job.state in (State.DUE, State.LATE)) is cleaned
    assert any("Leave the bacteria alone" in why for why in yielded_of(job)) is not cleaned


def test_beside_a_first_danger_the_second_one_has_its_steps_too_also_on_its_second_day() -> None:
    hot = ("2026-03-20 08:00,reading,temperature,31,C", "2026-03-20 08:00,reading,ammonia,2,mg/L")
    known = ("2026-03-19 08:00,reading,ammonia,2,mg/L", "2026-03-19 09:00,done,ammonia-three/change#1", "2026-03-19 09:00,changed_water,water,50,%")
    for rows in ((*STOCKED, *hot), (*STOCKED, *known, *hot)):
        plan = running(*rows)
        known_keys = {r.partition(",done,")[2].partition("#")[0] for r in rows if ",done," in r}
        told = " ".join(plain_text(today_lines(Day(plan, jobs_of_plan(plan, rulebook(), known_keys)), rulebook(), 100)).split())
        assert "Float closed bottles of ice" in told and "Get the water ready" in told
