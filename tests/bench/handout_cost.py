"""What a printed plan costs beyond its plan, and whether many of them cost memory.

Run: PYTHONPATH=. python tests/bench/handout_cost.py [COUNT]

The buyers differ in the name, the sides, the rock and the salinity of their tanks, as at a counter; all but the first are
warm. Processor time is printed beside wall time, since a busy machine disturbs it less. Baselines: the plan alone, and the page
setter with one line of text. Wanted: at most 60 ms beyond the plan, and memory flat from 20 to COUNT (default 200) plans.
"""

from __future__ import annotations

import resource
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path
from statistics import median
from typing import Any

import typst

from planner.cli.common import load_tank
from planner.door.folder import Loaded
from planner.plan.make import plan_with_stock
from planner.show.paper.handout import handout_data, handout_from_plan
from planner.show.paper.text import fit_for_paper

SCENARIOS = Path(__file__).parents[2] / "scenarios"
DAYS = {"shop-handover": "2026-05-09", "dry-rock-us": "2026-03-05", "live-rock-small": "2026-02-21", "bottled-hot-room": "2026-06-06"}


def timed(call: Callable[[], Any]) -> tuple[Any, float, float]:
    """What a call gives, its wall time and its processor time (all threads), ms."""
    wall, cpu = time.perf_counter(), time.process_time()
    made = call()
    return made, (time.perf_counter() - wall) * 1e3, (time.process_time() - cpu) * 1e3


@cache
def loaded(scenario: str) -> Loaded:
    return load_tank(SCENARIOS / scenario, DAYS[scenario])


def buyer(scenario: str, number: int) -> tuple[Loaded, tuple[Any, Any]]:
    """The scenario's tank as another buyer's: name, sides, rock and salinity differ, and with them nearly every amount."""
    one = loaded(scenario)
    glass = one.tank.tank.model_copy(update={"length_cm": (one.tank.tank.length_cm or 80.0) + number % 97 * 0.5})
    rock = one.tank.rock.model_copy(update={"mass_kg": (one.tank.rock.mass_kg or 10.0) + number % 7})
    water = one.tank.water.model_copy(update={"salinity": 34.0 + number % 11 / 10})
    one = replace(one, tank=one.tank.model_copy(update={"name": f"Buyer {number}", "tank": glass, "rock": rock, "water": water}))
    return one, plan_with_stock(one.tank, one.journal, one.rules, one.on, None, (), one.catalogue)


def memory_mb() -> float:
    with Path("/proc/self/statm").open() as told:
        return int(told.read().split()[1]) * resource.getpagesize() / 1e6


def printed(scenario: str, number: int) -> tuple[float, float, float, int, int]:
    (one, (plan, stock)), _, planned = timed(lambda: buyer(scenario, number))
    made, wall, cpu = timed(lambda: handout_from_plan(plan, one.tank, one.journal, one.rules, stock, one.catalogue))
    return wall, cpu, planned, made.pages, len(made.pdf)


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    bare = typst.Compiler(ignore_system_fonts=True)
    floor = min(timed(lambda n=n: bare.compile(f"One line, number {n}.".encode(), format="pdf", timestamp=0))[2] for n in range(10))
    wall, cpu, _, _, _ = printed("shop-handover", 0)
    print(f"first one of a process: {wall:.0f} ms wall, {cpu:.0f} ms processor; the page setter alone, one line, warm: {floor:.1f} ms")
    print(f"{'warm, each another buyer (median of 12)':42} {'wall':>8} {'processor':>10} {'of 60 ms':>9} {'plan':>8} {'pages':>6} {'kB':>6}")
    for scenario in DAYS:
        runs = [printed(scenario, n) for n in range(1, 16)][3:]
        wall, cpu, plan = (median(r[k] for r in runs) for k in range(3))
        print(f"  {scenario:40} {wall:5.0f} ms {cpu:7.0f} ms {cpu / 60:9.2f} {plan:5.0f} ms {runs[-1][3]:6d} {runs[-1][4] / 1e3:6.0f}")
    one, (plan, stock) = buyer("shop-handover", 1)
    same = [timed(lambda n=n: handout_from_plan(replace(plan, name=f"Buyer {n}"), one.tank, one.journal, one.rules, stock, one.catalogue))[2] for n in range(12)]
    data = [timed(lambda: fit_for_paper(handout_data(plan, one.tank, one.journal, one.rules, stock, one.catalogue, None)))[2] for _ in range(12)]
    print(f"the same tank under another name: {median(same):.0f} ms processor; gathering its words alone: {median(data):.0f} ms")
    seen = {}
    for n in range(1, count + 1):
        printed(list(DAYS)[n % len(DAYS)], 100 + n)
        if n in (20, count // 2, count):
            seen[n] = memory_mb()
    first = seen[min(seen)]
    print("memory after " + ", ".join(f"{n} plans {mb:.0f} MB ({mb / first:.2f})" for n, mb in seen.items()))


if __name__ == "__main__":
    main()
