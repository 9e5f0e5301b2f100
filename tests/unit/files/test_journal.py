"""Reading the journal: what each kind of row says, what spreadsheets do to it, and what cannot be read.

Instants are checked against Python's own zoneinfo data (IANA)."""

from __future__ import annotations

import math
from datetime import date, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import pytest

from planner.files.journal import HEADER, NewRow, read_journal, read_row, row_unit
from planner.files.tank import read_tank
from planner.terms.problems import Problem
from planner.terms.records import Journal, Row, Unreadable

BERLIN = ZoneInfo("Europe/Berlin")
NO_KIT = read_tank("tank: {volume: 100 L}\n", "tank.yaml")[0]
ION_KIT = read_tank("tank: {volume: 100 L}\ntest_kits: {nitrite: {basis: ion, step: 0.25}}\n", "tank.yaml")[0]


def read(*lines: str, tank: object = NO_KIT, header: str = HEADER) -> tuple[Journal, tuple[Problem, ...]]:
    return read_journal("\n".join((header, *lines)) + "\n", "journal.csv", tank, BERLIN)  # type: ignore[arg-type]


def row(line: str, tank: object = NO_KIT) -> Row:
    journal, problems = read(line, tank=tank)
    assert not problems, [str(p) for p in problems]
    return journal.rows[0]


def refused(line: str, tank: object = NO_KIT) -> tuple[Problem, Unreadable]:
    journal, problems = read(line, tank=tank)
    assert journal.rows == ()
    assert len(problems) == len(journal.unreadable) == 1
    assert problems[0].place.line == journal.unreadable[0].line == 2
    return problems[0], journal.unreadable[0]


def test_a_bare_date_lies_between_local_midnights() -> None:
    found = row("2026-03-04,reading,ph,8.1,,,")
    assert (found.day, found.at, found.where, found.low, found.high) == (date(2026, 3, 4), None, "display", 8.1, 8.1)
    assert found.earliest == datetime(2026, 3, 4, tzinfo=BERLIN).timestamp()
    assert found.latest == datetime(2026, 3, 5, tzinfo=BERLIN).timestamp()


@pytest.mark.parametrize(("day", "hours"), [("2026-03-29", 23), ("2026-10-25", 25), ("2026-06-01", 24)])
def test_a_day_with_a_clock_change_is_an_hour_shorter_or_longer(day: str, hours: int) -> None:
    found = row(f"{day},reading,ph,8.1,,,")
    assert found.latest - found.earliest == hours * 3600


@pytest.mark.parametrize("when", ["2026-03-04T18:30+01:00", "2026-03-04 18:30:00+01:00", "2026-03-04T18:30+0100", "2026-03-04 18:30",
                                  "2026-03-04T18:30", "04.03.2026 18:30", "2026/3/4 6:30 PM"])
def test_a_time_is_one_instant(when: str) -> None:
    found = row(f"{when},reading,ph,8.1,,,")
    assert found.day == date(2026, 3, 4)
    assert found.at == datetime(2026, 3, 4, 18, 30, tzinfo=timezone(timedelta(hours=1)))
    assert found.earliest == found.latest == datetime(2026, 3, 4, 17, 30, tzinfo=ZoneInfo("UTC")).timestamp()


def test_a_foreign_offset_keeps_the_day_as_written() -> None:
    found = row("2026-03-04T23:30-08:00,reading,ph,8.1,,,")
    assert found.day == date(2026, 3, 4)
    assert found.at is not None and found.at.utcoffset() == timedelta(hours=-8)


@pytest.mark.parametrize(("when", "day"), [("31/12/2026", date(2026, 12, 31)), ("12/31/2026", date(2026, 12, 31)), ("03/03/2026", date(2026, 3, 3)),
                                           ("31.12.2026", date(2026, 12, 31)), ("4.3.2026", date(2026, 3, 4)), ("2026/12/31", date(2026, 12, 31)),
                                           ("31-12-2026", date(2026, 12, 31))])
