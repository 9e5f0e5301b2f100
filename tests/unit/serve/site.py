"""A site for tests: a tank folder copied aside, its page, and a phone that asks for it."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from functools import cache
from html import unescape
from pathlib import Path
from typing import Any

from starlette.testclient import TestClient

from planner.door.folder import Rules, read_rules
from planner.rulebook.read import shipped
from planner.serve.app import make_app
from planner.serve.asking import Site
from planner.serve.memory import Memory

HOST, CODE = "192.168.1.20:8017", "40718226"
ORIGIN = f"http://{HOST}"


@cache
def rules() -> Rules:
    return read_rules()


class Watch:
    """A clock that tests set. POSIX seconds."""

    def __init__(self) -> None:
        self.at = datetime(2026, 3, 2, 12, tzinfo=UTC).timestamp()

    def __call__(self) -> float:
        return self.at

    def now(self) -> datetime:
        return datetime.fromtimestamp(self.at, UTC)


@dataclass
class Phone:
    """A browser with its cookies. What it sends says where it comes from, as browsers do."""

    site: Site
    client: TestClient
    watch: Watch

    def get(self, path: str, **more: Any) -> Any:
        return self.client.get(path, **more)

    def send(self, path: str, follow: bool = True, headers: dict[str, str] | None = None, **form: Any) -> Any:
        return self.client.post(path, data=form, headers={"origin": ORIGIN} | (headers or {}), follow_redirects=follow)

    def pair(self) -> Phone:
        assert self.send("/pair", follow=False, code=CODE, name="phone").status_code == 303
        return self

    @property
    def base(self) -> str:
        return f"/tank/{self.site.tanks.find()[0].slug}"

    @property
    def folder(self) -> Path:
        return self.site.tanks.find()[0].path

    def journal(self) -> list[str]:
        return (self.folder / "journal.csv").read_text(encoding="utf-8").splitlines()

    def words(self, path: str) -> str:
        return words_of(self.get(path).text)

    def another(self) -> Phone:
        return Phone(self.site, client_of(self.site), self.watch)


def client_of(site: Site) -> TestClient:
    return TestClient(make_app(site), base_url=ORIGIN)


def phone_for(root: Path, on: date | None = None, memory: Path | None = None, watch: Watch | None = None, **more: Any) -> Phone:
    watch = watch or Watch()
    site = Site.of(root, rules(), Memory(memory, watch), CODE, (HOST, "localhost:8017"), watch.now, on, **more)
    return Phone(site, client_of(site), watch)


def copy_of(scenario: str, to: Path, rows: Callable[[str], bool] = bool) -> Path:
    """A shipped story in a folder of its own, with the lines of its journal that are wanted."""
    shutil.copytree(shipped("scenarios") / scenario, to)
    journal = to / "journal.csv"
    head, *lines = journal.read_text(encoding="utf-8").splitlines(keepends=True) if journal.exists() else ["when,kind,what,value,unit,where,note\n"]
    (to / "journal.csv").write_text(head + "".join(line for line in lines if rows(line)), encoding="utf-8")
    return to


def words_of(html: str) -> str:
    """What is read on a page, on one line."""
    body = html.partition("<main")[2].partition(">")[2].partition("</main>")[0]
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", body)).replace("\u00a0", " ").split())


def fields(html: str, action: str) -> list[dict[str, str]]:
    """The hidden fields of each form of a page that leads to an address."""
    forms = re.findall(rf'<form method="post" action="{re.escape(action)}"[^>]*>(.*?)</form>', html, re.DOTALL)
    return [{unescape(n): unescape(v) for n, v in re.findall(r'<input type="hidden" name="([^"]*)" value="([^"]*)">', form)} for form in forms]
