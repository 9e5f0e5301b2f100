"""What the tank file says."""

from __future__ import annotations

from planner.files.tank import tank_value
from planner.frozen import dataclass
from planner.judge.kinds.bounds import at_least, at_most
from planner.judge.kinds.kind import JudgedKind
from planner.judge.scene import NO, UNKNOWN, YES, Scene, both
from planner.rulebook.kinds.tank import TankNode
from planner.terms.records import Trace
from planner.terms.traces import Asked, Described, Undescribed


@dataclass(frozen=True, slots=True, kw_only=True)
class TankAsked(Asked):
    """A key, and the values asked for; `described`: is it there at all?"""

    key: str
    values: tuple[str, ...] = ()
    described: bool = False


def answer(node: TankNode, scene: Scene) -> Trace:
    value = tank_value(scene.facts.tank, node.key)
    value = None if value in ((), {}, "") else value
    what = TankAsked(key=node.key, values=node.equals, described=node.described)
    if node.described:
        return Trace(what, NO if value is None else YES, () if value is None else (_seen(value),), context=True)
    if value is None:
        return Trace(what, UNKNOWN, (Undescribed(node.key),), gap=Undescribed(node.key), context=True)
    answers = []
    if node.equals:
        shown = _word(value)
        sized = isinstance(value, int | float) and not isinstance(value, bool)  # a size given where `yes` would do means yes
        answers.append(YES if shown in node.equals or (sized and "yes" in node.equals) else NO)
    for name, limit in ((node.at_least, at_least), (node.at_most, at_most)):
        if name is not None:
            answers.append(limit(scene.rules.number(name), float(value), float(value)) if isinstance(value, int | float) else NO)
    return Trace(what, both(answers), (_seen(value),), context=True)


def _word(value: object) -> str:
    """A value as the tank file writes it."""
    return ("yes" if value else "no") if isinstance(value, bool) else str(value)


def _seen(value: object) -> Described:
    """Lists are counted, not spelled out."""
    return Described("", len(value)) if isinstance(value, tuple | dict) else Described(_word(value))


KIND = JudgedKind(answer, lasting=True)
