"""What a keeper's files may say, on both sides of each limit, and where a mistake in them is shown. Contract of this project; limits are common practice, no source."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest

from planner.files.journal import HEADER, confirmed, is_confirmed
from planner.files.journal_form import Form, NewRow, cut_line, form_of, print_row
from planner.files.journal_time import earliest_day, read_day
from planner.files.journal_write import last_entry, make_tag, tag_of, tags_in, undo_entry, undo_line, undo_rows, with_tag, write_when
from planner.terms.problems import Problem
from planner.terms.units import Refusal
from tests.unit.files.test_journal import NO_KIT, read, row

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
