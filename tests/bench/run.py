"""What the plan costs: one run prints every figure with its aim.

Run: python tests/bench/run.py [--fast]

Times are the best of several runs, wall and processor time of the process; on a busy machine the processor time is the
one to read. The baselines stand beside each figure: a cold command is compared with a process that only imports the
libraries the command cannot do without, a long journal with a short one.

Aims: cold `today`, against a process that only imports click and rich: 3.0 times with the cycle passed, 3.5 with a forecast
and no new reading, 6 after a new reading; a warm plan 10 ms without and 60 ms with a new forecast; 36,500 rows read in 400 ms and
planned in twice the time of 10; judging at most 1.5 times slower after two years behind a gate that stays shut than after
four weeks.

Commands are started as an installed copy starts them (code compiled, one thread for linear algebra), in turn with their
baseline. Last figures on two quiet cores (best of 10, the unit at 7.1 ms), in processor time:

| what | measured | aim |
|---|---:|---|
| a process that only imports click and rich | 45 ms | baseline |
| cold `today`, the cycle passed | 143 ms, x 3.2 | x 3.0, **missed** |
| cold `today` with a forecast, the second of the day | 149 ms, x 3.3 | x 3.5, met |
| the first of a day without a new reading | 252 ms, x 5.6 | x 3.5, **missed** |
| after a new reading | 283 ms, x 6.3 | x 6, **missed** |
| a warm plan without forecast | 16 ms, 2.3 units | 10, **missed** |
| a warm plan with a forecast from readings | 103 ms, 14.5 units | 60, **missed** |
| reading 36,500 rows | 242 ms | 400, met |
| planning with them, against 10 | x 2.6 | x 2, **missed** |
| judging after two years behind a shut gate | x 1.21 | x 1.5, met |

What is left of `today` beyond Python and click: our own imports take half, kept rules and tank an eighth, the plan the rest. The first of a
day carries the members on to its own now: numpy with the model, and their way with its summary, about as long as one another; without that
it would meet its aim. On the first day on which lateness is asked for (after three weeks) a forecast without readings comes on top, once for
each tank. Of a new reading a fifth is the weighing. With 36,500 rows the conditions of a jump look through all readings of their name.

Others, same machine: a forecast of 60 days 21 / 23 / 34 / 44 ms with 0 / 12 / 24 / 30 readings (`forecast_cost.py`; limit 80 met, aim 40 missed by the last), 263 times as fast as LSODA member by member (aim 50);
the plan's 120 days grow by 1.28 from 2 to 60 readings; 30 wishes judged and staged 17 ms, with quarantine 27 ms, and 116 ms for the worst of six random lists (`stocking_cost.py`, aim 100); a printed plan 60 to 77 ms by the clock beyond
its plan, 68 to 95 ms of processor time (`handout_cost.py`, aim 60, **missed**); `handouts` on 200 tanks 1.07 times its parts (`handouts_cost.py`, aim 2).
"""

from __future__ import annotations

import argparse
import gc
import os
import resource
import shutil
import subprocess
import sys
import tempfile
import time
import tracemalloc
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

import planner.judge.cycle_expected as forecasting
from planner.files.journal import read_journal
from planner.files.tank import Tank, read_tank
from planner.files.yaml_checked import validate
from planner.files.yaml_tree import read_yaml
from planner.judge.facts import gather, zone_of
from planner.judge.gates import judge
from planner.plan.make import make_plan
from planner.plan.usable_days import next_day_allowed  # noqa: F401  (imported before anything is timed)
from planner.rulebook.read import kind_of_file, load_rules, shipped
from planner.rulebook.shapes import PhaseRule
from planner.rulebook.shipped_cache import load_shipped_rules
from planner.stock.catalogue import load_catalogue
from planner.terms.records import Plan

