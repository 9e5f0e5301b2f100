"""The id of a task is a value until it is shown: no face takes one out of a finished text by a pattern."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from importlib import import_module
from pathlib import Path

import pytest

SHOW = Path(__file__).parents[2] / "planner" / "show"
NAMED = ("Set the stand level (site/level)", "done: Bring in the first fish (fish/stage-1 or fish/stage#1)", "site/level")


def is_for_ids(pattern: re.Pattern[str]) -> bool:
    """Does it find the id of a task, and not the same letters without the stroke?"""
    for text in NAMED:
        found, other = pattern.search(text), pattern.search(text.replace("/", " "))
        if found is not None and "/" in found[0] and (other is None or other.span() != found.span()):
            return True
    return False


def patterns_of_modules() -> Iterator[tuple[str, re.Pattern[str]]]:
    """Patterns that a module of `show` keeps, by the module's name."""
    for path in sorted(SHOW.rglob("*.py")):
        name = ".".join(("planner", "show", *path.relative_to(SHOW).with_suffix("").parts)).removesuffix(".__init__")
        yield from ((name, p) for p in vars(import_module(name)).values() if isinstance(p, re.Pattern) and isinstance(p.pattern, str))


def patterns_in_calls(code: str) -> Iterator[re.Pattern[str]]:
    """Patterns written where they are used, such as `re.sub("...", "", text)`."""
    for node in ast.walk(ast.parse(code)):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and isinstance(node.func.value, ast.Name) and node.func.value.id == "re":
            for written in node.args[:1]:
                if isinstance(written, ast.Constant) and isinstance(written.value, str):
                    yield re.compile(written.value)


def test_no_face_finds_ids_by_a_pattern() -> None:
    kept = [f"{name}: {p.pattern}" for name, p in patterns_of_modules() if is_for_ids(p)]
    called = [f"{path.name}: {p.pattern}" for path in sorted(SHOW.rglob("*.py")) for p in patterns_in_calls(path.read_text(encoding="utf-8")) if is_for_ids(p)]
    assert kept + called == []


@pytest.mark.parametrize("pattern", [
    r" \([a-z-]+/[a-z0-9-]+\)$", r" \([a-z-]+/[a-z0-9#-]+(?: or [a-z-]+/[a-z0-9#-]+)?\)$", r"\w+/\w+", r"\S+/\S+",
])
def test_the_look_out_sees_a_pattern_for_ids(pattern: str) -> None:
    assert is_for_ids(re.compile(pattern))
    assert [p.pattern for p in patterns_in_calls(f"import re\nx = re.sub({pattern!r}, '', text)")] == [pattern]


@pytest.mark.parametrize("pattern", [r".{10}", r"(?<=\.) ", r"[^\s]{30,}", r"(\d+(?:\.\d+)?)\s*ppt"])
def test_a_pattern_that_knows_no_ids_is_let_be(pattern: str) -> None:
    assert not is_for_ids(re.compile(pattern))
