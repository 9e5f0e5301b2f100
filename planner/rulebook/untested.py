"""What no gate may ask for: a reading that no job of the phases tests. Whoever did all that the plan says would stand before it for ever."""

from __future__ import annotations

from collections.abc import Iterator

from planner.rulebook.kinds.reading import ReadingNode
from planner.rulebook.nodes import Condition
from planner.rulebook.shapes import Rulebook
from planner.rulebook.walk import asked_for
from planner.terms.problems import Place, Problem


def untested_needs(book: Rulebook) -> Iterator[Problem]:
    """Readings that open a gate or let animals in, and that no task of a phase reads. The tests of an alarm do not count: without the
    reading it is never raised. Nor does the test of an arrival, which comes with its animal."""
    tested = {(name, task.where) for phase in book.phases for task in phase.tasks if task.per_stage is None for name in task.reads}
    for at, condition in _opening(book):
        for name, where in sorted({leaf.tested() for leaf in asked_for(condition) if isinstance(leaf, ReadingNode)} - tested):
            yield Problem(book.places.get(at, Place("rules")), "need-untested", f"{at} asks for {name} in the {where} water, which no job of a phase tests",
                          f"write a task with `reads: [{name}]`, or take the condition out")


def _opening(book: Rulebook) -> Iterator[tuple[str, Condition]]:
    for phase in book.phases:
        yield phase.phase, phase.gate.opens_when
        yield from ((f"{phase.phase}/{task.id}", task.when) for task in phase.tasks if task.role == "animals" and task.when is not None)


__all__ = ["untested_needs"]
