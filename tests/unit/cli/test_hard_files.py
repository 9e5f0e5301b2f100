"""Commands beside files that are no files, full disks, two keepers at once, and days out of reach: a sentence with a fix,
and nothing written that was not whole."""

from __future__ import annotations

import os
import resource
import shutil
import stat
import tempfile
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from planner.cli import newtank
from planner.files.journal import HEADER
from planner.files.whole_file import put_new_file, put_whole_file
from tests.unit.files.test_read_file import ODD

ROOT = Path(__file__).parents[3]
DAY = ("--on", "2026-03-05")
DAY_BEFORE = ("--on", "2026-03-04")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = tmp_path / "den"
    shutil.copytree(ROOT / "scenarios" / "dry-rock-us", made, ignore=shutil.ignore_patterns("expected"))
    return made


def run(*words: str | Path) -> Result:
    return CliRunner().invoke(newtank, [str(w) for w in words])


def assert_told(done: Result, *words: str) -> None:
    """Ended by a sentence of ours: exit 1 or 2, no trace, and the words are there."""
    assert done.exit_code in (1, 2), done.output
    assert isinstance(done.exception, SystemExit), done.exception
    for word in words:
        assert word in done.output


@contextmanager
def files_no_larger_than(size: int) -> Iterator[None]:
    """The system refuses to let a file grow beyond this, as a full disk would, midway through a write."""
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)


# --- no plain file in the place of a file


@pytest.mark.parametrize("put", ODD, ids=lambda put: put.__name__)
@pytest.mark.parametrize("command", [("today",), ("log", "ph=8.2"), ("undo",), ("stock",)], ids=lambda c: c[0])
def test_a_journal_that_is_no_file_is_told_and_is_no_empty_history(put, command: tuple[str, ...], folder: Path) -> None:
    (folder / "journal.csv").unlink()
    put(folder / "journal.csv")
    assert_told(run(command[0], folder, *command[1:], *DAY), ODD[put], "Fix:")


@pytest.mark.parametrize("put", ODD, ids=lambda put: put.__name__)
def test_a_tank_file_that_is_no_file_is_told(put, folder: Path) -> None:
    (folder / "tank.yaml").unlink()
    put(folder / "tank.yaml")
    assert_told(run("today", folder, *DAY), ODD[put], "Fix:")
    assert_told(run("mix", folder, "salt", "60L"), ODD[put], "Fix:")


@pytest.mark.parametrize("put", ODD, ids=lambda put: put.__name__)
def test_a_calendar_log_or_calendar_that_is_no_file_is_told(put, folder: Path, tmp_path: Path) -> None:
    put(folder / "calendar-log.csv")
    assert_told(run("calendar", folder, "-o", tmp_path / "reef.ics"), ODD[put], "Fix:")
    assert not (tmp_path / "reef.ics").exists()


def test_no_output_takes_the_place_of_a_pipe_or_a_device(folder: Path, tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "reef.ics")
    assert_told(run("calendar", folder, "-o", tmp_path / "reef.ics", *DAY), "a pipe")
    assert stat.S_ISFIFO((tmp_path / "reef.ics").stat().st_mode)
    (tmp_path / "reef.pdf").symlink_to("/dev/null")
    assert_told(run("handout", folder, "-o", tmp_path / "reef.pdf", *DAY), "a device")
    assert stat.S_ISCHR(Path("/dev/null").stat().st_mode)


def test_a_shop_file_house_rules_and_animals_that_are_pipes_are_told(folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("planner.plan.rule_cases.loosened_cases", lambda *_: ())  # over a thousand plans, which have nothing to do with files
    os.mkfifo(tmp_path / "shop.yaml")
    assert_told(run("handout", folder, "-o", tmp_path / "reef.pdf", "--shop", tmp_path / "shop.yaml", *DAY), "a pipe")
    for inside in ("setup/water.yaml", "livestock/fish.yaml", "house.cases.yaml"):
        house = tmp_path / f"house-{inside.replace('/', '-')}"
        (house / inside).parent.mkdir(parents=True)
        os.mkfifo(house / inside)
        assert_told(run("rules", *(["--check"] if "cases" in inside else []), "--rules", house), "a pipe")


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() != 0, reason="only the superuser can become somebody who may not read")
def test_a_journal_that_may_not_be_read_is_told_and_is_no_empty_history(folder: Path) -> None:
    with tempfile.TemporaryDirectory() as open_to_all:  # pytest keeps its own folders to their owner
        Path(open_to_all).chmod(0o755)
        den = shutil.copytree(folder, Path(open_to_all) / "den")
        den.chmod(0o755)
        assert run("today", den, *DAY).exit_code == 0  # and what that loads need not be read by somebody else
        (den / "journal.csv").chmod(0)
        os.seteuid(65534)
        try:
            done = run("today", den, *DAY)
        finally:
            os.seteuid(0)
    assert_told(done, "Permission denied", "Mend its permissions")


