"""Days of jobs, supplies, absences and what a plan tells, on both sides of each limit. Weekdays are those of the Gregorian calendar (2 March 2026 is a Monday, cal(1))."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest

from planner.plan.milestones import gate_window, open_tasks
from planner.plan.supplies import read_purchase
from planner.plan.usable_days import next_day_allowed
from planner.terms.records import State
from planner.terms.units import Refusal
from tests.engine_desk import plan_with, small_book, tank_with
from tests.unit.plan.test_absence import absence, came
from tests.unit.plan.test_supplies import ON as NOW
from tests.unit.plan.test_supplies import found as stock
from tests.unit.plan_builder import phase, plan, task, window

MONDAY = date(2026, 3, 2)


# --- days that suit


AWAY = {"keeper__away": [{"from": "2026-03-10", "to": "2026-03-13"}]}


@pytest.mark.parametrize(
    ("day", "kind", "expected"),
    [("03-09", "home", "03-09"), ("03-10", "home", "03-14"), ("03-13", "home", "03-14"), ("03-14", "home", "03-14"), ("03-10", "any", "03-10"), ("03-07", "working", "03-09"), ("03-08", "working", "03-09"), ("03-06", "working", "03-06"), ("03-09", "working", "03-09"), ("03-12", "working", "03-16"), ("03-02", "animals", "03-02"), ("03-03", "animals", "03-21"), ("03-09", "animals", "03-21"), ("03-14", "animals", "03-21"), ("03-20", "animals", "03-21"), ("03-21", "animals", "03-21")],
)
def test_a_job_falls_on_a_day_that_suits(day: str, kind: Any, expected: str) -> None:
    """Away for three nights; no animals in the seven days before it, nor until eight days after its last."""
    found = next_day_allowed(date.fromisoformat(f"2026-{day}"), kind, tank_with(**AWAY), 7, 3, MONDAY, 8)
    assert found == date.fromisoformat(f"2026-{expected}")


@pytest.mark.parametrize(("nights", "moved"), [(3, True), (4, False)])
def test_only_a_long_absence_keeps_animals_away(nights: int, moved: bool) -> None:
    assert (next_day_allowed(date(2026, 3, 9), "animals", tank_with(**AWAY), 7, nights, MONDAY) != date(2026, 3, 9)) is moved


@pytest.mark.parametrize(("days", "there"), [(731, True), (732, False)])
def test_no_day_is_looked_for_beyond_two_years(days: int, there: bool) -> None:
    for kind in ("any", "home"):
        assert (next_day_allowed(MONDAY + timedelta(days=days), kind, tank_with(), 7, 3, MONDAY) is not None) is there  # type: ignore[arg-type]


@pytest.mark.parametrize(("kind", "expected"), [("home", "03-02"), ("shopping", "03-07"), ("animals", "03-07"), ("any", "03-02"), ("working", "03-02")])
def test_shopping_days_are_for_shopping_and_animals(kind: Any, expected: str) -> None:
    assert next_day_allowed(MONDAY, kind, tank_with(keeper={"shopping_days": ["saturday"]}), 7, 3, MONDAY) == date.fromisoformat(f"2026-{expected}")


# --- days of jobs


def days_of(task_keys: str, *rows: str, on: str = "2026-03-02", until: str | None = None, tank: dict[str, object] | None = None, **numbers: tuple[float, str]) -> list[tuple[str, str, str]]:
    """(id, day, state) of the tasks called `a/t`; the phase has a second task `a/first`."""
    book = small_book(f"[{{phase: a, tasks: [{{id: first, anchor: {{phase: a}}}}, {{id: t, {task_keys}}}], gate: {{expect: {{quick: far, likely: far, slow: far}}}}}}, {{phase: b, after: [a]}}]", **({"far": (100, "d")} | numbers))
    made = plan_with(book, *rows, on=on, until=until, tank=tank_with(start="2026-03-02", **(tank or {})))
    return [(t.id, t.date.strftime("%m-%d") if t.date else "", t.state.value) for t in made.tasks if t.key == "a/t"]


@pytest.mark.parametrize(
    ("keys", "rows", "day"),
    [("anchor: {phase: a}", (), "03-02"), ("anchor: {start: true}", (), "03-02"), ("anchor: {task: a/first}", (), "03-02"), ("anchor: {task: a/first}, wait: w", (), "03-04"), ("anchor: {task: a/first}, wait: w", ("2026-03-01,done,a/first",), "03-03"), ("anchor: {phase: a}, wait: hours", (), "03-03"), ("anchor: {phase: a}, wait: few", (), "03-02"), ("anchor: {phase: a}, not_before: a/first, not_before_wait: w", (), "03-04"), ("anchor: {phase: a}, not_before: a/first, not_before_wait: w", ("2026-03-02,postponed,a/first,2026-03-05",), "03-07"),
     ("anchor: {phase: a}", ("2026-03-02,postponed,a/t,2026-03-09",), "03-09"), ("anchor: {phase: a}, wait: w", ("2026-03-02,postponed,a/t,2026-03-03",), "03-04"), ("anchor: {phase: a}", ("2026-03-02 08:00,postponed,a/t,2026-03-09", "2026-03-02 09:00,postponed,a/t,2026-03-05"), "03-05"), ("anchor: {phase: a}, unless: {event: leak}", (), "03-02"), ("anchor: {phase: a}, day: shopping", (), "03-02")],
)
def test_a_job_hangs_on_what_it_names(keys: str, rows: tuple[str, ...], day: str) -> None:
    found = days_of(keys, *rows, w=(2, "d"), hours=(12, "h"), few=(11.9, "h"))
    assert [d for _, d, _ in found][:1] == [day]


@pytest.mark.parametrize(("on", "state", "day"), [("2026-03-01", "planned", "03-02"), ("2026-03-02", "due", "03-02"), ("2026-03-03", "late", "03-03")])
def test_a_job_is_planned_before_due_on_and_late_after_its_day(on: str, state: str, day: str) -> None:
    assert days_of("anchor: {start: true}", on=on) == [("a/t", day, state)]


@pytest.mark.parametrize(("rows", "found"), [(("2026-03-02,done,a/t",), [("a/t", "03-02", "done")]), (("2026-03-02,skipped,a/t",), [("a/t", "03-02", "skipped")]), (("2026-03-03,done,a/t",), [("a/t", "03-02", "due")])])
def test_a_tick_closes_a_job_from_its_day_on(rows: tuple[str, ...], found: list[tuple[str, str, str]]) -> None:
    assert days_of("anchor: {phase: a}", *rows) == found


def test_a_job_whose_condition_is_not_met_or_excused_is_not_there() -> None:
    leak = "2026-03-02,event,leak"
    assert days_of("anchor: {phase: a}, unless: {event: leak}", leak) == [] and days_of("when: {event: leak}") == [] and [d for _, d, _ in days_of("when: {event: leak}", leak)] == ["03-02"]
    assert days_of("anchor: {phase: a}, only_when: {tank: {key: rock.kind, equals: [live]}}", tank={"rock": {"kind": "live"}}) != [] == days_of("anchor: {phase: a}, only_when: {tank: {key: rock.kind, equals: [live]}}", tank={"rock": {"kind": "dry"}})


@pytest.mark.parametrize(
    ("keys", "rows", "days"),
    [("every: w", (), ["03-02", "03-09", "03-16"]), ("every: w", ("2026-02-28,done,a/t#1",), ["02-28", "03-07", "03-14", "03-21"]), ("every: w", ("2026-02-20,done,a/t#1",), ["02-20", "03-02", "03-09", "03-16"]), ("every: w, from: schedule", ("2026-03-02,done,a/t#1",), ["03-02", "03-09", "03-16"]), ("every: w, from: schedule", ("2026-03-01,done,a/t#1",), ["03-01", "03-02", "03-09", "03-16"]), ("every: w, times: w2", (), ["03-02", "03-09"]), ("every: w, times: w2", ("2026-03-02,done,a/t#1",), ["03-02", "03-09"]), ("every: w, times: none", (), []),
     ("every: w, counts: 'event:fed'", ("2026-03-01,event,fed",), ["03-08", "03-15", "03-22"]), ("every: w, role: test, reads: [ph]", ("2026-03-01,reading,ph,8.1",), ["03-08", "03-15", "03-22"]), ("every: w, role: test, reads: [ph, alkalinity]", ("2026-03-01,reading,ph,8.1",), ["03-02", "03-09", "03-16"]), ("every: w, role: test, reads: [ph]", ("2026-03-01,reading,ph,8.1,,mixing",), ["03-02", "03-09", "03-16"]), ("every: m", (), ["03-02", "04-02"])],
)
def test_what_repeats_counts_from_the_last_time_or_by_schedule(keys: str, rows: tuple[str, ...], days: list[str]) -> None:
    found = days_of(f"anchor: {{phase: a}}, {keys}", *rows, w=(7, "d"), m=(1, "months"), w2=(2, "d"), none=(0, "d"))
    assert [d for _, d, _ in found][: len(days)] == days and (len(found) > len(days)) is ("times" not in keys)


def test_a_series_is_shown_up_to_its_last_day_and_no_further() -> None:
    assert [len(days_of("anchor: {phase: a}, every: w", until=last, w=(7, "d"))) for last in ("2026-03-08", "2026-03-09", "2026-03-10")] == [1, 2, 2]


def test_rounds_are_numbered_on_from_the_last_tick() -> None:
    assert [i for i, _, _ in days_of("anchor: {phase: a}, every: w", "2026-02-20,done,a/t#1", "2026-03-01,done,a/t#2", until="2026-03-10", w=(7, "d"))] == ["a/t#2", "a/t#3"]
    assert [i for i, _, _ in days_of("anchor: {phase: a}, every: w", until="2026-03-10", w=(7, "d"))] == ["a/t#1", "a/t#2"]


def gate(keys: str, *rows: str, on: str = "2026-03-02", **numbers: tuple[float, str]) -> tuple[str, str, str]:
    book = small_book(f"[{{phase: a, tasks: [{{id: t, anchor: {{phase: a}}, wait: w}}, {{id: test, role: test, reads: [ph], every: daily, anchor: {{phase: a}}}}], gate: {{{keys}}}}}, {{phase: b, after: [a]}}]", **({"w": (4, "d"), "daily": (1, "d")} | numbers))
    made = plan_with(book, *rows, on=on, tank=tank_with(start="2026-03-02"))
    (found,) = [p for p in made.phases if p.id == "a"]
    return tuple(d.strftime("%m-%d") if d else "" for d in (found.window.earliest, found.window.likely, found.window.latest))  # type: ignore[return-value]


@pytest.mark.parametrize(
    ("keys", "on", "days"),
    [("opens_when: {done: a/t}", "2026-03-02", ("03-06", "03-06", "03-06")), ("opens_when: {done: a/t}", "2026-03-08", ("03-08", "03-08", "03-08")), ("opens_when: {all: [{done: a/t}, {age: {of: a/t, at_least: three}}]}", "2026-03-02", ("03-09", "03-09", "03-09")), ("opens_when: {any: [{done: a/t}, {reading: {name: ph, above: eight}}]}", "2026-03-02", ("03-02", "03-02", "03-02")), ("opens_when: {reading: {name: ph, above: eight, times: 2}}", "2026-03-02", ("03-03", "03-03", "03-03")), ("opens_when: {reading: {name: ph, above: eight, times: 3}}", "2026-03-02", ("03-04", "03-04", "03-04")),
     ("opens_when: {done: a/t}, expect: {quick: three, likely: seven, slow: ten}", "2026-03-02", ("03-06", "03-09", "03-12")), ("opens_when: {done: a/t}, expect: {quick: three, likely: seven, slow: ten, after: a/t}", "2026-03-02", ("03-09", "03-13", "03-16"))],
)
def test_a_gate_is_expected_once_all_that_it_asks_for_can_be_there(keys: str, on: str, days: tuple[str, str, str]) -> None:
    assert gate(keys, on=on, eight=(8, ""), three=(3, "d"), seven=(7, "d"), ten=(10, "d")) == days


@pytest.mark.parametrize(("on", "day"), [("2026-03-02", "03-10"), ("2026-03-10", "03-10"), ("2026-03-11", "03-12"), ("2026-03-12", "03-12"), ("2026-03-13", "03-15")])
def test_what_grows_takes_a_quarter_longer_each_time_it_is_not_there_on_its_day(on: str, day: str) -> None:
    """Eight days, then ten, then 12.5: from the 2nd the 10th, the 12th and the 15th."""
    assert gate("opens_when: {event: never_a}, expect: {likely: eight_days, quick: eight_days, slow: eight_days, grows: true}", on=on, eight_days=(8, "d"))[1] == day


# --- supplies


@pytest.mark.parametrize(
    ("text", "read"),
    [("salt 20 kg", ("salt", 20_000)), ("Salt 1 lb", ("salt", 453.59237)), ("ro 25 L", ("pure_water", 25)), ("distilled 25 L", ("pure_water", 25)), ("pure-water 25 L", ("pure_water", 25)), ("food 100 g", ("dry_food", 100)), ("frozen_food 1 kg", ("frozen_food", 1000)), ("ammonia 50", ("ammonia_kit", 50)), ("ammonia_kit 50 tests", ("ammonia_kit", 50)), ("ammonia_kit 1 test", ("ammonia_kit", 1)), ("oxygen 5", ("oxygen_kit", 5))],
)
def test_a_purchase_is_a_good_and_an_amount(text: str, read: tuple[str, float]) -> None:
    found = read_purchase(text)
    assert not isinstance(found, Refusal) and found[0] == read[0] and found[1] == pytest.approx(read[1])


@pytest.mark.parametrize(("text", "code"), [("salt", "not-a-number"), ("salt 20", "unit-missing"), ("salt 20 L", "unit-unknown"), ("ammonia_kit many", "not-a-number"), ("ammonia_kit", "not-a-number"), ("ammonia_kit 50 g", "not-a-number"), ("gold 1 g", "unknown-item"), ("gold_kit 5", "unknown-item"), ("", "unknown-item")])
def test_a_purchase_that_is_not_whole_is_refused(text: str, code: str) -> None:
    found = read_purchase(text)
    assert isinstance(found, Refusal) and found.code == code


def bought(what: str, before: int = 10) -> str:
    return f"{NOW - timedelta(days=before)},event,bought,{what},,display,"


def test_use_counts_from_the_day_of_the_first_purchase_on() -> None:
    """A change of 20 L takes 760 g of salt at 38 g a litre; of pure water and salt only what came from the day of the purchase on."""
    for before, used in ((10, 760), (9, 760), (11, 0)):
        assert stock(bought("salt 20 kg"), f"{NOW - timedelta(days=before)},changed_water,water,20,L,display,")["salt"].used == pytest.approx(used)
    assert stock(bought("salt 20 kg"), f"{NOW},poured,salt,10,L,mixing,", f"{NOW},poured,fresh,10,L,display,", f"{NOW},changed_water,water,5,L,quarantine,", f"{NOW},changed_water,water,5,L,curing,")["salt"].used == pytest.approx(15 * 38)
    both = stock(bought("salt 1 kg"), bought("salt 2 kg", 5))["salt"]
    assert (both.bought, both.left) == (3000, 3000)


@pytest.mark.parametrize(("tests", "week"), [(0, 0), (4, 1), (8, 2)])
def test_the_tests_of_four_weeks_tell_those_of_a_week(tests: int, week: float) -> None:
    kit = stock(bought("ammonia_kit 50"), tests=tests)["ammonia_kit"]
    assert kit.week == week and (kit.order_by is None) is (tests == 0)


def test_only_what_was_bought_used_or_described_is_listed() -> None:
    assert set(stock()) == {"salt", "carbon"} and "nitrite_kit" in stock(bought("nitrite 5")) and "nitrite_kit" in stock(kits="test_kits: {nitrite: {basis: N}}\n") and {"dry_food"} == set(stock(bought("food 10 g"))) - {"salt", "carbon"}
    assert "ammonia_kit" in stock(tests=1)


def test_food_and_kits_have_an_end_before_which_they_are_ordered_anew() -> None:
    food = stock(bought("food 10 g", 30))["dry_food"]
    assert food.ends is not None and food.order_by is not None and food.ends > NOW and food.order_by == max(NOW, food.ends - timedelta(days=21))
    kit = stock(bought("nitrite 50"), kits="test_kits: {nitrite: {basis: N, expires: 2026-12-31}}\n")["nitrite_kit"]
    assert kit.ends == date(2026, 12, 31) and kit.order_by == date(2026, 12, 10)
    old = stock(bought("nitrite 50"), kits="test_kits: {nitrite: {basis: N, expires: 2026-01-31}}\n")["nitrite_kit"]
    assert old.order_by == NOW


# --- absences


@pytest.mark.parametrize(("nights", "visits"), [(1, "none"), (2, "none"), (3, "daily"), (14, "daily")])
def test_somebody_comes_where_the_tank_may_not_be_alone_for_so_long(nights: int, visits: str) -> None:
    """Two nights alone at 300 days by the food, below three a visit a day (the shipped numbers)."""
    found = absence(came(100), nights=nights)
    assert found.alone == 2 and found.visits == visits and found.experienced is (nights > 14)


@pytest.mark.parametrize(("nights", "visits", "experienced"), [(5, "none", False), (6, "every_second_day", False), (15, "every_second_day", True)])
def test_every_second_day_is_enough_where_it_may_be_alone_for_three_nights(nights: int, visits: str, experienced: bool) -> None:
    found = absence(nights=nights, equipment="top_up: 50 L")
    assert (found.alone, found.visits, found.experienced) == (5, visits, experienced)


@pytest.mark.parametrize(("days", "more_from"), [(0, 30), (29, 30), (30, 91), (90, 91), (91, 182), (181, 182), (182, None)])
def test_from_when_on_it_may_be_longer_is_told(days: int, more_from: int | None) -> None:
    (age,) = [limit for limit in absence(came(days)).limits if limit.why == "age"]
    assert (age.days, age.more_from) == (days, more_from)


@pytest.mark.parametrize(("days", "equipment", "why"), [(91, "heater: [100 W], top_up: 30 L", True), (90, "heater: [100 W], top_up: 30 L", False), (91, "heater: [100 W, 100 W], top_up: 30 L", False), (91, "top_up: 30 L", True)])
def test_one_heater_is_a_limit_from_a_quarter_on(days: int, equipment: str, why: bool) -> None:
    assert ("one_heater" in [limit.why for limit in absence(came(days), equipment=equipment).limits]) is why


def test_fish_in_quarantine_and_alarms_are_not_left_alone() -> None:
    assert absence(came(300, "quarantine")).limits[0].why == "quarantine" and absence(came(300, "quarantine")).alone == 0
    alarm = absence(came(300), alarms=("leak/stop",))
    assert alarm.limits[0].why == "alarm" and alarm.alarms and absence(came(300)).alarms == ()


def test_days_before_an_absence_that_have_passed_are_today() -> None:
    found = absence(came(300))
    assert len(found.before) == 5 and {day for day, _ in found.before} == {date(2026, 6, 1)} and sorted(found.passed) == [2, 4, 7, 14]


# --- what a plan tells


def test_what_is_done_or_skipped_is_no_longer_open() -> None:
    made = plan(*(task(f"a/t{n}", state=state) for n, state in enumerate(State)))
    assert {t.state for t in open_tasks(made)} == set(State) - {State.DONE, State.SKIPPED}


def test_a_gate_has_its_day_once_it_has_opened_and_none_where_the_tank_lacks_it() -> None:
    shut, opened = (phase("animals", role="opens_to_animals", opened=day, window=window(date(2026, 4, 1), date(2026, 4, 5), date(2026, 4, 9))) for day in (None, MONDAY))
    assert gate_window(plan(shut), "opens_to_animals").likely == date(2026, 4, 5) and gate_window(plan(opened), "opens_to_animals") == window(MONDAY) and gate_window(plan(), "opens_to_animals").likely is None