TANK = """\
id: 3e1f1e2c-90b5-4b3b-8a4e-5f6f3b6c2a11
name: bench tank
start: 2016-01-04
timezone: Europe/London
tank: {length: 100 cm, width: 50 cm, height: 50 cm, glass: 10 mm, waterline: 3 cm}
rock: {kind: dry, mass: 15 kg}
sand: {kind: dry, mass: 15 kg}
water: {source: ro}
equipment: {bin: 60 L, ro_rate: 190 L/day}
room: {temperature: 21 C, floor: solid}
test_kits:
  ammonia: {basis: N, step: 0.25}
  nitrite: {basis: N, step: 0.25}
  nitrate: {basis: ion, step: 5}
"""
HEADER = "when,kind,what,value,unit,where,note\n"
START = date(2016, 1, 4)
GOOD = (("ammonia", "0", "mg/L"), ("nitrite", "0", "mg/L"), ("nitrate", "10", "mg/L"), ("ph", "8.1", "pH"), ("alkalinity", "8", "dKH"), ("salinity", "35", "ppt"), ("temperature", "25.5", "C"))
BARE = "import click, rich.console"


def tank(extra: str = "") -> Tank:
    made, problems = read_tank(TANK + extra, "tank.yaml")
    assert made is not None and not problems, problems
    return made


def ten_years(rows: int) -> tuple[str, date]:
    """A journal of so many rows and its last day: the gate to animals on the first day, animals, then ten rows a day
    of looks, readings, ticks and weekly changes, as a keeper of method would write them. The dose is that of a cycle
    long ago, whose milestones are still told."""
    lines = [f"{START} 09:00,dosed,ammonia,2,mg/L as N,display,"]
    lines += [f"{START} 10:00,reading,{name},{value},{unit},display," for name, value, unit in GOOD]
    lines += [f"{START} 11:00,added,snail,4,,display,", f"{START + timedelta(days=15)} 11:00,added,clownfish,2,,display,"]
    day, look, change = START, 0, 0
    while len(lines) < rows:
        day += timedelta(days=1)
        look += 1
        lines.append(f"{day} 08:00,done,care/look#{look},,,display,")
        lines += [f"{day} 18:{20 + n},reading,{name},{value},{unit},display," for n, (name, value, unit) in enumerate(GOOD)]
        if day.weekday() == 5:
            change += 1
            lines += [f"{day} 19:00,changed_water,water,20,L,display,", f"{day} 19:05,done,care/weekly-change#{change},,,display,"]
        else:
            lines += [f"{day} 19:00,reading,calcium,420,mg/L,display,", f"{day} 19:10,reading,magnesium,1300,mg/L,display,"]
    return HEADER + "\n".join(lines[:rows]) + "\n", day


def cycling() -> tuple[str, date]:
    """Three weeks into a cycle, tested every second day."""
    begin = START + timedelta(days=1)
    lines = [f"{begin} 10:00,dosed,ammonia,2,mg/L as N,display,"]
    for n in range(2, 21, 2):
        day = begin + timedelta(days=n)
        lines += [f"{day} 18:00,reading,ammonia,{max(0.0, 2 - n / 8):.2f},mg/L,display,", f"{day} 18:10,reading,nitrite,{min(2.0, n / 8):.2f},mg/L,display,"]
    return HEADER + "\n".join(lines) + "\n", begin + timedelta(days=20)


def shut(days: int) -> tuple[str, date]:
    """A cycle that never ends: six tests a day, and ammonia and nitrite that do not go down."""
    lines = [f"{START + timedelta(days=n)} 18:{20 + k},reading,{name},{'1' if name in ('ammonia', 'nitrite') else value},{unit},display,"
             for n in range(1, days) for k, (name, value, unit) in enumerate(GOOD)]
    lines += [f"{START + timedelta(days=n)} 19:00,dosed,ammonia,2,mg/L as N,display," for n in range(0, days, 3)]
    return HEADER + "\n".join(lines) + "\n", START + timedelta(days=days)


