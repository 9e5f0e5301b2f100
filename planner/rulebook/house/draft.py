"""Laying accepted house rules over a book: what each names, the draft they are written into, and the tasks they reach."""

from __future__ import annotations

from collections.abc import Callable, Container, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any

from planner.files.checked import Checked
from planner.rulebook.check import known_ids
from planner.rulebook.house.allowed import is_measure_of, measures
from planner.rulebook.kinds.node import TIME
from planner.rulebook.names import Use, condition_names, task_names, text_names
from planner.rulebook.nodes import Condition, Written
from planner.rulebook.provenance import HOURS_IN, Caution, Number, Source
from planner.rulebook.shapes import AlertRule, HouseRule, PhaseRule, Rulebook
from planner.rulebook.task_rule import TaskRule
from planner.rulebook.walk import task_conditions
from planner.terms.problems import NAME_SLIP, Place, Problem, nearest


@dataclass(frozen=True, slots=True)
class Change:
    """One accepted house rule: what to tell of it, how to write it into a draft, and the names that it rests on. `owner`:
    the phase of the shop's own of which it is a task."""

    rule: HouseRule
    apply: Callable[[Draft], None]
    uses: tuple[Use, ...]
    source_line: str
    owner: str = ""

    def missing(self, book: Rulebook, left_out: Container[str]) -> Problem | None:
        """The first name that leads nowhere in the merged book, or is a number of the wrong thing. `left_out`: what the
        folder has, but may not stand."""
        ids = known_ids(book)
        for use in self.uses:
            if use.measure:
                number, wanted = book.numbers.get(use.name), use.measure
                if number is not None and not _fits(number, wanted):
                    what = "a time" if wanted == TIME else f"a reading of {wanted}"
                    unit = f"'{number.unit}'" if number.unit else "no unit"
                    return self._problem("unit-unknown", f"`{use.name}` is wanted as {what}, but has {unit}",
                                         f"give it a unit of time: {', '.join(HOURS_IN)}" if wanted == TIME else f"give it a unit in which {wanted} is measured")
            elif use.name not in ids.get(use.kind, use.known):
                if use.name in left_out:
                    return self._problem("house-left-out", f"this rests on '{use.name}', which was left out", f"mend '{use.name}' first")
                known = ids.get(use.kind, use.known)
                figure = use.kind in ("number", "figure")
                near = nearest(use.name, known, NAME_SLIP if figure else 0.6)
                fix = "define it below `numbers:` with its `value`, `unit` and `grade: practice`, or take the name out" if figure else f"add the {use.kind}, or take the name out"
                return self._problem(f"unknown-{use.kind}", f"there is no {use.kind.replace('-', ' ')} '{use.name}'", f"write '{near}'" if near else fix)
        return None

    def _problem(self, code: str, message: str, fix: str) -> Problem:
        return Problem(self.rule.place, code, message, fix, self.source_line)


class Draft:
    """A book that is being written over. Shipped records are never changed: copies with other keys take their place."""

    def __init__(self, book: Rulebook) -> None:
        self.book = book
        self.phases = {p.phase: p for p in book.phases}
        self.alerts = {a.alert: a for a in book.alerts}
        self.numbers, self.sources, self.cautions = dict(book.numbers), dict(book.sources), dict(book.cautions)
        self.places = dict(book.places)

    def with_changes(self, changes: Iterable[Change]) -> Rulebook:
        """The merged book. Gate parts and tasks that are added come behind ours."""
        for change in changes:
            change.apply(self)
            if "#" not in change.rule.id:
                self.places.setdefault(change.rule.id, change.rule.place)
        phases = tuple(sorted(self.phases.values(), key=lambda p: (p.order, p.phase)))
        alerts = tuple(sorted(self.alerts.values(), key=lambda a: a.alert))
        tasks = {f"{p.phase}/{t.id}": t for p in phases for t in p.tasks} | {f"{a.alert}/{t.id}": t for a in alerts for t in a.tasks}
        for owner, inside in (*((a.alert, a.tasks) for a in alerts), *((p.phase, p.tasks) for p in phases)):
            for task in inside:  # tasks that came with a whole alert or phase stand where it stands
                self.places.setdefault(f"{owner}/{task.id}", self.places[owner])
        return replace(self.book, phases=phases, alerts=alerts, numbers=self.numbers, sources=self.sources, cautions=self.cautions, places=self.places, tasks=tasks)

    def number(self, name: str, number: Number) -> None:
        self.numbers[name] = number

    def source(self, key: str, source: Source) -> None:
        self.sources[key] = source

    def new_caution(self, key: str, caution: Caution) -> None:
        self.cautions[key] = caution

    def caution(self, key: str, **keys: Any) -> None:
        self.cautions[key] = self.cautions[key].model_copy(update=keys)

    def phase(self, id: str, **keys: Any) -> None:
        self.phases[id] = self.phases[id].model_copy(update=keys)

    def gate(self, id: str, **keys: Any) -> None:
        self.phase(id, gate=self.phases[id].gate.model_copy(update=keys))

    def gate_adds(self, id: str, key: str, part: Written) -> None:
        """A condition that must hold too, a hold, or advice."""
        gate = self.phases[id].gate
        if key == "needs_too":
            ours = gate.opens_when
            parts = ours.all if ours.all is not None and ours.say is None else (ours,)
            self.gate(id, opens_when=Condition(all=(*parts, part)))  # type: ignore[arg-type]
        else:
            self.gate(id, **{key: (*getattr(gate, key), part)})

    def new_phase(self, phase: PhaseRule) -> None:
        self.phases[phase.phase] = phase

    def alert(self, id: str, **keys: Any) -> None:
        self.alerts[id] = self.alerts[id].model_copy(update=keys)

    def new_alert(self, alert: AlertRule) -> None:
        self.alerts[alert.alert] = alert

    def task(self, key: str, **keys: Any) -> None:
        owner, _, id = key.partition("/")
        self._tasks(owner, lambda tasks: tuple(t.model_copy(update=keys | _for_all_buyers(t, keys)) if t.id == id else t for t in tasks))

    def new_task(self, owner: str, task: TaskRule) -> None:
        self._tasks(owner, lambda tasks: (*tasks, task))

    def _tasks(self, owner: str, change: Callable[[tuple[TaskRule, ...]], tuple[TaskRule, ...]]) -> None:
        if owner in self.phases:
            self.phase(owner, tasks=change(self.phases[owner].tasks))
        else:
            self.alert(owner, tasks=change(self.alerts[owner].tasks))


