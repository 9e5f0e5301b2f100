"""Plans put together by hand for tests of the faces: only what a test is about has to be said."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, timedelta
from typing import Any

from planner.plan.day_jobs import Job, carried_on
from planner.rulebook.shapes import Rulebook
from planner.terms.records import Answer, Event, Forecast, Hold, Need, Phase, Plan, Quantity, Row, State, Task, Trace, Window, index_journal
from planner.terms.traces import Described, Joined
from tests.rulecases import rulebook

TANK_ID = "7f0c2a34-5f3e-4a7e-9c55-0c3d5a1b9e10"
ON = date(2026, 3, 2)
ROLES = {p.phase: p.role for p in rulebook().phases}


def window(earliest: date | None, likely: date | None = None, latest: date | None = None) -> Window:
    """Three dates; one alone stands for all three."""
    return Window(earliest, likely or earliest, latest or likely or earliest)


def quantity(name: str, value: float, unit: str) -> Quantity:
    return Quantity(name, value, unit, formula="volume times concentration", inputs=(), source="test bench")


def task(id: str = "water/mix-salt", day: date | None = date(2026, 3, 10), **changes: Any) -> Task:
    """A firm, planned task of weight on `day`; any field can be said otherwise."""
    key, _, number = id.partition("#")
    values: dict[str, Any] = {
        "id": id, "key": key, "occurrence": int(number or 1), "phase": key.split("/")[0], "title": "Mix the salt water",
        "role": "work", "due": day, "date": day, "time": "", "window": window(day), "state": State.PLANNED,
        "tentative": False, "amounts": (), "steps": ("Fill the bin with RO water.", "Stir in the salt."), "watch": (),
        "cautions": (), "because": (), "cites": (), "reads": (), "where": "display", "calendar": True, "minutes": 30,
    }
    return Task(**(values | changes))


def need(text: str = "ammonia clear on two days", met: Answer = Answer.NO, seen: tuple[str, ...] = ()) -> Need:
    return Need(Trace(Joined(how="all"), met, tuple(map(Described, seen)), say=text))


def phase(id: str = "cycle", day: date | None = date(2026, 4, 10), **changes: Any) -> Phase:
    """A phase whose gate is shut and expected on `day`."""
    values: dict[str, Any] = {
        "id": id, "title": id.replace("-", " ").capitalize(), "state": "ahead", "started": None, "opened": None,
        "window": window(day), "reason": None, "needs": (need(),), "role": ROLES.get(id) or "",
    }
    return Phase(**(values | changes))


def hold(gate: str, because: str) -> Hold:
    return Hold(gate, ON, because, ())


def plan(*parts: Task | Phase | Hold, on: date = ON, **changes: Any) -> Plan:
    """A plan of these tasks, phases and holds; reminders at 18:00 in Berlin."""
    values: dict[str, Any] = {
        "on": on, "tank_id": TANK_ID, "name": "Corner reef", "timezone": "Europe/Berlin", "units": "metric",
        "reminder_time": "18:00", "quantities": (), "phases": tuple(p for p in parts if isinstance(p, Phase)),
        "tasks": tuple(p for p in parts if isinstance(p, Task)), "holds": tuple(p for p in parts if isinstance(p, Hold)),
        "waiting_for": (), "notices": (), "forecast": Forecast({"cycle_done": Event(Window(None, None, None))}),
    }
    return Plan(**(values | changes))


def jobs_of_plan(plan: Plan, rules: Rulebook, known: Iterable[str] = ()) -> tuple[Job, ...]:
    """The jobs of a plan on which nothing was written today; `known`: tasks that were ticked the day before."""
    ticks = [Row(plan.on - timedelta(days=1), None, "done", key, "", "", "display", "", line, None, None, 0.0, 0.0) for line, key in enumerate(sorted(known), 2)]
    return carried_on((), index_journal(ticks), rules, plan)
