"""Plan, calendar and printed plan for many tank folders: whole, repeatable, and never stopped by one bad folder."""

from __future__ import annotations

import errno
import json
import ntpath
import os
import pty
import shutil
import signal
import subprocess
import sys
import time
import unicodedata
import zlib
from collections.abc import Callable
from pathlib import Path, PurePosixPath, PureWindowsPath

import jsonschema
import pytest
from click.testing import CliRunner, Result
from hypothesis import given
from hypothesis import strategies as st
from pypdf import PdfReader
from rich.cells import cell_len

from planner.cli import handouts_tank as tankwork
from planner.cli import newtank, share
from planner.cli.handouts_pool import run_all
from planner.plan.many_tanks import FILES, End, Made, output_paths
from planner.show.json.output_schema import schema_of
from planner.show.paper.edition import facts_in
from planner.show.terminal.tanks_table import batch_lines
from planner.show.words.words import plain_text
from planner.terms.problems import Place, Problem

ON = ("--on", "2026-03-10")
TANK = """id: {id}
name: {name}
start: 2026-03-02
timezone: Europe/London
tank: {{length: 100 cm, width: 50 cm, height: 50 cm, glass: 10 mm, waterline: 3 cm}}
rock: {{kind: dry, mass: 15 kg}}
water: {{source: ro}}
"""
JOURNAL = "when,kind,what,value,unit,where,note\n2026-03-02,done,site/place,,,display,\n"


def add_tank(folder: Path, number: int, name: str = "Reef", text: str = TANK) -> Path:
    folder.mkdir(parents=True)
    (folder / "tank.yaml").write_text(text.format(id=f"7f0c2a34-5f3e-4a7e-9c55-{number:012d}", name=name), encoding="utf-8")
    (folder / "journal.csv").write_text(JOURNAL, encoding="utf-8")
    return folder


def fill(shop: Path) -> Path:
    """Three tanks, one of them inside another's folder."""
    add_tank(shop / "ash", 1, "Ash reef")
    add_tank(shop / "birch", 2, "Birch reef")
    add_tank(shop / "birch" / "second tank", 3, "Nano")
    return shop


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    return fill(tmp_path / "shop")


