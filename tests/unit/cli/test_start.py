"""`newtank start`: what it writes, asks, says and refuses. Expected texts and figures are this project's own contract."""

from __future__ import annotations

import json
import re
import uuid
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from planner.cli import newtank
from planner.cli.setup_questions import QUESTIONS
from planner.files.journal import HEADER
from planner.files.tank import Tank, known_paths, read_tank
from planner.show.words.blank_tank_file import replace_key, tank_text, yaml_value
from planner.show.words.filled_tank_file import fill_gaps

SIZE = ("--length", "80 cm", "--width", "45 cm", "--height", "45 cm")
DAY = ("--on", "2026-03-02", "--timezone", "Europe/Berlin")
SCENARIO = """\
# A reef for a small room.
id: 7f0c2a34-5f3e-4a7e-9c55-0c3d5a1b9e10  # its own
name: small room
start: 2025-01-01
tank: {volume: 100 L}  # as sold
"""


def start(*args: str, answers: str | None = None) -> Result:
    return CliRunner().invoke(newtank, ["start", *args], input=answers)


def tank_in(folder: Path) -> Tank:
    tank, problems = read_tank((folder / "tank.yaml").read_bytes(), "tank.yaml")
    assert problems == ()
    assert tank is not None
    return tank


@pytest.fixture
def scenarios(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    root = tmp_path / "scenarios"
    (root / "small-room").mkdir(parents=True)
    (root / "small-room" / "tank.yaml").write_text(SCENARIO, "utf-8")
    (root / "small-room" / "journal.csv").write_text(f"{HEADER}\n2025-01-02,done,site/place,,,,\n", "utf-8")
    monkeypatch.setattr("planner.cli.setup.shipped", lambda _: root)
    return root


def test_options_become_a_tank_file_that_reads_without_problems(tmp_path: Path) -> None:
    folder = tmp_path / "reef"
    done = start(str(folder), *SIZE, *DAY, "--rock", "dry", "--set", "tank.lid=yes", "--set", "test_kits.ammonia.basis=ion", "--set", "already.site=2026-02-01")
    assert done.exit_code == 0, done.output
    tank = tank_in(folder)
    assert (tank.tank.length_cm, tank.tank.lid, tank.rock.kind, tank.timezone) == (80, True, "dry", "Europe/Berlin")
    assert tank.test_kits["ammonia"].basis == "ion"
    assert (str(tank.start), str(tank.already["site"])) == ("2026-03-02", "2026-02-01")
    assert uuid.UUID(tank.id or "").version == 4
    assert (folder / "journal.csv").read_bytes() == (HEADER + "\n").encode()
    assert "newtank plan" in done.output


def test_two_tanks_never_share_an_id(tmp_path: Path) -> None:
    for name in ("one", "two"):
        start(str(tmp_path / name), "--volume", "100 L", *DAY)
    assert tank_in(tmp_path / "one").id != tank_in(tmp_path / "two").id


def test_what_stays_undescribed_is_said(tmp_path: Path) -> None:
    told = start(str(tmp_path / "reef"), *SIZE, *DAY, "--source", "tap").output
    assert "the kind of rock" in told
    assert "where the water comes from" not in told


@pytest.mark.parametrize(("sand", "said"), [((), True), (("--sand", "dry"), True), (("--sand", "dry", "--sand-mass", "10 kg"), False), (("--set", "sand.depth=3 cm"), False), (("--sand", "none"), False)])
def test_sand_without_mass_or_depth_is_said_to_be_undescribed(tmp_path: Path, sand: tuple[str, ...], said: bool) -> None:
    told = " ".join(start(str(tmp_path / "reef"), *SIZE, *DAY, *sand).output.split())
    assert ("how much sand or how deep" in told) == said


def test_an_existing_tank_file_is_not_overwritten(tmp_path: Path) -> None:
    (tmp_path / "tank.yaml").write_text("tank: {volume: 90 L}\n", "utf-8")
    done = start(str(tmp_path), *SIZE, *DAY)
    assert done.exit_code == 2
    assert (tmp_path / "tank.yaml").read_text("utf-8") == "tank: {volume: 90 L}\n"
    assert not (tmp_path / "journal.csv").exists()


def test_a_journal_that_is_there_is_kept(tmp_path: Path) -> None:
    (tmp_path / "journal.csv").write_bytes(b"my own\n")
    done = start(str(tmp_path), *SIZE, *DAY)
    assert done.exit_code == 0
    assert (tmp_path / "journal.csv").read_bytes() == b"my own\n"
    assert "is kept" in done.output


@pytest.mark.parametrize(("args", "told"), [
    ((), "size of the tank"),
    (("--volume", "100"), "100 L"),
    (("--volume", "100 L", "--rock", "lve"), "`live`"),
    (("--volume", "100 L", "--set", "tank.ld=yes"), "tank.lid"),
    (("--volume", "100 L", "--set", "tank=yes"), "heading"),
    (("--volume", "100 L", "--set", "tank.lid"), "KEY=VALUE"),
    (("--volume", "100 L", *SIZE), "contradict"),
    (("--volume", "100 L", "--timezone", "Europe/Berln"), "Europe/Berlin"),
    (("--from", "nowhere"), "scenario"),
    (("--volume", "100 L", "--with-journal"), "--from"),
])  # fmt: skip
def test_wrong_answers_are_refused_with_the_fix_and_leave_nothing_behind(tmp_path: Path, args: tuple[str, ...], told: str) -> None:
    folder = tmp_path / "reef"
    done = start(str(folder), *args)
    assert done.exit_code == 2
    assert told in done.output
    assert not folder.exists()


def test_a_scenario_comes_with_a_new_id_and_a_new_start_and_its_comments(tmp_path: Path, scenarios: Path) -> None:
    folder = tmp_path / "mine"
    assert start(str(folder), "--from", "small-room", "--name", "Kitchen: reef", *DAY).exit_code == 0
    tank = tank_in(folder)
    assert tank.id != "7f0c2a34-5f3e-4a7e-9c55-0c3d5a1b9e10"
    assert (tank.name, str(tank.start), tank.tank.volume_l, tank.timezone) == ("Kitchen: reef", "2026-03-02", 100, "Europe/Berlin")
    assert "# as sold" in (folder / "tank.yaml").read_text("utf-8")
    assert (folder / "journal.csv").read_text("utf-8") == HEADER + "\n"


def test_a_scenarios_journal_comes_along_only_when_asked_for_and_keeps_its_dates(tmp_path: Path, scenarios: Path) -> None:
    folder = tmp_path / "mine"
    assert start(str(folder), "--from", "small-room", "--with-journal").exit_code == 0
    assert "site/place" in (folder / "journal.csv").read_text("utf-8")
    assert str(tank_in(folder).start) == "2025-01-01"


def test_a_misspelt_scenario_is_answered_with_the_nearest(tmp_path: Path, scenarios: Path) -> None:
    assert "small-room" in start(str(tmp_path / "mine"), "--from", "smal-room").output


def test_on_a_terminal_it_asks_and_asks_again_after_a_slip(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("planner.cli.setup.has_terminal", lambda: True)
    monkeypatch.setattr("planner.cli.setup_questions.has_terminal", lambda: True)
    folder = tmp_path / "reef"
    done = start(str(folder), "--timezone", "Europe/Berlin", answers="Window reef\n80\n80 cm\n45 cm\n45 cm\nlve\nlive\n\ntap\n\nsuspended\nyes\n60 W\n60 L\nion\n0.25\nN\n\n\nclownfish\n1\n2\n3 turbo snails\n\n\n")
    assert done.exit_code == 0, done.output
    tank = tank_in(folder)
    assert (tank.tank.length_cm, tank.rock.kind, tank.rock.mass_kg, tank.water.source, tank.room.temperature_c) == (80, "live", None, "tap", None)
    assert tank.test_kits["ammonia"].basis == "ion" and tank.name == "Window reef"
    assert (tank.room.floor, tank.tank.lid, tank.equipment.bin_l, tank.test_kits["ammonia"].step, tank.test_kits["nitrite"].basis) == ("suspended", True, 60, 0.25, "N")
    assert [(w.animal, w.count) for w in tank.wish_list] == [("amphiprion-ocellaris", 2), ("turbo-fluctuosus", 3)], "a number before a name is how many"
    assert "Understood:" in done.output and "ammonia counts ion in steps of 0.25" in done.output and "2 x ocellaris clownfish" in done.output
    assert "not asked, so taken as most do it: how the filter is fed" in " ".join(done.output.split())


HAND_MADE = """\
# Our reef, by hand.
name: "Küchenriff"   # in the kitchen
tank: {volume: 90 L}  # as sold

room:
    temperature: 20 °C     # measured in winter
#rock:
#  kind: dry   # later
"""


def test_gaps_of_a_description_are_filled_and_every_comment_stays(tmp_path: Path) -> None:
    path = tmp_path / "tank.yaml"
    path.write_bytes(HAND_MADE.replace("\n", "\r\n").encode())
    done = start(str(tmp_path), "--floor", "solid", "--bin", "60 L", "--set", "tank.lid=yes", "--set", "test_kits.ammonia.basis=ion")
    assert done.exit_code == 0, done.output
    text = path.read_bytes().decode()
    tank = tank_in(tmp_path)
    assert (tank.room.floor, tank.equipment.bin_l, tank.tank.lid, tank.test_kits["ammonia"].basis, tank.room.temperature_c) == ("solid", 60, True, "ion", 20)
    assert "\n" not in text.replace("\r\n", "")
    for line in ("# Our reef, by hand.", 'name: "Küchenriff"   # in the kitchen', "    temperature: 20 °C     # measured in winter", "#  kind: dry   # later", "# as sold"):
        assert line in text


def test_a_key_that_is_described_is_not_written_a_second_time(tmp_path: Path) -> None:
    (tmp_path / "tank.yaml").write_text(HAND_MADE, "utf-8")
    done = start(str(tmp_path), "--room", "22 C")
    assert done.exit_code == 2 and "stands in" in done.output
    assert (tmp_path / "tank.yaml").read_text("utf-8") == HAND_MADE


def test_on_a_terminal_only_what_is_missing_is_asked(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("planner.cli.setup.has_terminal", lambda: True)
    monkeypatch.setattr("planner.cli.setup_questions.has_terminal", lambda: True)
    (tmp_path / "tank.yaml").write_text(HAND_MADE, "utf-8")
    done = start(str(tmp_path), answers="Europe/Berlin\ndry\n\nro\nsolid\n\n\n\n\n\n\n\n")
    assert done.exit_code == 0, done.output
    assert "coolest" not in done.output and "Length along the front" not in done.output
    assert (tank_in(tmp_path).rock.kind, tank_in(tmp_path).room.floor, tank_in(tmp_path).timezone) == ("dry", "solid", "Europe/Berlin")


@pytest.mark.parametrize("path", sorted(p for p in known_paths() if p.count(".") >= 1 and not p.startswith(("tank.", "already.", "keeper.away", "wish_list")))[::4])
def test_a_blank_description_takes_each_key_at_its_place(path: str) -> None:
    """The file that `start` writes, with one line taken into use: its other lines stay as they were."""
    blank = tank_text({"tank.volume": "160 L"})
    filled = fill_gaps(blank, {path: "VALUE"})
    changed = [line for line in filled.splitlines() if line not in blank.splitlines()]
    assert [line for line in changed if f"{path.rpartition('.')[2]}: VALUE" in line] and all(line.strip().endswith(":") or "VALUE" in line or ":  " in line for line in changed)
    assert set(blank.splitlines()) - set(filled.splitlines()) <= {line for line in blank.splitlines() if any(f"{key}:" in line for key in path.split("."))}


def test_on_a_terminal_a_volume_stands_for_the_three_measures(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("planner.cli.setup.has_terminal", lambda: True)
    monkeypatch.setattr("planner.cli.setup_questions.has_terminal", lambda: True)
    folder = tmp_path / "reef"
    done = start(str(folder), "--timezone", "Europe/Berlin", answers="\n40 gal\n" + "\n" * 20)
    assert done.exit_code == 0, done.output
    tank = tank_in(folder)
    assert tank.name == "reef"  # Enter takes the folder's
    # 1 US gallon is 231 cubic inches, 3.785411784 L (NIST Handbook 44, appendix C).
    assert tank.tank.volume_l == pytest.approx(40 * 3.785411784)
    assert (tank.rock.kind, tank.water.source) == ("dry", "ro")


@pytest.mark.parametrize(("machine", "offered"), [("America/Chicago", "America/Chicago"), ("Etc/UTC", ""), ("", "")])
def test_the_zone_of_the_computer_is_offered_and_utc_is_never_taken_by_an_enter(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, machine: str, offered: str) -> None:
    """A computer left at UTC tells nothing of where it stands. It is asked early, while it is looked at."""
    monkeypatch.setattr("planner.cli.setup.has_terminal", lambda: True)
    monkeypatch.setattr("planner.cli.setup_questions.has_terminal", lambda: True)
    monkeypatch.setattr("planner.cli.setup.LOCALTIME", tmp_path / "none")
    monkeypatch.setattr("planner.cli.setup.TIMEZONE", tmp_path / "timezone")
    monkeypatch.delenv("TZ", raising=False)
    (tmp_path / "timezone").write_text(f"{machine}\n", "utf-8")
    done = start(str(tmp_path / "reef"), answers="\n\n40 gal\n" + "\n" * 20)
    assert done.exit_code == 0, done.output
    assert done.output.index("Time zone") < done.output.index("Length along the front")
    assert (f"[{offered}]" in done.output) == bool(offered) and "Etc/UTC" not in done.output
    assert tank_in(tmp_path / "reef").timezone == (offered or None)


def test_an_empty_answer_to_the_size_names_a_way_out(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("planner.cli.setup.has_terminal", lambda: True)
    monkeypatch.setattr("planner.cli.setup_questions.has_terminal", lambda: True)
    said = start(str(tmp_path / "reef"), "--timezone", "Europe/Berlin", answers="\n\n80 cm\n\n").output
    assert "Type what it holds, such as 160 L, or stop with Ctrl-C" in " ".join(said.split()) and "--volume '160 L'" in said


def test_the_room_is_asked_for_as_the_file_explains_it() -> None:
    asked = next(question for path, question, *_ in QUESTIONS if path == "room.temperature")
    assert "coolest" in asked and "the coolest it usually gets" in tank_text({"tank.volume": "160 L"})


def test_panes_may_be_given_as_a_fraction_of_an_inch(tmp_path: Path) -> None:
    folder = tmp_path / "reef"
    assert start(str(folder), *SIZE, *DAY, "--glass", "1/4 in").exit_code == 0
    assert tank_in(folder).tank.glass_mm == pytest.approx(6.35)  # an inch is 25.4 mm (international agreement of 1959)


def test_the_machine_form_names_id_and_next_command(tmp_path: Path) -> None:
    folder = tmp_path / "my reef"
    told = json.loads(start(str(folder), *SIZE, *DAY, "--json").output)
    assert told["id"] == tank_in(folder).id
    assert told["next"] == f'newtank plan "{folder}"'


def test_every_line_behind_a_sign_is_a_line_that_reads_once_the_sign_is_away() -> None:
    text = tank_text({"tank.length": "80 cm", "tank.width": "45 cm", "tank.height": "45 cm"})
    open_text = re.sub(r"(?m)^( *)#(?=[a-z_]+:)(?!volume)(?!  cured_in)", r"\1", text)
    open_text = re.sub(r"(?m)^ *(cured_in|volume):.*\n", "", open_text)  # for live rock, and in place of the measures
    tank, problems = read_tank(open_text, "tank.yaml")
    assert problems == ()
    assert tank is not None
    assert (tank.sand.mass_kg, tank.keeper.reminder_time, tank.wish_list[0].count) == (10, "18:00", 2)
    assert tank.test_kits["nitrate"].step == 5


@pytest.mark.parametrize("name", ['a: b', "# no", "- x", "[half", 'say "hi"', "C:\\reef", "émile's reef", "yes", "*star", "{x", "a  b\nc", "!tag", "1,5: 2"])
def test_any_name_comes_back_as_it_was_typed(name: str) -> None:
    tank, problems = read_tank(tank_text({"tank.volume": "100 L", "name": name}), "tank.yaml")
    assert problems == ()
    assert tank is not None
    assert tank.name == " ".join(name.split())


def test_a_key_that_is_missing_is_added_above() -> None:
    assert replace_key("tank: {volume: 9 L}\n", "id", "x") == "id: x\ntank: {volume: 9 L}\n"
    assert yaml_value("[saturday]") == "[saturday]"


def test_a_mass_without_its_unit_is_refused_with_its_whole_name_on_no_line_that_is_too_long(tmp_path: Path) -> None:
    for option, key in (("--rock-mass", "rock.mass"), ("--sand-mass", "sand.mass")):
        wrong = start(str(tmp_path / "new"), *SIZE, *DAY, option, "18")
        assert wrong.exit_code == 2 and f"`{key}`: 18 has no unit." in wrong.output and max(map(len, wrong.output.splitlines())) <= 80


def test_a_phase_that_was_passed_may_be_a_shops_own_but_no_slip(tmp_path: Path) -> None:
    wrong = start(str(tmp_path / "slip"), *SIZE, *DAY, "--set", "already.cycel=2026-02-01")
    assert wrong.exit_code == 2 and "Did you mean 'already.cycle'?" in " ".join(wrong.output.split())
    assert start(str(tmp_path / "ours"), *SIZE, *DAY, "--set", "already.our-visit=2026-02-01").exit_code == 0
    assert str(tank_in(tmp_path / "ours").already["our-visit"]) == "2026-02-01"
