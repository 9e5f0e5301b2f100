"""The habits of the house, run by machine: lint, types, floors, and what must not stand in pure rooms."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from pathlib import Path

from mypy.modulefinder import FindModuleCache, SearchPaths

ROOT = Path(__file__).parents[2]
BIN = Path(sys.executable).parent
COMMAND_LAYER = {"cli", "serve", "__main__.py", "door/folder.py", "door/write.py"}
READERS = {"files/calendar_log.py", "files/lost_calendar_log.py", "files/journal.py", "files/journal_file.py", "files/journal_form.py", "files/kept.py", "files/read_file.py", "files/tank.py", "files/whole_file.py", "files/yaml_checked.py", "files/yaml_tree.py", "plan/rule_cases.py", "plan/shop_file.py", "rulebook/house/file_parts.py", "rulebook/shipped_cache.py", "rulebook/read.py", "stock/catalogue.py", "stock/entries.py"}
BANNED_CALLS = {("datetime", "now"), ("date", "today"), ("time", "time"), ("os", "environ"), ("uuid", "uuid4"), ("secrets", "token_hex"), ("random", "random")}


def run(*command: str) -> None:
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr


def test_ruff_finds_nothing() -> None:
    run(str(BIN / "ruff"), "check", ".")


def test_mypy_strict_finds_nothing() -> None:
    run(str(BIN / "mypy"))


def test_another_program_sees_the_types(tmp_path: Path) -> None:
    """The README's script of the door under `mypy --strict`, and the mark by which a type checker believes an installed package (PEP 561)."""
    script = re.search(r"## From Python\n\n```python\n(.*?)```", (ROOT / "README.md").read_text(encoding="utf-8"), re.DOTALL)
    assert script is not None
    (tmp_path / "script.py").write_text(script[1], encoding="utf-8")
    run(str(BIN / "mypy"), "--strict", str(tmp_path / "script.py"))
    (tmp_path / "site-packages").mkdir()
    (tmp_path / "site-packages" / "planner").symlink_to(ROOT / "planner", target_is_directory=True)
    assert isinstance(FindModuleCache(SearchPaths((), (), (str(tmp_path / "site-packages"),), ()), None, None).find_module("planner"), str)


def test_imports_go_down_the_floors_only() -> None:
    run(str(BIN / "lint-imports"), "--no-cache")


def pure_files() -> list[Path]:
    return [p for p in sorted((ROOT / "planner").rglob("*.py")) if p.relative_to(ROOT / "planner").parts[0] not in COMMAND_LAYER and p.relative_to(ROOT / "planner").as_posix() not in COMMAND_LAYER]


def test_no_clock_environment_or_files_outside_commands_and_readers() -> None:
    found = []
    for path in pure_files():
        name = path.relative_to(ROOT / "planner").as_posix()
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name) and (node.value.id, node.attr) in BANNED_CALLS:
                found.append(f"{name}:{node.lineno}: {node.value.id}.{node.attr}")
            if isinstance(node, ast.Call) and name not in READERS:
                called = node.func.id if isinstance(node.func, ast.Name) else node.func.attr if isinstance(node.func, ast.Attribute) else ""
                if called in ("open", "read_text", "write_text", "read_bytes", "write_bytes", "print", "input"):
                    found.append(f"{name}:{node.lineno}: {called}()")
    assert found == []


def test_files_stay_readable_in_one_sitting() -> None:
    long = {p.relative_to(ROOT).as_posix(): n for p in pure_files() if (n := len(p.read_text(encoding="utf-8").splitlines())) > 480}
    assert long == {}
