"""A line of a job (a step, or what to watch), which may say for which tanks it is none.

    steps:
      - Switch the pumps on.
      - text: If you have an automatic top-up, fill its container.
        unless: {tank: {key: equipment.top_up, is: ["no"]}}
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Annotated, Any

from planner.files.checked import MadeOf
from planner.rulebook.nodes import Condition, Written
from planner.rulebook.texts import RuleText
from planner.terms.texts import Text, parts_of


class Line(Written):
    """A line as it is written. It is left out while `unless` is yes; what nobody described keeps it."""

    text: RuleText
    unless: Condition | None = None

    @classmethod
    def _unfolded(cls, data: Any) -> Any:
        """Most lines are a text alone."""
        return data if isinstance(data, dict) and ("text" in data or "unless" in data) else {"text": data}


class Conditional(Text):
    """The text of a line that some tanks do without."""

    __slots__ = ("told", "unless")
    told: str
    unless: Condition

    def __new__(cls, told: str, unless: Condition) -> Conditional:
        made: Conditional = super().__new__(cls, told, parts_of(told))  # type: ignore[assignment]
        made.told, made.unless = told, unless
        return made

    def __reduce__(self) -> tuple[Any, ...]:
        return Conditional, (self.told, self.unless)


def _text_of(line: Line) -> str:
    return line.text if line.unless is None else Conditional(line.text, line.unless)


RuleLine = Annotated[str, MadeOf(Line, _text_of)]
"""A line of a job, filled for each tank."""


def conditions_in(lines: Iterable[str]) -> Iterator[Condition]:
    """Those of the lines that have one."""
    yield from (line.unless for line in lines if isinstance(line, Conditional))


__all__ = ["Conditional", "Line", "RuleLine", "conditions_in"]
