"""What the page costs: the first page of a day, a tick, the board of many tanks, and feeds that many phones ask for.

Run: PYTHONPATH=. python tests/bench/serve_cost.py [TANKS]

All through HTTP on this machine, against a real server. Processor time (of server and asker together) is printed beside wall time,
since a busy machine disturbs it less. Wanted: the page of today within 300 ms warm, a tick within 150 ms, a board of 60 tanks within a
second once they are worked out, and 500 tanks whose two feeds are asked for every 15 minutes below 5 % of one core.
"""

from __future__ import annotations

import http.client
import re
import shutil
import sys
import tempfile
import threading
import time
import uuid
from collections.abc import Callable
from datetime import UTC, date, datetime
from pathlib import Path
from statistics import median
from typing import Any
from urllib.parse import urlencode

from planner.door.folder import read_rules
from planner.files.kept import Kept
from planner.serve.asking import Site
from planner.serve.memory import Memory
from planner.serve.run import host_names, listen, server_for

ROOT = Path(__file__).parents[2]
ON = date(2026, 2, 13)
FORM = "application/x-www-form-urlencoded"


class Asker:
    """One phone with a connection that it keeps."""

    def __init__(self, port: int) -> None:
        self.host, self.cookie = f"127.0.0.1:{port}", ""
        self.last = time.monotonic()
        self.line = http.client.HTTPConnection("127.0.0.1", port, timeout=600)

    def ask(self, path: str, form: dict[str, str] | None = None, **headers: str) -> tuple[int, dict[str, str], bytes]:
        head = {"Cookie": self.cookie} | headers
        if time.monotonic() - self.last > 3:
            self.line.close()  # a connection that is not used is not kept for long; the next question opens another
        self.last = time.monotonic()
        if form is not None:
            self.line.request("POST", path, urlencode(form), head | {"Origin": f"http://{self.host}", "Content-Type": FORM})
        else:
            self.line.request("GET", path, headers=head)
        answer = self.line.getresponse()
        return answer.status, {k.lower(): v for k, v in answer.getheaders()}, answer.read()

    def pair(self, code: str) -> None:
        self.cookie = self.ask("/pair", {"code": code})[1]["set-cookie"].partition(";")[0]


def timed(call: Callable[[], Any]) -> tuple[Any, float, float]:
    wall, cpu = time.perf_counter(), time.process_time()
    made = call()
    return made, (time.perf_counter() - wall) * 1e3, (time.process_time() - cpu) * 1e3


def said(what: str, walls: list[float], cpus: list[float], wanted: float) -> None:
    print(f"{what:<48} median {median(walls):7.0f} ms wall, {median(cpus):7.0f} ms processor; worst {max(walls):7.0f} ms   (wanted {wanted:.0f})")


def served(root: Path, kept: Path) -> tuple[Site, Any, threading.Thread, Asker]:
    (one,) = listen(["127.0.0.1"], 0)
    port = one.getsockname()[1]
    site = Site.of(root, read_rules(), Memory(None, time.time), "12345678", host_names(["127.0.0.1"], port), lambda: datetime.now(UTC), ON, Kept(kept, []))
    server = server_for(site)
    thread = threading.Thread(target=lambda: server.run(sockets=[one]), daemon=True)
    thread.start()
    asker = Asker(port)
    while True:
        try:
            asker.pair("12345678")
            return site, server, thread, asker
        except ConnectionRefusedError:
            time.sleep(0.05)