def best(call: Callable[[], object], repeats: int, before: Callable[[], object] = lambda: None) -> tuple[float, float]:
    """Best wall and processor time of a call, ms. `before` is run ahead of each, untimed."""
    wall, cpu = [], []
    for _ in range(repeats):
        before()
        gc.collect()
        a, b = time.perf_counter(), time.process_time()
        call()
        cpu.append(time.process_time() - b)
        wall.append(time.perf_counter() - a)
    return 1e3 * min(wall), 1e3 * min(cpu)


@dataclass(frozen=True)
class Command:
    """A process to be timed in `folder`, with kept results of its own and the journal as it is then. `before` are the processes
    that a keeper had run there before, each with its journal: what they kept is laid out anew ahead of each timed run."""

    arguments: tuple[str, ...]
    folder: Path
    journal: str = ""
    before: tuple[tuple[tuple[str, ...], str], ...] = ()


def children(commands: list[Command], compiled: Path, repeats: int) -> list[tuple[float, float]]:
    """Best wall and processor time (user + system) of processes from start to end, ms. They take turns, so that a busy
    minute falls on all of them, after one run each that does not count. They run as an installed copy does, with the
    code compiled beforehand, and with one thread for linear algebra: starting more costs processor time that a command
    of ours never earns back."""
    environment = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"} | {
        "PYTHONPATH": str(Path(__file__).parents[2]), "PYTHONPYCACHEPREFIX": str(compiled), "OPENBLAS_NUM_THREADS": "1"}

    def run(command: Command, arguments: tuple[str, ...], kept: Path) -> None:
        done = subprocess.run([sys.executable, *arguments], cwd=command.folder, env=environment | {"XDG_CACHE_HOME": str(kept)}, capture_output=True, check=False)
        assert done.returncode == 0, done.stderr.decode()

    found: list[list[tuple[float, float]]] = [[] for _ in commands]
    for command in commands:
        for arguments, journal in command.before:
            (command.folder / "journal.csv").write_text(journal, encoding="utf-8")
            run(command, arguments, command.folder / "kept-before")
        (command.folder / "journal.csv").write_text(command.journal, encoding="utf-8")
    for _ in range(repeats + 1):
        for times, command in zip(found, commands, strict=True):
            kept = command.folder / "kept"
            if command.before:
                shutil.rmtree(kept, ignore_errors=True)
                shutil.copytree(command.folder / "kept-before", kept)
            before = resource.getrusage(resource.RUSAGE_CHILDREN)
            a = time.perf_counter()
            run(command, command.arguments, kept)
            wall = time.perf_counter() - a
            after = resource.getrusage(resource.RUSAGE_CHILDREN)
            times.append((wall, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime))
    return [(1e3 * min(w for w, _ in times[1:]), 1e3 * min(c for _, c in times[1:])) for times in found]


def say(label: str, times: tuple[float, float], note: str = "") -> None:
    print(f"  {label:58s} {times[0]:8.1f} ms wall {times[1]:8.1f} ms processor   {note}")


def verdict(value: float, aim: float, unit: str = "ms") -> str:
    return f"aim {aim:g} {unit}: {'met' if value <= aim else 'MISSED'}"


def unit() -> float:
    """This machine's own measure: ms of processor time for a fixed loop over arrays such as the model's, best of many."""
    import numpy as np

    x = np.linspace(-1.0, 0.0, 8192).reshape(2, 4096)
    return best(lambda: [np.expm1(x) for _ in range(200)], 20)[1]


