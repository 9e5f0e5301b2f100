"""What the judge knows of a kind of condition: its answer, since when it can be yes, and when it can be met."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any, Protocol

from planner.frozen import dataclass
from planner.judge.possible import EVER, Possible
from planner.judge.scene import NO, Scene
from planner.rulebook.shapes import Rulebook
from planner.terms.records import Trace

Days = list[date | None]


class Diary(Protocol):
    """The dates of a plan as a kind may ask for them, in one scenario and for the gate of one phase."""

    rules: Rulebook

    def of_task(self, key: str) -> Days:
        """The day of a task; empty where this tank has no such task."""

    def of_moment(self, spec: str) -> date | None:
        """The day of a task or of a gate; None where it cannot be had."""

    def of_test(self, name: str, where: str, times: int, gap_days: int, since: str | None = None) -> date | None:
        """The day of the last of so many tests of a reading, the first of them not before what they count `since`."""

    def of_clear(self, name: str, wait_days: int) -> Days:
        """So many days after the forecast sees a reading clear; empty where the forecast does not tell this gate."""

    def of_proof(self, wait_days: int) -> date | None:
        """So many days after the filter can be tried."""

    def plus(self, day: date | None, days: int) -> date | None:
        """So many days on."""

    def ageless(self, node: Any) -> Trace:
        """The answer that the rows would give if they were of today."""

    def is_called(self, key: str) -> bool:
        """Is the task there? One that only a condition brings up is not before it, unless another task does as well."""


def _ever(node: Any, scene: Scene) -> Possible:  # noqa: ARG001
    return EVER


def _no_days(node: Any, trace: Trace, diary: Diary) -> Days:  # noqa: ARG001
    return []


def _no_limit(node: Any, rules: Rulebook) -> float | None:  # noqa: ARG001
    return None


def _never(node: Any) -> bool:  # noqa: ARG001
    return False


def is_excluded(node: Any, trace: Trace, diary: Diary) -> bool:  # noqa: ARG001
    """What kind of tank it is says no: waiting changes nothing."""
    return trace.context and trace.answer == NO


@dataclass(frozen=True, slots=True)
class JudgedKind:
    """`answer` judges a node. `may_hold`: at other instants it is never yes, since a row that it cannot do without had not
    been written. `days_needed`: the days by which it could be met, while it is not. `is_no_way`: is it
    nothing that the keeper could count on to open a gate? `fresh_h`: for so many hours a row speaks for it, None for good.
    `for_good`: once yes, it stays so for all that time alone can do. `lasting`: the answer is the same at every instant of a journal."""

    answer: Callable[[Any, Scene], Trace]
    may_hold: Callable[[Any, Scene], Possible] = _ever
    days_needed: Callable[[Any, Trace, Diary], Days] = _no_days
    is_no_way: Callable[[Any, Trace, Diary], bool] = is_excluded
    fresh_h: Callable[[Any, Rulebook], float | None] = _no_limit
    for_good: Callable[[Any], bool] = _never
    lasting: bool = False


__all__ = ["Days", "Diary", "JudgedKind", "is_excluded"]
