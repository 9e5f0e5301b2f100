"""The export log: whole rows, torn rows, merged logs, lost logs."""

from __future__ import annotations

import errno
import os
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import filelock
import pytest

from planner.files.calendar_log import (
    HEADER,
    Appended,
    Exported,
    ExportLog,
    append_exported,
    journal_mark,
    read_export_log,
)
from planner.files.lost_calendar_log import Target, calendar_uid, other_targets, read_target, seed_from_target
from planner.files.whole_file import put_whole_file
from planner.show.calendar.calendar import calendar_from_plan
from planner.terms.records import Row, Unreadable, index_journal
from tests.rulecases import rulebook
from tests.unit.plan_builder import TANK_ID, phase, plan, task

NOW = datetime(2026, 3, 2, 20, 15, 30, tzinfo=UTC)
ROW = Exported(
    "62ea5d52-8f3e-5282-8e77-3d349c9826b7", 3, NOW, NOW - timedelta(days=2), "fish/add#2", "firm",
    "2026-03-10 18:00 Europe/Berlin", 30, date(2026, 3, 8), None, "0123456789ab",
    'Add the "first", ok: 🐠 קריאה', "e2da28b697ee969a",
)
OTHER = replace(ROW, uid="df856fb4-267b-5841-865c-f05d7bd14156", start="2026-04-10", minutes=0, state="provisional",
                key="gate/cycle", earliest=None, title="Gate")


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "calendar-log.csv"


def written(path: Path, *rows: Exported) -> ExportLog:
    assert append_exported(path, rows, read_export_log(path)) is Appended.WRITTEN
    return read_export_log(path)


def test_a_missing_or_empty_log_is_an_empty_log(path: Path) -> None:
    assert read_export_log(path) == ExportLog()
    path.write_bytes(b"")
    assert read_export_log(path) == ExportLog()


def test_rows_come_back_as_they_were_written(path: Path) -> None:
    log = written(path, ROW, OTHER)
    assert log.rows == (ROW, OTHER)
    assert log.problems == ()
    assert path.read_bytes().startswith(",".join(HEADER).encode() + b"\n")
    assert path.read_bytes().count(b"\n") == 3


def test_nothing_to_append_touches_nothing(path: Path) -> None:
    assert append_exported(path, (), ExportLog()) is Appended.WRITTEN
    assert not path.exists()


def test_a_log_cut_at_any_byte_keeps_every_whole_row_and_reports_the_rest(path: Path) -> None:
    written(path, ROW, OTHER)
    data = path.read_bytes()
    ends = [i + 1 for i, byte in enumerate(data) if byte == 10]
    for cut in range(1, len(data)):
        path.write_bytes(data[:cut])
        log = read_export_log(path)
        whole = [row for row, end in zip((ROW, OTHER), ends[1:], strict=True) if cut >= end - 1]
        assert list(log.rows) == whole, cut
        torn = cut not in ends and cut + 1 not in ends
        assert [p.code for p in log.problems] == (["calendar-log-torn"] if torn else []), cut


def test_an_append_takes_away_a_last_row_that_was_cut_off(path: Path) -> None:
    written(path, ROW)
    path.write_bytes(path.read_bytes() + b"df856fb4,0,2026-")
    assert read_export_log(path).problems[0].place.line == 3
    log = written(path, OTHER)
    assert log.rows == (ROW, OTHER)
    assert log.problems == ()


def test_an_append_keeps_a_last_row_that_lacks_only_its_end(path: Path) -> None:
    written(path, ROW)
    path.write_bytes(path.read_bytes().rstrip(b"\n"))
    log = written(path, OTHER)
    assert (log.rows, log.problems) == ((ROW, OTHER), ())


@pytest.mark.parametrize(
    "damage",
    [("e2da28b697ee969a", "e2da"), (",3,2026", ",-3,2026"), (",3,2026", ",many,2026"), ("firm", "likely"),
     ("2026-03-10 18:00 Europe/Berlin", "10.03.2026"), (",30,", ",0,"), ("2026-03-08", "2026-02-30"),
     ("62ea5d52-8f3e-5282-8e77-3d349c9826b7", "")],
)
def test_a_damaged_row_is_reported_by_its_line_and_the_others_are_read(path: Path, damage: tuple[str, str]) -> None:
    written(path, ROW, OTHER)
    path.write_text(path.read_text(encoding="utf-8").replace(*damage, 1), encoding="utf-8", newline="")
    log = read_export_log(path)
    assert log.rows == (OTHER,)
    assert [(p.code, p.place.line) for p in log.problems] == [("calendar-log-row", 2)]


