"""A remedy that was done five times while its reading stood still gives way to looking for the cause.

Five times and a step of the kit are the contract of the plan; common practice, no source."""

from __future__ import annotations

from planner.show.words.causes import all_words
from planner.show.words.together import yielded_of
from planner.terms.records import Plan, Task
from tests.engine_desk import open_task, plan_with, tank_with
from tests.rulecases import rulebook
from tests.unit.plan_builder import jobs_of_plan

OPEN = [f"2026-03-02 09:00,reading,{name},{value},{unit},display" for name, value, unit in (
    ("ammonia", 0, "mg/L"), ("nitrite", 0, "mg/L"), ("nitrate", 5, "mg/L"), ("ph", 8.2, ""), ("alkalinity", 8, "dKH"), ("salinity", 35, "ppt"), ("temperature", 25.5, "C"))]
STOCKED = [*OPEN, "2026-03-03 09:00,added,trochus-maculatus,3,,display"]


def lifted(times: int, *after: str, first: str = "5.5") -> Plan:
    """Alkalinity raised on so many days from the tenth on, and read on each day before it and on the day after the last."""
    rows = list(STOCKED)
    for n in range(times):
        rows += [f"2026-03-{10 + n} 08:00,reading,ammonia,0,mg/L,display", f"2026-03-{10 + n} 08:00,reading,alkalinity,{first if n == 0 else '5.5'},dKH,display",
                 f"2026-03-{10 + n} 09:00,done,alkalinity-low/raise#{n + 1},,,display", f"2026-03-{10 + n} 09:00,dosed,bicarbonate,1,g,display"]
    rows += [f"2026-03-{10 + times} 08:00,reading,alkalinity,5.5,dKH,display", *after]
    tank = tank_with(already={"big-change": "2026-03-01"}, test_kits__alkalinity={"step": "0.5"})
    return plan_with(rulebook(), *rows, on=f"2026-03-{10 + times}", tank=tank)


def raised(plan: Plan) -> Task:
    return open_task(plan, "alkalinity-low/raise")


def test_after_four_times_the_order_stands() -> None:
    assert raised(lifted(4)).title.startswith("Raise alkalinity")
    assert raised(lifted(4)).writes == ("dosed", "bicarbonate")


def test_after_five_times_in_vain_the_cause_is_looked_for_and_nothing_more_is_given() -> None:
    task = raised(lifted(5))
    assert task.title.startswith("Find out why this does not help: Raise alkalinity")
    assert any("second kit" in step for step in all_words(task.steps, "metric"))
    assert task.writes is None
    assert task.amounts == ()


def test_the_order_says_how_often_it_was_done_and_what_stood_still() -> None:
    assert "This was done 5 times, and alkalinity has not moved by a step of the kit." in yielded_of(raised(lifted(5)))


def test_a_reading_that_moved_by_a_step_keeps_the_order() -> None:
    assert raised(lifted(5, first="5.0")).title.startswith("Raise alkalinity")


def test_a_change_against_ammonia_goes_on_and_says_that_it_did_not_help() -> None:
    rows = list(STOCKED)
    for n in range(5):
        rows += [f"2026-03-{10 + n} 08:00,reading,ammonia,0.75,mg/L,display", f"2026-03-{10 + n} 09:00,done,ammonia-two/change#{n + 1},,,display", f"2026-03-{10 + n} 09:00,changed_water,water,50,%,display"]
    plan = plan_with(rulebook(), *rows, "2026-03-15 08:00,reading,ammonia,0.75,mg/L,display", on="2026-03-15", tank=tank_with(already={"big-change": "2026-03-01"}))
    task = open_task(plan, "ammonia-two/change")
    assert task.writes == ("changed_water", "water")
    assert any("has not moved" in told for told in yielded_of(task))


def test_readings_off_the_scale_tell_nothing() -> None:
    rows = list(STOCKED)
    for n in range(5):
        rows += [f"2026-03-{10 + n} 08:00,reading,nitrate,>80,mg/L,display", f"2026-03-{10 + n} 09:00,done,nitrate/change#{n + 1},,,display", f"2026-03-{10 + n} 09:00,changed_water,water,25,%,display"]
    plan = plan_with(rulebook(), *rows, "2026-03-15 08:00,reading,nitrate,>80,mg/L,display", on="2026-03-15", tank=tank_with(already={"big-change": "2026-03-01"}))
    assert not open_task(plan, "nitrate/change").title.startswith("Find out")


def test_the_steps_of_looking_for_the_cause_are_known_by_nobody() -> None:
    """The page tells a job in a line that was ticked before; this one asks for something else than was ticked."""
    known = {n: next(j.known for j in jobs_of_plan(lifted(n), rulebook(), {"alkalinity-low/raise"}) if j.task.key == "alkalinity-low/raise") for n in (4, 5)}
    assert known == {4: True, 5: False}


