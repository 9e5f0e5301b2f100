"""What the calendar says, what it numbers anew, and what it leaves alone."""

from __future__ import annotations

import uuid
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import icalendar
import pytest

from planner.files.calendar_log import ExportLog
from planner.judge.kinds.done import DoneAsked
from planner.rulebook.provenance import Caution
from planner.show.calendar.calendar import Entry, Revision, calendar_bytes, calendar_from_plan, entries_from_plan, revise
from planner.show.calendar.entries import full_text, summary
from planner.show.calendar.text import one_line, shorten
from planner.terms.causes import cause
from planner.terms.records import Answer, Need, Plan, State, Trace
from tests.unit.plan_builder import ON, TANK_ID, hold, need, phase, plan, quantity, task, window

NOW = datetime(2026, 3, 2, 20, 15, 30, tzinfo=UTC)
NOTHING = ExportLog()


def export(
    p: Plan, log: ExportLog = NOTHING, journal: str = "j1", now: datetime | None = NOW
) -> tuple[Revision, ExportLog]:
    revision = revise(entries_from_plan(p), log, on=p.on, now=now, journal=journal)
    return revision, replace(log, rows=log.rows + revision.rows)


def only(p: Plan, **how: bool) -> Entry:
    (entry,) = entries_from_plan(p, **how)
    return entry


def events(p: Plan, log: ExportLog = NOTHING, timed: bool = True, now: datetime | None = NOW) -> list[icalendar.Event]:
    data, _ = calendar_from_plan(p, log, now=now, timed=timed)
    return icalendar.Calendar.from_ical(data).events


# --- entries ---------------------------------------------------------------------------------------------------


def test_a_firm_task_stands_at_the_reminder_hour_and_rings_at_its_start() -> None:
    data, _ = calendar_from_plan(plan(task()), NOTHING, now=NOW)
    (event,) = icalendar.Calendar.from_ical(data).events
    assert event["DTSTART"].to_ical() == b"20260310T180000"
    assert event["DTSTART"].params["TZID"] == "Europe/Berlin"
    assert event["DTEND"].to_ical() == b"20260310T183000"
    assert data.count(b"BEGIN:VALARM") == data.count(b"TRIGGER:PT0S\r\n") == 1
    assert event["STATUS"] == "CONFIRMED"


def test_a_task_with_its_own_time_stands_at_it() -> None:
    assert only(plan(task(time="07:45"))).time == "07:45"


@pytest.mark.parametrize(("hour", "trigger"), [("18:00", "-PT6H"), ("09:00", "-PT15H"), ("18:30", "-PT5H30M")])
def test_an_all_day_entry_rings_at_the_reminder_hour_of_the_evening_before(hour: str, trigger: str) -> None:
    (event,) = events(plan(task(), reminder_time=hour), timed=False)
    assert event["DTSTART"].to_ical() == b"20260310"
    assert event["DTEND"].to_ical() == b"20260311"
    assert event.subcomponents[0]["TRIGGER"].to_ical().decode() == trigger


def test_an_all_day_entry_tells_a_tasks_own_time_in_words() -> None:
    assert "Time of day: 07:45." in full_text(only(plan(task(time="07:45")), timed=False))
    assert "Time of day" not in full_text(only(plan(task(time="18:00")), timed=False))


@pytest.mark.parametrize("changes", [{"tentative": True}, {"state": State.WAITING}])
def test_nothing_behind_a_shut_gate_rings_and_its_title_says_so(changes: dict[str, object]) -> None:
    for timed in (True, False):
        (event,) = events(plan(task(**changes)), timed=timed)
        assert event.subcomponents == []
        assert event["STATUS"] == "TENTATIVE"
        assert event["SUMMARY"] == "Mix the salt water (waits for a test)"


def test_what_is_on_hold_does_not_ring_and_says_why() -> None:
    because = (cause("on_hold", because="The socket has no RCD."),)
    p = plan(task(state=State.ON_HOLD, because=because), hold("water", "The socket has no RCD."), hold("fish", "Ammonia."))
    (event,) = events(p)
    assert event.subcomponents == []
    assert event["SUMMARY"] == "Mix the salt water (on hold)"
    assert "On hold since 2 March 2026: The socket has no RCD." in event["DESCRIPTION"]
    assert "Ammonia" not in event["DESCRIPTION"]


