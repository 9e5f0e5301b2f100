"""The tanks below the served folder, each under a short name, and what was last worked out of each.

A name from an address is looked up among what was found here; it never becomes a path. What was read is kept as long as
the files and the day are the same.
"""

from __future__ import annotations

import os
import re
import threading
import unicodedata
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, tzinfo
from hashlib import sha256
from pathlib import Path

from planner.door.folder import Loaded, Rules, TankFolder, read_folder
from planner.files.kept import Kept
from planner.files.tank import Tank
from planner.judge.facts import zone_of
from planner.plan.day_jobs import Day, day_of
from planner.terms.records import Journal, Plan

DEEPEST, MOST_TANKS = 4, 2000
OTHER_PLANS, KEPT_TANKS = 8, 24
"""Plans of other days or shorter journals that are kept beside the plan of a tank, and tanks of which plans are kept."""

Signature = tuple[object, ...]


@dataclass
class Seen:
    """A tank as it was last read: its folder, its plan, and its page. Plans of the same tank on other journals are shared
    with what was read before."""

    slug: str
    folder: Loaded
    signature: Signature
    plans: OrderedDict[tuple[object, ...], Plan]
    lock: threading.RLock
    _plan: Plan | None = None
    _day: Day | None = None

    @property
    def tank(self) -> Tank:
        return self.folder.tank

    @property
    def kept(self) -> Kept | None:
        return self.folder.kept

    def make(self, journal: Journal, on: date) -> Plan:
        """The plan of this tank with another journal or on another day."""
        key = (self.signature[0], on, journal.rows, journal.unreadable)
        with self.lock:
            if key not in self.plans:
                self.plans[key] = self.folder.plan_of(journal, on)
                while len(self.plans) > OTHER_PLANS:
                    self.plans.popitem(last=False)
            self.plans.move_to_end(key)
            return self.plans[key]

    @property
    def plan(self) -> Plan:
        with self.lock:  # no cached property: its lock is shared by all tanks, and would be taken in the other order
            if self._plan is None:
                self._plan = self.make(self.folder.journal, self.folder.on)
            return self._plan

    @property
    def day(self) -> Day:
        with self.lock:
            if self._day is None:
                self._day = day_of(self.tank, self.folder.journal, self.folder.rules, self.plan, self.make)
            return self._day


@dataclass
class Place:
    """One tank folder, and what was last made of it."""

    slug: str
    path: Path
    lock: threading.RLock = field(default_factory=threading.RLock)
    seen: Seen | None = None
    plans: OrderedDict[tuple[object, ...], Plan] = field(default_factory=OrderedDict)
    zone: tzinfo | None = None


class Tanks:
    """What is served. `on`: a pretended day, else each tank has its own."""

    def __init__(self, root: Path, rules: Rules, now: Callable[[], datetime], on: date | None = None, kept: Kept | None = None) -> None:
        self.root, self.rules, self.now, self.on, self.kept = root, rules, now, on, kept
        self.single = (root / "tank.yaml").is_file()
        self._places: dict[str, Place] = {}
        self._lately: OrderedDict[str, Place] = OrderedDict()
        self._lock = threading.Lock()
        self.find()

    def find(self) -> tuple[Place, ...]:
        """The tank folders as they are now, in order of their paths; links are not followed."""
        paths = [self.root] if self.single else _folders(self.root)
        with self._lock:
            known = {place.path: place for place in self._places.values()}
            taken: set[str] = set()
            places = []
            for path in paths:
                place = known.get(path)
                if place is None or place.slug in taken:
                    place = Place(_slug(path, self.root, taken | {p.slug for p in known.values()}), path)
                taken.add(place.slug)
                places.append(place)
            self._places = {place.slug: place for place in places}
            return tuple(places)

    def place(self, slug: str) -> Place | None:
        """The tank of this name; looked for again where it is not known, since a folder may be new."""
        if slug not in self._places:
            self.find()
        return self._places.get(slug)

    def look(self, place: Place) -> Seen | TankFolder:
        """A tank as it stands now; its folder with the problems where nothing can be planned from it."""
        with place.lock:
            now = self.now()
            signature = signature_of(place.path)
            if place.seen is not None and place.seen.signature == signature and place.seen.folder.on == self._day(place.seen.folder, now):
                return place.seen
            read = read_folder(place.path, self.on, self.rules, now, self.kept)
            if not isinstance(read, Loaded):
                place.seen = None
                return read
            place.zone = zone_of(read.tank)
            place.seen = Seen(place.slug, read, signature, place.plans, place.lock)
        self._forget_others(place)
        return place.seen

    def glance(self, place: Place) -> Seen | TankFolder:
        """The same, without keeping it: who looks at hundreds of tanks needs none of them twice."""
        with place.lock:
            now, signature = self.now(), signature_of(place.path)
            if place.seen is not None and place.seen.signature == signature and place.seen.folder.on == self._day(place.seen.folder, now):
                return place.seen
            read = read_folder(place.path, self.on, self.rules, now, self.kept)
            place.zone = zone_of(read.tank) if read.tank is not None else UTC
            return Seen(place.slug, read, signature, OrderedDict(), place.lock) if isinstance(read, Loaded) else read

    def _forget_others(self, place: Place) -> None:
        """Plans take room: those of tanks that nobody looked at lately go."""
        with self._lock:
            self._lately.pop(place.slug, None)
            self._lately[place.slug] = place
            gone = [self._lately.popitem(last=False)[1]] if len(self._lately) > KEPT_TANKS else []
        for old in gone:
            with old.lock:
                old.seen = None
                old.plans.clear()

    def day_of(self, place: Place) -> date | None:
        """The day that it is in the zone in which a tank was last read; None where it never was."""
        return self.now().astimezone(place.zone).date() if place.zone is not None else None

    def _day(self, folder: Loaded, now: datetime) -> date:
        return self.on or now.astimezone(zone_of(folder.tank)).date()


def signature_of(path: Path) -> Signature:
    """What tells one state of a tank's files from another."""
    return tuple(_stat(path / name) for name in ("tank.yaml", "journal.csv"))


def _stat(path: Path) -> tuple[int, int, int] | None:
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_mtime_ns, found.st_size, found.st_ino


def _folders(root: Path) -> list[Path]:
    found = []
    for name, inner, files in os.walk(root):
        here = Path(name)
        inner[:] = sorted(d for d in inner if not d.startswith(".")) if len(here.relative_to(root).parts) < DEEPEST else []
        if "tank.yaml" in files:
            found.append(here)
        if len(found) >= MOST_TANKS:
            break
    return sorted(found)


def _slug(path: Path, root: Path, taken: set[str]) -> str:
    """A short name for an address: letters, digits and hyphens; a mark of its path where another folder has it already."""
    words = path.name if path == root else path.relative_to(root).as_posix()
    plain = unicodedata.normalize("NFKD", words).encode("ascii", "ignore").decode().lower()
    slug = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:40] or "tank"
    return slug if slug not in taken else f"{slug}-{sha256(os.fsencode(str(path))).hexdigest()[:8]}"


__all__ = ["Place", "Seen", "Signature", "Tanks", "signature_of"]
