"""Output files that are whole or not there: written beside their place, then put there in one step.

A run that is cut off at any moment leaves the old file or the new one, and at most a temporary file that the next run
sweeps away.
"""

from __future__ import annotations

import contextlib
import glob
import os
import tempfile
from pathlib import Path

TRIES = 3
"""How often a file is written again when somebody else swept its temporary file away."""


def put_whole_file(path: Path, data: bytes) -> bool:
    """Put a file in place in one step (temporary file in the same folder, fsync, rename). Unchanged bytes are not
    written, so that a server's ETag and the file's date stay; returns whether the file was written. Raises OSError."""
    with contextlib.suppress(FileNotFoundError):
        if path.read_bytes() == data:
            return False
    for turn in range(TRIES):
        try:
            _replace(path, data)
            break
        except FileNotFoundError:
            if turn == TRIES - 1:
                raise
    sync_folder(path.parent)
    return True


def _replace(path: Path, data: bytes) -> None:
    handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".tmp")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        Path(temporary).chmod(0o644)
        Path(temporary).replace(path)
    except BaseException:
        Path(temporary).unlink(missing_ok=True)
        raise


def sweep(path: Path) -> None:
    """Take away the temporary files that a run which was cut off left beside this place."""
    for left in path.parent.glob(f".{glob.escape(path.name)}.*.tmp"):
        left.unlink(missing_ok=True)


def sync_folder(folder: Path) -> None:
    """Make a new or renamed file name last; Windows has no such call and needs none."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


__all__ = ["put_whole_file", "sweep", "sync_folder"]
