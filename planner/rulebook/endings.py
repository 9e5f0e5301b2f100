"""What ends an alarm: of one that a reading raised two good readings, stricter than what raised it, or the word that one is enough; of one
that an event raised the tick of the task that its condition names."""

from __future__ import annotations

from collections.abc import Iterator

from planner.rulebook.kinds.event import EventNode
from planner.rulebook.kinds.reading import ReadingNode
from planner.rulebook.shapes import AlertRule, Rulebook
from planner.rulebook.walk import leaves
from planner.terms.problems import Place, Problem


def ended_by_tick(book: Rulebook, key: str) -> tuple[tuple[AlertRule, EventNode], ...]:
    """The alerts that the tick of this task ends, by itself or because it counts as a tick of another, each with the event that raised it."""
    ends = {key, *(k for k, task in book.tasks.items() if key in task.also_done_by)}
    return tuple((alert, leaf) for alert in book.alerts for leaf, turned in leaves(alert.when) if isinstance(leaf, EventNode) and not turned and leaf.ended_by in ends)


def early_endings(book: Rulebook) -> Iterator[Problem]:
    """Alerts that end by less than that, and do not say so."""
    for alert in book.alerts:
        raised = [leaf for leaf, turned in leaves(alert.when) if isinstance(leaf, ReadingNode) and not turned and _bounds(leaf)]
        if not raised or alert.one_is_enough:
            continue
        fault = _fault(alert, raised, book)
        if fault is not None:
            yield Problem(book.places.get(alert.alert, Place("rules")), "alarm-ends-early", f"{alert.alert} {fault}",
                          "write into `over` two readings, stricter than those of `when`; or `one_is_enough: yes`")


def _fault(alert: AlertRule, raised: list[ReadingNode], book: Rulebook) -> str | None:
    ends = [leaf for leaf, turned in leaves(alert.over) if isinstance(leaf, ReadingNode) and not turned] if alert.over is not None else []
    if not any(e.times >= 2 and e.name == r.name and e.where == r.where for e in ends for r in raised):
        return "is raised by a reading and ends by a single one"
    for end in ends:
        same = [r for r in raised if r.name == end.name and r.where == end.where and not r.free]
        least, most = end.at_least or end.above, end.at_most or end.below
        low = [_value(bound, book) for r in same for bound in (r.at_least, r.above) if bound and most]
        high = [_value(bound, book) for r in same for bound in (r.at_most, r.below) if bound and least]
        # Below nothing at all there is nothing stricter.
        if (most and low and _value(most, book) >= min(low) and min(low) > 0) or (least and high and _value(least, book) <= max(high)):
            return "is over at a reading that is no stricter than the one that raised it"
    return None


def _value(name: str, book: Rulebook) -> float:
    return book.numbers[name].value if name in book.numbers else 0.0


def _bounds(leaf: ReadingNode) -> bool:
    return any((leaf.at_least, leaf.at_most, leaf.above, leaf.below))


__all__ = ["early_endings", "ended_by_tick"]
