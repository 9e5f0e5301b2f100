"""What a page looks like on a terminal: weight everywhere, red for danger alone, no colour with NO_COLOR, ASCII where no more can be shown."""

from __future__ import annotations

import re
import sys
from io import StringIO
from pathlib import Path

import pytest

from planner.cli.screen import is_ascii, show, spelled
from planner.show.words.words import Span

PAGE = ((Span("Danger: ", "alarm"), Span("20 °C “now”")), (Span("  1  done", "soft"),), (Span("Today", "strong"),))
SGR = re.compile(r"\x1b\[([0-9;]*)m")
COLOUR = re.compile(r"(?:^|;)(?:3[0-7]|9[0-7])(?:;|$)")  # ECMA-48, 8.3.117, and the bright ones in common use


class Screen(StringIO):
    encoding = "utf-8"

    def isatty(self) -> bool:
        return True


def shown(monkeypatch: pytest.MonkeyPatch, **settings: str) -> str:
    for name in ("NO_COLOR", "LC_ALL", "LC_CTYPE", "LANG", "FORCE_COLOR"):
        monkeypatch.delenv(name, raising=False)
    for name, value in ({"TERM": "xterm-256color"} | settings).items():
        monkeypatch.setenv(name, value)
    screen = Screen()
    monkeypatch.setattr(sys, "stdout", screen)
    show(PAGE)
    return screen.getvalue()


def test_danger_alone_is_red_and_the_rest_has_weight(monkeypatch: pytest.MonkeyPatch) -> None:
    codes = SGR.findall(shown(monkeypatch))
    coloured = [c for c in codes if COLOUR.search(c)]
    assert coloured == ["1;31"] and "2" in codes and "1" in codes


def test_no_color_takes_the_colour_and_leaves_the_weight(monkeypatch: pytest.MonkeyPatch) -> None:
    codes = SGR.findall(shown(monkeypatch, NO_COLOR="1"))
    assert not any(COLOUR.search(c) for c in codes) and "2" in codes and "1" in codes


def test_a_dumb_terminal_gets_plain_text(monkeypatch: pytest.MonkeyPatch) -> None:
    assert "\x1b" not in shown(monkeypatch, TERM="dumb")


@pytest.mark.parametrize(("settings", "plain"), [({"LANG": "C"}, True), ({"LANG": "en_GB.UTF-8"}, False), ({"LC_ALL": "POSIX", "LANG": "en_GB.UTF-8"}, True), ({"LANG": "de_DE.ISO-8859-1"}, True), ({}, False)])
def test_a_terminal_that_knows_no_unicode_gets_ascii(monkeypatch: pytest.MonkeyPatch, settings: dict[str, str], plain: bool) -> None:
    text = shown(monkeypatch, **settings)
    assert is_ascii() == plain and text.isascii() == plain
    assert ("20 degC" in text.replace(" ", "").replace("20degC", "20 degC") and '"now"' in text) == plain


def test_letters_with_marks_lose_the_marks_and_the_page_keeps_its_words(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("LC_ALL", "C")
    assert spelled("Küchenriff, 2 × 5 µm") == "Kuchenriff, 2 x 5 um"


def test_every_role_of_the_faces_that_is_red_is_named_danger() -> None:
    """The role `alarm` is given by cautions and alarms alone, beside the word."""
    faces = Path(__file__).parents[3] / "planner" / "show"
    users = {p.name for p in faces.rglob("*.py") if re.search(r"(?<!== )[\"']alarm[\"'](?![\]:])", p.read_text(encoding="utf-8"))}
    assert users == {"away.py", "effect.py", "effect_brief.py", "taskcard.py", "today.py"}