@pytest.fixture(scope="module")
def made_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The same three tanks with the files that a first run made of them."""
    home = tmp_path_factory.mktemp("made")
    fill(home / "shop")
    assert handouts(home / "shop", *ON).exit_code == 0
    return home


@pytest.fixture
def made(made_once: Path, tmp_path: Path) -> Path:
    """The shop after a first run, which a test may change."""
    for name in ("shop", "out"):
        shutil.copytree(made_once / name, tmp_path / name)
    return tmp_path / "shop"


def handouts(shop: Path, *words: str, out: Path | None = None, jobs: int = 1) -> Result:
    return CliRunner(env={"COLUMNS": "80"}).invoke(newtank, ["handouts", str(shop), "--out", str(out or shop.parent / "out"), "--jobs", str(jobs), *words])


def files_in(folder: Path) -> dict[str, bytes]:
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def times_in(folder: Path) -> dict[str, int]:
    return {p.relative_to(folder).as_posix(): p.stat().st_mtime_ns for p in sorted(folder.rglob("*")) if p.is_file()}


def made_in(out: Path) -> list[str]:
    return sorted(p.parent.relative_to(out).as_posix() for p in out.rglob("plan.json"))


# --- what is made


def test_each_tank_has_what_the_single_commands_give(shop: Path, tmp_path: Path) -> None:
    assert handouts(shop, *ON).exit_code == 0
    for tank in ("ash", "birch", "birch/second tank"):
        plan = CliRunner().invoke(newtank, ["plan", str(shop / tank), "--json", *ON])
        assert (tmp_path / "out" / tank / "plan.json").read_bytes() == plan.stdout_bytes
        CliRunner().invoke(newtank, ["calendar", str(shop / tank), "-o", str(tmp_path / "single.ics"), *ON])
        assert (tmp_path / "out" / tank / "calendar.ics").read_bytes() == (tmp_path / "single.ics").read_bytes()
        assert (tmp_path / "out" / tank / "handout.pdf").read_bytes().startswith(b"%PDF-")
        (tmp_path / "single.ics").unlink()


def test_the_table_names_every_tank_with_its_first_animal(shop: Path) -> None:
    done = handouts(shop, *ON)
    first = min(t["date"] for t in json.loads((shop.parent / "out" / "ash" / "plan.json").read_text())["tasks"] if t["role"] == "animals")
    year, month, day = first.split("-")
    row = next(line for line in done.stdout.splitlines() if line.startswith("ash (Ash reef)"))
    assert f" {int(day)} " in row and year in row and row.endswith("3 written"), month
    assert "3 ready. 9 files written, 0 unchanged, in " in " ".join(done.stdout.split())
    assert max(map(len, done.stdout.splitlines())) <= 80


def test_the_columns_stand_in_line_below_each_other_in_any_script(shop: Path) -> None:
    add_tank(shop / "\u73ca\u745a\u7901", 4, "\u9b5a" * 60)
    rows = [line for line in handouts(shop, *ON).stdout.splitlines() if line.endswith("3 written")]
    assert len({cell_len(row) for row in rows}) == 1 and len(rows) == 4


def test_the_machine_form_follows_its_schema(shop: Path) -> None:
    (shop / "ash" / "tank.yaml").write_text("tank: [", encoding="utf-8")
    found = json.loads(handouts(shop, *ON, "--json").stdout)
    jsonschema.validate(found, schema_of("handouts"))
    assert [(t["folder"], list(t["files"])) for t in found["tanks"]] == [("ash", []), ("birch", list(FILES)), ("birch/second tank", list(FILES))]


def test_without_a_pretended_day_the_export_log_of_each_tank_is_written(shop: Path) -> None:
    assert handouts(shop).exit_code == 0
    assert all((shop / tank / "calendar-log.csv").is_file() for tank in ("ash", "birch", "birch/second tank"))
    assert not (shop / "calendar-log.csv").exists()


def test_a_folder_that_is_itself_a_tank_has_its_files_in_the_output_itself(shop: Path, tmp_path: Path) -> None:
    assert handouts(shop / "birch", *ON, out=tmp_path / "out").exit_code == 0
    assert made_in(tmp_path / "out") == [".", "second tank"]


def test_an_output_inside_the_folder_is_not_walked(shop: Path) -> None:
    first = handouts(shop, *ON, out=shop / "out")
    second = handouts(shop, *ON, out=shop / "out")
    assert first.exit_code == second.exit_code == 0 and "3 ready. 0 files written, 9 unchanged" in second.stdout


def test_two_processes_make_the_same_bytes_as_one(made: Path, tmp_path: Path) -> None:
    assert handouts(made, *ON, out=tmp_path / "two", jobs=2).exit_code == 0
    assert files_in(tmp_path / "out") == files_in(tmp_path / "two")


# --- only what changed


@pytest.mark.parametrize("words", [ON, ()], ids=["pretended", "today"])
def test_a_second_run_writes_nothing(shop: Path, tmp_path: Path, words: tuple[str, ...]) -> None:
    handouts(shop, *words)
    before = times_in(tmp_path)
    again = handouts(shop, *words)
    assert again.exit_code == 0 and "0 files written, 9 unchanged" in again.stdout
    assert times_in(tmp_path) == before


def test_a_second_run_works_nothing_out(made: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tankwork, "plan_with_stock", lambda *_: pytest.fail("planned again"))
    assert handouts(made, *ON).exit_code == 0


def test_a_new_row_makes_the_files_of_its_tank_alone_again(made: Path, tmp_path: Path) -> None:
    before = times_in(tmp_path / "out")
    with (made / "ash" / "journal.csv").open("a") as file:
        file.write("2026-03-03,done,site/level,,,display,\n")
    handouts(made, *ON)
    changed = {name for name, at in times_in(tmp_path / "out").items() if before[name] != at}
    assert changed and all(name.startswith("ash/") for name in changed)


def test_another_paper_makes_the_printed_plan_alone_anew(made: Path) -> None:
    assert "3 files written, 6 unchanged" in handouts(made, *ON, "--paper", "letter").stdout


def test_another_day_is_planned_anew(made: Path, tmp_path: Path) -> None:
    handouts(made, "--on", "2026-03-12")
    assert json.loads((tmp_path / "out" / "ash" / "plan.json").read_text())["on"] == "2026-03-12"


@pytest.mark.parametrize("harm", [lambda p: p.unlink(), lambda p: p.write_bytes(b"half")], ids=["lost", "damaged"])
@pytest.mark.parametrize("name", [*FILES[:1], *FILES[2:], tankwork.NOTED])
def test_a_lost_or_damaged_output_is_made_again(made: Path, tmp_path: Path, harm: Callable[[Path], None], name: str) -> None:
    good = files_in(tmp_path / "out")
    harm(tmp_path / "out" / "ash" / name)
    assert handouts(made, *ON).exit_code == 0
    assert files_in(tmp_path / "out") == good


def test_a_lost_calendar_is_made_again_from_the_log_as_it_was(shop: Path, tmp_path: Path) -> None:
    handouts(shop)
    good = files_in(tmp_path / "out")
    (tmp_path / "out" / "ash" / "calendar.ics").unlink()
    handouts(shop)
    assert files_in(tmp_path / "out") == good


# --- bad folders among good ones


BAD = {
    "syntax": b"tank: [", "no size": b"name: x\n", "not a block": b"- a\n", "bytes": b"\xff\xfe\x00name",
    "no id": b"tank: {length: 100 cm, width: 50 cm, height: 50 cm}\n",
}


def test_bad_folders_stop_no_other(shop: Path, tmp_path: Path) -> None:
    for name, text in BAD.items():
        (shop / f"bad, {name}").mkdir()
        (shop / f"bad, {name}" / "tank.yaml").write_bytes(text)
    done = handouts(shop, *ON)
    assert done.exit_code == 1
    assert made_in(tmp_path / "out") == ["ash", "birch", "birch/second tank"]
    assert [name for name in BAD if f"bad, {name}/tank.yaml" not in done.stderr] == []
    assert f"3 ready, {len(BAD)} to fix: bad, " in " ".join(done.stdout.split())


def test_a_tank_without_id_is_told_the_line_to_paste_and_it_works(shop: Path, tmp_path: Path) -> None:
    path = shop / "ash" / "tank.yaml"
    path.write_text("\n".join(path.read_text().splitlines()[1:]))
    line = next(line for line in handouts(shop, *ON).stderr.splitlines() if line.startswith("id: "))
    path.write_text(f"{line}\n{path.read_text()}")
    assert handouts(shop, *ON).exit_code == 0
    assert made_in(tmp_path / "out") == ["ash", "birch", "birch/second tank"]


def test_a_tank_file_that_is_a_folder_or_a_dead_link_stops_no_other(shop: Path, tmp_path: Path) -> None:
    (shop / "cedar" / "tank.yaml").mkdir(parents=True)
    (shop / "date").mkdir()
    (shop / "date" / "tank.yaml").symlink_to(tmp_path / "nowhere")
    done = handouts(shop, *ON)
    assert done.exit_code == 1 and "cedar" in done.stderr and "date" in done.stderr
    assert made_in(tmp_path / "out") == ["ash", "birch", "birch/second tank"]


def test_a_misnamed_tank_file_is_told(shop: Path) -> None:
    (shop / "cedar").mkdir()
    (shop / "cedar" / "tank.yml").write_text(TANK)
    done = handouts(shop, *ON)
    assert done.exit_code == 1 and "Rename it to tank.yaml" in done.stderr


def test_a_link_to_a_tank_elsewhere_is_told_and_one_within_is_passed_over(shop: Path, tmp_path: Path) -> None:
    add_tank(tmp_path / "elsewhere", 9)
    (shop / "far").symlink_to(tmp_path / "elsewhere")
    (shop / "near").symlink_to(shop / "ash")
    done = handouts(shop, *ON)
    assert done.exit_code == 1 and "far: this tank folder is a link" in done.stderr and "near" not in done.output


def test_two_folders_with_one_id_are_refused_naming_each_other(shop: Path, tmp_path: Path) -> None:
    add_tank(shop / "copy of ash", 1)
    done = handouts(shop, *ON)
    assert done.exit_code == 1
    assert made_in(tmp_path / "out") == ["birch", "birch/second tank"]
    told = done.stderr.splitlines()
    assert any("/ash/tank.yaml: the same id stands in" in line and "copy of ash/tank.yaml" in line.partition("stands in")[2] for line in told)
    assert any("copy of ash/tank.yaml: the same id" in line and "/ash/tank.yaml" in line.partition("stands in")[2] for line in told)


def test_one_id_written_in_two_ways_is_still_one(shop: Path) -> None:
    add_tank(shop / "copy", 1, text=TANK.replace("{id}", "'{{7F0C2A34-5F3E-4A7E-9C55-000000000001}}'"))
    assert "2 ready, 2 to fix: ash, copy." in handouts(shop, *ON).stdout


def test_mistakes_that_can_be_planned_around_are_told_again_by_every_run(shop: Path) -> None:
    with (shop / "ash" / "journal.csv").open("a") as file:
        file.write("2026-03-03,reading,amonia,1,mg/L,display,\n")
    first, second = handouts(shop, *ON), handouts(shop, *ON)
    assert first.exit_code == second.exit_code == 1
    assert "ash/journal.csv:3" in first.stderr and first.stderr == second.stderr
    assert "9 files written" in first.stdout and "0 files written, 9 unchanged" in second.stdout


def test_a_file_of_another_program_in_the_place_of_the_calendar_is_left_and_the_rest_made(shop: Path, tmp_path: Path) -> None:
    foreign = b"BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//other//EN\r\nEND:VCALENDAR\r\n"
    (tmp_path / "out" / "ash").mkdir(parents=True)
    (tmp_path / "out" / "ash" / "calendar.ics").write_bytes(foreign)
    done = handouts(shop, *ON)
    assert done.exit_code == 1 and "2 written, 1 refused" in done.stdout
    assert (tmp_path / "out" / "ash" / "calendar.ics").read_bytes() == foreign
    assert (tmp_path / "out" / "ash" / "handout.pdf").is_file()


def test_a_mistake_of_ours_in_one_tank_is_reported_and_stops_no_other(shop: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    real = tankwork.plan_with_stock

    def fail(tank: object, *rest: object) -> object:
        if getattr(tank, "name", "") == "Ash reef":
            raise ZeroDivisionError("a slip")
        return real(tank, *rest)  # type: ignore[arg-type]

    monkeypatch.setattr(tankwork, "plan_with_stock", fail)
    done = handouts(shop, *ON)
    assert done.exit_code == 3
    assert "ZeroDivisionError: a slip" in done.stderr and "handouts, folder ash" in done.stderr and "---- end of report ----" in done.stderr
    assert made_in(tmp_path / "out") == ["birch", "birch/second tank"]


def test_files_of_a_tank_that_is_gone_are_named_and_kept(made: Path, tmp_path: Path) -> None:
    (made / "ash" / "tank.yaml").unlink()
    done = handouts(made, *ON)
    assert done.exit_code == 0 and "may be out of date" in done.stdout and "out/ash" in done.stdout
    assert (tmp_path / "out" / "ash" / "plan.json").is_file()


# --- editions


def text_of(path: Path) -> str:
    return " ".join(" ".join(page.extract_text().split()) for page in PdfReader(path).pages)


def test_a_plan_that_says_the_same_as_its_last_edition_is_left_alone(made: Path, tmp_path: Path) -> None:
    before = {name: data for name, data in files_in(tmp_path / "out").items() if name.endswith(".pdf")}
    assert handouts(made, *ON, "--changed").exit_code == 0
    assert {name: data for name, data in files_in(tmp_path / "out").items() if name.endswith(".pdf")} == before


def test_the_facts_of_an_edition_are_found_whatever_sign_their_stream_ends_in() -> None:
    """ISO 32000-1, 7.3.8.1: the line end before `endstream` is not part of the data, which may itself end in any byte (clause from memory)."""
    facts = [{"edition": 2, "printed": "y" * n, "sheets": {}, "cards": {}, "said": {}, "jobs": [], "shopping": []} for n in range(256)]
    ends = {data[-1]: (one, data) for one in facts if (data := zlib.compress(json.dumps(one).encode()))}
    assert ends.keys() == set(range(256))
    for one, data in ends.values():
        for line_end in (b"\n", b"\r\n"):
            assert facts_in(b"<</Type/EmbeddedFile/Filter/FlateDecode>>\nstream\n" + data + line_end + b"endstream\n") == one


def test_a_new_edition_says_what_changed_and_its_changed_sheets_stand_alone(made: Path, tmp_path: Path) -> None:
    whole = len(PdfReader(tmp_path / "out" / "ash" / "handout.pdf").pages)
    described = made / "ash" / "tank.yaml"
    described.write_text(described.read_text().replace("length: 100 cm", "length: 110 cm"))
    done = handouts(made, *ON, "--changed")
    assert done.exit_code == 0 and "changed.pdf: Water in it: " in " ".join(done.stdout.split())
    first = " ".join(PdfReader(tmp_path / "out" / "ash" / "handout.pdf").pages[0].extract_text().split())
    assert "edition 2" in first and "Changed since" in first and "Water in it: " in first and ", was " in first
    changed = PdfReader(tmp_path / "out" / "ash" / "changed.pdf")
    assert 1 < len(changed.pages) < whole and "Not yet" in changed.pages[0].extract_text()
    assert not (tmp_path / "out" / "birch" / "changed.pdf").exists() and "first edition" in text_of(tmp_path / "out" / "birch" / "handout.pdf")


def test_without_an_earlier_file_of_ours_a_plan_is_a_first_edition(shop: Path, tmp_path: Path) -> None:
    (tmp_path / "out" / "ash").mkdir(parents=True)
    (tmp_path / "out" / "ash" / "handout.pdf").write_bytes(b"%PDF-1.7 of somebody else")
    assert handouts(shop, *ON, "--changed").exit_code == 0
    assert "first edition" in text_of(tmp_path / "out" / "ash" / "handout.pdf")


def test_an_interrupted_run_says_what_is_on_disk() -> None:
    made = [Made("ash", "out/ash", files=tuple((name, End.WRITTEN) for name in FILES)), Made("b20", "out/b20", problems=(Problem(Place("b20/tank.yaml", 1, 1), "x", "wrong", "mend it"),))]
    told = " ".join(plain_text(batch_lines(made, 5, "out", (), 80)).split())
    assert "1 ready, 1 to fix: b20." in told and "Interrupted: the files of 1 tank are whole on disk, 3 to go." in told


# --- where the output may be


@pytest.mark.parametrize("place", [lambda shop: shop, lambda shop: shop.parent, lambda shop: shop / "ash", lambda shop: shop / "ash" / "tank.yaml" / "out"],
                         ids=["the folder itself", "around the folder", "a tank", "below a file"])
def test_an_output_that_cannot_be_one_is_refused_before_anything_is_written(shop: Path, place: Callable[[Path], Path]) -> None:
    before = files_in(shop.parent)
    done = handouts(shop, *ON, out=place(shop))
    assert done.exit_code == 2 and "--out" in done.stderr
    assert files_in(shop.parent) == before


@pytest.mark.skipif(os.geteuid() == 0, reason="the system lets root write anywhere")
def test_a_read_only_output_is_refused(shop: Path, tmp_path: Path) -> None:
    (tmp_path / "out").mkdir(mode=0o500)
    done = handouts(shop, *ON)
    assert done.exit_code == 2 and "nothing can be written" in done.stderr


def test_a_tank_whose_output_cannot_be_written_stops_no_other(shop: Path, tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "ash").write_text("a file in the way")
    done = handouts(shop, *ON)
    assert done.exit_code == 1 and "out/ash: the system refuses this file" in done.stderr and "Move it away" in done.stderr
    assert made_in(tmp_path / "out") == ["birch", "birch/second tank"]


def test_a_folder_without_tanks_is_told_what_to_do(tmp_path: Path) -> None:
    (tmp_path / "shop").mkdir()
    done = handouts(tmp_path / "shop", *ON)
    assert done.exit_code == 2 and "newtank start" in done.stderr


# --- names of output folders


HARD = ("CON", "con.txt", "Aux", "LPT1", "COM\u00b9", "a:b", "a?b", "..a", "b..", "c. ", " d", "tab\tname", "\u202egnp", "x" * 255, "plan.json", "Caf\u00e9",
        "\u9b5a\u7f38", "\U0001f420", "\u05e7\u05e8\u05d9\u05d0\u05d4", "back\\slash", "a~123456789abc", "new\nline", "'quoted' \"twice\"", "-rf", "%PATH%", "$HOME", "nul.tar.gz")


def fits_windows(name: str) -> bool:
    """As the standard library's Windows paths judge it (names that Windows reserves, and signs it forbids)."""
    reserved: Callable[[str], bool] = getattr(ntpath, "isreserved", lambda n: PureWindowsPath(n).is_reserved())
    return not reserved(name) and not set(name) & set('<>:"/\\|?*') and min(map(ord, name)) >= 32 and name[-1] not in " ." and len(name.encode()) <= 255


