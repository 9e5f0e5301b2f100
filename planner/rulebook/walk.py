"""The one walk over conditions: every condition of the book with what it is for, and the leaves of each."""

from __future__ import annotations

from collections.abc import Iterator
from enum import Enum
from functools import cache
from itertools import product

from planner.frozen import dataclass
from planner.rulebook.kinds.node import FIRST_AMMONIA, Node, Subject
from planner.rulebook.lines import conditions_in
from planner.rulebook.nodes import LEAF_KINDS, Condition
from planner.rulebook.shapes import Rulebook
from planner.rulebook.task_rule import TaskRule


class Purpose(Enum):
    """What a rule does with a condition."""

    EXISTS = "only_when"
    OPENS = "opens_when"
    LAPSES = "lapses_when"
    HOLDS = "holds"
    ADVISES = "stuck"
    EXPECTS = "expect"
    ALARMS = "alert"
    ENDS = "over"
    CALLS = "when"
    EXCUSES = "unless"
    GUARDS = "guards"
    WORDS = "variants"


@dataclass(frozen=True, slots=True)
class Placed:
    """A whole condition, the rule in which it stands (a phase, an alert or a task's key), and what it is for.
    `unknown_holds`: the rule takes unknown for its strict answer."""

    condition: Condition
    at: str
    purpose: Purpose
    unknown_holds: bool = False


def conditions_of(book: Rulebook) -> Iterator[Placed]:
    """Every condition of the book, each once."""
    for phase in book.phases:
        gate = phase.gate
        if phase.only_when is not None:
            yield Placed(phase.only_when, phase.phase, Purpose.EXISTS)
        yield Placed(gate.opens_when, phase.phase, Purpose.OPENS, True)
        if gate.lapses_when is not None:
            yield Placed(gate.lapses_when, phase.phase, Purpose.LAPSES)
        yield from (Placed(h.when, phase.phase, Purpose.HOLDS, h.unknown_holds) for h in gate.holds)
        yield from (Placed(s.when, phase.phase, Purpose.ADVISES) for s in gate.stuck)
        yield from (Placed(e.only_when, phase.phase, Purpose.EXPECTS) for e in (gate.expect, *gate.expect_first) if e.only_when is not None)
        for task in phase.tasks:
            yield from task_conditions(task, f"{phase.phase}/{task.id}")
    for alert in book.alerts:
        yield Placed(alert.when, alert.alert, Purpose.ALARMS, alert.unknown_holds)
        if alert.over is not None:
            yield Placed(alert.over, alert.alert, Purpose.ENDS)
        for task in alert.tasks:
            yield from task_conditions(task, f"{alert.alert}/{task.id}")


def task_conditions(task: TaskRule, at: str) -> Iterator[Placed]:
    """Every condition of one task."""
    found = ((task.only_when, Purpose.EXISTS), (task.when, Purpose.CALLS), (task.unless, Purpose.EXCUSES), *((g.when, Purpose.GUARDS) for g in task.guards),
             *((v.only_when, Purpose.WORDS) for v in task.variants),
             *((c, Purpose.WORDS) for c in conditions_in((*task.steps, *task.watch, *(line for v in task.variants for line in (*v.steps, *v.watch))))))
    yield from (Placed(condition, at, purpose) for condition, purpose in found if condition is not None)


def inside(condition: Condition) -> Iterator[Condition]:
    """A condition and all its parts, outer ones first."""
    yield condition
    for part in condition.parts:
        yield from inside(part)


def leaves(condition: Condition, turned: bool = False) -> Iterator[tuple[Node, bool]]:
    """What a condition asks, piece by piece, and whether a `not` turns it."""
    leaf = condition.leaf
    if leaf is not None:
        yield leaf, turned
    for part in condition.parts:
        yield from leaves(part, turned != (condition.not_ is not None))


def asked_for(condition: Condition) -> Iterator[Node]:
    """What must be met: leaves that no `not` turns, nor stands before."""
    if condition.not_ is not None:
        return
    if (leaf := condition.leaf) is not None:
        yield leaf
    for part in condition.parts:
        yield from asked_for(part)


def ways_to_meet(condition: Condition, turned: bool = False) -> list[list[tuple[Node, bool]]]:
    """The ways in which a condition can be met, each as leaves that hold together; True: the leaf must not hold."""
    if condition.leaf is not None:
        return [[(condition.leaf, turned)]]
    if condition.not_ is not None:
        return ways_to_meet(condition.not_, not turned)
    parts = [ways_to_meet(part, turned) for part in condition.parts]
    if (condition.any is not None) != turned:
        return [way for ways in parts for way in ways]
    return [[leaf for way in together for leaf in way] for together in product(*parts)]


@cache
def met_once(condition: Condition) -> Condition:
    """The same condition with one reading for each; what a `not` turns stays."""
    # Made anew: a copy would keep the leaf that was looked up before.
    if (leaf := condition.leaf) is not None:
        return condition if leaf.once() is leaf else Condition.model_construct(**{kind: leaf.once() for kind in LEAF_KINDS if getattr(condition, kind) is leaf}, say=condition.say)
    if condition.not_ is not None:
        return condition
    parts = tuple(map(met_once, condition.parts))
    return Condition.model_construct(all=parts) if condition.all else Condition.model_construct(any=parts)


def subjects(condition: Condition, rules: Rulebook) -> frozenset[Subject]:
    """The journal subjects (kind, what) that can change the answer: the instants worth replaying."""
    found: set[Subject] = set()
    for leaf, _ in leaves(condition):
        found |= set(leaf.watches(rules.tasks_as))
        found |= {(kind, key) for task in leaf.ticks() for key in keys_of(task, rules) for kind in ("done", "skipped")}
        for spec in leaf.moments():
            if "/" in spec:
                found |= {("done", key) for key in keys_of(spec, rules)}
            elif ":" in spec:
                kind, what = spec.split(":")[:2]
                found.add((kind, what))
    return frozenset(found)


def keys_of(key: str, rules: Rulebook) -> tuple[str, ...]:
    """A task, those whose ticks count as its own, and the one after which older ticks count no more."""
    rule = rules.tasks.get(key)
    others = () if rule is None else (*rule.also_done_by, *((rule.void_after,) if rule.void_after else ()))
    return (key, *(other.partition("#")[0] for other in others))


__all__ = ["FIRST_AMMONIA", "Placed", "Purpose", "asked_for", "conditions_of", "inside", "keys_of", "leaves", "met_once", "subjects", "task_conditions", "ways_to_meet"]
