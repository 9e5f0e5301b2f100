"""A shop's rules over ours: what they may change, and every way round what protects that we could think of."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from planner.judge.figures import RESTS_ON
from planner.rulebook.house.overlay import load_book, load_house
from planner.rulebook.shapes import HouseRule, Rulebook
from planner.show.words.conditions import condition_words
from planner.terms.problems import Problem
from planner.terms.records import State
from tests.engine_desk import plan_with, tank_with
from tests.rulecases import RULES, gate_word, rulebook

Laid = tuple[Rulebook, tuple[Problem, ...]]
Lay = Callable[..., Laid]


@pytest.fixture
def lay(tmp_path: Path) -> Lay:
    """Lay files over the shipped book: `setup_water="..."` is setup/water.yaml."""

    def laid(**files: str) -> Laid:
        for name, text in files.items():
            path = tmp_path / (name.replace("_", "/", 1).replace("_", "-") + ".yaml")
            path.parent.mkdir(exist_ok=True)
            path.write_text(text, encoding="utf-8")
        return load_house(tmp_path, rulebook(), "house")

    return laid


def parts(book: Rulebook) -> tuple[object, ...]:
    return book.phases, book.alerts, book.numbers, book.sources, book.cautions, book.tasks


def told(book: Rulebook, id: str) -> HouseRule:
    return next(rule for rule in book.house if rule.id == id)


# --- what a shop may do

def test_a_number_is_tightened_and_says_what_ours_was(lay: Lay) -> None:
    book, problems = lay(setup_water="phase: water\nnumbers:\n  mix_wait: {value: 48}\n")
    assert problems == ()
    assert book.number("mix_wait") == 48
    rule = told(book, "number/mix_wait")
    assert (str(rule.place), rule.was, rule.now, rule.shipped) == ("house/setup/water.yaml:3:3", "24 h", "48 h", rulebook().places["number/mix_wait"])


def test_what_backs_our_value_does_not_back_the_shops(lay: Lay) -> None:
    book, problems = lay(setup_start_up="phase: start-up\nnumbers:\n  gate_temperature_low: {value: 24.5, note: Our water.}\n")
    number = book.numbers["gate_temperature_low"]
    assert problems == ()
    assert rulebook().numbers["gate_temperature_low"].source is not None
    assert (number.grade, number.source, number.where, number.note) == ("practice", None, "", "Our water.")
    assert (number.unit, number.protects) == ("C", "higher_is_stricter")


def test_a_source_of_the_shops_own_backs_its_number(lay: Lay) -> None:
    book, problems = lay(sources="our-book: {title: Our book, read: whole}\n", setup_water="phase: water\nnumbers:\n  mix_wait: {value: 30, grade: review, source: our-book, says: states}\n")
    assert problems == ()
    assert (book.numbers["mix_wait"].source, book.sources["our-book"].title) == ("our-book", "Our book")


@pytest.mark.parametrize("value", [5, 10.5, 20])
def test_an_amount_is_chosen_within_its_range_up_and_down(value: float, lay: Lay) -> None:
    book, problems = lay(care_care=f"phase: care\nnumbers:\n  weekly_change_share: {{value: {value}}}\n")
    assert problems == ()
    assert book.number("weekly_change_share") == value


@pytest.mark.parametrize(("name", "value"), [("first_fish_wait", 10), ("stock_gap", 21), ("leak_watch", 72), ("mix_wait", 36), ("quarantine_days", 50), ("wait_fish_likely", 40), ("mix_after_ready", 2)])
def test_a_wait_is_lengthened(name: str, value: float, lay: Lay) -> None:
    book, problems = lay(numbers=f"numbers:\n  {name}: {{value: {value}}}\n")
    assert problems == () and book.number(name) == value


def test_a_wait_is_lengthened_by_a_number_of_the_shops_own(lay: Lay) -> None:
    book, problems = lay(setup_fish="phase: fish\nnumbers:\n  ours: {value: 10, unit: d, grade: practice}\ntasks:\n  - {id: stage-1, wait: ours}\n")
    assert problems == ()
    assert book.tasks["fish/stage-1"].wait == "ours"
    assert book.tasks["fish/stage-1"].steps == rulebook().tasks["fish/stage-1"].steps


def test_a_task_is_added_and_planned(lay: Lay) -> None:
    book, problems = lay(setup_site="phase: site\ntasks:\n  - {id: show-us, title: Show us a photo of the place, anchor: {start: yes}, steps: [Send it by post.]}\n")
    assert problems == ()
    plan = plan_with(book, on="2026-03-02")
    task = next(t for t in plan.tasks if t.key == "site/show-us")
    assert (task.state, task.steps, task.house) == (State.DUE, ("Send it by post.",), "house/setup/site.yaml:3:5")


@pytest.mark.parametrize("use", ["wait: mix_wait_b", "steps: ['Wait {mix_wait_b}.']", "every: mix_wait_b"])
def test_a_number_named_much_like_ours_is_the_shops_own_where_it_is_used(use: str, lay: Lay) -> None:
    book, problems = lay(setup_water=f"phase: water\nnumbers:\n  mix_wait_b: {{value: 2, unit: d, grade: practice}}\ntasks:\n  - {{id: ours, title: Ours, role: care, {use}}}\n")
    assert problems == () and book.number("mix_wait_b") == 2


def test_a_number_that_only_shares_a_word_with_ours_is_not_taken_for_it(lay: Lay) -> None:
    _, problems = lay(setup_site="phase: site\ntasks:\n  - {id: ours, title: Ours, wait: sample_wait}\n")
    assert [p.code for p in problems] == ["unknown-figure"] and "skimmer_wait" not in problems[0].fix and "`numbers:`" in problems[0].fix


def test_texts_are_changed(lay: Lay) -> None:
    book, problems = lay(setup_water="phase: water\ntitle: Water\nintro: Ours.\ntasks:\n  - {id: set-instrument, title: Set the meter, steps: ['{standard_salinity} it is.']}\ngate: {title: Water made}\n")
    assert problems == ()
    assert (book.phase("water").title, book.phase("water").intro, book.phase("water").gate.title) == ("Water", "Ours.", "Water made")
    assert book.tasks["water/set-instrument"].steps == ("{standard_salinity} it is.",)


def test_lines_may_stand_between_the_steps_of_a_protecting_task(lay: Lay) -> None:
    steps = rulebook().tasks["site/rcd"].steps
    lines = "".join(f"      - {line!r}\n" for line in (steps[0], "Ours.", *steps[1:], "Ours again."))
    book, problems = lay(setup_site=f"phase: site\ntasks:\n  - id: rcd\n    steps:\n{lines}")
    assert problems == ()
    assert book.tasks["site/rcd"].steps == (steps[0], "Ours.", *steps[1:], "Ours again.")


CYCLED = ("2026-03-01,done,cycle/tests",)
LEAK_PASSED = ("2026-03-02,done,leak-test/fill", "2026-03-05,done,leak-test/watch", "2026-03-05,done,leak-test/drain")


def test_a_gate_asks_for_more_and_for_ours_as_well(lay: Lay) -> None:
    book, problems = lay(setup_leak_test="phase: leak-test\ntasks:\n  - {id: photo, title: Send a photo, anchor: {task: leak-test/fill}}\ngate:\n  needs_too:\n    - done: leak-test/photo\n")
    assert problems == ()
    tank = tank_with(already={"site": "2026-03-01"})
    photo = "2026-03-04,done,leak-test/photo"
    assert gate_word(plan_with(rulebook(), *LEAK_PASSED, on="2026-03-06", tank=tank), "leak-test") == "open"
    assert gate_word(plan_with(book, *LEAK_PASSED, on="2026-03-06", tank=tank), "leak-test") == "shut"
    assert gate_word(plan_with(book, *LEAK_PASSED, photo, on="2026-03-06", tank=tank), "leak-test") == "open"
    assert gate_word(plan_with(book, photo, on="2026-03-06", tank=tank), "leak-test") == "shut"


def test_a_repetition_is_raised_by_a_condition_beside_ours(lay: Lay) -> None:
    book, problems = lay(setup_start_up="phase: start-up\ngate:\n  needs_too:\n    - reading: {name: temperature, at_least: gate_temperature_low, at_most: gate_temperature_high, times: 3, apart: settle_apart}\n")
    assert problems == ()
    tank = tank_with(already={"scape": "2026-03-01"})
    rows = ["2026-03-02,done,start-up/pumps", "2026-03-02,done,start-up/heater",
            *(f"2026-03-0{day},reading,{name},{value}" for day in (3, 4) for name, value in (("temperature", "25,C"), ("salinity", "35,ppt")))]
    third = "2026-03-05,reading,temperature,25,C"
    assert gate_word(plan_with(rulebook(), *rows, on="2026-03-04", tank=tank), "start-up") == "open"
    assert gate_word(plan_with(book, *rows, on="2026-03-04", tank=tank), "start-up") == "shut"
    assert gate_word(plan_with(book, *rows, third, on="2026-03-05", tank=tank), "start-up") == "open"


def test_a_hold_and_advice_are_added(lay: Lay) -> None:
    book, problems = lay(setup_fish="phase: fish\ngate:\n  holds:\n    - {when: {event: shop_closed}, because: We are closed., any_time: yes}\n  stuck:\n    - {when: {event: shop_closed}, say: Come in May.}\n")
    assert problems == ()
    assert len(book.phase("fish").gate.holds) == len(rulebook().phase("fish").gate.holds) + 1
    assert gate_word(plan_with(book, "2026-03-03,event,shop_closed", on="2026-03-04"), "fish") == "hold"


def test_an_alert_is_added_and_ours_made_louder(lay: Lay) -> None:
    book, problems = lay(alerts_ours=(
        "numbers:\n  alarm_heat: {value: 28}\nalerts:\n"
        "  - {alert: heat, holds: [crew, fish, corals, lights], unknown_holds: yes}\n"
        "  - alert: call-us\n    title: Call the shop\n    when: {event: smell}\n    say: Call us.\n    tasks:\n      - {id: call, title: Call us, role: remedy}\n"))
    assert problems == ()
    heat = next(a for a in book.alerts if a.alert == "heat")
    assert (book.number("alarm_heat"), "lights" in heat.holds, heat.unknown_holds) == (28, True, True)
    plan = plan_with(book, "2026-03-03,event,smell", on="2026-03-03")
    assert [t.state for t in plan.tasks if t.key == "call-us/call"] == [State.DUE]


def test_a_caution_is_added_added_to_and_named_by_a_task_of_ours(lay: Lay) -> None:
    ours, task = rulebook().cautions["mains"], rulebook().tasks["site/place"]
    book, problems = lay(cautions=f"mains: {{text: {(ours.text + ' Call us.')!r}}}\nshop-door: {{title: Our door, text: It sticks., defer: Ask us.}}\n",
                         setup_site=f"phase: site\ntasks:\n  - {{id: place, cautions: [{', '.join(task.cautions)}, shop-door]}}\n")
    assert problems == ()
    assert book.cautions["mains"].text == ours.text + " Call us."
    assert book.tasks["site/place"].cautions == (*task.cautions, "shop-door")


def test_a_copy_of_our_own_rules_changes_nothing(tmp_path: Path) -> None:
    for folder in ("setup", "care", "alerts"):
        shutil.copytree(RULES / folder, tmp_path / folder)
    for name in ("cautions.yaml", "sources.yaml"):
        shutil.copy(RULES / name, tmp_path / name)
    book, problems = load_house(tmp_path, rulebook())
    assert problems == () and book.house == () and parts(book) == parts(rulebook())


def test_the_folder_may_be_read_in_any_order(lay: Lay) -> None:
    first, _ = lay(setup_water="phase: water\ntasks:\n  - {id: ours, title: Ours, anchor: {phase: water}, wait: ours}\n", numbers="numbers:\n  ours: {value: 2, unit: d, grade: practice}\n")
    assert first.tasks["water/ours"].wait == "ours" and len(first.house) == 2


def test_no_folder_means_the_shipped_book() -> None:
    assert load_book(None, RESTS_ON)[0] == rulebook()


@pytest.mark.parametrize(("name", "keys", "value"), [
    ("chlorine_least", "value: 0, unit: mg/L, grade: practice", 0), ("no_wait", "value: 0, unit: h, grade: practice", 0),
    ("colder", "value: -1, unit: C, grade: practice", -1), ("a_month", "value: 1, unit: months, grade: practice", 1), ("care_monthly", "value: 1", 1),
    ("two_years", "value: 730, unit: d, grade: practice", 730)])
def test_nothing_at_all_is_a_number_and_a_whole_month_is_one_month(name: str, keys: str, value: float, lay: Lay) -> None:
    """Only times and what was never negative stop at nothing; the plan looks two years ahead, and as far as that a wait may go."""
    book, problems = lay(care_care=f"phase: care\nnumbers:\n  {name}: {{{keys}}}\n")
    assert [p.code for p in problems if p.code != "house-fixed"] == [] and book.number(name) == value


@pytest.mark.parametrize("keys", ["value: -0.01, unit: h", "value: 730.5, unit: d", "value: 0, unit: months", "value: 1.5, unit: months", "value: 17520.5, unit: h"])
def test_a_time_below_nothing_beyond_two_years_or_of_broken_months_is_refused(keys: str, lay: Lay) -> None:
    book, problems = lay(care_care=f"phase: care\nnumbers:\n  ours: {{{keys}, grade: practice}}\n")
    assert [p.code for p in problems] == ["house-out-of-range"] and "ours" not in book.numbers


@pytest.mark.parametrize(("name", "value", "code"), [
    ("chlorine_most", -0.01, "house-out-of-range"), ("mix_wait", 24.01, None), ("mix_wait", 23.99, "house-out-of-range"), ("mix_apart", 12, None), ("mix_apart", 11.99, "house-out-of-range"),
    ("mix_apart", 72, None), ("mix_apart", 72.01, "house-out-of-range")])
def test_the_ends_of_what_a_house_may_choose_are_in(name: str, value: float, code: str | None, lay: Lay) -> None:
    book, problems = lay(setup_water=f"phase: water\nnumbers:\n  {name}: {{value: {value}}}\n")
    assert {p.code for p in problems if p.code != "house-fixed"} == ({code} if code else set())
    assert book.number(name) == (rulebook().number(name) if code else value)


VISIT = """phase: visit
title: We come and look
order: 85
intro: Somebody of the shop looks at the tank before any animal goes in.
after: [cycle]
numbers:
  visit_wait: {value: 7, unit: d, grade: practice}