def retested(*nitrite: float, name: str = "nitrite", task: str = "nitrite-doubt/retest", kit: dict[str, object] | None = None, last: float | None = None) -> Plan:
    """A little nitrite (or another reading), tested again on so many days from the tenth on, and the plan of the day after the last test."""
    rows = [*STOCKED, f"2026-03-10 08:00,reading,{name},{nitrite[0]},mg/L,display"]
    for n, value in enumerate(nitrite):
        rows += [f"2026-03-{11 + n} 08:00,reading,ammonia,{value if name == 'ammonia' else 0},mg/L,display", f"2026-03-{11 + n} 08:00,reading,nitrite,{value if name == 'nitrite' else 0},mg/L,display",
                 f"2026-03-{11 + n} 09:00,done,{task}#{n + 1},,,display"]
    if last is not None:
        rows.append(f"2026-03-{11 + len(nitrite)} 08:00,reading,nitrite,{last},mg/L,display")
    kits = {"test_kits__nitrite": kit or {"basis": "N", "step": 0.03, "highest": 1}, "test_kits__ammonia": {"basis": "N", "step": 0.05, "highest": 5}}
    return plan_with(rulebook(), *rows, on=f"2026-03-{11 + len(nitrite)}", tank=tank_with(already={"big-change": "2026-03-01"}, **kits))


def test_a_mild_alarms_test_that_shows_the_same_five_times_comes_three_days_after_the_last() -> None:
    assert day_of(retested(*[0.15] * 4)) == "2026-03-15"
    assert day_of(retested(*[0.15] * 5)) == "2026-03-18"


def test_what_moves_by_less_than_any_kit_is_off_by_is_the_same_however_fine_the_kit() -> None:
    """0.1 mg/L as N is what still counts as clear."""
    assert day_of(retested(0.15, 0.18, 0.15, 0.18, 0.15)) == "2026-03-18"
    assert day_of(retested(0.12, 0.21, 0.15, 0.18, 0.15)) == "2026-03-18"
    assert day_of(retested(0.12, 0.23, 0.15, 0.18, 0.15)) == "2026-03-16"


def test_neighbouring_fields_of_a_coarser_kit_are_the_same_and_two_fields_are_not() -> None:
    neighbours, two_apart = (retested(0.12, 0.24, 0.12, 0.12, 0.12, kit={"basis": "N", "step": step, "highest": 1}) for step in (0.12, 0.06))
    assert (day_of(neighbours), day_of(two_apart)) == ("2026-03-18", "2026-03-16")


def test_a_test_that_comes_less_often_says_so_and_what_to_look_for() -> None:
    assert any("same result 5 times" in why and "look for" in why for why in yielded_of(open_task(retested(*[0.15] * 5), "nitrite-doubt/retest")))


def test_a_grave_alarm_is_tested_every_day_however_often_its_test_shows_the_same() -> None:
    assert day_of(retested(*[0.75] * 5, name="ammonia", task="ammonia-two/retest"), "ammonia-two/retest") == "2026-03-16"


def test_nitrite_that_stands_for_five_tests_is_tested_every_third_day_until_a_test_is_clear() -> None:
    """Sea fish bear nitrite: the first harm to the gills of a clownfish came at 25 mg/L as N (Medeiros 2014, dissertation, FURG, abstract)."""
    assert day_of(retested(*[0.5] * 4, task="nitrite/retest"), "nitrite/retest") == "2026-03-15"
    assert day_of(retested(*[0.5] * 5, task="nitrite/retest"), "nitrite/retest") == "2026-03-18"
    coarse = {"basis": "N", "step": 0.25, "highest": 5}
    assert day_of(retested(*[0.25] * 5, task="nitrite/retest", kit=coarse, last=0), "nitrite/retest") == "2026-03-16"


def test_a_little_nitrite_asks_for_one_change_in_four_weeks_and_not_for_one_a_week() -> None:
    """One change, then the filter grows (common practice, no source)."""
    rows = [*STOCKED, "2026-03-10 08:00,reading,nitrite,0.5,mg/L,display", "2026-03-10 09:00,done,nitrite/change#1,,,display", "2026-03-10 09:00,changed_water,water,25,%,display"]
    for day, due in (("2026-03-24", "2026-04-07"), ("2026-04-07", "2026-04-07")):
        plan = plan_with(rulebook(), *rows, f"{day} 08:00,reading,ammonia,0,mg/L,display", f"{day} 08:00,reading,nitrite,0.5,mg/L,display", on=day, tank=tank_with(already={"big-change": "2026-03-01"}))
        assert day_of(plan, "nitrite/change") == due


def day_of(plan: Plan, key: str = "nitrite-doubt/retest") -> str:
    return str(open_task(plan, key).date)
