"""A keeper's file, read whole: plain files alone, and none larger than can be worked with.

A pipe would be waited for, a device has no end, and a link that leads nowhere is no empty file: a history that cannot
be reached must not look like no history.
"""

from __future__ import annotations

import errno
import os
import stat
from pathlib import Path

DESCRIPTION_MOST_BYTES = 1_000_000
"""Of a tank, shop or rule file. The largest of ours has a tenth of it."""
JOURNAL_MOST_BYTES = 20_000_000
"""Thirty years of 25 rows a day: about 10 s and a quarter of a gigabyte to plan from (measured on a busy machine)."""


class FileRefused(OSError):
    """A file that is there and is not used, with its code, why, and what to do. Readers and writers raise it like any
    refusal of the system, and commands tell it as a problem."""

    def __init__(self, path: Path, code: str, message: str, fix: str) -> None:
        super().__init__(errno.EINVAL, message, str(path))
        self.code, self.message, self.fix = code, message, fix


def read_plain_file(path: Path, most_bytes: int = DESCRIPTION_MOST_BYTES) -> bytes:
    """All of a file. Raises FileNotFoundError only where nothing of that name stands, FileRefused for what is no plain file
    or is too large, and OSError as the system does."""
    try:
        handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_CLOEXEC", 0) | getattr(os, "O_BINARY", 0))
    except OSError as error:
        raise _refusal(path, error) from None
    found = os.fstat(handle)
    if not stat.S_ISREG(found.st_mode):
        os.close(handle)
        raise not_a_file(path, found.st_mode)
    with os.fdopen(handle, "rb") as file:
        data = file.read(most_bytes + 1) if found.st_size <= most_bytes else b""
        if len(data) > most_bytes or found.st_size > most_bytes:
            raise FileRefused(path, "file-too-large", f"this file has {max(found.st_size, len(data)) / 1e6:,.0f} MB, and more than {most_bytes / 1e6:,.0f} MB of it cannot be worked with",
                              "Take out what does not belong there, or keep the older part in another file and begin a new one.")
        return data


def _refusal(path: Path, error: OSError) -> OSError:
    if error.errno == errno.ELOOP:
        return FileRefused(path, "not-a-file", "this is a link that leads back to itself", "Put the file itself here.")
    if isinstance(error, FileNotFoundError) and path.is_symlink():
        return FileRefused(path, "not-a-file", f"this is a link to '{path.readlink()}', where there is nothing", "Put the file itself here, or connect the disk that holds it.")
    if error.errno == errno.ENXIO:  # a socket
        return not_a_file(path, stat.S_IFSOCK)
    if isinstance(error, PermissionError) and path.is_dir():  # so Windows says it
        return not_a_file(path, stat.S_IFDIR)
    return error


def not_a_file(path: Path, mode: int) -> FileRefused:
    """What stands in the place of a file, by its kind."""
    kinds = ((stat.S_ISDIR, "a folder"), (stat.S_ISFIFO, "a pipe"), (stat.S_ISSOCK, "a socket"), (stat.S_ISCHR, "a device"), (stat.S_ISBLK, "a device"))
    kind = next((name for is_one, name in kinds if is_one(mode)), "something else")
    return FileRefused(path, "not-a-file", f"this is {kind}, not a file", "Move it away, and put the file itself here.")


def is_utf16(data: bytes) -> bool:
    """Whether a file was saved with two bytes a letter, as some spreadsheets do: by its mark, or by the zero in its first
    letter."""
    return data[:2] in (b"\xff\xfe", b"\xfe\xff") or (len(data) > 1 and (data[0] == 0) != (data[1] == 0))


UTF16 = ("not-utf8", "this file is UTF-16 text, two bytes a letter", "save it as UTF-8")
"""Code, message and fix: said once, since no line of such a file can be read."""


def is_there(path: Path) -> bool:
    """Whether anything of that name stands there, also what cannot be read."""
    return os.path.lexists(path)


def is_folder(path: Path) -> bool:
    """Whether a folder of that name stands there; none does under a name that is longer than the system takes."""
    try:
        return path.is_dir()
    except OSError:
        return False


__all__ = ["DESCRIPTION_MOST_BYTES", "JOURNAL_MOST_BYTES", "UTF16", "FileRefused", "is_folder", "is_there", "is_utf16", "not_a_file", "read_plain_file"]
