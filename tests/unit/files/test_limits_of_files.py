"""What a keeper's files may say, on both sides of each limit, and where a mistake in them is shown. Contract of this project; limits are common practice, no source."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from planner.files.calendar_log import Exported, ExportLog, line_from_row, row_from_line
from planner.files.journal import HEADER, confirmed, is_confirmed, read_journal
from planner.files.journal_form import Form, NewRow, cut_line, form_of, print_row
from planner.files.journal_time import earliest_day, read_day
from planner.files.journal_write import last_entry, make_tag, tag_of, tags_in, undo_entry, undo_line, undo_rows, with_tag, write_when
from planner.files.read_file import FileRefused, is_utf16, read_plain_file
from planner.files.tank import known_paths, read_tank, tank_value
from planner.files.yaml_tree import decode_text, line_of, read_yaml
from planner.terms.problems import Problem
from planner.terms.units import Refusal
from tests.unit.files.test_calendar_log import NOW, ROW
from tests.unit.files.test_journal import ION_KIT, NO_KIT, read, row

DAY = "2026-03-04"


def mistake(line: str, tank: object = NO_KIT) -> Problem:
    _, (problem,) = read(line, tank=tank)
    return problem


# --- values of the journal


@pytest.mark.parametrize(
    ("cells", "low"),
    [("changed_water,water,100,%", 100), ("changed_water,water,0,%", 0), ("changed_water,water,10 %,", 10), ("changed_water,,12,L", 12), ("poured,water,50000,L", 50_000), ("poured,water,101,L", 101), ("added,snail,1,", 1), ("added,snail,,", 1), ("added,snail,9999,", 9999), ("added,snail,2.0,", 2),
     ("lost,snail,3,", 3), ("dosed,ammonia,50,mg/L as N", 50), ("dosed,ammonia,2,ppm", 2), ("dosed,calcium,2000,mg/L", 2000), ("dosed,calcium,100000,g", 100_000), ("dosed,bicarbonate,2,dKH", 2), ("dosed,soda,2,dKH", 2), ("dosed,vitamins,5,mL", 0.005), ("dosed,ammonia,0,g", 0), ("event,leak,3,", 3)],
)
def test_a_value_counts_up_to_its_limit(cells: str, low: float) -> None:
    found = row(f"{DAY},{cells},,")
    assert found.low == pytest.approx(low) and found.high == found.low


@pytest.mark.parametrize(
    ("cells", "code", "field"),
    [("changed_water,water,100.1,%", "impossible-value", 3), ("changed_water,water,-1,%", "impossible-value", 3), ("changed_water,water,10,", "unit-missing", 4), ("changed_water,water,,L", "not-a-number", 3), ("poured,water,10,%", "unit-unknown", 4), ("poured,water,50001,L", "impossible-value", 3), ("poured,water,10,kg", "unit-unknown", 4),
     ("added,snail,0,", "not-a-whole-number", 3), ("added,snail,10000,", "not-a-whole-number", 3), ("added,snail,2.5,", "not-a-whole-number", 3), ("added,snail,many,", "not-a-whole-number", 3), ("dosed,ammonia,51,mg/L as N", "impossible-value", 3), ("dosed,vitamins,100001,g", "impossible-value", 3),
     ("dosed,ammonia,-1,g", "impossible-value", 3), ("dosed,ammonia,2,", "unit-missing", 4), ("dosed,ammonia,2,kn", "unit-unknown", 4), ("postponed,site/level,soon,", "not-a-date", 3), ("reading,ph,13,", "impossible-value", 3), ("reading,ph,8,dKH", "unit-unknown", 4), ("reading,phh,8,", "unknown-reading", 2), ("redding,ph,8,", "unknown-kind", 1), ("reading,,8,", "what-missing", 2), ("added,,2,", "what-missing", 2)],
)
def test_a_value_beyond_its_limit_is_refused_where_it_stands(cells: str, code: str, field: int) -> None:
    problem, line = mistake(f"{DAY},{cells},,"), f"{DAY},{cells},,"
    assert (problem.code, problem.place.line, problem.place.column) == (code, 2, 1 + sum(len(c) + 1 for c in line.split(",")[:field]))


@pytest.mark.parametrize(("line", "column"), [("soon,reading,ph,8.1,,,", 1), (f"{DAY}, redding,ph,8.1,,,", 13), (f"{DAY},reading,ph,8.1,,kitchen,", 28), (f'{DAY},reading,"phh",8.1,,,', 1), (f'{DAY},redding,ph,8.1,,,"a note"', 12)])
def test_the_mark_stands_under_the_field_unless_quotes_hide_where_it_begins(line: str, column: int) -> None:
    assert mistake(line).place.column == column


def test_a_check_that_failed_says_which_one() -> None:
    assert mistake(f"{DAY},event,failed,,,,").code == "failed-without-task" and row(f"{DAY},event,failed,,,,site/level").what == "failed"
    assert row(f"{DAY},event,leak,,,,").note == ""


def test_a_word_that_nobody_knows_counts_if_it_is_meant() -> None:
    assert mistake(f"{DAY},event,lek,,,,").code == "unknown-event" and mistake(f"{DAY},dosed,amonia,2,g,,").code == "unknown-dose"
    assert row(f"{DAY},event,lek,,,,confirmed").what == "lek" and row(f"{DAY},event,visit,,,,").what == "visit"


def test_a_note_confirms_by_the_whole_word() -> None:
    assert [is_confirmed(note) for note in ("", "confirmed", "yes confirmed [ab12]", "unconfirmed")] == [False, True, True, False]
    assert [confirmed(note) for note in ("", "a", "a confirmed")] == ["confirmed", "a confirmed", "a confirmed"]


def test_only_rows_with_something_in_them_are_rows() -> None:
    for empty in (",,,,,,", " , ,,,,,", ",,"):
        assert read(empty) [1] == ()
    assert read(f"{DAY},reading,ph,8.1,,,,,")[1] == () and mistake(f"{DAY},reading,ph,8.1,,,,more").code == "row-too-long" and mistake(f"{DAY},reading,ph,8.1,,").code == "row-incomplete"
    assert mistake(f'{DAY},reading,ph,8.1,,,"open').code == "row-incomplete"


@pytest.mark.parametrize(("length", "told"), [(10_000, False), (10_001, True)])
def test_a_field_of_ten_thousand_signs_is_read_and_no_longer_one(length: int, told: bool) -> None:
    _, problems = read(f"{DAY},reading,ph,8.1,,,{'x' * length}")
    assert [p.code for p in problems] == (["field-too-long"] if told else [])


def test_a_misspelt_kind_hides_what_fits_it_and_no_more() -> None:
    def hidden(cells: str) -> tuple[str | None, str | None]:
        (bad,) = read(f"{DAY},{cells},,,,")[0].unreadable
        return bad.kind, bad.what

    assert hidden("readng,ammonia") == ("reading", "ammonia") and hidden("readng,leak") == (None, None) and hidden("evnt,leak") == ("event", "leak") and hidden("dosd,ammonia") == ("dosed", "ammonia") and hidden("zzz,ammonia") == (None, None) and hidden("doned,site/level") == (None, None)


# --- undo


def test_an_undo_takes_back_the_last_of_equal_rows_and_one_too_many_is_told() -> None:
    tick, undo = f"{DAY},done,site/level,,,display,", f"{DAY},undo,done:site/level,,,display,"
    for ticks, undos, left, problems in ((2, 1, [2], 0), (2, 2, [], 0), (1, 2, [], 1), (3, 1, [2, 3], 0), (0, 1, [], 1)):
        journal, told = read(*[tick] * ticks, *[undo] * undos)
        assert ([r.line for r in journal.rows], len(told)) == (left, problems)
        assert all(p.code == "undo-without-row" and p.place.line == 1 + ticks + undos for p in told)
        assert len(journal.taken_back) == ticks - len(left) + undos


@pytest.mark.parametrize("what", ["reading", "undo:done:x", "zzz:ph", ":ph"])
def test_an_undo_names_the_kind_and_the_subject(what: str) -> None:
    assert mistake(f"{DAY},undo,{what},8.1,,display,").code in ("undo-unclear", "what-missing")


def test_a_damaged_line_is_taken_back_by_its_mark() -> None:
    journal, problems = read("soon,reading,ph,8.1,,,", "later,reading,ph,8.2,,,")
    made = undo_line(journal, 3, date(2026, 3, 4))
    assert len(problems) == 2 and made is not None and undo_line(journal, 4, date(2026, 3, 4)) is None
    after, told = read("soon,reading,ph,8.1,,,", "later,reading,ph,8.2,,,", print_row(made, Form()))
    assert [b.line for b in after.unreadable] == [2] and [p.place.line for p in told] == [2]


def test_the_rows_of_one_command_are_taken_back_together_the_newest_first() -> None:
    journal, _ = read(f"{DAY},reading,ph,8.1,,display,[ab12]", f"{DAY},done,site/level,,,display,[ab12]", f"{DAY},reading,ph,8.2,,display,[cd34]", f"{DAY},reading,ph,8.3,,display,by hand")
    assert [r.value for r in undo_entry(journal, "ab12")] == ["", "8.1"] and [r.value for r in undo_entry(journal, "cd34")] == ["8.2"] and undo_entry(journal, "zz99") == ()
    assert [r.line for r in last_entry(journal)] == [5] and [r.value for r in undo_rows(journal)] == ["8.3"] and last_entry(read()[0]) == () and undo_rows(read()[0]) == ()
    tagged, _ = read(f"{DAY},reading,ph,8.1,,display,[ab12]", f"{DAY},reading,ph,8.0,,display,", f"{DAY},done,site/level,,,display,[ab12]")
    assert [r.line for r in last_entry(tagged)] == [2, 4] and tags_in(tagged) == {"ab12"}
    assert undo_line(journal, 2, date(2026, 3, 4)) == NewRow(DAY, "undo", "reading:ph", "8.1", "", "display", "[ab12]")


@pytest.mark.parametrize(("note", "tag"), [("", None), ("[abcd]", "abcd"), ("a [abcd]", "abcd"), ("[abc]", None), ("[abcd] a", None), ("[ABCD]", None), ("[a2b3c4]", "a2b3c4")])
def test_a_tag_stands_at_the_end_of_a_note_and_has_four_signs(note: str, tag: str | None) -> None:
    assert tag_of(note) == tag and tag_of(with_tag(note, "zz99")) == "zz99"


def test_a_tag_is_free_and_grows_where_many_are_taken() -> None:
    first = make_tag("token")
    second = make_tag("token", {first})
    assert len(first) == len(second) == 4 and first != second and make_tag("token") == first != make_tag("other")

    class AllOfFour:
        def __contains__(self, tag: object) -> bool:
            return len(str(tag)) == 4

    assert len(make_tag("token", AllOfFour())) == 5


@pytest.mark.parametrize(("second", "micro", "text"), [(0, 0, "2026-03-04T18:30+00:00"), (5, 0, "2026-03-04T18:30:05+00:00"), (0, 7, "2026-03-04T18:30:00+00:00")])
def test_a_time_has_seconds_where_it_has_some(second: int, micro: int, text: str) -> None:
    assert write_when(datetime(2026, 3, 4, 18, 30, second, micro, tzinfo=UTC)) == text and write_when(date(2026, 3, 4)) == DAY
    with pytest.raises(ValueError, match="offset"):
        write_when(datetime(2026, 3, 4, 18, 30))


# --- days and times


@pytest.mark.parametrize(
    ("text", "day"),
    [("1990-01-01", date(1990, 1, 1)), ("2199-12-31", date(2199, 12, 31)), ("2026-3-4", date(2026, 3, 4)), ("2026.3.4", date(2026, 3, 4)), ("13.3.2026", date(2026, 3, 13)), ("3.4.2026", date(2026, 4, 3)), ("13/3/2026", date(2026, 3, 13)), ("3/13/2026", date(2026, 3, 13)), ("4/4/2026", date(2026, 4, 4)), ("31/12/26", date(2026, 12, 31))],
)
def test_a_day_is_read_where_it_can_be_one_day_alone(text: str, day: date) -> None:
    assert read_day(text) == day == earliest_day(text)


@pytest.mark.parametrize(("text", "code", "first"), [("1989-12-31", "not-a-date", None), ("2200-01-01", "not-a-date", None), ("2026-13-01", "not-a-date", None), ("32.1.2026", "not-a-date", None), ("3/4/2026", "ambiguous-date", date(2026, 3, 4)), ("12-11-10", "ambiguous-date", date(2010, 11, 12)), ("26-12-31", "ambiguous-date", date(2026, 12, 31)), ("123/4/26", "not-a-date", None), ("1/2/3", "not-a-date", None), ("", "date-missing", None), ("today", "not-a-date", None)])
def test_a_day_that_is_none_or_may_be_two_is_refused(text: str, code: str, first: date | None) -> None:
    found = read_day(text)
    assert isinstance(found, Refusal) and found.code == code and earliest_day(text) == first


@pytest.mark.parametrize(
    ("clock", "hour"),
    [("12:30 AM", 0), ("12:30 PM", 12), ("1:30 am", 1), ("11:30 pm", 23), ("00:30", 0), ("23:30", 23), ("13:30 pm", None), ("0:30 am", None), ("24:30", None), ("18:60", None), ("18:30+25:00", None), ("18:30+01:60", None), ("18:30+01:59", 18), ("18:30Z", 18), ("18:30 utc", 18), ("18:30-05:00", 18)],
)
def test_a_time_of_day_is_read_on_both_clocks(clock: str, hour: int | None) -> None:
    journal, problems = read(f"{DAY} {clock},reading,ph,8.1,,,")
    assert ([r.at.hour for r in journal.rows if r.at], [p.code for p in problems]) == (([], ["not-a-time"]) if hour is None else ([hour], []))


# --- the form of a journal


@pytest.mark.parametrize(("header", "separator"), [(HEADER, ","), (HEADER.replace(",", ";"), ";"), (HEADER.replace(",", "\t"), "\t"), (HEADER.upper(), ","), ('"when","kind","what","value","unit","where","note"', ",")])
def test_a_header_tells_what_parts_the_fields(header: str, separator: str) -> None:
    found = form_of(["", header, ""])
    assert (found.separator, found.header_line, found.order, found.width) == (separator, 2, None, 7)


def test_other_columns_and_another_order_are_kept() -> None:
    found = form_of(["kind,when,what,value,unit,where,note,mine"])
    assert (found.order, found.width, found.header_line) == ((1, 0, 2, 3, 4, 5, 6), 8, 1)
    assert cut_line("reading,2026-03-04,ph,8.1,,display,hello,x", found) == ["2026-03-04", "reading", "ph", "8.1", "", "display", "hello"]
    assert print_row(NewRow(DAY, "reading", "ph", "8.1", "", "display", "hello"), found) == 'reading,2026-03-04,ph,8.1,,display,"hello",'
    extra = form_of([HEADER + ",mine"])
    assert cut_line(f"{DAY},reading,ph,8.1,,,,x", extra) == [DAY, "reading", "ph", "8.1", "", "", ""]
    assert form_of([f"{DAY};reading;ph;8.1;;;"]).separator == ";" and form_of([f"{DAY};reading;ph;8.1;;;"]).header_line == 0 and form_of(["", " "]).header_line == 0


@pytest.mark.parametrize(("rows", "comma"), [([], True), ([f"{DAY};reading;ph;8,1;;;"], True), ([f"{DAY};reading;ph;8.1;;;"], False), ([f"{DAY};reading;ph;8;;;", f"{DAY};reading;ph;>8.1;;;"], False), ([f"{DAY};done;x;;;;"], True)])
def test_a_file_parted_by_semicolons_has_decimal_commas_unless_its_values_show_points(rows: list[str], comma: bool) -> None:
    head = HEADER.replace(",", ";")
    form = form_of([head, *rows])
    assert form.decimal_comma is comma and print_row(NewRow(DAY, "reading", "ph", "8.1"), form) == f'{DAY};reading;ph;{"8,1" if comma else "8.1"};;;""'
    assert not form_of([HEADER, f'{DAY},reading,ph,"8,1",,,']).decimal_comma and not form_of([HEADER.replace(",", "\t")]).decimal_comma
    headless = form_of(rows) if rows else form_of([f"{DAY};reading;ph;8,1;;;"])
    assert headless.decimal_comma is comma


@pytest.mark.parametrize(("value", "printed"), [("8.1", "8,1"), (">8.1", ">8,1"), ("-0.5", "-0,5"), ("1.5e3", "1,5e3"), ("8", "8"), ("a.b", "a.b"), ("1.2.3", "1.2.3")])
def test_only_a_number_gets_a_decimal_comma(value: str, printed: str) -> None:
    assert print_row(NewRow(DAY, "reading", "ph", value, note="1.5"), Form(";", True)) == f'{DAY};reading;ph;{printed};;;"1.5"'


@pytest.mark.parametrize(("line", "cells"), [('a,b,c,d,e,f,"g, h"', 7), ('a,b,c,d,e,f,"g', None), ('a,b,c,d,e,f,"g ""h"""', 7), ('a,b,"c, d",e,f,g,h', 7), ("a,b,c", 3), ("a,b,c,d,e,f,g,,", 7), ("a,b,c,d,e,f,g,h", 8)])
def test_a_line_is_cut_into_its_fields(line: str, cells: int | None) -> None:
    found = cut_line(line, Form())
    assert (None if found is None else len(found)) == cells


