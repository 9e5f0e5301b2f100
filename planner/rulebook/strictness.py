"""Which way a number of the rules protects, told from how the rules use it.

A threshold that a gate asks for protects the other way round when an alert asks for it; `not` turns it once more. Where
uses point both ways, or say nothing, the way is unknown, and unknown is never taken for safe. What the author declares
(`protects`) settles it, unless a gate, a hold or an alert would be loosened all the same.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from planner.rulebook.names import FIXED_NUMBERS
from planner.rulebook.nodes import Condition
from planner.rulebook.shapes import GateRule, Rulebook, TaskRule

Way = Literal["lower_is_stricter", "higher_is_stricter", "unclear"]
Aim = Literal["harder", "easier", "unclear"]
"""What makes the rule around a condition stricter: that the condition is harder to meet, or easier."""

LOWER: Way = "lower_is_stricter"
HIGHER: Way = "higher_is_stricter"
UNCLEAR: Way = "unclear"
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
    for name in FIXED_NUMBERS:
        yield NumberUse(name, "engine", UNCLEAR, False)
    for phase in book.phases:
        yield from _gate(phase.phase, phase.gate)
        if phase.only_when is not None:
            yield from _condition(phase.only_when, phase.phase, "unclear", True, guards=True)
        if phase.beside_wait:
            yield NumberUse(phase.beside_wait, phase.phase, HIGHER, False)
        # A test that waits beside a step or an animal comes along with it.
        beside = {(t.wait, t.anchor) for t in phase.tasks if t.role in ("step", "animals") and not doses(t)}
        for task in phase.tasks:
            yield from _task(f"{phase.phase}/{task.id}", task, task.protects or task.role == "animals", comes_along=(task.wait, task.anchor) in beside)
    rungs = {(u.name, u.way) for alert in book.alerts for u in _condition(alert.when, alert.alert, "easier", True)}
    for alert in book.alerts:
        for use in _condition(alert.when, alert.alert, "easier", True, alert.unknown_holds, guards=True):
            # Between two rungs of a ladder of alerts a number ends the one where it begins the next: nothing is lost.
            declared = book.numbers[use.name].protects if use.name in book.numbers else None
            if declared is None or use.way in (declared, UNCLEAR) or (use.name, declared) not in rungs:
                yield use
        for task in alert.tasks:
            yield from _task(f"{alert.alert}/{task.id}", task, True)


def _gate(at: str, gate: GateRule) -> Iterator[NumberUse]:
    yield from _condition(gate.opens_when, at, "harder", True, True, guards=True)
    if gate.lapses_when is not None:
        yield from _condition(gate.lapses_when, at, "easier", True, guards=True)
    for hold in gate.holds:
        yield from _condition(hold.when, at, "easier", True, hold.unknown_holds, guards=True)
    for stuck in gate.stuck:
        yield from _condition(stuck.when, at, "easier", False)
    for expect in (gate.expect, *gate.expect_first):
        yield from (NumberUse(name, at, HIGHER, False) for name in (expect.quick, expect.likely, expect.slow) if name)
        if expect.only_when is not None:
            yield from _condition(expect.only_when, at, "unclear", False)


def _task(at: str, task: TaskRule, decides: bool, comes_along: bool = False) -> Iterator[NumberUse]:
    looks_after = task.role in ("test", "remedy", "care") and not doses(task)
    if task.wait and not (looks_after and comes_along):
        # A step or an animal that waits longer is safer; a test or a remedy that waits longer is not.
        yield NumberUse(task.wait, at, LOWER if looks_after else HIGHER if task.role in ("step", "animals") and not doses(task) else UNCLEAR, decides)
    if task.every:
        yield NumberUse(task.every, at, LOWER if looks_after else UNCLEAR, decides)
    there: Aim = "harder" if task.role == "animals" else "easier" if looks_after else "unclear"
    for condition, aim in ((task.when, there), (task.unless, _OTHER[there]), (task.only_when, "unclear"), *((g.when, "harder") for g in task.guards)):
        if condition is not None:
            yield from _condition(condition, at, aim, decides)


def doses(task: TaskRule) -> bool:
    """Does the task put something into the water? Then neither sooner nor later is the safe side."""
    return (task.writes is not None and task.writes.kind == "dosed") or (task.counts or "").startswith("dosed:")


def _condition(condition: Condition, at: str, aim: Aim, decides: bool, unknown_is_safe: bool = False, guards: bool = False) -> Iterator[NumberUse]:
    """`unknown_is_safe`: the rule around it treats unknown like its strict answer, as a gate does."""
    for part in (*(condition.all or ()), *(condition.any or ())):
        yield from _condition(part, at, aim, decides, unknown_is_safe, guards)
    if condition.not_ is not None:
        yield from _condition(condition.not_, at, _OTHER[aim], decides, unknown_is_safe, guards)
    for name, harder in _thresholds(condition):
        yield NumberUse(name, at, harder if aim == "harder" else _TURNED[harder] if aim == "easier" else UNCLEAR, decides, guards)
    if condition.reading is not None and not condition.reading.any_age:
        # A shorter freshness turns yes and no alike into unknown, whatever `not` stands before it.
        name = condition.reading.fresh or f"fresh_{condition.reading.name}"
        yield NumberUse(name, at, LOWER if unknown_is_safe else UNCLEAR, decides, guards)


def _thresholds(condition: Condition) -> Iterator[tuple[str, Way]]:
    """Each number of a leaf with the way that makes the leaf harder to meet."""
    found: list[tuple[str | None, Way]] = []
    if r := condition.reading:
        found += [(r.at_least, HIGHER), (r.above, HIGHER), (r.at_most, LOWER), (r.below, LOWER), (r.apart or ("spacing" if r.times > 1 else None), HIGHER)]
    if d := condition.done:
        found.append((d.within, LOWER))
    if e := condition.event:
        found.append((e.within, LOWER))
    if f := condition.fact:
        found += [(f.within, LOWER), (f.total_at_least, HIGHER)]
    if c := condition.challenge:
        found += [(c.dose, HIGHER), (c.hours, LOWER), (c.within, LOWER)]
    if t := condition.tank:
        found += [(t.at_least, HIGHER), (t.at_most, LOWER)]
    if a := condition.age:
        found.append((a.at_least, HIGHER))
    yield from ((name, way) for name, way in found if name)


__all__ = ["HIGHER", "LOWER", "UNCLEAR", "NumberUse", "deciding_way", "doses", "number_uses", "strict_way"]