def cold(repeats: int) -> None:
    """The days before are lived as a keeper lives them: `today` was run on each, and their results are kept."""
    print(f"cold, as processes of their own; this machine's unit (a fixed array loop) is {unit():.1f} ms")
    text, last = ten_years(10)
    passed, running = ("already: {big-change: 2016-01-03}\n", (text, last + timedelta(days=1))), ("already: {start-up: 2016-01-04}\n", cycling())
    cases: tuple[tuple[str, tuple[str, tuple[str, date]], str, float], ...] = (
        ("today, the cycle passed", passed, "same day", 3.0),
        ("today three weeks into the cycle, the second of the day", running, "same day", 3.5),
        ("the same, the first of a day without a new reading", running, "day before", 3.5),
        ("the same after a new reading", running, "new reading", 6.0),
    )
    with tempfile.TemporaryDirectory() as folder:
        commands = [Command(("-c", BARE), Path(folder))]
        for number, (_, (extra, (text, last)), lived, _) in enumerate(cases):
            here = Path(folder, str(number))
            here.mkdir()
            (here / "tank.yaml").write_text(TANK + extra, encoding="utf-8")
            # On the first day after the last reading it is asked for the first time how late the cycle is: a forecast of its own, once for each tank.
            on = last + timedelta(days=2) if lived == "day before" else last
            earlier = "".join(text.splitlines(keepends=True)[:-2]) if lived == "new reading" else text

            def today(day: date, here: Path = here) -> tuple[str, ...]:
                return ("-m", "planner", "today", "--on", day.isoformat(), str(here))

            days = [last - timedelta(days=1), last, *([last + timedelta(days=1)] if lived == "day before" else [])]
            commands.append(Command(today(on), here, text, tuple((today(day), earlier) for day in days)))
        bare, *took = children(commands, Path(folder, "compiled"), repeats)
        say("a process that only imports click and rich", bare, "baseline")
        for (label, _, _, aim), times in zip(cases, took, strict=True):
            say(label, times, verdict(times[1] / bare[1], aim, f"times; x {times[1] / bare[1]:.2f}"))