# --- the calendar log


@pytest.mark.parametrize(
    ("changes", "sound"),
    [({}, True), ({"sequence": 0}, True), ({"sequence": -1}, False), ({"sequence": 2**31 - 1}, True), ({"sequence": 2**31}, False), ({"minutes": 0}, False), ({"minutes": 1}, True), ({"start": "2026-03-10", "minutes": 0}, True), ({"start": "2026-03-10", "minutes": 30}, False), ({"start": "2026-03-10 18:00", "minutes": 30}, False),
     ({"start": "2026-03-10 25:00 Europe/Berlin"}, False), ({"start": "2026-02-30 18:00 Europe/Berlin"}, False), ({"state": "other"}, False), ({"state": "cancelled"}, True), ({"uid": ""}, False), ({"digest": "0" * 15}, False), ({"digest": "0" * 17}, False), ({"start": "2026-03-10", "minutes": -1}, False), ({"earliest": None}, True), ({"latest": date(2026, 3, 9)}, True)],
)
def test_a_row_of_the_log_is_sound_or_none(changes: dict[str, object], sound: bool) -> None:
    made = replace(ROW, **changes)  # type: ignore[arg-type]
    assert row_from_line(line_from_row(made)) == (made if sound else None)


@pytest.mark.parametrize("title", ["=1", "'=1", "''=1", "'plain", "plain", "@x", "-x", "+x", "'"])
def test_a_title_comes_back_and_is_no_formula_in_between(title: str) -> None:
    line = line_from_row(replace(ROW, title=title))
    found = row_from_line(line)
    assert found is not None and found.title == title and ("=1" not in title or ",'" in line)