tasks:
  - {id: call, title: Call us for a day, anchor: {phase: visit}, steps: [Have your last test at hand.]}
  - {id: come, title: Look at the tank with us, anchor: {task: visit/call}, wait: visit_wait, steps: [Show us the journal.]}
gate:
  title: The shop has seen the tank
  opens_when: {done: visit/come}
"""
BEFORE_ANIMALS = "phase: animals\nafter: [big-change, visit]\n"
PASSED = dict.fromkeys(("site", "leak-test", "water", "rock", "scape", "start-up", "cycle", "big-change"), "2026-02-20")
RETEST = ("2026-03-02 09:00,reading,ammonia,0,mg/L", "2026-03-02 09:00,reading,nitrite,0,mg/L", "2026-03-02 09:00,reading,nitrate,5,mg/L", "2026-03-02 09:00,reading,salinity,35,ppt",
          "2026-03-02 09:00,reading,temperature,25.5,C", "2026-03-02 09:00,reading,ph,8.2,", "2026-03-02 09:00,reading,alkalinity,8.5,dKH")


def test_a_phase_of_the_shops_own_stands_in_the_book_with_its_place(lay: Lay) -> None:
    book, problems = lay(setup_visit=VISIT)
    assert problems == ()
    assert [p.phase for p in book.phases if p.phase not in {x.phase for x in rulebook().phases}] == ["visit"]
    assert (str(told(book, "visit").place), told(book, "visit").was) == ("house/setup/visit.yaml:1:1", "")
    assert set(book.marks) == {"visit/call", "visit/come"}


def test_the_phase_of_a_shop_is_planned_and_nothing_else_moves(lay: Lay) -> None:
    book, _ = lay(setup_visit=VISIT)
    ours, theirs = (plan_with(b, on="2026-03-02") for b in (rulebook(), book))
    added = [t for t in theirs.tasks if t.phase == "visit"]
    assert [(t.key, t.date) for t in added] == [("visit/call", theirs.phase("cycle").window.likely), ("visit/come", added[0].date + timedelta(days=7))]  # type: ignore[union-attr,operator]
    assert [(t.id, t.date, t.state) for t in theirs.tasks if t.phase != "visit"] == [(t.id, t.date, t.state) for t in ours.tasks]
    assert {p.id: p.window for p in theirs.phases if p.id != "visit"} == {p.id: p.window for p in ours.phases}


def test_animals_wait_for_the_phase_of_a_shop_that_stands_before_them(lay: Lay) -> None:
    book, problems = lay(setup_visit=VISIT, setup_animals=BEFORE_ANIMALS)
    assert problems == ()
    tank = tank_with(already=PASSED)
    assert gate_word(plan_with(rulebook(), *RETEST, on="2026-03-02", tank=tank), "animals") == "open"
    assert gate_word(plan_with(book, *RETEST, on="2026-03-02", tank=tank), "animals") != "open"
    seen = ("2026-03-02 08:00,done,visit/call", "2026-03-02 08:30,done,visit/come")
    assert gate_word(plan_with(book, *seen, *RETEST, on="2026-03-02", tank=tank), "animals") == "open"


def test_the_phase_of_a_shop_lets_no_animal_in_before_our_own_tests(lay: Lay) -> None:
    book, _ = lay(setup_visit=VISIT, setup_animals=BEFORE_ANIMALS)
    seen = ("2026-03-02 08:00,done,visit/call", "2026-03-02 08:30,done,visit/come")
    for rows in (seen, (*seen, *RETEST[1:])):
        assert gate_word(plan_with(book, *rows, on="2026-03-02", tank=tank_with(already=PASSED)), "animals") != "open"


@pytest.mark.parametrize(("right", "wrong", "place"), [
    ("Have your last test at hand.", "Write it down: the last test.", "house/setup/visit.yaml:9:74"),
    ("Show us the journal.", "Show us room.floor.", "house/setup/visit.yaml:10:103")])
def test_a_wrong_sentence_leaves_the_phase_of_a_shop_and_what_waits_for_it(right: str, wrong: str, place: str, lay: Lay) -> None:
    book, problems = lay(setup_visit=VISIT.replace(right, wrong), setup_animals=BEFORE_ANIMALS)
    assert [(p.code, str(p.place)) for p in problems] == [("text-unquoted" if ": " in wrong else "text-literal", place)]
    assert sorted(len(task.steps) for task in book.phase("visit").tasks) == [0, 1]
    assert gate_word(plan_with(book, *RETEST, on="2026-03-02", tank=tank_with(already=PASSED)), "animals") != "open"


SEEN = ("2026-03-02 08:00,done,visit/call", "2026-03-02 08:30,done,visit/come")


def animals_with(book: Rulebook, *rows: str) -> str:
    return gate_word(plan_with(book, *rows, on="2026-03-02", tank=tank_with(already=PASSED)), "animals")


@pytest.mark.parametrize(("right", "wrong", "code"), [
    ("title: Call us for a day", "title: Call us for a day, minutes: soon", "not-a-whole-number"),
    ("title: Call us for a day", "title: Call us for a day, minuts: 5", "unknown-key"),
    ("title: Call us for a day", "title: Call us for a day, uses: [salt]", "house-fixed"),
    ("title: Call us for a day", "title: Call us for a day, wait: visit_wat", "unknown-figure"),
    ("title: Call us for a day", "title: Call us for a day, role: animals", "house-loosens"),
    ("title: Call us for a day", "title: Call us for a day, writes: {kind: event, what: fed}", "house-loosens"),
    ("title: Call us for a day", "title: Call us for a day, not_before: visit/cal", "unknown-task"),
    ("Have your last test at hand.", "'Have {net_volum} of water at hand.'", "unknown-figure"),
    ("id: call, title: Call us for a day", "id: call", "missing-key")])
def test_one_faulty_task_leaves_the_phase_of_a_shop_its_gate(right: str, wrong: str, code: str, lay: Lay) -> None:
    come_alone = VISIT.replace("anchor: {task: visit/call}", "anchor: {phase: visit}")
    book, problems = lay(setup_visit=come_alone.replace(right, wrong), setup_animals=BEFORE_ANIMALS)
    assert [p.code for p in problems] == [code] and problems[0].place.line == 9
    assert [task.id for task in book.phase("visit").tasks] == ["come"]
    assert (animals_with(book, *RETEST), animals_with(book, *SEEN[1:], *RETEST)) == ("shut", "open")


@pytest.mark.parametrize(("right", "wrong", "codes"), [
    ("{done: visit/come}", "{dne: visit/come}", {"unknown-key", "house-left-out"}),
    ("{done: visit/come}", "{done: visit/comes}", {"unknown-task", "house-left-out"}),
    ("{done: visit/come}", "{all: [{done: visit/come}, {reading: {name: ph, above: visit_wat}}]}", {"unknown-number", "house-left-out"}),
    ("Look at the tank with us", "{Look: at us}", {"text-unquoted", "house-left-out"}),
    ("wait: visit_wait", "wait: visit_wat", {"unknown-figure", "house-left-out"}),
    ("{value: 7, unit: d, grade: practice}", "{value: seven, unit: d, grade: practice}", {"not-a-number", "house-left-out"}),
    ("after: [cycle]", "after: [cycle, visit/come]", {"unknown-phase", "house-left-out"}),
    ("after: [cycle]", "after: [fish]", {"task-cycle", "house-left-out"}),
    ("order: 85", "order: soon", {"not-a-whole-number", "house-left-out"}),
    ("tasks:", "tasks: none\nothers:", {"not-a-list", "unknown-key", "house-left-out"}),
    ("gate:", "gaet:", {"unknown-key", "house-phase", "unknown-phase"}),
    ("{id: come,", "{id: come", {"yaml-syntax", "unknown-phase"})])
def test_animals_wait_for_a_phase_of_a_shop_that_cannot_be_read_until_it_is_mended(right: str, wrong: str, codes: set[str], lay: Lay) -> None:
    assert right in VISIT
    book, problems = lay(setup_visit=VISIT.replace(right, wrong), setup_animals=BEFORE_ANIMALS)
    assert {p.code for p in problems} <= codes and all(p.place.line for p in problems), "\n".join(map(str, problems))
    assert any(p.place.file == "house/setup/visit.yaml" for p in problems) and any("until then `animals` does not begin" in p.fix for p in problems)
    assert book.phase("visit").tasks == () and animals_with(book, *SEEN, *RETEST) == "shut"
    mended, _ = lay(setup_visit=VISIT)
    assert animals_with(mended, *SEEN, *RETEST) == "open"


def test_a_page_says_that_animals_wait_for_the_shop_to_mend_its_rules(lay: Lay) -> None:
    book, _ = lay(setup_visit=VISIT.replace("gate:", "gaet:"), setup_animals=BEFORE_ANIMALS)
    waiting = [w for w in plan_with(book, *RETEST, on="2026-03-02", tank=tank_with(already=PASSED)).waiting_for if w.gate == "visit"]
    assert [condition_words(need.trace) for w in waiting for need in w.needs] == ["the shop has mended its rules for “visit”"]


@pytest.mark.parametrize("after", ["after: visit", "after: [big-change, 7, visit: {}]", "after: [big-change, visit]\norder: soon"])
def test_animals_wait_where_nobody_can_read_for_what_they_were_to_wait(after: str, lay: Lay) -> None:
    book, problems = lay(setup_visit=VISIT, setup_animals=f"phase: animals\n{after}\n")
    assert problems and {p.place.file for p in problems} == {"house/setup/animals.yaml"}
    assert animals_with(book, *SEEN, *RETEST) == "shut"


def test_a_wrong_sentence_beside_it_leaves_what_animals_wait_for(lay: Lay) -> None:
    book, problems = lay(setup_visit=VISIT, setup_animals=f"{BEFORE_ANIMALS}intro: Mind: we come first.\n")
    assert [p.code for p in problems] == ["text-unquoted"]
    assert (animals_with(book, *RETEST), animals_with(book, *SEEN, *RETEST)) == ("shut", "open")


# --- what a shop may not do

TASK = "phase: {}\ntasks:\n  - {{id: {}, {}}}\n"
NUMBER = "phase: water\nnumbers:\n  {}: {{{}}}\n"


def task(key: str, change: str) -> dict[str, str]:
    owner, _, id = key.partition("/")
    return {f"setup_{owner.replace('-', '_')}": TASK.format(owner, id, change)}


def number(name: str, keys: str) -> dict[str, str]:
    return {"setup_water": NUMBER.format(name, keys)}


def new_task(keys: str) -> dict[str, str]:
    return {"setup_site": "phase: site\ntasks:\n  - {id: ours, title: Ours, " + keys + "}\n"}


def gate(keys: str, phase: str = "leak-test") -> dict[str, str]:
    return {f"setup_{phase.replace('-', '_')}": f"phase: {phase}\ngate:\n  {keys}\n"}


def alert(keys: str) -> dict[str, str]:
    return {"alerts_ours": "alerts:\n  - {" + keys + "}\n"}


def head(keys: str) -> dict[str, str]:
    return {"setup_water": f"phase: water\n{keys}\n"}


def phase(keys: str) -> dict[str, str]:
    """A phase of the shop's own in which only these keys are wrong."""
    given = {line.partition(":")[0] for line in keys.splitlines()}
    rest = {"phase": "visit", "title": "x", "order": "85", "intro": "x", "after": "[cycle]", "gate": "{title: x, opens_when: {event: x}}"}
    return {"setup_ours": keys + "\n" + "".join(f"{key}: {value}\n" for key, value in rest.items() if key not in given)}


