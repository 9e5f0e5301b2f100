"""Somebody lives in this water."""

from __future__ import annotations

from planner.frozen import dataclass
from planner.judge.animals_in_journal import group_of
from planner.judge.facts import animals_in
from planner.judge.kinds.kind import JudgedKind
from planner.judge.possible import Possible, since
from planner.judge.scene import NO, UNKNOWN, YES, Scene, first_instant
from planner.rulebook.kinds.animal import AnimalNode
from planner.terms.records import Trace
from planner.terms.traces import Alive, Asked, Unread


@dataclass(frozen=True, slots=True, kw_only=True)
class AnimalAsked(Asked):
    where: str
    groups: tuple[str, ...] = ()


def answer(node: AnimalNode, scene: Scene) -> Trace:
    here = animals_in(scene.facts, node.where)
    if node.what is not None:
        here = {what: n for what, n in here.items() if what == node.what}
    if node.groups:
        here = {what: n for what, n in here.items() if group_of(what, scene.rules) in node.groups}
    hidden = next((line for kind in ("added", "moved") if (line := scene.facts.damaged(kind, None, node.where)) is not None), None)
    if not here and hidden is not None:
        damaged = Unread(scene.facts.journal.file, hidden.line)
        # A row that still says that an animal came is enough to warn for it.
        counts = scene.damaged == "any" or (scene.damaged == "named" and hidden.kind in ("added", "moved"))
        return Trace(AnimalAsked(where=node.where, groups=node.groups), YES if counts else UNKNOWN, (damaged,), gap=damaged)
    rows = tuple(r for r in (scene.facts.last("added"), scene.facts.last("moved")) if r is not None) if here else ()
    return Trace(AnimalAsked(where=node.where, groups=node.groups), YES if here else NO, tuple(Alive(what, n) for what, n in here.items()), rows, context=True)


def may_hold(node: AnimalNode, scene: Scene) -> Possible:  # noqa: ARG001
    return since(min(first_instant(scene.facts, "added", "*"), first_instant(scene.facts, "moved", "*")))


KIND = JudgedKind(answer, may_hold)