def test_of_several_revisions_the_highest_then_the_latest_then_the_last_in_the_file_holds() -> None:
    def holds(*rows: Exported) -> str:
        return ExportLog(rows).latest()[ROW.uid].title

    a, b = replace(ROW, title="a"), replace(ROW, title="b")
    later = replace(b, stamp=NOW + timedelta(seconds=1))
    assert holds(a, b) == "b" and holds(b, a) == "a" and holds(later, a) == "b" and holds(replace(b, sequence=4, stamp=NOW - timedelta(days=1)), a) == "b"
    log = ExportLog((a,))
    assert [bool(log.better_of((r,))) for r in (b, later, replace(b, sequence=4), replace(b, sequence=2, stamp=later.stamp), replace(b, uid="other"))] == [False, True, True, False, True]
    assert log.seeded((b,)).rows == (b, a) and log.journal == ROW.journal and ExportLog().journal == ""


# --- plain files


@pytest.mark.parametrize(("size", "most", "fits"), [(0, 0, True), (10, 10, True), (11, 10, False), (10, 1_000_000, True)])
def test_a_file_is_read_up_to_its_most(tmp_path: Path, size: int, most: int, fits: bool) -> None:
    (tmp_path / "a").write_bytes(b"x" * size)
    if fits:
        assert read_plain_file(tmp_path / "a", most) == b"x" * size
    else:
        with pytest.raises(FileRefused, match="MB"):
            read_plain_file(tmp_path / "a", most)


