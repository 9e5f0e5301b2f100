"""Our quick `dataclass` against the one of the standard library: whatever can be asked of a record, both answer alike."""

from __future__ import annotations

import dataclasses
import pickle
from collections.abc import Callable
from dataclasses import FrozenInstanceError, asdict, astuple, field, fields, replace
from typing import Any

import pytest

from planner.frozen import dataclass as ours

Maker = Callable[..., Any]
MAKERS = {"library": dataclasses.dataclass, "ours": ours}


def record_by(maker: Maker) -> Any:
    @maker(frozen=True, slots=True)
    class Record:
        a: int
        b: str = "b"
        c: list[int] = field(default_factory=list)
        d: int = field(default=4, compare=False, repr=False)

        def __post_init__(self) -> None:
            object.__setattr__(self, "d", self.d + self.a)

    return Record


def heir_by(maker: Maker) -> Any:
    @maker(frozen=True, slots=True)
    class Base:
        """What heirs share."""

        first: int

    @maker(frozen=True, slots=True, kw_only=True)
    class Heir(Base):
        made: int = field(init=False, default=7)
        last: str

        def __repr__(self) -> str:
            return "its own"

    return Heir


@dataclasses.dataclass(frozen=True, slots=True)
class OfLibrary:
    one: int
    two: tuple[int, ...] = ()


@ours(frozen=True, slots=True)
class OfOurs:
    one: int
    two: tuple[int, ...] = ()


def told(maker: Maker) -> list[Any]:
    record, heir = record_by(maker), heir_by(maker)
    one, same, other = record(1), record(a=1, b="b", c=[]), record(1, "x", [2], 9)
    full = heir(3, last="z")
    return [
        repr(one), repr(full), one == same, one == other, one == (1, "b", []), record(1, d=0) == one, one.d, other.d, one.c is same.c,
        asdict(other), astuple(other), [f.name for f in fields(one)], repr(replace(other, a=5)), replace(other, a=5).d,
        full.made, full.first, full.last, full == heir(3, last="z"), full == heir(3, last="y"), record.__slots__, heir.__slots__, heir.__init__.__qualname__.rpartition(".")[2],
    ]


def test_both_answer_alike() -> None:
    assert told(ours) == told(dataclasses.dataclass)


@pytest.mark.parametrize("maker", MAKERS.values(), ids=MAKERS)
def test_what_is_missing_or_too_much_is_refused(maker: Maker) -> None:
    record, heir = record_by(maker), heir_by(maker)
    for wrong in (lambda: record(), lambda: record(1, e=2), lambda: heir(1, "z"), lambda: heir(1), lambda: heir(1, last="z", made=3)):
        with pytest.raises(TypeError):
            wrong()


@pytest.mark.parametrize("maker", MAKERS.values(), ids=MAKERS)
def test_a_record_cannot_be_written_to(maker: Maker) -> None:
    one = record_by(maker)(1)
    with pytest.raises(FrozenInstanceError):
        one.a = 2
    with pytest.raises(FrozenInstanceError):
        del one.a
    with pytest.raises((FrozenInstanceError, AttributeError, TypeError)):
        one.new = 2
    assert one.a == 1


def test_equal_records_are_one_key_and_a_list_is_none() -> None:
    assert len({OfOurs(1, (2,)), OfOurs(1, (2,)), OfOurs(2)}) == 2
    with pytest.raises(TypeError):
        hash(record_by(ours)(1))


def test_a_pickle_gives_the_same_back() -> None:
    for one in (OfOurs(1, (2, 3)), OfLibrary(1, (2, 3))):
        assert pickle.loads(pickle.dumps(one)) == one
