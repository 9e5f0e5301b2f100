"""Output files that are whole or not there: written beside their place, then put there in one step.

A run that is cut off at any moment leaves the old file or the new one, and at most a temporary file that the next one to
write there sweeps away.
"""

from __future__ import annotations

import contextlib
import glob
import itertools
import os
import stat
from collections.abc import Iterable
from pathlib import Path

from planner.files.read_file import not_a_file

if os.name != "nt":
    import fcntl

TRIES = 3
"""How often a file is written again when its temporary file is gone before it could be put in place."""


def put_whole_file(path: Path, data: bytes) -> bool:
    """Put a file in place in one step (temporary file in the same folder, fsync, rename). Unchanged bytes are not
    written, so that a server's ETag and the file's date stay; returns whether the file was written. A link is followed, a
    file keeps its permissions, and a new one gets those that the user's mask leaves. Raises OSError."""
    path = Path(os.path.realpath(path))
    sweep(path)
    mode = None
    with contextlib.suppress(FileNotFoundError):
        found = path.stat()
        if not stat.S_ISREG(found.st_mode):
            raise not_a_file(path, found.st_mode)
        mode = stat.S_IMODE(found.st_mode)
        if found.st_size == len(data) and path.read_bytes() == data:
            return False
    for turn in range(TRIES):
        try:
            _write_beside(path, data, mode).replace(path)
            break
        except FileNotFoundError:
            if turn == TRIES - 1:
                raise
    sync_folder(path.parent)
    return True


def put_new_file(path: Path, data: bytes) -> None:
    """Put a file in a place that was free, whole. Raises FileExistsError where something stands, else OSError."""
    sweep(path)
    temporary = _write_beside(path, data, None)
    try:
        if os.name == "nt":  # its rename never replaces
            temporary.rename(path)
        else:
            os.link(temporary, path)
    except FileExistsError:
        raise
    except OSError:  # a file system without hard links
        if os.path.lexists(path):
            raise FileExistsError(str(path)) from None
        temporary.rename(path)
    finally:
        temporary.unlink(missing_ok=True)
    sync_folder(path.parent)


def _write_beside(path: Path, data: bytes, mode: int | None) -> Path:
    """A new temporary file beside a place, whole and on the disk."""
    temporary, handle = _new_beside(path)
    try:
        try:
            _claim(handle, wait=True)
            write_all(handle, data)
            os.fsync(handle)
            if mode is not None:
                temporary.chmod(mode)
        finally:
            os.close(handle)
    except BaseException:
        temporary.unlink(missing_ok=True)
        raise
    return temporary


def _new_beside(path: Path) -> tuple[Path, int]:
    """A new file beside a place, and the handle to write it."""
    for turn in itertools.count():
        temporary = path.with_name(f".{path.name}.{os.getpid()}-{turn}.tmp")
        with contextlib.suppress(FileExistsError):  # of another thread, or of another machine that shares the folder
            return temporary, os.open(temporary, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o666)
    raise AssertionError


def write_all(handle: int, data: bytes) -> None:
    """Write it all, however much the system takes at a time."""
    rest = memoryview(data)
    while rest:
        rest = rest[os.write(handle, rest) :]


def sweep(path: Path) -> None:
    """Take away the temporary files that runs which were cut off left beside this place. One that is being written is
    claimed by its writer, and stays."""
    _sweep(path.parent.glob(f".{glob.escape(path.name)}.*.tmp"))


def sweep_folder(folder: Path) -> None:
    """The same for every place in a folder that holds nothing but files of ours."""
    _sweep(folder.glob(".*.tmp"))


def _sweep(found: Iterable[Path]) -> None:
    for left in found:
        with contextlib.suppress(OSError):
            handle = os.open(left, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0))
            try:
                if _claim(handle, wait=False):
                    left.unlink()
            finally:
                os.close(handle)


def _claim(handle: int, wait: bool) -> bool:
    """Whether this file is ours alone for as long as it is open. The system ends the claim of a process that dies.
    Windows lets nobody take away a file that is open."""
    if os.name == "nt":
        return True
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | (0 if wait else fcntl.LOCK_NB))
    except BlockingIOError:
        return False
    except OSError:  # a file system without claims: what cannot be told from a file in use stays
        return False
    return True


def sync_folder(folder: Path) -> None:
    """Make a new or renamed file name last; Windows has no such call and needs none."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


__all__ = ["put_new_file", "put_whole_file", "sweep", "sweep_folder", "sync_folder", "write_all"]
