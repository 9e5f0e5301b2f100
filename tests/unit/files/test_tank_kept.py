"""A tank taken up from where it was kept is the tank that its file describes."""

from __future__ import annotations

from pathlib import Path

import pytest

import planner.files.tank_kept as room
from planner.files.kept import Kept
from planner.files.tank import Tank, read_tank
from planner.files.tank_kept import part_from, plain_part, read_tank_kept

FULL = b"""\
id: 3e1f1e2c-90b5-4b3b-8a4e-5f6f3b6c2a11
name: "t\xc3\xa4nk"
start: 2026-01-04
timezone: Europe/London
units: us
tank: {length: 100 cm, width: 50 cm, height: 50 cm, glass: 10 mm, lid: yes}
rock: {kind: live, mass: 15 kg}
sand: {kind: dry, depth: 3 cm}
water: {source: ro, salinity: 34 ppt}
equipment: {heater: [150 W, 150 W], light: 90 W, skimmer: 500 L/h, top_up: yes}
room: {temperature: 21 C}
test_kits: {ammonia: {basis: N, step: 0.25, expires: 2027-05}, nitrate: {basis: ion, step: 5}}
keeper: {away: [{from: 2026-03-01, to: 2026-03-08}], shopping_days: [saturday]}
wish_list: [{animal: ocellaris clownfish, count: 2}]
already: {site: 2026-01-03}
"""
SHORT = b"tank: {volume: 100 L}\n"


def read(text: bytes) -> Tank:
    tank, problems = read_tank(text, "tank.yaml")
    assert tank is not None and not problems, problems
    return tank


@pytest.mark.parametrize("text", [FULL, SHORT], ids=["full", "short"])
def test_a_kept_tank_is_the_same_in_every_part(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, text: bytes) -> None:
    read_tank_kept(Kept(tmp_path), text, "tank.yaml")
    monkeypatch.setattr(room, "read_tank", None)
    there, problems = read_tank_kept(Kept(tmp_path), text, "elsewhere/tank.yaml")
    assert there == read(text)
    assert repr(there) == repr(read(text))
    assert there is not None and there.model_fields_set == read(text).model_fields_set
    assert not problems


def test_every_shipped_scenario_is_kept_and_found_again() -> None:
    files = sorted((Path(__file__).parents[3] / "scenarios").glob("*/tank.yaml"))
    assert files
    for file in files:
        tank = read_tank(file.read_bytes(), file.name)[0]
        assert part_from(plain_part(tank)) == tank, file


def test_one_byte_of_the_file_makes_it_another_tank(tmp_path: Path) -> None:
    read_tank_kept(Kept(tmp_path), SHORT, "tank.yaml")
    there, _ = read_tank_kept(Kept(tmp_path), SHORT.replace(b"100", b"101"), "tank.yaml")
    assert there is not None and there.tank.volume_l == 101


def test_a_file_with_a_problem_is_read_and_told_each_time(tmp_path: Path) -> None:
    text = SHORT + b"colour: blue\n"
    first = read_tank_kept(Kept(tmp_path), text, "tank.yaml")
    assert first[1]
    assert read_tank_kept(Kept(tmp_path), text, "tank.yaml") == first
    assert not list(tmp_path.iterdir())


def test_what_is_whole_but_no_tank_is_read_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for nonsense in ([], 3, {"part": "Rock", "given": [], "fields": {}}, {"part": "Nothing"}, {"day": "soon"}):
        monkeypatch.setattr(Kept, "find", lambda *_, found=nonsense: found)
        assert read_tank_kept(Kept(tmp_path), SHORT, "tank.yaml")[0] == read(SHORT)


def test_a_zone_that_the_system_no_longer_knows_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    read_tank_kept(Kept(tmp_path), FULL, "tank.yaml")

    def gone(_name: str) -> None:
        raise KeyError("no such zone")

    monkeypatch.setattr(room, "ZoneInfo", gone)
    monkeypatch.setattr("planner.files.tank_fields.ZoneInfo", gone)
    assert [p.code for p in read_tank_kept(Kept(tmp_path), FULL, "tank.yaml")[1]] == ["unknown-timezone"]
