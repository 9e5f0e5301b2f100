"""A line of a job (a step, or what to watch), which may say for which tanks, or for which animals of a stage, it is none.

    steps:
      - Switch the pumps on.
      - text: If you have an automatic top-up, fill its container.
        unless: {tank: {key: equipment.top_up, is: ["no"]}}
      - text: Move them up to stronger light.
        light: [medium, high]
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Annotated, Any, Literal

from planner.files.checked import MadeOf
from planner.rulebook.nodes import Condition, Written
from planner.rulebook.texts import RuleText
from planner.terms.texts import Text, parts_of

KEYS = frozenset({"text", "unless", "groups", "light"})


class Line(Written):
    """A line as it is written. It is left out while `unless` is yes; what nobody described keeps it. With `groups` or `light` (what the catalogue
    says that an animal needs) it stands only where an animal of the stage is so, and where no stage is known."""

    text: RuleText
    unless: Condition | None = None
    groups: tuple[str, ...] = ()
    light: tuple[Literal["none", "low", "medium", "high"], ...] = ()

    @classmethod
    def _unfolded(cls, data: Any) -> Any:
        """Most lines are a text alone."""
        return data if isinstance(data, dict) and not KEYS.isdisjoint(data) else {"text": data}


class Conditional(Text):
    """The text of a line that some tanks, or stages, do without."""

    __slots__ = ("groups", "light", "told", "unless")
    told: str
    unless: Condition | None
    groups: tuple[str, ...]
    light: tuple[str, ...]

    def __new__(cls, told: str, unless: Condition | None = None, groups: tuple[str, ...] = (), light: tuple[str, ...] = ()) -> Conditional:
        made: Conditional = super().__new__(cls, told, parts_of(told))  # type: ignore[assignment]
        made.told, made.unless, made.groups, made.light = told, unless, groups, light
        return made

    def __reduce__(self) -> tuple[Any, ...]:
        return Conditional, (self.told, self.unless, self.groups, self.light)

    def same_for(self, other: Conditional) -> bool:
        """Do the same tanks and stages do without both?"""
        return (self.unless, self.groups, self.light) == (other.unless, other.groups, other.light)


def _text_of(line: Line) -> str:
    return Conditional(line.text, line.unless, line.groups, line.light) if line.unless is not None or line.groups or line.light else line.text


RuleLine = Annotated[str, MadeOf(Line, _text_of)]
"""A line of a job, filled for each tank."""


def conditions_in(lines: Iterable[str]) -> Iterator[Condition]:
    """Those of the lines that have one."""
    yield from (line.unless for line in lines if isinstance(line, Conditional) and line.unless is not None)


__all__ = ["Conditional", "Line", "RuleLine", "conditions_in"]
