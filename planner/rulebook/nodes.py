"""Conditions as rules write them: one key each, its kind; thresholds name entries of `numbers`.

No expressions and no Python: what a condition can ask is what stands here. `judge.conditions` judges them.
"""

from __future__ import annotations

from functools import cached_property
from typing import Any

from planner.files.checked import Field, check
from planner.rulebook.kinds.age import AgeNode
from planner.rulebook.kinds.animal import AnimalNode
from planner.rulebook.kinds.challenge import ChallengeNode
from planner.rulebook.kinds.done import DoneNode
from planner.rulebook.kinds.event import EventNode
from planner.rulebook.kinds.fact import FactNode
from planner.rulebook.kinds.heat import HeatNode
from planner.rulebook.kinds.kit import KitNode
from planner.rulebook.kinds.node import Node, Written
from planner.rulebook.kinds.reading import ReadingNode
from planner.rulebook.kinds.swing import SwingNode
from planner.rulebook.kinds.tank import TankNode
from planner.rulebook.kinds.use import UseNode
from planner.rulebook.kinds.wish import WishNode
from planner.rulebook.texts import RuleText


class Condition(Written):
    """Exactly one of the keys. The fields are the table of all kinds."""

    all: tuple[Condition, ...] | None = None
    any: tuple[Condition, ...] | None = None
    not_: Condition | None = Field(default=None, alias="not")
    reading: ReadingNode | None = None
    done: DoneNode | None = None
    event: EventNode | None = None
    fact: FactNode | None = None
    challenge: ChallengeNode | None = None
    animal: AnimalNode | None = None
    wish: WishNode | None = None
    tank: TankNode | None = None
    age: AgeNode | None = None
    kit: KitNode | None = None
    swing: SwingNode | None = None
    heat: HeatNode | None = None
    use: UseNode | None = None
    say: RuleText | None = None

    @cached_property
    def leaf(self) -> Node | None:
        """What is asked, by a condition without parts."""
        return next((found for kind in LEAF_KINDS if (found := getattr(self, kind)) is not None), None)

    @property
    def parts(self) -> tuple[Condition, ...]:
        """The conditions that it joins or turns."""
        return self.all or self.any or ((self.not_,) if self.not_ is not None else ())

    @classmethod
    def _unfolded(cls, data: Any) -> Any:
        """`done: site/level` and `event: leak` may be written without braces."""
        if isinstance(data, dict):
            data = data | {key: {inner: data[key]} for key, inner in SHORT_FORMS.items() if isinstance(data.get(key), str)}
        return data

    @check
    def _one_key(self) -> None:
        if sum(getattr(self, k) is not None for k in NODE_KINDS) != 1:
            raise ValueError("a condition has exactly one of the keys: " + ", ".join(k.rstrip("_") for k in NODE_KINDS))


SHORT_FORMS = {"done": "task", "event": "what"}
"""Conditions whose one key may be left out."""
NODE_KINDS = tuple(k for k in Condition.model_fields if k != "say")
LEAF_KINDS = tuple(k for k in NODE_KINDS if k not in ("all", "any", "not_"))


__all__ = ["LEAF_KINDS", "NODE_KINDS", "SHORT_FORMS", "Condition", "Written"]