REFUSED: dict[str, tuple[dict[str, str], str, str]] = {
    # numbers: files, code, whose shipped place must be named
    "a declared number the wrong way": (number("chlorine_most", "value: 0.1"), "house-loosens", "number/chlorine_most"),
    "a number below its range": (number("mix_apart", "value: 6"), "house-out-of-range", "number/mix_apart"),
    "a protecting wait shortened inside its range": (number("leak_watch", "value: 30"), "house-loosens", "number/leak_watch"),
    "a number that a gate rests on, undeclared": (number("clean_apart", "value: 24"), "house-loosens", "number/clean_apart"),
    "an alarm made later": (number("alarm_heat", "value: 29"), "house-loosens", "number/alarm_heat"),
    "an alarm that comes less often": (number("alarm_daily", "value: 2"), "house-loosens", "number/alarm_daily"),
    "a number without range or way": (number("heater_soak", "value: 5"), "house-unclear", "number/heater_soak"),
    "a number used both ways": (number("after_add_week", "value: 9"), "house-unclear", "number/after_add_week"),
    "the same number in another file": ({"care_care": "phase: care\nnumbers:\n  mix_wait: {value: 1, unit: h, grade: practice}\n"}, "house-out-of-range", "number/mix_wait"),
    "another unit for the same figure": (number("mix_wait", "value: 24, unit: min"), "house-fixed", "number/mix_wait"),
    "a wider range": (number("mix_wait", "value: 12, range: [1, 72]"), "house-fixed", "number/mix_wait"),
    "the way of protection turned round": (number("chlorine_most", "value: 1, protects: higher_is_stricter"), "house-fixed", "number/chlorine_most"),
    "no number at all": (number("mix_wait", "value: nan"), "not-a-number", ""),
    "a wait beyond all plans": (number("quiet_before_absence", "value: 1e9"), "house-out-of-range", "number/quiet_before_absence"),
    "half a month, which is no step at all": ({"care_care": "phase: care\nnumbers:\n  care_monthly: {value: 0.5}\n"}, "house-out-of-range", "number/care_monthly"),
    "less than nothing": (number("chlorine_most", "value: -1"), "house-out-of-range", "number/chlorine_most"),
    "our source for the shop's figure": (number("mix_wait", "value: 48, grade: measured"), "not-possible", ""),
    "a better grade for our figure": (number("mix_wait", "value: 24, grade: measured, source: epa_monochloramine_2009"), "house-fixed", "number/mix_wait"),
    "a figure of the tank turned into a number": (number("ammonia_dose", "value: 9, unit: mL, grade: practice"), "house-name-taken", ""),
    "two readings closer together in an alarm": (number("spacing", "value: 40"), "house-unclear", "number/spacing"),
    "a number called like a neighbour": (number("Mix_wait", "value: 1, unit: d, grade: practice"), "not-a-name", ""),
    "a number of ours misspelled": (number("mix_wiat", "value: 48"), "unknown-number", ""),
    "a whole number of ours misspelled": (number("mix_wiat", "value: 48, unit: h, grade: practice"), "unknown-number", ""),
    "a task of ours misspelled": (task("site/plase", "minutes: 40"), "unknown-task", ""),
    "a task of ours misspelled and in another phase": (task("site/chose", "minutes: 40"), "unknown-task", ""),
    # gates
    "a gate's condition replaced by one way of several": (gate("opens_when: {any: [{done: leak-test/fill}]}"), "house-loosens", "gate/leak-test"),
    "a gate that no longer lapses": (gate("lapses_when: {event: never}", "animals"), "house-fixed", "gate/animals"),
    "a gate expected earlier": (gate("expect: {quick: after_add_day}"), "house-fixed", "gate/leak-test"),
    "a hold that lets animals in": (gate("holds: [{when: {event: x}, because: x, instead: [fish/stage-1], any_time: yes}]", "fish"), "house-loosens", "fish/stage-1"),
    "a hold that lets steps go on": (gate("holds: [{when: {event: x}, because: x, instead: [scape/fill], any_time: yes}]", "fish"), "house-loosens", "scape/fill"),
    # phases
    "a phase of the shop's own": ({"setup_ours": "phase: fast-start\ntitle: x\norder: 5\nintro: x\ngate: {title: x, opens_when: {event: x}}\n"}, "house-phase", ""),
    "a phase that waits for less": (head("after: []"), "house-fixed", "water"),
    "a phase that few tanks have": (head("only_when: {tank: {key: water.source, is: [tap]}}"), "house-fixed", "water"),
    "the order of the phases": (head("order: 1"), "house-fixed", "water"),
    "a phase with a role of ours": (phase("role: opens_to_animals"), "house-fixed", ""),
    "a phase in the name of an alert": (phase("phase: heat"), "house-name-taken", "heat"),
    "a phase with a name that is none": (phase("phase: Our Visit"), "not-a-name", ""),
    "a phase behind one that is not there": (phase("after: [visits]"), "unknown-phase", ""),
    "a phase whose hold lets animals in": (phase("gate: {title: x, opens_when: {event: x}, holds: [{when: {event: x}, because: x, instead: [fish/stage-1]}]}"), "house-loosens", "fish/stage-1"),
    "a phase whose gate looks at a water that is not there": (phase("gate: {title: x, opens_when: {event: {what: x, where: pond}}}"), "unknown-water", ""),
    "a phase that waits for days in litres": (phase("beside: [cycle]\nbeside_wait: tds_most"), "unit-unknown", ""),
    "a phase of ours that waits for another instead": ({"setup_animals": "phase: animals\nafter: [lights]\n"}, "house-loosens", "animals"),
    "a phase of ours that waits for what lies behind it": ({"setup_cycle": "phase: cycle\nafter: [start-up, animals]\n"}, "task-cycle", ""),
    "an empty intro": (head("intro: ''"), "house-removes", "water"),
    # tasks of ours
    "another role": (task("fish/stage-1", "role: care"), "house-fixed", "fish/stage-1"),
    "ticked by another task": (task("water/mix", "also_done_by: [water/bin-ready]"), "house-fixed", "water/mix"),
    "taken away while something is so": (task("leak-test/watch", "unless: {not: {event: never}}"), "house-fixed", "leak-test/watch"),
    "for no tank": (task("site/rcd", "only_when: {tank: {key: tank.lid, is: [maybe]}}"), "house-fixed", "site/rcd"),
    "under a condition": (task("site/rcd", "when: {event: never}"), "house-fixed", "site/rcd"),
    "hung on something later": (task("site/rcd", "anchor: {gate: care}"), "house-fixed", "site/rcd"),
    "a fact written by a tick of ours": (task("site/rcd", "writes: {kind: event, what: fed}"), "house-fixed", "site/rcd"),
    "protection dropped": (task("site/rcd", "protects: no"), "house-removes", "site/rcd"),
    "guards taken off": (task("corals/stage", "guards: []"), "house-fixed", "corals/stage"),
    "gone while there are stages": (task("site/rcd", "unless_stages: fish"), "house-fixed", "site/rcd"),
    "a shorter wait": (task("fish/stage-2", "wait: after_add_day"), "house-loosens", "fish/stage-2"),
    "no wait": ({"setup_fish": "phase: fish\ntasks:\n  - id: stage-2\n    wait:\n"}, "house-loosens", "fish/stage-2"),
    "a test that comes later": (task("fish/test-day", "wait: after_add_week"), "house-fixed", "fish/test-day"),
    "a test that comes less often": ({"care_care": TASK.format("care", "weekly-tests", "every: care_yearly")}, "house-loosens", "care/weekly-tests"),
    "fewer readings": (task("animals/retest", "reads: [ammonia]"), "house-removes", "animals/retest"),
    "a caution of a task dropped": (task("site/rcd", "cautions: []"), "house-removes", "site/rcd"),
    "the cautions left blank": (task("scape/rock", "cautions: [lifting]"), "house-removes", "scape/rock"),
    "steps of a protecting task emptied": (task("site/rcd", "steps: [Never mind.]"), "house-removes", "site/rcd"),
    "what to watch for left out": (task("leak-test/watch", "watch: []"), "house-removes", "leak-test/watch"),
    "not in the calendar": (task("site/rcd", "calendar: no"), "house-removes", "site/rcd"),
    "a task without a title": (task("site/rcd", "title: ' '"), "house-removes", ""),
    # tasks of the shop's own
    "a new task that brings in animals": (new_task("role: animals, anchor: {start: yes}"), "house-loosens", ""),
    "a tick that opens the way for snails": (new_task("writes: {kind: event, what: algae_seen}"), "house-loosens", ""),
    "a tick that says the filter was fed": (new_task("writes: {kind: event, what: fed}"), "house-loosens", ""),
    "a tick that says ammonia was dosed": (new_task("writes: {kind: dosed, what: ammonia, amount: ammonia_dose}"), "house-loosens", ""),
    "a tick that says water was changed": (new_task("writes: {kind: changed_water, what: water}"), "house-loosens", ""),
    "a tick that says an animal was added": (new_task("writes: {kind: added, what: fish}"), "house-loosens", ""),
    "an alert whose tick opens a gate": (alert("alert: ours, title: x, when: {event: x}, say: x, tasks: [{id: a, title: a, writes: {kind: event, what: algae_seen}}]"), "house-loosens", ""),
    "a new task of a shipped alert with a tick that opens": (alert("alert: heat, tasks: [{id: a, title: a, writes: {kind: event, what: fed}}]"), "house-loosens", ""),
    "stages begun elsewhere": (new_task("per_stage: fish"), "house-fixed", ""),
    "a new task ticked by another": (new_task("also_done_by: [site/rcd]"), "house-fixed", ""),
    "a new task with guards": (new_task("guards: [{groups: [clam], task: corals/sps}]"), "house-fixed", ""),
    # alerts
    "an alert under another condition": (alert("alert: heat, when: {event: never}"), "house-loosens", "heat"),
    "an alert that says less": (alert("alert: leak, say: All is well."), "house-removes", "leak"),
    "an alert that holds less": (alert("alert: heat, holds: [fish]"), "house-loosens", "heat"),
    "an alert deaf to doubt": (alert("alert: nitrite-off-scale, unknown_holds: no"), "house-loosens", "nitrite-off-scale"),
    "a remedy hollowed out": (alert("alert: leak, tasks: [{id: stop, steps: [Mop up.]}]"), "house-removes", "leak/stop"),
    "an alert in the name of a phase": (alert("alert: water, title: x, when: {event: x}, say: x"), "house-name-taken", "water"),
    "an alert in the name of a task": (alert("alert: site/rcd, title: x, when: {event: x}, say: x"), "not-a-name", ""),
    "a longer wait for the gloves": (task("site/shop-safety", "wait: stock_gap"), "house-fixed", "site/shop-safety"),
    # cautions and sources
    "a caution cut short": ({"cautions": "mains: {text: Mind the plug.}\n"}, "house-removes", "caution/mains"),
    "a caution emptied": ({"cautions": "mains: {text: ''}\n"}, "house-removes", "caution/mains"),
    "whom to ask left out": ({"cautions": "mains: {defer: Ask us.}\n"}, "house-removes", "caution/mains"),
    "another source behind our figures": ({"sources": "epa_monochloramine_2009: {title: Our leaflet, read: whole}\n"}, "house-fixed", "source/epa_monochloramine_2009"),
    # names and kinds
    "a name that leads nowhere": (new_task("every: never"), "unknown-figure", ""),
    "a wait in litres": (new_task("wait: net_volume"), "unit-unknown", ""),
    "a caution that is not there": (new_task("cautions: [nothing]"), "unknown-caution", ""),
    "braces that name nothing": (new_task("steps: ['{nothing}']"), "unknown-figure", ""),
    "a wait in milligrams": (new_task("wait: tds_most"), "unit-unknown", ""),
    "a threshold in days": (gate("needs_too: [{reading: {name: salinity, at_least: stock_gap}}]"), "unit-unknown", ""),
    "a water that is not there": (gate("needs_too: [{reading: {name: salinity, at_least: reef_salinity_low, where: pond}}]"), "unknown-water", ""),
    "a gate that waits for what lies behind it": (gate("needs_too: [{done: fish/stage-1}]"), "task-cycle", ""),
    "a test that hangs on the gate it opens": (task("animals/second-look", "title: x, role: test, reads: [ammonia], anchor: {gate: animals}"), "task-cycle", ""),
    "a quarantine that waits for its own fish": (gate("needs_too: [{done: fish/stage-test-day}]", "quarantine"), "task-cycle", ""),
    "a task that waits for itself": (task("water/ours", "title: x, not_before: water/ours"), "task-cycle", ""),
    "a key that is not there": (new_task("titel: x"), "unknown-key", ""),
    "a file that is not read": ({"water": "phase: water\n"}, "file-ignored", ""),
}


