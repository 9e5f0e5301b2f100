"""Writing into a journal from a page: the acts of the commands, each sent under a key, so that what arrives twice is written once.

Before anything is written the key is remembered with the tag that the rows will carry. Whatever is cut off afterwards, and
whoever sends again, finds by that tag in the journal whether the rows are there.
"""

from __future__ import annotations

import secrets
from collections import OrderedDict
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta

from planner.door.acts import Act, Desk
from planner.door.folder import TankFolder, journal_bytes
from planner.door.write import desk_of, take_back, write_entries
from planner.files.journal_write import make_tag, tag_of
from planner.judge.facts import zone_of
from planner.serve.asking import Ask
from planner.serve.memory import digest_of
from planner.serve.tanks import Seen
from planner.terms.causes import Cause
from planner.terms.problems import Problem
from planner.terms.records import Plan, Row
from planner.terms.units import Refusal

TURNS = 4
"""How often an entry is made anew because somebody else wrote into the journal meanwhile."""
TOLD_MOST = 200
WORTH_TELLING_S, OLDEST_S = 120, 14 * 86400
"""An entry that was under way for longer than the first has the time at which it was made; one older than the second has that of its arrival."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of an entry: written now or before; refused; or asked about, because it is more often a slip than a deed."""

    written: bool = False
    questions: tuple[str, ...] = ()
    warnings: tuple[str | Cause, ...] = ()
    refusal: Refusal | None = None
    problems: tuple[Problem, ...] = ()


TOLD: OrderedDict[str, tuple[Plan, tuple[Row, ...], tuple[str | Cause, ...]]] = OrderedDict()
"""By its key what stood before a late entry, so that the next page can tell what it did. Losing it loses a sentence."""


def key_of(ask: Ask) -> str:
    """What tells an entry from every other: the key of its form and what was filled in. Whoever goes back and fills in something else
    writes another entry; how sure he was, where he goes then and how long it was under way make none."""
    said = sorted((name, values) for name, values in ask.form.items() if name not in ("key", "sure", "next", "age"))
    return digest_of(repr((ask.one("key"), ask.path, said)))


def write(ask: Ask, act: Callable[[Desk], Act | Refusal], sure: bool = False) -> Outcome:
    """Do an act at the desk of this tank and write it, once for each key."""
    assert ask.place is not None and ask.device is not None
    memory, place, key = ask.site.memory, ask.place, key_of(ask)
    if not 8 <= len(ask.one("key")) <= 64:
        return Outcome(refusal=Refusal("no-key", "This page is out of date", "open it again"))
    with place.lock:
        for _ in range(TURNS):
            seen = ask.look()
            sent = memory.sent(key)
            if sent is not None and (sent.tank != place.slug or f"[{sent.tag}]".encode() in journal_bytes(place.path / "journal.csv")):
                return Outcome(written=True)
            desk = desk_of(seen.folder, seen.tank, ask.said_at or _pretended(seen) or _kept_since(ask, seen), seen.plan)
            found = desk if isinstance(desk, Refusal) else act(desk)
            if isinstance(found, Refusal):
                return Outcome(refusal=found)
            if found.questions and not sure:
                return Outcome(questions=found.questions, warnings=found.warnings)
            text = journal_bytes(place.path / "journal.csv").decode("utf-8", "replace")
            sent = memory.remember(key, place.slug, make_tag(secrets.token_hex(16), _Tags(text)), ask.device.id)
            rows, problems = write_entries(seen.folder, found.entries, sent.tag, if_unchanged=True)
            if rows:
                _tell(key, seen.plan, rows, found.warnings)
                return Outcome(written=True, warnings=found.warnings)
            if not any(p.code == "journal-changed" for p in problems):
                return Outcome(problems=problems)
    return Outcome(problems=problems)


def undo(ask: Ask, tag: str) -> Outcome:
    """Take back what was written under a tag; nothing where it is taken back already."""
    assert ask.place is not None
    with ask.place.lock:
        for _ in range(TURNS):
            seen = ask.look()
            gone = [r for r in seen.folder.journal.rows if tag_of(r.note) == tag]
            rows, problems = take_back(seen.folder, tag)
            if rows and gone:
                _tell(tag, seen.plan, gone, ())
            if rows or not problems:
                return Outcome(written=bool(rows))
            if not any(p.code == "journal-changed" for p in problems):
                return Outcome(problems=problems)
    return Outcome(problems=problems)


def _kept_since(ask: Ask, seen: Seen) -> datetime | None:
    """When an entry was made that waited on the phone for a network: by its age, since the phone's own clock may be wrong."""
    age = ask.one("age")
    if not age.isdigit() or len(age) > 8 or not WORTH_TELLING_S < int(age) <= OLDEST_S:
        return None
    return (ask.site.tanks.now() - timedelta(seconds=int(age))).astimezone(zone_of(seen.tank)).replace(microsecond=0)


class _Tags:
    """The tags of a journal, also of rows that were taken back or cannot be read."""

    def __init__(self, text: str) -> None:
        self.text = text

    def __contains__(self, tag: object) -> bool:
        return f"[{tag}]" in self.text


def _pretended(seen: Seen) -> datetime | None:
    """On a pretended day all entries would have one time: a minute each keeps their order."""
    folder: TankFolder = seen.folder
    if not folder.pretended:
        return None
    hour, minute = map(int, str(seen.tank.keeper.reminder_time)[:5].split(":"))
    begun = len({tag_of(r.note) or r.line for r in folder.journal.rows if r.day == folder.on})
    zone = zone_of(seen.tank)
    at = min(datetime.combine(folder.on, time(hour, minute)) + timedelta(minutes=begun), datetime.combine(folder.on, time(23, 59)))
    return datetime.fromtimestamp(at.replace(tzinfo=zone).timestamp(), zone)  # an hour that the clocks leave out moves forward


def _tell(key: str, before: Plan, rows: Sequence[Row], warnings: tuple[str | Cause, ...]) -> None:
    TOLD[key] = (before, tuple(rows), warnings)
    while len(TOLD) > TOLD_MOST:
        TOLD.popitem(last=False)


__all__ = ["TOLD", "Outcome", "key_of", "undo", "write"]