@pytest.mark.parametrize(("data", "two_bytes"), [(b"", False), (b"a", False), (b"\x00", False), (b"a\x00", True), (b"\x00a", True), (b"ab", False), (b"\x00\x00", False), ("a".encode("utf-16"), True), (b"\xfe\xffab", True), ("ä".encode(), False)])
def test_two_bytes_a_letter_are_known_by_the_mark_or_the_first_letter(data: bytes, two_bytes: bool) -> None:
    assert is_utf16(data) is two_bytes


# --- the tank file


@pytest.mark.parametrize(
    ("key", "fits", "beyond"),
    [("tank: {volume: @}", ("4 L", "50000 L"), ("3.9 L", "50001 L")), ("tank: {length: @, width: 40 cm, height: 40 cm}", ("8 cm", "1000 cm"), ("7.9 cm", "1001 cm")), ("tank: {length: 80 cm, width: 80 cm, height: 90 cm, glass: @}", ("2 mm", "60 mm"), ("1.9 mm", "61 mm")),
     ("tank: {length: 80 cm, width: 80 cm, height: 90 cm, waterline: @}", ("0 cm", "50 cm"), ("51 cm",)), ("tank: {volume: 100 L, sump: @}", ("0 L", "20000 L"), ("20001 L",)), ("tank: {volume: 100 L}\nrock: {mass: @}", ("0 kg", "5000 kg"), ("5001 kg",)), ("tank: {volume: 100 L}\nsand: {depth: @}", ("0 cm", "60 cm"), ("61 cm",)),
     ("tank: {volume: 100 L}\nroom: {temperature: @}", ("-10 C", "50 C"), ("-11 C", "51 C")), ("tank: {volume: 100 L}\nwater: {temperature: @}", ("20 C", "31 C"), ("19.9 C", "31.1 C")), ("tank: {volume: 100 L}\nwater: {salinity: @}", ("25 ppt", "40 ppt"), ("24.9 ppt", "40.1 ppt")), ("tank: {volume: 100 L}\nwater: {salt_per_litre: @}", ("35.9", "42.5 g/L"), ("35.8", "42.6")),
     ("tank: {volume: 100 L}\ncycle: {dose: @}", ("0.1 mg/L as N", "5 mg/L as N"), ("0.09 mg/L as N", "5.1 mg/L as N")), ("tank: {volume: 100 L}\nequipment: {heater: @}", ("1 W", "10000 W", "[1 W, 2 W]"), ("0.9 W", "10001 W")), ("tank: {volume: 100 L}\nequipment: {circulation: @}", ("1 L/h", "1000000 L/h"), ("0.9 L/h", "1000001 L/h")),
     ("tank: {volume: 100 L}\nequipment: {bin: @}", ("0.5 L", "100000 L"), ("0.4 L", "100001 L")), ("tank: {volume: 100 L}\nequipment: {ro_rate: @}", ("1 L/day", "50000 L/day"), ("0.9 L/day", "50001 L/day")), ("tank: {volume: 100 L}\nwish_list: [{animal: x, count: @}]", ("1", "9999"), ("0", "10000", "1.5")), ("tank: {volume: 100 L}\nstart: @", ("1990-01-01", "2199-12-31"), ("1989-12-31", "2200-01-01", "2026-02-30", "26-03-04")),
     ("tank: {volume: 100 L}\nkeeper: {reminder_time: '@'}", ("00:00", "23:59", "7.05"), ("24:00", "7:5", "12:60")), ("tank: {volume: 100 L}\nkeeper: {shopping_days: [@]}", ("mo", "monday", "sat"), ("m", "t", "xx")), ("tank: {volume: 100 L}\ntest_kits: {ammonia: {basis: N, expires: @}}", ("2028-02", "2028-02-29", "2028-12"), ("2028-13", "2027-02-29", "2028")), ("tank: {volume: 100 L}\nalready: {@: 2026-03-01}", ("site", "a1-b"), ("Site", "1a", "-a")),
     ("tank: {volume: 100 L}\nkeeper: {away: [{from: 2026-05-02, to: @}]}", ("2026-05-02", "2026-05-03"), ("2026-05-01",)), ("tank: {volume: 100 L}\nequipment: {battery_air: @}", ("yes", "NO", "on", "off", "true"), ("maybe", "1")), ("tank: {volume: 100 L}\nequipment: {light: @}", ("60 W", "150 PAR", "a few words"), ("60",)),
     ("tank: {volume: 100 L}\ntest_kits: {ammonia: {basis: N, step: @}}", ("0.25", "0.25 mg/L", "0.2 ppm", "0.1 mg/L as NH4"), ("0", "-0.1", "x", "0.1 dKH")), ("tank: {volume: 100 L}\ntest_kits: {ammonia: {basis: N, blank: @}}", ("0", "0.25"), ("-0.1",)), ("tank: {volume: 100 L}\ntest_kits: {ammonia: {basis: @}}", ("N", "ion", "NH3", "NH4"), ("NO2", "no3")), ("tank: {volume: 100 L}\ntest_kits: {salinity: {step: @}}", ("0.001 SG", "1 ppt", "0.5"), ("0.001", "1.001"))],
)
def test_a_key_takes_what_lies_up_to_its_ends_and_nothing_beyond(key: str, fits: tuple[str, ...], beyond: tuple[str, ...]) -> None:
    for value in fits:
        tank, problems = read_tank(key.replace("@", value) + "\n", "tank.yaml")
        assert tank is not None and not problems, (value, [str(p) for p in problems])
    for value in beyond:
        assert read_tank(key.replace("@", value) + "\n", "tank.yaml")[1], value