@pytest.mark.parametrize("way", REFUSED, ids=str)
def test_this_way_round_is_refused_and_our_rule_holds(way: str, lay: Lay) -> None:
    files, code, shipped_id = REFUSED[way]
    book, problems = lay(**files)
    assert [p.code for p in problems] == [code], "\n".join(map(str, problems))
    assert problems[0].place.file.startswith("house/") and problems[0].fix
    if shipped_id:
        assert str(rulebook().places[shipped_id]) in problems[0].message
        assert problems[0].place.line > 0 and problems[0].source_line
    assert parts(book) == parts(rulebook()) and book.house == ()


def test_a_task_of_the_shop_that_comes_with_a_stage_is_told_on_which_it_may_hang(lay: Lay) -> None:
    _, problems = lay(setup_water="phase: water\ntasks:\n  - {id: ours, title: Ours, per_stage: fish}\n")
    assert [p.fix for p in problems] == ["write `anchor: {task: fish/stage}`"]


def test_the_rest_of_a_folder_works_beside_what_is_refused(lay: Lay) -> None:
    book, problems = lay(setup_water="phase: water\nnumbers:\n  mix_wait: {value: 48}\n  mix_apart: {value: 1}\ntasks:\n  - {id: mix, role: care, minutes: 60}\n")
    assert [p.code for p in problems] == ["house-out-of-range", "house-fixed"]
    assert (book.number("mix_wait"), book.number("mix_apart"), book.tasks["water/mix"].minutes, book.tasks["water/mix"].role) == (48, 12, 60, "step")


