"""Texts as somebody with a pencil reads them: a command becomes a note on the log sheet, and a day stands as the paper writes days."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, replace

from planner.judge.kinds.age import AgeAsked
from planner.rulebook.shapes import Rulebook
from planner.show.words.hand import Hand, changed, plan_by_hand, with_guards
from planner.show.words.wish_list import stages_provisional
from planner.show.words.words import short_day
from planner.terms.causes import Cause
from planner.terms.records import CLOSED, URGENT, Plan, Task, Trace
from planner.terms.texts import Command, Day

_COUNTED = re.compile(r"(?<=\d) x (?=[a-z])")


@dataclass
class Pencil(Hand):
    """`moving`: days to come may move, and are written as such."""

    moving: bool = False

    def __call__(self, text: str | Cause) -> str:
        return _COUNTED.sub(" × ", super().__call__(text))

    def command(self, command: Command) -> str:
        return " on the log sheet" if command.lead else "it on the log sheet"

    def tank_file(self, lead: str) -> str:
        return "on the log sheet" if lead.startswith("into") else f"{lead or 'the '}description of the tank"

    def day(self, day: Day) -> str:
        return ("about " if self.moving and not day.sure and day.day > self.on else day.lead) + short_day(day.day, self.on)


def pencil_for(plan: Plan, rules: Rulebook, fill: Callable[[str], str]) -> Pencil:
    return Pencil(rules, plan.units, plan.on, fill, stages_provisional(plan))


def plan_on_paper(plan: Plan, pencil: Pencil) -> Plan:
    """The plan as the pencil writes it. Of a job that comes again, and of one that is closed, the title stands alone. A gate is named as
    its card is. That a sample is to be diluted stands with the next test alone: it follows from the last one, and those of later months
    do not."""
    phase_titles = {p.id: p.title for p in plan.phases}

    def named(trace: Trace) -> Trace:
        gate = phase_titles.get(trace.asked.of, "") if isinstance(trace.asked, AgeAsked) else ""
        return replace(trace, asked=replace(trace.asked, title=gate) if gate else trace.asked, parts=tuple(map(named, trace.parts)))

    diluted = next((t.key for t in plan.tasks if t.state not in CLOSED and any(map(_dilutes, t.steps))), "")
    told: set[str] = set()

    def job(task: Task) -> Task:
        if task.state in CLOSED or (task.key in told and task.state not in URGENT and not task.animals):
            return changed(task, steps=(), watch=(), because=(), yielded=())
        told.add(task.key)
        return changed(task, steps=task.steps if task.key == diluted else tuple(s for s in task.steps if not _dilutes(s)), because=with_guards(task.because, named))

    phases = tuple(replace(p, needs=tuple(replace(n, trace=named(n.trace)) for n in p.needs)) for p in plan.phases)
    return plan_by_hand(replace(plan, tasks=tuple(map(job, plan.tasks)), phases=phases), pencil)


def _dilutes(step: str | Cause) -> bool:
    return isinstance(step, Cause) and step.kind == "dilute"


__all__ = ["Pencil", "pencil_for", "plan_on_paper"]
