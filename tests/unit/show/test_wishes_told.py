"""Wishes that name several animals, none, or one that cannot be kept are told at the counter by every command that takes them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from planner.cli import newtank
from planner.rulebook.read import shipped
from planner.stock.catalogue import load_catalogue

CATALOGUE = load_catalogue([shipped("rules") / "livestock"])
ON = ("--on", "2026-03-02")
LIST = "wish_list=[{animal: clownfish}, {animal: unicorn}, {animal: pterois-volitans}]"


def run(*args: object) -> Result:
    return CliRunner().invoke(newtank, list(map(str, args)))


@pytest.fixture
def tank(tmp_path: Path) -> Path:
    folder = tmp_path / "tanks" / "mine"
    done = run("start", folder, "--volume", "200 L", "--timezone", "Europe/London", "--set", LIST, *ON)
    assert done.exit_code == 0
    assert "'clownfish' could be more than one animal. Did you mean ocellaris clownfish (amphiprion-ocellaris)," in done.stderr and "'unicorn'" in done.stderr
    return folder


@pytest.mark.parametrize("written", ["clownfish", "[clownfish]"])
def test_a_list_that_is_none_is_answered_with_one_that_works(written: str, tmp_path: Path) -> None:
    size = ("--volume", "200 L", "--timezone", "Europe/London", *ON)
    told = run("start", tmp_path / "a", *size, "--set", f"wish_list={written}")
    assert told.exit_code == 2
    assert run("start", tmp_path / "a", *size, "--set", told.stderr.partition("--set '")[2].partition("'")[0]).exit_code == 0


def test_a_choice_has_common_names_first_and_ends_with_or() -> None:
    ids = CATALOGUE.find("clownfish").candidates
    names = [f"{a.name} ({a.id})" for i in ids if (a := CATALOGUE.get(i)) is not None]
    assert CATALOGUE.choice(ids[:2]) == f"{names[0]} or {names[1]}"
    assert CATALOGUE.choice(ids[:3]) == f"{names[0]}, {names[1]} or {names[2]}"
    assert CATALOGUE.choice(ids, 2) == f"{names[0]}, {names[1]} or one of {len(ids) - 2} more"


def test_the_printed_plan_says_what_it_left_out_on_the_way(tank: Path, tmp_path: Path) -> None:
    for more in ((), ("--json",)):
        done = run("handout", tank, "-o", tmp_path / "plan.pdf", *ON, *more)
        assert done.exit_code == 0
        assert [line.partition(" ")[0] for line in done.stderr.splitlines()] == ["'clownfish'", "'unicorn'", "Not"]
        assert "'unicorn' on your wish list is not planned, because we do not know this animal." in done.stderr
        assert not more or json.loads(done.stdout)["problems"] == []


def test_a_days_handouts_name_the_folder_and_say_it_again_when_nothing_changed(tank: Path, tmp_path: Path) -> None:
    first, second = (run("handouts", tank.parent, "--out", tmp_path / "out", "--jobs", "1", *ON) for _ in range(2))
    assert first.exit_code == second.exit_code == 0 and "3 unchanged" in second.stdout
    for done in (first, second):
        told = [line for line in done.stderr.splitlines() if line.startswith("mine: ")]
        assert len(told) == 3 and "'clownfish'" in told[0] and "'unicorn'" in told[1] and "red lionfish" in told[2]


def test_a_list_of_which_nothing_can_be_kept_has_no_sums(tank: Path) -> None:
    text = run("stock", tank, *ON).stdout
    assert "red lionfish" in text and "The list as a whole" not in text and " 0 mg" not in text and " 0 L" not in text


def test_a_list_of_which_something_can_be_kept_has_its_sums(tmp_path: Path) -> None:
    run("start", tmp_path / "b", "--length", "120cm", "--width", "50cm", "--height", "50cm", "--timezone", "Europe/London", "--set", "wish_list=[{animal: amphiprion-ocellaris}]", *ON)
    done = run("stock", tmp_path / "b", *ON)
    assert "The list as a whole" in done.stdout and "mg of nitrogen a day" in done.stdout
