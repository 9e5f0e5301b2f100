"""Feeds published as files: whatever moves an entry raises its number, and what stands still keeps its bytes. RFC 5545 3.8.7.4: SEQUENCE
rises when DTSTART changes; RFC 5546 2.1.5: of equal ones the later DTSTAMP wins."""

from __future__ import annotations

import re
import shutil
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import icalendar
import pytest

from planner.cli.share import publish_feeds
from planner.door.folder import Loaded, Rules, read_folder, read_rules
from tests.story_facts import STORIES
from tests.truth.ical_lint import lint

STORY = STORIES / "dry-rock-us"
NOW = datetime(2026, 2, 14, 23, tzinfo=UTC)
TEST, LATER = "cycle/weekly-tests#2", date(2026, 2, 17)
Numbers = dict[str, tuple[str, int, datetime]]


@pytest.fixture(scope="module")
def rules() -> Rules:
    return read_rules()


@pytest.fixture
def den(tmp_path: Path) -> Path:
    shutil.copytree(STORY, tmp_path / "den", ignore=shutil.ignore_patterns("expected"))
    (tmp_path / "web").mkdir()
    rows(tmp_path / "den")
    return tmp_path / "den"


def rows(den: Path, *more: str) -> None:
    lines = (STORY / "journal.csv").read_text(encoding="utf-8").splitlines()
    (den / "journal.csv").write_text("\n".join([lines[0], *(r for r in lines[1:] if r[:10] < "2026-02-14"), *more]) + "\n", encoding="utf-8")


def published(den: Path, rules: Rules, now: datetime = NOW) -> tuple[bytes, str]:
    loaded = read_folder(den, None, rules, now)
    assert isinstance(loaded, Loaded)
    _, problems = publish_feeds(loaded, loaded.plan(), den.parent / "web")
    data = (den.parent / "web" / "jobs.ics").read_bytes()
    assert lint(data) == []
    return data, " ".join(map(str, problems))


def numbers(data: bytes) -> Numbers:
    return {str(e["UID"]): (str(e["DTSTART"].dt), int(e["SEQUENCE"]), e.decoded("DTSTAMP")) for e in icalendar.Calendar.from_ical(data).events}


def moved(before: Numbers, after: Numbers) -> set[str]:
    found = {uid for uid in before.keys() & after.keys() if before[uid][0] != after[uid][0]}
    assert all(after[uid][1] > before[uid][1] and after[uid][2] > before[uid][2] for uid in found), [(before[u], after[u]) for u in found]
    return found


def test_a_description_that_moves_an_entry_raises_its_number_each_time(den: Path, rules: Rules) -> None:
    before = numbers(published(den, rules)[0])
    for hour in ("19:30", "20:15", "18:45"):
        text = (den / "tank.yaml").read_text("utf-8")
        (den / "tank.yaml").write_text(re.sub(r"reminder_time:.*", f'reminder_time: "{hour}"', text), encoding="utf-8")
        data, said = published(den, rules)
        assert said == "" and moved(before, numbers(data))
        before = numbers(data)


def test_a_row_of_an_earlier_day_and_taking_it_back_raise_it_too(den: Path, rules: Rules) -> None:
    newest = "2026-02-14T19:00-06:00,reading,temperature,25,C,display,"
    rows(den, newest)
    before = numbers(published(den, rules, NOW + timedelta(hours=3))[0])
    row = f"2026-02-12T19:00-06:00,{{}},{LATER},,display,"
    rows(den, newest, row.format(f"postponed,{TEST}"))
    after = numbers(published(den, rules, NOW + timedelta(hours=3))[0])
    assert moved(before, after)
    rows(den, newest, row.format(f"postponed,{TEST}"), row.format(f"undo,postponed:{TEST}"))
    assert moved(after, numbers(published(den, rules, NOW + timedelta(hours=3))[0]))


def test_what_stands_still_keeps_its_bytes(den: Path, rules: Rules) -> None:
    first = published(den, rules)[0]
    (den / "tank.yaml").write_text((den / "tank.yaml").read_text("utf-8") + "\n", encoding="utf-8")
    assert published(den, rules)[0] == first
    text = (den / "tank.yaml").read_text("utf-8")
    (den / "tank.yaml").write_text(re.sub(r"reminder_time:.*", 'reminder_time: "20:15"', text), encoding="utf-8")
    ahead = published(den, rules)[0]
    assert ahead != first and published(den, rules)[0] == ahead


def test_the_passing_of_days_raises_it_and_an_older_journal_never_comes_back(den: Path, rules: Rules) -> None:
    before = numbers(published(den, rules, NOW + timedelta(days=2))[0])
    later = published(den, rules, NOW + timedelta(days=8))[0]
    assert moved(before, numbers(later)), "what is late stands on another day"
    again, said = published(den, rules)
    assert "newer than what would be written" in said and again == later
