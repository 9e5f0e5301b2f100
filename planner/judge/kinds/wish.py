"""What the judged wish list asks for."""

from __future__ import annotations

from planner.frozen import dataclass
from planner.judge.kinds.kind import JudgedKind
from planner.judge.scene import NO, UNKNOWN, YES, Scene
from planner.rulebook.kinds.wish import WishNode
from planner.terms.records import Trace
from planner.terms.traces import Asked, NoList


@dataclass(frozen=True, slots=True, kw_only=True)
class WishAsked(Asked):
    """Groups of the catalogue; `to_come`: of animals that have not come yet."""

    groups: tuple[str, ...]
    to_come: bool = False


def answer(node: WishNode, scene: Scene) -> Trace:
    """"" among the groups stands for a name that is not clear."""
    what, wished = WishAsked(groups=node.groups, to_come=node.to_come), scene.facts.wished_to_come if node.to_come else scene.facts.wished
    if not scene.facts.tank.wish_list:
        return Trace(what, NO, (NoList(),), context=True)
    if wished is not None and not wished.isdisjoint(node.groups):
        return Trace(what, YES, context=True)
    unclear = YES if node.maybe else UNKNOWN
    return Trace(what, unclear if wished is None or "" in wished else NO, context=True)


KIND = JudgedKind(answer, lasting=True)
