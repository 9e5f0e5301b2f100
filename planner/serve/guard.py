"""What stands before every page: who may ask, in whose name, how much and for how long; and the headers that go out.

- A request must name this server by an address that it has. A page of another site that made its own name point here is refused.
- What changes anything is a POST whose origin is this server.
- Bodies are small and come soon.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Iterable
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

MOST_BODY = 64 * 1024
MOST_ADDRESS = 4096
BODY_WITHIN_S = 15.0
SECURE = {
    "content-security-policy": "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self' data:; connect-src 'self'; manifest-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'",
    "x-content-type-options": "nosniff", "x-frame-options": "DENY", "referrer-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin", "cross-origin-opener-policy": "same-origin", "permissions-policy": "camera=(), microphone=(), geolocation=()",
}


class TooLarge(Exception):
    """A body beyond the limit."""


class Guard:
    """`hosts` gives the names and addresses of this server, each with its port, as a browser writes them."""

    def __init__(self, app: ASGIApp, hosts: Callable[[], Iterable[str]], body_within_s: float = BODY_WITHIN_S) -> None:
        self.app, self.hosts, self.body_within_s = app, hosts, body_within_s

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            return
        started = False

        async def headed(message: Message) -> None:
            nonlocal started
            if message["type"] == "http.response.start":
                started = True
                headers = MutableHeaders(scope=message)
                for name, value in SECURE.items():
                    headers[name] = value
                headers.setdefault("cache-control", "no-store")
            await send(message)

        refusal = self.refused(scope)
        if refusal is not None:
            await PlainTextResponse(refusal[1] + "\n", refusal[0])(scope, receive, headed)
            return
        try:
            await self.app(scope, limited(receive, self.body_within_s), headed)
        except TooLarge:
            if not started:
                await PlainTextResponse("That is more than a page takes.\n", 413, {"connection": "close"})(scope, receive, headed)
        except TimeoutError:
            if not started:
                await PlainTextResponse("That took too long to arrive. Send it again.\n", 408, {"connection": "close"})(scope, receive, headed)

    def refused(self, scope: Scope) -> tuple[int, str] | None:
        """The status and the reason for which a request goes no further."""
        headers, hosts = Headers(scope=scope), {host.lower() for host in self.hosts()}
        if len(headers.getlist("host")) != 1 or headers["host"].lower() not in hosts:
            return 421, "This server does not go by that name. Use the address that it printed."
        if len(scope["raw_path"]) + len(scope["query_string"]) > MOST_ADDRESS:
            return 414, "That address is too long."
        if scope["method"] not in ("GET", "HEAD", "POST"):
            return 405, "A page is read or sent to, nothing else."
        if scope["method"] == "POST":
            if not from_here(headers, hosts):
                return 403, "That was sent from another page. Open this one, and send it from here."
            length = headers.get("content-length", "0")
            if not length.isdigit() or int(length) > MOST_BODY:
                return 413, "That is more than a page takes."
        return None


def from_here(headers: Headers, hosts: Iterable[str]) -> bool:
    """Whether the page that sent a form is one of this server. Browsers say where a form comes from; what does not say it is refused."""
    site = headers.get("sec-fetch-site")
    if site is not None and site != "same-origin":
        return False
    origin = headers.get("origin") or headers.get("referer")
    if origin is None:
        return False
    parts = urlsplit(origin)
    return parts.scheme in ("http", "https") and parts.netloc.lower() in hosts and parts.netloc.lower() == headers["host"].lower()


def limited(receive: Receive, within_s: float) -> Receive:
    """`receive` for bodies that are small and come soon."""
    size, whole = 0, False
    until = asyncio.get_running_loop().time() + within_s

    async def one() -> Message:
        nonlocal size, whole
        if whole:
            return await receive()
        async with asyncio.timeout_at(until):
            message = await receive()
        if message["type"] == "http.request":
            size += len(message.get("body", b""))
            whole = not message.get("more_body", False)
            if size > MOST_BODY:
                raise TooLarge
        return message

    return one


__all__ = ["MOST_BODY", "Guard", "from_here"]
