"""Records that are checked by a library which is loaded only then."""

from __future__ import annotations

import os
import pickle
import subprocess
import sys
from dataclasses import FrozenInstanceError
from pathlib import Path
from typing import Annotated, Any

import pytest
from pydantic import ValidationError

from planner.files.checked import Checked, Field, ReadBy, check


def shouted(given: Any) -> str:
    if given == "nothing":
        raise ValueError("say something")
    return str(given).upper()


class Leaf(Checked):
    by_name = True
    size: int = Field(ge=1, le=9)
    from_: str | None = Field(default=None, alias="from")


class Tree(Checked):
    """A tree of leaves."""

    name: Annotated[str, ReadBy(shouted)]
    leaves: tuple[Leaf, ...] = ()
    below: Tree | None = None
    marks: dict[str, int] = {}

    @check
    def _not_alone(self) -> None:
        if self.below is not None and not self.leaves:
            raise ValueError("a tree above another has leaves")


OAK = {"name": "oak", "leaves": [{"size": "3", "from": "june"}], "below": {"name": "elm"}}


def test_plain_data_becomes_a_record_with_its_defaults() -> None:
    oak = Tree.model_validate(OAK)
    assert isinstance(oak.leaves[0], Leaf) and isinstance(oak.below, Tree)
    assert (oak.name, oak.leaves[0].size, oak.leaves[0].from_, oak.below.name, oak.below.leaves) == ("OAK", 3, "june", "ELM", ())
    assert oak.model_fields_set == {"name", "leaves", "below"} and oak.below.model_fields_set == {"name"}


@pytest.mark.parametrize(("wrong", "at", "kind"), [
    ({"name": "nothing"}, ("name",), "value_error"),
    ({}, ("name",), "missing"),
    ({"name": "x", "leaf": 1}, ("leaf",), "extra_forbidden"),
    ({"name": "x", "leaves": [{"size": 10}]}, ("leaves", 0, "size"), "less_than_equal"),
    ({"name": "x", "leaves": [{"size": 1, "to": 2}]}, ("leaves", 0, "to"), "extra_forbidden"),
    ({"name": "x", "below": {"name": "y", "below": {"name": "z"}}}, ("below",), "value_error"),
    ({"name": "x", "below": 3}, ("below",), "model_type"),
])
def test_what_is_wrong_is_told_with_its_place(wrong: Any, at: tuple[Any, ...], kind: str) -> None:
    with pytest.raises(ValidationError) as found:
        Tree.model_validate(wrong)
    assert [(tuple(s for s in e["loc"] if not str(s).startswith("function")), e["type"]) for e in found.value.errors()][0] == (at, kind)


def test_a_record_within_plain_data_stays_as_it_is() -> None:
    elm = Tree.model_validate({"name": "elm"})
    assert Tree(name="oak", leaves=[{"size": 1}], below=elm).below is elm  # type: ignore[arg-type]


def test_records_are_equal_by_their_values_and_frozen() -> None:
    one, same, other = (Leaf.model_validate({"size": n}) for n in (1, 1, 2))
    assert one == same != other and len({one, same, other}) == 2 and one != 1
    assert repr(one) == "Leaf(size=1, from_=None)"
    with pytest.raises(FrozenInstanceError):
        one.size = 3  # type: ignore[misc]


def test_a_copy_has_the_new_values_and_tells_that_they_were_given() -> None:
    one = Leaf.model_validate({"size": 1})
    hash(one)
    two = one.model_copy(update={"size": 2})
    assert (one.size, two.size, two.model_fields_set) == (1, 2, {"size"})
    assert two == Leaf.model_validate({"size": 2}) and hash(two) == hash(Leaf.model_validate({"size": 2})) != hash(one)


def test_no_two_records_share_what_could_be_written_into() -> None:
    one, two = (Tree.model_construct(name=name) for name in "ab")
    assert one.marks == {} and one.marks is not two.marks


def test_a_pickle_gives_the_same_back_and_carries_no_hash() -> None:
    oak = Tree.model_validate({"name": "oak", "leaves": [{"size": 1, "from": None}]})
    hash(oak.leaves[0])
    found = pickle.loads(pickle.dumps(oak))
    assert found == oak and repr(found) == repr(oak) and found.leaves[0].model_fields_set == {"size", "from_"}
    assert "hashed" in vars(oak.leaves[0]) and "hashed" not in vars(found.leaves[0])


def test_who_checks_nothing_loads_no_checker() -> None:
    code = "import sys; from planner.files.tank import Tank, Glass; from planner.rulebook.shapes import PhaseRule; t = Tank.model_construct(tank=Glass.model_construct(volume=100.0)); assert t.tank.volume_l == 100.0; print('pydantic' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], cwd=Path(__file__).parents[3], env=os.environ, capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"
