"""Why something is as it is, as a value: a kind, and the amounts, names and days that belong to it. The words are made from
it in `show/words/causes`, in the buyer's units; nothing compares or splits a sentence."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, TypeAlias

from planner.frozen import dataclass

if TYPE_CHECKING:
    from planner.terms.records import Trace


@dataclass(frozen=True, slots=True)
class Amount:
    """`assumed`: it rests on a guess about the tank, which each face says beside it. `side`: where it is rounded to as it is shown, `up`
    or `down`, and else to the nearest; what is counted stays as it is."""

    value: float
    unit: str
    assumed: bool = False
    side: str = ""


@dataclass(frozen=True, slots=True)
class Span:
    """An amount from `low` to `high`."""

    low: float
    high: float
    unit: str


@dataclass(frozen=True, slots=True)
class Cause:
    """`values` are named as the words of this kind name them: a text of the keeper or the catalogue, a number, an amount,
    names in a row, or causes or conditions in a row."""

    kind: str
    values: tuple[tuple[str, Value], ...] = ()

    def text(self, name: str) -> str:
        """One of its values that is a text; "" where there is none of that name."""
        return next((v for k, v in self.values if k == name and isinstance(v, str)), "")


Value: TypeAlias = "str | float | Amount | Span | Cause | tuple[str, ...] | tuple[Cause, ...] | tuple[Trace, ...]"


def cause(kind: str, **values: Value) -> Cause:
    return Cause(kind, tuple(values.items()))


def in_turn(causes: Sequence[Cause]) -> Cause:
    """Several causes that are told in one breath."""
    return causes[0] if len(causes) == 1 else cause("in_turn", parts=tuple(causes))


def about(value: float, unit: str) -> Amount:
    """An amount that is a judgement: no more than whole units are meant."""
    return Amount(float(round(value)), unit)


__all__ = ["Amount", "Cause", "Span", "Value", "about", "cause", "in_turn"]