@pytest.mark.parametrize("files", [
    {"setup_water": "phase: water\nnumbers:\n  mix_wait: {value: 30}\n", "setup_rock": "phase: rock\nnumbers:\n  mix_wait: {value: 40}\n"},
    {"setup_water": "phase: water\ntasks:\n  - {id: ours, title: A}\n  - {id: ours, title: B}\n"},
    {"alerts_a": "alerts:\n  - {alert: ours, title: A, when: {event: a}, say: A.}\n", "alerts_b": "alerts:\n  - {alert: ours, title: B, when: {event: b}, say: B.}\n"},
    {"setup_water": "phase: water\ntitle: A\n", "setup_x": "phase: water\ntitle: B\n"},
], ids=["number", "task", "alert", "text"])
def test_an_id_twice_in_the_folder_names_both_places_and_the_first_stands(files: dict[str, str], lay: Lay) -> None:
    book, problems = lay(**files)
    assert [p.code for p in problems] == ["house-twice"]
    assert len(book.house) == 1 and str(book.house[0].place) in problems[0].message


def test_what_rests_on_a_refused_piece_goes_out_with_it(lay: Lay) -> None:
    book, problems = lay(setup_site="phase: site\ntasks:\n  - {id: ours, title: Ours, every: never}\ngate:\n  needs_too: [{done: site/ours}]\n")
    assert [p.code for p in problems] == ["unknown-figure", "house-left-out"]
    assert parts(book) == parts(rulebook())


