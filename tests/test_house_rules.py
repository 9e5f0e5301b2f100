"""The example of a shop's own rules, laid over every story: each of its files changes exactly the plans that it should.

A plan is compared by what it says of each task and gate: its words (title, steps, cautions, amounts, needs) and its days.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable
from datetime import date
from functools import cache
from pathlib import Path

import icalendar
import pypdf
import pytest
from click.testing import CliRunner

from planner.cli import newtank
from planner.plan.make import make_plan
from planner.plan.rule_cases import cases_below, failures
from planner.rulebook.house.overlay import load_house
from planner.rulebook.phase_graph import descendants
from planner.rulebook.read import shipped
from planner.rulebook.shapes import Rulebook
from planner.show.words.conditions import need_words
from planner.stock.catalogue import Catalogue, load_catalogue
from planner.terms.records import Plan, State
from tests.story_facts import STORIES, all_facts, catalogue, names, rulebook, story_of

EXAMPLE = STORIES / "shop-handover" / "house-rules"
Said = dict[str, tuple[object, ...]]


@cache
def days_of(name: str) -> tuple[date, ...]:
    """The first and the last day on which a story is looked at."""
    days = sorted({f.on for f in all_facts() if f.story == name})
    return days[0], days[-1]


STORY_DAYS = [(name, on) for name in names() for on in days_of(name)]


def on_story_days(wanted: Callable[[str, date], bool] | None = None) -> pytest.MarkDecorator:
    """The last day of three stories on every run, the others among the slow."""
    return pytest.mark.parametrize(("name", "on"), [pytest.param(name, on, marks=() if on == days_of(name)[-1] and names().index(name) % 2 else pytest.mark.slow) for name, on in STORY_DAYS if wanted is None or wanted(name, on)])


def with_files(folder: Path, *files: str) -> tuple[Rulebook, Catalogue]:
    """The shipped rules and animals with these files of the example alone laid over them."""
    for name in files:
        (folder / name).parent.mkdir(exist_ok=True)
        shutil.copy(EXAMPLE / name, folder / name)
    book, problems = load_house(folder, rulebook(), "house")
    animals = load_catalogue([shipped("rules") / "livestock", folder / "livestock"])
    assert (*problems, *animals.problems) == ()
    return book, animals


@cache
def plan_before(name: str, on: date) -> Plan:
    return plan_of(name, on, rulebook(), catalogue())


def plan_of(name: str, on: date, book: Rulebook, animals: Catalogue) -> Plan:
    story = story_of(name)
    return make_plan(story.tank, story.journal, book, on, None, (), animals)


def words(plan: Plan) -> Said:
    """By task without its number: how often a chore is listed depends on its dates."""
    said: Said = {t.key: (t.title, t.steps, t.watch, t.cautions, t.amounts) for t in plan.tasks if t.animals == ()}
    return said | {f"gate/{p.id}": (p.title, p.intro, tuple(need_words(n) for n in p.needs)) for p in plan.phases}


def days(plan: Plan) -> Said:
    said: Said = {t.id: (t.due, t.window, t.state) for t in plan.tasks}
    return said | {f"gate/{p.id}": (p.opened, p.window, p.state) for p in plan.phases}


def changed(before: Said, after: Said) -> set[str]:
    return {id for id in before.keys() | after.keys() if before.get(id) != after.get(id)}


def naming(number: str) -> set[str]:
    """Keys of the tasks of ours, and gates of the phases, whose words tell this number."""
    gates = {f"gate/{p.phase}" for p in rulebook().phases if f"{{{number}}}" in p.intro}
    return gates | {key for key, t in rulebook().tasks.items() if f"{{{number}}}" in " ".join((t.title, *t.steps, *t.watch))}


def keys(ids: set[str]) -> set[str]:
    return {id.partition("#")[0] for id in ids}


@on_story_days()
@pytest.mark.parametrize(("files", "tasks"), [(("setup/site.yaml",), {"site/shop-rock"}), (("setup/fish.yaml", "cautions.yaml"), {"fish/choose", "fish/stage-choose"})], ids=["words", "caution"])
def test_words_of_the_shop_change_their_own_task_alone(name: str, on: date, files: tuple[str, ...], tasks: set[str], tmp_path: Path) -> None:
    before, after = plan_before(name, on), plan_of(name, on, *with_files(tmp_path, *files))
    there = {t.key for t in before.tasks}
    assert keys(changed(words(before), words(after))) == tasks & there
    assert changed(days(before), days(after)) == set()


@on_story_days()
def test_an_animal_that_nobody_wishes_for_changes_no_plan(name: str, on: date, tmp_path: Path) -> None:
    before, after = plan_before(name, on), plan_of(name, on, *with_files(tmp_path, "livestock/fish.yaml"))
    assert changed(words(before), words(after)) | changed(days(before), days(after)) == set()


@on_story_days()
def test_a_longer_watch_moves_what_lies_behind_it_and_only_until_it_is_passed(name: str, on: date, tmp_path: Path) -> None:
    before, after = plan_before(name, on), plan_of(name, on, *with_files(tmp_path, "setup/leak-test.yaml"))
    settled = {t.key for plan in (before, after) for t in plan.tasks if t.yielded}  # what yields to another order of its day has no steps, and days move here
    # The meals of a waiting filter are told up to the animals' day, which moves.
    assert keys(changed(words(before), words(after))) - settled - {"cycle/feed-idle"} <= naming("leak_watch")
    moved = keys(changed(days(before), days(after)))
    gate_before, gate_after = before.phase("leak-test"), after.phase("leak-test")
    assert gate_before and gate_after
    if gate_before.opened is not None:
        assert moved == set()
        return
    behind = {"leak-test", *descendants("leak-test", rulebook().phases)}
    assert {key.partition("/")[2 if key.startswith("gate/") else 0] for key in moved} <= behind
    assert "gate/leak-test" in moved
    for phase in before.phases:
        later = after.phase(phase.id)
        assert later and (phase.window.likely is None or later.window.likely is None or later.window.likely >= phase.window.likely)


def refused_water(name: str, on: date) -> bool:
    """Had the story's water more solids than the shop allows?"""
    return any(r.what == "tds" and r.day <= on and (r.high or 0) > 2 for r in story_of(name).journal.rows)


