"""Whatever is written is read back: the journal's print/parse round trip, in every form a spreadsheet may leave."""

from __future__ import annotations

from datetime import datetime, timedelta, timezone
from pathlib import Path
from tempfile import TemporaryDirectory
from zoneinfo import ZoneInfo

from hypothesis import given, settings
from hypothesis import strategies as st

from planner.files.journal import KINDS, read_journal
from planner.files.journal_form import COLUMNS, Form, NewRow, cut_line, decode_lines, form_of, print_row
from planner.files.journal_write import append_rows, undo_rows, write_when
from planner.terms.readings import READINGS
from planner.terms.records import WATERS

BERLIN = ZoneInfo("Europe/Berlin")
texts = st.text(st.characters(exclude_categories=["Cs"]), max_size=30)
orders = st.permutations(range(7)).map(tuple)
forms = st.builds(
    lambda separator, comma, order: Form(separator, comma and separator == ";", "\n", order),
    st.sampled_from([",", ";", "\t"]), st.booleans(), st.none() | orders)


def plain(text: str) -> str:
    """What a field keeps of a text: one line, single spaces, single quotes."""
    kept = "".join(" " if ord(c) < 32 or 127 <= ord(c) <= 159 or c in "\u2028\u2029" else c for c in text.replace('"', "'"))
    return " ".join(kept.split())


@given(st.builds(NewRow, *[texts] * 7), forms)
def test_any_row_is_cut_into_the_fields_it_was_printed_from(row: NewRow, form: Form) -> None:
    line = print_row(row, form)
    assert decode_lines(line) == [line]
    fields = cut_line(line, form)
    assert fields is not None
    expected = [plain(field) for field in row.fields]
    if form.decimal_comma:
        assert [f.replace(",", ".") for f in fields] == [f.replace(",", ".") for f in expected]
    else:
        assert fields == expected


@given(forms)
def test_the_form_of_a_file_is_told_from_its_header(form: Form) -> None:
    order = form.order or tuple(range(7))
    header = form.separator.join(COLUMNS[order.index(i)] for i in range(7))
    found = form_of([header])
    assert found.separator == form.separator
    assert (found.order or tuple(range(7))) == order


moments = st.builds(
    lambda minutes, quarter: datetime(2026, 1, 1, tzinfo=timezone(timedelta(minutes=15 * quarter))) + timedelta(minutes=minutes),
    st.integers(0, 600_000), st.integers(-48, 56))
whens = moments.map(write_when) | moments.map(lambda at: write_when(at.date()))
numbers = st.floats(0.001, 9).map(lambda x: f"{x:.3g}")
waters = st.sampled_from(WATERS)
notes = texts
readings = st.builds(
    lambda when, name, sign, value, where, note: NewRow(
        when, "reading", name, sign + ("7" if name == "ph" else "9" if name == "temperature" else value), READINGS[name].unit, where, note),
    whens, st.sampled_from(sorted(READINGS)), st.sampled_from(["", "", ">", "<"]), numbers, waters, notes)
others = st.builds(
    NewRow, whens, st.sampled_from(["done", "skipped", "event", "lost", "added"]), st.sampled_from(["a/b#2", "goby"]), st.sampled_from(["", "2"]),
    st.just(""), waters, notes)


@settings(max_examples=40, deadline=None)
@given(st.lists(readings | others, min_size=1, max_size=6))
def test_every_row_appended_is_read_back_as_written(rows: list[NewRow]) -> None:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "journal.csv"
        append_rows(path, rows)
        journal, problems = read_journal(path.read_bytes(), "journal.csv", None, BERLIN)
        assert problems == ()
        by_line = sorted(journal.rows, key=lambda r: r.line)
        assert [(r.kind, r.what, r.value, r.unit, r.where, r.note) for r in by_line] == [
            (r.kind, r.what, r.value, r.unit, r.where, plain(r.note)) for r in rows]
        assert [write_when(r.at or r.day) for r in by_line] == [r.when for r in rows]


@settings(max_examples=20, deadline=None)
@given(st.lists(readings | others, min_size=1, max_size=5))
def test_undoing_until_nothing_is_left_leaves_nothing_and_deletes_nothing(rows: list[NewRow]) -> None:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "journal.csv"
        append_rows(path, rows)
        before = path.read_bytes()
        for _ in rows:
            append_rows(path, undo_rows(read_journal(path.read_bytes(), "journal.csv", None, BERLIN)[0]))
        journal, problems = read_journal(path.read_bytes(), "journal.csv", None, BERLIN)
        assert (journal.rows, problems) == ((), ())
        assert path.read_bytes().startswith(before)


@given(st.binary(max_size=200) | texts.map(str.encode))
def test_no_content_whatever_breaks_the_reader(content: bytes) -> None:
    journal, problems = read_journal(b"when,kind,what,value,unit,where,note\n" + content, "journal.csv", None, BERLIN)
    lines = [line for line in decode_lines(content) if line.strip(" ,;\t\u00a0\x0b\x0c\x1c\x1d\x1e\x1f\x85")]
    assert len(journal.rows) + len(journal.unreadable) <= len(lines) + 1
    assert {p.place.line for p in problems} >= {u.line for u in journal.unreadable}


def test_every_kind_is_known_to_the_reader() -> None:
    assert len(set(KINDS)) == 12
