"""A desk for tests of the engine: tanks, journals and small rule books from a few words.

Tanks start from the base tank of the rule cases (ammonia and nitrite kits in mg/L as N, steps of 0.25). A small book
keeps the shipped numbers, because the engine looks some of them up, and has only the phases written in the test."""

from __future__ import annotations

from collections.abc import Mapping
from copy import deepcopy
from dataclasses import replace
from datetime import date
from typing import Any

import yaml

from planner.files.journal import read_journal
from planner.files.tank import Tank, read_tank
from planner.judge.conditions import Scene, judge_condition
from planner.judge.facts import Facts, Instant, gather, zone_of
from planner.judge.gates import Verdicts, judge
from planner.plan.make import make_plan
from planner.rulebook.nodes import Condition
from planner.rulebook.provenance import Number
from planner.rulebook.shapes import AlertRule, PhaseRule, Rulebook
from planner.terms.records import Answer, Journal, Plan, Task, Trace
from tests.rulecases import BASE, rulebook, set_path

HEADER = "when,kind,what,value,unit,where,note\n"


def tank_with(**changes: Any) -> Tank:
    """The base tank; a key such as `keeper__away` sets `keeper.away`, None takes a key out."""
    data = deepcopy(BASE)
    for key, value in changes.items():
        set_path(data, key.replace("__", "."), value)
    tank, problems = read_tank(yaml.safe_dump(data, sort_keys=False), "tank.yaml")
    assert tank is not None and not problems, "\n".join(map(str, problems))
    return tank


def journal_of(*rows: str, tank: Tank | None = None, problems: int = 0) -> Journal:
    """Rows as written; short rows are filled up with empty cells, a row that begins with '!' is left as it is."""
    tank = tank or tank_with()
    lines = [row[1:] if row.startswith("!") else row + "," * (6 - row.count(",")) for row in rows]
    journal, wrong = read_journal(HEADER + "".join(line + "\n" for line in lines), "journal.csv", tank, zone_of(tank))
    assert len(wrong) == problems, "\n".join(map(str, wrong))
    return journal


def book_with(**numbers: tuple[float, str]) -> Rulebook:
    """The shipped rules with numbers of the test's own."""
    book = rulebook()
    return replace(book, numbers=book.numbers | {name: Number(value=v, unit=u, grade="practice") for name, (v, u) in numbers.items()})


def small_book(phases: str, alerts: str = "[]", **numbers: tuple[float, str]) -> Rulebook:
    """A book of the phases written as YAML. `order` is given by their place; titles and gates may be left out. Phases and
    tasks that bear the ids of shipped ones have their roles."""
    made, shipped = [], rulebook()
    roles = {p.phase: p.role for p in shipped.phases}
    for n, raw in enumerate(yaml.load(phases, Loader=yaml.CBaseLoader)):
        raw = {"title": raw["phase"], "order": n, "intro": "", "role": roles.get(raw["phase"]), **raw}
        raw["gate"] = {"title": f"{raw['phase']} done", "opens_when": {"event": f"never_{raw['phase']}"}, **raw.get("gate", {})}
        raw["tasks"] = [{"title": task["id"], "known_as": t.known_as if (t := shipped.tasks.get(f"{raw['phase']}/{task['id']}")) else None, **task} for task in raw.get("tasks", [])]
        made.append(PhaseRule.model_validate(raw))
    watch = tuple(AlertRule.model_validate(raw) for raw in yaml.load(alerts, Loader=yaml.CBaseLoader))
    tasks = {f"{p.phase}/{t.id}": t for p in made for t in p.tasks} | {f"{a.alert}/{t.id}": t for a in watch for t in a.tasks}
    return replace(book_with(**numbers), phases=tuple(made), alerts=watch, tasks=tasks)


def facts_of(*rows: str, on: str, tank: Tank | None = None, problems: int = 0) -> Facts:
    tank = tank or tank_with()
    return gather(tank, journal_of(*rows, tank=tank, problems=problems), date.fromisoformat(on))


def trace_of(node: Mapping[str, Any], *rows: str, on: str, tank: Tank | None = None, book: Rulebook | None = None,
             opened: Mapping[str, Instant] | None = None, problems: int = 0) -> Trace:
    scene = Scene(facts_of(*rows, on=on, tank=tank, problems=problems), book or book_with(), opened or {})
    return judge_condition(Condition.model_validate(node), scene)


def answer_to(node: Mapping[str, Any], *rows: str, **scene: Any) -> Answer:
    return trace_of(node, *rows, **scene).answer


def verdicts_of(book: Rulebook, *rows: str, on: str, tank: Tank | None = None, problems: int = 0) -> Verdicts:
    return judge(book, facts_of(*rows, on=on, tank=tank, problems=problems))


def plan_with(book: Rulebook, *rows: str, on: str, tank: Tank | None = None, until: str | None = None, problems: int = 0) -> Plan:
    tank = tank or tank_with()
    return make_plan(tank, journal_of(*rows, tank=tank, problems=problems), book, date.fromisoformat(on), date.fromisoformat(until) if until else None)


def open_task(plan: Plan, key: str) -> Task:
    """The next occurrence of a task that is not done."""
    found = [t for t in plan.tasks if t.key == key and t.closed_on is None]
    assert found, f"{key} is not open; there are {[t.id for t in plan.tasks]}"
    return found[0]


def day_of(plan: Plan, key: str) -> str:
    """The likely day of the next occurrence, as written."""
    day = open_task(plan, key).date
    return day.isoformat() if day else "none"
