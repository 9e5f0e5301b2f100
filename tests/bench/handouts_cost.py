"""What a batch of handouts costs beside its parts, and whether its memory stays flat.

Run: PYTHONPATH=. python tests/bench/handouts_cost.py [--fast] [--most N]

The parts are the plan, the calendar and the printed plan of the same tanks, made one after another in one process that
writes nothing; the whole is the command, which also starts, looks for the folders, writes, syncs and keeps its books.
Both are measured as processor time of a process of its own (user and system, all threads), the parts without their
imports. Peak memory is the resident set that the system reports for the process when it ends (`ru_maxrss`).

Aims: the whole at most twice its parts on 200 tanks; memory flat from 20 to 2,000 tanks.
"""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
ON = "2026-03-20"
TANK = """\
id: 3e1f1e2c-90b5-4b3b-8a4e-{number:012d}
name: tank {number}
start: 2026-03-02
timezone: Europe/London
tank: {{length: {length} cm, width: 50 cm, height: 50 cm, glass: 10 mm, waterline: 3 cm}}
rock: {{kind: dry, mass: 15 kg}}
sand: {{kind: dry, mass: 15 kg}}
water: {{source: ro}}
equipment: {{bin: 60 L, ro_rate: 190 L/day}}
room: {{temperature: 21 C, floor: solid}}
test_kits:
  ammonia: {{basis: N, step: 0.25}}
  nitrite: {{basis: N, step: 0.25}}
  nitrate: {{basis: ion, step: 5}}
"""
WISHES = "wish_list: [{animal: amphiprion-ocellaris, count: 2}, {animal: lysmata-amboinensis}, {animal: gramma-loreto}]\n"
JOURNAL = "when,kind,what,value,unit,where,note\n"
CYCLE = "".join(f"2026-03-{day:02d} 18:00,reading,ammonia,{2 - day / 12:.2f},mg/L,display,\n2026-03-{day:02d} 18:10,reading,nitrite,{day / 8:.2f},mg/L,display,\n" for day in range(6, 20, 2))
PARTS = """
import sys, time
from datetime import date
from pathlib import Path
from planner.cli.common import json_text
from planner.door.folder import Loaded, read_folder, read_rules
from planner.files.calendar_log import ExportLog, journal_mark
from planner.plan.make import plan_with_stock
from planner.show.calendar.calendar import calendar_from_plan
from planner.show.json.plan_document import plan_document
from planner.show.paper.handout import handout_from_plan
begin = time.process_time()
shared = read_rules()
rules = shared.book
took = [0.0, 0.0, 0.0]
for folder in sorted(Path(sys.argv[1]).iterdir()):
    marks = [time.process_time()]
    loaded = read_folder(folder, date.fromisoformat(sys.argv[2]), shared)
    assert isinstance(loaded, Loaded)
    catalogue = loaded.catalogue
    plan, stock = plan_with_stock(loaded.tank, loaded.journal, rules, loaded.on, None, loaded.problems, catalogue)
    json_text(plan_document(plan, rules))
    marks.append(time.process_time())
    calendar_from_plan(plan, rules, ExportLog(), now=None, journal=journal_mark(loaded.journal))
    marks.append(time.process_time())
    handout_from_plan(plan, loaded.tank, loaded.journal, rules, stock, catalogue)
    marks.append(time.process_time())
    took = [t + b - a for t, a, b in zip(took, marks, marks[1:])]
print(time.process_time() - begin, *took)
"""


@dataclass(frozen=True)
class Cost:
    """Seconds of wall clock and processor, and the peak of memory in MB, of a process and those that it waited for."""

    wall_s: float
    cpu_s: float
    peak_mb: float
    said: str


def folders(root: Path, count: int) -> Path:
    """Tanks of a shop: every third with a wish list, every other one three weeks into its cycle."""
    root.mkdir()
    for number in range(count):
        folder = root / f"tank {number:04d}"
        folder.mkdir()
        (folder / "tank.yaml").write_text(TANK.format(number=number, length=80 + number % 40) + (WISHES if number % 3 == 0 else ""))
        (folder / "journal.csv").write_text(JOURNAL + ("2026-03-05 10:00,dosed,ammonia,2,mg/L as N,display,\n" + CYCLE if number % 2 else ""))
    return root


def cost_of(command: list[str], ends: tuple[int, ...] = (0,)) -> Cost:
    begin = time.perf_counter()
    with tempfile.TemporaryFile() as out:
        running = subprocess.Popen([sys.executable, *command], cwd=ROOT, env={**os.environ, "PYTHONPATH": str(ROOT)}, stdout=out)
        _, status, used = os.wait4(running.pid, 0)
        wall = time.perf_counter() - begin
        running.returncode = os.waitstatus_to_exitcode(status)
        assert running.returncode in ends, running.returncode
        out.seek(0)
        return Cost(wall, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024, out.read().decode())


def batch(shop: Path, out: Path, jobs: int) -> Cost:
    shutil.rmtree(out, ignore_errors=True)
    return cost_of(["-m", "planner", "handouts", str(shop), "--out", str(out), "--on", ON, "--jobs", str(jobs)])


def main() -> None:
    options = argparse.ArgumentParser()
    options.add_argument("--fast", action="store_true", help="40 tanks instead of 200")
    options.add_argument("--most", type=int, default=0, help="the longest run for memory (2000 takes nine minutes of processor time)")
    asked = options.parse_args()
    count = 40 if asked.fast else 200
    with tempfile.TemporaryDirectory() as name:
        root = Path(name)
        shop = folders(root / "shop", count)
        print(f"{count} tanks, load {os.getloadavg()[0]:.1f} on {os.cpu_count()} processors")
        parts = cost_of(["-c", PARTS, str(shop), ON])
        total, plan, calendar, pdf = map(float, parts.said.split())
        print(f"  the parts in one loop      {total:8.1f} s processor   plan {plan / count * 1e3:.0f} ms, calendar {calendar / count * 1e3:.0f} ms, printed plan {pdf / count * 1e3:.0f} ms a tank")
        one = batch(shop, root / "one", 1)
        print(f"  handouts, one process      {one.cpu_s:8.1f} s processor   parts x {one.cpu_s / total:.2f}; aim 2: {'met' if one.cpu_s <= 2 * total else 'MISSED'}"
              f"   {one.wall_s:.1f} s wall, {60 * count / one.wall_s:.0f} tanks a minute")
        two = batch(shop, root / "two", 2)
        print(f"  handouts, two processes    {two.cpu_s:8.1f} s processor   parts x {two.cpu_s / total:.2f}   {two.wall_s:.1f} s wall, {60 * count / two.wall_s:.0f} tanks a minute, "
              f"{one.wall_s / two.wall_s:.2f} times one process")
        again = cost_of(["-m", "planner", "handouts", str(shop), "--out", str(root / "one"), "--on", ON, "--jobs", "1"])
        print(f"  the same again, unchanged  {again.cpu_s:8.1f} s processor   parts x {again.cpu_s / total:.3f}   {again.wall_s:.1f} s wall")
        print("peak memory of one process")
        peaks = {count: one.peak_mb}
        for other in (20, asked.most):
            if other and other not in peaks:
                peaks[other] = batch(folders(root / f"shop {other}", other), root / f"out {other}", 1).peak_mb
        least = peaks[min(peaks)]
        for tanks in sorted(peaks):
            print(f"  {tanks:5d} tanks  {peaks[tanks]:7.0f} MB   x {peaks[tanks] / least:.2f} of {min(peaks)}")


if __name__ == "__main__":
    main()
