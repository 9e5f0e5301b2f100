"""A reason is a value until it is shown: no code compares, splits or searches a sentence.

Looked at is the syntax of every room but `show`, which makes sentences, and `files`, which reads what keepers write; of `show` the paper, which puts together what others said: a
literal with a space in it beside `==` or `in`, or handed to a method that takes text apart."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

from planner.judge.kinds import KINDS
from planner.rulebook.kinds.node import Node
from planner.rulebook.nodes import LEAF_KINDS, Condition
from planner.show.words.conditions import ASKED, SEEN
from planner.terms.traces import Asked, Gap, Joined, Seen

PLANNER = Path(__file__).parents[2] / "planner"
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
    ("show/paper/cards.py", r"(?<=\.) +(?=[A-Z])"): "the ends of sentences, so that a card begins with as many as make two lines",
    ("door/entry_words.py", ": the unit has a field of its own"): "a fix of the journal's reader, cut for the command line",
}
"""Parse places, each with its reason."""


def literals(node: ast.expr) -> Iterator[str]:
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield node.value
    elif isinstance(node, ast.JoinedStr):
        yield "".join(str(v.value) for v in node.values if isinstance(v, ast.Constant))
    elif isinstance(node, ast.Tuple | ast.List | ast.Set):
        for element in node.elts:
            yield from literals(element)


def sentences_taken_apart(code: str) -> Iterator[str]:
    """Every literal with a space in it that the code compares with, or takes a text apart by. A lone space parts words
    that a rule or a keeper wrote."""
    for node in ast.walk(ast.parse(code)):
        looked_at: list[ast.expr] = []
        if isinstance(node, ast.Compare) and any(isinstance(o, ast.Eq | ast.NotEq | ast.In | ast.NotIn) for o in node.ops):
            looked_at = [node.left, *node.comparators]
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr in TAKES_APART:
            looked_at = node.args[:1]
        elif isinstance(node, ast.MatchValue):
            looked_at = [node.value]
        yield from (text for part in looked_at for text in literals(part) if " " in text and text.strip(" "))


def found() -> set[tuple[str, str]]:
    rooms = (p for p in sorted(PLANNER.rglob("*.py")) if p.relative_to(PLANNER).parts[0] not in ("show", "files") or p.relative_to(PLANNER).parts[:2] == ("show", "paper"))
    return {(path.relative_to(PLANNER).as_posix(), text) for path in rooms for text in sentences_taken_apart(path.read_text(encoding="utf-8"))}


def test_no_code_compares_splits_or_searches_a_sentence() -> None:
    assert found() - ALLOWED.keys() == set()


def test_every_allowed_parse_place_is_still_there() -> None:
    assert ALLOWED.keys() - found() == set()


@pytest.mark.parametrize("code", [
    'x = trace.text == "one of"', 'x = "not ticked yet" in need.evidence', 'x = e in ("no reading yet", "none")', 'x = t.startswith("tank file: ")',
    'x = t.partition(" is ")', 'x = t.removeprefix(f"The date is {word}")', 'match t:\n    case "all of":\n        pass',
])
def test_the_look_out_sees_a_sentence_that_is_taken_apart(code: str) -> None:
    assert list(sentences_taken_apart(code)) != []


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
