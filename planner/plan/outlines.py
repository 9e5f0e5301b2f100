"""What the page of a day asks of the plan of another day, or of fewer rows: names and days alone, which can be kept.

They are kept only beside the shipped rules, under the digest of the whole program with its rules, of the tank and of each row
that the plan was made from. With and without them a page is the same.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from operator import attrgetter
from pathlib import Path
from typing import Any

from planner.files.kept import Kept, Maker
from planner.files.tank import Tank
from planner.frozen import dataclass
from planner.judge.facts import end_of_day, zone_of
from planner.plan.places import in_order
from planner.plan.what_moved import Dated, gate_dates
from planner.rulebook.read import shipped
from planner.rulebook.shapes import Rulebook
from planner.terms.records import URGENT, Journal, Plan, Row, State, Task, Window

MakePlan = Callable[[Journal, date], Plan]
PLANNER = Maker((), ("numpy", "yaml", "pydantic", "tzdata"), (Path(__file__).parents[1], shipped("rules")))
"""What makes a plan: nearly all of the program, and all rules."""
FIELDS = attrgetter(*Row.__slots__)
TOLD = attrgetter("id", "key", "occurrence", "phase", "title", "role", "cautions", "reads", "where", "minutes")


@dataclass(frozen=True, slots=True)
class Outline:
    """The day's jobs in order; the likely days of the gates that are shut; the holds as (gate, reason). Of a job that was kept
    only what the line of a closed job tells stands here."""

    listed: tuple[Task, ...]
    gates: dict[str, Dated]
    holds: tuple[tuple[str, str], ...]


class Outlines:
    """The outlines of one tank. `make` plans it with another journal or on another day."""

    def __init__(self, tank: Tank, rules: Rulebook, make: MakePlan, kept: Kept | None = None) -> None:
        self._tank, self._rules, self._make = tank, rules, make
        self._kept = None if rules.house else kept

    def of(self, journal: Journal, on: date) -> Outline:
        """The outline of a plan that may have to be made."""
        if self._kept is not None and (found := outline_from(self._kept.find("outline", PLANNER, self._inputs(journal, on)))) is not None:
            return found
        return self.of_plan(journal, self._make(journal, on))

    def of_plan(self, journal: Journal, plan: Plan) -> Outline:
        """The outline of a plan at hand, which is kept."""
        made = Outline(tuple(listed(plan, self._rules)), gate_dates(plan), tuple((h.gate, h.because) for h in plan.holds))
        if self._kept is not None and self._kept.find("outline", PLANNER, inputs := self._inputs(journal, plan.on)) is None:
            gates = {id: (title, None if day is None else day.isoformat()) for id, (title, day) in made.gates.items()}
            self._kept.keep("outline", PLANNER, inputs, {"listed": [TOLD(t) for t in made.listed], "gates": gates, "holds": made.holds})
        return made

    def _inputs(self, journal: Journal, on: date) -> object:
        """All that the plan is made from. The end of the day stands for the zone as this system has it."""
        return (self._tank, on, end_of_day(on, zone_of(self._tank)), journal.file, journal.unreadable, [FIELDS(r) for r in journal.rows])


def listed(plan: Plan, rules: Rulebook) -> list[Task]:
    """The jobs of a plan's day in the order of an evening."""
    return in_order((t for t in plan.tasks if t.state in URGENT), rules)


def outline_from(data: Any) -> Outline | None:
    """The outline of plain data; None where it is none."""
    try:
        gates = {id: (title, None if day is None else date.fromisoformat(day)) for id, (title, day) in data["gates"].items()}
        return Outline(tuple(_closed(*told) for told in data["listed"]), gates, tuple((gate, because) for gate, because in data["holds"]))
    except (TypeError, KeyError, ValueError, AttributeError):
        return None


def _closed(id: str, key: str, occurrence: int, phase: str, title: str, role: str, cautions: list[str], reads: list[str], where: str, minutes: int) -> Task:
    return Task(id, key, occurrence, phase, title, role, None, None, "", Window(None, None, None), State.DUE, False, (), (), (), tuple(cautions), (), (), tuple(reads), where, False, minutes)


__all__ = ["MakePlan", "Outline", "Outlines", "listed", "outline_from"]
