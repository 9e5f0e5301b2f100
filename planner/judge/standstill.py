"""Advice while a gate stays shut: what shows a standstill, its likely causes by what was read, and what nothing rules out.

What counts is in the rules (`stuck`); here the readings, and how far the forecast sees the milestones, decide what of it
is said.
"""

from __future__ import annotations

from planner.frozen import dataclass
from planner.judge.conditions import Scene, judge_condition
from planner.judge.cycle_expected import Expectation
from planner.rulebook.shapes import GateRule, Stuck
from planner.terms.records import Answer, Trace
from planner.terms.traces import NoReading, NothingSince, NotTicked

UNWRITTEN = (NoReading, NothingSince, NotTicked)


@dataclass(frozen=True, slots=True)
class Advice:
    """The first sign of a standstill in the order of the rules, causes that the journal or the tank file shows, and
    causes about which nothing is known, each with the likeliest first."""

    sign: Stuck | None
    causes: tuple[Stuck, ...]
    unread: tuple[Stuck, ...]
    first: str = ""
    """What is said before all of it."""

    @property
    def texts(self) -> tuple[str, ...]:
        """One text each: the sign, with the likeliest cause or the look that would tell, what to do, and the rest. Braces are not
        filled yet."""
        told = [self.first] if self.first else []
        first = next((s for s in self.causes if not s.beside_sign), None) if self.sign is not None else None
        if self.sign is not None:
            look = self.unread[0] if self.unread and self.unread[0].look else None
            likeliest = f" The likeliest cause: {_whole(first)}" if first is not None else f" Look first for {look.cause}: {look.look}" if look is not None else ""
            told.append(self.sign.say + likeliest)
            told += [" ".join(self.sign.do)] if self.sign.do else []
        told += [_whole(s) for s in self.causes if s is not first]
        if self.unread:
            told.append(f"Also possible, because you logged nothing about it: {', '.join(dict.fromkeys(s.cause for s in self.unread))}.")
        return tuple(told)


def _whole(advice: Stuck) -> str:
    return " ".join((advice.say, *advice.do))


def advise(gate: GateRule, scene: Scene, expectation: Expectation, first: str = "") -> Advice:
    """What the rules have to say of a shut gate. Causes that slow a tank are told at any time; what is merely unknown is
    named only where something stands still."""
    judged = [(stuck, judge_condition(stuck.when, scene)) for stuck in gate.stuck]
    yes = [stuck for stuck, trace in judged if trace.answer == Answer.YES]
    sign = next((s for s in yes if s.sign and (s.late is None or s.late in expectation.late) and (s.behind is None or s.behind in expectation.behind)), None)
    causes = tuple(s for s in yes if not s.sign and (sign is not None or not s.beside_sign))
    unread = [stuck for stuck, trace in judged if stuck.cause and trace.answer == Answer.UNKNOWN and _is_bare(trace)]
    return Advice(sign, causes, tuple(unread) if sign is not None else (), first)


def _is_bare(trace: Trace) -> bool:
    """Is the answer unknown because nothing was written down?"""
    if trace.parts:
        return any(p.answer == Answer.UNKNOWN and _is_bare(p) for p in trace.parts)
    return trace.context or isinstance(trace.gap, UNWRITTEN)


__all__ = ["Advice", "advise"]
