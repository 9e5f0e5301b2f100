"""Lives as a whole: a seed is one life, the keepers write what the commands write, and the counts stay under their ceiling."""

from __future__ import annotations

import os
import random
from collections import Counter
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
import yaml
from click.testing import CliRunner
from rich.console import Console

from planner.cli import newtank
from planner.terms.records import Yielded
from tests.keepers.ceilings import CEILINGS, DAYS, SEEDS
from tests.keepers.door import Door
from tests.keepers.keeper import Keeper
from tests.keepers.lives import FAULTS, TEMPERS, WAYS, make_life
from tests.keepers.offence import KINDS
from tests.keepers.record import Day
from tests.keepers.room import Room
from tests.keepers.runs import live, run
from tests.keepers.story import diary
from tests.keepers.tank import TEMP

HEADER = "when,kind,what,value,unit,where,note\n"


def folder(path: Path, seed: int = 0) -> Path:
    path.mkdir()
    (path / "tank.yaml").write_text(yaml.safe_dump(make_life(seed, 120).tank, sort_keys=False, allow_unicode=True), encoding="utf-8")
    (path / "journal.csv").write_text(HEADER, encoding="utf-8")
    return path


def rows(path: Path) -> list[str]:
    """The journal without the tags that tie rows together."""
    return [line.rpartition(",")[0] for line in (path / "journal.csv").read_text(encoding="utf-8").splitlines()]


def test_a_seed_replays_its_life_exactly() -> None:
    first, second = (live(9, 7) for _ in range(2))
    assert [d.said for d in first[1]] == [d.said for d in second[1]]
    assert [d.water for d in first[1]] == [d.water for d in second[1]]
    assert first[1][-1].said or any(d.said for d in first[1])


def test_few_lives_show_every_way_temper_and_fault() -> None:
    lives = [make_life(seed, 150) for seed in range(28)]
    assert {life.way for life in lives} == set(WAYS)
    assert {life.temper for life in lives} == set(TEMPERS)
    assert {life.fault for life in lives} == set(FAULTS)
    assert len({(life.way, life.temper) for life in lives}) == 28


@pytest.mark.parametrize("seed", range(8))
def test_every_tank_file_is_one_that_the_planner_reads_whole(seed: int, tmp_path: Path) -> None:
    door = Door(folder(tmp_path / "tank", seed), make_life(seed, 120).start)
    assert door.open(door.on).problems == ()


def test_the_door_writes_the_rows_that_the_commands_write(tmp_path: Path) -> None:
    by_door, by_command = folder(tmp_path / "door"), folder(tmp_path / "command")
    on = make_life(0, 120).start
    door = Door(by_door, on)
    door.open(on)
    assert door.done("site/place", "18:03").refused == ""
    door.log({"ammonia": "0.25", "nitrite": "over5", "temperature": "25.1C"}, "display", "18:06")
    door.note("changed_water", "water", "10", "%", at="18:09")
    door.done("cycle/first-dose", "18:12")
    runner = CliRunner()
    for command in (["done", "site/place", "--at", "18:03"], ["log", "ammonia=0.25", "nitrite=over5", "temperature=25.1C", "--at", "18:06", "--where", "display"],
                    ["note", "changed_water", "10%", "--at", "18:09"], ["done", "cycle/first-dose", "--at", "18:12"]):
        assert runner.invoke(newtank, [command[0], *command[1:], "--tank", str(by_command), "--on", on.isoformat(), "--yes"]).exit_code == 0
    assert rows(by_door) == rows(by_command)
    assert len(rows(by_door)) > 6


def test_the_door_refuses_what_the_commands_refuse(tmp_path: Path) -> None:
    door = Door(folder(tmp_path / "tank"), make_life(0, 120).start)
    door.open(door.on)
    assert "protects" in door.skip("leak-test/watch").refused
    assert rows(door.folder) == [HEADER.strip().rpartition(",")[0]]


def test_an_obedient_keeper_leaves_nothing_of_the_page_undone(tmp_path: Path) -> None:
    keeper = Keeper(make_life(8, 120), tmp_path)
    days = keeper.live_for(6)
    done = {id for day in days for id, _ in day.done}
    asked = {job.id for day in days[:-1] for job in day.pages[0].jobs if job.role != "test"}
    assert asked <= done


def test_a_keeper_who_is_asked_whether_animals_came_gives_a_new_day(tmp_path: Path) -> None:
    keeper = Keeper(make_life(8, 120), tmp_path)
    plan = keeper.door.open(keeper.today)
    job = next(t for t in plan.tasks if t.id == "site/place")
    day = Day(0, keeper.today)
    keeper._answer(replace(plan, tasks=(replace(job, yielded=(Yielded("asked", to=job.id),)),)), day)
    assert [(row[0], row[1]) for row in day.rows] == [("postponed", job.id)]
    assert date.fromisoformat(day.rows[0][2]) > keeper.today


@pytest.mark.parametrize("key", ["warm/cool", "heat/cool", "heat-severe/cool", "start-up/cool"])
def test_who_cools_the_water_finds_the_heater_that_stays_on(key: str) -> None:
    room = Room(100.0, "dry", 10.0, 35.0, 25.0, random.Random(1), 60.0)
    room.display.heater_state = "stuck"
    room.tick(key)
    assert room.display.heater_state == "works"


@pytest.mark.parametrize(("phase", "inside", "outside"), [("cycle", 27.5, 28.6), ("care", 26.5, 27.6), ("care", 24.5, 23.4)])
def test_the_daily_look_logs_a_temperature_that_its_page_asks_for(phase: str, inside: float, outside: float, tmp_path: Path) -> None:
    keeper = Keeper(make_life(8, 120), tmp_path)
    job = next(t for t in keeper.door.open(keeper.today).tasks if t.key == f"{phase}/look")
    for temperature, logged in ((inside, []), (outside, ["display:temperature"])):
        day = Day(0, keeper.today)
        keeper.room.display.y[TEMP] = temperature
        keeper._thermometer(job, day)
        assert list(day.readings) == logged


def test_a_story_tells_page_deed_and_tank() -> None:
    told = "\n".join(diary(*live(8, 4)))
    assert all(word in told for word in ("  page  ", "  does  done site/place", "  tank  ammonia"))


@pytest.mark.slow
@pytest.mark.long
def test_lives_offend_no_more_than_they_did() -> None:
    lives = run(SEEDS, DAYS, os.cpu_count() or 1, None, Console(quiet=True))
    assert [life["crash"] for life in lives if life.get("crash")] == []
    counted = Counter(o["kind"] for life in lives for o in life["offences"])
    assert {kind: counted[kind] for kind in KINDS if counted[kind] > CEILINGS[kind]} == {}
