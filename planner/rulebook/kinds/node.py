"""What every kind of condition tells about itself, so that one walk serves all who look through conditions."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Literal

from planner.files.checked import Checked
from planner.frozen import dataclass

Way = Literal["lower_is_stricter", "higher_is_stricter", "unclear"]
LOWER: Way = "lower_is_stricter"
HIGHER: Way = "higher_is_stricter"
UNCLEAR: Way = "unclear"
TIME = "time"
FIRST_AMMONIA = "first:ammonia"
"""The moment at which the cycle began: the first dose, or the rock that cures in the tank."""

Subject = tuple[str, str]
"""A kind and a what of the journal; `*` for any."""
Tests = Callable[[str, str], Iterable[str]]
"""The tests of a reading (name, water) that a gate may look at, as keys of tasks."""
Known = Callable[[Literal["rock_in"]], tuple[str, ...]]
"""The tasks that the engine knows by a name, as keys."""


class Written(Checked):
    """Base of everything that a rule author writes."""

    by_name = True


@dataclass(frozen=True, slots=True)
class Threshold:
    """A number on which a leaf rests. `harder`: the way that makes the leaf harder to meet. `measure`: what it has to be a
    number of, `time` or a reading; empty where only the author knows. `fresh`: it bounds how long a reading counts.
    `written`: the rule names it itself, else the engine looks it up."""

    name: str
    harder: Way
    measure: str = ""
    fresh: bool = False
    written: bool = True


class Node(Written):
    """A condition without parts. Each kind says what holds of it; the rest stays empty."""

    def thresholds(self) -> tuple[Threshold, ...]:
        """The numbers on which the answer rests."""
        return ()

    def names(self) -> tuple[tuple[str, str], ...]:
        """(kind, name) of everything else that it names: readings, tasks, phases, keys of the tank file."""
        return ()

    def moments(self) -> tuple[str, ...]:
        """What it counts from: a task `phase/task`, a fact `kind:what`, or a gate."""
        return ()

    def ticks(self) -> tuple[str, ...]:
        """The tasks whose ticks and skips it looks at."""
        return ()

    def watches(self, known: Known) -> tuple[Subject, ...]:  # noqa: ARG002  # heirs use it
        """The journal rows that can change the answer, besides its ticks and moments."""
        return ()

    def waits_for(self, tests: Tests, proof: str) -> Iterable[str]:  # noqa: ARG002  # heirs use them
        """What a date must wait for before it can be yes: tasks, `gate/phase`, `start/phase`. `proof`: the start of the
        phase that proves the filter."""
        return ()

    def tested(self) -> tuple[str, str] | None:
        """The reading (name, water) by whose test alone it is met."""
        return None

    def once(self) -> Node:
        """The same, met by one reading where it asks for several."""
        return self

    def water(self) -> str | None:
        """The water it speaks of, if any."""
        return None


def named(*specs: str | None) -> tuple[tuple[str, str], ...]:
    """Tasks and phases among the moments and tasks that a leaf names; a fact is neither."""
    return tuple(("task" if "/" in s else "phase", s) for s in specs if s and ("/" in s or ":" not in s))


def given(*specs: str | None) -> tuple[str, ...]:
    return tuple(s for s in specs if s)


def limits(*bounds: tuple[str | None, Way, str]) -> tuple[Threshold, ...]:
    """The bounds that are written, with way and measure."""
    return tuple(Threshold(name, way, measure) for name, way, measure in bounds if name)


__all__ = ["FIRST_AMMONIA", "HIGHER", "LOWER", "TIME", "UNCLEAR", "Known", "Node", "Subject", "Tests", "Threshold", "Way", "Written", "given", "limits", "named"]