@pytest.mark.parametrize(("name", "on"), [(n, on) for n, on in STORY_DAYS if refused_water(n, on)])
def test_water_that_the_shop_would_have_sent_back_shuts_its_gate_again(name: str, on: date, tmp_path: Path) -> None:
    before, after = plan_before(name, on), plan_of(name, on, *with_files(tmp_path, "setup/water.yaml"))
    gate_before, gate_after = before.phase("water"), after.phase("water")
    assert gate_before and gate_before.opened is not None and gate_after and gate_after.opened is None
    assert name == "live-rock-small"


@on_story_days(lambda name, on: not refused_water(name, on))
def test_a_stricter_limit_and_a_cup_for_the_counter_change_their_words_and_add_one_task(name: str, on: date, tmp_path: Path) -> None:
    before, after = plan_before(name, on), plan_of(name, on, *with_files(tmp_path, "setup/water.yaml"))
    ready_mixed = story_of(name).tank.water.source == "ready_mixed"
    new = {t.key for t in after.tasks} - {t.key for t in before.tasks}
    assert new <= (set() if ready_mixed else {"water/bring-sample"})
    said = keys(changed(words(before), words(after))) - new
    assert said <= naming("tds_most") | {"gate/water"}
    assert keys(changed(days(before), days(after))) - new == set()


@on_story_days()
def test_the_whole_folder_loosens_nothing(name: str, on: date, tmp_path: Path) -> None:
    shutil.copytree(EXAMPLE, tmp_path / "all")
    book, problems = load_house(tmp_path / "all", rulebook())
    before, after = plan_before(name, on), plan_of(name, on, book, catalogue())
    assert problems == ()
    assert {p.id for p in after.phases if p.opened} <= {p.id for p in before.phases if p.opened}
    assert {h.gate for h in before.holds} <= {h.gate for h in after.holds}
    held = {t.id for t in before.tasks if t.state == State.ON_HOLD}
    assert not held & {t.id for t in after.tasks if t.state in (State.DUE, State.LATE, State.PLANNED)}


