"""A real browser before a real server. Where there is none, this tier says so and is left out.

`NEWTANK_BROWSER` names the browser's program, else one of the usual names is looked for; `NEWTANK_PICTURES=DIR` keeps a picture of
each page there, to be looked at.
"""

from __future__ import annotations

import os
import shutil
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from planner.serve.run import host_names, listen, server_for
from tests.unit.serve.site import CODE, Phone, Watch, copy_of, phone_for

ON = date(2026, 2, 15)
NAMES = ("chromium", "chromium-browser", "google-chrome-stable", "google-chrome")
ARGUMENTS = ("--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync")


EVERY_RUN = {"test_a_job_is_ticked_and_taken_back[with a script]", "test_a_test_is_entered_on_the_card[without]", "test_a_tick_without_a_network_is_kept_and_sent_once_when_it_is_back"}
"""The others are slow: of one file, so that one browser is started."""


def pytest_itemcollected(item: pytest.Item) -> None:
    if item.name not in EVERY_RUN:
        item.add_marker(pytest.mark.slow)


@dataclass
class Served:
    """A server on this machine, and the folder behind it."""

    phone: Phone
    address: str
    code: str = CODE

    @property
    def base(self) -> str:
        return self.address + self.phone.base

    def rows(self, what: str) -> int:
        return sum(what in line and line.startswith(str(ON)) for line in self.phone.journal())


@pytest.fixture(scope="session")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    api = pytest.importorskip("playwright.sync_api", reason="the browser tier is left out: playwright is not installed")
    program = os.environ.get("NEWTANK_BROWSER") or next((found for name in NAMES if (found := shutil.which(name))), None)
    if program is None:
        pytest.skip("the browser tier is left out: this machine has no Chromium (NEWTANK_BROWSER names one)")
    with api.sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=program, args=[*ARGUMENTS])
        yield started
        started.close()


def serving(folder: Path) -> Iterator[Served]:
    watch = Watch()
    watch.at = time.time()
    (socket,) = listen(["127.0.0.1"], 0)
    port = socket.getsockname()[1]
    phone = phone_for(folder, ON, None, watch)
    phone.site.hosts = host_names(["127.0.0.1"], port)
    server = server_for(phone.site)
    thread = threading.Thread(target=lambda: server.run(sockets=[socket]), daemon=True)
    thread.start()
    try:
        yield Served(phone, f"http://127.0.0.1:{port}")
    finally:
        server.should_exit = True
        thread.join(10)


@pytest.fixture
def served(tmp_path: Path) -> Iterator[Served]:
    """One tank on the day on which tests are due, for a test of its own."""
    yield from serving(copy_of("dry-rock-us", tmp_path / "tank", lambda line: line[:10] < "2026-02-13"))


@pytest.fixture(scope="module")
def one_for_all(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """One tank that is only read."""
    yield from serving(copy_of("dry-rock-us", tmp_path_factory.mktemp("read") / "tank", lambda line: line[:10] < "2026-02-13"))


@pytest.fixture
def open_page(browser: Any) -> Iterator[Callable[..., Any]]:
    """Opens a phone, paired unless told otherwise. What the browser itself complains of fails the test."""
    contexts, complaints = [], []

    def opened(served: Served, width: int = 390, paired: bool = True, **more: Any) -> Any:
        context = browser.new_context(viewport={"width": width, "height": 844 if width < 1000 else 900}, has_touch=width < 1000, is_mobile=width < 1000, **more)
        contexts.append(context)
        page = context.new_page()
        page.on("console", lambda message: complaints.append(message.text) if message.type == "error" and "Failed to load resource" not in message.text else None)
        page.on("pageerror", lambda error: complaints.append(str(error)))
        if paired:
            page.goto(f"{served.address}/pair")
            page.fill("#code", served.code)
            page.click("main button[type=submit]")
            page.wait_for_selector("nav.ways")
        return page

    yield opened
    for context in contexts:
        context.close()
    assert complaints == []


def picture(page: Any, name: str) -> None:
    """Keep a picture of the page where somebody wants to look at it."""
    if folder := os.environ.get("NEWTANK_PICTURES"):
        Path(folder).mkdir(parents=True, exist_ok=True)
        page.screenshot(path=str(Path(folder) / f"{name}.png"), full_page=True)