def test_a_date_a_spreadsheet_rewrote_is_read_where_only_one_is_possible(when: str, day: date) -> None:
    assert row(f"{when},reading,ph,8.1,,,").day == day


@pytest.mark.parametrize(
    ("when", "code", "day"),
    [
        ("03/04/2026", "ambiguous-date", date(2026, 3, 4)),
        ("3-4-2026", "ambiguous-date", date(2026, 3, 4)),
        ("03/04/26", "ambiguous-date", date(2026, 3, 4)),
        ("2026-02-30", "not-a-date", None),
        ("0226-03-04", "not-a-date", None),
        ("soon", "not-a-date", None),
        ("", "date-missing", None),
        ("2026-03-04T25:00+01:00", "not-a-time", date(2026, 3, 4)),
        ("2026-03-04 noon", "not-a-time", date(2026, 3, 4)),
        ("2026-10-25 02:30", "ambiguous-time", date(2026, 10, 25)),
        ("2026-03-29 02:30", "ambiguous-time", date(2026, 3, 29)),
    ],
)
def test_a_time_that_cannot_be_told_hides_its_reading_from_its_first_day(when: str, code: str, day: date | None) -> None:
    problem, hidden = refused(f"{when},reading,ph,8.1,,,")
    assert problem.code == code
    assert (hidden.line, hidden.day, hidden.kind, hidden.what, hidden.where) == (2, day, "reading", "ph", "display")


def test_the_hour_that_comes_twice_is_clear_with_its_offset() -> None:
    early, late = row("2026-10-25T02:30+02:00,reading,ph,8,,,"), row("2026-10-25T02:30+01:00,reading,ph,8,,,")
    assert late.earliest - early.earliest == 3600


def test_values_off_the_scale_have_open_bounds() -> None:
    over, under = row("2026-03-04,reading,nitrite,>5,mg/L as N,,"), row("2026-03-04,reading,ammonia,<0.25,mg/L as N,,")
    assert (over.value, over.low, over.high) == (">5", 5, math.inf)
    assert (under.value, under.low, under.high) == ("<0.25", 0, 0.25)


def test_the_basis_comes_from_the_unit_or_the_kit() -> None:
    by_kit, by_unit = (row(f"2026-03-04,reading,nitrite,3.28454,{unit},,", ION_KIT) for unit in ("", "mg/L as ion"))
    assert by_kit.low == by_unit.low == pytest.approx(1, rel=1e-4)
    assert row("2026-03-04,reading,nitrite,1,mg/L as N,,", ION_KIT).low == 1


def test_a_reading_without_basis_is_refused_naming_the_choices() -> None:
    for unit in ("", "ppm"):
        problem, hidden = refused(f"2026-03-04,reading,nitrite,1,{unit},,")
        assert problem.code == "basis-missing"
        assert "mg/L as N" in problem.fix and "mg/L as NO2" in problem.fix
        assert (hidden.line, hidden.day, hidden.kind, hidden.what, hidden.where) == (2, date(2026, 3, 4), "reading", "nitrite", "display")


