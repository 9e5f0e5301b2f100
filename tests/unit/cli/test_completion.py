"""What a shell is offered, asked as click's own completion asks it."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.shell_completion import ShellComplete

from planner.cli import newtank

TANK = "scenarios/dry-rock-us"
ROOT = Path(__file__).parents[3]


@pytest.fixture(autouse=True)
def at_the_root(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)


def offered(*words: str, incomplete: str = "") -> dict[str, str]:
    found = ShellComplete(newtank, {}, "newtank", "_NEWTANK_COMPLETE").get_completions(list(words), incomplete)
    return {item.value: item.help or "" for item in found if item.type == "plain"}


def test_commands_are_offered() -> None:
    assert {"today", "round", "readings"} <= set(offered()) and set(offered(incomplete="ro")) == {"round"}


@pytest.mark.parametrize("command", ["done", "skip", "today", "postpone", "why"])
def test_jobs_are_offered_by_number_and_id_with_their_titles(command: str) -> None:
    found = offered(command, TANK)
    assert "1" in found and any("/" in value for value in found)
    assert all(title for title in found.values())


def test_readings_are_offered_with_their_sign() -> None:
    assert set(offered("log", TANK, incomplete="a")) == {"ammonia=", "alkalinity="}
    assert set(offered("readings", TANK, incomplete="ni")) == {"nitrite", "nitrate"}


def test_a_fact_is_offered_its_kind_and_then_animals_substances_or_events() -> None:
    assert {"added", "dosed", "leak"} <= set(offered("note", TANK))
    assert "amphiprion-ocellaris" in offered("note", TANK, "added", incomplete="amphi")
    assert "ammonia" in offered("note", TANK, "dosed") and "leak" in offered("note", TANK, "event")


def test_phases_are_offered_to_the_plan() -> None:
    assert {"site", "cycle", "care"} <= set(offered("plan", TANK))


def test_without_a_tank_the_shell_offers_its_own_folders(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    found = ShellComplete(newtank, {}, "newtank", "_NEWTANK_COMPLETE").get_completions(["done"], "")
    assert [item.type for item in found] == ["dir"]