def test_a_shut_gate_names_what_must_still_be_read() -> None:
    gate = phase(needs=(need("ammonia clear"), need("salt steady", Answer.YES), need("nitrite clear", Answer.UNKNOWN)))
    (event,) = events(plan(gate))
    assert event["SUMMARY"] == "Waiting: Cycle. Needs: ammonia clear; nitrite clear (waits for a test)"
    assert event["UID"] == str(uuid.uuid5(uuid.UUID(TANK_ID), "gate/cycle"))
    assert event["STATUS"] == "TENTATIVE"
    assert event.subcomponents == []
    assert "- nitrite clear: not known yet" in event["DESCRIPTION"]
    assert "- salt steady: yes" in event["DESCRIPTION"]


def test_a_gate_with_many_needs_names_the_first_and_counts_the_rest() -> None:
    needs = tuple(Need(Trace(DoneAsked(title=f"A rather long piece of work, number {n}", task=f"site/step-{n}"), Answer.NO)) for n in range(1, 6))
    assert only(plan(phase("site", needs=needs))).title == (
        "Waiting: Site. Needs: A rather long piece of work, number 1; A rather long piece of work, number 2;"
        " and 3 more")


def test_the_uid_comes_from_the_tank_and_the_task_and_from_nothing_else() -> None:
    first = only(plan(task("care/test#3", date(2026, 3, 9), title="Test")))
    other = only(plan(task("care/test#3", date(2026, 5, 9), title="Renamed", tentative=True), name="Other"))
    assert first.uid == other.uid == str(uuid.uuid5(uuid.UUID(TANK_ID), "care/test#3"))


def test_light_undated_skipped_and_never_exported_done_tasks_have_no_entry() -> None:
    p = plan(
        task("a/light", calendar=False), task("a/undated", None), task("a/skipped", state=State.SKIPPED),
        task("a/done", state=State.DONE, closed_on=date(2026, 3, 1)),
        phase("leak-test", opened=date(2026, 2, 1), state="done"), phase("corals", None),
    )
    assert export(p)[0].entries == ()
    assert events(p) == []


def test_a_tank_without_an_id_is_refused() -> None:
    with pytest.raises(ValueError, match="id"):
        entries_from_plan(plan(task(), tank_id=None))


def test_the_text_says_when_how_much_what_and_what_to_beware_of() -> None:
    p = plan(task(
        amounts=(("salt_mass", quantity("salt_mass", 7600, "g")),), cautions=("drip_loop",),
        window=window(date(2026, 3, 8), date(2026, 3, 10), date(2026, 3, 20)),
    ))
    text = full_text(only(p))
    assert text.startswith("If quick: 8 March 2026. Likely: 10 March 2026. If slow: 20 March 2026.")
    assert "- salt mass: 7.6 kg" in text
    assert "Care: drip loop.\n" in text
    assert "1. Fill the bin with RO water.\n2. Stir in the salt." in text
    assert "lb" in full_text(only(replace(p, units="us")))


def test_a_long_list_of_steps_is_cut_but_never_the_caution() -> None:
    p = plan(task(steps=tuple(f"Step {n} of very many, with words." for n in range(200)), cautions=("mains",)))
    text = full_text(only(p))
    assert len(text.encode()) <= 2000
    assert text.index("Care: mains.") < text.index("1. Step 0")
    assert text.endswith("(More: newtank today)")


MAINS = Caution(title="Mains beside water", line="Switch off first.", weight="danger", text="Loops and an RCD. " * 4, defer="Ask a licensed electrician.")
SHOPS = Caution(title="Mind the cat", text="She sleeps on the lid.", defer="Ask her.")


@pytest.mark.parametrize("steps", [2, 60])
def test_the_sentence_that_protects_stands_before_the_steps_and_is_never_cut(steps: int) -> None:
    p = plan(task(cautions=("mains", "cat"), steps=("Step by step, in several words.",) * steps))
    (entry,) = entries_from_plan(p, cautions={"mains": MAINS, "cat": SHOPS})
    text = full_text(entry)
    assert "\n\nDanger: Switch off first.\nCare: Mind the cat. Ask her.\n\n1. Step by step" in text
    assert "Loops and an RCD." not in text
    assert len(text.encode()) <= 2000


