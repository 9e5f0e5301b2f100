"""From a tank and a journal to facts: what is known on one day, and nothing later.

`Facts` is a view: the journal cut at an instant. Replaying a gate is looking at the same journal through earlier
cuts, so nothing is copied and a journal of ten years costs a few bisections.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from itertools import chain
from operator import attrgetter
from zoneinfo import ZoneInfo

from planner.files.tank import Tank
from planner.frozen import dataclass
from planner.science.box import gross_volume_l, inside_volume_l, net_volume_l, sand_mass_kg
from planner.terms.records import Journal, Quantity, Row, Unreadable

GLASS_MM, WATERLINE_CM = 10.0, 3.0
"""Taken where the tank file does not say (common practice, no source)."""

NEAR_DAYS = (4, 40)

Instant = tuple[date, float]
"""A place in the journal: the day as written, and the last moment (POSIX seconds) at which the row can have happened."""


@dataclass(frozen=True, slots=True)
class Facts:
    """What is known at `cut`. `now` is the same moment in POSIX seconds. `floor`: readings and challenges at or before
    this instant no longer count (a gate that lapsed asks for new evidence). `list_proof`: what the wish list wants the
    filter to prove, mg/L as N; None while no list has been judged, and once animals are in. `wished`: the groups of the
    catalogue that the list asks for (and `grazer`, for a snail that eats film), with "" for a name that is not clear; None while no list has been judged. `wished_to_come`: the same of
    what has not come yet. `fish_food_g`: dry food that the fish in the display eat in a day once grown; None where no catalogue was read."""

    tank: Tank
    journal: Journal
    on: date
    zone: tzinfo
    start: date
    cut: Instant
    now: float
    net_volume: Quantity
    floor: float = float("-inf")
    list_proof: float | None = None
    wished: frozenset[str] | None = None
    wished_to_come: frozenset[str] | None = None
    fish_food_g: float | None = None

    @property
    def net_volume_l(self) -> float:
        return self.net_volume.value

    def rows(self, kind: str, what: str = "*") -> Sequence[Row]:
        """Rows of a kind and subject that had happened at the cut, oldest first."""
        found = self.journal.of(kind, what, self.cut[0])
        end = len(found)
        while end and instant_of(found[end - 1]) > self.cut:
            end -= 1
        return found[:end] if end != len(found) else found

    def last(self, kind: str, what: str = "*") -> Row | None:
        found = self.rows(kind, what)
        return found[-1] if found else None

    def unreadable(self, name: str, where: str) -> Iterator[Unreadable]:
        """The journal lines that may hide a reading. Whether later tests speak in their place is `evidence.unread`."""
        return chain.from_iterable(self._damaged(kind, name, where) for kind in ("reading", "dosed", "changed_water"))

    def damaged(self, kind: str, what: str | None, where: str | None) -> Unreadable | None:
        """The first journal line that may have been a row of this kind, subject (None: any) and water (None: any)."""
        return next(self._damaged(kind, what, where), None)

    def _damaged(self, kind: str, what: str | None, where: str | None) -> Iterator[Unreadable]:
        for line in self.journal.unreadable:
            if line.kind in (None, kind) and (what is None or line.what in (None, what)) and (where is None or line.where in (None, where)) and (
                    line.day is None or (line.day, line.moment) <= self.cut):
                yield line


def instant_of(row: Row) -> Instant:
    return (row.day, row.latest)


def view_at(facts: Facts, cut: Instant, now: float | None = None) -> Facts:
    """The same journal, seen at an earlier instant."""
    return replace(facts, cut=cut, now=cut[1] if now is None else now)


def zone_of(tank: Tank) -> tzinfo:
    """The tank's zone; UTC where the tank file names none (the plan says so)."""
    return ZoneInfo(tank.timezone) if tank.timezone else UTC


def end_of_day(day: date, zone: tzinfo) -> float:
    """The midnight that ends `day` in `zone`, POSIX seconds."""
    return datetime.combine(day + timedelta(days=1), time(), zone).timestamp()


def sand_kg(tank: Tank) -> float:
    """Sand as weighed, or from its depth over the base (1.4 kg/L in bulk; common practice)."""
    if tank.sand.mass_kg is not None:
        return tank.sand.mass_kg
    glass = tank.tank
    if tank.sand.depth_cm and glass.length_cm and glass.width_cm:
        return sand_mass_kg(glass.length_cm * glass.width_cm, tank.sand.depth_cm)
    return 0.0


def inside_l(tank: Tank) -> tuple[float, str]:
    """Litres the bare tank holds up to its waterline, and how that was worked out."""
    glass = tank.tank
    if glass.length_cm and glass.width_cm and glass.height_cm:
        return (inside_volume_l(glass.length_cm, glass.width_cm, glass.height_cm, glass.glass_mm or GLASS_MM, glass.waterline_cm if glass.waterline_cm is not None else WATERLINE_CM),
                "inside length x width x water depth")
    return glass.volume_l or 0.0, "volume as given"


def box_cm(tank: Tank) -> tuple[float, float, float, bool]:
    """Length, width and height; where only the volume is known, a usual shape (twice as long as wide and high) and True."""
    glass = tank.tank
    if glass.length_cm and glass.width_cm and glass.height_cm:
        return glass.length_cm, glass.width_cm, glass.height_cm, False
    side = ((glass.volume_l or 1.0) * 1000 / 2) ** (1 / 3)
    return 2 * side, side, side, True


def gross_l(tank: Tank) -> float:
    """Litres by outside measures, the figure on the label."""
    glass = tank.tank
    if glass.length_cm and glass.width_cm and glass.height_cm:
        return gross_volume_l(glass.length_cm, glass.width_cm, glass.height_cm)
    return glass.volume_l or 0.0


