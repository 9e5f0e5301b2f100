"""The shipped rules as they came out of their YAML, kept so that a command need not read a third of a megabyte again.

They are kept as Python keeps the compiled form of its own code: in the same folder, not where it was told to write
none, and free to be deleted at any time. Whoever can write to that folder can change the program itself, so what lies
there is as much to be trusted as the code beside it. It is used only if it is whole and was made from these very rule
files by this very code; else the files are read as if it were not there.
"""

from __future__ import annotations

import contextlib
import hashlib
import pickle
import sys
from importlib.util import cache_from_source
from pathlib import Path

from planner.files.kept import build_of
from planner.files.whole_file import put_whole_file
from planner.rulebook.read import is_of_animals, kind_of_file, load_rules, shipped
from planner.rulebook.shapes import Rulebook
from planner.terms.problems import Problem

HOME = Path(__file__).parents[1]
CODE = ("terms/problems.py", "terms/texts.py", "terms/records.py", "terms/causes.py", "files/tank.py", "rulebook/shapes.py", "rulebook/provenance.py", "rulebook/task_rule.py", "rulebook/what_jobs_do.py", "rulebook/texts.py", "rulebook/lines.py", "rulebook/words.py", "rulebook/shipped_cache.py", "rulebook/read.py", "rulebook/nodes.py",
        "files/checked.py", "files/kept.py", "files/read_file.py", "files/yaml_broken.py", "files/yaml_checked.py", "files/yaml_tree.py", *sorted(f"rulebook/kinds/{p.name}" for p in (HOME / "rulebook" / "kinds").glob("*.py")))
"""What turns rule files into a Rulebook, and the shape of it."""
SEAL = hashlib.sha256().digest_size


def load_shipped_rules() -> tuple[Rulebook, tuple[Problem, ...]]:
    """The same as `load_rules(shipped("rules"))`, most of the time without reading YAML."""
    root, kept = shipped("rules"), place_kept()
    if kept is None or CODE_READ is None:
        return load_rules(root)
    sources = seal_of_sources(root)
    if (book := _read_kept(kept, sources)) is not None:
        return book, ()
    book, problems = load_rules(root)
    if not problems and not sys.dont_write_bytecode and sources == seal_of_sources(root):  # nobody wrote meanwhile
        pickled = pickle.dumps(book, pickle.HIGHEST_PROTOCOL)
        with contextlib.suppress(OSError):  # a folder of somebody else's, or a full disk: nothing is kept
            kept.parent.mkdir(parents=True, exist_ok=True)
            put_whole_file(kept, sources + hashlib.sha256(pickled).digest() + pickled)
    return book, problems


def _read_kept(kept: Path, sources: bytes) -> Rulebook | None:
    try:
        found = kept.read_bytes()
    except OSError:
        return None
    pickled = found[2 * SEAL :]
    if found[: 2 * SEAL] != sources + hashlib.sha256(pickled).digest():
        return None
    book: Rulebook = pickle.loads(pickled)
    return book


def place_kept() -> Path | None:
    """Beside the compiled code, under the name of this version of Python. None where it keeps none."""
    if sys.implementation.cache_tag is None:
        return None
    return Path(cache_from_source(str(Path(__file__).parents[1] / "rules.py"))).with_suffix(".pickle")


def seal_of_sources(root: Path) -> bytes:
    """Changes with any byte of a rule file or of the code that reads it, and with the versions of Python and the
    checker."""
    seal = hashlib.sha256(f"{sys.version} {build_of('pydantic')}".encode() + (CODE_READ or b""))
    for path in (p for p in sorted(root.rglob("*.yaml")) if kind_of_file(p, root) is not None or is_of_animals(p, root)):
        data = path.read_bytes()
        seal.update(f"\n{path.name} {len(data)}\n".encode() + data)
    return seal.digest()


def _read_code() -> bytes | None:
    try:
        return b"\0".join((HOME / name).read_bytes() for name in CODE)
    except OSError:  # only the compiled code was installed
        return None


CODE_READ = _read_code()
"""Read when this code is loaded: what it makes must not be kept for the code that somebody writes while it runs."""


__all__ = ["load_shipped_rules", "place_kept"]