def test_a_logo_is_taken_from_the_shops_own_folder_alone(folder: Path, tmp_path: Path) -> None:
    (tmp_path / "shop").mkdir()
    (tmp_path / "private.svg").write_text('<svg xmlns="http://www.w3.org/2000/svg" width="1" height="1"/>')
    (tmp_path / "shop" / "link.svg").symlink_to(tmp_path / "private.svg")
    for logo in ("../private.svg", str(tmp_path / "private.svg"), "link.svg"):
        (tmp_path / "shop" / "shop.yaml").write_text(f"name: Lagoon Corner\nlogo: {logo}\n")
        done = run("handout", folder, "-o", tmp_path / "reef.pdf", "--shop", tmp_path / "shop" / "shop.yaml", *DAY)
        assert_told(done, "leads out of the shop's folder")


# --- a disk that is full midway


def test_a_journal_that_cannot_grow_is_cut_back_and_the_cause_is_named(folder: Path) -> None:
    journal = folder / "journal.csv"
    before = journal.read_bytes()
    for room in (0, 1, 40, 70):
        with files_no_larger_than(len(before) + room):
            done = run("log", folder, "ph=8.2", "ammonia=0.25", *DAY, "--yes")
        assert_told(done, "File too large", "Nothing was written.")
        assert journal.read_bytes() == before
        assert sorted(p.name for p in folder.iterdir() if p.name.endswith((".intent", ".tmp"))) == []
    assert run("log", folder, "ph=8.2", *DAY, "--yes").exit_code == 0


def test_a_new_journal_that_cannot_grow_leaves_none(folder: Path) -> None:
    (folder / "journal.csv").unlink()
    with files_no_larger_than(50):
        assert_told(run("log", folder, "ph=8.2", *DAY, "--yes"), "Nothing was written.")
    assert not (folder / "journal.csv").exists()


def test_what_cannot_be_cut_back_is_not_called_unwritten(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object) -> None:
        raise OSError(5, "Input/output error")

    monkeypatch.setattr(os, "fsync", broken)
    monkeypatch.setattr(os, "ftruncate", broken)
    monkeypatch.setattr("planner.files.journal_file.put_whole_file", lambda *_: True)
    done = run("log", folder, "ph=8.2", *DAY, "--yes")
    assert_told(done, "Input/output error", "Look at its last lines")
    assert "Nothing was written" not in done.output


def test_a_disk_that_fills_up_leaves_the_old_calendar_and_paper(folder: Path, tmp_path: Path) -> None:
    for command, name in (("calendar", "reef.ics"), ("handout", "reef.pdf")):
        run(command, folder, "-o", tmp_path / name, *DAY_BEFORE)
        old = (tmp_path / name).read_bytes()
        with files_no_larger_than(3000):
            assert_told(run(command, folder, "-o", tmp_path / name, *DAY), "File too large")
        assert len(old) > 3000 and (tmp_path / name).read_bytes() == old
        assert [p.name for p in tmp_path.iterdir() if p.name.endswith(".tmp")] == []


def test_a_disk_that_fills_up_leaves_no_half_tank(tmp_path: Path) -> None:
    with files_no_larger_than(200):
        assert_told(run("start", tmp_path / "new", "--volume", "160 L"), "File too large")
    assert not (tmp_path / "new" / "tank.yaml").exists()


# --- two at once


