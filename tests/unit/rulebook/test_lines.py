"""A line of a job may say for which tanks it is none: read, checked, filled, and what a shop may not do with it."""

from __future__ import annotations

import pickle
from datetime import date
from pathlib import Path

import pytest

from planner.files.yaml_checked import validate
from planner.files.yaml_tree import read_yaml
from planner.judge.facts import gather
from planner.plan.texts import Filler, fill_numbers
from planner.rulebook.house.overlay import load_house
from planner.rulebook.lines import Conditional
from planner.rulebook.shapes import Rulebook
from planner.rulebook.task_rule import TaskRule
from planner.terms.problems import Problem
from tests.engine_desk import journal_of, tank_with
from tests.rulecases import rulebook
from tests.unit.rulebook.test_check import problems_with

ON = date(2026, 3, 2)
LINE = "{text: 'If you have an automatic top-up, fill it.', unless: {tank: {key: equipment.top_up, is: ['no']}}}"


def task_of(*steps: str) -> tuple[TaskRule | None, tuple[Problem, ...]]:
    text = "id: ours\ntitle: Ours\nsteps:\n" + "".join(f"  - {step}\n" for step in steps)
    data, places, _ = read_yaml(text, "ours.yaml")
    return validate(TaskRule, data, places, text.splitlines())


def steps_of(*steps: str) -> tuple[str, ...]:
    task, problems = task_of(*steps)
    assert task is not None and problems == ()
    return task.steps


@pytest.mark.parametrize(("top_up", "said"), [("no", ""), ("yes", "If you have an automatic top-up, fill it."), ("10 L", "If you have an automatic top-up, fill it."), (None, "If you have an automatic top-up, fill it.")])
def test_a_line_goes_where_the_description_rules_it_out_and_stays_where_nobody_said(top_up: str | None, said: str) -> None:
    tank = tank_with(equipment__top_up=top_up)
    (line,) = steps_of(LINE)
    assert Filler(gather(tank, journal_of(tank=tank), ON), rulebook()).fill(line) == said


def test_the_same_words_without_a_condition_stay_in_the_same_tank() -> None:
    plain, line = steps_of("Leave {coral_gap}.", "{text: 'Leave {coral_gap}.', unless: {tank: {key: equipment.top_up, is: ['no']}}}")
    tank = tank_with(equipment__top_up="no")
    fill = Filler(gather(tank, journal_of(tank=tank), ON), rulebook()).fill
    assert (fill(line), fill(plain)[:6], fill(line)) == ("", "Leave ", "")


def test_where_no_tank_can_be_read_the_line_stays() -> None:
    (line,) = steps_of(LINE)
    assert fill_numbers(line, rulebook()) == "If you have an automatic top-up, fill it."


def test_a_filled_line_keeps_its_parts_and_leaves_its_condition_behind() -> None:
    (line,) = steps_of("{text: 'Note it with {note:leak}.', unless: {tank: {key: equipment.top_up, is: ['no']}}}")
    tank = tank_with()
    said = Filler(gather(tank, journal_of(tank=tank), ON), rulebook()).fill(line)
    assert said == "Note it with `newtank note event leak`." and not isinstance(said, Conditional)


def test_a_kept_line_comes_back_with_its_condition() -> None:
    (line,) = steps_of(LINE)
    back = pickle.loads(pickle.dumps(line))
    assert isinstance(line, Conditional) and isinstance(back, Conditional) and (str(back), back.parts, back.unless) == (str(line), line.parts, line.unless)


@pytest.mark.parametrize(("step", "column", "message", "fix"), [
    ("{text: Go., unles: {tank: {key: tank.sump, is: [no]}}}", 17, "unknown key `unles`", "write `unless`"),
    ("{text: Go., unless: {tank: {key: tank.sump, iss: [no]}}}", 49, "unknown key `iss`", "write `is`"),
    ("{unless: {tank: {key: tank.sump, is: [no]}}}", 5, "the key `text` is missing", "add `text`"),
    ("{text: Use newtank., unless: {tank: {key: tank.sump, is: [no]}}}", 12, "`newtank` in this text means something at a keyboard alone", "put it in braces"),
    ("Danger: keep off", 5, "the `: ` after 'Danger' makes two things of this text", "put quotes around this text"),
])
def test_a_line_that_cannot_be_read_is_told_with_its_place_and_a_fix(step: str, column: int, message: str, fix: str) -> None:
    _, (problem,) = task_of(step)
    assert (problem.place.line, problem.place.column, problem.message) == (4, column, message) and problem.fix.startswith(fix)


