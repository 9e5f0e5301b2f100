"""Every kind of condition with what the judge knows of it."""

from __future__ import annotations

from planner.judge.kinds import age, animal, challenge, done, event, fact, heat, kit, reading, swing, tank, use, wish
from planner.judge.kinds.kind import JudgedKind
from planner.rulebook.kinds.age import AgeNode
from planner.rulebook.kinds.animal import AnimalNode
from planner.rulebook.kinds.challenge import ChallengeNode
from planner.rulebook.kinds.done import DoneNode
from planner.rulebook.kinds.event import EventNode
from planner.rulebook.kinds.fact import FactNode
from planner.rulebook.kinds.heat import HeatNode
from planner.rulebook.kinds.kit import KitNode
from planner.rulebook.kinds.node import Node
from planner.rulebook.kinds.reading import ReadingNode
from planner.rulebook.kinds.swing import SwingNode
from planner.rulebook.kinds.tank import TankNode
from planner.rulebook.kinds.use import UseNode
from planner.rulebook.kinds.wish import WishNode

KINDS: dict[type[Node], JudgedKind] = {
    ReadingNode: reading.KIND, DoneNode: done.KIND, EventNode: event.KIND, FactNode: fact.KIND, ChallengeNode: challenge.KIND,
    AnimalNode: animal.KIND, WishNode: wish.KIND, TankNode: tank.KIND, AgeNode: age.KIND, KitNode: kit.KIND, SwingNode: swing.KIND, HeatNode: heat.KIND, UseNode: use.KIND,
}

__all__ = ["KINDS"]
