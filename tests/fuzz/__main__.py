"""Inputs by the thousand: `python -m tests.fuzz --inputs 100000` (a night), or `--guided 600` for ten minutes led by coverage
(needs `atheris`). Prints what broke with the seed that makes it again: `--seed N --inputs 1`."""

from __future__ import annotations

import argparse
import random
import sys
import time
from collections import Counter
from pathlib import Path

from tests.fuzz.faces import memory_mb, what_breaks
from tests.fuzz.inputs import Input, make_input

WHOLE_EVERY, COMMAND_EVERY = 100, 100
"""A plan or a command costs as much as a hundred readings."""
CHEAP, DEAR = ("tank", "journal", "shop", "log"), ("house", "calendar")
"""House rules are laid over all of ours, and a calendar is read by another library: ten times as dear as the others."""


def input_of(seed: int) -> tuple[Input, bool]:
    """The input of a seed, and whether a plan is made from it."""
    dice = random.Random(seed)
    target = "command" if seed % COMMAND_EVERY == 7 else DEAR[seed // 20 % 2] if seed % 20 == 3 else CHEAP[seed % len(CHEAP)]
    whole = seed % WHOLE_EVERY == 31
    return make_input(dice, dice.choice(("tank", "journal")) if whole else target), whole


def run(inputs: int, seed: int = 0, patience: float = 1.0, keep: Path | None = None) -> tuple[dict[str, list[int]], Counter[str]]:
    """What broke, with the seeds that break it; and how many inputs of each kind were tried."""
    broken: dict[str, list[int]] = {}
    tried: Counter[str] = Counter()
    for one in range(seed, seed + inputs):
        given, whole = input_of(one)
        tried[f"{given.target}, planned and shown" if whole else given.target] += 1
        if wrong := what_breaks(given, whole, patience):
            broken.setdefault(f"{given.target}: {wrong}", []).append(one)
            if keep is not None:
                keep.mkdir(exist_ok=True)
                (keep / f"{one}-{given.target}").write_bytes(given.data)
    return broken, tried


def guided(seconds: int) -> int:
    """Led by coverage of the readers: the first byte says who reads the rest."""
    import atheris  # type: ignore[import-not-found,unused-ignore]

    def one(data: bytes) -> None:
        if len(data) > 1 and (wrong := what_breaks(Input(CHEAP[data[0] % 3], data[1:]), False)):
            raise AssertionError(wrong)

    with tempfile_corpus() as corpus:
        atheris.instrument_all()
        atheris.Setup([sys.argv[0], f"-max_total_time={seconds}", "-max_len=4096", "-rss_limit_mb=1000", "-timeout=5", str(corpus)], one)
        atheris.Fuzz()
    return 0


def tempfile_corpus():  # type: ignore[no-untyped-def]
    """The real files as the first inputs."""
    import contextlib
    import tempfile

    from tests.fuzz.inputs import seeds

    @contextlib.contextmanager
    def made():  # type: ignore[no-untyped-def]
        with tempfile.TemporaryDirectory() as name:
            for n, target in enumerate(CHEAP[:3]):
                for k, text in enumerate(seeds(target)):
                    (Path(name) / f"{target}-{k}").write_bytes(bytes([n]) + text.encode()[:4000])
            yield Path(name)

    return made()


def main() -> int:
    ask = argparse.ArgumentParser(prog="python -m tests.fuzz", description=__doc__)
    ask.add_argument("--inputs", type=int, default=100_000)
    ask.add_argument("--seed", type=int, default=0)
    ask.add_argument("--patience", type=float, default=1.0, help="stretches the limit of five seconds on a shared machine")
    ask.add_argument("--keep", type=Path, metavar="DIR", help="write what broke here")
    ask.add_argument("--guided", type=int, metavar="SECONDS")
    asked = ask.parse_args()
    if asked.guided is not None:
        return guided(asked.guided)
    began = time.perf_counter()
    broken, tried = run(asked.inputs, asked.seed, asked.patience, asked.keep)
    for what, seeds_of in sorted(broken.items(), key=lambda item: -len(item[1])):
        print(f"{len(seeds_of)} x {what}\n    seeds {', '.join(map(str, seeds_of[:6]))}")
    print(f"{sum(tried.values())} inputs in {time.perf_counter() - began:.0f} s, at most {memory_mb():.0f} MB: {', '.join(f'{n} {what}' for what, n in sorted(tried.items()))}")
    print(f"{len(broken)} ways to break it." if broken else "Nothing broke.")
    return 1 if broken else 0


if __name__ == "__main__":
    sys.exit(main())
