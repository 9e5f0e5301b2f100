"""Rules that lead nowhere or in circles are refused, with their places and the name that was probably meant."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from planner.judge.figures import RESTS_ON
from planner.rulebook.check import check_rules
from planner.rulebook.read import load_rules
from planner.terms.problems import Problem
from tests.rulecases import RULES, rulebook


def problems_with(file: str, old: str, new: str) -> list[Problem]:
    """The shipped rules with one text changed in one file."""
    path = RULES / file
    text = path.read_text(encoding="utf-8")
    assert text.count(old) >= 1, f"{file} no longer has {old!r}"
    book, problems = load_rules(RULES, {path: text.replace(old, new, 1)}, RESTS_ON)
    return [*problems, *check_rules(book)]


def line_of(file: str, text: str) -> int:
    return next(n for n, line in enumerate((RULES / file).read_text(encoding="utf-8").splitlines(), 1) if text in line)


def test_phases_that_wait_for_one_another_are_refused_with_both_places() -> None:
    found = [p for p in problems_with("setup/site.yaml", "order: ", "after: [leak-test]\norder: ") if p.code == "phase-cycle"]
    assert len(found) == 1
    assert "leak-test -> site -> leak-test" in found[0].message
    assert str(found[0].place).startswith("rules/setup/leak-test.yaml:1:")
    assert "rules/setup/site.yaml:1:" in found[0].message


def test_a_longer_circle_of_phases_is_found_too() -> None:
    found = [p for p in problems_with("setup/leak-test.yaml", "after: [site]", "after: [site, cycle]") if p.code == "phase-cycle"]
    assert found and "cycle -> " in found[0].message


def test_tasks_that_hang_on_one_another_are_refused_with_both_places() -> None:
    found = [p for p in problems_with("setup/leak-test.yaml", "id: rinse\n    title: Check the seams, and wipe the tank\n    short: Rinse the tank\n    anchor: {phase: leak-test}",
                                      "id: rinse\n    title: Check the seams, and wipe the tank\n    short: Rinse the tank\n    anchor: {task: leak-test/fill}") if p.code == "task-cycle"]
    assert len(found) == 1
    assert str(found[0].place).startswith(f"rules/setup/leak-test.yaml:{line_of('setup/leak-test.yaml', '- id: fill')}:")
    assert f"rules/setup/leak-test.yaml:{line_of('setup/leak-test.yaml', '- id: rinse')}:" in found[0].message


@pytest.mark.parametrize(("old", "new", "code", "near"), [
    ("after: [site]", "after: [sit]", "unknown-phase", "site"),
    ("anchor: {task: leak-test/rinse}", "anchor: {task: leak-test/rinze}", "unknown-task", "leak-test/rinse"),
    ("wait: leak_watch\n", "wait: leak_wach\n", "unknown-figure", "leak_watch"),
    ("cautions: [glass, chemicals]", "cautions: [glas]", "unknown-caution", "glass"),
    ("amounts: [leak_water, total_weight]", "amounts: [leak_watr, total_weight]", "unknown-quantity", "leak_water"),
    ("Pour in {leak_water} of cold", "Pour in {leak_watr} of cold", "unknown-figure", "leak_water"),
    ("tank: {key: tank.sump, described: yes}", "tank: {key: tank.sumpf, described: yes}", "unknown-tank-key", "tank.sump"),
])
def test_an_unknown_name_is_refused_with_the_nearest_known_one(old: str, new: str, code: str, near: str) -> None:
    found = [p for p in problems_with("setup/leak-test.yaml", old, new) if p.code == code and p.message.startswith("leak-test")]
    assert found, f"no {code}"
    assert found[0].fix == f"write '{near}'"
    assert found[0].place.file == "rules/setup/leak-test.yaml"


def test_a_name_near_to_nothing_is_refused_without_a_guess() -> None:
    found = [p for p in problems_with("setup/leak-test.yaml", "cautions: [glass, chemicals]", "cautions: [zzzzzz]") if p.code == "unknown-caution"]
    assert found[0].fix == "add the caution or take the name out"


def test_two_tasks_of_one_id_are_refused() -> None:
    assert [p.code for p in problems_with("setup/leak-test.yaml", "- id: drain\n", "- id: rinse\n") if p.code == "task-twice"] == ["task-twice"]


def test_a_number_given_twice_is_refused() -> None:
    found = [p for p in problems_with("setup/leak-test.yaml", "  silicone_cure:", "  mix_wait: {value: 7, unit: d, grade: practice}\n  silicone_cure:") if p.code == "number-twice"]
    assert len(found) == 1 and "mix_wait" in found[0].message and "rules/setup/leak-test.yaml" in found[0].message


def test_a_number_above_practice_needs_its_source() -> None:
    unsourced = problems_with("setup/leak-test.yaml", "    value: 48\n    unit: h\n    grade: practice", "    value: 48\n    unit: h\n    grade: measured")
    assert any("needs a source key" in p.message for p in unsourced)
    found = problems_with("setup/leak-test.yaml", "    value: 48\n    unit: h\n    grade: practice", "    value: 48\n    unit: h\n    grade: measured\n    source: teos11\n    says: states")
    assert [p.fix for p in found if p.code == "unknown-source"] == ["write 'teos10'"]


@pytest.mark.parametrize(
    ("lines", "message"),
    [
        ("source: teos10", "tells what its source says"),
        ("source: teos10\n    says: within", "belong together"),
        ("source: teos10\n    says: states\n    range_published: [24, 72]", "belong together"),
        ("source: teos10\n    says: within\n    range_published: [24, 47]", "48 does not lie within the published range of 24 to 47"),
        ("source: teos10\n    says: within\n    range_published: [49, 72]", "48 does not lie within the published range of 49 to 72"),
    ],
)
def test_what_a_source_says_of_a_number_is_told_and_holds(lines: str, message: str) -> None:
    found = problems_with("setup/leak-test.yaml", "    value: 48\n    unit: h\n    grade: practice", f"    value: 48\n    unit: h\n    grade: measured\n    {lines}")
    assert any(message in p.message for p in found), [p.message for p in found]


@pytest.mark.parametrize("ends", ["[48, 72]", "[24, 48]"])
def test_the_ends_of_a_published_range_belong_to_it(ends: str) -> None:
    text = f"    value: 48\n    unit: h\n    grade: measured\n    source: teos10\n    says: within\n    range_published: {ends}"
    assert problems_with("setup/leak-test.yaml", "    value: 48\n    unit: h\n    grade: practice", text) == []


def test_a_practice_tells_nothing_of_a_source_that_it_does_not_have() -> None:
    found = problems_with("setup/leak-test.yaml", "    value: 48\n    unit: h\n    grade: practice", "    value: 48\n    unit: h\n    grade: practice\n    says: states")
    assert any("there is no source key" in p.message for p in found)


@pytest.mark.parametrize(("file", "line", "said"), [
    ("setup/cycle.yaml", "role: proves_filter\n", "no phase has the role 'proves_filter'"), ("care/care.yaml", "role: without_end\n", "no phase has the role 'without_end'"),
    ("setup/scape.yaml", "    known_as: rock_in\n", "no task is known as 'rock_in'")])
def test_a_role_that_the_engine_needs_and_nobody_has_is_reported(file: str, line: str, said: str) -> None:
    assert [(p.code, p.message) for p in problems_with(file, line, "")] == [("role-missing", said)]


def test_a_role_of_two_phases_is_reported_with_both_places() -> None:
    found = problems_with("setup/lights.yaml", "phase: lights\n", "phase: lights\nrole: stocks_fish\n")
    assert [(p.code, p.place.file) for p in found] == [("role-twice", "rules/setup/fish.yaml")]
    assert found[0].message == "the phase fish has the role 'stocks_fish', which lights has too, at rules/setup/lights.yaml:1:8"


def test_a_condition_has_one_key() -> None:
    found = problems_with("setup/leak-test.yaml", "      - done: leak-test/fill\n        say:", "      - done: leak-test/fill\n        event: leak\n        say:")
    assert any("exactly one of the keys" in p.message for p in found)


def test_rule_files_in_a_folder_elsewhere_are_read_the_same(tmp_path: Path) -> None:
    shutil.copytree(RULES, tmp_path / "rules")
    there, here = load_rules(tmp_path / "rules")[0], load_rules(RULES)[0]
    assert there == here


def test_a_change_of_curing_or_soaking_water_is_written_for_the_curing_bin() -> None:
    changes = [t for p in rulebook().phases if p.phase == "rock" for t in p.tasks if t.writes is not None and t.writes.kind == "changed_water"]
    assert [(t.id, t.where) for t in changes] == [("soak-change", "curing"), ("cure-change", "curing"), ("cure-weekly", "curing")]
