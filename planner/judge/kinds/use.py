"""A daily use that is known well enough to dose for it."""

from __future__ import annotations

from planner.frozen import dataclass
from planner.judge.dose_plan import plan_dose
from planner.judge.facts import instant_of
from planner.judge.kinds.kind import JudgedKind
from planner.judge.possible import Possible, since
from planner.judge.scene import NEVER, NO, YES, Scene
from planner.judge.water_use import alkalinity_use
from planner.rulebook.kinds.use import UseNode
from planner.terms.records import Trace
from planner.terms.traces import Asked


@dataclass(frozen=True, slots=True, kw_only=True)
class UseAsked(Asked):
    name: str


def answer(node: UseNode, scene: Scene) -> Trace:
    """No as long as the use is not known: nothing is dosed on a guess."""
    found = plan_dose(alkalinity_use(scene.facts, scene.rules), scene.facts, scene.rules)
    rows = scene.facts.rows("reading", node.name)[-1:]
    return Trace(UseAsked(name=node.name), YES if found.state == "dose" else NO, (), tuple(rows))


def may_hold(node: UseNode, scene: Scene) -> Possible:
    rows = scene.facts.rows("reading", node.name)
    return since(instant_of(rows[0]) if rows else NEVER)


KIND = JudgedKind(answer, may_hold)
