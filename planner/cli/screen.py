"""Where a page meets the terminal: plain text into pipes and files, and where NO_COLOR is set; else bold and dim."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable

import click

from planner.show.words.words import Line, plain_text, visible

# Weight alone, so that dark and light terminals read alike; magenta, the one accent, is legible on both. Every alarm
# also says in words what it is.
STYLES = {"": "", "title": "bold underline", "strong": "bold", "soft": "dim", "alarm": "bold magenta"}


def is_plain() -> bool:
    """No escape codes: output is piped, the terminal is dumb, or NO_COLOR is set to anything."""
    return bool(os.environ.get("NO_COLOR")) or os.environ.get("TERM") == "dumb" or not sys.stdout.isatty()


def show(lines: Iterable[Line]) -> None:
    """Print a page."""
    lines = tuple(lines)
    if is_plain():
        click.echo(visible(plain_text(lines)))
        return
    from rich.console import Console  # 60 ms, and only a terminal needs it
    from rich.text import Text

    console = Console(highlight=False, soft_wrap=True, markup=False, emoji=False)
    for line in lines:
        text = Text(end="")
        for span in line:
            text.append(visible(span.text), STYLES[span.role])
        text.rstrip()
        console.print(text)