@pytest.mark.parametrize(("rock", "ammonia", "code"), [("{kind: live}", "rock", None), ("{kind: live, cured_in: bin}", "dosed", None), ("{kind: live, cured_in: tank}", "dosed", "two-ammonia-sources"), ("{kind: live, cured_in: tank}", "rock", None), ("{kind: live, cured_in: tank}", "food", None), ("{kind: dry}", "rock", "no-ammonia-source"), ("{kind: cured}", "rock", "no-ammonia-source"), ("{}", "rock", "no-ammonia-source"), ("{kind: dry}", "dosed", None), ("{kind: dry, cured_in: bin}", "dosed", "not-with-this-rock"), ("{kind: cured, cured_in: tank}", "dosed", "not-with-this-rock"), ("{cured_in: tank}", "dosed", None)])
def test_rock_and_ammonia_go_together_or_not(rock: str, ammonia: str, code: str | None) -> None:
    problems = read_tank(f"tank: {{volume: 100 L}}\nrock: {rock}\ncycle: {{ammonia: {ammonia}}}\n", "tank.yaml")[1]
    assert [p.code for p in problems] == ([code] if code else [])


@pytest.mark.parametrize(("rock", "ammonia", "cured_in"), [("{kind: live}", "rock", "bin"), ("{kind: dry}", "dosed", None), ("{}", "dosed", None), ("{kind: live, cured_in: tank}", "rock", "tank")])
def test_what_is_not_said_of_rock_follows_from_its_kind(rock: str, ammonia: str, cured_in: str | None) -> None:
    tank, _ = read_tank(f"tank: {{volume: 100 L}}\nrock: {rock}\n", "tank.yaml")
    assert tank is not None and (tank.cycle.ammonia, tank.rock.cured_in) == (ammonia, cured_in)


