"""How the pages speak: no id, no key, no command, no jargon of this house, and one system of units, on days of every story."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path

import pytest

from tests.house.test_voice import IDS, JARGON, METRIC, US
from tests.unit.serve.site import copy_of, phone_for, words_of

PATHS = ("", "/test", "/round", "/filter", "/plan", "/animals", "/shopping", "/emergency", "/more", "/calendar")
DAYS = [("dry-rock-us", date(2026, 2, 15)), ("live-rock-small", date(2026, 4, 18)), ("stalled-then-recovers", date(2026, 11, 20)), ("bottled-hot-room", date(2026, 7, 7)), ("leak-on-day-one", date(2026, 4, 5))]
TYPED = re.compile(r"\bnewtank\b(?! \w+ page)|`|(?<!\w)--[a-z]")


@pytest.mark.parametrize(("story", "day"), [pytest.param(story, day, id=story, marks=pytest.mark.slow if n > 1 else ()) for n, (story, day) in enumerate(DAYS)])
def test_pages_speak_as_a_friend_does(story: str, day: date, tmp_path: Path) -> None:
    phone = phone_for(copy_of(story, tmp_path / "tank"), day).pair()
    found = []
    phases = re.findall(rf'href="{phone.base}(/plan/[a-z-]+)"', phone.get(f"{phone.base}/plan").text)
    assert len(phases) > 8
    for path in (*PATHS, *phases):
        # What somebody may choose or type is no sentence of ours.
        text = words_of(re.sub(r"<select.*?</select>|<datalist.*?</datalist>|<p class=\"code\">.*?</p>", "", phone.get(phone.base + path).text, flags=re.DOTALL))
        for pattern in (JARGON, IDS, TYPED, METRIC if "-us" in story else US):
            found += [f"{path}: …{text[max(0, m.start() - 40): m.end() + 30]}…" for m in pattern.finditer(text)]
    assert not found, "\n".join(dict.fromkeys(found))
