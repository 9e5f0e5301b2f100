"""What the documents show is what the program prints, and the commands they name exist."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import pytest
from click.testing import CliRunner

from planner.cli import COMMANDS, newtank
from planner.rulebook.read import shipped

ROOT = Path(__file__).parents[2]
SHOWN = re.compile(r"<!-- shows: (.+?) -->\n```\n(.*?)```\n", re.DOTALL)


def printed(command: str, monkeypatch: pytest.MonkeyPatch) -> str:
    monkeypatch.chdir(ROOT)
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.setenv("NO_COLOR", "1")
    result = CliRunner().invoke(newtank, command.split(), prog_name="newtank")
    assert result.exit_code == 0, result.output
    return result.output


def test_the_readme_shows_the_real_output(monkeypatch: pytest.MonkeyPatch, pytestconfig: pytest.Config) -> None:
    path = ROOT / "README.md"
    text = path.read_text(encoding="utf-8")
    found = SHOWN.findall(text)
    assert found, "README.md shows no output"
    for command, block in found:
        real = printed(command, monkeypatch)
        if pytestconfig.getoption("--accept"):
            path.write_text(text.replace(f"-->\n```\n{block}```", f"-->\n```\n{real}```"), encoding="utf-8")
        else:
            assert block == real


def test_every_command_named_in_the_readme_exists() -> None:
    named = set(re.findall(r"^    newtank (\w+)", (ROOT / "README.md").read_text(encoding="utf-8"), re.MULTILINE))
    assert named <= set(COMMANDS)


def test_help_of_every_command_opens() -> None:
    for name in COMMANDS:
        result = CliRunner().invoke(newtank, [name, "--help"], prog_name="newtank")
        assert result.exit_code == 0, (name, result.output)
        assert "Usage: newtank" in result.output


def test_both_set_up_commands_use_the_one_list_of_tried_versions() -> None:
    lines = [line.strip() for line in (ROOT / "README.md").read_text(encoding="utf-8").splitlines() if line.startswith("python3 -m venv")]
    assert len(lines) == 2
    assert all("-c .ci/constraints.txt" in line for line in lines)


def test_rules_and_scenarios_travel_with_the_package() -> None:
    assert (shipped("rules") / "setup" / "cycle.yaml").is_file()
    assert (shipped("scenarios") / "dry-rock-us" / "tank.yaml").is_file()


TOP_LEVEL = {".ci", ".gitignore", "DEVELOPERS.md", "LICENSE", "README.md", "planner", "pyproject.toml", "rules", "scenarios", "tests"}


def test_nothing_else_lies_at_the_top() -> None:
    kept = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False)
    if kept.returncode:
        pytest.skip("this is no checkout, so that git cannot tell what is kept")
    assert {name.split("/")[0] for name in kept.stdout.splitlines()} == TOP_LEVEL
