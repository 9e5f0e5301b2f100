"""What the page remembers beside the journals: paired devices, feed addresses, entries that were sent, ticks in the shop, what was printed.

Nothing of a tank's life stands here: with this file gone every device is paired again and every feed subscribed to anew,
and no plan changes. It lies in the user's own folder, readable by nobody else, never among the tanks.
"""

from __future__ import annotations

import hashlib
import os
import secrets
import sqlite3
import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

TABLES = """
create table if not exists device (id integer primary key, digest text unique not null, name text not null, made real not null, seen real not null);
create table if not exists wrong (at real not null);
create table if not exists feed (id integer primary key, token text unique not null, tank text not null, name text not null, made real not null);
create table if not exists fetched (token text not null, kind text not null, etag text not null, modified integer not null, primary key (token, kind));
create table if not exists shown (tank text not null, kind text not null, content text not null, stamp integer not null, primary key (tank, kind));
create table if not exists sent (key text primary key, tank text not null, tag text not null, device integer not null, at real not null);
create table if not exists basket (tank text not null, item text not null, primary key (tank, item));
create table if not exists printed (tank text primary key, mark text not null, at real not null);
create table if not exists edition (tank text primary key, facts text not null);
"""
KEEP_SENT_S = 60 * 86400
"""So long a key is remembered under which an entry was sent: a phone may lie in a drawer for weeks."""
WRONG_MOST, WRONG_WITHIN_S = 10, 900
"""So many wrong pairing codes within so many seconds, from all devices together, and nothing is paired for a while."""


@dataclass(frozen=True, slots=True)
class Device:
    """A paired device. `made` and `seen` are POSIX seconds."""

    id: int
    name: str
    made: float
    seen: float


@dataclass(frozen=True, slots=True)
class Sent:
    """An entry that a device sent under a key. Its rows in the journal carry the tag, if they were written."""

    key: str
    tank: str
    tag: str
    at: float


@dataclass(frozen=True, slots=True)
class FeedAddress:
    """The secret part of a calendar's address, and the tank (its place below the served folder) that it is for."""

    id: int
    token: str
    tank: str
    name: str
    made: float


