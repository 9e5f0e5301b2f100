"""The journal's file: read whole, and only ever added to, by whole entries.

An entry may have several rows (a dose and the tick of its task), and half of one would say something else. So what is
about to be added is first put into a file of its own, the intent. Whoever finds one knows how a writer that was cut off
wanted to end: if the journal ends in a part of it, the rest belongs there too. Readers read it so, and the next writer
writes it so. If nothing of it stands in the journal, nothing was promised, and it is forgotten.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
from collections.abc import Callable
from pathlib import Path

from planner.files.read_file import JOURNAL_MOST_BYTES, FileRefused, read_plain_file
from planner.files.whole_file import put_whole_file, sync_folder, write_all

WAIT_S = 10.0
"""How long a writer waits for another one, which takes some milliseconds, before it gives up."""
SEAL = hashlib.sha256().digest_size


def read_journal_file(path: Path) -> bytes:
    """A journal as it stands, with the rest of an entry whose writer was cut off. Raises FileNotFoundError where there is
    none, FileRefused and OSError as `read_plain_file`."""
    data = read_plain_file(path, JOURNAL_MOST_BYTES)
    return data + _rest_of_entry(path, data)


def add_to_journal(path: Path, make_block: Callable[[bytes], bytes], length: int | None = None) -> bytes:
    """Add what `make_block` makes of the journal as it stands, all or nothing, and give back the journal as it then is.

    `length`: how long the journal was on which the addition rests; if somebody wrote into it since, it is refused. Raises
    OSError; unless that says otherwise, nothing was added.
    """
    import filelock  # a page that is only read needs no lock

    try:
        with filelock.FileLock(path.with_name(f".{path.name}.lock"), timeout=WAIT_S):
            return _add(path, make_block, length)
    except filelock.Timeout:
        raise FileRefused(path, "journal-busy", "another program has been writing there for ten seconds", "Close it, then enter this again.") from None


def _add(path: Path, make_block: Callable[[bytes], bytes], length: int | None) -> bytes:
    try:
        data, fresh = read_plain_file(path, JOURNAL_MOST_BYTES), False
    except FileNotFoundError:
        data, fresh = b"", True
    rest = _rest_of_entry(path, data)
    before = data + rest
    if length is not None and length != len(before):
        raise FileRefused(path, "journal-changed", "somebody else wrote into it in the meantime", "Look at it again, then say whether this is still meant.")
    block = rest + make_block(before)
    intent = _intent(path)
    put_whole_file(intent, hashlib.sha256(data + block).digest() + len(data).to_bytes(8, "big") + block)
    _append(Path(os.path.realpath(path)), block, len(data), fresh, intent)
    with contextlib.suppress(OSError):  # the rows are safe; an intent that was kept to asks for nothing
        intent.unlink()
    return data + block


def _append(path: Path, block: bytes, length: int, fresh: bool, intent: Path) -> None:
    """Write the block and have it on the disk before anyone is told so. What the system refuses is cut back to `length`."""
    handle = os.open(path, os.O_WRONLY | os.O_APPEND | os.O_CREAT | getattr(os, "O_BINARY", 0), 0o666)
    try:
        write_all(handle, block)
        os.fsync(handle)
    except OSError as error:
        try:
            os.ftruncate(handle, length)
            if fresh:
                path.unlink()
            intent.unlink()
        except OSError:
            raise FileRefused(path, "journal-half-written", f"writing stopped midway ({error.strerror}), and could not be taken back", "Look at its last lines before you go on.") from None
        raise
    finally:
        os.close(handle)
    if fresh:
        sync_folder(path.parent)


def _intent(path: Path) -> Path:
    return path.with_name(f".{path.name}.intent")


def _rest_of_entry(path: Path, data: bytes) -> bytes:
    """What an entry still lacks whose writer was cut off; empty nearly always."""
    try:
        found = read_plain_file(_intent(path), JOURNAL_MOST_BYTES)
    except OSError:
        return b""
    seal, length, block = found[:SEAL], int.from_bytes(found[SEAL : SEAL + 8], "big"), found[SEAL + 8 :]
    written = data[length:]
    if not written or not block.startswith(written) or hashlib.sha256(data[:length] + block).digest() != seal:
        return b""
    return block[len(written) :]


__all__ = ["add_to_journal", "read_journal_file"]