def test_a_kits_scale_is_told_in_the_units_of_the_house() -> None:
    """1 mg/L as NH4 is 0.7765 mg/L as N (IUPAC weights); a step of 1.8 °F is one of 1 °C; 0.001 of specific gravity at 25/25 is 1.3 ppt near sea water (gsw 3.6.23)."""
    tank, problems = read_tank("tank: {volume: 100 L}\ntest_kits: {ammonia: {basis: ion, step: 1, highest: 0.5 mg/L as N, blank: 0}, temperature: {step: 1.8 F}, salinity: {step: 0.001 SG, highest: 40}, nitrite: {blank: 0, step: 0.1}}\n", "tank.yaml")
    assert tank is not None and not problems
    ammonia, nitrite = tank.test_kits["ammonia"], tank.test_kits["nitrite"]
    assert (ammonia.step_internal("ammonia"), ammonia.highest_internal("ammonia"), ammonia.blank_internal("ammonia")) == (pytest.approx(0.7765, abs=1e-4), pytest.approx(0.5), 0.0)
    assert (nitrite.blank_internal("nitrite"), nitrite.step_internal("nitrite"), nitrite.highest_internal("nitrite")) == (0.0, None, None)
    assert tank.test_kits["temperature"].step == pytest.approx(1) and tank.test_kits["salinity"].step == pytest.approx(1.31, abs=0.02) and tank.test_kits["salinity"].highest == 40
    assert ION_KIT is not None and ION_KIT.test_kits["nitrite"].step_internal("nitrite") == pytest.approx(0.0761, abs=1e-4)


