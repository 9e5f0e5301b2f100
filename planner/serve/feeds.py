"""The calendar of a tank at an address to subscribe to: who knows the address reads it, and nothing else.

A program that asks again is told that nothing changed as long as the bytes are the same. What was made once is kept for the
state of the files and the day, so that hundreds of phones cost little.
"""

from __future__ import annotations

import asyncio
import zlib
from collections import OrderedDict
from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from email.utils import format_datetime, parsedate_to_datetime
from functools import partial
from hashlib import sha256
from typing import cast

import segno
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response

from planner.serve.asking import Ask, Site
from planner.serve.memory import FeedAddress
from planner.serve.tanks import Place, Seen, Signature, signature_of
from planner.show.calendar.feeds import FEEDS, MEDIA_TYPE, Which, feed

KEPT_FEEDS = 2400
AT_ONCE = 2
"""So many feeds are made at one time; whoever reads a page meanwhile does not wait for hundreds of phones."""
KEEP = "private, no-cache"


@dataclass(frozen=True, slots=True)
class Made:
    """A feed as it was made: from which files, for which day, packed, its mark, and the time that it gives itself."""

    signature: Signature
    on: date
    packed: bytes
    etag: str
    stamp: int


class Feeds:
    """The feeds of a site. `answer` serves one request."""

    def __init__(self, site: Site) -> None:
        self.site = site
        self.made: OrderedDict[tuple[str, Which], Made] = OrderedDict()
        self._turns: asyncio.Semaphore | None = None

    def endpoint(self) -> Callable[[Request], Awaitable[Response]]:
        async def answer(request: Request) -> Response:
            which = request.path_params["which"].removesuffix(".ics")
            address = self.site.memory.feed(request.path_params["token"])
            place = self.site.tanks.place(address.tank) if address is not None else None
            if address is None or place is None or which not in FEEDS or not request.path_params["which"].endswith(".ics"):
                return PlainTextResponse("There is no such calendar here.\n", 404)
            made = self.known(place, cast(Which, which))
            if made is None:
                if self._turns is None:
                    self._turns = asyncio.Semaphore(AT_ONCE)
                async with self._turns:
                    made = self.known(place, cast(Which, which)) or await run_in_threadpool(self.make, place, cast(Which, which))
            if made is None:
                return PlainTextResponse("This tank has no calendar: its description cannot be read, or has no id.\n", 503, {"retry-after": "900"})
            return self.served(request, address, which, made)

        return answer

    def known(self, place: Place, which: Which) -> Made | None:
        """What was made of these files on this day."""
        found = self.made.get((place.slug, which))
        today = self.site.tanks.on or self.site.tanks.day_of(place)
        return found if found is not None and found.signature == signature_of(place.path) and found.on == today else None

    def make(self, place: Place, which: Which) -> Made | None:
        """Both feeds of a tank, from one plan; the one that is asked for. None for a tank that has none."""
        signature, seen = signature_of(place.path), self.site.tanks.glance(place)
        if not isinstance(seen, Seen) or seen.tank.id is None:
            return None
        with seen.lock:
            plan, read = seen.plan, seen.folder
            for name in FEEDS:
                found = feed(read, name, read.on, plan=plan, kept=seen.kept, stamps=partial(self._stamp, seen, name))
                etag = f'"{sha256(found.data).hexdigest()[:32]}"'
                self.made[place.slug, name] = Made(signature, read.on, zlib.compress(found.data, 1), etag, int(found.last_modified.timestamp()))
                self.made.move_to_end((place.slug, name))
        while len(self.made) > KEPT_FEEDS:
            self.made.popitem(last=False)
        return self.made[place.slug, which]

    def _stamp(self, seen: Seen, which: Which, content: str, said: datetime) -> datetime:
        """When a content first stood here. What moves an entry need be no row of this moment: a description that changed, a row of an
        earlier day, other rules. So the files count with the times at which they were written."""
        now = int(self.site.memory.now())
        files = [min(found[0] // 10**9, now) for found in seen.signature if isinstance(found, tuple)] if not seen.folder.pretended else []
        at = max([int(said.timestamp()), *files])
        return datetime.fromtimestamp(self.site.memory.appeared(seen.slug, f"{which} of a pretended day" if seen.folder.pretended else which, content, at), UTC)

    def served(self, request: Request, address: FeedAddress, which: str, made: Made) -> Response:
        """The bytes, or that they are the same as the asker has (RFC 9110, 13.2.2: the mark before the time)."""
        modified = self.site.memory.modified(address.token, which, made.etag, made.stamp)
        headers = {"etag": made.etag, "last-modified": format_datetime(datetime.fromtimestamp(modified, UTC), usegmt=True), "cache-control": KEEP}
        asked = request.headers.get("if-none-match")
        if asked is not None:
            same = asked.strip() == "*" or made.etag in [mark.strip().removeprefix("W/") for mark in asked.split(",")]
        else:
            since = _time(request.headers.get("if-modified-since", ""))
            same = since is not None and modified <= since
        if same:
            return Response(status_code=304, headers=headers)
        return Response(zlib.decompress(made.packed), headers=headers | {"content-type": MEDIA_TYPE, "content-disposition": f'inline; filename="{which}.ics"'})


def _time(text: str) -> float | None:
    """An HTTP date; None for what is none, which counts as not asked (RFC 9110, 13.1.3)."""
    try:
        return parsedate_to_datetime(text).timestamp()
    except (ValueError, TypeError, OverflowError):
        return None


# --- the page that gives the addresses


def calendar(ask: Ask) -> Response:
    """The addresses of this tank, each with its code to be photographed."""
    seen = ask.look()
    assert ask.place is not None
    addresses = []
    for one in ask.site.memory.feeds(ask.place.slug):
        links = [(which, f"http://{ask.host}/feed/{one.token}/{which}.ics") for which in FEEDS]
        addresses.append((one.id, one.name, [(which, to, "webcal" + to.removeprefix("http"), segno.make(to, error="m").svg_data_uri(scale=4, border=2)) for which, to in links]))
    away = ask.host.partition(":")[0] not in ("localhost", "127.0.0.1") and not ask.host.startswith("[::1]")
    return ask.show("calendar.html", active="more", tank_name=seen.plan.name, addresses=addresses, has_id=seen.tank.id is not None, away=away)


def new_address(ask: Ask) -> Response:
    assert ask.place is not None
    if len(ask.site.memory.feeds(ask.place.slug)) >= 20:
        return ask.say("Enough addresses", "This tank has twenty addresses. Remove one first.", 409, f"{ask.base}/calendar")
    ask.site.memory.new_feed(ask.place.slug, ask.one("name") or f"phone {len(ask.site.memory.feeds(ask.place.slug)) + 1}")
    return ask.go(f"{ask.base}/calendar")


__all__ = ["Feeds", "calendar", "new_address"]