@pytest.mark.parametrize("name", HARD, ids=ascii)
def test_every_folder_name_gives_a_name_that_any_system_can_hold(name: str) -> None:
    (made,) = output_paths([PurePosixPath("deep", name)])
    assert made.parts[0] == "deep" and len(made.parts) == 2 and fits_windows(made.name)


@pytest.mark.parametrize("name", ["ash", "second tank", "Caf\u00e9", "\u9b5a\u7f38", "\U0001f420 reef", "O'Hara & sons", "a~b", "v1.2"])
def test_a_harmless_name_stays_as_it_is(name: str) -> None:
    assert output_paths([PurePosixPath(name)]) == (PurePosixPath(name),)


part = st.text(st.characters(blacklist_characters="/\0", blacklist_categories=["Cs"]), min_size=1, max_size=12).filter(lambda p: p not in (".", ".."))
drawn = part | st.sampled_from([n for n in HARD if "/" not in n]) | st.sampled_from(["Reef", "reef", "REEF", "re\u0301ef", "r\u00e9ef", "a_b"])


@given(st.lists(st.lists(drawn, min_size=1, max_size=3).map(lambda p: PurePosixPath(*p)), unique=True, max_size=8))
def test_no_two_folders_share_an_output_on_any_system(folders: list[PurePosixPath]) -> None:
    made = output_paths(folders)
    assert len({unicodedata.normalize("NFC", str(p).casefold()) for p in made}) == len(folders)
    assert all(fits_windows(p) for path in made for p in path.parts)


