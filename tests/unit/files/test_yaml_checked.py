"""The strict YAML reader and the wording of mistakes, checked against the YAML 1.2 terms they forbid and pydantic's own
error types."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Any, Literal

import pytest
import yaml
from pydantic import BaseModel, ConfigDict, Discriminator, Field, Tag, field_validator, model_validator

from planner.files.yaml_checked import Refusal, read_yaml, salvage, validate
from planner.terms.problems import Problem


def problems_of(text: str) -> tuple[Problem, ...]:
    return read_yaml(text, "a.yaml")[2]


def test_every_scalar_stays_text() -> None:
    data, _, problems = read_yaml("a: off\nb: 12:30\nc: 2026-03-04\nd: 1.0\ne: null\nf: ~\ng: 0x1F\nh: yes\n", "a.yaml")
    assert data == {"a": "off", "b": "12:30", "c": "2026-03-04", "d": "1.0", "e": "null", "f": "~", "g": "0x1F", "h": "yes"}
    assert problems == ()


def test_structure_is_the_one_the_reference_parser_finds() -> None:
    text = """
top:            # a comment
  list: [one, "two: three", 'four']
  block: |
    two
    lines
  folded: >-
    one
    line
rows:
  - {a: x, b: [y, {c: z}]}
  - plain
  -
    - nested
