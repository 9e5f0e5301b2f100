"""Live many lives and count: `python -m tests.keepers --lives 24 --days 150`, or tell one: `--story SEED`."""

from __future__ import annotations

import argparse
import os
import sys
from collections import defaultdict
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from rich.console import Console
from rich.table import Table

from tests.keepers.offence import KINDS
from tests.keepers.runs import judged_again, live, run, write_json
from tests.keepers.story import diary


def tables(lives: list[dict[str, Any]], days: int) -> Iterable[Table]:
    """Counts by kind; each offence with its seeds; the effort of each life."""
    table = Table(title=f"{len(lives)} lives of {days} days")
    for head in ("kind", "offences", "lives", "what", "times", "seeds (day)"):
        table.add_column(head, overflow="fold", justify="right" if head in ("offences", "lives", "times") else "left")
    for kind in KINDS:
        mine = [(life["seed"], o) for life in lives for o in life["offences"] if o["kind"] == kind]
        by_what: dict[str, list[tuple[int, dict[str, Any]]]] = defaultdict(list)
        for seed, o in mine:
            by_what[o["what"]].append((seed, o))
        table.add_row(kind, str(len(mine)), str(len({s for s, _ in mine})), "", "", "", style="bold")
        for what, found in sorted(by_what.items(), key=lambda item: -len(item[1])):
            first: dict[int, int] = {}
            for seed, o in found:
                first.setdefault(seed, o["day"])
            table.add_row("", "", "", what, str(len(found)), ", ".join(f"{s} ({d})" for s, d in list(first.items())[:8]) + (" ..." if len(first) > 8 else ""))
    if crashes := [life for life in lives if life.get("crash")]:
        table.add_row("crashes", str(len(crashes)), str(len(crashes)), crashes[0]["crash"][:80], "", ", ".join(str(c["seed"]) for c in crashes), style="bold")
    yield table
    work = Table(title="What a life asks for")
    for head in ("seed", "life", "tests a week", "minutes a week", "water to animals", "first fish", "most steps a day", "deaths", "offences", "seconds"):
        work.add_column(head, overflow="fold", justify="left" if head == "life" else "right")
    for life in lives:
        e = life["effort"] or {}
        work.add_row(str(life["seed"]), life["name"], *(str(e.get(k) if e.get(k) is not None else "-") for k in ("tests_a_week", "minutes_a_week", "water_to_animals", "first_fish", "most_steps")),
                     str(life.get("deaths", "-")), str(len(life["offences"])), f"{life['seconds']:.0f}")
    yield work


def main() -> int:
    ask = argparse.ArgumentParser(prog="python -m tests.keepers", description=__doc__)
    ask.add_argument("--lives", type=int, default=24)
    ask.add_argument("--days", type=int, default=150)
    ask.add_argument("--seed", type=int, default=0, help="the first seed")
    ask.add_argument("--jobs", type=int, default=os.cpu_count() or 1)
    ask.add_argument("--json", type=Path, metavar="FILE")
    ask.add_argument("--story", type=int, metavar="SEED")
    ask.add_argument("--keep", type=Path, metavar="DIR", help="keep the days of every life here, to be judged again without being lived again")
    ask.add_argument("--judge", type=Path, metavar="DIR", help="judge the lives kept here again, and live none")
    asked = ask.parse_args()
    if asked.story is not None:
        print("\n".join(diary(*live(asked.story, asked.days))))
        return 0
    console = Console(width=None if sys.stdout.isatty() else 150)
    if asked.judge is not None:
        lives = judged_again(asked.judge, asked.days)
        if asked.json is not None:
            write_json(asked.json, asked.days, lives)
    else:
        lives = run(range(asked.seed, asked.seed + asked.lives), asked.days, asked.jobs, asked.json, console, asked.keep)
    for table in tables(lives, asked.days):
        console.print(table)
    return 0


if __name__ == "__main__":
    sys.exit(main())
