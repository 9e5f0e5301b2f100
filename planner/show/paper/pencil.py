"""Texts as somebody with a pencil reads them: a command becomes a note on the log sheet, a key what it means, the id of a
task its title, and a day stands as the paper writes days."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace

from planner.judge.kinds.age import AgeAsked
from planner.plan.texts import shown_amount
from planner.rulebook.shapes import Rulebook
from planner.show.words.causes import all_words, cause_words
from planner.show.words.wish_list import stages_provisional
from planner.show.words.words import short_day
from planner.terms.causes import Cause, cause
from planner.terms.records import CLOSED, URGENT, Amount, Plan, Task, Trace
from planner.terms.texts import Command, Day, Either, Part, TankFile, TankKey, TaskName, Text, Unknown

_TWICE = re.compile(r"(after ([\d.]+\s\w+)), or after \2 if [^.]*")
"""A rule and its exception that a shop's own figure has made the same."""
_COUNTED = re.compile(r"(?<=\d) x (?=[a-z])")
Pencil = Callable[[str], str]


def pencil_for(plan: Plan, rules: Rulebook, fill: Callable[[str], str]) -> Pencil:
    """Writes the texts of one plan. `fill` puts this tank's figures into rule texts."""
    moving = stages_provisional(plan)

    def write(text: str) -> str:
        said = "".join(map(written, text.parts)) if isinstance(text, Text) else text
        return _TWICE.sub(r"\1", _COUNTED.sub(" × ", said))

    def written(part: Part) -> str:
        match part:
            case Amount(value, unit):
                return shown_amount(value, unit, plan.units)
            case Unknown():
                return "(not known yet)"
            case Command("where", _, water, _):
                return f" as {water} water"
            case Command(_, _, _, lead):
                return " on the log sheet" if lead else "it on the log sheet"
            case TaskName(key):
                return f"“{write(fill(rules.tasks[key].title))}”"
            case TankKey(path):
                return path.rpartition(".")[2].replace("_", " ")
            case TankFile(lead):
                return "on the log sheet" if lead.startswith("into") else f"{lead or 'the '}description of the tank"
            case Day(day, lead, sure):
                return ("about " if moving and not sure and day > plan.on else lead) + short_day(day, plan.on)
            case Either(_, pencil):
                return "".join(map(written, pencil))
        return str(part)

    return write


def plan_on_paper(plan: Plan, write: Pencil) -> Plan:
    """The plan with each of its texts as the pencil writes it; notices that are causes keep their kind. What goes before another
    job is named as its own card is. That a sample is to be diluted stands with the next test alone: it follows from the last one,
    and those of later months do not."""
    def each(texts: tuple[str | Cause, ...]) -> tuple[str, ...]:
        return tuple(map(write, all_words(texts, plan.units)))

    phase_titles = {p.id: p.title for p in plan.phases}

    def asked(trace: Trace) -> Trace:
        gate = phase_titles.get(trace.asked.of, "") if isinstance(trace.asked, AgeAsked) else ""  # a gate is named as its card is
        return replace(trace, say=write(trace.say), asked=replace(trace.asked, title=gate or write(trace.asked.title)), parts=tuple(map(asked, trace.parts)))

    def waiting(why: str | Cause) -> str | Cause:
        guards = dict(why.values).get("guards") if isinstance(why, Cause) else None
        return cause("open_guards", guards=tuple(asked(g) for g in guards if isinstance(g, Trace))) if isinstance(guards, tuple) else why

    diluted = next((t.key for t in plan.tasks if t.state not in CLOSED and any(map(_dilutes, t.steps))), "")
    titles = {t.id: write(t.title) for t in plan.tasks}
    told: set[str] = set()

    def job(task: Task) -> Task:
        """Of what comes again the paper tells the first time alone."""
        first = task.state not in CLOSED and (task.key not in told or task.state in URGENT or bool(task.animals))
        if not first:
            return replace(task, title=titles[task.id])
        told.add(task.key)
        steps = task.steps if task.key == diluted else tuple(s for s in task.steps if not _dilutes(s))
        return replace(task, title=titles[task.id], steps=each(steps), watch=each(task.watch), because=each(tuple(map(waiting, task.because))),
                       yielded=tuple(replace(y, title=titles.get(y.to, y.title)) for y in task.yielded))

    tasks = tuple(map(job, plan.tasks))
    phases = tuple(replace(p, reason=write(cause_words(p.reason, plan.units)), intro=write(p.intro), advice=each(p.advice), needs=tuple(replace(n, trace=asked(n.trace)) for n in p.needs)) for p in plan.phases)
    holds = tuple(replace(h, because=write(h.because)) for h in plan.holds)
    return replace(plan, tasks=tasks, phases=phases, holds=holds, notices=tuple(n if isinstance(n, Cause) else write(n) for n in plan.notices))


def _dilutes(step: str | Cause) -> bool:
    return isinstance(step, Cause) and step.kind == "dilute"


__all__ = ["Pencil", "pencil_for", "plan_on_paper"]