def test_every_task_with_other_words_is_marked_as_a_house_rule(tmp_path: Path) -> None:
    shutil.copytree(EXAMPLE, tmp_path / "all")
    book, _ = load_house(tmp_path / "all", rulebook())
    name, on = STORY_DAYS[0]
    before, after = plan_before(name, on), plan_of(name, on, book, catalogue())
    said = changed(words(before), words(after))
    assert said - {t.key for t in after.tasks if t.house} <= {"gate/water", "gate/leak-test"}


def test_the_shops_own_animal_is_known_to_its_folder_alone() -> None:
    ours, theirs = load_catalogue([shipped("rules") / "livestock"]), load_catalogue([shipped("rules") / "livestock", EXAMPLE / "livestock"])
    assert ours.find("sharknose goby").how != "name"
    found = theirs.find("sharknose goby").animal
    assert found is not None and [r.id for r in theirs.house] == [f"animal/{found.id}"]


def own_cases() -> list[tuple[str, object]]:
    cases, problems = cases_below(EXAMPLE, "house")
    assert problems == ()
    return [(case.title, case) for case in cases]


@pytest.mark.parametrize(("title", "case"), own_cases(), ids=[title for title, _ in own_cases()])
def test_the_shops_case_holds_with_its_rules(title: str, case: object) -> None:
    book, _ = load_house(EXAMPLE, rulebook())
    assert failures(case, book) == []  # type: ignore[arg-type]


@pytest.mark.parametrize("title", ["water of 3 mg/L passes with ours and not with this shop's limit", "a tank filled on Tuesday is watched until Friday",
                                   "a cup of the mix is due at the counter two days after the salt"])
def test_the_shops_case_fails_without_its_rules(title: str) -> None:
    assert failures(dict(own_cases())[title], rulebook()) != []  # type: ignore[arg-type]


VISIT = """phase: visit
title: Have the shop look at the tank
order: 5
intro: Somebody of the shop looks at the place before anything is bought.
beside: [site]
tasks:
  - {id: call, title: Call the shop for a day, anchor: {phase: visit}, steps: [Have the measures of the tank at hand.]}
  - {id: come, title: Show the shop the place, anchor: {task: visit/call}, steps: [Show the wall and the sockets.]}
gate:
  title: The shop has seen the place
  opens_when: {done: visit/come}
"""


def test_a_phase_of_a_shop_stands_in_plan_calendar_and_paper(tmp_path: Path) -> None:
    house, tank = tmp_path / "house", tmp_path / "tank"
    (house / "setup").mkdir(parents=True)
    (house / "setup" / "visit.yaml").write_text(VISIT, encoding="utf-8")
    shutil.copytree(STORIES / "dry-rock-us", tank)

    def run(command: str, *options: str) -> str:
        result = CliRunner().invoke(newtank, [command, str(tank), "--rules", str(house), "--on", "2026-01-05", *options])
        assert result.exit_code == 0, result.output
        return " ".join(result.stdout.split())

    run("calendar", "-o", str(tmp_path / "tank.ics"))
    run("handout", "-o", str(tmp_path / "tank.pdf"))
    paper = " ".join(" ".join(page.extract_text() for page in pypdf.PdfReader(tmp_path / "tank.pdf").pages).split())
    events = icalendar.Calendar.from_ical((tmp_path / "tank.ics").read_bytes()).walk("VEVENT")
    calendar = " ".join(f"{e.get('SUMMARY')} {e.get('DESCRIPTION')}" for e in events)
    for text in (run("plan"), calendar, paper):
        assert "Call the shop for a day" in text and "Show the shop the place" in text
    assert "Have the shop look at the tank" in run("plan") and "Have the shop look at the tank" in paper