def test_hard_names_are_found_planned_and_kept_apart(tmp_path: Path) -> None:
    names = HARD[::6]
    for number, name in enumerate([*names, "Reef", "reef"]):
        add_tank(tmp_path / "shop" / name, number)
    done = handouts(tmp_path / "shop", *ON)
    assert done.exit_code == 0, done.output
    assert len(made_in(tmp_path / "out")) == len(names) + 2
    assert not set("\t\u202e") & set(done.stdout)


# --- cut off and run again


def start(shop: Path, out: Path, *words: str, stderr: int = subprocess.DEVNULL) -> subprocess.Popen[bytes]:
    """A run of its own, which an interrupt reaches also where this test runs as a job in the background: those begin with it ignored."""
    command = [sys.executable, "-m", "planner", "handouts", str(shop), "--out", str(out), *ON, *words]
    environment = {**os.environ, "PYTHONPATH": str(Path(__file__).parents[3])}
    return subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=stderr, start_new_session=True, env=environment, preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL))


def wait_until(true: Callable[[], bool], seconds: float = 60) -> None:
    end = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < end, "this never came"
        time.sleep(0.002)


def group_is_gone(group: int) -> bool:
    try:
        os.killpg(group, 0)
    except ProcessLookupError:
        return True
    return False


