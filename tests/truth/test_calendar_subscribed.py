"""The feeds fetched by programs that subscribe, and the file kept by a calendar server; all on this machine.

Subscribers: `vdirsyncer` (a mirror of one file for each entry) and `icalevents` (fetches an address and expands it). Server:
Radicale. They come with `pip install '.[clients]'`; without them these tests are left out.
"""

from __future__ import annotations

import functools
import importlib.util
import json
import os
import shutil
import socket
import subprocess
import sys
import threading
import time
import urllib.error
import urllib.request
from collections import Counter
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime, timedelta
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import icalendar
import pytest

from planner.cli.share import export_calendar, publish_feeds
from planner.door.folder import Loaded, Rules, read_folder, read_rules
from planner.show.calendar.calendar import uid_for
from tests.story_facts import STORIES

TANK_ID = "7d1e2b64-90c3-4c1d-8f27-52a9f0a3be02"
WEEKLY = uid_for(TANK_ID, "cycle/weekly-tests#2")
FIRST, SECOND = date(2026, 2, 14), date(2026, 2, 17)
POSTPONED = f"2026-02-14T19:00-06:00,postponed,cycle/weekly-tests#2,{SECOND},,display,"
Seen = Counter[tuple[str, date]]
"""Titles and days. vdirsyncer gives each entry a UID of its own."""


def needs(*modules: str) -> pytest.MarkDecorator:
    missing = [m for m in modules if importlib.util.find_spec(m) is None]
    return pytest.mark.skipif(bool(missing), reason=f"{', '.join(missing)} not installed (pip install '.[clients]')")


@pytest.fixture(scope="module")
def rules() -> Rules:
    return read_rules()


@pytest.fixture
def den(tmp_path: Path) -> Path:
    shutil.copytree(STORIES / "dry-rock-us", tmp_path / "den", ignore=shutil.ignore_patterns("expected"))
    return tmp_path / "den"


def write_journal(den: Path, *more: str) -> None:
    lines = (STORIES / "dry-rock-us" / "journal.csv").read_text(encoding="utf-8").splitlines()
    (den / "journal.csv").write_text("\n".join([lines[0], *(r for r in lines[1:] if r[:10] < "2026-02-14"), *more]) + "\n", encoding="utf-8")


@pytest.fixture
def web(tmp_path: Path) -> Iterator[tuple[Path, str]]:
    """A folder of the web, and its address."""
    class Quiet(SimpleHTTPRequestHandler):
        def log_message(self, format: str, *args: object) -> None: ...

    (tmp_path / "web").mkdir()
    server = ThreadingHTTPServer(("127.0.0.1", 0), functools.partial(Quiet, directory=str(tmp_path / "web")))
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    yield tmp_path / "web", f"http://127.0.0.1:{server.server_port}"
    server.shutdown()
    thread.join()
    server.server_close()


def publish(den: Path, rules: Rules, place: Path) -> None:
    loaded = read_folder(den, None, rules, datetime(2026, 2, 14, 23, tzinfo=UTC))
    assert isinstance(loaded, Loaded)
    assert publish_feeds(loaded, loaded.plan(), place)[1] == ()


def day_of(start: object) -> date:
    return start.date() if isinstance(start, datetime) else start  # type: ignore[return-value]


def by_vdirsyncer(address: str, place: Path) -> Seen:
    """One file for each entry, in a folder that is kept between two fetches."""
    config = place / "config"
    (place / "entries").mkdir(exist_ok=True)
    config.write_text(
        f'[general]\nstatus_path = "{place}/status"\n[pair feed]\na = "web"\nb = "here"\ncollections = null\nconflict_resolution = "a wins"\n'
        f'[storage web]\ntype = "http"\nurl = "{address}"\n[storage here]\ntype = "filesystem"\npath = "{place}/entries"\nfileext = ".ics"\n', encoding="utf-8")
    for words in (["discover", "--no-list"], ["sync"]):
        done = subprocess.run([sys.executable, "-m", "vdirsyncer", "-c", str(config), *words], capture_output=True, text=True, timeout=60, check=False,
                              env=os.environ | {"PYTHONWARNINGS": "ignore"})
        assert done.returncode == 0, done.stderr
    return sum((read_by_icalendar(file.read_bytes()) for file in (place / "entries").iterdir()), Counter())


def read_by_icalendar(data: bytes) -> Seen:
    return Counter((str(e["SUMMARY"]), day_of(e.decoded("DTSTART"))) for e in icalendar.Calendar.from_ical(data).events)


