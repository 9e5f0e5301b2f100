"""Where a page meets the terminal: plain text into pipes and files; else bold and dim, red for danger, and ASCII where it can show no more."""

from __future__ import annotations

import os
import re
import sys
import unicodedata
from collections.abc import Iterable

import click

from planner.show.words.words import Line, plain_text, visible

# Weight alone, so that dark and light terminals read alike; red is for danger, which is also said in words. NO_COLOR takes
# the colour away and leaves the weight (no-color.org).
STYLES = {"": "", "title": "bold underline", "strong": "bold", "soft": "dim", "alarm": "bold red"}
UTF8 = re.compile(r"utf-?8", re.IGNORECASE)
PLAIN_LETTERS = str.maketrans({"“": '"', "”": '"', "‘": "'", "’": "'", "–": "-", "—": "-", "…": "...", "×": "x", "·": ".", "²": "2", "³": "3", "µ": "u", "≤": "<=", "≥": ">=", "→": "->", "°": "deg "})


def is_plain() -> bool:
    """No escape codes: output is piped, or the terminal is dumb."""
    return os.environ.get("TERM") == "dumb" or not sys.stdout.isatty()


def is_ascii() -> bool:
    """The terminal's own setting names letters other than Unicode's (POSIX, 8.2: LC_ALL before LC_CTYPE before LANG)."""
    named = next((value for name in ("LC_ALL", "LC_CTYPE", "LANG") if (value := os.environ.get(name))), "")
    return bool(named) and UTF8.search(named) is None


def spelled(text: str) -> str:
    """The text as the terminal can show it."""
    if not is_ascii() or text.isascii():
        return text
    told = unicodedata.normalize("NFKD", text.translate(PLAIN_LETTERS))
    return "".join(c for c in told if not unicodedata.combining(c)).encode("ascii", "replace").decode()


def show(lines: Iterable[Line]) -> None:
    """Print a page."""
    lines = tuple(lines)
    if is_plain():
        click.echo(spelled(visible(plain_text(lines))))
        return
    from rich.console import Console  # 60 ms, and only a terminal needs it
    from rich.text import Text

    console = Console(no_color=bool(os.environ.get("NO_COLOR")), highlight=False, soft_wrap=True, markup=False, emoji=False)
    for line in lines:
        text = Text(end="")
        for span in line:
            text.append(spelled(visible(span.text)), STYLES[span.role])
        text.rstrip()
        console.print(text)