@pytest.mark.parametrize("slow", [None, date(2026, 3, 9)])
def test_a_window_without_a_slow_date_or_with_one_before_the_likely_is_still_said_in_order(slow: date | None) -> None:
    p = plan(task(window=window(date(2026, 3, 8)), tentative=True))
    p = replace(p, tasks=(replace(p.tasks[0], window=replace(p.tasks[0].window, latest=slow)),))
    wanted = "more than two years away" if slow is None else "10 March 2026"
    assert f"If slow: {wanted}." in full_text(only(p))


# --- hostile words ---------------------------------------------------------------------------------------------

HOSTILE = {
    "a raw line break": "Fill\r\nATTENDEE:mailto:x@example.org",
    "a BEGIN line": "x\nEND:VEVENT\nBEGIN:VEVENT",
    "control characters": "Fill\x00 \x1b[31mtank\x07\x7f\x85now",
    "unusual line ends": "one\u2028two\u2029three\x0bfour",
    "separators": r"a, b; c: d \n e \\ \;",
    "emoji": "Add fish \U0001f420\U0001f468\u200d\U0001f469\u200d\U0001f467 \U0001f44d\U0001f3fd",
    "right to left": "\u202eקריאה של אמוניה",
    "half a surrogate pair": "broken \ud83d here",
    "a byte-order mark": "\ufeffSalt",
    "two hundred characters": "Rinse the sand " * 14,
    "three hundred wide characters": "塩" * 300,
    "only control characters": "\x00\x01",
    "a formula": "=SUM(A1)",
    "quotes": 'the "big" change, "again"',
}


@pytest.mark.parametrize("title", HOSTILE.values(), ids=HOSTILE.keys())
@pytest.mark.parametrize("tentative", [False, True])
def test_a_hostile_title_stays_one_line_of_one_entry(title: str, tentative: bool) -> None:
    p = plan(task(title=title, steps=(title,), tentative=tentative))
    data, revision = calendar_from_plan(p, NOTHING, now=NOW)
    (event,) = icalendar.Calendar.from_ical(data).events
    written = str(event["SUMMARY"])
    assert written == summary(revision.entries[0].entry)
    assert len(written.encode()) <= 240
    assert one_line(written) == written
    assert written.endswith(" (waits for a test)") is tentative
    assert "ATTENDEE" not in event
    assert len(written) > 3


def test_the_tanks_name_is_escaped_and_read_back_whole() -> None:
    data, _ = calendar_from_plan(plan(task(), name="Reef; south, \\ top\nrow"), NOTHING, now=NOW)
    assert data.count(b"NAME:Reef\\; south\\, \\\\ top row\r\n") == 2


def test_words_are_cut_between_signs_never_inside_one() -> None:
    family = "\U0001f468\u200d\U0001f469\u200d\U0001f467"
    for octets in range(4, 40):
        short = shorten(f"{family}e\u0301{family} x", octets)
        assert len(short.encode()) <= octets
        assert short[:-1] in ("", family, f"{family}e\u0301", f"{family}e\u0301{family}", f"{family}e\u0301{family} ")\
            or short == f"{family}e\u0301{family} x"


# --- revisions -------------------------------------------------------------------------------------------------


def test_the_first_export_numbers_everything_zero_and_shows_the_plans_dates() -> None:
    p = plan(task(), task("fish/add", date(2026, 5, 1), tentative=True), phase())
    revision, _ = export(p)
    assert [(r.entry.day, r.row.sequence) for r in revision.entries] == [
        (date(2026, 3, 10), 0), (date(2026, 4, 10), 0), (date(2026, 5, 1), 0)]
    assert {c.what for c in revision.changes} == {"new"}
    assert {r.stamp for r in revision.rows} == {NOW}


def test_an_unchanged_plan_adds_no_row_and_gives_the_same_bytes() -> None:
    p = plan(task(), task("fish/add", date(2026, 5, 1), tentative=True), phase())
    first, log = export(p)
    second, _ = export(p, log, journal="j2", now=NOW + timedelta(days=3))
    assert second.rows == ()
    assert second.changes == ()
    assert calendar_bytes(first, tank_id=TANK_ID, name="x") == calendar_bytes(second, tank_id=TANK_ID, name="x")


