"""A folder of tanks at a glance: what each needs, in the order of danger, what is late, and who is ready for animals."""

from __future__ import annotations

import threading
import time
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from pathlib import PurePath

from planner.door.folder import TankFolder
from planner.judge.facts import first_animal, gather
from planner.plan.milestones import next_animal
from planner.rulebook.what_jobs_do import NEVER_CAPPED, RANKS
from planner.serve.tanks import Place, Seen, Signature, Tanks, signature_of
from planner.show.terminal.agenda import alarm_ids
from planner.show.words.words import bare_day, short_day
from planner.terms.records import CLOSED, URGENT, State

PATIENCE_S = 0.5
"""So long the board works out tanks while somebody waits; the rest follows behind its back."""


@dataclass(frozen=True, slots=True)
class TankLine:
    """One tank on the board. `place`: of its gravest alarm, len(RANKS) without one; `level`: danger, care, or nothing."""

    slug: str
    name: str
    level: str
    said: tuple[str, ...]
    late: int
    due: int
    ready: bool
    animals: str
    place: int
    broken: bool = False

    @property
    def order(self) -> tuple[object, ...]:
        return (not self.broken and self.level != "danger", self.level != "care", self.place, -self.late, not self.ready, self.name.casefold())


@dataclass
class Board:
    """The lines that were worked out, each for one state of its tank's files and one day."""

    tanks: Tanks
    known: dict[str, tuple[Signature, date, TankLine]] = field(default_factory=dict)
    _worker: threading.Thread | None = None
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def lines(self, patience_s: float = PATIENCE_S) -> tuple[tuple[TankLine, ...], int]:
        """The tanks that are worked out, in their order, and how many are not yet."""
        until, missing = time.monotonic() + patience_s, []
        found = []
        for place in self.tanks.find():
            line = self._known(place)
            if line is None and time.monotonic() < until:
                line = self.line(place)
            if line is None:
                missing.append(place)
            else:
                found.append(line)
        if missing:
            self._go_on(missing)
        return tuple(sorted(found, key=lambda one: one.order)), len(missing)

    def line(self, place: Place) -> TankLine:
        """One tank, worked out now unless it is known."""
        known = self._known(place)
        if known is not None:
            return known
        signature, seen = signature_of(place.path), self.tanks.glance(place)
        made = line_of(seen, place)
        self.known[place.slug] = (signature, seen.folder.on if isinstance(seen, Seen) else seen.on, made)
        return made

    def _known(self, place: Place) -> TankLine | None:
        found = self.known.get(place.slug)
        if found is None or found[0] != signature_of(place.path):
            return None
        return found[2] if found[1] == (self.tanks.on or self.tanks.day_of(place)) else None

    def _go_on(self, missing: Sequence[Place]) -> None:
        with self._lock:
            if self._worker is None or not self._worker.is_alive():
                self._worker = threading.Thread(target=lambda: [self.line(place) for place in missing], name="board", daemon=True)
                self._worker.start()


def line_of(seen: Seen | TankFolder, place: Place) -> TankLine:
    if isinstance(seen, TankFolder):
        return TankLine(place.slug, place.path.name, "care", tuple(f"{PurePath(p.place.file).name}: {p.message}" for p in seen.problems[:2]), 0, 0, False, "", 0, broken=True)
    plan, rules = seen.plan, seen.folder.rules
    up = alarm_ids(plan, rules)
    alerts = sorted((a for a in rules.alerts if a.alert in up and any(t.phase == a.alert and t.state not in CLOSED for t in plan.tasks)), key=lambda a: a.order)
    alarms = {a.alert for a in rules.alerts}
    late = sum(t.state == State.LATE and t.phase not in alarms for t in plan.tasks)
    gate = plan.phase_as("opens_to_animals")
    ready = any(t.state in URGENT and not t.tentative and t.animals for t in plan.tasks)
    came = first_animal(gather(seen.tank, seen.folder.journal, plan.on))
    coming = next_animal(plan).likely
    animals = "ready for animals today" if ready else f"next animals about {short_day(coming, plan.on)}" if coming is not None else "no day for animals yet" if came is None else "no more animals planned"
    if came is None and gate is not None and gate.opened is None and not ready:
        animals = f"open for animals about {bare_day(gate.window.likely, plan.on)}" if gate.window.likely is not None else "no day for animals yet"
    if alerts and alerts[0].place in NEVER_CAPPED:
        animals = "no animals until this is over"
    level = "danger" if alerts and alerts[0].place in NEVER_CAPPED else "care" if alerts else ""
    return TankLine(place.slug, plan.name, level, tuple(a.title for a in alerts[:3]), late, sum(t.state in URGENT for t in plan.tasks), ready, animals, RANKS.index(alerts[0].place) if alerts else len(RANKS))


__all__ = ["Board", "TankLine", "line_of"]