@pytest.mark.parametrize(("old", "new", "code", "near"), [
    ("unless: {tank: {key: tank.sump, is", "unless: {tank: {key: tank.sumpf, is", "unknown-tank-key", "tank.sump"),
    ("unless: {tank: {key: equipment.top_up, is: [\"no\"]}}", "unless: {tank: {key: room.temperature, at_least: settle_quik}}", "unknown-number", "settle_quick"),
    ("unless: {tank: {key: equipment.top_up, is: [\"no\"]}}", "unless: {done: site/plase}", "unknown-task", "site/place"),
])
def test_what_a_lines_condition_names_is_looked_up(old: str, new: str, code: str, near: str) -> None:
    (found,) = [p for p in problems_with("setup/start-up.yaml", old, new) if p.code == code]
    assert near in found.fix


# --- a shop's own rules

def laid(tmp_path: Path, key: str, *lines: str, field: str = "steps") -> tuple[Rulebook, tuple[Problem, ...]]:
    owner, _, id = key.partition("/")
    (tmp_path / "setup").mkdir()
    (tmp_path / f"setup/{owner}.yaml").write_text(f"phase: {owner}\ntasks:\n  - id: {id}\n    {field}:\n" + "".join(f"      - {line}\n" for line in lines), encoding="utf-8")
    return load_house(tmp_path, rulebook(), "house")


def watch_of_first_fish() -> tuple[str, ...]:
    return tuple(str(line) for line in rulebook().tasks["fish/stage-1"].watch)


@pytest.mark.parametrize("own", [(), ("Ours.",)], ids=["our lines alone", "with one of the shop's own"])
def test_a_shop_cannot_take_a_line_of_ours_away_from_some_tanks(tmp_path: Path, own: tuple[str, ...]) -> None:
    first, second, third = watch_of_first_fish()
    book, (problem,) = laid(tmp_path, "fish/stage-1", f'{{text: "{first}", unless: {{tank: {{key: name, described: yes}}}}}}', f'"{second}"', f'"{third}"', *own, field="watch")
    assert problem.code == "house-removes" and first[:40] in problem.message
    assert book.tasks["fish/stage-1"].watch == rulebook().tasks["fish/stage-1"].watch


def test_a_shop_may_copy_our_lines_with_or_without_their_condition_and_add_one_of_its_own(tmp_path: Path) -> None:
    first, second, third = watch_of_first_fish()
    book, problems = laid(tmp_path, "fish/stage-1", f'"{first}"', f'"{second}"', f'{{text: "{third}", unless: {{tank: {{key: equipment.quarantine_tank, is: ["no"]}}}}}}',
                          "{text: Ours., unless: {tank: {key: room.floor, is: [solid]}}}", field="watch")
    *_, before, own = book.tasks["fish/stage-1"].watch
    assert problems == () and isinstance(before, Conditional) and isinstance(own, Conditional) and own == "Ours."


@pytest.mark.parametrize(("condition", "code"), [("event: {what: leak, where: bath}", "unknown-water"), ("done: fish/nothing", "unknown-task"), ("tank: {key: room.flor, is: [solid]}", "unknown-tank-key")])
def test_the_condition_of_a_shops_line_is_checked(tmp_path: Path, condition: str, code: str) -> None:
    _, problems = laid(tmp_path, "start-up/pumps", *(f'"{line}"' for line in rulebook().tasks["start-up/pumps"].steps), f"{{text: Ours., unless: {{{condition}}}}}")
    assert [p.code for p in problems] == [code]
