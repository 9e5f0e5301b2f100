"""The two feeds that a phone subscribes to: `jobs` is what is to be done, `outlook` is what waits for a gate.

A feed keeps no log and writes nothing. Its numbers come from the rows of the journal and the day alone, so that every
copy of a folder serves the same bytes; who remembers what was served before numbers anew whatever else moved an entry.
It holds no cancelled entries: what is no longer there has gone from the phone.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from hashlib import sha256
from pathlib import Path
from typing import Literal, Protocol

from planner.files.calendar_log import Exported
from planner.files.kept import Kept
from planner.files.tank import Tank
from planner.judge.facts import zone_of
from planner.plan.make import make_plan
from planner.rulebook.shapes import Rulebook
from planner.show.calendar.days import FEED_ENDS
from planner.show.calendar.entries import Entry
from planner.show.calendar.revisions import RevisedEntry, digest_of_entry, planned_entries, sequence_at
from planner.stock.catalogue import Catalogue
from planner.terms.problems import Problem
from planner.terms.records import Journal, Plan

Which = Literal["jobs", "outlook"]
FEEDS: tuple[Which, ...] = ("jobs", "outlook")
Stamps = Callable[[str, datetime], datetime]
"""When a content first stood in a feed, from its mark and from what the journal says."""
MEDIA_TYPE = "text/calendar; charset=utf-8"


class Read(Protocol):
    """A tank folder that was read: what `read_folder` gives."""

    @property
    def path(self) -> Path: ...
    @property
    def tank(self) -> Tank | None: ...
    @property
    def journal(self) -> Journal: ...
    @property
    def rules(self) -> Rulebook: ...
    @property
    def problems(self) -> tuple[Problem, ...]: ...
    @property
    def catalogue(self) -> Catalogue | None: ...


@dataclass(frozen=True, slots=True)
class Feed:
    """The bytes of a feed, and when it last changed (UTC, whole seconds)."""

    data: bytes
    last_modified: datetime


def feed(read: Read, which: Which, on: date, *, plan: Plan | None = None, kept: Kept | None = None, stamps: Stamps | None = None) -> Feed:
    """One feed of a folder on a day. The same folder and day give the same bytes. `plan`: this folder's plan on that day, where
    it is at hand; `stamps`: what was served before, where somebody remembers it. Raises ValueError for a folder from which nothing can be planned, and for a tank without an id."""
    if read.tank is None:
        raise ValueError(f"nothing can be planned from {read.path}: see its problems")
    made = plan or make_plan(read.tank, read.journal, read.rules, on, None, read.problems, read.catalogue, kept)
    return feed_of_plan(made, read.tank, read.journal, read.rules, which, stamps=stamps)


def feed_of_plan(plan: Plan, tank: Tank, journal: Journal, rules: Rulebook, which: Which, pretended: bool = False, stamps: Stamps | None = None, tells_rows: bool = False) -> Feed:
    """One feed of a plan, and of the tank, journal and rules that it was made from. `pretended`: for a day that somebody named, and it
    says so. `tells_rows`: it says how far its rows go, where its numbers ran ahead of them."""
    if plan.tank_id is None:
        raise ValueError("a calendar needs the tank's id")
    stamp = by_rows = last_modified(tank, journal, plan.on)
    entries = [e for e in planned_entries(plan, rules, {}, ending=FEED_ENDS) if (e.state == "provisional") == (which == "outlook")]
    name = f"{plan.name}: {which}"
    if stamps is not None:
        stamp = stamps(sha256("\n".join([name, *sorted(f"{e.uid} {e.zone} {digest_of_entry(e)}" for e in entries)]).encode()).hexdigest(), stamp)
    # Imported here because it loads icalendar (50 ms).
    from planner.show.calendar.write_ics import file_from_entries

    return Feed(file_from_entries(_numbered(entries, stamp), stamp, plan.tank_id, name, feed=which, pretended=pretended, rows_until=by_rows if tells_rows and stamp != by_rows else None), stamp)


def last_modified(tank: Tank, journal: Journal, on: date) -> datetime:
    """The later of the newest row up to the end of `on` and midnight of `on` in the tank's zone. Rows count when they were
    written even if another row took them back, so that with more rows and later days it never goes back. A row without a
    time counts from the begin of its day."""
    moments = [row.earliest for row in journal.rows if row.day <= on]
    moments += [moment for day, moment in journal.taken_back if day <= on]
    midnight = datetime.combine(on, time(), zone_of(tank)).timestamp()
    return datetime.fromtimestamp(int(max([midnight, *moments])), UTC)


def _numbered(entries: Iterable[Entry], stamp: datetime) -> tuple[RevisedEntry, ...]:
    """Every entry under the number of this moment."""
    number = sequence_at(stamp)
    return tuple(
        RevisedEntry(e, Exported(e.uid, number, stamp, stamp, e.key, e.state, e.start, e.minutes, e.earliest, e.latest, "", e.title, ""))
        for e in sorted(entries, key=lambda e: (e.start, e.uid))
    )


__all__ = ["FEEDS", "MEDIA_TYPE", "Feed", "Which", "feed", "feed_of_plan", "last_modified"]