def test_a_doubtful_hold_of_the_shop_does_not_take_the_place_of_a_certain_one(lay: Lay) -> None:
    """Of two holds on a phase the stricter one counts; one that merely doubts lets steps go on."""
    book, problems = lay(setup_site="phase: site\ngate:\n  holds:\n    - {when: {reading: {name: ph, below: ph_animals_least}}, because: No pH yet., unknown_holds: yes, any_time: yes}\n")
    assert problems == ()
    tank = tank_with(already={"site": "2026-03-01"})
    rows = ("2026-03-02,done,leak-test/fill", "2026-03-03,event,failed,,,,leak-test/watch")
    states = [{t.key: t.state for t in plan_with(b, *rows, on="2026-03-03", tank=tank).tasks} for b in (rulebook(), book)]
    held = {key for key, state in states[0].items() if state == State.ON_HOLD}
    assert "scape/rock" in held and held <= {key for key, state in states[1].items() if state == State.ON_HOLD}


def test_a_gate_patched_with_what_can_never_be_stays_shut_and_nothing_else_breaks(lay: Lay) -> None:
    book, problems = lay(setup_animals="phase: animals\ngate:\n  needs_too: [{event: when_pigs_fly}]\n")
    assert problems == ()
    assert gate_word(plan_with(book, *CYCLED, on="2026-03-02"), "animals") == "shut"