def test_another_date_raises_the_sequence_and_another_word_only_the_stamp() -> None:
    _, log = export(plan(task()))
    later = NOW + timedelta(hours=1)
    reworded, log = export(plan(task(steps=("Only stir.",))), log, now=later)
    assert [(r.sequence, r.stamp, r.created) for r in reworded.rows] == [(0, later, NOW)]
    moved, log = export(plan(task(day=date(2026, 3, 11), steps=("Only stir.",))), log, now=later + timedelta(hours=1))
    assert [r.sequence for r in moved.rows] == [1]
    assert [(c.what, c.before, c.after) for c in moved.changes] == [
        ("moved", date(2026, 3, 10), date(2026, 3, 11))]
    firm_to_tentative, _ = export(plan(task(day=date(2026, 3, 11), tentative=True)), log)
    assert [r.sequence for r in firm_to_tentative.rows] == [2]


@pytest.mark.parametrize("changes", [{"time": "07:00"}, {"minutes": 90}])
def test_another_hour_or_length_raises_the_sequence_too(changes: dict[str, object]) -> None:
    _, log = export(plan(task()))
    assert [r.sequence for r in export(plan(task(**changes)), log)[0].rows] == [1]


def test_a_stamp_never_goes_back_when_the_clock_does() -> None:
    _, log = export(plan(task()))
    revision, _ = export(plan(task(title="New words")), log, now=NOW - timedelta(days=400))
    assert revision.rows[0].stamp == NOW + timedelta(seconds=1)


def test_a_provisional_entry_moves_by_two_days_or_more_only() -> None:
    start = date(2026, 5, 10)

    def tentative(day: date, on: date = ON) -> Plan:
        return plan(task("fish/add", day, tentative=True), phase(day=day), on=on)

    _, log = export(tentative(start))
    for days in (-1, 1):
        near, _ = export(tentative(start + timedelta(days=days)), log, journal="j2")
        assert near.rows == ()
        assert {r.entry.day for r in near.entries} == {start}
    for days in (-2, 2):
        far, _ = export(tentative(start + timedelta(days=days)), log)
        assert {r.entry.day for r in far.entries} == {start + timedelta(days=days)}
        assert [r.sequence for r in far.rows] == [1, 1]


def test_a_provisional_entry_takes_its_exact_date_when_its_gate_opens() -> None:
    _, log = export(plan(task("fish/add", date(2026, 5, 10), tentative=True)))
    revision, _ = export(plan(task("fish/add", date(2026, 5, 11))), log)
    assert [(r.entry.day, r.row.sequence) for r in revision.entries] == [(date(2026, 5, 11), 1)]


def test_a_late_entry_stays_where_it_was_until_the_journal_changes() -> None:
    _, log = export(plan(task()))
    for days in range(1, 8):
        on = date(2026, 3, 10) + timedelta(days=days)
        idle, log = export(plan(task(day=on, due=date(2026, 3, 10), state=State.LATE), on=on), log)
        assert idle.rows == ()
        assert idle.entries[0].entry.day == date(2026, 3, 10)
    told, _ = export(plan(task(day=on, due=date(2026, 3, 10), state=State.LATE), on=on), log, journal="j2")
    assert [(r.entry.day, r.row.sequence) for r in told.entries] == [(on, 1)]
    assert told.changes[0].without_journal_row is False


def test_one_late_task_does_not_renumber_what_slides_behind_it_every_day() -> None:
    def sliding(on: date) -> Plan:
        late = task("water/fill", max(on, date(2026, 3, 3)), state=State.LATE if on > date(2026, 3, 3) else State.DUE)
        today = task("water/warm", late.date, state=State.DUE)
        return plan(late, today, task("water/salt", late.date + timedelta(days=4)), on=on)  # type: ignore[operator]

    _, log = export(sliding(date(2026, 3, 3)))
    written = 0
    for days in range(1, 9):
        revision, log = export(sliding(date(2026, 3, 3) + timedelta(days=days)), log)
        written += len(revision.rows)
        assert all(change.without_journal_row for change in revision.changes)
    assert written == 8
    exact, _ = export(sliding(date(2026, 3, 12)), log, journal="j2")
    assert [r.entry.day for r in exact.entries if r.entry.key == "water/salt"] == [date(2026, 3, 16)]


