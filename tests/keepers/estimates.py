"""What the first day said of kept lives, beside what came: `python -m tests.keepers.estimates DIR`.

The estimate is made anew from the tank file by the rules of today, so that lives of older rules can be asked too: what
happened in them hangs little on what was foretold. Obedient keepers and those on holiday are the measure: what others
forget and hurry is their own. A page shows a gate open from the evening after its last tick on, so a phase of ticks alone comes a day late.
"""

from __future__ import annotations

import pickle
import statistics
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

from tests.keepers.keeper import Keeper
from tests.keepers.lives import Life
from tests.keepers.record import Day

PHASES = ("rock", "start-up", "cycle", "animals", "crew")
Days = tuple[int | None, int | None, int | None]


def told(life: Life) -> dict[str, Days]:
    """Quick, likely and slow of each gate by the plan of the first day, in days after the start."""
    with tempfile.TemporaryDirectory(prefix="keeper-") as folder:
        plan = Keeper(life, Path(folder)).door.open(life.start)
    windows = {p.id: (p.window.earliest, p.window.likely, p.window.latest) for p in plan.phases}
    return {name: tuple(None if day is None else (day - life.start).days for day in days) for name, days in windows.items()}  # type: ignore[misc]


def came(lived: list[Day]) -> dict[str, int]:
    """The first day on which a page showed a gate open."""
    found: dict[str, int] = {}
    for day in lived:
        for page in day.pages:
            for name in page.opened:
                found.setdefault(name, day.number)
    return found


def kept(folder: Path) -> Iterator[tuple[Life, list[Day]]]:
    for file in sorted(folder.glob("*.pickle")):
        yield pickle.loads(file.read_bytes())


def main(folder: Path) -> None:
    errors: dict[tuple[str, str], list[int]] = {}
    inside: list[bool] = []
    for life, lived in kept(folder):
        said, there = told(life), came(lived)
        line = []
        for name in PHASES:
            quick, likely, slow = said.get(name, (None, None, None))
            real = there.get(name)
            line.append(f"{name} {likely} ({quick} to {slow}) = {real}")
            if real is None or likely is None or quick is None or slow is None or life.temper not in ("obedient", "holiday"):
                continue
            errors.setdefault((life.way, name), []).append(real - likely)
            inside.append(quick <= real <= slow)
        print(f"{life.seed} {life.way}, {life.temper}: " + "; ".join(line))
    print("\nlate by so many days (early: negative), obedient and on holiday:")
    for (way, name), late in sorted(errors.items()):
        print(f"{way} {name}: median {statistics.median(late):g} of {len(late)} ({min(late)} to {max(late)})")
    if inside:
        print(f"within quick and slow: {sum(inside)} of {len(inside)}")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
