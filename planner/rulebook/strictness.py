"""Which way a number of the rules protects, told from how the rules use it.

A threshold that a gate asks for protects the other way round when an alert asks for it; `not` turns it once more. Where
uses point both ways, or say nothing, the way is unknown, and unknown is never taken for safe. What the author declares
(`protects`) settles it, unless a gate, a hold or an alert would be loosened all the same.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from planner.rulebook.kinds.node import HIGHER, LOWER, UNCLEAR, Way
from planner.rulebook.names import looked_up
from planner.rulebook.shapes import Rulebook
from planner.rulebook.task_rule import TaskRule
from planner.rulebook.walk import Placed, Purpose, conditions_of, leaves, task_conditions

Aim = Literal["harder", "easier", "unclear"]
"""What makes the rule around a condition stricter: that the condition is harder to meet, or easier."""
AIMS: dict[Purpose, Aim] = {
    Purpose.EXISTS: "unclear", Purpose.OPENS: "harder", Purpose.LAPSES: "easier", Purpose.HOLDS: "easier", Purpose.ADVISES: "easier", Purpose.EXPECTS: "unclear"}
"""Of the conditions of a phase; those of tasks and alerts have rules of their own."""
DECIDING = frozenset({Purpose.EXISTS, Purpose.OPENS, Purpose.LAPSES, Purpose.HOLDS})

_TURNED: dict[Way, Way] = {LOWER: HIGHER, HIGHER: LOWER, UNCLEAR: UNCLEAR}
_OTHER: dict[Aim, Aim] = {"harder": "easier", "easier": "harder", "unclear": "unclear"}


@dataclass(frozen=True, slots=True)
class NumberUse:
    """One use of a number: the rule that uses it, which value of it is stricter there, and whether it decides about a
    gate, an alert, a hold, an animal or a protecting task (else it only moves dates or chores). `guards`: it stands in the
    condition of a gate, a hold or an alert."""

    name: str
    at: str
    way: Way
    decides: bool
    guards: bool = False


def strict_way(name: str, book: Rulebook, every: Sequence[NumberUse] | None = None) -> Way:
    """Which way a house rule may move a number: the way its author declared, else the one on which all uses agree.
    `every`: all uses of the book, for who asks for many numbers."""
    uses = [u for u in (number_uses(book) if every is None else every) if u.name == name]
    return _declared(name, book, uses) or _agreed(u.way for u in uses)


def deciding_way(name: str, book: Rulebook, every: Sequence[NumberUse] | None = None) -> Way:
    """The same from the uses that decide alone: it holds even inside a number's `range`."""
    uses = [u for u in (number_uses(book) if every is None else every) if u.name == name]
    return _declared(name, book, uses) or _agreed(u.way for u in uses if u.decides)


def _declared(name: str, book: Rulebook, uses: list[NumberUse]) -> Way | None:
    """What the author declared; unclear if a condition that guards is stricter the other way."""
    declared = book.numbers[name].protects
    if declared is None:
        return None
    return UNCLEAR if any(u.guards and u.way != declared for u in uses) else declared


def _agreed(ways: Iterator[Way]) -> Way:
    found = set(ways)
    return found.pop() if len(found) == 1 else UNCLEAR


def number_uses(book: Rulebook) -> Iterator[NumberUse]:
    """Every use of a number by a phase, a gate, a task, an alert or the engine; texts and citations decide nothing."""
    for name in dict.fromkeys(looked_up(book)):
        yield NumberUse(name, "engine", UNCLEAR, False)
    for placed in conditions_of(book):
        if placed.purpose in AIMS and placed.at not in book.tasks:
            yield from _condition(placed, AIMS[placed.purpose], placed.purpose in DECIDING, guards=placed.purpose in DECIDING)
    for phase in book.phases:
        for expect in (phase.gate.expect, *phase.gate.expect_first):
            yield from (NumberUse(name, phase.phase, HIGHER, False) for name in (expect.quick, expect.likely, expect.slow) if name)
        if phase.beside_wait:
            yield NumberUse(phase.beside_wait, phase.phase, HIGHER, False)
        # A test that waits beside a step or an animal comes along with it.
        beside = {(t.wait, t.anchor) for t in phase.tasks if t.role in ("step", "animals") and not doses(t)}
        for task in phase.tasks:
            yield from _task(f"{phase.phase}/{task.id}", task, task.protects or task.role == "animals", comes_along=(task.wait, task.anchor) in beside)
    alarms = [p for p in conditions_of(book) if p.purpose is Purpose.ALARMS]
    rungs = {(u.name, u.way) for placed in alarms for u in _condition(replace(placed, unknown_holds=False), "easier", True)}
    for alert, placed in zip(book.alerts, alarms, strict=True):
        for use in _condition(placed, "easier", True, guards=True):
            # Between two rungs of a ladder of alerts a number ends the one where it begins the next: nothing is lost.
            declared = book.numbers[use.name].protects if use.name in book.numbers else None
            if declared is None or use.way in (declared, UNCLEAR) or (use.name, declared) not in rungs:
                yield use
        if alert.over is not None:
            yield from _condition(Placed(alert.over, alert.alert, Purpose.ENDS), "harder", True, guards=True)
        for task in alert.tasks:
            yield from _task(f"{alert.alert}/{task.id}", task, True)


def _task(at: str, task: TaskRule, decides: bool, comes_along: bool = False) -> Iterator[NumberUse]:
    looks_after = task.role in ("test", "remedy", "care") and not doses(task)
    if task.wait and not (looks_after and comes_along):
        # A step or an animal that waits longer is safer; a test or a remedy that waits longer is not.
        yield NumberUse(task.wait, at, LOWER if looks_after else HIGHER if task.role in ("step", "animals") and not doses(task) else UNCLEAR, decides)
    if task.every:
        yield NumberUse(task.every, at, LOWER if looks_after else UNCLEAR, decides)
    there: Aim = "harder" if task.role == "animals" else "easier" if looks_after else "unclear"
    aims: dict[Purpose, Aim] = {Purpose.CALLS: there, Purpose.EXCUSES: _OTHER[there], Purpose.GUARDS: "harder"}
    for placed in task_conditions(task, at):
        yield from _condition(placed, aims.get(placed.purpose, "unclear"), decides and placed.purpose is not Purpose.WORDS)


def doses(task: TaskRule) -> bool:
    """Does the task put something into the water? Then neither sooner nor later is the safe side."""
    return (task.writes is not None and task.writes.kind == "dosed") or (task.counts or "").startswith("dosed:")


def _condition(placed: Placed, aim: Aim, decides: bool, guards: bool = False) -> Iterator[NumberUse]:
    for leaf, turned in leaves(placed.condition):
        here = _OTHER[aim] if turned else aim
        for t in leaf.thresholds():
            if t.fresh:
                # A shorter freshness turns yes and no alike into unknown, whatever `not` stands before it.
                way = t.harder if placed.unknown_holds else UNCLEAR
            else:
                way = t.harder if here == "harder" else _TURNED[t.harder] if here == "easier" else UNCLEAR
            yield NumberUse(t.name, placed.at, way, decides, guards)


__all__ = ["HIGHER", "LOWER", "UNCLEAR", "NumberUse", "deciding_way", "doses", "number_uses", "strict_way"]