def test_a_value_of_the_tank_is_found_by_its_keys() -> None:
    tank, _ = read_tank("tank: {volume: 100 L}\ntest_kits: {ammonia: {basis: N}}\nalready: {site: 2026-03-01}\n", "tank.yaml")
    assert tank is not None
    assert tank_value(tank, "already.site") == date(2026, 3, 1) and tank_value(tank, "already.water") is None and tank_value(tank, "test_kits.ammonia.basis") == "N" and tank_value(tank, "test_kits.nitrite.basis") is None and tank_value(tank, "rock.kind") is None
    assert "rock.kind" in known_paths() and "rock.colour" not in known_paths()
    with pytest.raises(KeyError):
        tank_value(tank, "rock.colour")


# --- YAML


@pytest.mark.parametrize(
    ("text", "code", "line", "column"),
    [("a: 1\na: 2\n", "duplicate-key", 2, 1), ("a: &x 1\n", "yaml-anchor", 1, 4), ("a: *x\n", "yaml-anchor", 1, 4), ("a: !!int 1\n", "yaml-tag", 1, 4), ("a: 1\n---\nb: 2\n", "yaml-documents", 2, 1), ("? [a]\n: 1\n", "yaml-key", 1, 3), ("a:\t1\n", "yaml-tab", 1, 3), ("a: one two: c\n", "text-unquoted", 1, 4), ("a: 'b\n", "yaml-syntax", 1, 4), ("a: [b\n", "yaml-syntax", 1, 4), ("a: 1\n b: 2\n", "yaml-syntax", 2, 3), ("a: @b\n", "yaml-syntax", 1, 4), ("a: \x01\n", "yaml-character", 1, 4), ("a: 1\nb: x\x01\n", "yaml-character", 2, 5)],
)
def test_a_mistake_in_the_writing_is_shown_where_it_stands(text: str, code: str, line: int, column: int) -> None:
    problems = [p for p in read_yaml(text, "f")[2] if p.code == code]
    assert [(p.place.line, p.place.column) for p in problems] == [(line, column)]