"""
    data, _, problems = read_yaml(text, "a.yaml")
    assert problems == ()
    assert data == yaml.load(text, Loader=yaml.BaseLoader)


def test_an_empty_value_is_none_and_an_empty_text_is_text() -> None:
    assert read_yaml("a:\nb: ''\n", "a.yaml")[0] == {"a": None, "b": ""}
    assert read_yaml("", "a.yaml")[0] is None
    assert read_yaml("# only a comment\n", "a.yaml")[::2] == (None, ())


def test_every_value_and_key_has_its_place() -> None:
    _, places, _ = read_yaml("a: x\nb:\n  - {c:  y}\n", "a.yaml")
    assert str(places.get(("a",))) == "a.yaml:1:4"
    assert str(places.get(("b", 0, "c"))) == "a.yaml:3:10"
    assert places.get(("b", 1)) is None
    assert str(places.of_key(("b", 0, "c"))) == "a.yaml:3:6"
    assert str(places.around(("b", 0, "missing"))) == "a.yaml:3:5"


def test_a_part_of_a_file_keeps_its_places() -> None:
    part = read_yaml("a: x\nb:\n  - {c:  y}\n", "a.yaml")[1].part(("b", 0))
    assert str(part.get(("c",))) == "a.yaml:3:10"
    assert str(part.of_key(("c",))) == "a.yaml:3:6"
    assert str(part.around(())) == "a.yaml:3:5"


def test_below_a_heading_that_nobody_wrote_every_place_stays() -> None:
    places = read_yaml("a: x\nb: y\n", "a.yaml")[1].under("top")
    assert str(places.of_key(("top", "b"))) == "a.yaml:2:1"
    assert str(places.get(("top", "b"))) == "a.yaml:2:4"
    assert str(places.around(("top", "c"))) == "a.yaml:1:1"
    assert str(places.around(())) == "a.yaml"


@pytest.mark.parametrize(
    ("text", "code", "place"),
    [
        ("a: 1\nb: 2\na: 3\n", "duplicate-key", "a.yaml:3:1"),
        ("a: &x 1\n", "yaml-anchor", "a.yaml:1:4"),
        ("a: &x 1\nb: *x\n", "yaml-anchor", "a.yaml:2:4"),
        ("a: !!int 1\n", "yaml-tag", "a.yaml:1:4"),
        ("a: !thing x\n", "yaml-tag", "a.yaml:1:4"),
        ("a: 1\n---\nb: 2\n", "yaml-documents", "a.yaml:2:1"),
        ("a:\n\tb: 1\n", "yaml-tab", "a.yaml:2:1"),
        ("? [x]\n: y\n", "yaml-key", "a.yaml:1:3"),
        ("a: b: c\n", "text-unquoted", "a.yaml:1:4"),
        ("a: 1\n  b: 2\n", "yaml-syntax", "a.yaml:2:4"),
        ("a: [1, 2\n", "yaml-syntax", "a.yaml:1:4"),
        ("a: \"x\n", "yaml-syntax", "a.yaml:1:4"),
        ("a: 1\n b: 2\n", "yaml-syntax", "a.yaml:2:3"),
        ("a: x\x01y\n", "yaml-character", "a.yaml:1:5"),
        ("[" * 100 + "]" * 100, "yaml-deep", "a.yaml:1:42"),
    ],
)
def test_what_the_subset_forbids_is_refused_with_its_place(text: str, code: str, place: str) -> None:
    found = [p for p in problems_of(text) if p.code == code and str(p.place) == place]
    assert found, [(p.code, str(p.place)) for p in problems_of(text)]
    assert found[0].fix


def test_text_that_is_not_utf8_names_its_line() -> None:
    data, _, problems = read_yaml(b"a: 1\nb: 25 \xb0C\n", "a.yaml")
    assert [(p.code, p.place.line) for p in problems] == [("not-utf8", 2)]
    assert isinstance(data, dict) and data["a"] == "1"


def test_a_byte_order_mark_is_no_part_of_the_first_key() -> None:
    assert read_yaml(b"\xef\xbb\xbfa: 1\n", "a.yaml")[0] == {"a": "1"}


class Strict(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class Leaf(Strict):
    size: int = Field(ge=1, le=9)
    kind: Literal["round", "square"] = "round"


class Both(Strict):
    all: tuple[Node, ...]


class One(Strict):
    leaf: Leaf


def key_of(data: Any) -> str | None:
    return next((k for k in ("all", "leaf") if isinstance(data, dict) and k in data), None)


Node = Annotated[Annotated[Both, Tag("all")] | Annotated[One, Tag("leaf")], Discriminator(key_of)]


class Top(Strict):
    day: date | None = None
    ratio: float = 1.0
    on: bool = False
    name: str = "x"
    length_cm: float = Field(1.0, alias="length")
    items: tuple[Leaf, ...] = ()
    by_name: dict[str, Leaf] = {}
    tree: Node | None = None
    low: int = 0

    @field_validator("name")
    @classmethod
    def _no_b(cls, name: str) -> str:
        if name == "b":
            raise Refusal("no-b", "b is taken", "write `c`")
        if name == "d":
            raise ValueError("d is not allowed here")
        return name

    @model_validator(mode="after")
    def _low(self) -> Top:
        if self.low > 5:
            raise Refusal("too-high", "low is high", "lower it", at=("low",))
        for index, item in enumerate(self.items):
            if item.size == 7:
                raise Refusal("seven", "7 is taken", "write `8`", at=("items", index))
        return self


Both.model_rebuild()
Top.model_rebuild()


def check(text: str) -> tuple[Top | None, list[tuple[str, str, str, str]]]:
    data, places, problems = read_yaml(text, "a.yaml")
    assert not problems
    found, mistakes = validate(Top, data, places, text.splitlines())
    return found, [(p.code, str(p.place), p.message, p.fix) for p in mistakes]


def test_a_good_file_becomes_a_record() -> None:
    found, mistakes = check("day: 2026-03-04\nlength: 2.5\ntree: {all: [{leaf: {size: 2}}]}\n")
    assert mistakes == []
    assert found is not None and found.day == date(2026, 3, 4) and found.length_cm == 2.5


@pytest.mark.parametrize(
    ("text", "code", "place", "fix"),
    [
        ("lenght: 2\n", "unknown-key", "a.yaml:1:1", "write `length`"),
        ("items: [{size: 2, knid: round}]\n", "unknown-key", "a.yaml:1:19", "write `kind`"),
        ("by_name: {a: {size: 2, siez: 2}}\n", "unknown-key", "a.yaml:1:24", "write `size`"),
        ("tree: {all: [{leaf: {size: 2, kidn: x}}]}\n", "unknown-key", "a.yaml:1:31", "write `kind`"),
        ("tree: {all: [{laef: {size: 2}}]}\n", "not-a-choice", "a.yaml:1:14", "use one of `all` or `leaf`"),
        ("items: [{kind: round}]\n", "missing-key", "a.yaml:1:9", "add `size`"),
        ("items: [{size: 2, kind: rund}]\n", "not-a-choice", "a.yaml:1:25", "write `round`"),
        ("day: soon\n", "not-a-date", "a.yaml:1:6", "write it as year-month-day, such as `2026-03-04`"),
        ("items: [{size: 2.5}]\n", "not-a-whole-number", "a.yaml:1:16", "write a whole number, such as `2`"),
        ("items: [{size: 12}]\n", "out-of-range", "a.yaml:1:16", "check the number"),
        ("ratio: much\n", "not-a-number", "a.yaml:1:8", "write a plain number, such as `0.25`"),
        ("on: perhaps\n", "not-yes-or-no", "a.yaml:1:5", "write `yes` or `no`"),
        ("items: 3\n", "not-a-list", "a.yaml:1:8", "write `[one, two]`, or one item per line, each after `- `"),
        ("items: [3]\n", "not-a-block", "a.yaml:1:9", "write its keys below it, indented by two spaces"),
        ("name: [a]\n", "not-text", "a.yaml:1:7", "write `name` and its value on one line"),
        ("name:\n", "empty-value", "a.yaml:1:6", "write a value after `name`, or take the key out"),
        ("name: b\n", "no-b", "a.yaml:1:7", "write `c`"),
        ("name: d\n", "not-possible", "a.yaml:1:7", "correct it"),
        ("low: 7\n", "too-high", "a.yaml:1:6", "lower it"),
    ],
)
def test_mistakes_are_told_in_our_words_at_their_place(text: str, code: str, place: str, fix: str) -> None:
    found, mistakes = check(text)
    assert found is None
    assert [(c, p, f) for c, p, _, f in mistakes] == [(code, place, fix)]


def test_no_library_wording_reaches_the_user() -> None:
    _, mistakes = check("items: [{size: x, a: 1}]\nratio: x\nday: x\non: x\nname: [x]\nby_name: 3\ntree: {x: 1}\n")
    told = " ".join(f"{m} {f}" for _, _, m, f in mistakes).lower()
    for word in ("input", "valid ", "pydantic", "union", "tag", "extra", "field required", "parse", "expected"):
        assert word not in told, word
    assert len(mistakes) == 8


def test_what_is_wrong_is_left_out_and_the_rest_is_kept() -> None:
    text = "ratio: x\nname: good\nitems: [{size: 99}, {size: 2}, {size: y}, {size: 3}]\nextra: 1\n"
    data, places, _ = read_yaml(text, "a.yaml")
    found, mistakes = salvage(Top, data, places, text.splitlines())
    assert found is not None
    assert (found.ratio, found.name, [i.size for i in found.items]) == (1.0, "good", [2, 3])
    assert {(p.code, str(p.place)) for p in mistakes} >= {
        ("not-a-number", "a.yaml:1:8"), ("out-of-range", "a.yaml:3:16"), ("not-a-whole-number", "a.yaml:3:39"),
        ("unknown-key", "a.yaml:4:1")}


def test_a_later_item_keeps_its_place_when_an_earlier_one_was_left_out() -> None:
    text = "items: [{size: 99}, {size: 2}, {size: 7}]\n"
    data, places, _ = read_yaml(text, "a.yaml")
    found, mistakes = salvage(Top, data, places, text.splitlines())
    assert found is not None and [i.size for i in found.items] == [2]
    assert [(p.code, p.place.column) for p in mistakes] == [("out-of-range", 16), ("seven", text.index("{size: 7") + 1)]
