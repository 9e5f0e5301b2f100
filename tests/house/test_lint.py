"""The habits of the house, run by machine: lint, types, floors, and what must not stand in pure rooms."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
BIN = Path(sys.executable).parent
COMMAND_LAYER = {"cli", "__main__.py"}
READERS = {"files/calendar_log.py", "files/lost_calendar_log.py", "files/journal.py", "files/journal_form.py", "files/journal_write.py", "files/tank.py", "files/whole_file.py", "files/yaml_checked.py", "files/yaml_tree.py", "plan/rule_cases.py", "plan/shop_file.py", "rulebook/house/read.py", "rulebook/shipped_cache.py", "rulebook/read.py", "stock/catalogue.py", "stock/entries.py"}
BANNED_CALLS = {("datetime", "now"), ("date", "today"), ("time", "time"), ("os", "environ"), ("uuid", "uuid4"), ("secrets", "token_hex"), ("random", "random")}


def run(*command: str) -> None:
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr


def test_ruff_finds_nothing() -> None:
    run(str(BIN / "ruff"), "check", ".")


def test_mypy_strict_finds_nothing() -> None:
    run(str(BIN / "mypy"))


def test_imports_go_down_the_floors_only() -> None:
    run(str(BIN / "lint-imports"), "--no-cache")


def pure_files() -> list[Path]:
    return [p for p in sorted((ROOT / "planner").rglob("*.py")) if not COMMAND_LAYER & set(p.relative_to(ROOT / "planner").parts)]


@pytest.mark.parametrize("path", pure_files(), ids=lambda p: p.relative_to(ROOT).as_posix())
def test_no_clock_environment_or_files_outside_commands_and_readers(path: Path) -> None:
    found = []
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name) and (node.value.id, node.attr) in BANNED_CALLS:
            found.append(f"{node.value.id}.{node.attr}, line {node.lineno}")
        if isinstance(node, ast.Call) and path.relative_to(ROOT / "planner").as_posix() not in READERS:
            name = node.func.id if isinstance(node.func, ast.Name) else node.func.attr if isinstance(node.func, ast.Attribute) else ""
            if name in ("open", "read_text", "write_text", "read_bytes", "write_bytes", "print", "input"):
                found.append(f"{name}(), line {node.lineno}")
    assert found == []


def test_files_stay_readable_in_one_sitting() -> None:
    long = {p.relative_to(ROOT).as_posix(): n for p in pure_files() if (n := len(p.read_text(encoding="utf-8").splitlines())) > 480}
    assert long == {}