@pytest.mark.parametrize(
    ("line", "code", "what", "where"),
    [
        ("2026-03-04,reading,ph,,,,", "empty-value", "ph", "display"),
        ("2026-03-04,reading,ph,15,,curing,", "impossible-value", "ph", "curing"),
        ("2026-03-04,reading,ph,x,,,", "not-a-number", "ph", "display"),
        ("2026-03-04,reading,calcium,\"1,250\",,,", "ambiguous-number", "calcium", "display"),
        ("2026-03-04,reading,amonia,1,mg/L as N,,", "unknown-reading", "ammonia", "display"),
        ("2026-03-04,reading,ph,8.1,dKH,,", "unit-unknown", "ph", "display"),
        ("2026-03-04,reading,ph,8.1,,kitchen,", "unknown-water", "ph", None),
        ("2026-03-04,reeding,ph,8.1,,,", "unknown-kind", "ph", "display"),
        ("2026-03-04,evnt,leak,,,,", "unknown-kind", "leak", "display"),
        ("2026-03-04,dosd,ammonia,2,mg/L as N,,", "unknown-kind", "ammonia", "display"),
        ("2026-03-04,reeding,clownfish,2,,,", "unknown-kind", None, "display"),
        ("2026-03-04,blob,ph,8.1,,,", "unknown-kind", None, "display"),
        ("2026-03-04,reading,,8.1,,,", "what-missing", None, "display"),
        ("2026-03-04,done,,,,,", "what-missing", None, "display"),
        ("2026-03-04,dosed,ammonia,2,kn,,", "unit-unknown", "ammonia", "display"),
        ("2026-03-04,dosed,ammonia,2,,,", "unit-missing", "ammonia", "display"),
        ("2026-03-04,dosed,ammonia,90,mg/L as N,,", "impossible-value", "ammonia", "display"),
        ("2026-03-04,changed_water,,20,,,", "unit-missing", None, "display"),
        ("2026-03-04,poured,,20,,,", "unit-missing", None, "display"),
        ("2026-03-04,changed_water,,120,%,,", "impossible-value", None, "display"),
        ("2026-03-04,poured,,-5,L,mixing,", "impossible-value", None, "mixing"),
        ("2026-03-04,added,goby,1.5,,,", "not-a-whole-number", "goby", "display"),
        ("2026-03-04,postponed,cycle/test,later,,,", "not-a-date", "cycle/test", "display"),
        ("2026-03-04,event,failed,,,,", "failed-without-task", "failed", "display"),
        ("2026-03-04,undo,ammonia,1,mg/L as N,,", "undo-unclear", None, "display"),
        ("2026-03-04,reading,ph,8,1,,,note,more", "row-too-long", "ph", None),
        ("2026-03-04,reading,ammonia,0.2", "row-incomplete", "ammonia", None),
        ("2026-03-04,reading,amm", "row-incomplete", None, None),
        ("2026-03-04,reading,ph,8.1,,,\"a note", "row-incomplete", "ph", "display"),
        ("20", "row-incomplete", None, None),
    ],
)
def test_a_line_that_cannot_be_read_is_reported_and_tells_what_it_hides(line: str, code: str, what: str | None, where: str | None) -> None:
    problem, hidden = refused(line)
    assert problem.code == code
    assert problem.source_line == line
    assert (hidden.what, hidden.where) == (what, where)
    assert hidden.day == (date(2026, 3, 4) if line.startswith("2026") else None)


def test_the_caret_stands_under_the_field_to_blame() -> None:
    problem, _ = refused("2026-03-04,reading,ph,8.1,,kitchen,")
    assert problem.place.column == "2026-03-04,reading,ph,8.1,,kitchen,".index("kitchen") + 1


@pytest.mark.parametrize(
    ("line", "bounds", "unit"),
    [
        ("2026-03-04,dosed,ammonia,2,mg/L as N,,", (2, 2), "mg/L as N"),
        ("2026-03-04,dosed,ammonia,2,mg/L,,", (2, 2), "mg/L as N"),
        ("2026-03-04,dosed,ammonia,0.764,g,,", (0.764, 0.764), "g"),
        ("2026-03-04,dosed,ammonia,3,mL,,", (0.003, 0.003), "L"),
        ("2026-03-04,dosed,bicarbonate,1,dKH,,", (1, 1), "dKH"),
        ("2026-03-04,dosed,bacteria,,,,", (None, None), ""),
        ("2026-03-04,changed_water,,20,%,,", (20, 20), "%"),
        ("2026-03-04,changed_water,water,20,L,,", (20, 20), "L"),
        ("2026-03-04,poured,,2,m3,mixing,", (2000, 2000), "L"),
        ("2026-03-04,poured,,60,L,,", (60, 60), "L"),
        ("2026-03-04,poured,,10 gal,,,", (pytest.approx(37.85412),) * 2, "L"),
        ("2026-03-04,reading,nitrite,<0.25 mg/L as N,,,", (0, 0.25), "mg/L as N"),
        ("2026-03-04,added,goby,2,,quarantine,", (2, 2), ""),
        ("2026-03-04,lost,goby,,,,", (1, 1), ""),
        ("2026-03-04,moved,goby,1,,,", (1, 1), ""),
        ("2026-03-04,done,leak-test/watch#2,,,,", (None, None), ""),
        ("2026-03-04,skipped,site/level,,,,too late", (None, None), ""),
        ("2026-03-04,postponed,cycle/test,2026-04-01,,,", (None, None), ""),
        ("2026-03-04,event,failed,,,,leak-test/watch", (None, None), ""),
        ("2026-03-04,event,power_cut,3,h,,", (3, 3), ""),
        ("2026-03-04,reading,temperature,78,F,,", (pytest.approx(25.5556, abs=1e-4),) * 2, "°C"),
        ("2026-03-04,reading,salinity,1.025,SG 25/25,,", (pytest.approx(33.186, abs=0.002),) * 2, "ppt"),
    ],
)
def test_every_kind_of_row_is_put_into_internal_units(line: str, bounds: tuple[object, object], unit: str) -> None:
    found = row(line)
    assert (found.low, found.high) == bounds
    assert row_unit(found) == unit


