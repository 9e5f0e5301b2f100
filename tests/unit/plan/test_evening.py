"""The walk around the tank: its order, and what stands between the jobs. The order is this project's contract; that power is
off before hands go in is the usual advice for mains beside water."""

from __future__ import annotations

from datetime import date, timedelta

from planner.plan.day_jobs import Day
from planner.plan.evening import WalkStep, can_wait, closing_questions, evening_walk, left_for_later, left_out_of_all
from planner.plan.places import PLACES, asks_first, place_of
from planner.terms.records import Hold, State, Task, Yielded
from tests.rulecases import rulebook
from tests.unit.plan_builder import ON, jobs_of_plan, phase, plan, task

RULES = rulebook()


def due(key: str, **changes: object) -> Task:
    rule = RULES.tasks[key]
    return task(key, ON, **({"state": State.DUE, "role": rule.role, "reads": rule.reads, "where": rule.where} | changes))


def walk(*tasks: Task, power_is_off: bool = False, topped_up: bool = False) -> tuple[WalkStep, ...]:
    p = plan(*tasks)
    return evening_walk(Day(p, jobs_of_plan(p, RULES)), RULES, power_is_off, topped_up)


def keys(*tasks: Task, **how: bool) -> list[str]:
    return [s.key for s in walk(*tasks, **how)]


def test_the_places_of_an_evening_are_known_by_what_a_task_does() -> None:
    wanted = {"cycle/look": "look", "care/look": "look", "start-up/top-up": "top_up", "care/weekly-tests": "test", "care/weekly-change": "hands_in", "care/pumps": "hands_in",
              "cycle/re-dose": "dose", "fish/stage": "animals", "care/trip-test": "other"}
    assert {key: place_of(RULES.tasks[key]) for key in wanted} == wanted and set(wanted.values()) | {"feed"} == set(PLACES)


def test_look_top_up_test_power_off_change_power_on_dose() -> None:
    jobs = [due(k) for k in ("cycle/re-dose", "care/weekly-change", "cycle/tests", "start-up/top-up", "cycle/look")]
    assert keys(*jobs) == ["cycle/look", "start-up/top-up", "cycle/tests", "power_off", "care/weekly-change", "power_on", "cycle/re-dose", "closing"]


def test_one_switching_off_does_for_all_that_puts_hands_in() -> None:
    found = keys(due("care/weekly-change"), due("care/pumps"))
    assert found.count("power_off") == found.count("power_on") == 1 and found.index("power_off") == 0 and found[-2] == "power_on"


def test_power_that_is_off_comes_on_again_even_if_nothing_is_left_to_do() -> None:
    assert keys(due("cycle/look"), power_is_off=True)[0] == "power_on"
    assert keys(due("care/pumps"), power_is_off=True) == ["care/pumps", "power_on", "closing"]


def test_salinity_is_read_last_and_half_an_hour_after_a_top_up() -> None:
    first = walk(due("start-up/top-up"), due("care/weekly-tests"))[1]
    assert first.reads[-2][0] == "salinity" and first.settle == 30
    assert walk(due("care/weekly-tests"))[0].settle == 0 and walk(due("care/weekly-tests"), topped_up=True)[0].settle == 30


def test_a_reading_that_two_tests_ask_for_is_asked_once() -> None:
    found = walk(due("cycle/tests"), due("care/weekly-tests"))
    asked = [r for step in found for r in step.reads]
    assert len(asked) == len(set(asked)) and ("ammonia", "display") in asked


def test_a_reading_of_two_vessels_is_asked_for_each() -> None:
    found = walk(due("water/measure"), due("water/measure-more"))
    assert [step.reads for step in found if step.job is not None and step.job.task.key.startswith("water/measure")] == [(("salinity", "mixing"), ("temperature", "mixing"))] * 2


def test_what_hangs_on_another_job_of_the_day_comes_after_it() -> None:
    found = keys(due("cycle/check-test"), due("cycle/first-dose"))
    assert found.index("cycle/first-dose") < found.index("cycle/check-test")


def test_salt_is_looked_at_before_the_mixed_water_is_tested() -> None:
    found = keys(due("water/measure"), due("water/alkalinity"), due("water/look"))
    assert found[:1] == ["water/look"] and set(found[1:3]) == {"water/measure", "water/alkalinity"}


def test_what_an_alarm_asks_for_comes_before_the_chores() -> None:
    alert = next(a for a in RULES.alerts if any(not t.reads for t in a.tasks))
    key = f"{alert.alert}/{next(t for t in alert.tasks if not t.reads).id}"
    found = keys(due("cycle/look"), due(key))
    assert found.index(key) < found.index("cycle/look")


def test_what_is_on_hold_or_done_is_no_stop() -> None:
    assert keys(due("cycle/look", state=State.ON_HOLD), due("start-up/top-up")) == ["start-up/top-up", "closing"]


def test_a_dose_a_change_and_an_animal_are_asked_about_and_a_look_is_not() -> None:
    assert all(asks_first(due(k), RULES) for k in ("cycle/re-dose", "care/weekly-change", "fish/stage"))
    assert not any(asks_first(due(k), RULES) for k in ("cycle/look", "start-up/top-up", "care/floss"))


def test_all_leaves_out_tests_doses_animals_and_what_is_held() -> None:
    tasks = [due("cycle/look"), due("cycle/tests"), due("cycle/re-dose"), due("fish/stage"), due("care/weekly-change")]
    jobs = jobs_of_plan(plan(*tasks), RULES)
    assert {j.task.key: why for j, why in left_out_of_all(jobs, RULES)} == {"cycle/tests": "test", "cycle/re-dose": "dose", "fish/stage": "animals"}


