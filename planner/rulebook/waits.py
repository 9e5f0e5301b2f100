"""What a date waits for, told from the rules alone: a gate for its ticks and tests, a task for what it hangs on.

The datebook follows these lines when it works a date out; a ring of them would have no date.
"""

from __future__ import annotations

from collections.abc import Iterator

from planner.rulebook.phase_graph import descendants
from planner.rulebook.shapes import PhaseRole, PhaseRule, Rulebook
from planner.rulebook.task_rule import TaskRule
from planner.rulebook.walk import asked_for

STAGES = "stages"
STAGES_NEED: tuple[PhaseRole, ...] = ("opens_to_animals", "fills_tank", "quarantine")
Waits = dict[str, tuple[str, ...]]
"""By node: a task's key, `gate/phase`, `start/phase` or the stages of the wish list; each with the nodes whose dates its
own date needs."""


def waits_of(book: Rulebook) -> Waits:
    """Every node with what it waits for. Tests are counted generously: any test of the kind that a gate may look at."""
    found: dict[str, tuple[str, ...]] = {}
    proof = f"start/{book.phase_as('proves_filter')}"
    for phase in book.phases:
        found[f"start/{phase.phase}"] = (*(f"gate/{p}" for p in phase.after), *(f"start/{p}" for p in phase.beside))
        found[f"gate/{phase.phase}"] = tuple(dict.fromkeys((f"start/{phase.phase}", *_gate(phase, book, proof))))
        for task in phase.tasks:
            found[f"{phase.phase}/{task.id}"] = tuple(_task(task, phase.phase, proof))
    for alert in book.alerts:
        for task in alert.tasks:
            found[f"{alert.alert}/{task.id}"] = tuple(_task(task, None, proof))
    found[STAGES] = tuple(dict.fromkeys((*(f"gate/{book.phase_as(r)}" for r in STAGES_NEED), *_stages(book, proof))))
    return found


def new_ring(before: Waits, after: Waits) -> tuple[str, ...] | None:
    """A ring of nodes that wait for one another by a line that `before` does not have; None if there is none."""
    for node in sorted(after):
        for other in after[node]:
            if other not in before.get(node, ()) and (way := _way(other, node, after)) is not None:
                return (node, *way[:-1])
    return None


def _way(start: str, end: str, waits: Waits) -> tuple[str, ...] | None:
    """The shortest way along the lines, both ends included."""
    ways: list[tuple[str, ...]] = [(start,)]
    seen = {start}
    for way in ways:  # grows while it is walked
        if way[-1] == end:
            return way
        for node in waits.get(way[-1], ()):
            if node not in seen:
                seen.add(node)
                ways.append((*way, node))
    return None


def _stages(book: Rulebook, proof: str) -> Iterator[str]:
    """All stages of the wish list are worked out together, from the days on which each sort may begin and is guarded."""
    for phase in book.phases:
        for task in phase.tasks:
            if task.per_stage is not None and not (task.anchor and task.anchor.task):
                yield from _anchor(task, phase.phase, proof)
                yield from (g.task for g in task.guards if g.task)


def _task(task: TaskRule, owner: str | None, proof: str) -> Iterator[str]:
    if task.per_stage is not None:
        yield STAGES
    yield from (key.partition("#")[0] for key in task.also_done_by)
    yield from (task.seen_by,) if task.seen_by else ()
    yield from _anchor(task, owner, proof)
    if task.not_before:
        yield task.not_before


def _anchor(task: TaskRule, owner: str | None, proof: str) -> Iterator[str]:
    a = task.anchor
    if a is not None and a.task:
        yield a.task
    elif a is not None and a.gate:
        yield f"gate/{a.gate}"
    elif a is not None and a.before:
        yield from (f"gate/{a.before}", *((f"start/{owner}",) if owner else ()))
    elif a is not None and a.milestone:
        yield proof
    elif a is None or not a.start:
        phase = a.phase if a is not None and a.phase else owner
        yield from (f"start/{phase}",) if phase else ()


def _gate(phase: PhaseRule, book: Rulebook, proof: str) -> Iterator[str]:
    for expect in (phase.gate.expect, *phase.gate.expect_first):
        if expect.after:
            yield expect.after
        if expect.milestone:
            yield proof
    behind = descendants(phase.phase, book.phases)
    owners = [phase, *(p for p in book.phases if p is not phase and p.phase not in behind)]

    def tests(name: str, where: str) -> Iterator[str]:
        for owner in owners:
            yield from (f"{owner.phase}/{t.id}" for t in owner.tasks if t.where == where and name in t.reads and t.when is None and t.per_stage is None)

    for leaf in asked_for(phase.gate.opens_when):
        yield from leaf.waits_for(tests, proof)


__all__ = ["new_ring", "waits_of"]