def _for_all_buyers(task: TaskRule, keys: dict[str, Any]) -> dict[str, Any]:
    """The variants of a task under the shop's words: lines that it adds to ours are added to theirs too, and where it
    puts its own in place of ours they have none of their own."""
    def revised(field: str, ours: Any, own: Any) -> Any:
        if field == "title":
            return own if task.protects else None
        lines = keys[field] or ()
        return (*own, *(line for line in lines if line not in ours)) if own and set(ours) <= set(lines) else ()

    changed = [field for field in ("title", "steps", "watch") if field in keys]
    if not changed or not task.variants:
        return {}
    return {"variants": tuple(v.model_copy(update={f: revised(f, getattr(task, f), getattr(v, f)) for f in changed}) for v in task.variants)}


# --- names

def task_uses(key: str, task: TaskRule, book: Rulebook) -> tuple[Use, ...]:
    """Everything that a task names; `known_ids` of the merged book decides whether it is there."""
    found = list(task_names(task, key, frozenset()))
    for placed in task_conditions(task, key):
        found += _measured(placed.condition, key)
    found += [Use("number", name, key, measure=TIME) for name in (task.wait, task.every, task.not_before_wait) if name and name not in book.figure_names()]
    return tuple(found)


def condition_uses(at: str, condition: Condition) -> tuple[Use, ...]:
    return (*condition_names(condition, at), *_measured(condition, at))


def text_uses(at: str, *texts: str) -> tuple[Use, ...]:
    """The names in braces."""
    return tuple(use for text in texts for use in text_names(text, at, frozenset()))


def _measured(condition: Condition, at: str) -> list[Use]:
    return [Use("number", name, at, measure=wanted) for name, wanted in measures(condition)]


def _fits(number: Number, wanted: str) -> bool:
    return number.unit in HOURS_IN if wanted == TIME else is_measure_of(wanted, number.unit)


# --- what it reaches, and how it is told

def marks_of(book: Rulebook, house: Sequence[HouseRule]) -> dict[str, Place]:
    """Each task that a house rule added, changed, or reaches through a number that it uses or tells, with one place."""
    marks: dict[str, Place] = {}
    numbers = {rule.id.removeprefix("number/"): rule.place for rule in house if rule.id.startswith("number/") and rule.was}
    alerts = {rule.id: rule.place for rule in house}
    for key, task in book.tasks.items():
        own = next((rule.place for rule in house if rule.id.partition("#")[0] == key), None) or alerts.get(key.partition("/")[0])
        reached = next((numbers[use.name] for use in task_names(task, key, frozenset()) if use.name in numbers), None) if numbers and not own else None
        if own or reached:
            marks[key] = own or reached  # type: ignore[assignment]
    return marks


def told_value(number: Number) -> str:
    return f"{number.value:g} {number.unit}".rstrip()


def told_change(after: Any, before: Any) -> str:
    """What stands now, in one line: of a list, what it has more than the other; empty if it only lacks something."""
    if isinstance(after, Condition):
        return after.say or _condition_words(after)
    if isinstance(after, tuple):
        return "; ".join(told_more(after, before)) or ("" if after else "nothing")
    if isinstance(after, bool):
        return "yes" if after else "no"
    return "nothing" if after is None else " ".join(str(after).split())


def told_more(after: Any, before: Any) -> tuple[str, ...]:
    """What a list has more than the other; nothing of what is no list."""
    return tuple(str(x) for x in after if not isinstance(before, tuple) or x not in before) if isinstance(after, tuple) else ()


def _condition_words(condition: Condition) -> str:
    """A condition without a sentence of its own, as it is written."""
    def flat(value: Any) -> str:
        if isinstance(value, Checked):
            value = {field.alias or name: told for name, field in value.model_fields.items() if (told := getattr(value, name)) != field.filled()}
        if isinstance(value, dict):
            return ", ".join(f"{k} {flat(v)}" if v is not True else str(k) for k, v in value.items())
        return " and ".join(flat(v) for v in value) if isinstance(value, list | tuple) else str(value)

    return flat(condition)


__all__ = ["Change", "Draft", "condition_uses", "marks_of", "task_uses", "text_uses", "told_change", "told_more", "told_value"]