def test_a_byte_order_mark_and_windows_line_ends_are_read(path: Path) -> None:
    written(path, ROW, OTHER)
    path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes().replace(b"\n", b"\r\n"))
    assert read_export_log(path).rows == (ROW, OTHER)


def test_a_foreign_first_line_stops_the_export_instead_of_starting_at_zero(path: Path) -> None:
    path.write_text("date;title\n2026-03-10;x\n")
    log = read_export_log(path)
    assert log.rows == ()
    assert [p.code for p in log.problems] == ["calendar-log-header"]


def test_of_two_merged_logs_the_highest_number_holds_wherever_it_stands(path: Path) -> None:
    newer = replace(ROW, sequence=5)
    log = written(path, newer, ROW, replace(ROW, stamp=NOW + timedelta(days=9)))
    assert log.latest() == {ROW.uid: newer}
    later = replace(newer, stamp=NOW + timedelta(seconds=1))
    assert written(path, later).latest()[ROW.uid] == later


def test_two_exports_at_once_do_not_give_one_number_twice(path: Path) -> None:
    seen = read_export_log(path)
    assert append_exported(path, (ROW,), seen) is Appended.WRITTEN
    assert append_exported(path, (OTHER,), seen) is Appended.CHANGED
    assert read_export_log(path).rows == (ROW,)


def test_a_held_lock_is_told_not_waited_for_for_ever(path: Path) -> None:
    with filelock.FileLock(f"{path}.lock"):
        assert append_exported(path, (ROW,), ExportLog(), timeout_s=0.05) is Appended.BUSY
    assert not path.exists()


def test_a_full_disk_leaves_the_log_as_it_was(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    before = written(path, ROW)
    data, write = path.read_bytes(), os.write

    def full(handle: int, part: bytes) -> int:
        if len(part) > 20:
            return write(handle, bytes(part)[:20])
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "write", full)
    with pytest.raises(OSError, match="No space"):
        append_exported(path, (OTHER, OTHER), before)
    monkeypatch.undo()
    assert path.read_bytes() == data


def test_a_row_with_a_line_break_in_it_is_our_own_mistake(path: Path) -> None:
    with pytest.raises(ValueError, match="one line"):
        append_exported(path, (replace(ROW, title="two\nlines"),), ExportLog())


def test_a_lost_log_is_filled_from_the_calendar_file_and_the_next_export_changes_nothing(tmp_path: Path) -> None:
    p = plan(task(title='Salt, "mixed"; \\n \\\\ 🐠'), task("fish/add", date(2026, 4, 1), tentative=True), phase())
    data, first = calendar_from_plan(p, rulebook(), ExportLog(), now=NOW, journal="j1")
    moved = plan(task(day=date(2026, 3, 15), title=p.tasks[0].title), phase())
    data, second = calendar_from_plan(moved, rulebook(), ExportLog(first.rows), now=NOW + timedelta(days=1), journal="j1")
    target = tmp_path / "reef.ics"
    target.write_bytes(data)
    seeds, problems = seed_from_target(read_target(target), target)
    assert problems == ()
    number = first.rows[0].sequence
    assert {(s.key, s.state, s.sequence - number) for s in seeds} == {
        ("water/mix-salt", "firm", 1440), ("fish/add", "cancelled", 1440), ("phase/cycle", "provisional", 0), ("end", "firm", 0),
        ("day/2026-03-10", "cancelled", 1440), ("day/2026-03-15", "firm", 1440)}
    again, third = calendar_from_plan(moved, rulebook(), ExportLog().seeded(seeds), now=NOW + timedelta(days=5), journal="j1")
    assert third.rows == ()
    assert again == data


@pytest.mark.parametrize("data", [b"my notes", b"BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:other\r\nEND:VCALENDAR\r\n", b""])
def test_a_file_of_another_program_is_never_taken_for_ours(tmp_path: Path, data: bytes) -> None:
    target = tmp_path / "mine.ics"
    target.write_bytes(data)
    found = read_target(target)
    assert (found.there, found.uid, found.rows) == (True, "", ())
    refused = found.refused(target, calendar_uid(TANK_ID))
    assert refused is not None
    assert refused.code == "calendar-foreign"


def test_a_calendar_of_another_tank_or_a_feed_of_this_one_is_refused(tmp_path: Path) -> None:
    target = tmp_path / "reef.ics"
    target.write_bytes(calendar_from_plan(plan(task()), rulebook(), ExportLog(), now=NOW)[0])
    found = read_target(target)
    assert found.refused(target, calendar_uid(TANK_ID)) is None
    assert found.refused(target, calendar_uid(TANK_ID, "jobs")) is not None
    assert found.refused(target, calendar_uid("11111111-2222-4333-8444-555555555555")) is not None
    assert Target(False).refused(target, "x") is None