def test_a_unit_in_the_value_s_field_is_moved_to_its_own() -> None:
    found = row("2026-03-04,reading,ammonia,0.25ppm N,,,")
    assert (found.value, found.unit, found.low) == ("0.25", "ppm N", 0.25)
    assert read("2026-03-04,reading,ph,>8 pH,,,", "2026-03-04,undo,reading:ph,>8,pH,,")[0].rows == ()


def test_a_postponed_date_is_kept_in_our_form() -> None:
    assert row("2026-03-04,postponed,cycle/test,31/12/2026,,,").value == "2026-12-31"


def test_a_file_parted_by_semicolons_has_decimal_commas() -> None:
    journal, problems = read("04.03.2026;reading;ammonia;0,25;mg/L as N;;a, note", "04.03.2026;reading;salinity;1,025;SG 25/25;;",
                             header=HEADER.replace(",", ";"))
    assert problems == ()
    assert [(r.value, r.unit, r.note) for r in journal.rows] == [("0.25", "mg/L as N", "a, note"), ("1.025", "SG 25/25", "")]
    assert journal.rows[0].low == 0.25


def test_what_a_spreadsheet_adds_is_no_row() -> None:
    content = "\ufeff" + HEADER + ",,\r\n2026-03-04,reading,ph,8.1,,,,,\r\n,,,,,,,,\r\n\r\n"
    journal, problems = read_journal(content.encode(), "journal.csv", None, BERLIN)
    assert problems == ()
    assert [r.low for r in journal.rows] == [8.1]


def test_columns_in_another_order_are_found_by_their_names() -> None:
    journal, problems = read("8.1,ph,reading,2026-03-04,,,display", header="value,what,kind,when,note,unit,where")
    assert problems == ()
    assert (journal.rows[0].what, journal.rows[0].low) == ("ph", 8.1)


def test_a_western_code_page_costs_no_row() -> None:
    content = f"{HEADER}\n2026-03-04,reading,temperature,25,°C,,Kühl\n".encode("cp1252")
    journal, problems = read_journal(content, "journal.csv", None, BERLIN)
    assert problems == ()
    assert (journal.rows[0].low, journal.rows[0].note) == (25, "Kühl")


def test_a_missing_header_is_reported_and_the_rows_are_read() -> None:
    journal, problems = read_journal("2026-03-04,reading,ph,8.1,,,\n", "journal.csv", None, BERLIN)
    assert [p.code for p in problems] == ["header-missing"]
    assert len(journal.rows) == 1


def test_an_empty_journal_is_no_mistake() -> None:
    for content in ("", HEADER, HEADER + "\n", b""):
        assert read_journal(content, "journal.csv", None, BERLIN) == (Journal(()), ())


