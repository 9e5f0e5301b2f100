"""A reason is a value until it is shown: no code compares, splits or searches a sentence.

Looked at is the syntax of every room but `files`, which reads what keepers write, and the calendar: a literal with
words in it beside `==` or `in`, or handed to a method or a pattern that takes text apart, also by the name of a constant."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path

import pytest

from planner.judge.kinds import KINDS
from planner.rulebook.kinds.node import Node
from planner.rulebook.nodes import LEAF_KINDS, Condition
from planner.show.words.conditions import ASKED, SEEN
from planner.terms.traces import Asked, Gap, Joined, Seen

PLANNER = Path(__file__).parents[2] / "planner"
LEFT_OUT = ("files/", "show/calendar/", "show/json/")
OF_A_SENTENCE = re.compile(r"[a-z] [a-z]|\[\.\S*\]\)? ", re.IGNORECASE)
"""Two words beside each other in a pattern, or the end of a sentence."""
NONE: Mapping[str, str] = {}
TAKES_APART = {"startswith", "endswith", "split", "rsplit", "partition", "rpartition", "removeprefix", "removesuffix", "find", "index", "count", "replace"}
ALLOWED = {
    ("judge/challenge.py", "fl oz"): "a unit as the journal writes it",
    ("plan/texts.py", "small snails"): "a unit of counting",
    ("plan/texts.py", "SG 25/25"): "a unit",
    ("rulebook/texts.py", ". "): "the end of a sentence, while braces are read",
    ("rulebook/texts.py", "tank file"): "words that an author may not write plainly",
    ("stock/suitability.py", "leather coral"): "a kind of animal as the catalogue writes it",
    **{("terms/amounts.py", f"mg/L as {basis}"): "a unit" for basis in ("N", "NH3", "NH4", "NO2", "NO3")},
    ("terms/written_amounts.py", "specific gravity"): "a unit as keepers write it",
    ("terms/readings.py", " as N"): "the ending of a unit",
    ("rulebook/texts.py", r"`[^`]*`?|\bnewtank\b|(?<![\w-])--[a-z][a-z-]*|\btank file\b|(?<![\w/])[a-z]+(?:-[a-z]+)*/[a-z]+-[a-z0-9-]+"): "words that an author may not write plainly",
    **{("show/terminal/mix_page.py", f"mg/L as {basis}"): "a unit" for basis in ("NH3", "NH4", "NO2", "NO3")},
    ("show/terminal/mix_page.py", "SG "): "the beginning of a unit",
    ("show/words/understood.py", "as N"): "the ending of a unit",
    ("show/words/filled_tank_file.py", " #"): "where a remark begins in YAML",
    ("show/paper/handout.py", 'the text `"(.*?)"` could not be displayed'): "a warning of the page setter",
}
"""Parse places, each with its reason."""


def constants(code: str) -> dict[str, str]:
    """The texts to which a module gives a name: `n.startswith(ON_WORD)` hides nothing."""
    return {target.id: node.value.value for node in ast.parse(code).body if isinstance(node, ast.Assign) and isinstance(node.value, ast.Constant) and isinstance(node.value.value, str)
            for target in node.targets if isinstance(target, ast.Name)}


def imported(code: str, of: Mapping[str, Mapping[str, str]]) -> dict[str, str]:
    """The texts with a name that a module takes from others of the project."""
    taken = [(f"{node.module or ''}".replace(".", "/"), alias.name) for node in ast.walk(ast.parse(code)) if isinstance(node, ast.ImportFrom) for alias in node.names]
    return {name: text for module, name in taken if (text := of.get(f"{module}.py", {}).get(name)) is not None}


def literals(node: ast.expr, named: Mapping[str, str]) -> Iterator[str]:
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield node.value
    elif isinstance(node, ast.Name) and node.id in named:
        yield named[node.id]
    elif isinstance(node, ast.JoinedStr):
        yield "".join(str(v.value) for v in node.values if isinstance(v, ast.Constant))
    elif isinstance(node, ast.Tuple | ast.List | ast.Set):
        for element in node.elts:
            yield from literals(element, named)


def sentences_taken_apart(code: str, named: Mapping[str, str] = NONE) -> Iterator[str]:
    """Every literal with a space in it that the code compares with, or takes a text apart by; of patterns those with two words. A lone
    space parts words that a rule or a keeper wrote."""
    for node in ast.walk(ast.parse(code)):
        looked_at: list[ast.expr] = []
        if isinstance(node, ast.Compare) and any(isinstance(o, ast.Eq | ast.NotEq | ast.In | ast.NotIn) for o in node.ops):
            looked_at = [node.left, *node.comparators]
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and isinstance(node.func.value, ast.Name) and node.func.value.id == "re":
            yield from (text for part in node.args[:1] for text in literals(part, named) if OF_A_SENTENCE.search(text))
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr in TAKES_APART:
            looked_at = node.args[:1]
        elif isinstance(node, ast.MatchValue):
            looked_at = [node.value]
        yield from (text for part in looked_at for text in literals(part, named) if " " in text and text.strip(" "))


@cache
def found() -> set[tuple[str, str]]:
    codes = {p.relative_to(PLANNER).as_posix(): p.read_text(encoding="utf-8") for p in sorted(PLANNER.rglob("*.py"))}
    named = {f"planner/{path}": constants(code) for path, code in codes.items()}
    return {(path, text) for path, code in codes.items() if not path.startswith(LEFT_OUT)
            for text in sentences_taken_apart(code, imported(code, named) | named[f"planner/{path}"])}


def test_no_code_compares_splits_or_searches_a_sentence() -> None:
    assert found() - ALLOWED.keys() == set()


def test_every_allowed_parse_place_is_still_there() -> None:
    assert ALLOWED.keys() - found() == set()


@pytest.mark.parametrize("code", [
    'x = trace.text == "one of"', 'x = "not ticked yet" in need.evidence', 'x = e in ("no reading yet", "none")', 'x = t.startswith("tank file: ")',
    'x = t.startswith(ON_WORD)', 'x = re.compile(r"Journal line \\d+ cannot be read")', 'x = re.split(r"(?<=[.?]) (?=[A-Z])", t)', 'x = t.partition(" is ")', 'x = t.removeprefix(f"The date is {word}")', 'match t:\n    case "all of":\n        pass',
])
def test_the_look_out_sees_a_sentence_that_is_taken_apart(code: str) -> None:
    assert list(sentences_taken_apart(code, constants('ON_WORD = "Passed on your word:"'))) != []


def test_every_kind_of_condition_is_judged_and_has_words() -> None:
    """The table of kinds are the fields of `Condition`; each is one shape, one judge, and one row of words."""
    shapes = {model for model in Node.__subclasses__() if any(model.__name__ in str(field.annotation) for field in Condition.model_fields.values())}
    assert len(shapes) == len(LEAF_KINDS) and set(KINDS) == shapes


def heirs(of: type) -> set[str]:
    """By name, since a class with slots is made anew from one without."""
    return {name for direct in of.__subclasses__() for name in (direct.__name__, *heirs(direct))}


def test_everything_asked_seen_or_missing_has_a_row_of_words() -> None:
    assert heirs(Asked) - {Joined.__name__} == {kind.__name__ for kind in ASKED}
    assert heirs(Gap) | heirs(Seen) == {kind.__name__ for kind in SEEN}
