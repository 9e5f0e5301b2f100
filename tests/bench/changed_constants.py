"""Do a room's own tests notice when one of its numbers or comparisons changes?

Run: python -m tests.bench.changed_constants [--seed 1] [--draws 30] [--least 3] [--rooms science terms ...] [--seconds 120]

Draws comparisons and constants of the program at random, at least `--least` in each room, changes one at a time in a copy,
and runs the room's tests in `tests/unit/ROOM` on the copy. Changed are `<` to `<=` and the like, `==` to `!=`, `and` to `or`,
numbers by one step (1 to 2, 0.5 to 0.6) and yes to no. Constants of annotations, defaults of fields that say what a file may
hold, and docstrings are left alone. A change that its tests let through is told with its line: it is either a missing test, or
no change at all (a bound that nothing reaches). The rest of the suite may well see it; that is not asked here.
"""

from __future__ import annotations

import argparse
import ast
import os
import random
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
ROOMS = ("cli", "door", "show", "plan", "judge", "stock", "rulebook", "files", "terms", "science")
FLIPPED: dict[type[ast.cmpop], str] = {ast.Lt: "<=", ast.LtE: "<", ast.Gt: ">=", ast.GtE: ">", ast.Eq: "!=", ast.NotEq: "==", ast.In: "not in", ast.NotIn: "in", ast.Is: "is not", ast.IsNot: "is"}


@dataclass(frozen=True)
class Change:
    """One piece of one file, by its place in bytes, and what is put there."""

    file: Path
    line: int
    begin: int
    end: int
    now: str
    then: str


def changes_in(file: Path) -> Iterator[Change]:
    """Every change that could be made to a file."""
    source = file.read_bytes()
    starts = [0]
    for line in source.splitlines(keepends=True):
        starts.append(starts[-1] + len(line))

    def place(line: int, column: int) -> int:
        return starts[line - 1] + column

    def change(begin: int, end: int, then: str, line: int) -> Change:
        return Change(file, line, begin, end, source[begin:end].decode(), then)

    tree = ast.parse(source)
    left_alone = {id(inner) for node in ast.walk(tree) for part in _typed(node) for inner in ast.walk(part)}
    for node in ast.walk(tree):
        if id(node) in left_alone:
            continue
        if isinstance(node, ast.Compare) and len(node.ops) == 1:
            begin, end = place(node.left.end_lineno or 0, node.left.end_col_offset or 0), place(node.comparators[0].lineno, node.comparators[0].col_offset)
            written = source[begin:end].decode().strip(" \n()")
            yield change(begin, end, source[begin:end].decode().replace(written, FLIPPED[type(node.ops[0])]), node.lineno)
        elif isinstance(node, ast.BoolOp):
            begin, end = place(node.values[0].end_lineno or 0, node.values[0].end_col_offset or 0), place(node.values[1].lineno, node.values[1].col_offset)
            old, new = ("and", "or") if isinstance(node.op, ast.And) else ("or", "and")
            yield change(begin, end, source[begin:end].decode().replace(old, new, 1), node.lineno)
        elif isinstance(node, ast.Constant) and isinstance(node.value, bool | int | float):
            begin, end = place(node.lineno, node.col_offset), place(node.end_lineno or 0, node.end_col_offset or 0)
            yield change(begin, end, _stepped(node.value), node.lineno)


def _typed(node: ast.AST) -> Iterator[ast.AST]:
    """Parts of a node that are read as types, decorators or help texts."""
    if isinstance(node, ast.AnnAssign):
        yield node.annotation
    if isinstance(node, ast.arg) and node.annotation is not None:
        yield node.annotation
    if isinstance(node, ast.FunctionDef | ast.ClassDef):
        yield from node.decorator_list
        if isinstance(node, ast.FunctionDef) and node.returns is not None:
            yield node.returns
    if isinstance(node, ast.JoinedStr):
        yield node
    if isinstance(node, ast.If) and isinstance(node.test, ast.Name) and node.test.id == "TYPE_CHECKING":
        yield node


def _stepped(value: bool | float) -> str:
    if isinstance(value, bool):
        return str(not value)
    if isinstance(value, int):
        return str(value + 1)
    return repr(value * 1.2 if value else 0.1)


def drawn(seed: int, draws: int, least: int, rooms: tuple[str, ...]) -> list[tuple[str, Change]]:
    """`least` changes of each room, and the rest from all of them."""
    rng = random.Random(seed)
    possible = {room: [c for file in sorted((ROOT / "planner" / room).rglob("*.py")) for c in changes_in(file)] for room in rooms}
    found = [(room, change) for room in rooms for change in rng.sample(possible[room], min(least, len(possible[room])))]
    rest = [(room, c) for room in rooms for c in possible[room] if (room, c) not in found]
    return found + rng.sample(rest, max(0, min(draws - len(found), len(rest))))


def notices(copy: Path, room: str, seconds: float, changed: str = "") -> bool:
    """Whether the room's tests fail on the copy. The files that name the changed module go first: the first failure ends it."""
    if not (copy / "tests/unit" / room).is_dir():
        return False
    files = sorted((copy / "tests/unit" / room).rglob("test_*.py"), key=lambda f: (not changed or changed not in f.read_text(encoding="utf-8"), f))
    command = [sys.executable, "-m", "pytest", "-p", "no:cacheprovider", "-x", "-q", "-n", "0", *(f.relative_to(copy).as_posix() for f in files)]
    try:
        done = subprocess.run(command, cwd=copy, capture_output=True, timeout=seconds, check=False, env={**os.environ, "PYTHONDONTWRITEBYTECODE": "1"})
    except subprocess.TimeoutExpired:
        return True  # a loop that never ends is noticed
    return done.returncode != 0


def main() -> None:
    wanted = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    wanted.add_argument("--seed", type=int, default=1)
    wanted.add_argument("--draws", type=int, default=30)
    wanted.add_argument("--least", type=int, default=3)
    wanted.add_argument("--rooms", nargs="+", default=ROOMS)
    wanted.add_argument("--seconds", type=float, default=300)
    asked = wanted.parse_args()
    seen: dict[str, list[bool]] = {}
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / "copy"
        shutil.copytree(ROOT, copy, ignore=shutil.ignore_patterns(".git", ".venv", "__pycache__", "*.pickle"))
        for room in asked.rooms:
            if notices(copy, room, asked.seconds):
                sys.exit(f"the tests of {room} fail before anything is changed")
        for room, change in drawn(asked.seed, asked.draws, asked.least, tuple(asked.rooms)):
            target = copy / change.file.relative_to(ROOT)
            source = target.read_bytes()
            target.write_bytes(source[: change.begin] + change.then.encode() + source[change.end :])
            noticed = notices(copy, room, asked.seconds, change.file.stem)
            target.write_bytes(source)
            seen.setdefault(room, []).append(noticed)
            shown = change.file.relative_to(ROOT / "planner").as_posix()
            print(f"{'seen' if noticed else 'SLIPS THROUGH':13} {shown}:{change.line}: {change.now.strip()} -> {change.then.strip()}", flush=True)
    for room, found in seen.items():
        print(f"{room:10} {sum(found):3} of {len(found)}")
    print(f"{'all':10} {sum(map(sum, seen.values())):3} of {sum(map(len, seen.values()))}")


if __name__ == "__main__":
    main()
