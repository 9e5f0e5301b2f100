"""A daily dose that holds what the tank uses, and the test that it wants."""

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
    """`goes_on`: the use is not known, and the last dose goes on."""

    name: str
    asks: str = "dose"
    goes_on: bool = False


def answer(node: UseNode, scene: Scene) -> Trace:
    """No as long as the use is not known: nothing is dosed on a guess."""
    found = plan_dose(alkalinity_use(scene.facts, scene.rules), scene.facts, scene.rules)
    rows = scene.facts.rows("reading", node.name)[-1:]
    holds = found.test_due if node.asks == "test" else found.state == "dose"
    return Trace(UseAsked(name=node.name, asks=node.asks, goes_on=found.goes_on), YES if holds else NO, (), tuple(rows))


def may_hold(node: UseNode, scene: Scene) -> Possible:
    rows = scene.facts.rows("reading", node.name)
    return since(instant_of(rows[0]) if rows else NEVER)


KIND = JudgedKind(answer, may_hold)