@pytest.mark.parametrize(("described", "there"), [("yes", True), ("no", False)])
def test_a_task_that_hangs_on_a_phase_is_there_only_where_the_tank_has_it(described: str, there: bool, lay: Lay) -> None:
    book, problems = lay(setup_fish="phase: fish\ntasks:\n  - {id: fetch, title: Fetch the fish, anchor: {gate: quarantine}}\n")
    assert problems == ()
    plan = plan_with(book, on="2026-03-02", tank=tank_with(equipment__quarantine_tank=described))
    assert any(t.key == "fish/fetch" for t in plan.tasks) == there


# --- texts are texts

@pytest.mark.parametrize("text", ["[bold red]Buy[/]", "{net_volume.__class__}", "{0}", "$(rm -rf .)", "=1+1", "<b>x</b>", "%s %n", "#let x = 1"])
def test_hostile_words_stay_words(text: str, lay: Lay) -> None:
    book, problems = lay(setup_site=f"phase: site\ntasks:\n  - id: ours\n    title: {text!r}\n    anchor: {{start: yes}}\n")
    if problems:
        assert [p.code for p in problems] == ["unknown-figure" if text == "{0}" else "text-braces"] and "site/ours" not in book.tasks
        return
    plan = plan_with(book, on="2026-03-02")
    assert next(t.title for t in plan.tasks if t.key == "site/ours") == text


def test_figures_in_braces_are_filled_in_house_texts_too(lay: Lay) -> None:
    book, problems = lay(setup_site="phase: site\nnumbers:\n  ours: {value: 3, unit: d, grade: practice}\ntasks:\n  - {id: ours, title: 'Have {net_volume} in {ours}', anchor: {start: yes}}\n")
    assert problems == ()
    title = next(t.title for t in plan_with(book, on="2026-03-02").tasks if t.key == "site/ours")
    assert title.startswith("Have 2") and title.endswith("in 3 days")


# --- marks

def test_a_number_marks_the_tasks_that_use_it_and_no_others(lay: Lay) -> None:
    book, _ = lay(setup_water="phase: water\nnumbers:\n  mix_wait: {value: 48}\n")
    assert set(book.marks) >= {"water/mix", "water/look"}
    assert "water/trim" not in book.marks and "site/rcd" not in book.marks
    plan = plan_with(book, on="2026-03-02")
    assert {t.key for t in plan.tasks if t.house} == {key for key in book.marks if any(t.key == key for t in plan.tasks)}


def test_without_house_rules_nothing_is_marked() -> None:
    assert rulebook().house == () and not any(t.house for t in plan_with(replace(rulebook()), on="2026-03-02").tasks)
