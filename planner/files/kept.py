"""Results that were worked out before, kept in a folder that may be deleted at any time.

What is kept lies under the digest of all that it was made from: the inputs, the code, the versions of Python and of the
libraries, the processor. So nothing is ever out of date: where anything differs, another name is looked for. What lies
there is plain data, never a program, and a file that is not whole to the bit counts as absent. Nothing here fails: on a
full disk, or in a folder of somebody else's, results are worked out again.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import sys
from collections.abc import Iterable
from functools import cached_property
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from planner.files.whole_file import put_whole_file, sweep_folder

MOST_BYTES = 16_000_000
"""What may lie there; beyond it the oldest files go until half of it is left."""
SEAL = hashlib.sha256().digest_size
BUILD_FILES = ("version.py", "__config__.py")
"""What names the version of a library and how it was built, without loading it."""


class Maker:
    """What makes a kind of results: the files of its code, the libraries it stands on, and folders of which each code and
    rule file has a part in it."""

    def __init__(self, code: Iterable[Path], libraries: Iterable[str] = (), folders: Iterable[Path] = ()) -> None:
        self._code, self._libraries, self._folders = tuple(code), tuple(libraries), tuple(folders)

    @cached_property
    def seal(self) -> bytes | None:
        """A digest of it all, as it was when it was first asked for; None where the code cannot be read."""
        if self._first is None:
            return None
        return hashlib.sha256(self._first + json.dumps([sys.version, processor(), *map(build_of, self._libraries)]).encode()).digest()

    @cached_property
    def _first(self) -> bytes | None:
        return self._digest()

    def unchanged(self) -> bool:
        """Whether the code on the disk is still that of the seal."""
        return self._digest() == self._first

    def _digest(self) -> bytes | None:
        below = sorted(f"{at}/{name}" for folder in self._folders for at, _, names in os.walk(folder) for name in names if name.endswith((".py", ".yaml")))
        return _digest_of_files((*self._code, *map(Path, below)))


class Kept:
    """A folder of results, which need not exist yet. `setting`: whatever else the results may depend on, such as the
    environment of the linear algebra."""

    def __init__(self, folder: Path, setting: Iterable[str] = ()) -> None:
        self.folder, self._setting = folder, tuple(setting)

    def find(self, kind: str, maker: Maker, inputs: object) -> Any:
        """The plain data kept for these inputs, told apart by their `repr`; None where none is to be believed."""
        if maker.seal is None:
            return None
        address = self._address(kind, maker.seal, inputs)
        try:
            found = (self.folder / f"{kind}-{address.hex()}").read_bytes()
            data = found[2 * SEAL :]
            if found[: 2 * SEAL] == address + hashlib.sha256(data).digest():
                return json.loads(data)
        except (OSError, ValueError):
            pass
        return None

    def keep(self, kind: str, maker: Maker, inputs: object, data: object) -> None:
        """Keep plain data, unless the code was written to since it was loaded, or the folder refuses it."""
        if maker.seal is None or not maker.unchanged():
            return
        address, text = self._address(kind, maker.seal, inputs), json.dumps(data, separators=(",", ":")).encode()
        with contextlib.suppress(OSError):
            self.folder.mkdir(parents=True, exist_ok=True, mode=0o700)
            sweep_folder(self.folder)
            put_whole_file(self.folder / f"{kind}-{address.hex()}", address + hashlib.sha256(text).digest() + text)
            sweep_oldest(self.folder)

    def _address(self, kind: str, seal: bytes, inputs: object) -> bytes:
        return hashlib.sha256(seal + f"{kind}\n{self._setting!r}\n{inputs!r}".encode("utf-8", "surrogatepass")).digest()


def _digest_of_files(files: tuple[Path, ...]) -> bytes | None:
    """None where one of them cannot be read: then it is not known what makes the results."""
    seal = hashlib.sha256()
    try:
        for file in files:
            data = file.read_bytes()
            seal.update(f"{file.name} {len(data)}\n".encode() + data)
    except OSError:
        return None
    return seal.digest()


def build_of(library: str) -> str:
    """Version and build of a library, as its own files tell them; a library of another shape is told by its date."""
    spec = find_spec(library)
    if spec is None or spec.origin is None:
        return library
    home, told = Path(spec.origin).parent, [library]
    for name in BUILD_FILES:
        with contextlib.suppress(OSError):
            told.append((home / name).read_text(encoding="utf-8", errors="replace"))
    return "\n".join(told if len(told) > 1 else [library, str(Path(spec.origin).stat().st_mtime_ns)])


def processor() -> str:
    """What the last bit of a floating-point result can hang on. Linux tells the model; elsewhere the kind must do."""
    told = [sys.platform, sys.byteorder, str(sys.maxsize), *(os.uname()[3:] if hasattr(os, "uname") else ())]
    with contextlib.suppress(OSError), Path("/proc/cpuinfo").open("rb", buffering=0) as file:
        first = file.read(4096).decode("utf-8", "replace").split("\n\n", 1)[0]
        told += [line for line in first.splitlines() if not line.startswith(("cpu MHz", "bogomips", "BogoMIPS"))]
    return "\n".join(told)


def sweep_oldest(folder: Path, most: int = MOST_BYTES) -> None:
    """Take the oldest files away where all of them together are too large. Raises OSError."""
    files = []
    for entry in os.scandir(folder):
        with contextlib.suppress(FileNotFoundError):  # swept by somebody else meanwhile
            if entry.is_file(follow_symlinks=False):
                stat = entry.stat(follow_symlinks=False)
                files.append((stat.st_mtime_ns, stat.st_size, entry.path))
    total = sum(size for _, size, _ in files)
    if total <= most:
        return
    for _, size, path in sorted(files):
        if total <= most // 2:
            return
        Path(path).unlink(missing_ok=True)
        total -= size


__all__ = ["Kept", "Maker", "build_of", "processor", "sweep_oldest"]
