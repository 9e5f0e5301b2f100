"""What is kept of each day of a life: the pages the keeper saw, what he did, and what the water really was."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date

from tests.keepers.door import URGENT, Plan, all_words, need_words
from tests.keepers.room import Room

GATES = ("cycle", "big-change", "animals", "crew", "fish", "corals")


@dataclass(frozen=True)
class Job:
    """One task of a page that is due or late."""

    id: str
    key: str
    phase: str
    role: str
    title: str
    state: str
    where: str
    writes: str
    litres: float
    minutes: int
    text: str
    animals: tuple[tuple[str, int], ...] = ()


@dataclass(frozen=True)
class Page:
    """One plan as the keeper saw it."""

    jobs: tuple[Job, ...]
    alerts: tuple[str, ...]
    holds: tuple[tuple[str, str, bool], ...]
    """gate, because, whether it is mere doubt"""
    opened: tuple[str, ...]
    likely: dict[str, date | None]
    stages: dict[str, tuple[date | None, tuple[tuple[str, int], ...]]]
    arrivals_tomorrow: tuple[str, ...]
    needs: tuple[str, ...]
    next_day: date | None
    volume: float
    steps: int = 0
    """how many steps the jobs of the page have"""
    unsure: frozenset[str] = frozenset()
    """stages whose way is not clear yet"""

    @staticmethod
    def of(plan: Plan, alerts: frozenset[str]) -> Page:
        jobs, coming, stages, unsure = [], [], {}, set()
        up = {t.phase for t in plan.tasks if t.phase in alerts and t.state.value not in ("done", "skipped")}
        ahead = [t.date for t in plan.tasks if t.state.value in ("planned", "waiting") and t.date is not None and t.date > plan.on and t.role != "care"]
        for t in plan.tasks:
            if t.state in URGENT:
                litres = max((q.value for _, q in t.amounts if q.unit == "L"), default=0.0)
                jobs.append(Job(t.id, t.key, t.phase, t.role, t.title, t.state.value, t.where, ":".join(t.writes or ()), litres, t.minutes, " ".join(all_words(t.steps, plan.units)), t.animals))
            elif t.role == "animals" and t.where == "display" and t.date is not None and (t.date - plan.on).days == 1 and t.state.value == "planned":
                coming.append(t.id)
            if t.animals and t.state.value not in ("done", "skipped") and t.where == "display":
                stages[t.id] = (t.date, t.animals)
                unsure |= {t.id} if t.tentative else set()
        net = plan.quantity("net_volume")
        return Page(
            tuple(jobs), tuple(sorted(up)), tuple((h.gate, h.because, h.trace is not None and h.trace.answer.value == "unknown") for h in plan.holds),
            tuple(p.id for p in plan.phases if p.opened is not None), {p.id: p.window.likely for p in plan.phases if p.id in GATES and p.opened is None}, stages,
            tuple(coming), tuple(f"{w.gate}: {need_words(n)}" for w in plan.waiting_for for n in w.needs if n.met.value != "yes"), min(ahead, default=None), net.value if net else 0.0,
            sum(len(t.steps) for t in plan.tasks if t.state in URGENT), frozenset(unsure))


@dataclass
class Day:
    """One day, and the water at its end."""

    number: int
    on: date
    pages: list[Page] = field(default_factory=list)
    said: list[str] = field(default_factory=list)
    done: list[tuple[str, str]] = field(default_factory=list)
    tested: list[str] = field(default_factory=list)
    """keys of tests that were made"""
    early: list[str] = field(default_factory=list)
    rows: list[tuple[str, str, str, str, str]] = field(default_factory=list)
    readings: dict[str, str] = field(default_factory=dict)
    losses: list[tuple[str, int]] = field(default_factory=list)
    away: bool = False
    fault: str = ""
    water: dict[str, float] = field(default_factory=dict)
    harm: dict[str, float] = field(default_factory=dict)
    before: dict[str, float] = field(default_factory=dict)
    """the water in the evening, before any hand was in it"""
    animals: int = 0
    animals_before: int = 0
    animals_in_display: int = 0
    minutes: int = 0
    proof_left: float = 9.0
    proof_since: int | None = None
    """the day of a proof dose whose test has not come yet"""


def water_of(room: Room) -> dict[str, float]:
    """The true water of the display."""
    display = room.display
    return {
        "tan": display.tan, "nitrite": display.nitrite, "nitrate": display.nitrate * 4.427, "alkalinity": display.alkalinity, "ph": display.ph, "salinity": display.salinity,
        "temperature": display.temperature, "oxygen": display.oxygen, "nh3": display.free_ammonia, "aob": display.aob, "nob": display.nob,
        "phosphate": room.waters["display" if room.rock_in else "curing"].phosphate, "quarantine_tan": room.waters["quarantine"].tan, "quarantine_nitrite": room.waters["quarantine"].nitrite, "curing_tan": room.waters["curing"].tan}


def see(day: Day, room: Room, harm_before: dict[str, dict[str, float]]) -> None:
    """Write the true water into the day, and what the animals suffered since the evening."""
    day.water = water_of(room)
    day.animals = sum(len(s) for s in room.stock.values())
    day.animals_in_display = len(room.stock["display"])
    for where, stock in room.stock.items():
        for cause, hours in stock.harm.items():
            more = hours - harm_before.get(where, {}).get(cause, 0.0)
            if more > 0:
                day.harm[cause if where == "display" else f"{cause} in {where}"] = more
    if day.water["tan"] < 0.1 and day.water["nitrite"] < 0.1:
        day.proof_left = room.display.proof(1.0)