def test_of_two_undos_at_once_one_wins_and_one_says_so(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from planner.cli.entry import Pen

    before = (folder / "journal.csv").read_bytes()
    both_read, told = threading.Barrier(2), []
    write = Pen.write

    def when_both_have_read(self: Pen, *args: object, **more: object) -> None:
        both_read.wait(30)
        write(self, *args, **more)

    monkeypatch.setattr(Pen, "write", when_both_have_read)

    def undo() -> None:
        try:
            newtank(["undo", str(folder), *DAY], standalone_mode=False)
            told.append("won")
        except SystemExit as ended:
            told.append(f"ended {ended.code}")
        except Exception as error:
            told.append(str(error))

    threads = [threading.Thread(target=undo) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    lost = [t for t in told if "somebody else wrote into it in the meantime" in t and "Nothing was written" in t]
    assert (len(told), len(lost)) == (2, 1), told
    added = (folder / "journal.csv").read_bytes()[len(before) :].decode().splitlines()
    assert len(added) == len({line for line in added if ",undo," in line}) > 0


# --- days out of reach


@pytest.mark.parametrize("day", ["9999-12-31", "0001-01-01", "1989-12-31", "2200-01-01"])
@pytest.mark.parametrize("command", ["today", "plan", "forecast", "readings", "stock", "log ph=8.2", "undo", "skip site/level", "done site/level", "note event leak", "postpone site/level --to 2026-04-01"])
def test_a_pretended_day_out_of_reach_is_told_in_a_sentence(day: str, command: str, folder: Path) -> None:
    name, *rest = command.split()
    assert_told(run(name, folder, *rest, "--on", day), "takes days of the years 1990 to 2199")


@pytest.mark.parametrize("words", [("plan", "--until"), ("plan", "--since"), ("postpone", "site/level", "--to")])
def test_other_days_out_of_reach_are_told_too(words: tuple[str, ...], folder: Path) -> None:
    assert_told(run(words[0], folder, *words[1:], "9999-12-31", *DAY), f"{words[-1]} 9999-12-31 is out of reach")


@pytest.mark.parametrize("day", ["1990-01-01", "2199-12-31"])
def test_the_first_and_the_last_day_can_be_planned(day: str, folder: Path) -> None:
    assert run("today", folder, "--on", day).exit_code == 0


def test_a_tank_that_starts_out_of_reach_is_told(folder: Path) -> None:
    text = (folder / "tank.yaml").read_text()
    start = next(line for line in text.splitlines() if line.startswith("start:"))
    (folder / "tank.yaml").write_text(text.replace(start, "start: 9999-12-31"))
    assert_told(run("today", folder, *DAY), "it lies outside 1990 to 2199")


# --- text of two bytes a letter


@pytest.mark.parametrize("coding", ["utf-16", "utf-16-le", "utf-16-be"])
def test_utf16_is_said_once_and_nothing_is_glued_to_it(coding: str, folder: Path) -> None:
    journal = folder / "journal.csv"
    journal.write_bytes(f"{HEADER}\r\n2026-03-01,event,leak,,,,\r\n".encode(coding))
    before = journal.read_bytes()
    done = run("today", folder, *DAY)
    assert_told(done, "UTF-16")
    assert "1 problem." in done.output
    assert_told(run("log", folder, "ph=8.2", *DAY, "--yes"), "Save it as UTF-8, then enter this again. Nothing was written.")
    assert journal.read_bytes() == before


def test_a_journal_that_cannot_be_read_holds_what_adds_risk(folder: Path) -> None:
    readable = run("today", folder, *DAY).output
    (folder / "journal.csv").write_bytes(HEADER.encode("utf-16"))
    held = run("today", folder, *DAY).output
    assert "cannot be read" in held
    assert "cannot be read" not in readable


def test_a_tank_file_in_utf16_is_said_once(folder: Path) -> None:
    text = (folder / "tank.yaml").read_text("utf-8")
    (folder / "tank.yaml").write_text(text, "utf-16")
    done = run("today", folder, *DAY)
    assert_told(done, "UTF-16", "1 problem.")


# --- permissions


@pytest.mark.parametrize(("mask", "mode"), [(0o022, 0o644), (0o077, 0o600), (0o002, 0o664)])
def test_files_get_the_permissions_that_the_mask_leaves(mask: int, mode: int, tmp_path: Path) -> None:
    before = os.umask(mask)
    try:
        put_whole_file(tmp_path / "reef.ics", b"new")
        put_new_file(tmp_path / "tank.yaml", b"new")
        run("start", tmp_path / "den", "--volume", "160 L")
        (tmp_path / "den" / "journal.csv").unlink()
        run("log", tmp_path / "den", "ph=8.2", "--yes")
        run("calendar", tmp_path / "den", "-o", tmp_path / "den.ics")
    finally:
        os.umask(before)
    made = ["reef.ics", "tank.yaml", "den/tank.yaml", "den/journal.csv", "den/calendar-log.csv", "den.ics"]
    assert {name: stat.S_IMODE((tmp_path / name).stat().st_mode) for name in made} == dict.fromkeys(made, mode)


def test_a_file_that_is_written_again_keeps_its_permissions(tmp_path: Path) -> None:
    (tmp_path / "reef.ics").write_bytes(b"old")
    (tmp_path / "reef.ics").chmod(0o640)
    put_whole_file(tmp_path / "reef.ics", b"new")
    assert stat.S_IMODE((tmp_path / "reef.ics").stat().st_mode) == 0o640


def test_an_output_behind_a_link_is_written_where_the_link_leads(tmp_path: Path) -> None:
    (tmp_path / "reef.ics").symlink_to("synced.ics")
    put_whole_file(tmp_path / "reef.ics", b"new")
    assert (tmp_path / "synced.ics").read_bytes() == b"new"
    assert (tmp_path / "reef.ics").is_symlink()