def test_a_file_that_was_cut_off_still_gives_the_rows_that_are_whole(tmp_path: Path) -> None:
    data, revision = calendar_from_plan(plan(task("a/one"), task("a/two")), rulebook(), ExportLog(), now=NOW)
    target = tmp_path / "reef.ics"
    for length in range(data.index(b"BEGIN:VEVENT"), len(data), 97):
        target.write_bytes(data[:length])
        assert set(read_target(target).rows) <= set(revision.rows)
    target.write_bytes(data)
    assert set(read_target(target).rows) == set(revision.rows)


def test_a_pretended_calendar_seeds_no_log(tmp_path: Path) -> None:
    target = tmp_path / "reef.ics"
    target.write_bytes(calendar_from_plan(plan(task()), rulebook(), ExportLog(), now=None)[0])
    found = read_target(target)
    assert found.pretended
    assert found.rows
    assert seed_from_target(found, target) == ((), ())


def test_the_better_of_two_revisions_is_taken_from_file_or_log() -> None:
    log = ExportLog((ROW, OTHER))
    assert log.better_of((replace(ROW, sequence=4), replace(OTHER, sequence=2), replace(ROW, uid="new"))) == (replace(ROW, sequence=4), replace(ROW, uid="new"))


def test_other_calendars_of_the_tank_are_found(tmp_path: Path) -> None:
    real, pretended, target = tmp_path / "old.ics", tmp_path / "test.ics", tmp_path / "new.ics"
    real.write_bytes(calendar_from_plan(plan(task()), rulebook(), ExportLog(), now=NOW)[0])
    pretended.write_bytes(calendar_from_plan(plan(task()), rulebook(), ExportLog(), now=None)[0])
    (tmp_path / "family.ics").write_text("BEGIN:VCALENDAR\n", encoding="utf-8")
    assert other_targets((tmp_path, tmp_path), calendar_uid(TANK_ID), target) == [real]
    assert other_targets((tmp_path,), calendar_uid(TANK_ID), real) == []


def test_entries_that_lost_our_line_are_counted_and_the_others_are_kept(tmp_path: Path) -> None:
    data, _ = calendar_from_plan(plan(task("a/one"), task("a/two")), rulebook(), ExportLog(), now=NOW)
    target = tmp_path / "reef.ics"
    target.write_bytes(data.replace(b"X-NEWTANK-ROW", b"X-OTHER", 1))
    seeds, problems = seed_from_target(read_target(target), target)
    assert len(seeds) == 3
    assert [p.code for p in problems] == ["calendar-entry"]


def test_no_calendar_file_gives_no_rows(tmp_path: Path) -> None:
    assert read_target(tmp_path / "none.ics") == Target(False)


def test_an_unchanged_calendar_file_is_not_written_again(tmp_path: Path) -> None:
    target = tmp_path / "reef.ics"
    assert put_whole_file(target, b"one") is True
    os.utime(target, (1, 1))
    assert put_whole_file(target, b"one") is False
    assert target.stat().st_mtime == 1
    assert put_whole_file(target, b"two") is True
    assert [f.name for f in tmp_path.iterdir()] == ["reef.ics"]


def journal_row(day: date, value: str) -> Row:
    return Row(day, None, "reading", "ammonia", value, "mg/L", "display", "", 2, 0.1, 0.1, 0.0, 1.0)


def test_the_journals_mark_changes_with_a_fact_and_not_with_the_order_of_rows() -> None:
    one, two = journal_row(date(2026, 3, 1), "0.5"), journal_row(date(2026, 3, 2), "0.25")
    mark = journal_mark(index_journal((one, two)))
    assert mark == journal_mark(index_journal((two, replace(one, line=9))))
    assert mark != journal_mark(index_journal((one,)))
    assert mark != journal_mark(index_journal((one, replace(two, value="0.3"))))
    assert mark != journal_mark(index_journal((one, two), (Unreadable(4, None, None, None),)))


def test_rows_and_the_calendar_are_on_the_disk_before_the_call_returns(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    sizes: list[int] = []
    sync = os.fsync

    def watched(handle: int) -> None:
        sizes.append(os.fstat(handle).st_size)
        sync(handle)

    monkeypatch.setattr(os, "fsync", watched)
    append_exported(path, (ROW,), ExportLog())
    assert path.stat().st_size in sizes
    put_whole_file(path.parent / "reef.ics", b"x" * 4321)
    assert 4321 in sizes


def test_a_first_line_that_was_cut_off_is_completed_by_the_next_export(path: Path) -> None:
    for length in range(1, len(",".join(HEADER)) + 1):
        path.write_bytes(",".join(HEADER).encode()[:length])
        log = written(path, ROW)
        assert (log.rows, log.problems) == ((ROW,), ())
