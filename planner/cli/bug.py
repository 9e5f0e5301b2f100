"""A bug of ours as a report that can be pasted."""

from __future__ import annotations

import platform
import traceback

from planner import __version__


def bug_report(asked: str) -> str:
    """The lines between the marks, for the exception being handled. `asked` is what was to be done."""
    return ("newtank has a bug: this should not have happened. Nothing that was already written is lost.\n"
            "Please send the lines between the marks to whoever gave you newtank.\n"
            "---- report ----\n"
            f"newtank {__version__}, Python {platform.python_version()}, {platform.system()}\n{asked}\n"
            f"{traceback.format_exc()}\n"
            "---- end of report ----")


__all__ = ["bug_report"]
