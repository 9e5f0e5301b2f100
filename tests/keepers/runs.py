"""Living lives: one here, or many on all cores."""

from __future__ import annotations

import gc
import json
import multiprocessing
import os
import pickle
import tempfile
import time
from collections.abc import Iterable
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import asdict
from pathlib import Path
from typing import Any

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn, TimeRemainingColumn

from tests.keepers.count import judge
from tests.keepers.effort import effort
from tests.keepers.keeper import Keeper
from tests.keepers.lives import Life, make_life
from tests.keepers.offence import Offence
from tests.keepers.record import Day

MEMORY = next((d for d in ("/dev/shm",) if os.access(d, os.W_OK)), None)  # noqa: S108 - a private folder is made there
"""A folder in memory where there is one: each of a life's 1,500 entries waits for the disk three times."""


def live(seed: int, days: int) -> tuple[Life, list[Day], list[Offence]]:
    """One life, lived and judged."""
    life = make_life(seed, days)
    with tempfile.TemporaryDirectory(prefix="keeper-", dir=MEMORY) as folder:
        lived = Keeper(life, Path(folder)).live()
    return life, lived, judge_life(life, lived)


def report(seed: int, days: int, lived_in: Path | None = None) -> dict[str, Any]:
    """What of a life is kept, as plain values. A life that ends in a crash is an offence too."""
    gc.freeze()
    gc.set_threshold(200_000, 50, 50)  # plans are large and free of cycles
    began = time.process_time()
    try:
        life, lived, offences = live(seed, days)
    except Exception as error:  # noqa: BLE001 - a bug met in a life is counted, and the other lives go on
        return {"seed": seed, "name": make_life(seed, days).name, "crash": f"{type(error).__name__}: {error}", "offences": [], "effort": None, "seconds": time.process_time() - began}
    if lived_in is not None:
        lived_in.mkdir(parents=True, exist_ok=True)
        (lived_in / f"{seed}.pickle").write_bytes(pickle.dumps((life, lived)))
    return told(life, lived, offences, time.process_time() - began)


def told(life: Life, lived: list[Day], offences: list[Offence], seconds: float) -> dict[str, Any]:
    return {"seed": life.seed, "name": life.name, "offences": [asdict(o) for o in offences], "effort": asdict(effort(lived)), "seconds": round(seconds, 1),
            "animals": lived[-1].animals, "deaths": sum(n for d in lived for _, n in d.losses)}


def judged_again(lived_in: Path, days: int) -> list[dict[str, Any]]:
    """Lives that were kept, judged by the counts of today over their first `days`."""
    found = []
    for file in lived_in.glob("*.pickle"):
        life, lived = pickle.loads(file.read_bytes())
        found.append(told(life, lived[:days], judge_life(life, lived[:days]), 0.0))
    return sorted(found, key=lambda d: int(d["seed"]))


def judge_life(life: Life, lived: list[Day]) -> list[Offence]:
    return judge(lived, careful=life.temper in ("obedient", "holiday"), clear={n: life.clear(n) for n in ("ammonia", "nitrite")})


def run(seeds: Iterable[int], days: int, jobs: int, keep: Path | None, console: Console, lived_in: Path | None = None) -> list[dict[str, Any]]:
    """All lives on all cores, with a bar; what is done is kept after every life."""
    seeds = list(seeds)
    done: list[dict[str, Any]] = []
    bar = Progress(TextColumn("lives"), BarColumn(), MofNCompleteColumn(), TimeElapsedColumn(), TimeRemainingColumn(), TextColumn("{task.description}"), console=console)
    with ProcessPoolExecutor(jobs, multiprocessing.get_context("spawn")) as pool, bar:
        task = bar.add_task("", total=len(seeds))
        for ended in as_completed([pool.submit(report, seed, days, lived_in) for seed in seeds]):
            done.append(ended.result())
            bar.update(task, advance=1, description=f"{sum(len(d['offences']) for d in done)} offences")
            if keep is not None:
                write_json(keep, days, done)
    return sorted(done, key=lambda d: d["seed"])


def write_json(file: Path, days: int, lives: list[dict[str, Any]]) -> None:
    file.write_text(json.dumps({"days": days, "lives": sorted(lives, key=lambda d: int(d["seed"]))}, indent=1), encoding="utf-8")