def test_a_move_that_no_journal_row_explains_is_marked() -> None:
    _, log = export(plan(task()))
    assert export(plan(task(day=date(2026, 3, 12))), log)[0].changes[0].without_journal_row is True
    assert export(plan(task(day=date(2026, 3, 12))), log, journal="j2")[0].changes[0].without_journal_row is False


def test_a_task_that_leaves_the_plan_is_cancelled_kept_ninety_days_and_then_dropped() -> None:
    _, log = export(plan(task()))
    gone, log = export(plan(), log)
    (kept,) = gone.entries
    assert (kept.row.sequence, kept.row.state, summary(kept.entry)) == (1, "cancelled", "Cancelled: Mix the salt water")
    (event,) = events(plan(), log)
    assert event["STATUS"] == "CANCELLED"
    assert event["DTSTART"].to_ical() == b"20260310T180000"
    assert event.subcomponents == []
    day_90, _ = export(plan(on=ON + timedelta(days=90)), log)
    day_91, _ = export(plan(on=ON + timedelta(days=91)), log)
    assert (len(day_90.entries), len(day_91.entries)) == (1, 0)
    assert day_90.rows == day_91.rows == ()
    assert day_91.last_modified == kept.row.stamp


def test_a_skipped_task_is_cancelled_and_comes_back_under_the_same_uid_with_a_higher_number() -> None:
    first, log = export(plan(task()))
    _, log = export(plan(task(state=State.SKIPPED)), log)
    back, _ = export(plan(task()), log)
    assert [(r.uid, r.sequence, r.state) for r in back.rows] == [(first.rows[0].uid, 2, "firm")]
    assert [c.what for c in back.changes] == ["back"]


def test_a_done_task_stays_as_done_without_an_alarm_on_the_day_it_was_done() -> None:
    _, log = export(plan(task()))
    done = task(state=State.DONE, closed_on=date(2026, 3, 12))
    revision, log = export(plan(done, on=date(2026, 3, 12)), log)
    assert [(r.entry.day, r.row.sequence) for r in revision.entries] == [(date(2026, 3, 12), 1)]
    (event,) = events(plan(done, on=date(2026, 3, 12)), log)
    assert (event["SUMMARY"], event["STATUS"]) == ("Done: Mix the salt water", "CONFIRMED")
    assert event["DESCRIPTION"] == "Done on 12 March 2026."
    assert event.subcomponents == []
    again, _ = export(plan(replace(done, title="Reworded later"), on=date(2026, 3, 13)), log)
    assert again.rows == ()
    forgotten, _ = export(plan(on=date(2026, 3, 14)), log)
    assert (forgotten.rows, len(forgotten.entries)) == ((), 1)
    assert export(plan(done, on=ON + timedelta(days=91)), log)[0].entries == ()


def test_a_task_done_on_its_day_keeps_its_sequence() -> None:
    _, log = export(plan(task()))
    revision, _ = export(plan(task(state=State.DONE, closed_on=date(2026, 3, 10))), log)
    assert [(r.sequence, r.stamp) for r in revision.rows] == [(0, NOW + timedelta(seconds=1))]


def test_an_opened_gate_turns_into_done_on_the_day_it_opened() -> None:
    _, log = export(plan(phase()))
    revision, _ = export(plan(phase(opened=date(2026, 4, 2), state="done")), log)
    assert [(r.entry.day, r.row.state, r.row.sequence) for r in revision.entries] == [(date(2026, 4, 2), "done", 1)]


def test_undoing_a_done_task_opens_its_entry_again() -> None:
    _, log = export(plan(task()))
    _, log = export(plan(task(state=State.DONE, closed_on=date(2026, 3, 10))), log)
    (event,) = events(plan(task()), log)
    assert event["SUMMARY"] == "Mix the salt water"
    assert len(event.subcomponents) == 1


