"""One request as a page sees it, and the ways to answer it."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import cache
from pathlib import Path
from typing import Any
from urllib.parse import parse_qsl, urlencode
from zoneinfo import ZoneInfo

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from starlette.responses import HTMLResponse, RedirectResponse, Response

from planner.door.folder import Rules, TankFolder
from planner.files.kept import Kept
from planner.serve.board import Board
from planner.serve.memory import Device, Memory
from planner.serve.tanks import Place, Seen, Tanks

HERE = Path(__file__).parent
MOST_FIELDS = 200


@cache
def pages() -> Environment:
    """The templates, compiled once for each process. Everything that is put into one is escaped unless it was made as markup."""
    return Environment(loader=FileSystemLoader(HERE / "templates"), autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)


@dataclass
class Site:
    """What is served and to whom. `hosts`: names and addresses with the port, as browsers write them. `code`: what pairs a new device."""

    tanks: Tanks
    memory: Memory
    code: str
    hosts: tuple[str, ...]
    address: str
    shop_file: Path | None = None
    zone: str = ""
    cookie: str = "newtank"
    board: Board = field(init=False)
    templates: Environment = field(default_factory=pages)

    def __post_init__(self) -> None:
        self.board = Board(self.tanks)

    def hour(self) -> datetime:
        """Now, as the clock on the wall says it here."""
        try:
            return self.tanks.now().astimezone(ZoneInfo(self.zone or "UTC"))
        except (ValueError, OSError, KeyError):
            return self.tanks.now()

    @classmethod
    def of(cls, root: Path, rules: Rules, memory: Memory, code: str, hosts: tuple[str, ...], now: Callable[[], datetime], on: date | None = None, kept: Kept | None = None, **more: Any) -> Site:
        return cls(Tanks(root, rules, now, on, kept), memory, code, hosts, f"http://{hosts[0]}", **more)


@dataclass
class Ask:
    """A request: its place, what it asks with, the form that it sent, and the paired device that it comes from."""

    site: Site
    method: str
    path: str
    host: str
    params: Mapping[str, str] = field(default_factory=dict)
    query: Mapping[str, str] = field(default_factory=dict)
    form: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    device: Device | None = None
    place: Place | None = None

    def one(self, name: str) -> str:
        """The last value of a field, empty where there is none."""
        return self.form.get(name, ("",))[-1].strip()

    def all(self, name: str) -> tuple[str, ...]:
        return tuple(v for v in (w.strip() for w in self.form.get(name, ())) if v)

    @property
    def said_at(self) -> str | None:
        """When something happened by the fields of a form, as `--at` takes it; None for now. A form knows the day on which it was
        shown: what waited on a phone for a network may arrive on a later one."""
        day, time, shown = self.one("day"), self.one("time"), self.one("shown")
        return f"{day or shown} {time}".strip() if time or day not in ("", shown) else None

    @property
    def base(self) -> str:
        """Where the pages of this tank begin."""
        return f"/tank/{self.place.slug}" if self.place is not None else ""

    def look(self) -> Seen:
        """The tank as it stands. Raises Broken where nothing can be planned from it."""
        assert self.place is not None
        found = self.site.tanks.look(self.place)
        if isinstance(found, TankFolder):
            raise Broken(found)
        return found

    def show(self, template: str, status: int = 200, **values: Any) -> Response:
        """A page."""
        tanks = self.site.tanks
        shared = {"base": self.base, "single": tanks.single, "paired": self.device is not None, "here": self.path, "new_key": new_key, "on": tanks.on, "active": "", "tank_name": "",
                  "shown": seen.folder.on.isoformat() if self.place is not None and (seen := self.place.seen) is not None else ""}
        return HTMLResponse(self.site.templates.get_template(template).render(shared | values), status)

    def go(self, to: str, **query: str) -> Response:
        """To another page, after something was done. `to` begins with a slash and stays on this server."""
        return RedirectResponse(to + (f"{'&' if '?' in to else '?'}{urlencode(query)}" if query else ""), 303)

    def say(self, title: str, text: str, status: int = 200, back: str = "") -> Response:
        """A page with a sentence and the way back."""
        return self.show("say.html", status, title=title, text=text, back=back or self.base or "/")


class Broken(Exception):
    """A tank from which nothing can be planned; its folder has the problems."""

    def __init__(self, folder: TankFolder) -> None:
        super().__init__(str(folder.path))
        self.folder = folder


def new_key() -> str:
    """A key for one form, so that what is sent twice is written once."""
    return secrets.token_urlsafe(16)


def read_form(body: bytes) -> Mapping[str, tuple[str, ...]]:
    """The fields of a form as browsers send them. Raises ValueError for more fields than any form of ours has."""
    found: dict[str, list[str]] = {}
    for name, value in parse_qsl(body.decode("utf-8", "replace"), keep_blank_values=True, max_num_fields=MOST_FIELDS):
        found.setdefault(name, []).append(value)
    return {name: tuple(values) for name, values in found.items()}


__all__ = ["Ask", "Broken", "Site", "new_key", "read_form"]
