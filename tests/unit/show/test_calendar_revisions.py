"""What an export numbers anew and what it leaves alone, and what clocks do to times."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import icalendar
import pytest

from planner.show.calendar.calendar import calendar_bytes, calendar_from_plan
from planner.show.calendar.entries import summary
from planner.show.calendar.revisions import sequence_at
from planner.terms.records import Plan, State
from tests.unit.plan_builder import ON, TANK_ID, phase, plan, task, window
from tests.unit.show.calendar_help import DAY, FIRST, JOB, NOTHING, NOW, RULES, events, export, late, of_day, only, own, own_rows

# --- revisions -------------------------------------------------------------------------------------------------


def test_the_first_export_numbers_everything_by_the_clock_and_shows_the_plans_dates() -> None:
    """Minutes from the begin of 2020: 2,252 days, 20 hours and 15 minutes."""
    revision, _ = export(plan(task(), task("fish/add", date(2026, 4, 1), tentative=True), phase()))
    assert FIRST == 2252 * 1440 + 20 * 60 + 15
    assert own(revision) == [(date(2026, 3, 10), FIRST), (date(2026, 4, 1), FIRST), (date(2026, 4, 10), FIRST)]
    assert {c.what for c in revision.changes} == {"new"}
    assert {r.stamp for r in revision.rows} == {NOW}


def test_an_unchanged_plan_adds_no_row_and_gives_the_same_bytes() -> None:
    p = plan(task(), task("fish/add", date(2026, 4, 1), tentative=True), phase(), late(3, "a/late"))
    first, log = export(p)
    second, _ = export(p, log, journal="j2", now=NOW + timedelta(days=3))
    assert second.rows == ()
    assert second.changes == ()
    assert calendar_bytes(first, tank_id=TANK_ID, name="x") == calendar_bytes(second, tank_id=TANK_ID, name="x")


def test_another_date_raises_the_sequence_and_another_word_only_the_stamp() -> None:
    _, log = export(plan(task()))
    later = NOW + timedelta(hours=1)
    reworded, log = export(plan(task(steps=("Only stir.",))), log, now=later)
    assert [(r.sequence, r.stamp, r.created) for r in own_rows(reworded)] == [(FIRST, later, NOW)]
    moved, log = export(plan(task(day=date(2026, 3, 11), steps=("Only stir.",))), log, now=later + timedelta(hours=1))
    assert [r.sequence for r in own_rows(moved)] == [FIRST + 120]
    assert [(c.what, c.before, c.after) for c in moved.changes if c.key == JOB] == [("moved", date(2026, 3, 10), date(2026, 3, 11))]
    firm_to_tentative, _ = export(plan(task(day=date(2026, 3, 11), tentative=True)), log, now=later + timedelta(hours=1))
    assert [r.sequence for r in own_rows(firm_to_tentative)] == [FIRST + 121]


def test_another_hour_raises_the_sequence_too() -> None:
    _, log = export(plan(task()))
    assert [r.sequence for r in own_rows(export(plan(task(time="07:00")), log)[0])] == [FIRST + 1]


def test_numbers_and_stamps_never_go_back_when_the_clock_does() -> None:
    _, log = export(plan(task()))
    revision, _ = export(plan(task(day=date(2026, 3, 12))), log, now=NOW - timedelta(days=400))
    assert [(r.sequence, r.stamp) for r in own_rows(revision)] == [(FIRST + 1, NOW + timedelta(seconds=1))]


def test_a_provisional_entry_moves_by_two_days_or_more_only() -> None:
    start = date(2026, 3, 20)

    def tentative(day: date) -> Plan:
        return plan(task("fish/add", day, tentative=True), phase(day=day))

    _, log = export(tentative(start))
    for days in (-1, 1):
        near, _ = export(tentative(start + timedelta(days=days)), log, journal="j2")
        assert near.rows == ()
        assert {day for day, _ in own(near)} == {start}
    for days in (-2, 2):
        far, _ = export(tentative(start + timedelta(days=days)), log)
        assert {day for day, _ in own(far)} == {start + timedelta(days=days)}
        assert [r.sequence for r in far.rows] == [FIRST + 1, FIRST + 1]


def test_a_provisional_entry_takes_its_exact_date_when_its_gate_opens() -> None:
    _, log = export(plan(task("fish/add", date(2026, 3, 20), tentative=True)))
    assert own(export(plan(task("fish/add", date(2026, 3, 21))), log)[0]) == [(date(2026, 3, 21), FIRST + 1)]


def test_one_late_task_does_not_renumber_what_slides_behind_it_every_day() -> None:
    def sliding(on: date) -> Plan:
        first = task("water/fill", max(on, date(2026, 3, 3)), due=date(2026, 3, 3), state=State.LATE if on > date(2026, 3, 3) else State.DUE)
        return plan(first, task("water/salt", first.date + timedelta(days=4)), on=on)  # type: ignore[operator]

    _, log = export(sliding(date(2026, 3, 3)))
    moved = 0
    for days in range(1, 9):
        revision, log = export(sliding(date(2026, 3, 3) + timedelta(days=days)), log)
        moved += sum(r.key == "water/salt" for r in revision.rows)
    assert moved == 4
    exact, _ = export(sliding(date(2026, 3, 12)), log, journal="j2")
    assert [r.entry.day for r in exact.entries if r.entry.key == "water/salt"] == [date(2026, 3, 16)]


def test_a_move_that_no_journal_row_explains_is_marked() -> None:
    def of_job(journal: str) -> list[bool]:
        return [c.without_journal_row for c in export(plan(task(day=date(2026, 3, 12))), log, journal=journal)[0].changes if c.key == JOB]

    _, log = export(plan(task()))
    assert of_job("j1") == [True]
    assert of_job("j2") == [False]


def test_a_task_that_leaves_the_plan_is_cancelled_kept_ninety_days_and_then_dropped() -> None:
    _, log = export(plan(task()))
    gone, log = export(plan(), log)
    (kept,) = (r for r in gone.entries if r.entry.key == JOB)
    assert (kept.row.sequence, kept.row.state, summary(kept.entry)) == (FIRST + 1, "cancelled", "dropped: Mix the salt")
    event = events(plan(), log)[JOB]
    assert event["STATUS"] == "CANCELLED"
    assert event["DTSTART"].to_ical() == b"20260310"
    assert event.subcomponents == []
    assert event["DESCRIPTION"] == "This stands here no more. The entry of the day says what is to be done."
    day_90, _ = export(plan(on=ON + timedelta(days=90)), log)
    day_91, _ = export(plan(on=ON + timedelta(days=91)), log)
    assert (len(own(day_90)), len(own(day_91))) == (1, 0)
    assert own_rows(day_90) == own_rows(day_91) == []


def test_the_entry_of_a_day_that_has_passed_is_left_as_it_was() -> None:
    _, log = export(plan(task()))
    revision, _ = export(plan(on=date(2026, 3, 11)), log)
    assert DAY not in {r.entry.key for r in revision.entries} | {r.key for r in revision.rows}
    before, _ = export(plan(on=date(2026, 3, 10)), log)
    assert [r.state for r in before.rows if r.key == DAY] == ["cancelled"]


def test_a_skipped_task_is_cancelled_and_comes_back_under_the_same_uid_with_a_higher_number() -> None:
    first, log = export(plan(task()))
    _, log = export(plan(task(state=State.SKIPPED)), log)
    back, _ = export(plan(task()), log)
    assert [(r.uid, r.sequence, r.state) for r in own_rows(back)] == [(own_rows(first)[0].uid, FIRST + 2, "firm")]
    assert {c.what for c in back.changes} == {"back"}


def test_a_done_task_stays_as_done_on_the_day_it_was_done() -> None:
    _, log = export(plan(task()))
    done = task(state=State.DONE, closed_on=date(2026, 3, 12))
    revision, log = export(plan(done, on=date(2026, 3, 12)), log)
    assert own(revision) == [(date(2026, 3, 12), FIRST + 1)]
    event = events(plan(done, on=date(2026, 3, 12)), log)[JOB]
    assert (event["SUMMARY"], event["STATUS"], event["DESCRIPTION"]) == ("done: Mix the salt water", "CONFIRMED", "Done on 12 March 2026.")
    again, _ = export(plan(replace(done, title="Reworded later"), on=date(2026, 3, 13)), log)
    assert own_rows(again) == []
    forgotten, _ = export(plan(on=date(2026, 3, 14)), log)
    assert (own_rows(forgotten), len(own(forgotten))) == ([], 1)
    assert own(export(plan(done, on=ON + timedelta(days=91)), log)[0]) == []


def test_a_task_done_on_its_day_keeps_its_sequence() -> None:
    _, log = export(plan(task()))
    revision, _ = export(plan(task(state=State.DONE, closed_on=date(2026, 3, 10))), log)
    assert [(r.sequence, r.stamp) for r in own_rows(revision)] == [(FIRST, NOW + timedelta(seconds=1))]


def test_undoing_a_done_task_opens_its_entry_again() -> None:
    _, log = export(plan(task()))
    _, log = export(plan(task(state=State.DONE, closed_on=date(2026, 3, 10))), log)
    assert events(plan(task()), log)[JOB]["SUMMARY"] == "Mix the salt water"


def test_with_a_pretended_day_nothing_is_logged_and_only_changed_entries_take_its_midnight() -> None:
    kept, moved = task("a/kept", date(2026, 3, 20)), task("a/moved")
    _, log = export(plan(kept, moved))
    revision, _ = export(plan(kept, replace(moved, date=date(2026, 3, 19), due=date(2026, 3, 19)), on=date(2026, 3, 15)), log, now=None)
    assert revision.rows == ()
    midnight = datetime(2026, 3, 15, tzinfo=UTC)
    assert {r.entry.key: (r.row.stamp, r.row.sequence) for r in revision.entries if r.entry.key.startswith("a/")} == {
        "a/kept": (NOW, FIRST), "a/moved": (midnight, sequence_at(midnight))}


def test_the_order_of_tasks_in_the_plan_does_not_change_a_byte() -> None:
    parts = [task(f"care/test#{n}", date(2026, 3, 10) + timedelta(days=n % 3)) for n in range(9)]
    forth, _ = calendar_from_plan(plan(*parts), RULES, NOTHING, now=NOW)
    back, _ = calendar_from_plan(plan(*reversed(parts)), RULES, NOTHING, now=NOW)
    assert forth == back
    starts = [(e["DTSTART"].to_ical(), e["UID"]) for e in icalendar.Calendar.from_ical(forth).events]
    assert starts == sorted(starts)


# --- clocks ----------------------------------------------------------------------------------------------------


def start_and_end(day: date, hour: str, zone: str = "Europe/Berlin") -> tuple[bytes, bytes]:
    event = events(plan(task(day=day, time=hour), timezone=zone))[JOB]
    return event["DTSTART"].to_ical(), event["DTEND"].to_ical()


def test_a_time_in_the_missing_hour_moves_forward() -> None:
    """RFC 5545 3.3.5: a time that does not occur is read with the offset before the gap; 02:30 becomes 03:30."""
    assert start_and_end(date(2026, 3, 29), "02:30") == (b"20260329T033000", b"20260329T040000")


def test_a_gap_of_half_an_hour_moves_by_half_an_hour() -> None:
    assert start_and_end(date(2026, 10, 4), "02:15", "Australia/Lord_Howe")[0] == b"20261004T024500"


@pytest.mark.parametrize(("hour", "start", "end"), [("01:50", "015000", "030000"), ("02:10", "030000", "033000"), ("02:50", "030000", "033000")])
def test_a_time_that_comes_twice_moves_past_the_hour_that_does(hour: str, start: str, end: str) -> None:
    assert start_and_end(date(2026, 10, 25), hour) == (f"20261025T{start}".encode(), f"20261025T{end}".encode())


@pytest.mark.parametrize("zone", ["UTC", "Etc/UTC", ""])
def test_a_tank_in_utc_needs_no_zone_description(zone: str) -> None:
    data, _ = calendar_from_plan(plan(task(), timezone=zone), RULES, NOTHING, now=NOW)
    assert b"DTSTART:20260310T180000Z" in data
    assert b"VTIMEZONE" not in data


def test_a_zone_with_a_rule_is_described_by_it() -> None:
    """Directive 2000/84/EC, articles 2 and 3: the last Sundays of March and October, at 01:00 UTC."""
    data, _ = calendar_from_plan(plan(task()), RULES, NOTHING, now=NOW)
    assert data.count(b"BEGIN:STANDARD") == data.count(b"BEGIN:DAYLIGHT") == 1
    assert b"RRULE:FREQ=YEARLY;BYDAY=-1SU;BYMONTH=3" in data
    assert b"RRULE:FREQ=YEARLY;BYDAY=-1SU;BYMONTH=10" in data


def test_an_entry_late_in_the_evening_ends_on_the_next_day() -> None:
    assert start_and_end(date(2026, 12, 31), "23:50")[1] == b"20270101T002000"


def test_an_unreadable_hour_falls_back_to_the_keepers_and_then_to_nine() -> None:
    assert only(plan(task(time="evening"))).time == ""
    assert of_day(plan(task(time=""), reminder_time="")).time == "09:00"


def test_a_pretended_day_before_the_last_export_still_stamps_its_own_midnight() -> None:
    _, log = export(plan(task()))
    revision, _ = export(plan(task(title="Other words"), on=date(2026, 2, 15)), log, now=None)
    assert [r.row.stamp for r in revision.entries if r.entry.key == JOB] == [datetime(2026, 2, 15, tzinfo=UTC)]


@pytest.mark.parametrize("end", ["earliest", "latest"])
def test_a_window_is_written_anew_when_one_of_its_ends_moves_by_two_days(end: str) -> None:
    day = date(2026, 4, 1)
    wide = window(day - timedelta(days=20), day, day + timedelta(days=20))
    _, log = export(plan(task("fish/add", day, tentative=True, window=wide)))
    for days, rewritten in ((1, 0), (2, 1)):
        shifted = replace(wide, **{end: getattr(wide, end) + timedelta(days=days)})
        revision, _ = export(plan(task("fish/add", day, tentative=True, window=shifted)), log)
        assert len(revision.rows) == rewritten
        assert own(revision)[0][1] == FIRST