def test_with_a_pretended_day_nothing_is_logged_and_only_changed_entries_take_its_midnight() -> None:
    kept, moved = task("a/kept"), task("a/moved")
    _, log = export(plan(kept, moved))
    p = plan(kept, replace(moved, date=date(2026, 3, 19)), on=date(2026, 3, 15))
    revision, _ = export(p, log, now=None)
    assert revision.rows == ()
    assert {r.entry.key: (r.row.stamp, r.row.sequence) for r in revision.entries} == {
        "a/kept": (NOW, 0), "a/moved": (datetime(2026, 3, 15, tzinfo=UTC), 1)}


def test_the_order_of_tasks_in_the_plan_does_not_change_a_byte() -> None:
    parts = [task(f"care/test#{n}", date(2026, 3, 10) + timedelta(days=n % 3)) for n in range(9)]
    forth, _ = calendar_from_plan(plan(*parts), NOTHING, now=NOW)
    back, _ = calendar_from_plan(plan(*reversed(parts)), NOTHING, now=NOW)
    assert forth == back
    starts = [(e["DTSTART"].to_ical(), e["UID"]) for e in icalendar.Calendar.from_ical(forth).events]
    assert starts == sorted(starts)


# --- clocks ----------------------------------------------------------------------------------------------------


def test_a_reminder_in_the_missing_hour_moves_forward() -> None:
    """RFC 5545 3.3.5: a time that does not occur is read with the offset before the gap; 02:30 becomes 03:30."""
    (event,) = events(plan(task(day=date(2026, 3, 29), time="02:30")))
    assert event["DTSTART"].to_ical() == b"20260329T033000"
    assert event["DTEND"].to_ical() == b"20260329T040000"


def test_a_gap_of_half_an_hour_moves_by_half_an_hour() -> None:
    (event,) = events(plan(task(day=date(2026, 10, 4), time="02:15"), timezone="Australia/Lord_Howe"))
    assert event["DTSTART"].to_ical() == b"20261004T024500"


@pytest.mark.parametrize("hour", ["01:50", "02:10", "02:50"])
def test_an_entry_over_the_repeated_hour_still_ends_after_it_starts(hour: str) -> None:
    (event,) = events(plan(task(day=date(2026, 10, 25), time=hour)))
    assert event["DTSTART"].to_ical() < event["DTEND"].to_ical()
    assert event["DTSTART"].to_ical() == f"20261025T{hour.replace(':', '')}00".encode()


@pytest.mark.parametrize("zone", ["UTC", "Etc/UTC", ""])
def test_a_tank_in_utc_needs_no_zone_description(zone: str) -> None:
    data, _ = calendar_from_plan(plan(task(), timezone=zone), NOTHING, now=NOW)
    assert b"DTSTART:20260310T180000Z" in data
    assert b"VTIMEZONE" not in data


def test_an_entry_late_in_the_evening_ends_on_the_next_day() -> None:
    (event,) = events(plan(task(day=date(2026, 12, 31), time="23:50")))
    assert event["DTEND"].to_ical() == b"20270101T002000"


def test_an_unreadable_hour_falls_back_to_the_keepers_and_then_to_nine() -> None:
    assert only(plan(task(time="evening"))).time == "18:00"
    assert only(plan(task(time=""), reminder_time="")).time == "09:00"


def test_a_pretended_day_before_the_last_export_still_stamps_its_own_midnight() -> None:
    _, log = export(plan(task()))
    revision, _ = export(plan(task(title="Other words"), on=date(2026, 2, 1)), log, now=None)
    assert revision.entries[0].row.stamp == datetime(2026, 2, 1, tzinfo=UTC)


@pytest.mark.parametrize("end", ["earliest", "latest"])
def test_a_window_is_written_anew_when_one_of_its_ends_moves_by_two_days(end: str) -> None:
    day = date(2026, 5, 10)
    wide = window(day - timedelta(days=20), day, day + timedelta(days=20))
    _, log = export(plan(task("fish/add", day, tentative=True, window=wide)))
    for days, rewritten in ((1, 0), (2, 1)):
        shifted = replace(wide, **{end: getattr(wide, end) + timedelta(days=days)})
        revision, _ = export(plan(task("fish/add", day, tentative=True, window=shifted)), log)
        assert len(revision.rows) == rewritten
        assert revision.entries[0].row.sequence == 0