def poured_rows(journal: Journal, on: date) -> list[Row]:
    """Litres of salt water poured into the display."""
    return [r for r in journal.of("poured", "*", on) if r.where == "display" and r.low and not r.what.startswith(("fresh", "top", "tap", "leak"))]


def measure_water(tank: Tank, journal: Journal, on: date) -> Quantity:
    """Net litres in the running system. Litres of salt water actually poured into the display override geometry."""
    poured = poured_rows(journal, on)
    if poured:
        total = sum(r.low or 0.0 for r in poured)
        lines = ", ".join(str(r.line) for r in poured)
        return Quantity("net_volume", total, "L", "litres poured in, added up", (("journal line", lines),), "your own count")
    litres, how = inside_l(tank)
    rock, sand, sump = tank.rock.mass_kg or 0.0, sand_kg(tank), tank.tank.sump_l or 0.0
    net = net_volume_l(litres, rock, sand, sump)
    inputs = (("tank to the waterline", f"{litres:.1f} L ({how})"), ("rock", f"{rock:g} kg at 0.5 L/kg"),
              ("sand", f"{sand:.3g} kg at 0.38 L/kg"), ("sump", f"{sump:g} L"))
    return Quantity("net_volume", net, "L", "tank + sump - rock - sand", inputs, "geometry; displacement is common practice")


def gather(tank: Tank, journal: Journal, on: date) -> Facts:
    """Facts at the end of day `on`. Missing `start`: the first journal day, else `on`."""
    zone = zone_of(tank)
    first = journal.rows[0].day if journal.rows else None
    start = tank.start or (first if first is not None and first <= on else on)
    end = end_of_day(on, zone)
    return Facts(tank, journal, on, zone, start, (on, float("inf")), end, measure_water(tank, journal, on))


def animals_in(facts: Facts, where: str) -> dict[str, int]:
    """Animals alive in a water, by name. `moved` rows name the water moved to; the animal leaves the water it was in,
    the quarantine first."""
    rows = [row for kind in ("added", "moved", "lost") for row in facts.rows(kind)]
    here: dict[tuple[str, str], int] = {}
    for row in sorted(rows, key=lambda r: (r.day, r.sort_key)):
        count = max(1, round(row.low)) if row.low is not None else 1
        if row.kind == "lost":
            here[(row.where, row.what)] = max(0, here.get((row.where, row.what), 0) - count)
            continue
        if row.kind == "moved":
            for source in ("quarantine", "display", "curing", "mixing"):
                if source != row.where and here.get((source, row.what), 0) > 0:
                    here[(source, row.what)] = max(0, here[(source, row.what)] - count)
                    break
        here[(row.where, row.what)] = here.get((row.where, row.what), 0) + count
    return {what: n for (water, what), n in sorted(here.items()) if water == where and n > 0}


def last_reading(name: str, facts: Facts, where: str = "display") -> Row | None:
    """The newest row with a value of this reading in one water, however old."""
    return next((r for r in reversed(facts.rows("reading", name)) if r.where == where and r.low is not None), None)


def last_meal(facts: Facts) -> date | None:
    """The day on which the filter of the display last got ammonia or food to rot; what quarantine got is none of it."""
    return max((r.day for kind, what in (("dosed", "ammonia"), ("event", "fed")) for r in facts.rows(kind, what) if r.where == "display"), default=None)


def beside(row: Row, name: str, facts: Facts) -> Row | None:
    """The reading of this name, in the same water, that lies nearest to a row in time: the newer one of two as near."""
    rows = facts.rows("reading", name)

    def apart(other: Row) -> float:
        return max(0.0, other.earliest - row.latest, row.earliest - other.latest)

    def nearest(among: Sequence[Row]) -> Row | None:
        return min((r for r in reversed(among) if r.where == row.where and r.low is not None), key=apart, default=None)

    # Of ten years a few days are looked through. A day as written may lie two days from another that is the same instant.
    for days in NEAR_DAYS:
        begin = bisect_left(rows, row.day - timedelta(days=days), key=attrgetter("day"))
        found = nearest(rows[begin : bisect_right(rows, row.day + timedelta(days=days), key=attrgetter("day"))])
        if found is not None and apart(found) <= (days - 2) * 86400:
            return found
    return nearest(rows)


def first_animal(facts: Facts) -> Row | None:
    """The row that brought the first animal into the display."""
    found = [r for kind in ("added", "moved") for r in facts.rows(kind) if r.where == "display"]
    return min(found, key=instant_of) if found else None


def change_fraction(row: Row, net_volume_l: float) -> float:
    """The share of the water that a `changed_water` row replaced, 0 to 1."""
    if row.low is None:
        return 0.0
    return min(1.0, row.low / 100 if row.unit.strip() == "%" else row.low / net_volume_l)


def reaches(share: float, percent: float) -> bool:
    """Is a share (0 to 1) so many percent or more, to half of one? Litres are written to a tenth, so that an ordered 20 % may stand there as 19.98, and in a
    small tank as 19.8."""
    return share * 100 >= percent - 0.5


def share_changed(row: Row, facts: Facts) -> float:
    """The share of its own water that a change replaced: 20 L are half of a quarantine tank and a tenth of the display. Where that tank
    has no size any change of it counts as a whole one."""
    if row.where != "quarantine" or row.low is None:
        return change_fraction(row, facts.net_volume_l)
    return change_fraction(row, facts.tank.equipment.quarantine_l or min(row.low, facts.net_volume_l) or 1.0)
