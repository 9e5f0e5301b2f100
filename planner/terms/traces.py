"""What stands behind an answer, as values: what was asked, what was seen, and what is missing.

A room that judges makes these records; `show/words` alone turns them into sentences. A condition kind may add heirs of
its own beside its judging.
"""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Literal

from planner.frozen import dataclass

if TYPE_CHECKING:
    from planner.terms.records import Row


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What a condition asks, with all that is needed to say it. `title`: a text of the rules that belongs to it, such as
    the title of a task; the plan fills its braces."""

    title: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Joined(Asked):
    """All of the parts, one of them, or not the only one."""

    how: Literal["all", "any", "not"]


@dataclass(frozen=True, slots=True, kw_only=True)
class KeepersWord(Asked):
    """A gate passed by `already` in the tank file."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AnimalTooEarly(Asked):
    """An animal is in while the gate to animals is shut."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RowDamaged(Asked):
    """A journal line of which nothing can be told."""


@dataclass(frozen=True, slots=True)
class Seen:
    """Evidence that is no journal row."""


@dataclass(frozen=True, slots=True)
class OnDay(Seen):
    """A day that the tank file names."""

    day: date


@dataclass(frozen=True, slots=True)
class Opened(Seen):
    """The day on which a gate opened."""

    day: date


@dataclass(frozen=True, slots=True)
class Alive(Seen):
    """So many of an animal."""

    what: str
    count: int


@dataclass(frozen=True, slots=True)
class NoList(Seen):
    """The tank file has no wish list."""


@dataclass(frozen=True, slots=True)
class Described(Seen):
    """What the tank file says: the value, or of a list (`listed`) the number of its entries."""

    value: str
    listed: int | None = None


@dataclass(frozen=True, slots=True)
class Expires(Seen):
    """The day on the box of a kit."""

    day: date


@dataclass(frozen=True, slots=True)
class DoseTried(Seen):
    """A dose of ammonia by which the filter was tried: handled in time or not."""

    day: date
    handled: bool


@dataclass(frozen=True, slots=True)
class Gap:
    """Why a condition is not met or not known."""


@dataclass(frozen=True, slots=True)
class Unread(Gap):
    """A journal line that cannot be read hides the answer until it is mended."""

    file: str
    line: int


@dataclass(frozen=True, slots=True)
class NothingSince(Gap):
    """What the answer counts from (a task, a fact, a gate) has not happened."""

    since: str


@dataclass(frozen=True, slots=True)
class NoReading(Gap):
    """Never tested."""


@dataclass(frozen=True, slots=True)
class NoneSince(NoReading):
    """Tested, but not since what the answer counts from (a task, a fact, a gate)."""

    since: str


@dataclass(frozen=True, slots=True)
class TooSoon(Gap):
    """The newest reading was taken within so many hours of a dose or a change."""

    hours: float
    cause: Row


@dataclass(frozen=True, slots=True)
class Stale(Gap):
    """The newest reading is older than so many hours."""

    hours: float


@dataclass(frozen=True, slots=True)
class BeforeChange(Gap):
    """The newest reading is from before a large water change."""

    day: date


@dataclass(frozen=True, slots=True)
class Disagree(Gap):
    """Readings of one time differ by more than the kit's step."""


@dataclass(frozen=True, slots=True)
class Repetitions(Gap):
    """So many of the repetitions wanted are there. `next_from`: the instant from which the next good test counts as one more, POSIX seconds, None
    where nobody asked; `crowded`: further good tests were made too soon to count."""

    there: int
    wanted: int
    next_from: float | None = None
    crowded: bool = False

    @property
    def missing(self) -> int:
        return self.wanted - self.there


@dataclass(frozen=True, slots=True)
class Outside(Gap):
    """A reading lies outside the limits, or may lie there."""


@dataclass(frozen=True, slots=True)
class NotTicked(Gap):
    """A task is not done."""


@dataclass(frozen=True, slots=True)
class NotHappened(Gap):
    """What an age counts from has not happened."""


@dataclass(frozen=True, slots=True)
class NotTried(Gap):
    """Nobody has tried the filter."""


@dataclass(frozen=True, slots=True)
class NoTime(Gap):
    """A limit in hours cannot be judged on bare dates: of one row, or of a dose and its test."""

    of_a_test: bool = False


@dataclass(frozen=True, slots=True)
class Undescribed(Gap):
    """A key that the tank file does not say."""

    key: str


@dataclass(frozen=True, slots=True)
class NoExpiry(Gap):
    """The tank file does not say until when the kit of this reading is good."""

    name: str


__all__ = [
    "Alive", "AnimalTooEarly", "Asked", "BeforeChange", "Described", "Disagree", "DoseTried", "Expires", "Gap", "Joined", "KeepersWord", "NoExpiry", "NoList", "NoReading", "NoneSince", "NoTime",
    "NotHappened", "NotTicked", "NotTried", "NothingSince", "OnDay", "Opened", "Outside", "Repetitions", "RowDamaged", "Seen", "Stale", "TooSoon", "Undescribed", "Unread",
]