def by_icalevents(address: str, _place: Path) -> Seen:
    code = ("import sys, json, datetime; from icalevents.icalevents import events\n"
            "got = events(url=sys.argv[1], start=datetime.date(2026, 1, 1), end=datetime.date(2027, 1, 1))\n"
            "print(json.dumps([[e.summary, str(e.start)[:10]] for e in got]))")
    done = subprocess.run([sys.executable, "-W", "ignore", "-c", code, address], capture_output=True, text=True, timeout=60, check=True)
    return Counter((title, date.fromisoformat(day)) for title, day in json.loads(done.stdout))


CLIENTS = [pytest.param(by_vdirsyncer, marks=needs("vdirsyncer"), id="vdirsyncer"), pytest.param(by_icalevents, marks=needs("icalevents"), id="icalevents")]


@pytest.mark.parametrize("fetch", CLIENTS)
def test_who_subscribes_sees_a_moved_date_at_the_next_fetch_and_nothing_twice(fetch: Callable[[str, Path], Seen], den: Path, rules: Rules, web: tuple[Path, str], tmp_path: Path) -> None:
    place, address = web
    write_journal(den)
    publish(den, rules, place)
    before = fetch(f"{address}/jobs.ics", tmp_path)
    assert (before["Weekly tests", FIRST], before["Weekly tests", SECOND]) == (1, 0)
    write_journal(den, POSTPONED)
    publish(den, rules, place)
    after = fetch(f"{address}/jobs.ics", tmp_path)
    assert (after["Weekly tests", FIRST], after["Weekly tests", SECOND]) == (0, 1)
    assert after == read_by_icalendar((place / "jobs.ics").read_bytes())


def test_a_web_space_sends_a_feed_as_a_calendar(den: Path, rules: Rules, web: tuple[Path, str]) -> None:
    place, address = web
    write_journal(den)
    publish(den, rules, place)
    with urllib.request.urlopen(f"{address}/outlook.ics", timeout=10) as answer:
        assert answer.headers["Content-Type"] == "text/calendar"
        assert answer.read() == (place / "outlook.ics").read_bytes()


# --- a calendar server


@pytest.fixture
def radicale(tmp_path: Path) -> Iterator[str]:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    running = subprocess.Popen(
        [sys.executable, "-W", "ignore", "-m", "radicale", "--config", "", "--hosts", f"127.0.0.1:{port}", "--auth-type", "none", "--rights-type", "owner_only",
         "--storage-filesystem-folder", str(tmp_path / "kept"), "--logging-level", "error"], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    for _ in range(100):
        with socket.socket() as probe:
            if probe.connect_ex(("127.0.0.1", port)) == 0:
                break
        time.sleep(0.1)
    yield f"http://127.0.0.1:{port}/keeper/reef/"
    running.terminate()
    running.wait(timeout=10)


def ask(method: str, address: str, data: bytes = b"") -> bytes:
    said = urllib.request.Request(address, data=data or None, method=method, headers={"Content-Type": "text/calendar", "Authorization": "Basic a2VlcGVyOng="})
    with urllib.request.urlopen(said, timeout=30) as answer:
        found: bytes = answer.read()
        return found


@needs("radicale")
def test_a_calendar_server_takes_each_file_and_gives_every_entry_back_once(den: Path, rules: Rules, radicale: str, tmp_path: Path) -> None:
    target = tmp_path / "den.ics"
    for n, more in enumerate(((), (POSTPONED,))):
        write_journal(den, *more)
        loaded = read_folder(den, FIRST, rules)
        assert isinstance(loaded, Loaded)
        export_calendar(loaded, loaded.plan(), target, True, datetime(2026, 2, 14, 20, tzinfo=UTC) + timedelta(hours=n))
        ask("PUT", radicale, target.read_bytes())
        sent = icalendar.Calendar.from_ical(target.read_bytes()).events
        kept = icalendar.Calendar.from_ical(ask("GET", radicale)).events
        assert sorted((str(e["UID"]), e["DTSTART"].to_ical(), int(e["SEQUENCE"])) for e in kept) == sorted((str(e["UID"]), e["DTSTART"].to_ical(), int(e["SEQUENCE"])) for e in sent)
    assert [day_of(e.decoded("DTSTART")) for e in kept if str(e["UID"]) == WEEKLY] == [SECOND]
    with pytest.raises(urllib.error.HTTPError):
        ask("PUT", radicale, target.read_bytes().replace(b"END:VCALENDAR", b""))