@pytest.fixture
def street(tmp_path: Path) -> Path:
    for number in range(6):
        add_tank(tmp_path / "street" / f"house {number:02d}", number)
    return tmp_path / "street"


@pytest.mark.parametrize(("jobs", "moments"), [("1", (8,)), pytest.param("2", (12,), marks=pytest.mark.slow), pytest.param("1", (1, 17), marks=pytest.mark.slow)], ids=["one process", "two processes", "early and late"])
def test_a_run_killed_at_any_moment_and_run_again_ends_as_an_undisturbed_one(street: Path, tmp_path: Path, jobs: str, moments: tuple[int, ...]) -> None:
    handouts(street, *ON, out=tmp_path / "whole")
    whole = files_in(tmp_path / "whole")
    for seen in moments:
        out = tmp_path / f"killed {seen}"
        out.mkdir()
        running = start(street, out, "--jobs", jobs)
        wait_until(lambda out=out, seen=seen, running=running: len(list(out.rglob("*.*"))) >= seen or running.poll() is not None)  # type: ignore[misc]
        running.kill()
        running.wait()
        wait_until(lambda group=running.pid: group_is_gone(group))  # type: ignore[misc]
        left = files_in(out)
        assert len(left) < len(whole), "it was over before it was killed"
        assert all(data == whole[name] for name, data in left.items() if not name.endswith(".tmp"))
        assert handouts(street, *ON, out=out).exit_code == 0
        assert files_in(out) == whole


