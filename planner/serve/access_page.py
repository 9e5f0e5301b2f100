"""Who may write, and who may subscribe: pairing a device, the list of devices and feeds, and taking either away."""

from __future__ import annotations

import hmac
from datetime import UTC, datetime

from starlette.responses import Response

from planner.serve.asking import Ask
from planner.show.words.words import bare_day

COOKIE_DAYS = 400
"""The longest that browsers keep a cookie (RFC 6265bis, 5.5)."""


def pair(ask: Ask) -> Response:
    """The page that asks for the code. A code in the address stands behind its #, which no browser sends."""
    return ask.show("pair.html", next=_next(ask.query.get("next", "")), wrong="")


def pair_device(ask: Ask) -> Response:
    """A device that knows the code may write from now on."""
    memory, to = ask.site.memory, _next(ask.one("next"))
    if not memory.begin_try():
        return ask.show("pair.html", 429, next=to, wrong="Too many wrong codes. Wait a quarter of an hour, then try again.")
    given = "".join(c for c in ask.one("code") if c.isdigit())
    if not hmac.compare_digest(given, ask.site.code):
        return ask.show("pair.html", 403, next=to, wrong="That is not the code. It stands in the window in which you started the page.")
    memory.end_try()
    answer = ask.go(to)
    answer.set_cookie(ask.site.cookie, memory.pair(ask.one("name") or f"device of {(now := ask.site.hour()).day} {now:%b, %H:%M}"), max_age=COOKIE_DAYS * 86400, httponly=True, samesite="strict", path="/")
    return answer


def _next(to: str) -> str:
    """A page of ours to go to after pairing."""
    return to if to.startswith("/") and not to.startswith(("//", "/\\")) and "\n" not in to else "/"


def devices(ask: Ask) -> Response:
    """Paired devices and feed addresses, each with a button that takes it away."""
    memory, today = ask.site.memory, datetime.fromtimestamp(ask.site.memory.now(), UTC).date()

    def day(at: float) -> str:
        return bare_day(datetime.fromtimestamp(at, UTC).date(), today)

    return ask.show("devices.html", active="more", devices=[(d.id, d.name, day(d.made), day(d.seen), ask.device is not None and d.id == ask.device.id) for d in memory.devices()],
                    feeds=[(f.id, f.name, f.tank, day(f.made)) for f in memory.feeds()])


def forget_device(ask: Ask) -> Response:
    ask.site.memory.forget_device(_number(ask.one("id")))
    return ask.go("/devices")


def forget_feed(ask: Ask) -> Response:
    ask.site.memory.forget_feed(_number(ask.one("id")))
    return ask.go(ask.one("next") if ask.one("next").startswith("/tank/") else "/devices")


def _number(text: str) -> int:
    return int(text) if text.isdigit() and len(text) < 12 else -1


__all__ = ["devices", "forget_device", "forget_feed", "pair", "pair_device"]
