"""Is a test kit still good?"""

from __future__ import annotations

from planner.frozen import dataclass
from planner.judge.kinds.kind import JudgedKind
from planner.judge.scene import NO, UNKNOWN, YES, Scene
from planner.rulebook.kinds.kit import KitNode
from planner.terms.records import Trace
from planner.terms.traces import Asked, Expires, NoExpiry


@dataclass(frozen=True, slots=True, kw_only=True)
class KitAsked(Asked):
    name: str
    expired: bool


def answer(node: KitNode, scene: Scene) -> Trace:
    what = KitAsked(name=node.name, expired=node.expired)
    kit = scene.facts.tank.test_kits.get(node.name)
    if kit is None or kit.expires is None:
        return Trace(what, UNKNOWN, (NoExpiry(node.name),), gap=NoExpiry(node.name), context=True)
    return Trace(what, YES if (kit.expires < scene.facts.cut[0]) == node.expired else NO, (Expires(kit.expires),), context=True)


KIND = JudgedKind(answer)
