"""Writing the journal: whole rows in the file's own form, safe against a crash at any byte, and undone by new rows."""

from __future__ import annotations

import multiprocessing
import threading
from datetime import UTC, date, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from filelock import FileLock

from planner.files.journal import HEADER, read_journal
from planner.files.journal_write import NewRow, append_rows, last_entry, make_tag, tag_of, tags_in, undo_rows, with_tag, write_when
from planner.terms.problems import Problem
from planner.terms.records import Journal, Row

BERLIN = ZoneInfo("Europe/Berlin")
PH = NewRow("2026-03-04T18:00+01:00", "reading", "ph", "8.1", "", "display", "clear, cold [k3f9]")
AMMONIA = NewRow("2026-03-04T18:00+01:00", "reading", "ammonia", "0.25", "mg/L as N", "display", "[k3f9]")


def read(path: Path) -> tuple[Journal, tuple[Problem, ...]]:
    return read_journal(path.read_bytes(), "journal.csv", None, BERLIN)


def facts(row: Row) -> tuple[object, ...]:
    return (row.day, row.at, row.kind, row.what, row.value, row.unit, row.where, row.low, row.high)


def test_a_missing_file_is_made_with_its_header(tmp_path: Path) -> None:
    path = tmp_path / "journal.csv"
    stands = append_rows(path, [PH])
    assert path.read_bytes() == stands
    assert stands.decode().splitlines()[0] == HEADER
    journal, problems = read(path)
    assert problems == ()
    assert journal.rows[0].note == "clear, cold [k3f9]"


def test_nothing_to_write_writes_nothing(tmp_path: Path) -> None:
    assert append_rows(tmp_path / "journal.csv", []) == b""
    assert not (tmp_path / "journal.csv").exists()


def test_an_empty_file_gets_its_header(tmp_path: Path) -> None:
    for content in (b"", b"\n", b"\xef\xbb\xbf"):
        path = tmp_path / "journal.csv"
        path.write_bytes(content)
        append_rows(path, [PH])
        journal, problems = read(path)
        assert (len(journal.rows), problems) == (1, ())


def test_what_stands_in_the_file_is_never_touched(tmp_path: Path) -> None:
    path = tmp_path / "journal.csv"
    before = f"{HEADER}\r\n2026-03-01,reading,ph,8.0,,,by hand\r\nnonsense\r\n".encode()
    path.write_bytes(before)
    append_rows(path, [PH, AMMONIA])
    assert path.read_bytes().startswith(before)


def test_the_file_keeps_its_own_form(tmp_path: Path) -> None:
    path = tmp_path / "journal.csv"
    header = HEADER.replace(",", ";")
    path.write_bytes(b"\xef\xbb\xbf" + f"{header}\r\n04.03.2026;reading;ph;8,0;;;\r\n".encode())
    append_rows(path, [AMMONIA])
    assert path.read_bytes().endswith(b';ammonia;0,25;mg/L as N;display;"[k3f9]"\r\n')
    journal, problems = read(path)
    assert problems == ()
    assert [r.low for r in journal.of("reading", "ammonia", date(2026, 3, 4))] == [0.25]


def test_a_semicolon_file_with_decimal_points_keeps_them(tmp_path: Path) -> None:
    path = tmp_path / "journal.csv"
    path.write_text(f"{HEADER.replace(',', ';')}\n2026-03-04;reading;ph;8.0;;;\n", "utf-8")
    assert b";ammonia;0.25;" in append_rows(path, [AMMONIA])


def test_columns_in_another_order_stay_in_it(tmp_path: Path) -> None:
    path = tmp_path / "journal.csv"
    path.write_text("value,what,kind,when,note,unit,where,mine\n8.0,ph,reading,2026-03-04,,,display,\n", "utf-8")
    append_rows(path, [AMMONIA])
    journal, problems = read(path)
    assert problems == ()
    assert {facts(r)[3] for r in journal.rows} == {"ph", "ammonia"}


def test_a_crash_at_any_byte_of_an_append_loses_no_earlier_row(tmp_path: Path) -> None:
    path = tmp_path / "journal.csv"
    append_rows(path, [NewRow("2026-03-01", "reading", "ph", "8.0", note="ümläut"), NewRow("2026-03-02", "event", "leak", note="by the pump")])
    before, whole = path.read_bytes(), read(path)[0].rows
    event = NewRow("2026-03-05", "event", "failed", note="leak-test/watch [k3f9]")
    append_rows(path, [PH, AMMONIA, event])
    after, full = path.read_bytes(), read(path)[0].rows
    for cut in range(len(before), len(after) + 1):
        path.write_bytes(after[:cut])
        journal, problems = read(path)
        assert journal.rows[: len(whole)] == whole, cut
        torn = after[len(before) : cut].rpartition(b"\n")[2]
        for row in journal.rows[len(whole) :]:
            assert facts(row) in [facts(r) for r in full], (cut, row)
        if torn and not problems:
            # Not reported: then every fact of the row is there, and only its note can be short.
            assert any(torn.decode().startswith(",".join(line.split(",")[:6]) + ",") for line in after.decode().splitlines()), (cut, torn)
        # The next append heals: the torn text has a line of its own, and the new row is whole.
        append_rows(path, [NewRow("2026-04-01", "reading", "ph", "8.3")])
        healed, healed_problems = read(path)
        assert healed.rows[: len(whole)] == whole, cut
        assert healed.rows[-1].value == "8.3", cut
        assert torn in path.read_bytes()
        assert bool(healed_problems) == bool(problems), cut


