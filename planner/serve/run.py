"""The server itself: on which addresses it listens, and how long it waits for whoever connects."""

from __future__ import annotations

import asyncio
import contextlib
import ipaddress
import socket
from collections.abc import Sequence

import uvicorn
from uvicorn.protocols.http.h11_impl import H11Protocol

from planner.serve.app import make_app
from planner.serve.asking import Site

REQUEST_WITHIN_S = 20.0
MOST_CONNECTIONS, MOST_HEAD_BYTES = 200, 16 * 1024
LOOPBACK = "127.0.0.1"


class Patient(H11Protocol):
    """Waits so long for the head of a request, and no longer: a connection that says nothing takes the place of one that does."""

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        super().connection_made(transport)
        self._waiting = self.loop.call_later(REQUEST_WITHIN_S, self._too_slow)

    def data_received(self, data: bytes) -> None:
        super().data_received(data)
        if self.cycle is not None:
            self._waiting.cancel()

    def connection_lost(self, exc: Exception | None) -> None:
        self._waiting.cancel()
        super().connection_lost(exc)

    def _too_slow(self) -> None:
        if self.cycle is None:
            self.transport.abort()


def home_addresses() -> list[str]:
    """The private addresses of this machine in its network (RFC 1918, 4193), the one that leads out first. Nothing is sent to find them."""
    found: list[str] = []
    with contextlib.suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asked:
        asked.connect(("192.0.2.1", 9))  # of a network that is only for documents (RFC 5737); a datagram socket sends nothing by this
        found.append(asked.getsockname()[0])
    with contextlib.suppress(OSError):
        found += [str(info[4][0]) for info in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)]
    return [one for one in dict.fromkeys(found) if _at_home(one)]


def _at_home(text: str) -> bool:
    address = ipaddress.ip_address(text)
    return address.is_private and not address.is_loopback and not address.is_unspecified


def host_names(addresses: Sequence[str], port: int, more: Sequence[str] = ()) -> tuple[str, ...]:
    """How browsers name this server: each address and name with the port, which they leave out where it is the usual one."""
    own = socket.gethostname().partition(".")[0].lower()
    names = [*addresses, *([own, f"{own}.local"] if own and own != "localhost" and len(addresses) > 1 else []), *more, "localhost"]
    return tuple(dict.fromkeys(written for name in names for written in ([f"{name}:{port}", name] if port == 80 else [f"{name}:{port}"])))


def listen(addresses: Sequence[str], port: int) -> list[socket.socket]:
    """A listening socket for each address. Raises OSError where the port is taken."""
    found: list[socket.socket] = []
    try:
        for address in addresses:
            one = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
            found.append(one)
            one.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            one.bind((address, port))
            one.listen(128)
    except OSError:
        for one in found:
            one.close()
        raise
    return found


def server_for(site: Site) -> uvicorn.Server:
    return uvicorn.Server(uvicorn.Config(
        make_app(site), http=Patient, ws="none", lifespan="off", log_level="warning", access_log=False, server_header=False, proxy_headers=False, limit_concurrency=MOST_CONNECTIONS,
        timeout_keep_alive=5, timeout_graceful_shutdown=3, h11_max_incomplete_event_size=MOST_HEAD_BYTES))


__all__ = ["LOOPBACK", "REQUEST_WITHIN_S", "home_addresses", "host_names", "listen", "server_for"]