@pytest.mark.parametrize(("text", "part"), [("a: 'b\n", "quotation mark"), ("a: [b\n", "bracket"), ("a: @b\n", "a sign that has a meaning"), ("- a\nb: 1\n", "line up with the list"), ('a: "\\q"\n', "backslash"), ("a: 1\nb\nc: 2\n", "no `: ` after its key")])
def test_a_mistake_in_the_writing_is_told_by_its_kind(text: str, part: str) -> None:
    assert part in " ".join(p.message for p in read_yaml(text, "f")[2])


def test_what_is_empty_is_nothing_and_what_is_quoted_is_text() -> None:
    assert read_yaml("a:\nb: ''\nc: '1'\nd: ~\n", "f")[0] == {"a": None, "b": "", "c": "1", "d": "~"} and read_yaml("", "f")[0] is None
    assert [line_of(["a", "b\tc"], n) for n in (0, 1, 2, 3)] == ["", "a", "b c", ""]


def test_a_line_that_is_no_utf8_is_named_and_the_rest_is_read() -> None:
    text, (problem,) = decode_text(b"a: 1\nb: \xb0C\n", "f")
    assert (problem.code, problem.place.line) == ("not-utf8", 2) and text.startswith("a: 1") and decode_text(b"\xef\xbb\xbfa: 1", "f") == ("a: 1", ())


def test_a_journal_without_a_header_is_told_and_an_empty_one_is_not() -> None:
    def codes(text: str) -> list[str]:
        return [p.code for p in read_journal(text, "j", None, UTC)[1]]

    assert codes(f"{DAY},reading,ph,8.1,,,\n") == ["header-missing"] and codes("") == codes("\n \n") == codes(HEADER + "\n") == codes(f"{HEADER}\n{DAY},reading,ph,8.1,,,") == []
    assert codes(f"{HEADER}\n{DAY},reading,ph") == ["torn-row"] and codes(f"{HEADER}\n{DAY},reading,ph\n") == ["row-incomplete"]