def test_what_a_cut_off_run_left_is_swept_away_also_where_nothing_changes(made: Path, tmp_path: Path) -> None:
    good = files_in(tmp_path / "out")
    for name in (*FILES, tankwork.NOTED):
        (tmp_path / "out" / "ash" / f".{name}.abc123.tmp").write_bytes(b"half")
    handouts(made, *ON)
    assert files_in(tmp_path / "out") == good


@pytest.mark.slow
def test_an_interrupt_at_the_keyboard_is_told_and_the_next_run_goes_on(street: Path, tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    running = start(street, tmp_path / "out", "--jobs", "2", stderr=subprocess.PIPE)
    wait_until(lambda: len(made_in(tmp_path / "out")) >= 2)
    os.killpg(running.pid, signal.SIGINT)
    _, told = running.communicate(timeout=60)
    assert running.returncode == 1 and b"Traceback" not in told
    done = len(made_in(tmp_path / "out"))
    assert 2 <= done < 6
    again = handouts(street, *ON)
    assert again.exit_code == 0 and f"{3 * done} unchanged" in again.stdout and len(made_in(tmp_path / "out")) == 6


@pytest.mark.slow
def test_two_runs_at_once_into_one_output_end_as_one(made: Path, tmp_path: Path) -> None:
    both = [start(made, tmp_path / "again", "--jobs", "1") for _ in range(2)]
    assert [running.wait() for running in both] == [0, 0]
    assert files_in(tmp_path / "again") == files_in(tmp_path / "out")


def test_a_calendar_that_could_not_be_written_is_made_by_the_next_run_from_the_log(shop: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(path: Path, data: bytes) -> bool:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), str(path))

    with monkeypatch.context() as disk:
        disk.setattr(share, "put_whole_file", full)
        failed = handouts(shop)
    assert failed.exit_code == 1 and "No space left on device" in failed.stderr
    log = (shop / "ash" / "calendar-log.csv").read_bytes()
    assert handouts(shop).exit_code == 0
    assert (shop / "ash" / "calendar-log.csv").read_bytes() == log
    stamps = {row.split(",")[2] for row in log.decode().splitlines()[1:]}
    made = (tmp_path / "out" / "ash" / "calendar.ics").read_text()
    assert {line[8:] for line in made.splitlines() if line.startswith("DTSTAMP:")} == {stamp.replace("-", "").replace(":", "") for stamp in stamps}


