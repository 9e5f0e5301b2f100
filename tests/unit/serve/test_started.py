"""`newtank serve` from the outside: what it says, on which addresses it listens, and how long it waits for whoever says nothing."""

from __future__ import annotations

import contextlib
import os
import re
import signal
import socket
import subprocess
import sys
import threading
import time
import urllib.request
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from click.testing import CliRunner

from planner.cli import newtank
from planner.serve import run
from planner.serve.memory import Memory
from planner.serve.run import home_addresses, host_names, listen, server_for
from tests.unit.serve.site import copy_of, phone_for

ROOT = Path(__file__).parents[3]
ON = date(2026, 2, 13)


@pytest.fixture
def state(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    return tmp_path / "state"


def free_port() -> int:
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


def test_it_starts_says_where_it_is_and_ends_by_ctrl_c(tmp_path: Path, state: Path) -> None:
    folder, port = copy_of("dry-rock-us", tmp_path / "tank"), free_port()
    started = subprocess.Popen([sys.executable, "-u", "-m", "planner", "serve", str(folder), "--port", str(port), "--on", str(ON)], cwd=ROOT, env=os.environ | {"XDG_STATE_HOME": str(state)}, stdout=subprocess.PIPE, text=True)
    try:
        assert started.stdout is not None
        said = "".join(started.stdout.readline() for _ in range(3))
        assert f"http://127.0.0.1:{port}" in said and re.search(r"Pairing code: [0-9]{4} [0-9]{4}\n", said)
        assert b"Den reef" in urllib.request.urlopen(f"http://127.0.0.1:{port}/", timeout=60).read()
    finally:
        started.send_signal(signal.SIGINT)
        assert started.wait(20) in (0, 130, -signal.SIGINT)
        assert started.stdout is not None
        started.stdout.close()
    (memory,) = (state / "newtank").glob("serve-*.db")
    assert memory.stat().st_mode & 0o077 == 0, "nobody else may read who is paired"
    assert not any(folder.glob("*.db")), "nothing of it lies in the tank's folder"


def test_without_lan_it_listens_on_this_machine_alone() -> None:
    names = host_names([run.LOOPBACK], 8017)
    assert names == ("127.0.0.1:8017", "localhost:8017")


def test_with_lan_it_goes_by_its_addresses_and_its_name() -> None:
    names = host_names(["192.168.1.20", run.LOOPBACK], 80, ["reef.home.arpa"])
    own = socket.gethostname().partition(".")[0].lower()
    assert {"192.168.1.20", "192.168.1.20:80", f"{own}.local", "reef.home.arpa", "localhost"} <= set(names)


def test_only_private_addresses_are_listened_on(monkeypatch: pytest.MonkeyPatch) -> None:
    """RFC 1918; the others are somebody's on the internet."""
    monkeypatch.setattr(socket, "getaddrinfo", lambda *_: [(0, 0, 0, "", (a, 0)) for a in ("10.0.0.5", "172.16.3.4", "192.168.0.9", "8.8.8.8", "127.0.1.1", "0.0.0.0", "172.32.0.1")])
    found = home_addresses()
    assert [a for a in found if a in ("10.0.0.5", "172.16.3.4", "192.168.0.9")] == ["10.0.0.5", "172.16.3.4", "192.168.0.9"]
    assert not {"8.8.8.8", "127.0.1.1", "0.0.0.0", "172.32.0.1"} & set(found)


def test_a_taken_port_says_so(tmp_path: Path, state: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        ended = CliRunner().invoke(newtank, ["serve", str(copy_of("dry-rock-us", tmp_path / "tank")), "--port", str(taken.getsockname()[1])])
    assert ended.exit_code == 2 and "cannot be used" in ended.output and "--port" in ended.output


def test_without_the_extra_it_says_what_to_install(tmp_path: Path) -> None:
    program = "import sys; sys.modules['jinja2'] = None; from planner.cli import newtank; newtank(['serve', sys.argv[1]])"
    ended = subprocess.run([sys.executable, "-c", program, str(tmp_path)], cwd=ROOT, capture_output=True, text=True, check=False)
    assert ended.returncode == 2 and "pip install 'newtank[serve]'" in ended.stderr


def test_devices_and_addresses_are_listed_and_taken_away(tmp_path: Path, state: Path) -> None:
    folder = copy_of("dry-rock-us", tmp_path / "tank")
    assert "No device is paired" in CliRunner().invoke(newtank, ["serve", str(folder), "--list"]).output
    (file,) = (state / "newtank").glob("serve-*.db")
    memory = Memory(file, time.time)
    memory.pair("kitchen phone")
    memory.new_feed("tank", "Ada")
    listed = CliRunner().invoke(newtank, ["serve", str(folder), "--list"]).output
    assert "device 1  kitchen phone" in listed and "feed 1    Ada, calendar of tank" in listed
    assert CliRunner().invoke(newtank, ["serve", str(folder), "--revoke", "device 1"]).output.startswith("Taken away: 1.")
    assert CliRunner().invoke(newtank, ["serve", str(folder), "--revoke", "everything"]).exit_code == 2
    assert "Taken away: 1." in CliRunner().invoke(newtank, ["serve", str(folder), "--revoke", "all"]).output
    assert memory.devices() == () and memory.feeds() == ()
    memory.close()


@pytest.fixture
def port(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[int]:
    """A real server that waits less long than in earnest."""
    monkeypatch.setattr(run, "REQUEST_WITHIN_S", 0.5)
    (one,) = listen(["127.0.0.1"], 0)
    found = one.getsockname()[1]
    phone = phone_for(copy_of("dry-rock-us", tmp_path / "tank"), ON)
    phone.site.hosts = host_names(["127.0.0.1"], found)
    server = server_for(phone.site)
    thread = threading.Thread(target=lambda: server.run(sockets=[one]), daemon=True)
    thread.start()
    yield found
    server.should_exit = True
    thread.join(10)


@pytest.mark.parametrize("said", [b"", b"GET / HTTP/1.1\r\nHost: ", b"GET /static/page.css HTTP/1.1\r\n"], ids=["nothing", "half a line", "no end"])
def test_a_connection_that_does_not_finish_its_question_is_closed(port: int, said: bytes) -> None:
    with socket.create_connection(("127.0.0.1", port), timeout=10) as slow:
        slow.sendall(said)
        with contextlib.suppress(ConnectionResetError):
            assert slow.recv(100) == b""


def test_a_head_that_never_ends_is_refused(port: int) -> None:
    with socket.create_connection(("127.0.0.1", port), timeout=10) as greedy, contextlib.suppress(ConnectionResetError, BrokenPipeError):
        greedy.sendall(b"GET / HTTP/1.1\r\nX: " + b"x" * 40_000)
        assert b" 400 " in greedy.recv(100)


def test_an_ordinary_question_is_answered_meanwhile(port: int) -> None:
    with socket.create_connection(("127.0.0.1", port), timeout=10):
        assert urllib.request.urlopen(f"http://127.0.0.1:{port}/static/page.css", timeout=10).status == 200


def test_the_answer_does_not_say_what_serves_it(port: int) -> None:
    assert "server" not in urllib.request.urlopen(f"http://127.0.0.1:{port}/static/page.css", timeout=10).headers
