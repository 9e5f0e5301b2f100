"""The kept form of the shipped rules: the same rules, never older ones, and never in the way."""

from __future__ import annotations

import os
import pickletools
import re
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from planner.rulebook import shipped_cache as kept_rules
from planner.rulebook.read import load_rules, shipped
from planner.rulebook.shipped_cache import CODE, load_shipped_rules, place_kept

PACKAGE = Path(kept_rules.__file__).parents[1]
RULE = "setup/leak-test.yaml"


@pytest.fixture
def kept(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    """The place of the kept form, in a folder of this test, where Python is free to write."""
    monkeypatch.setattr(sys, "pycache_prefix", str(tmp_path / "compiled"))
    monkeypatch.setattr(sys, "dont_write_bytecode", False)
    place = place_kept()
    assert place is not None and tmp_path in place.parents and not place.exists()
    return place


@pytest.fixture
def rules(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    """A copy of the shipped rules that a test may change."""
    folder = tmp_path / "rules"
    shutil.copytree(shipped("rules"), folder)
    monkeypatch.setattr(kept_rules, "shipped", lambda _: folder)
    return folder


def no_reading(monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(root: Path) -> None:
        raise AssertionError(f"{root} was read again")

    monkeypatch.setattr(kept_rules, "load_rules", fail)


def test_what_is_kept_equals_what_is_read(kept: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    read = load_rules(shipped("rules"))
    assert load_shipped_rules() == read
    assert kept.is_file()
    no_reading(monkeypatch)
    assert load_shipped_rules() == read


def test_one_changed_byte_of_a_rule_is_seen(kept: Path, rules: Path) -> None:
    load_shipped_rules()
    path = rules / RULE
    text = path.read_text(encoding="utf-8")
    title = re.search("^title: (.*)$", text, re.MULTILINE)
    assert title is not None
    path.write_text(text.replace(title[0], title[0][:-1] + "!", 1), encoding="utf-8")
    assert load_shipped_rules()[0].phase("leak-test").title == title[1][:-1] + "!"


def test_a_file_taken_out_is_seen(kept: Path, rules: Path) -> None:
    load_shipped_rules()
    (rules / RULE).unlink()
    assert "leak-test" not in {p.phase for p in load_shipped_rules()[0].phases}


def test_rules_that_change_while_they_are_read_are_not_kept(kept: Path, rules: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def read_slowly(root: Path) -> object:
        found = load_rules(root)
        (rules / RULE).write_text((rules / RULE).read_text(encoding="utf-8") + "\n# more\n", encoding="utf-8")
        return found

    monkeypatch.setattr(kept_rules, "load_rules", read_slowly)
    load_shipped_rules()
    assert not kept.exists()


def test_code_that_changed_makes_the_rules_be_read_again(kept: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    load_shipped_rules()
    before = kept.read_bytes()
    assert kept_rules.CODE_READ is not None
    monkeypatch.setattr(kept_rules, "CODE_READ", kept_rules.CODE_READ + b"\n# changed")
    assert load_shipped_rules() == load_rules(shipped("rules"))
    assert kept.read_bytes() != before


def test_rules_with_a_mistake_are_told_each_time(kept: Path, rules: Path) -> None:
    with (rules / RULE).open("a", encoding="utf-8") as file:
        file.write("tilte: x\n")
    for _ in range(2):
        assert [p.code for p in load_shipped_rules()[1]] == ["unknown-key"]
    assert not kept.exists()


@pytest.mark.parametrize("broken", [
    lambda _: b"", lambda data: data[:40], lambda data: data[:-1], lambda data: data + b"x",
    lambda data: data[:-2000] + b"?" + data[-1999:], lambda data: b"?" + data[1:], lambda _: b"no rules at all" * 99,
], ids=["empty", "only the seal", "cut off", "grown", "a byte of the rules", "a byte of the seal", "something else"])
def test_a_broken_file_is_read_over_and_mended(broken: Callable[[bytes], bytes], kept: Path) -> None:
    read = load_shipped_rules()
    whole = kept.read_bytes()
    kept.write_bytes(broken(whole))
    assert load_shipped_rules() == read
    assert kept.read_bytes() == whole


def test_nothing_is_kept_where_python_was_told_to_write_nothing(kept: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "dont_write_bytecode", True)
    assert load_shipped_rules() == load_rules(shipped("rules"))
    assert not kept.exists()


def test_a_place_that_cannot_be_written_costs_nothing_but_time(kept: Path) -> None:
    kept.parent.parent.mkdir(parents=True)
    kept.parent.write_text("a file where a folder should be")
    assert load_shipped_rules() == load_rules(shipped("rules"))


def test_where_python_keeps_no_compiled_code_the_files_are_read(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(kept_rules, "place_kept", lambda: None)
    assert load_shipped_rules() == load_rules(shipped("rules"))


def test_where_the_text_of_the_code_was_not_installed_the_files_are_read(kept: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(kept_rules, "CODE_READ", None)
    assert load_shipped_rules() == load_rules(shipped("rules"))
    assert not kept.exists()


def test_the_seal_covers_the_code_of_every_kept_record(kept: Path) -> None:
    load_shipped_rules()
    pickled = kept.read_bytes()[2 * kept_rules.SEAL:]
    rooms = {arg for _, arg, _ in pickletools.genops(pickled) if isinstance(arg, str) and re.fullmatch(r"planner\.[\w.]+", arg)}
    assert "planner.rulebook.shapes" in rooms
    assert {room.removeprefix("planner.").replace(".", "/") + ".py" for room in rooms} <= set(CODE)


@pytest.mark.parametrize("reader", ["rulebook/read.py", "rulebook/shipped_cache.py"])
def test_the_seal_covers_the_code_that_reads_rules(reader: str) -> None:
    used = re.findall(r"^from planner\.([\w.]+) import", (PACKAGE / reader).read_text(encoding="utf-8"), re.MULTILINE)
    assert used
    assert {f"{room.replace('.', '/')}.py" for room in used} - {"files/whole_file.py"} <= set(CODE)


def run_at_once(count: int, compiled: Path, code: str) -> list[str]:
    environment = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"} | {"PYTHONPYCACHEPREFIX": str(compiled)}
    started = [subprocess.Popen([sys.executable, "-c", code], cwd=PACKAGE.parent, env=environment, stdout=subprocess.PIPE, text=True) for _ in range(count)]
    said = [process.communicate()[0] for process in started]
    assert [process.returncode for process in started] == [0] * count
    return said


@pytest.mark.slow
def test_processes_at_once_get_the_same_rules_and_leave_one_whole_file(tmp_path: Path) -> None:
    code = "import hashlib; from planner.rulebook.shipped_cache import *; b, p = load_shipped_rules(); print(hashlib.sha256(repr(b).encode()).hexdigest(), p)"
    first = run_at_once(3, tmp_path, code)
    assert len(set(first)) == 1
    files = [p for p in tmp_path.rglob("*") if p.name.startswith((".rules", "rules")) and p.suffix in (".pickle", ".tmp")]
    assert [p.suffix for p in files] == [".pickle"]
    assert run_at_once(1, tmp_path, code) == first[:1]


def test_what_is_kept_is_taken_up_without_loading_what_checks_it(tmp_path: Path) -> None:
    code = ("from planner.rulebook.shipped_cache import load_shipped_rules; import sys; book, _ = load_shipped_rules();"
            "print('pydantic' in sys.modules, book.phases[0].phase, book.phases[0].tasks[0].id)")
    read, taken = run_at_once(1, tmp_path, code)[0].split(), run_at_once(1, tmp_path, code)[0].split()
    assert read[0] == "True" and taken[0] == "False"
    assert read[1:] == taken[1:]
