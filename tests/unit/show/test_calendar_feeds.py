"""Feeds: the same bytes for everybody, numbers from the journal and the day, nothing written and nothing cancelled."""

from __future__ import annotations

import shutil
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import icalendar
import pytest

from planner.door.folder import Rules, read_folder, read_rules
from planner.show.calendar.calendar import uid_for
from planner.show.calendar.feeds import FEEDS, Feed, Which, feed
from tests.story_facts import STORIES
from tests.truth.ical_lint import lint
from tests.truth.test_calendar_truth import read_by_ical

STORY = STORIES / "dry-rock-us"
ON = date(2026, 2, 15)
CHICAGO = ZoneInfo("America/Chicago")


@pytest.fixture(scope="module")
def rules() -> Rules:
    return read_rules()


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    shutil.copytree(STORY, tmp_path / "den", ignore=shutil.ignore_patterns("expected"))
    return tmp_path / "den"


def rows_until(folder: Path, day: date, *more: str) -> None:
    lines = (STORY / "journal.csv").read_text(encoding="utf-8").splitlines()
    (folder / "journal.csv").write_text("\n".join([lines[0], *(r for r in lines[1:] if r[:10] <= day.isoformat()), *more]) + "\n", encoding="utf-8")


def of(folder: Path, rules: Rules, which: Which = "jobs", on: date = ON) -> Feed:
    return feed(read_folder(folder, on, rules), which, on)


def events(made: Feed) -> list[icalendar.Event]:
    return icalendar.Calendar.from_ical(made.data).events


def test_jobs_holds_what_may_be_done_and_outlook_what_waits(folder: Path, rules: Rules) -> None:
    jobs, outlook = (events(of(folder, rules, which)) for which in FEEDS)
    assert {str(e["STATUS"]) for e in jobs} == {"CONFIRMED"}
    assert {str(e["STATUS"]) for e in outlook} == {"TENTATIVE"}
    assert sum(bool(e.subcomponents) for e in jobs) > 20
    assert sum(bool(e.subcomponents) for e in outlook) == 0
    assert not {str(e["UID"]) for e in jobs} & {str(e["UID"]) for e in outlook}


@pytest.mark.parametrize("which", FEEDS)
def test_a_feed_is_clean_and_another_reader_finds_as_much_in_it(which: Which, folder: Path, rules: Rules) -> None:
    made = of(folder, rules, which)
    assert lint(made.data) == []
    assert len(read_by_ical(made.data)) == len(events(made))


def test_a_feed_writes_nothing_and_gives_the_same_bytes_again(folder: Path, rules: Rules) -> None:
    before = {p.name: p.read_bytes() for p in folder.iterdir()}
    assert of(folder, rules) == of(folder, rules)
    assert {p.name: p.read_bytes() for p in folder.iterdir()} == before


def test_it_was_last_changed_by_the_newest_row_or_at_midnight_in_the_tanks_zone(folder: Path, rules: Rules) -> None:
    rows_until(folder, ON - timedelta(days=1))
    assert of(folder, rules).last_modified == datetime(2026, 2, 15, tzinfo=CHICAGO)
    rows_until(folder, ON - timedelta(days=1), "2026-02-15T18:05-06:00,reading,ammonia,1,mg/L,display,")
    assert of(folder, rules).last_modified == datetime(2026, 2, 15, 18, 5, tzinfo=CHICAGO)


def test_last_changed_never_goes_back_when_a_row_is_undone(folder: Path, rules: Rules) -> None:
    row = "2026-02-15T18:05-06:00,{},1,mg/L,display,"
    rows_until(folder, ON - timedelta(days=1), row.format("reading,ammonia"))
    written = of(folder, rules)
    rows_until(folder, ON - timedelta(days=1), row.format("reading,ammonia"), row.format("undo,reading:ammonia"))
    undone = of(folder, rules)
    assert undone.last_modified >= written.last_modified
    assert of(folder, rules, on=ON + timedelta(days=1)).last_modified > undone.last_modified


def test_numbers_are_minutes_to_the_last_change_and_grow_with_it(folder: Path, rules: Rules) -> None:
    made = of(folder, rules)
    assert {int(e["SEQUENCE"]) for e in events(made)} == {int((made.last_modified - datetime(2020, 1, 1, tzinfo=UTC)).total_seconds()) // 60}
    assert {e.decoded("DTSTAMP") for e in events(made)} == {e.decoded("LAST-MODIFIED") for e in events(made)} == {made.last_modified}


def test_a_moved_date_keeps_its_uid_and_takes_a_higher_number(folder: Path, rules: Rules) -> None:
    uid = uid_for("7d1e2b64-90c3-4c1d-8f27-52a9f0a3be02", "cycle/weekly-tests#2")
    seen = []
    for row in ("", "2026-02-14T19:00-06:00,postponed,cycle/weekly-tests#2,2026-02-17,,display,"):
        rows_until(folder, date(2026, 2, 13), *filter(None, [row]))
        (found,) = (e for e in events(of(folder, rules, on=date(2026, 2, 14))) if str(e["UID"]) == uid)
        seen.append((found.decoded("DTSTART"), int(found["SEQUENCE"])))
    assert [day for day, _ in seen] == [date(2026, 2, 14), date(2026, 2, 17)]
    assert seen[1][1] > seen[0][1]


def test_the_last_day_of_a_feed_says_that_it_ends(folder: Path, rules: Rules) -> None:
    assert any(str(e["SUMMARY"]).startswith("Feed ends") for e in events(of(folder, rules)))
    assert b"Export again" not in of(folder, rules).data


def test_a_feed_has_an_id_of_its_own_and_no_line_of_the_log(folder: Path, rules: Rules) -> None:
    """Not as UID of the calendar: vdirsyncer 0.21 takes that for the UID of every entry, and keeps one alone."""
    heads = [icalendar.Calendar.from_ical(of(folder, rules, which).data) for which in FEEDS]
    assert len({str(head["X-NEWTANK-CALENDAR"]) for head in heads}) == 2
    assert not any("UID" in head for head in heads)
    assert b"X-NEWTANK-ROW" not in of(folder, rules).data


def test_a_folder_without_a_tank_or_an_id_is_refused(folder: Path, rules: Rules) -> None:
    text = (folder / "tank.yaml").read_text(encoding="utf-8")
    (folder / "tank.yaml").write_text("\n".join(line for line in text.splitlines() if not line.startswith("id:")), encoding="utf-8")
    with pytest.raises(ValueError, match="id"):
        of(folder, rules)
    (folder / "tank.yaml").unlink()
    with pytest.raises(ValueError, match="nothing can be planned"):
        of(folder, rules)