def test_a_last_line_without_its_end_is_read_if_it_is_whole_and_reported_if_it_is_not() -> None:
    whole, problems = read_journal(f"{HEADER}\n2026-03-04,reading,ph,8.1,,,", "journal.csv", None, BERLIN)
    assert len(whole.rows) == 1 and problems == ()
    torn, problems = read_journal(f"{HEADER}\n2026-03-04,reading,ph,8.", "journal.csv", None, BERLIN)
    assert torn.rows == () and [p.code for p in problems] == ["torn-row"]


def test_an_open_quotation_mark_swallows_no_other_row() -> None:
    journal, problems = read('2026-03-04,reading,ph,8.1,,,"open', "2026-03-05,reading,ph,8.2,,,", '2026-03-06,reading,ph,8.3,,,"shut"')
    assert [r.low for r in journal.rows] == [8.2, 8.3]
    assert [(p.code, p.place.line) for p in problems] == [("row-incomplete", 2)]


def test_an_undo_row_takes_back_one_equal_row() -> None:
    line = "2026-03-04,reading,ph,8.1,,,x"
    journal, problems = read(line, line, "2026-03-04,reading,ph,8.1,,,y", line.replace("reading,ph", "undo,reading:ph"))
    assert problems == ()
    assert [(r.line, r.note) for r in journal.rows] == [(2, "x"), (4, "y")]
    journal, _ = read(line.replace("reading,ph", "undo,reading:ph"), line)
    assert journal.rows == ()


def test_an_undo_row_is_equal_whatever_the_spelling_of_its_time() -> None:
    journal, problems = read("2026-03-04T18:00+01:00,reading,ph,8.1,,,", "2026-03-04T17:00+00:00,undo,reading:ph,8.1,,display,")
    assert (journal.rows, problems) == ((), ())


def test_an_undo_row_without_its_row_is_reported() -> None:
    journal, problems = read("2026-03-04,reading,ph,8.1,,,", "2026-03-04,undo,reading:ph,8.2,,,")
    assert len(journal.rows) == 1
    assert [(p.code, p.place.line) for p in problems] == [("undo-without-row", 3)]


def test_rows_in_any_order_are_the_same_journal() -> None:
    lines = ["2026-03-05,reading,ph,8.1,,,", "2026-03-04T20:00+01:00,reading,ph,8,,,", "2026-03-04T08:00+01:00,dosed,ammonia,2,mg/L as N,,"]
    forward, backward = read(*lines)[0], read(*reversed(lines))[0]
    assert [(r.day, r.kind) for r in forward.rows] == [(r.day, r.kind) for r in backward.rows]
    assert [r.kind for r in forward.rows] == ["dosed", "reading", "reading"]


def test_a_row_is_judged_before_it_is_written_as_when_it_is_read() -> None:
    good = read_row(NewRow("2026-03-04", "reading", "ph", "8.1"), "journal.csv", NO_KIT, BERLIN)
    bad = read_row(NewRow("2026-03-04", "reading", "ph", "81"), "journal.csv", NO_KIT, BERLIN)
    assert isinstance(good, Row) and good.low == 8.1
    assert isinstance(bad, Problem) and bad.code == "impossible-value"


@pytest.mark.parametrize(("grams", "read"), [("100000", True), ("100000.5", False)])
def test_no_dose_weighs_more_than_100_kg(grams: str, read: bool) -> None:
    found = read_row(NewRow("2026-03-04", "dosed", "bicarbonate", grams, "g"), "journal.csv", NO_KIT, BERLIN)
    assert isinstance(found, Row) == read


@pytest.mark.parametrize(("kind", "what", "fix"), [("poured", "water", "write `5 L` or `5 gal`"), ("dosed", "bicarbonate", "write `5 dKH` or `5 g`")])
def test_only_who_writes_in_the_file_is_told_that_the_unit_has_a_field_there(kind: str, what: str, fix: str) -> None:
    typed = read_row(NewRow("2026-03-04", kind, what, "5"), "journal.csv", NO_KIT, BERLIN)
    _, (written,) = read(f"2026-03-04,{kind},{what},5,,,")
    assert isinstance(typed, Problem) and (typed.fix, written.fix) == (fix, f"{fix}: the unit has a field of its own")
