"""Entries at the edge of what is asked about, refused or told. Contract of this project; no outside figures but where a test names one."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from planner.door.acts import Act, Desk, doubt_of, log_readings, read_results, tick_tasks, writes_an_amount
from planner.door.animal_warnings import of_arrival, of_loss
from planner.door.answered_tests import choose_water, fulfilled, open_tests
from planner.door.collisions import collisions
from planner.door.entry_words import (
    Entry,
    Stamp,
    checked,
    fact_row,
    known_events,
    occurrence_of,
    planned_amount,
    read_stamp,
    reading_row,
    split_fact,
    split_reading,
)
from planner.door.put_off import LEFT_OUT_OFTEN, postpone_tasks, skip_tasks
from planner.files.journal_form import NewRow
from planner.rulebook.shapes import Rulebook
from planner.rulebook.task_rule import Anchor, TaskRule, Writes
from planner.terms.records import State
from planner.terms.units import Refusal
from tests.engine_desk import facts_of, journal_of, tank_with
from tests.rulecases import rulebook
from tests.unit.door.test_answered_tests import EMPTY, due
from tests.unit.door.test_entry_words import BERLIN, NOW, STAMP, journal, tank
from tests.unit.door.test_ticks_and_arrivals import animals, said, tick
from tests.unit.plan_builder import ON, hold, phase, plan, quantity, task


def desk(*parts: object, rows: tuple[str, ...] = (), on: date = ON) -> Desk:
    made = tank_with()
    return Desk(made, journal_of(*rows, tank=made), rulebook(), on, plan(*parts), Stamp(on), animals())  # type: ignore[arg-type]


def refused(found: object) -> Refusal:
    assert isinstance(found, Refusal), found
    return found


# --- what was typed


@pytest.mark.parametrize(
    ("typed", "read"),
    [
        (["dosed", "ammonia", "4,1g"], ("dosed", "ammonia", "4.1", "g")), (["dosed", "ammonia", "4.1", "g"], ("dosed", "ammonia", "4.1", "g")), (["dosed", "ammonia"], ("dosed", "ammonia", "", "")),
        (["changed_water", "10%"], ("changed_water", "water", "10", "%")), (["changed_water", "water", "10", "%"], ("changed_water", "water", "10", "%")), (["changed_water", "fresh"], ("changed_water", "fresh", "", "")),
        (["poured", "120", "L"], ("poured", "water", "120", "L")), (["poured", "salt", "120 L"], ("poured", "salt", "120", "L")), (["added", "2"], ("added", "2", "", "")), (["added", "snail", "3"], ("added", "snail", "3", "")),
        (["leak"], ("event", "leak", "", "")), (["Leak", "at", "the", "sump"], ("event", "leak", "at the sump", "")), (["event", "leak"], ("event", "leak", "", "")), (["event", "my_own", "word"], ("event", "my_own", "word", "")),
    ],
)
def test_a_fact_is_a_kind_a_subject_and_an_amount(typed: list[str], read: tuple[str, str, str, str]) -> None:
    assert split_fact(typed, ["leak"]) == read


@pytest.mark.parametrize(
    ("typed", "code"),
    [([], "kind-missing"), (["dosed"], "what-missing"), (["poured"], "what-missing"), (["event"], "what-missing"), (["leek"], "unknown-kind"), (["zzz"], "unknown-kind"), (["reading", "ph"], "other-command"), (["done", "x"], "other-command"), (["skipped"], "other-command"),
     (["dosed", "ammonia", "much"], "not-a-number"), (["dosed", "ammonia", "1,000 g"], "ambiguous-number")],
)
def test_a_fact_that_is_not_whole_is_refused(typed: list[str], code: str) -> None:
    assert refused(split_fact(typed, ["leak"])).code == code


@pytest.mark.parametrize(("typed", "fix"), [("leek", "`leak`"), ("zzz", "`poured`"), ("skipped", "newtank skip"), ("postponed", "newtank postpone"), ("done", "newtank done"), ("reading", "newtank log")])
def test_what_cannot_be_noted_is_answered_with_what_can(typed: str, fix: str) -> None:
    assert fix in refused(split_fact([typed], ["leak"])).fix


@pytest.mark.parametrize(("typed", "code"), [("ammonia", "not-a-reading"), ("amonia=1", "unknown-reading"), ("zzz=1", "unknown-reading"), ("ph=", "not-a-number"), ("ph=high", "not-a-number"), ("ph=1,000", "ambiguous-number")])
def test_a_result_that_is_not_whole_is_refused(typed: str, code: str) -> None:
    assert refused(split_reading(typed)).code == code


@pytest.mark.parametrize(("typed", "part"), [("amonia", "`ammonia=0.25`"), ("zzz", "`ammonia=0.25`"), ("phosfate", "`phosphate=0.25`"), ("amonia=1", "`ammonia=1`"), ("zzz=1", "use one of")])
def test_a_slip_in_the_name_of_a_reading_is_answered_with_the_nearest(typed: str, part: str) -> None:
    assert part in refused(split_reading(typed)).fix


def test_a_result_of_nothing_and_one_of_words_are_told_apart() -> None:
    assert "has no value" in refused(split_reading("ph=")).message and "no result" in refused(split_reading("ph=high")).message


@pytest.mark.parametrize(
    ("name", "value", "unit", "kit", "written"),
    [
        ("alkalinity", "8", "", "{}", "dKH"), ("alkalinity", "125", "", "{}", "mg/L CaCO3"), ("alkalinity", "120", "ppm", "{}", "mg/L CaCO3"), ("alkalinity", "120", "mg / L", "{}", "mg/L CaCO3"), ("alkalinity", "2.5", "meq/L", "{}", "meq/L"),
        ("calcium", "420", "ppm", "{}", "ppm"), ("ammonia", "0.5", "ppm", "{ammonia: {basis: ion}}", "mg/L as ion"), ("ammonia", "0.5", "mg/L", "{ammonia: {basis: ion}}", "mg/L as ion"), ("ammonia", "0.5", "mg/L as N", "{ammonia: {basis: ion}}", "mg/L as N"),
        ("nitrite", ">5", "", "{nitrite: {basis: N}}", "mg/L as N"), ("temperature", "25", "", "{}", "°C"), ("ph", "8.1", "", "{}", ""), ("calcium", "<400", "", "{}", "mg/L"),
    ],
)
def test_a_result_is_written_with_the_unit_in_which_it_was_read(name: str, value: str, unit: str, kit: str, written: str) -> None:
    found = reading_row(name, value, unit, STAMP, "display", "", tank(kit), BERLIN)
    assert isinstance(found, Entry)
    assert (found.new.unit, found.row.unit) == (written, written)


@pytest.mark.parametrize(("text", "pretended", "comes"), [("2026-03-02 12:00", False, True), ("2026-03-02 12:01", False, False), ("2026-03-02 12:01", True, True), ("2026-03-02", False, True), ("2026-03-03", True, False)])
def test_what_happened_lies_no_minute_ahead(text: str, pretended: bool, comes: bool) -> None:
    found = read_stamp(text, ON, NOW, pretended, BERLIN)
    assert isinstance(found, Stamp) if comes else refused(found).code == "in-the-future"


def test_a_time_that_has_not_come_is_told_with_its_hour_today_and_by_its_day_else() -> None:
    assert refused(read_stamp("12:01", ON, NOW, False, BERLIN)).message.startswith("2026-03-02T12:01")
    assert refused(read_stamp("2026-03-03 12:01", ON, NOW, False, BERLIN)).message.startswith("2026-03-03 ")


# --- the fact of a tick


DOSE, CHANGE, ANIMALS = Writes(kind="dosed", what="ammonia", amount="x"), Writes(kind="changed_water", what="water", amount="x"), Writes(kind="added", what="snail", amount="x")


@pytest.mark.parametrize(
    ("writes", "planned", "typed", "written"),
    [
        (DOSE, (2.0, "g"), "3", ("3", "g")), (DOSE, (2.0, "mL"), "3", ("3", "")), (DOSE, None, "3", ("3", "")), (DOSE, (2.0, "g"), "3 mL", ("3", "mL")), (DOSE, (2.0, "g"), "1,5 g", ("1.5", "g")), (DOSE, None, None, ("", "")), (DOSE, (2.0, "g"), None, ("2", "g")),
        (CHANGE, (12.0, "L"), None, ("12", "L")), (ANIMALS, (0.2, "snails"), None, ("1", "")), (ANIMALS, (2.4, "snails"), None, ("2", "")), (ANIMALS, None, None, ("", "")), (ANIMALS, (2.4, "snails"), "5", ("5", "")),
    ],
)
def test_the_fact_of_a_tick_has_what_was_typed_else_what_was_planned(writes: Writes, planned: tuple[float, str] | None, typed: str | None, written: tuple[str, str]) -> None:
    row = fact_row(writes, "display", STAMP, quantity("x", *planned) if planned else None, typed)
    assert isinstance(row, NewRow)
    assert (row.value, row.unit) == written


@pytest.mark.parametrize(("kind", "needs"), [("changed_water", True), ("poured", True), ("dosed", False), ("added", False)])
def test_water_alone_is_never_written_without_an_amount(kind: str, needs: bool) -> None:
    found = fact_row(Writes(kind=kind, what="x"), "display", STAMP, None, None)  # type: ignore[arg-type]
    assert (refused(found).code == "amount-missing") if needs else isinstance(found, NewRow)


@pytest.mark.parametrize("typed", ["", "much", "1,000 g"])
def test_an_amount_that_is_none_is_refused(typed: str) -> None:
    assert refused(fact_row(DOSE, "display", STAMP, quantity("x", 2.0, "g"), typed)).code == "not-a-number"


def test_a_job_has_an_amount_if_it_writes_one() -> None:
    rules, facts = rulebook(), facts_of(on="2026-03-02")
    by_amount = {has: next(r for r in rules.tasks.values() if r.writes is not None and (r.writes.amount is not None) is has) for has in (True, False)}
    assert planned_amount(by_amount[False], facts, rules) is None and planned_amount(next(r for r in rules.tasks.values() if r.writes is None), facts, rules) is None
    dose = next(r for r in rules.tasks.values() if r.writes is not None and r.writes.kind == "dosed" and r.writes.what == "ammonia" and r.writes.amount)
    found = planned_amount(dose, facts, rules)
    assert found is not None and found.value > 0
    kinds = {kind: next((key for key, r in rules.tasks.items() if (r.writes.kind if r.writes is not None else None) == kind), None) for kind in ("dosed", "event", None)}
    assert [writes_an_amount(desk(), key) for key in kinds.values() if key] == [True, False, False]


def test_what_a_tick_writes_is_an_event_that_can_be_noted_and_a_dose_is_none() -> None:
    told = known_events(Rulebook((), (), {}, {}, {}, tasks={"a/b": TaskRule(id="b", title="B", writes=Writes(kind="event", what="my_own")), "a/c": TaskRule(id="c", title="C", writes=DOSE)}))
    assert "my_own" in told and "ammonia" not in told


@pytest.mark.parametrize(("number", "open_jobs", "meant"), [("", (), "a/b"), ("2", (), "a/b"), ("", ("a/b#1",), "a/b#1"), ("2", ("a/b#1",), "a/b#2"), ("", ("a/b",), "a/b")])
def test_a_job_that_comes_once_has_no_number_unless_the_plan_counts_it(number: str, open_jobs: tuple[str, ...], meant: str) -> None:
    rules = Rulebook((), (), {}, {}, {}, tasks={"a/b": TaskRule(id="b", title="B")})
    assert occurrence_of("a/b", number, plan(*map(task, open_jobs)), (), rules) == meant


def test_a_closed_round_is_not_ticked_again() -> None:
    rules = Rulebook((), (), {}, {}, {}, tasks={"a/b": TaskRule(id="b", title="B", every="x")})
    both = plan(task("a/b#1", state=State.DONE), task("a/b#2", state=State.LATE))
    assert occurrence_of("a/b", "", both, (), rules) == "a/b#2" and occurrence_of("a/b", "", plan(task("a/b#1", state=State.SKIPPED)), (), rules) == "a/b#1"
    assert occurrence_of("no/such", "", both, (), rules) == "no/such"


# --- put off and left out


@pytest.mark.parametrize(("days", "code"), [(-1, "day-passed"), (0, None), (1, None), (731, None), (740, "day-too-far")])
def test_a_job_is_put_off_from_today_to_two_years_on(days: int, code: str | None) -> None:
    found = postpone_tasks(desk(), ["site/level"], ON + timedelta(days=days))
    assert (found.code if isinstance(found, Refusal) else None) == code


@pytest.mark.parametrize(("days", "warns"), [(-1, True), (0, False), (1, False)])
def test_an_earlier_day_moves_nothing_and_is_told(days: int, warns: bool) -> None:
    at = ON + timedelta(days=8)
    key = next(key for key, r in rulebook().tasks.items() if not r.protects and r.every is None and not r.reads and key.startswith("site/"))
    found = postpone_tasks(desk(task(key, at)), [key], at + timedelta(days=days))
    assert isinstance(found, Act) and bool(found.warnings) is warns
    protected = next(key for key, r in rulebook().tasks.items() if r.protects and key.startswith("site/"))
    held = postpone_tasks(desk(task(protected, at)), [protected], at + timedelta(days=days))
    assert (refused(held).code == "protects") if warns else isinstance(held, Act)


def test_what_repeats_is_told_once_it_is_left_out_four_times() -> None:
    key, rule = next((key, r) for key, r in rulebook().tasks.items() if r.every in rulebook().numbers and r.when is None and not r.protects and not any(key.startswith(f"{a.alert}/") for a in rulebook().alerts))
    assert rule.every is not None
    every = rulebook().hours(rule.every) / 24
    for times, warns in ((LEFT_OUT_OFTEN, True), (LEFT_OUT_OFTEN - 1, False)):
        found = postpone_tasks(desk(task(f"{key}#1", ON)), [f"{key}#1"], ON + timedelta(days=-(-every * times // 1)))
        assert isinstance(found, Act) and bool(found.warnings) is warns, (key, times)
        assert not warns or f"{times} times" in said(found.warnings)
    once = next(key for key, r in rulebook().tasks.items() if r.every is None and key.startswith("site/") and not r.reads)
    far = postpone_tasks(desk(task(once, ON)), [once], ON + timedelta(days=300))
    assert isinstance(far, Act) and not far.warnings


def test_a_job_that_is_closed_is_neither_put_off_nor_left_out() -> None:
    key = next(key for key, r in rulebook().tasks.items() if not r.protects and key.startswith("site/"))
    for state, closed in ((State.DONE, True), (State.SKIPPED, True), (State.LATE, False)):
        for found in (postpone_tasks(desk(task(key, ON, state=state)), [key], ON), skip_tasks(desk(task(key, ON, state=state)), [key])):
            assert (refused(found).code == "closed-already") if closed else isinstance(found, Act)


def test_what_an_alarm_asks_for_is_not_put_off_and_another_job_is() -> None:
    of_alarm = next(key for key in rulebook().tasks if any(key.startswith(f"{a.alert}/") for a in rulebook().alerts))
    assert refused(postpone_tasks(desk(), [of_alarm], ON)).code == "of-an-alarm"


# --- ammonia, medicine and animals


SNAIL = ("2026-02-20,added,trochus-maculatus,2",)


@pytest.mark.parametrize(
    ("rows", "kind", "what", "where", "part"),
    [
        (SNAIL, "dosed", "ammonia", "display", "Animals live in the tank"), (SNAIL, "dosed", "ammonia", "", "Animals live in the tank"), (SNAIL, "dosed", "ammonia", "quarantine", ""), ((), "dosed", "ammonia", "display", ""), (SNAIL, "dosed", "calcium", "display", ""),
        (("2026-03-02,added,trochus-maculatus,2",), "dosed", "ammonia", "display", "on the same day (journal line 2)"), (("2026-03-02,added,trochus-maculatus,2,,quarantine",), "dosed", "ammonia", "display", ""), (("2026-03-02,moved,trochus-maculatus,2",), "dosed", "ammonia", "display", "on the same day"),
        (SNAIL, "dosed", "copper", "display", "Copper in the reef tank"), (SNAIL, "dosed", "medicine", "display", "Medicine in the reef tank"), ((), "dosed", "copper", "display", ""), (SNAIL, "event", "medicated", "display", "Medicine in the reef tank"), (SNAIL, "event", "leak", "display", ""), (SNAIL, "poured", "copper", "display", ""),
        (("2026-03-02,dosed,ammonia,1,g",), "added", "trochus-maculatus", "display", "Ammonia was dosed on the same day (journal line 2)"), (("2026-03-02,dosed,ammonia,1,g",), "moved", "trochus-maculatus", "display", "Ammonia was dosed"), (("2026-03-01,dosed,ammonia,1,g",), "added", "trochus-maculatus", "display", ""),
        (("2026-03-02,dosed,ammonia,1,g,quarantine",), "added", "trochus-maculatus", "display", ""), (("2026-03-02,dosed,ammonia,1,g",), "lost", "trochus-maculatus", "display", ""), (("2026-03-02,dosed,ammonia,1,g",), "poured", "water", "display", ""),
    ],
)
def test_ammonia_or_medicine_where_animals_live_is_asked_about(rows: tuple[str, ...], kind: str, what: str, where: str, part: str) -> None:
    asked = list(collisions(desk(rows=rows), NewRow("2026-03-02", kind, what, "", "", where)))  # type: ignore[arg-type]
    assert len(asked) == bool(part) and part in "".join(asked)


def test_behind_a_damaged_line_animals_may_be_in() -> None:
    made = tank_with()
    at = replace(desk(), journal=journal_of("2026-02-20,added,trochus-maculatus,many", tank=made, problems=1))
    assert "journal line 2 cannot be read" in "".join(collisions(at, NewRow("2026-03-02", "dosed", "ammonia", "", "", "display"))).lower()


# --- arrivals and losses


def test_an_open_gate_and_no_hold_say_nothing_of_an_arrival() -> None:
    def told(*parts: object) -> str:
        return said(list(of_arrival(desk(*parts), animals(), "fish", 1)))

    gate = next(p.phase for p in rulebook().phases if p.role == "opens_to_animals")
    shut, open_one = (phase(gate, role="opens_to_animals", opened=opened) for opened in (None, ON))
    assert "not open to animals" in told(shut) and "not open" not in told(open_one) and "not open" not in told()
    assert "on hold: it leaks" in told(open_one, hold(gate, "it leaks")) and "on hold" not in told(open_one, hold("other", "it leaks"))


@pytest.mark.parametrize(("ago", "told"), [(0, ""), (1, "came 1 day ago"), (2, "came 2 days ago")])
def test_the_days_since_the_last_animals_are_told(ago: int, told: str) -> None:
    found = said(list(of_arrival(desk(rows=(f"{(ON - timedelta(days=ago)).isoformat()},added,trochus-maculatus,2",)), animals(), "fish", 1)))
    assert (told in found) if told else "ago" not in found


@pytest.mark.parametrize(("lost", "refuses"), [(1, False), (2, False), (3, True)])
def test_what_is_lost_may_be_all_that_lived_there_under_either_name(lost: int, refuses: bool) -> None:
    known = animals().get("trochus-maculatus")
    assert known is not None
    for name in ("trochus-maculatus", known.name):
        found = of_loss(desk(rows=(*SNAIL, "2026-02-21,added,amphiprion-ocellaris,1")), animals(), name, lost, "display")
        assert isinstance(found, Refusal) if refuses else found is None
    strange = desk(rows=("2026-02-20,added,odd fish,1",))
    assert of_loss(strange, animals(), "odd fish", 1, "display") is None and isinstance(of_loss(strange, animals(), "odd fish", 2, "display"), Refusal)
    assert "knows of no" in str(of_loss(strange, animals(), "other fish", 1, "display"))


# --- what a reading ticks


@pytest.mark.parametrize(("state", "day", "reads", "asks"), [(State.DUE, ON, ("ph",), True), (State.LATE, ON - timedelta(days=1), ("ph",), True), (State.DUE, ON + timedelta(days=1), ("ph",), False), (State.PLANNED, ON, ("ph",), False), (State.DUE, ON, (), False), (State.DUE, None, ("ph",), False)])
def test_an_open_test_asks_from_its_day_on(state: State, day: date | None, reads: tuple[str, ...], asks: bool) -> None:
    assert bool(open_tests(plan(task("a/b", day, reads=reads, state=state)), ON)) is asks


def test_a_water_that_is_asked_for_all_readings_goes_before_one_that_is_asked_for_some() -> None:
    both = plan(due("rock/test", "ammonia", "nitrite", where="curing"), due("quarantine/test", "ammonia", where="quarantine"))
    assert choose_water(["ammonia", "nitrite"], both, ON) == ("curing",) and choose_water(["nitrite"], both, ON) == ("curing",)
    assert choose_water(["ammonia", "ph"], both, ON) == ("display", "quarantine", "curing")


@pytest.mark.parametrize(("value", "answers"), [("5", False), ("5.0001", True), ("5.5", True)])
def test_a_figure_beyond_the_end_of_the_scale_was_diluted(value: str, answers: bool) -> None:
    rules = Rulebook((), (), {}, {}, {}, tasks={"over/dilute": TaskRule(id="dilute", title="Dilute", reads=("nitrite",), diluted=True)})
    rows = journal(f"2026-03-02,reading,nitrite,{value},mg/L as N,,").rows
    assert bool(fulfilled(plan(due("over/dilute", "nitrite")), rules, journal(), rows, tank("{nitrite: {basis: N, step: 0.25, highest: 5}}"))) is answers
    assert fulfilled(plan(due("over/dilute", "nitrite")), rules, journal(), rows, tank()) == fulfilled(plan(due("over/dilute", "nitrite")), rules, journal(), rows) == ()


def test_of_two_tests_that_ask_for_the_same_the_oldest_is_answered() -> None:
    both = plan(due("a/new", "ph", day=ON), due("b/old", "ph", day=ON - timedelta(days=2), state=State.LATE))
    assert [t.id for t, _ in fulfilled(both, EMPTY, journal(), journal("2026-03-02,reading,ph,8,,,").rows)] == ["b/old"]


@pytest.mark.parametrize(("changes", "answered"), [({}, True), ({"anchor": Anchor(task="fish/other")}, False), ({"wait": None}, False), ({"anchor": None}, False)])
def test_tests_that_follow_one_thing_are_answered_together_and_others_are_not(changes: dict[str, object], answered: bool) -> None:
    first = {"title": "Test", "anchor": Anchor(task="fish/stage"), "wait": "day", "reads": ("ammonia",)}
    tasks = {"fish/one": TaskRule(id="one", **first), "fish/two": TaskRule(id="two", **(first | {"wait": "week"} | changes))}  # type: ignore[arg-type]
    found = fulfilled(plan(due("fish/one", "ammonia"), due("fish/two", "ammonia")), Rulebook((), (), {}, {}, {}, tasks=tasks), journal(), journal("2026-03-02,reading,ammonia,0,mg/L as N,,").rows)
    assert ("fish/two" in [t.id for t, _ in found]) is answered and found[0][0].id in ("fish/one", "fish/two")


# --- readings far from what is usual


@pytest.mark.parametrize(("value", "rows", "questions", "warnings"), [("8.7", (), 0, 0), ("8.8", (), 1, 0), ("7.5", (), 0, 0), ("7.4", (), 1, 0), ("8.8", SNAIL, 0, 1), ("8.7", SNAIL, 0, 0)])
def test_an_unusual_result_is_asked_about_and_where_animals_live_written_and_told(value: str, rows: tuple[str, ...], questions: int, warnings: int) -> None:
    """A pH of 7.5 to 8.7 is usual in a tank (common practice, no source)."""
    at = desk(rows=rows)
    read = read_results(at, [("ph", value, "", "display")])
    assert isinstance(read, list)
    act = log_readings(at, read)
    assert isinstance(act, Act)
    assert (len(act.questions), len(act.warnings)) == (questions, warnings)
    tap = read_results(at, [("ph", value, "", "source")])
    assert isinstance(tap, list) and isinstance(of_tap := log_readings(at, tap), Act) and not of_tap.questions and not of_tap.warnings


# --- ticks


@pytest.mark.parametrize(("rows", "id", "asks"), [((), "cycle/pause#1", False), (("2026-03-02,done,cycle/pause#1",), "cycle/pause#2", True), (("2026-03-01,done,cycle/pause#1",), "cycle/pause#2", False), (("2026-03-01,done,cycle/pause#1",), "cycle/pause#1", True), (("2026-03-01,skipped,cycle/pause#1",), "cycle/pause#1", False)])
def test_a_second_tick_of_a_day_or_of_a_round_is_asked_about(rows: tuple[str, ...], id: str, asks: bool) -> None:
    at = desk(task(id, ON, state=State.DUE), rows=rows)
    act_questions = tick(replace(at, plan=plan(task(id, ON, state=State.DUE, writes=None))), id)[1]
    assert ("ticked already" in act_questions) is asks


@pytest.mark.parametrize(("state", "animals_in_it", "asks", "tells"), [(State.WAITING, (), False, True), (State.WAITING, (("trochus-maculatus", 1),), True, False), (State.ON_HOLD, (), True, False), (State.DUE, (), False, False)])
def test_a_tick_behind_a_shut_gate_is_told_and_one_that_brings_animals_is_asked_about(state: State, animals_in_it: tuple[tuple[str, int], ...], asks: bool, tells: bool) -> None:
    key = next(key for key, r in rulebook().tasks.items() if key.startswith("site/") and r.anchor is None and not r.reads and r.writes is None)
    _, questions, told = tick(desk(task(key, ON, state=state, animals=animals_in_it)), key)
    assert bool(questions) is asks and ("shut gate" in told) is tells


@pytest.mark.parametrize(("minute", "answers"), [("11:59", False), ("12:00", True), ("12:01", True)])
def test_a_reading_of_the_instant_of_its_cause_answers_the_test(minute: str, answers: bool) -> None:
    rules = Rulebook((), (), {}, {}, {}, tasks={"cycle/check": TaskRule(id="check", title="Check", anchor=Anchor(task="cycle/dose"), reads=("ammonia",))})
    found = fulfilled(plan(due("cycle/check", "ammonia")), rules, journal("2026-03-02T12:00+01:00,done,cycle/dose,,,,"), journal(f"2026-03-02T{minute}+01:00,reading,ammonia,1,mg/L as N,,").rows)
    assert bool(found) is answers


@pytest.mark.parametrize(("rows", "litres", "asks"), [((), 1.0, False), ((), 0.5, False), ((), 1.3, True), (("2026-03-01,poured,water,0.8,NET",), 0.5, True), (("2026-03-01,poured,water,0.5,NET",), 0.4, False)])
def test_a_tank_is_filled_in_parts_and_asked_about_beyond_a_quarter_more(rows: tuple[str, ...], litres: float, asks: bool) -> None:
    net = desk().facts.net_volume_l
    at = desk(rows=tuple(f"2026-03-01,poured,water,{float(row.split(',')[3]) * net:.4g},L" for row in rows))
    made = checked(NewRow("2026-03-02", "poured", "water", f"{litres * net:.4g}", "L", "display", ""), at.tank, at.facts.zone)
    assert isinstance(made, Entry) and (doubt_of(at, made.row) is not None) is asks


def test_a_stage_writes_its_one_animal_in_the_number_that_came_and_of_several_each_as_wished() -> None:
    key = next(key for key, r in rulebook().tasks.items() if r.is_arrival)

    def ticked(animals_in_it: tuple[tuple[str, int], ...], amount: str | None) -> object:
        at = desk(task(f"{key}#1", ON, state=State.DUE, animals=animals_in_it))
        act = tick_tasks(at, [f"{key}#1"], amounts={f"{key}#1": amount} if amount else None)
        return [(e.new.what, e.new.value) for e in act.entries if e.new.kind == "added"] if isinstance(act, Act) else act.code

    assert ticked((("gramma-loreto", 1),), None) == [("gramma-loreto", "1")] and ticked((("gramma-loreto", 1),), "2") == [("gramma-loreto", "2")]
    assert ticked((("gramma-loreto", 1), ("trochus-maculatus", 3)), None) == [("gramma-loreto", "1"), ("trochus-maculatus", "3")] and ticked((("gramma-loreto", 1), ("trochus-maculatus", 3)), "2") == "amount-unclear"
