"""The parts of a printed plan by the names under which each can be printed alone; light, so that a command can name them
without loading the page setter."""

from __future__ import annotations

PARTS = ("wall", "tank", "shopping", "cards", "cycle", "care", "animals", "cautions", "sitter")
"""As the command lists them; what is written on comes last on paper."""
CHANGED = "changed"
"""Not a part: the first side, and the sheets that say something else than in the last edition."""
SHEET_OF = {"tank": "This tank", "shopping": "Shopping", "cycle": "Cycle sheet", "care": "Weekly care", "animals": "Animals", "cautions": "Cautions and words"}
"""The sheet of an edition that each part is, but for the first side and the cards."""

__all__ = ["CHANGED", "PARTS", "SHEET_OF"]
