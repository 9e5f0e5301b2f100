"""Running a function over many records on the machines of a Dask cluster, which see the same files at the same places.

The function, the records and what becomes of a process that dies are those of `handouts_pool`; only the handing out differs.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any, TypeVar

import click

Job = TypeVar("Job")
Result = TypeVar("Result")

CONNECT_S, PATIENCE_S, TURN_S = 10, 60, 5
"""How long to wait for the scheduler to answer, and for a worker to come back once all are gone, in turns of so long."""
TRIES = 3
AHEAD = 4
"""Records handed out for each thread of the cluster, so that none waits and an interrupt leaves little behind."""


def run_on_cluster(work: Callable[[Job], Result], jobs: Sequence[Job], address: str, mark: str, mark_there: Callable[[], str], lost: Callable[[Job], Result]) -> Iterator[tuple[int, Result]]:
    """(place in `jobs`, result) as they come. `mark`: what decides the results here; `mark_there` tells it on a worker, and
    must say the same, since another program would make other files. A usage error where the cluster cannot be used."""
    client = _client(address)
    try:
        _check(client, address, mark, mark_there)
        yield from _handed_out(client, work, jobs, lost)
    finally:
        client.close()


def _client(address: str) -> Any:
    try:
        import distributed
    except ImportError:
        raise click.UsageError("--scheduler needs the packages of a cluster: pip install 'newtank[cluster]'. Without it, --jobs uses the processors of this machine.") from None
    try:
        return distributed.Client(address, timeout=CONNECT_S)
    except (OSError, ValueError, TypeError) as error:
        raise click.UsageError(f"no scheduler answers at {address} ({type(error).__name__}). Start one with `dask scheduler`, and workers with `dask worker {address} --nthreads 1`.") from None


def _check(client: Any, address: str, mark: str, mark_there: Callable[[], str]) -> None:
    """Every worker has this program and sees these files."""
    if not _threads(client):
        raise click.UsageError(f"the scheduler at {address} has no workers. Start some with `dask worker {address} --nthreads 1`.")
    try:
        told = client.run(_told_at, str(Path.cwd()), mark_there)
    except Exception as error:
        raise click.UsageError(f"a worker cannot run newtank or does not see {Path.cwd()} ({type(error).__name__}: {error}). Install the same newtank there, and share the folder at the same place.") from None
    other = sorted(name for name, found in told.items() if found != mark)
    if other:
        raise click.UsageError(f"the worker {other[0]} has another newtank, other packages or other rules than this machine, and would make other files. Install the same there.")


def _told_at(place: str, mark_there: Callable[[], str]) -> str:
    os.chdir(place)
    return mark_there()


def _work_at(work: Callable[[Job], Result], job: Job, place: str) -> Result:
    """The work on a worker, whose files are named as they are here."""
    os.chdir(place)
    return work(job)


def _threads(client: Any) -> int:
    return sum(client.nthreads().values())


def _handed_out(client: Any, work: Callable[[Job], Result], jobs: Sequence[Job], lost: Callable[[Job], Result]) -> Iterator[tuple[int, Result]]:
    """Many at a time; what was given up because its workers died is done once more by itself, since which of several
    killed a worker cannot be told."""
    suspects = []
    for n, future in _ended(client, work, jobs, range(len(jobs)), AHEAD):
        if future is not None and future.status != "finished":
            suspects.append(n)
        else:
            yield n, lost(jobs[n]) if future is None else future.result()
    for n in suspects:
        yield n, _alone(client, work, jobs, n, lost)


def _alone(client: Any, work: Callable[[Job], Result], jobs: Sequence[Job], n: int, lost: Callable[[Job], Result]) -> Result:
    """One record with the cluster to itself. It may meet a worker of which nobody knows yet that it is dying, so that it is
    given up only after a few times."""
    for _ in range(TRIES):
        (_, future), = _ended(client, work, jobs, [n], 1)
        if future is None:
            break
        if future.status == "finished":
            result: Result = future.result()
            return result
    return lost(jobs[n])


def _ended(client: Any, work: Callable[[Job], Result], jobs: Sequence[Job], places: Iterable[int], ahead: int) -> Iterator[tuple[int, Any]]:
    """(place in `jobs`, future) as they end; None for a future once nobody has been left to do it for a while."""
    from distributed import wait

    waiting, folder = iter(places), str(Path.cwd())
    running: dict[Any, int] = {}
    patience = PATIENCE_S
    try:
        while True:
            while len(running) < ahead * max(1, _threads(client)) and (n := next(waiting, None)) is not None:
                running[client.submit(_work_at, work, jobs[n], folder, pure=False)] = n
            if not running:
                return
            try:
                done = wait(list(running), timeout=TURN_S, return_when="FIRST_COMPLETED").done
            except TimeoutError:
                patience = PATIENCE_S if _threads(client) else patience - TURN_S
                if patience <= 0:
                    yield from ((n, None) for n in (*running.values(), *waiting))
                    return
                continue
            for future in done:
                yield running.pop(future), future
    finally:
        client.cancel(list(running))


__all__ = ["run_on_cluster"]