def test_a_torn_row_is_reported_at_nearly_every_byte(tmp_path: Path) -> None:
    path = tmp_path / "journal.csv"
    path.write_text(HEADER + "\n", "utf-8")
    line = append_rows(path, [PH]).splitlines()[-1]
    silent = []
    for cut in range(1, len(line)):
        path.write_bytes(f"{HEADER}\n".encode() + line[:cut])
        if not read(path)[1]:
            silent.append(line[:cut])
    # Only the row cut before its note cannot be told from a row whose note is empty.
    assert silent == [line[: line.index(b'"')]]


def test_zeros_left_by_a_power_cut_are_reported_and_healed(tmp_path: Path) -> None:
    path = tmp_path / "journal.csv"
    path.write_bytes(f"{HEADER}\n2026-03-04,reading,ph,8.1,,,\n".encode() + b"\0" * 40)
    assert [p.code for p in read(path)[1]] == ["torn-row"]
    append_rows(path, [AMMONIA])
    assert len(read(path)[0].rows) == 2


def _append_many(path: str, name: str) -> None:
    for i in range(20):
        append_rows(path, [NewRow("2026-03-04", "event", name, str(i)), NewRow("2026-03-04", "event", name, str(i))])


def test_two_writers_at_once_lose_nothing_and_mix_nothing(tmp_path: Path) -> None:
    path = tmp_path / "journal.csv"
    context = multiprocessing.get_context("spawn")
    workers = [context.Process(target=_append_many, args=(str(path), name)) for name in ("leak", "smell")]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join(60)
    journal, problems = read(path)
    assert problems == ()
    assert len(journal.rows) == 80
    by_line = sorted(journal.rows, key=lambda r: r.line)
    assert all(a.what == b.what and a.value == b.value for a, b in zip(by_line[::2], by_line[1::2], strict=True))


def test_a_writer_waits_while_another_holds_the_journal(tmp_path: Path) -> None:
    path = tmp_path / "journal.csv"
    append_rows(path, [PH])
    before = path.read_bytes()
    with FileLock(tmp_path / ".journal.csv.lock"):
        writer = threading.Thread(target=append_rows, args=(path, [AMMONIA]))
        writer.start()
        writer.join(0.3)
        assert writer.is_alive()
        assert path.read_bytes() == before
    writer.join(10)
    assert len(read(path)[0].rows) == 2


def test_undo_takes_back_all_rows_of_the_last_command_and_then_the_one_before(tmp_path: Path) -> None:
    path = tmp_path / "journal.csv"
    append_rows(path, [NewRow("2026-03-01", "reading", "ph", "8.0", note="by hand")])
    append_rows(path, [NewRow("2026-03-02", "done", "site/level", note="[aaaa]")])
    append_rows(path, [PH, AMMONIA])
    for left in (("done", "reading"), ("reading",), ()):
        append_rows(path, undo_rows(read(path)[0]))
        journal, problems = read(path)
        assert problems == ()
        assert tuple(sorted(r.kind for r in journal.rows)) == left
    assert undo_rows(read(path)[0]) == ()
    assert path.read_text("utf-8").count("\n") == 9  # nothing was deleted


def test_an_undo_row_copies_all_but_its_kind(tmp_path: Path) -> None:
    path = tmp_path / "journal.csv"
    append_rows(path, [AMMONIA])
    assert undo_rows(read(path)[0]) == (
        NewRow("2026-03-04T18:00+01:00", "undo", "reading:ammonia", "0.25", "mg/L as N", "display", "[k3f9]"),)


def test_the_last_entry_is_the_last_in_the_file_not_in_time(tmp_path: Path) -> None:
    path = tmp_path / "journal.csv"
    append_rows(path, [PH, AMMONIA])
    append_rows(path, [NewRow("2026-01-01", "event", "smell", note=with_tag("late to tell", "bbbb"))])
    assert [(r.what, r.note) for r in last_entry(read(path)[0])] == [("smell", "late to tell [bbbb]")]


def test_tags_follow_their_token_and_are_not_given_twice(tmp_path: Path) -> None:
    first = make_tag("2026-03-04T18:00")
    assert first == make_tag("2026-03-04T18:00")
    assert first != make_tag("2026-03-04T18:01")
    assert make_tag("2026-03-04T18:00", {first}) != first
    assert tag_of(with_tag("a note", first)) == first
    assert tag_of("a note") is None
    path = tmp_path / "journal.csv"
    append_rows(path, [PH])
    assert tags_in(read(path)[0]) == {"k3f9"}


def test_times_are_written_with_their_offset() -> None:
    assert write_when(datetime(2026, 3, 4, 18, 0, tzinfo=BERLIN)) == "2026-03-04T18:00+01:00"
    assert write_when(datetime(2026, 7, 4, 18, 0, 5, tzinfo=UTC)) == "2026-07-04T18:00:05+00:00"
    assert write_when(date(2026, 3, 4)) == "2026-03-04"
    with pytest.raises(ValueError, match="offset"):
        write_when(datetime(2026, 3, 4, 18, 0))