def one_tank(work: Path) -> None:
    """A new day, page by page; each tank is another one, so that no plan of it was made before."""
    pages, ticks, after, again = [], [], [], []
    for n in range(8):
        folder = work / f"single-{n}" / "tank"
        shutil.copytree(ROOT / "scenarios" / "dry-rock-us", folder)
        lines = (folder / "journal.csv").read_text().splitlines(keepends=True)
        (folder / "journal.csv").write_text("".join(line for line in lines if not line[:4].isdigit() or line[:10] < "2026-02-13"))
        site, server, thread, asker = served(folder, work / "kept")
        (_, _, text), wall, cpu = timed(lambda asker=asker: asker.ask("/tank/tank"))
        if n:  # the first loads the program
            pages.append((wall, cpu))
        for _ in range(2):
            again.append(timed(lambda asker=asker: asker.ask("/tank/tank"))[1:])
        job = re.search(r'name="job" value="([^"]+)"><input type="hidden" name="key" value="([^"]+)"', text.decode())
        assert job is not None
        answer, wall, cpu = timed(lambda asker=asker, job=job: asker.ask("/tank/tank/done", {"job": job[1], "key": job[2]}))
        assert answer[0] == 303
        ticks.append((wall, cpu))
        after.append(timed(lambda asker=asker, answer=answer: asker.ask(answer[1]["location"]))[1:])
        server.should_exit = True
        thread.join()
        del site
    for what, found, wanted in (("today, first page of the day", pages, 300), ("today again, nothing changed", again, 300), ("a tick, until it is on the disk", ticks, 150), ("today after the tick, planned anew", after, 300)):
        said(what, [w for w, _ in found], [c for _, c in found], wanted)


def many_tanks(work: Path, count: int) -> None:
    root = work / "buyers"
    for n in range(count):
        folder = root / f"buyer-{n:04}"
        shutil.copytree(ROOT / "scenarios" / ("dry-rock-us" if n % 2 else "shop-handover"), folder)
        file = folder / "tank.yaml"
        file.write_text(re.sub(r"(?m)^id:.*$", f"id: {uuid.uuid5(uuid.NAMESPACE_URL, str(n))}", re.sub(r"(?m)^name:.*$", f"name: Buyer {n}", file.read_text())))
    site, server, thread, asker = served(root, work / "kept")
    _, wall, cpu = timed(lambda: site.board.lines(1e9))
    print(f"{f'{count} tanks worked out for the first time':<48} {wall / 1e3:7.1f} s wall, {cpu / 1e3:.1f} s processor, {cpu / count:.0f} ms each")
    found = [timed(lambda: asker.ask("/")) for _ in range(5)]
    said(f"the board of {count} tanks", [w for _, w, _ in found], [c for _, _, c in found], 1000)
    with (root / "buyer-0001" / "journal.csv").open("a") as file:
        file.write("2026-02-13,reading,temperature,25,C,display,\n")
    _, wall, cpu = timed(lambda: asker.ask("/"))
    said("the board after one tank changed", [wall], [cpu], 1000)
    paths = [f"/feed/{site.memory.new_feed(place.slug, 'phone').token}/{which}.ics" for place in site.tanks.find() for which in ("jobs", "outlook")]
    etags = {}
    _, wall, cpu = timed(lambda: [etags.__setitem__(path, asker.ask(path)[1].get("etag", "")) for path in paths])
    print(f"{f'{len(paths)} feeds made for the first time of a day':<48} {wall / 1e3:7.1f} s wall, {cpu / 1e3:.1f} s processor, {cpu / count:.0f} ms each tank")
    rounds = [timed(lambda: [asker.ask(path, **{"If-None-Match": etags[path]})[0] for path in paths]) for _ in range(3)]
    assert all(status == 304 for got, _, _ in rounds for status in got)
    each = median(c for _, _, c in rounds) / len(paths)
    day = cpu / count * 500 / 864e5 * 100
    print(f"{'a feed asked for again, unchanged':<48} {each:7.2f} ms processor: 1000 in 15 minutes are {each * 1000 / 9e5 * 100:.2f} % of a core, and making 500 tanks' anew each day {day:.2f} %   (wanted 5)")
    server.should_exit = True
    thread.join()


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 60
    with tempfile.TemporaryDirectory(prefix="serve-cost-") as folder:
        one_tank(Path(folder))
        many_tanks(Path(folder), count)


if __name__ == "__main__":
    main()
