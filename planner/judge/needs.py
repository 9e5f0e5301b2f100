"""What a shut gate still asks for, without the ways that this tank does not have."""

from __future__ import annotations

from dataclasses import replace

from planner.terms.records import Answer, Need, Trace
from planner.terms.traces import Joined


def needs_of(trace: Trace) -> tuple[Need, ...]:
    """The parts of the top `all` as needs; a single condition is one need. Ways that this tank does not have, and
    what is already settled by its kind, are left out."""
    trace = applicable(trace)
    return tuple(map(Need, trace.parts if joins(trace, "all") and trace.parts else (trace,)))


def applicable(trace: Trace) -> Trace:
    """The same without the ways that this tank does not have, and without what is settled by its kind; whole where nothing is left."""
    return _live(trace) or trace


def joins(trace: Trace, how: str) -> bool:
    """Does it join its parts so, in no words of its own?"""
    return isinstance(trace.asked, Joined) and trace.asked.how == how and not trace.say


def _live(trace: Trace) -> Trace | None:
    """The trace without branches that the tank or its animals rule out; None if nothing of it is left to do."""
    if joins(trace, "any"):
        if any(p.context and p.answer == Answer.YES for p in trace.parts):
            return None
        ways = [w for p in trace.parts if not _ruled_out(p) and (w := _live(p)) is not None]
        return None if not ways else ways[0] if len(ways) == 1 else replace(trace, parts=tuple(ways))
    if joins(trace, "all"):
        parts = [w for p in trace.parts if (w := _live(p)) is not None]
        return None if not parts else parts[0] if len(parts) == 1 else replace(trace, parts=tuple(parts))
    return None if trace.context and trace.answer == Answer.YES else trace


def _ruled_out(trace: Trace) -> bool:
    if joins(trace, "all"):
        return any(map(_ruled_out, trace.parts))
    if joins(trace, "any"):
        return all(map(_ruled_out, trace.parts))
    return trace.context and trace.answer == Answer.NO


__all__ = ["applicable", "joins", "needs_of"]
