"""A plan's texts as somebody reads them who has no keyboard before him: with a pencil, or on a page. What both say alike stands here;
what differs, each says for itself."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from planner.plan.texts import told_amount
from planner.rulebook.shapes import Rulebook
from planner.show.words.causes import all_words, cause_words
from planner.terms.causes import Cause, cause
from planner.terms.records import Amount, Plan, Task, Trace
from planner.terms.texts import ByUnits, Command, Day, Either, Part, TankFile, TankKey, TaskName, Text, Unknown


@dataclass
class Hand(ABC):
    """Writes the texts of one plan. `fill` puts this tank's figures into rule texts."""

    rules: Rulebook
    units: str
    on: date
    fill: Callable[[str], str]

    def __call__(self, text: str | Cause) -> str:
        said = cause_words(text, self.units) if isinstance(text, Cause) else text
        return self.parts(said.parts) if isinstance(said, Text) else said

    def parts(self, parts: Iterable[Part]) -> str:
        return "".join(map(self._part, parts))

    def _part(self, part: Part) -> str:
        match part:
            case Amount():
                return told_amount(part, self.units)
            case Unknown():
                return "(not known yet)"
            case Command("where", _, water, _):
                return f" as {water} water"
            case Command():
                return self.command(part)
            case TaskName(key):
                return f"“{self(self.fill(self.rules.tasks[key].title))}”" if key in self.rules.tasks else key
            case TankKey(path, values):
                return path.rpartition(".")[2].replace("_", " ") + (f": {' or '.join(values)}" if values else "")
            case TankFile(lead):
                return self.tank_file(lead)
            case Day():
                return self.day(part)
            case ByUnits(metric, us):
                return us if self.units == "us" else metric
            case Either():
                return self.parts(self.chosen(part))
        return str(part)

    @abstractmethod
    def command(self, command: Command) -> str:
        """What stands for something that is typed at a keyboard."""

    @abstractmethod
    def tank_file(self, lead: str) -> str:
        """What the tank file is called here, with what stands before it."""

    @abstractmethod
    def day(self, day: Day) -> str: ...

    def chosen(self, either: Either) -> tuple[Part, ...]:
        """Of what is said for a keyboard and for others, the latter."""
        return either.written


def plan_by_hand(plan: Plan, write: Hand) -> Plan:
    """The plan with each of its texts as that hand writes it; notices that are causes keep their kind. What goes before another
    job is named as its own card is."""
    def each(texts: tuple[str | Cause, ...]) -> tuple[str, ...]:
        return tuple(map(write, all_words(texts, plan.units)))

    def asked(trace: Trace) -> Trace:
        return replace(trace, say=write(trace.say), asked=replace(trace.asked, title=write(trace.asked.title)), parts=tuple(map(asked, trace.parts)))

    titles = {t.id: write(t.title) for t in plan.tasks}
    tasks = tuple(changed(t, title=titles[t.id], stage=write(t.stage), steps=each(t.steps), watch=each(t.watch), because=each(with_guards(t.because, asked)), yielded=tuple(replace(y, title=titles.get(y.to, y.title)) for y in t.yielded))
                  for t in plan.tasks)
    phases = tuple(replace(p, reason=write(p.reason or ""), intro=write(p.intro), advice=each(p.advice), needs=tuple(replace(n, trace=asked(n.trace)) for n in p.needs)) for p in plan.phases)
    holds = tuple(replace(h, because=write(h.because), do=write(h.do)) for h in plan.holds)
    notices = tuple(replace(n, values=tuple((name, write(v) if name == "told" and isinstance(v, str) else v) for name, v in n.values)) if isinstance(n, Cause) else write(n) for n in plan.notices)
    return replace(plan, tasks=tasks, phases=phases, holds=holds, notices=notices)


def with_guards(reasons: tuple[str | Cause, ...], change: Callable[[Trace], Trace]) -> tuple[str | Cause, ...]:
    """Why a job waits, with each of its open guards changed."""
    def one(why: str | Cause) -> str | Cause:
        guards = dict(why.values).get("guards") if isinstance(why, Cause) else None
        return cause("open_guards", guards=tuple(change(g) for g in guards if isinstance(g, Trace))) if isinstance(guards, tuple) else why

    return tuple(map(one, reasons))


def changed(task: Task, **values: Any) -> Task:
    """The task with these values; itself where it has them already, since most of a plan comes again without a word and a copy costs more than the look."""
    return replace(task, **values) if any(getattr(task, name) != value for name, value in values.items()) else task


__all__ = ["Hand", "changed", "plan_by_hand", "with_guards"]