def test_a_remedy_that_reads_is_asked_about_and_then_read_and_all_ticks_it() -> None:
    stop, closing = walk(due("heater-off/warm"))
    assert (stop.kind, stop.reads, closing.kind) == ("job", (("temperature", "display"),), "closing")
    assert left_out_of_all(jobs_of_plan(plan(due("heater-off/warm")), RULES), RULES) == []


def test_all_leaves_out_what_ends_an_alarm() -> None:
    jobs = jobs_of_plan(plan(due("heater-off/replaced"), due("pump-stopped/running"), due("cycle/look")), RULES)
    assert {j.task.key: why for j, why in left_out_of_all(jobs, RULES)} == {"heater-off/replaced": "ends an alarm", "pump-stopped/running": "ends an alarm"}


def test_the_meal_of_a_chore_comes_last_and_not_on_a_day_that_leaves_it_out() -> None:
    assert keys(due("care/look"), due("care/weekly-change"))[-2:] == ["feed", "closing"]
    fasting = due("care/look", yielded=(Yielded("step_left_out", "x", "", "", None, "Ammonia shows."),))
    assert "feed" not in keys(fasting) and "feed" not in keys(due("cycle/look"))


def test_while_it_leaks_only_what_helps_is_walked_and_nobody_is_told_to_switch_on() -> None:
    stop, repaired = due("leak/stop"), due("leak/repaired")
    restart = due("leak-test/restart")
    leaking = plan(repaired, due("start-up/top-up"), restart, due("cycle/tests"), stop, Hold("cycle", ON, "You noted a leak.", ("leak-test/restart",)))
    day = Day(leaking, jobs_of_plan(leaking, RULES))
    assert [s.key for s in evening_walk(day, RULES)] == ["leak/stop", "leak-test/restart", "leak/repaired", "closing"]
    assert [s.key for s in evening_walk(day, RULES, power_is_off=True)] == ["leak/stop", "leak-test/restart", "leak/repaired", "closing"]
    assert not any("switched on" in question for question, _ in closing_questions(day, RULES))
    assert any("switched on" in question for question, _ in closing_questions(Day(plan(), ()), RULES))


def test_the_power_comes_on_right_after_the_remedy_and_before_the_tests() -> None:
    jobs = [due(k) for k in ("ammonia-three/change", "ammonia-three/retest", "care/weekly-change")]
    assert keys(*jobs)[:4] == ["power_off", "ammonia-three/change", "power_on", "ammonia-three/retest"]
    again = keys(due("ammonia-three/retest"), power_is_off=True)
    assert again == ["power_on", "ammonia-three/retest", "closing"]


def test_a_stop_that_was_left_switches_nothing_off_for_itself() -> None:
    p = plan(due("care/weekly-change"), due("cycle/look"))
    day = Day(p, jobs_of_plan(p, RULES))
    assert [s.key for s in evening_walk(day, RULES, handled=("cycle/look", "care/weekly-change"))] == ["closing"]
    assert [s.key for s in evening_walk(day, RULES, power_is_off=True, handled=("cycle/look",))][:2] == ["care/weekly-change", "power_on"]


def test_a_remedy_is_never_left_for_another_day() -> None:
    urgent, ordinary = left_for_later(walk(due("ammonia-three/change"), due("cycle/look")), RULES)
    assert [j.task.key for j in urgent] == ["ammonia-three/change"] and not ordinary
    urgent, ordinary = left_for_later(walk(due("care/weekly-change"), due("cycle/look")), RULES)
    assert not urgent and [j.task.key for j in ordinary] == ["care/weekly-change"]


def test_the_vet_for_a_fish_in_quarantine_is_no_chore_that_can_wait() -> None:
    """Common practice, no source: velvet kills within days."""
    both = plan(due("power-cut-stocked/air"), due("quarantine/vet"), due("care/floss"))
    assert [j.task.id for j in can_wait(Day(both, jobs_of_plan(both, RULES)), RULES)] == ["care/floss"]


def test_a_top_up_waits_for_an_alarm_one_evening_and_no_second() -> None:
    """Evaporation takes water alone, so the salt rises day by day."""
    def waits(since: date) -> list[str]:
        page = plan(due("ammonia-three/change"), due("care/look", due=since), due("care/floss", due=since))
        return [j.task.id for j in can_wait(Day(page, jobs_of_plan(page, RULES)), RULES)]

    assert sorted(waits(ON)) == ["care/floss", "care/look"]
    assert waits(ON - timedelta(days=1)) == ["care/floss"]


def test_nobody_who_left_the_power_on_is_asked_whether_it_is_back() -> None:
    quiet = Day(plan(), ())
    assert not any("again" in question for question, _ in closing_questions(quiet, RULES, was_off=False))
    assert not any("hand" in remind and "water" in remind for _, remind in closing_questions(quiet, RULES, was_off=False))


def test_before_there_is_water_the_evening_ends_with_the_hands_alone() -> None:
    def asked(started: date | None = None) -> list[str]:
        return [q for q, _ in closing_questions(Day(plan(phase("water", role="makes_water", started=started), phase("scape", role="fills_tank")), ()), RULES)]

    assert asked() == ["Are your hands washed?"]
    assert asked(started=ON) == ["Is everything switched on again, and does every pump run?", "Are your hands washed?"]
