"""newtank: from an empty glass box to a stocked, stable reef tank, as a dated plan that test results move.

For other programs: `from planner import read_folder, make_plan, write_row`. These names, and the records that they take
and give, are stable; everything else is internal. They are loaded when they are first asked for.
"""

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from planner.door.folder import TankFolder, make_plan, read_folder
    from planner.door.write import write_row

__version__ = "0.1.0"
DOOR = {"TankFolder": "folder", "make_plan": "folder", "read_folder": "folder", "write_row": "write"}
"""Where each name stands, below `planner.door`."""


def __getattr__(name: str) -> Any:
    if name not in DOOR:
        raise AttributeError(f"module 'planner' has no attribute '{name}'")
    import importlib

    found = getattr(importlib.import_module(f"planner.door.{DOOR[name]}"), name)
    globals()[name] = found
    return found


__all__ = ["TankFolder", "make_plan", "read_folder", "write_row"]