def warm(repeats: int) -> None:
    print("warm, in one process")
    root = shipped("rules")
    rules, _ = load_rules(root)
    files = [(kind, path.read_text(encoding="utf-8")) for path in sorted(root.rglob("*.yaml")) if (kind := kind_of_file(path, root)) is not None]
    say("rules, all files", best(lambda: load_rules(root), repeats))
    say("  of which YAML to plain data with places", best(lambda: [read_yaml(text, "x") for _, text in files], repeats))
    phases = [(read_yaml(text, "x"), text.splitlines()) for kind, text in files if kind is PhaseRule]
    say("  of which the check of the phase files", best(lambda: [validate(PhaseRule, data, places, lines) for (data, places, _), lines in phases], repeats))
    with tempfile.TemporaryDirectory() as folder:
        sys.pycache_prefix, sys.dont_write_bytecode, was = folder, False, (sys.pycache_prefix, sys.dont_write_bytecode)
        say("the same rules, taken up as they are kept", best(load_shipped_rules, repeats, load_shipped_rules))
        sys.pycache_prefix, sys.dont_write_bytecode = was
    say("catalogue of animals", best(lambda: load_catalogue([root / "livestock"]), max(2, repeats // 2)))

    one = unit()

    def planning(label: str, extra: str, text: str, on: date, aim: float, note: str, forget: bool = False) -> float:
        here = tank(extra)
        journal, problems = read_journal(text, "journal.csv", here, zone_of(here))
        assert not problems, problems[:3]
        plan: Plan = make_plan(here, journal, rules, on)
        took = best(lambda: make_plan(here, journal, rules, on), repeats, forecasting.forecast_untested.cache_clear if forget else lambda: None)
        say(label, took, f"{verdict(took[1], aim)}, {took[1] / one:.1f} units ({len(plan.tasks)} tasks{note})")
        return took[1]

    text, on = ten_years(10)
    without = planning("a plan, the cycle passed (no forecast)", "already: {big-change: 2016-01-03}\n", text, on, 10, "")
    text, on = cycling()
    running = planning("a plan three weeks into the cycle (forecast from readings)", "already: {start-up: 2016-01-04}\n", text, on, 60, "")
    planning("a plan before anything happened (forecast remembered)", "", HEADER, START, 20, "")
    planning("the same, the forecast forgotten each time", "", HEADER, START, 110, "", forget=True)
    print(f"  with a forecast a plan takes {running / without:.1f} times one without")


def growth(repeats: int) -> None:
    print("growth with the journal (planning = gather to assemble on a freshly read journal)")
    rules, _ = load_rules(shipped("rules"))
    here = tank("already: {big-change: 2016-01-03}\n")
    first: float | None = None
    for rows in (10, 1_000, 36_500):
        text, on = ten_years(rows)
        journal, problems = read_journal(text, "journal.csv", here, zone_of(here))
        assert not problems and len(journal.rows) == rows
        reading = best(lambda text=text: read_journal(text, "journal.csv", here, zone_of(here)), max(2, repeats // 2))
        fresh = [read_journal(text, "journal.csv", here, zone_of(here))[0] for _ in range(max(3, repeats // 2))]
        plan = make_plan(here, journal, rules, on)
        took = best(lambda: make_plan(here, fresh.pop(), rules, on), len(fresh))  # noqa: B023
        first = first or took[1]
        opened = sum(p.opened is not None for p in plan.phases)
        say(f"{rows:6d} rows: reading", reading, f"{1e3 * reading[1] / rows:.1f} us a row" + (f"; {verdict(reading[1], 400)}" if rows == 36_500 else ""))
        say("             planning", took, f"x {took[1] / first:.2f} of 10 rows; {verdict(took[1] / first, 2, 'times')} ({len(plan.tasks)} tasks, {opened} gates open)")


def replay(repeats: int) -> None:
    print("growth behind a gate that stays shut (gates, holds and alerts of a cycle that never ends)")
    rules, _ = load_rules(shipped("rules"))
    here = tank("already: {start-up: 2016-01-04}\n")
    first: float | None = None
    for days in (27, 145, 730):
        text, on = shut(days)
        journal, problems = read_journal(text, "journal.csv", here, zone_of(here))
        assert not problems, problems[:3]
        facts = gather(here, journal, on)
        verdicts = judge(rules, facts)
        assert "cycle" not in verdicts.opened and "start-up" in verdicts.opened
        took = best(lambda facts=facts: judge(rules, facts), repeats)
        first = first or took[1]
        say(f"{days:6d} days: judging", took, f"x {took[1] / first:.2f} of 27 days; {verdict(took[1] / first, 1.5, 'times')}")


def memory() -> None:
    print("memory")
    tracemalloc.start()
    rules, _ = load_rules(shipped("rules"))
    of_rules = tracemalloc.get_traced_memory()[0]
    here = tank("already: {big-change: 2016-01-03}\n")
    text, on = ten_years(36_500)
    before = tracemalloc.get_traced_memory()[0]
    journal, _ = read_journal(text, "journal.csv", here, zone_of(here))
    of_journal = tracemalloc.get_traced_memory()[0] - before
    tracemalloc.reset_peak()
    before = tracemalloc.get_traced_memory()[0]
    plan = make_plan(here, journal, rules, on)
    kept, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert plan.tasks
    print(f"  rules {of_rules / 1e6:.1f} MB; journal of 36,500 rows {of_journal / 1e6:.1f} MB ({of_journal / 36_500:.0f} bytes a row, "
          f"{of_journal / len(text):.1f} times its text)")
    print(f"  one plan of it {(kept - before) / 1e6:.1f} MB, at its highest {(peak - before) / 1e6:.1f} MB more than the journal")
    print(f"  the whole process, highest resident size {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3:.0f} MB")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--fast", action="store_true", help="three runs of each instead of ten")
    repeats = 3 if parser.parse_args().fast else 10
    print(f"load average {' '.join(f'{x:.1f}' for x in os.getloadavg())} on {os.cpu_count()} processors, best of {repeats}")
    cold(repeats)
    warm(repeats)
    growth(repeats)
    replay(repeats)
    memory()
    print(f"load average at the end {' '.join(f'{x:.1f}' for x in os.getloadavg())}")


if __name__ == "__main__":
    main()