def die_of_one(number: int) -> int:
    if number == 1:
        os._exit(9)
    return number * number


def test_a_process_that_dies_costs_its_own_work_alone() -> None:
    found = dict(run_all(die_of_one, range(4), 2, lambda number: -number))
    assert found == {0: 0, 1: -1, 2: 4, 3: 9}


@pytest.mark.slow
def test_a_bar_moves_on_a_terminal_and_none_is_piped(made: Path, tmp_path: Path) -> None:
    ours, theirs = pty.openpty()
    running = start(made, tmp_path / "again", "--jobs", "1", stderr=theirs)
    os.close(theirs)
    seen = b""
    while True:
        try:
            seen += (got := os.read(ours, 4096))
        except OSError:
            break
        if not got:
            break
    os.close(ours)
    assert running.wait() == 0 and b"/3" in seen
    assert handouts(made, *ON).stderr == ""


# --- the shop


def test_a_price_that_cannot_be_read_is_told_once_and_the_rest_is_made(shop: Path, tmp_path: Path) -> None:
    (tmp_path / "shop.yaml").write_text("name: Corner aquatics\nprices: {salt: free}\n")
    done = handouts(shop, *ON, "--shop", str(tmp_path / "shop.yaml"))
    assert done.exit_code == 1 and done.stderr.count("'free' is not a price") == 1
    assert made_in(tmp_path / "out") == ["ash", "birch", "birch/second tank"]
    again = handouts(shop, *ON, "--shop", str(tmp_path / "shop.yaml"))
    assert again.exit_code == 1 and again.stderr == done.stderr and "0 files written" in again.stdout


def test_a_shop_without_a_name_makes_nothing(shop: Path, tmp_path: Path) -> None:
    (tmp_path / "shop.yaml").write_text("phone: 0123\n")
    done = handouts(shop, *ON, "--shop", str(tmp_path / "shop.yaml"))
    assert done.exit_code == 1 and "name" in done.stderr and not (tmp_path / "out").exists()


def test_another_note_of_the_shop_changes_the_printed_plans_alone(shop: Path, tmp_path: Path) -> None:
    (tmp_path / "shop.yaml").write_text("name: Corner aquatics\n")
    handouts(shop, *ON, "--shop", str(tmp_path / "shop.yaml"))
    (tmp_path / "shop.yaml").write_text("name: Corner aquatics\nnote: Closed on Mondays.\n")
    assert "3 files written, 6 unchanged" in handouts(shop, *ON, "--shop", str(tmp_path / "shop.yaml")).stdout
