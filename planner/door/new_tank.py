"""A new tank folder: its description and an empty journal, never over something that stands there."""

from __future__ import annotations

from pathlib import Path

from planner.files.journal_form import HEADER
from planner.files.whole_file import put_new_file

EMPTY_JOURNAL = (HEADER + "\n").encode()


def write_new_tank(folder: Path, text: str, journal: bytes = EMPTY_JOURNAL) -> bool:
    """Journal first, tank file last, so that a tank file never stands there half made. True: an older journal was kept. Raises
    FileExistsError where a tank file stands, else OSError."""
    kept = False
    folder.mkdir(parents=True, exist_ok=True)
    try:
        put_new_file(folder / "journal.csv", journal)
    except FileExistsError:
        kept = True
    put_new_file(folder / "tank.yaml", text.encode("utf-8"))
    return kept


__all__ = ["EMPTY_JOURNAL", "write_new_tank"]
