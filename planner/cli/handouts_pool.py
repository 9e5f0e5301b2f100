"""Running a function over many records in several processes, so that neither an interrupt nor the death of one of them
loses what the others made."""

from __future__ import annotations

import gc
import multiprocessing
import os
import signal
import threading
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from multiprocessing.connection import wait as wait_for_end
from typing import TypeVar

Job = TypeVar("Job")
Result = TypeVar("Result")


def run_all(work: Callable[[Job], Result], jobs: Sequence[Job], processes: int, lost: Callable[[Job], Result]) -> Iterator[tuple[int, Result]]:
    """(place in `jobs`, result) as they come. With one process all runs in this one. A process that dies under its work
    costs that work alone, for which `lost` gives the result."""
    if processes <= 1 or len(jobs) < 2:
        for place, job in enumerate(jobs):
            yield place, work(job)
        return
    left = set(range(len(jobs)))
    try:
        for place, result in _pooled(work, jobs, sorted(left), processes):
            left.discard(place)
            yield place, result
    except BrokenProcessPool:
        # Which of the running ones killed its process cannot be told: each of the rest has a process to itself.
        for place in sorted(left):
            try:
                result = next(_pooled(work, jobs, [place], 1))[1]
            except BrokenProcessPool:
                result = lost(jobs[place])
            yield place, result


def _pooled(work: Callable[[Job], Result], jobs: Sequence[Job], places: Sequence[int], processes: int) -> Iterator[tuple[int, Result]]:
    pool = ProcessPoolExecutor(processes, multiprocessing.get_context("spawn"), _begin_process)
    try:
        # No more is handed out than is soon worked on, so that an interrupt finds little in the queue.
        waiting = iter(places)
        running: dict[Future[Result], int] = {}
        while True:
            while len(running) < 2 * processes and (place := next(waiting, None)) is not None:
                running[pool.submit(work, jobs[place])] = place
            if not running:
                return
            for future in wait(running, return_when=FIRST_COMPLETED).done:
                yield running.pop(future), future.result()
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


def _begin_process() -> None:
    """An interrupt at the keyboard is for the parent, which lets each process end what it has in hand; and when the parent
    is gone, so is the work."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_end_with, args=(parent.sentinel,), daemon=True).start()
    gc.enable()


def _end_with(sentinel: int) -> None:
    wait_for_end([sentinel])
    os._exit(1)


__all__ = ["run_all"]