class Memory:
    """One file of memory; any thread and several processes may use it. `now` gives POSIX seconds."""

    def __init__(self, path: Path | None, now: Callable[[], float]) -> None:
        """`path` None: nothing outlasts this process. Raises OSError where no file can be made."""
        self.now, self._lock = now, threading.Lock()
        if path is not None:
            path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
            os.close(os.open(path, os.O_CREAT | os.O_RDWR, 0o600))
        self._base = sqlite3.connect(path or ":memory:", check_same_thread=False, isolation_level=None, timeout=10)
        self._base.executescript(TABLES)

    def close(self) -> None:
        self._base.close()

    def _run(self, sql: str, *values: Any) -> list[Any]:
        with self._lock:
            return self._base.execute(sql, values).fetchall()

    # --- devices

    def pair(self, name: str) -> str:
        """A new device; the secret that it keeps as its cookie. Only a digest of it is remembered."""
        secret = secrets.token_urlsafe(32)
        self._run("insert into device (digest, name, made, seen) values (?, ?, ?, ?)", digest_of(secret), name[:60], self.now(), self.now())
        return secret

    def device(self, secret: str) -> Device | None:
        """The device that keeps this secret."""
        rows = self._run("select id, name, made, seen from device where digest = ?", digest_of(secret)) if secret else []
        if not rows:
            return None
        found = Device(*rows[0])
        if self.now() - found.seen > 3600:
            self._run("update device set seen = ? where id = ?", self.now(), found.id)
        return found

    def devices(self) -> tuple[Device, ...]:
        return tuple(Device(*row) for row in self._run("select id, name, made, seen from device order by id"))

    def forget_device(self, id: int) -> bool:
        return bool(self._run("delete from device where id = ? returning id", id))

    def begin_try(self) -> bool:
        """Count a try of the pairing code before it is looked at, so that tries at the same moment are no way round; whether it may be
        looked at. `end_try` takes it back where the code was right."""
        now = self.now()
        with self._lock:
            self._base.execute("delete from wrong where at < ? or at > ?", (now - WRONG_WITHIN_S, now + WRONG_WITHIN_S))  # a clock set back locks nobody out
            self._base.execute("insert into wrong values (?)", (now,))
            allowed = int(self._base.execute("select count(*) from wrong").fetchone()[0]) <= WRONG_MOST
        if not allowed:
            self.end_try()
        return allowed

    def end_try(self) -> None:
        self._run("delete from wrong where rowid = (select max(rowid) from wrong)")

    # --- entries that were sent

    def remember(self, key: str, tank: str, tag: str, device: int) -> Sent:
        """Remember an entry before it is written; the first one under this key if there was one."""
        self._run("delete from sent where at < ?", self.now() - KEEP_SENT_S)
        self._run("insert or ignore into sent values (?, ?, ?, ?, ?)", key, tank, tag, device, self.now())
        found = self.sent(key)
        assert found is not None
        return found

    def sent(self, key: str) -> Sent | None:
        rows = self._run("select key, tank, tag, at from sent where key = ?", key)
        return Sent(*rows[0]) if rows else None

    def lately(self, tank: str, within_s: float, device: int | None = None) -> tuple[Sent, ...]:
        """What was sent to a tank in the last seconds, by one device or by all, newest first."""
        return tuple(Sent(*row) for row in self._run("select key, tank, tag, at from sent where tank = ?1 and at >= ?2 and (?3 is null or device = ?3) order by at desc, rowid desc", tank, self.now() - within_s, device))

    # --- feeds

    def new_feed(self, tank: str, name: str) -> FeedAddress:
        token = secrets.token_urlsafe(24)
        self._run("insert into feed (token, tank, name, made) values (?, ?, ?, ?)", token, tank, name[:60], self.now())
        found = self.feed(token)
        assert found is not None
        return found

    def feed(self, token: str) -> FeedAddress | None:
        rows = self._run("select id, token, tank, name, made from feed where token = ?", token)
        return FeedAddress(*rows[0]) if rows else None

    def feeds(self, tank: str | None = None) -> tuple[FeedAddress, ...]:
        return tuple(FeedAddress(*row) for row in self._run("select id, token, tank, name, made from feed where ?1 is null or tank = ?1 order by id", tank))

    def forget_feed(self, id: int) -> bool:
        self._run("delete from fetched where token in (select token from feed where id = ?)", id)
        return bool(self._run("delete from feed where id = ? returning id", id))

    def modified(self, token: str, kind: str, etag: str, stamp_s: int) -> int:
        """When these bytes of a feed came up, POSIX seconds: never before what was said of earlier bytes. `stamp_s`: the time that the bytes give themselves."""
        rows = self._run("select etag, modified from fetched where token = ? and kind = ?", token, kind)
        if rows and rows[0][0] == etag:
            return int(rows[0][1])
        at = min(int(self.now()), stamp_s) if not rows else max(int(rows[0][1]) + 1, int(self.now()))
        self._run("insert or replace into fetched values (?, ?, ?, ?)", token, kind, etag, at)
        return at

    def appeared(self, tank: str, kind: str, content: str, stamp_s: int) -> int:
        """When this content first stood in a feed, POSIX seconds: a minute past any content before it at least, since a number of a
        calendar counts minutes. `stamp_s`: what the files say of it."""
        with self._lock:
            self._base.execute("begin immediate")
            row = self._base.execute("select content, stamp from shown where tank = ? and kind = ?", (tank, kind)).fetchone()
            at = stamp_s if row is None else int(row[1]) if row[0] == content else max(stamp_s, int(row[1]) + 60)
            self._base.execute("insert or replace into shown values (?, ?, ?, ?)", (tank, kind, content, at))
            self._base.execute("commit")
        return at

    # --- the shop and the printer

    def basket(self, tank: str) -> frozenset[str]:
        return frozenset(row[0] for row in self._run("select item from basket where tank = ?", tank))

    def put_in_basket(self, tank: str, items: Sequence[str]) -> None:
        """What lies in the basket now, in place of what lay there."""
        with self._lock:
            self._base.execute("begin immediate")
            self._base.execute("delete from basket where tank = ?", (tank,))
            self._base.executemany("insert or ignore into basket values (?, ?)", [(tank, item) for item in items])
            self._base.execute("commit")

    def note_printed(self, tank: str, mark: str, facts: str) -> None:
        """`facts` tells this edition from the next, as data of the paper's own."""
        self._run("insert or replace into printed values (?, ?, ?)", tank, mark, self.now())
        self._run("insert or replace into edition values (?, ?)", tank, facts)

    def last_edition(self, tank: str) -> str | None:
        rows = self._run("select facts from edition where tank = ?", tank)
        return str(rows[0][0]) if rows else None

    def printed(self, tank: str) -> tuple[str, float] | None:
        """From what the paper of a tank was last made, and when."""
        rows = self._run("select mark, at from printed where tank = ?", tank)
        return (rows[0][0], rows[0][1]) if rows else None

    # --- a tank that is taken back

    def forget_tank(self, tank: str) -> None:
        """Nothing of one tank is remembered: the next of its name begins anew."""
        self._run("delete from fetched where token in (select token from feed where tank = ?)", tank)
        for table in ("feed", "shown", "sent", "basket", "printed", "edition"):
            self._run(f"delete from {table} where tank = ?", tank)


def digest_of(secret: str) -> str:
    return hashlib.sha256(secret.encode("utf-8", "replace")).hexdigest()


__all__ = ["Device", "FeedAddress", "Memory", "Sent", "digest_of"]
