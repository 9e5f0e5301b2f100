"""Where this keeper's system wants results kept that may be deleted at any time."""

from __future__ import annotations

import os
import sys
from functools import cache
from pathlib import Path

from planner.files.kept import Kept

ARITHMETIC = ("OPENBLAS_", "OMP_", "MKL_", "NPY_", "BLIS_", "VECLIB_")
"""Variables by which the libraries choose how they reckon: the last bit of a result may hang on them."""


@cache
def kept_here() -> Kept | None:
    """The kept results of this user; None where the system names no folder for such things."""
    folder = cache_folder()
    setting = [f"{name}={value}" for name, value in sorted(os.environ.items()) if name.startswith((*ARITHMETIC, "PROCESSOR_"))]
    return None if folder is None else Kept(folder / "newtank", setting)


def cache_folder() -> Path | None:
    """The user's folder for what can be made again."""
    return _users("XDG_CACHE_HOME", "Library/Caches", ".cache")


def state_folder() -> Path | None:
    """The user's folder for what a program remembers."""
    return _users("XDG_STATE_HOME", "Library/Application Support", ".local/state")


def _users(variable: str, on_a_mac: str, elsewhere: str) -> Path | None:
    """A folder of the user's: what the variable names if it is an absolute path (XDG Base Directory Specification 0.8), else the
    usual place of the system."""
    named = os.environ.get(variable, "")
    if Path(named).is_absolute():
        return Path(named)
    if sys.platform == "win32":
        local = os.environ.get("LOCALAPPDATA", "")
        return Path(local) if Path(local).is_absolute() else None
    try:
        home = Path.home()
    except RuntimeError:  # a user without a home
        return None
    return home / (on_a_mac if sys.platform == "darwin" else elsewhere)


__all__ = ["cache_folder", "kept_here", "state_folder"]
