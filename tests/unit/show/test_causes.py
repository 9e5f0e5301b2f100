"""Causes and their words: what the code can give as a cause is told with all its values. Contract of this project; no outside
figures."""

from __future__ import annotations

import ast
import inspect
from collections.abc import Iterator
from pathlib import Path
from string import Formatter

from planner.show.words.causes import CHOSEN, SHARES, WORDS
from planner.stock.catalogue import load_catalogue
from planner.stock.stages.filter import RATIONS
from planner.stock.stages.order import GROUPS_THAT_WAIT
from planner.stock.suitability import HAZARDS
from planner.terms.texts import flat, parts_of

PLANNER = Path(__file__).parents[3] / "planner"
LIVESTOCK = Path(__file__).parents[3] / "rules" / "livestock"


def given() -> Iterator[tuple[str, frozenset[str]]]:
    """Kind and values of every `cause(...)` in the code that names its kind outright."""
    for path in PLANNER.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "cause":
                first = node.args[0]
                for kind in (first.body, first.orelse) if isinstance(first, ast.IfExp) else (first,):
                    if isinstance(kind, ast.Constant):
                        yield kind.value, frozenset(k.arg or "" for k in node.keywords)


def named(kind: str) -> frozenset[str]:
    """The values that the words of a kind name."""
    if kind in CHOSEN:
        return frozenset(inspect.signature(CHOSEN[kind]).parameters)
    said = [part for part in flat(parts_of(WORDS[kind])) if isinstance(part, str)]  # both what is typed and what a pencil writes
    return frozenset(name for words in said for _, name, _, _ in Formatter().parse(words) if name)


def test_every_cause_in_the_code_is_told_with_all_its_values() -> None:
    found = list(given())
    assert len(found) > 80
    assert [(kind, values) for kind, values in found if kind not in WORDS and kind not in CHOSEN or named(kind) != values] == []


def test_whatever_the_catalogue_names_has_words() -> None:
    prey = {word for animal in load_catalogue([LIVESTOCK]).animals for word in animal.counts_as if animal.group != "fish"}
    kinds = {*(f"prey_{word}" for word in prey), *(f"hazard_{hazard}" for hazard in HAZARDS), *(f"group_{group}" for group in GROUPS_THAT_WAIT)}
    assert len(prey) > 8 and sorted(kinds - WORDS.keys()) == []


def test_every_ration_has_a_word() -> None:
    assert set(SHARES) == set(RATIONS)
