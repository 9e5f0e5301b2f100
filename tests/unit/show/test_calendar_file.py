"""What rings, what is late, which phases and jobs have a place in a week."""

from __future__ import annotations

import uuid
from datetime import date, timedelta

import pytest

from planner.show.calendar.calendar import planned_entries
from planner.show.calendar.days import late_day
from planner.show.calendar.entries import full_text, last_day, summary
from planner.terms.causes import cause
from planner.terms.records import Answer, Plan, State
from tests.unit.plan_builder import ON, TANK_ID, hold, need, phase, plan, task, window
from tests.unit.show.calendar_help import DAY, JOB, RULES, events, export, late, of_day, only, own, own_rows

# --- what rings ------------------------------------------------------------------------------------------------


def test_a_day_rings_once_at_the_keepers_hour_with_its_jobs_in_the_text() -> None:
    p = plan(task("a/one"), task("a/two", minutes=10), task("a/light", calendar=False, minutes=5, title="Look at the tank"))
    found = events(p)
    assert str(found[DAY]["SUMMARY"]) == "Reef: 3 jobs, 45 min"
    assert found[DAY]["DTSTART"].to_ical() == b"20260310T180000"
    assert found[DAY]["DTSTART"].params["TZID"] == "Europe/Berlin"
    assert [a["TRIGGER"].dt for a in found[DAY].subcomponents] == [timedelta(0)]
    assert "- Look at the tank (5 min)" in found[DAY]["DESCRIPTION"]
    assert [key for key, e in found.items() if e.subcomponents] == [DAY, "end"]


def test_the_key_of_a_day_is_its_date() -> None:
    assert of_day(plan(task())).uid == str(uuid.uuid5(uuid.UUID(TANK_ID), "day/2026-03-10"))


def test_a_job_of_weight_stands_silent_and_all_day_beside_it() -> None:
    event = events(plan(task()))[JOB]
    assert event["DTSTART"].to_ical() == b"20260310"
    assert event["DTEND"].to_ical() == b"20260311"
    assert event.subcomponents == []
    assert event["STATUS"] == "CONFIRMED"


def test_a_job_with_an_hour_of_its_own_stands_at_it_and_leaves_ringing_to_the_day() -> None:
    found = events(plan(task(time="07:45")))
    assert found[JOB]["DTSTART"].to_ical() == b"20260310T074500"
    assert found[JOB].subcomponents == []
    assert "- 07:45 Mix the salt water (30 min)" in found[DAY]["DESCRIPTION"]


def test_a_job_more_often_than_every_third_day_stands_in_the_day_alone() -> None:
    """`cycle/tests` comes every second day by its rule, `cycle/weekly-tests` every seventh."""
    found = events(plan(task("cycle/tests#3", title="Test ammonia"), task("cycle/weekly-tests#1")))
    assert set(found) == {"cycle/weekly-tests#1", DAY, "end"}
    assert "1. Fill the bin with RO water." in found[DAY]["DESCRIPTION"]


@pytest.mark.parametrize(("hour", "trigger"), [("18:00", "-PT6H"), ("09:00", "-PT15H"), ("18:30", "-PT5H30M")])
def test_without_times_a_day_rings_at_the_keepers_hour_of_the_evening_before(hour: str, trigger: str) -> None:
    event = events(plan(task(), reminder_time=hour), timed=False)[DAY]
    assert event["DTSTART"].to_ical() == b"20260310"
    assert event.subcomponents[0]["TRIGGER"].to_ical().decode() == trigger


def test_without_times_a_jobs_own_hour_is_told_in_words() -> None:
    assert "Time of day: 07:45." in full_text(only(plan(task(time="07:45")), timed=False))
    assert "Time of day" not in full_text(only(plan(task(time="18:00")), timed=False))


@pytest.mark.parametrize(("changes", "title"), [({"tentative": True}, "maybe Mix the salt water"), ({"state": State.WAITING}, "maybe Mix the salt water"), ({"state": State.ON_HOLD}, "wait: Mix the salt water")])
def test_nothing_behind_a_shut_gate_or_on_hold_rings_and_its_title_says_so(changes: dict[str, object], title: str) -> None:
    for timed in (True, False):
        found = events(plan(task(**changes)), timed=timed)
        assert DAY not in found
        assert found[JOB].subcomponents == []
        assert found[JOB]["STATUS"] == "TENTATIVE"
        assert found[JOB]["SUMMARY"] == title


def test_what_is_on_hold_says_why() -> None:
    because = (cause("on_hold", because="The socket has no RCD."),)
    p = plan(task(state=State.ON_HOLD, because=because), hold("water", "The socket has no RCD."), hold("fish", "Ammonia."))
    text = events(p)[JOB]["DESCRIPTION"]
    assert "On hold since 2 March 2026: The socket has no RCD." in text
    assert "Ammonia" not in text


def test_what_was_ticked_today_stays_in_the_day_and_no_longer_counts() -> None:
    done = task("a/done", state=State.DONE, closed_on=ON, title="Rinse the sand")
    found = of_day(plan(done, task("a/open", ON)), ON)
    assert summary(found) == "Reef: 1 job, 30 min"
    assert "- done: Rinse the sand (30 min)" in found.text
    all_done = of_day(plan(done), ON)
    assert (summary(all_done), all_done.alarm_minutes) == ("done: 1 job, 30 min", None)


def test_the_days_go_four_weeks_ahead_to_a_sunday_and_the_last_asks_for_a_new_export() -> None:
    end = last_day(ON)
    assert (end.weekday(), (end - ON).days) == (6, 34)
    found = events(plan(task("a/last", end), task("a/beyond", end + timedelta(days=1))))
    assert str(found[f"day/{end}"]["SUMMARY"]) == "Export again: 1 job"
    assert "Run newtank calendar in the tank's folder again" in found[f"day/{end}"]["DESCRIPTION"]
    assert f"day/{end + timedelta(days=1)}" not in found
    assert "a/beyond" in found


def test_without_a_job_on_its_last_day_the_calendar_still_asks_for_a_new_export() -> None:
    event = events(plan())["end"]
    assert (str(event["SUMMARY"]), len(event.subcomponents)) == ("Export again", 1)


# --- what is late ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("passed", "told"), [(1, 1), (2, 3), (3, 3), (4, 7), (8, 14), (14, 14), (15, 28), (29, 42)])
def test_what_is_late_is_told_on_the_next_of_days_one_three_seven_fourteen_and_so_on(passed: int, told: int) -> None:
    due = date(2026, 3, 1)
    assert late_day(due, due + timedelta(days=passed)) == due + timedelta(days=told)


def test_what_is_late_is_counted_in_one_entry_that_rings_where_the_day_does_not() -> None:
    found = events(plan(late(2), late(9, "a/b")))
    assert str(found["late"]["SUMMARY"]) == "Late: 2 jobs, 60 min"
    assert found["late"]["DTSTART"].to_ical() == b"20260303T180000"
    assert len(found["late"].subcomponents) == 1
    assert "- Mix the salt water (30 min, from 28 February 2026)" in found["late"]["DESCRIPTION"]
    beside = events(plan(late(2), task("a/today", date(2026, 3, 3))))
    assert (beside["late"].subcomponents, beside["late"]["DTSTART"].to_ical()) == ([], b"20260303")
    assert len(beside["day/2026-03-03"].subcomponents) == 1


def test_a_late_remedy_stands_among_todays_jobs() -> None:
    p = plan(task("a/b", ON, due=ON - timedelta(days=1), state=State.LATE, role="remedy"))
    assert summary(of_day(p, ON)) == "Reef: 1 job, 30 min"


def test_a_late_job_stays_on_the_day_on_which_it_was_due() -> None:
    _, log = export(plan(task()))
    for days in range(1, 8):
        on = date(2026, 3, 10) + timedelta(days=days)
        revision, log = export(plan(task(day=on, due=date(2026, 3, 10), state=State.LATE), on=on), log, journal=f"j{days}")
        assert [day for day, _ in own(revision)] == [date(2026, 3, 10)]
        assert len(own_rows(revision)) == (days == 1)


def test_repeats_behind_one_that_was_left_out_keep_their_beat() -> None:
    """By its rule `care/weekly-change` comes every seven days."""
    def on_day(on: date) -> Plan:
        first = max(on, date(2026, 3, 2))
        return plan(*(task(f"care/weekly-change#{n}", first + timedelta(days=7 * (n - 1)), due=date(2026, 3, 2) if n == 1 else first + timedelta(days=7 * (n - 1)),
                           state=State.DUE if n == 1 else State.PLANNED, role="care") for n in range(1, 5)), on=on)

    first, log = export(on_day(ON))
    for days in (1, 2, 3, 4, 5, 6):
        revision, log = export(on_day(ON + timedelta(days=days)), log)
        assert [r.key for r in own_rows(revision) if r.state != "done"] == (["care/weekly-change#1"] + [f"care/weekly-change#{n}" for n in (2, 3, 4)] if days == 1 else [])
        assert [day for day, _ in own(revision)] == [day for day, _ in own(first)]


# --- phases ----------------------------------------------------------------------------------------------------


def test_a_phase_to_come_has_one_entry_on_the_day_on_which_it_begins() -> None:
    p = plan(phase("fish", date(2026, 6, 30)), task("fish/stage-1", date(2026, 6, 1), tentative=True, window=window(date(2026, 5, 1), date(2026, 6, 1), date(2026, 7, 1))))
    found = events(p)
    assert set(found) == {"phase/fish", "end"}
    assert str(found["phase/fish"]["SUMMARY"]) == "maybe Fish"
    assert found["phase/fish"]["DTSTART"].to_ical() == b"20260601"
    assert "If quick: 1 May 2026. Likely: 1 June 2026. If slow: 1 July 2026." in found["phase/fish"]["DESCRIPTION"]


def test_a_phase_that_has_begun_has_one_for_its_gate_that_names_what_must_still_be_read() -> None:
    gate = phase(started=ON, needs=(need("ammonia clear"), need("salt steady", Answer.YES), need("nitrite clear", Answer.UNKNOWN)))
    event = events(plan(gate))["gate/cycle"]
    assert event["SUMMARY"] == "maybe Cycle done"
    assert event["UID"] == str(uuid.uuid5(uuid.UUID(TANK_ID), "gate/cycle"))
    assert event["STATUS"] == "TENTATIVE"
    assert event.subcomponents == []
    assert "- nitrite clear: not known yet" in event["DESCRIPTION"]
    assert "- salt steady: yes" in event["DESCRIPTION"]


def test_a_gate_that_opens_turns_into_done_on_that_day() -> None:
    _, log = export(plan(phase(started=ON)))
    revision, _ = export(plan(phase(started=ON, opened=date(2026, 4, 2), state="done")), log)
    assert [(r.key, r.start, r.state) for r in own_rows(revision)] == [("gate/cycle", "2026-04-02", "done")]


def test_provisional_jobs_are_written_four_weeks_ahead_and_stay_once_they_are() -> None:
    def tentative(days: int) -> Plan:
        return plan(task("fish/add", last_day(ON) + timedelta(days=days), tentative=True))

    assert own(export(tentative(1))[0]) == []
    first, log = export(tentative(0))
    assert len(own(first)) == 1
    assert [day for day, _ in own(export(tentative(9), log)[0])] == [last_day(ON) + timedelta(days=9)]


# --- a week ----------------------------------------------------------------------------------------------------


def test_a_week_holds_twelve_entries_and_what_weighs_more_comes_first() -> None:
    monday = date(2026, 3, 9)
    jobs = [task(f"a/n{n}", monday + timedelta(days=n % 7), role="test") for n in range(14)]
    p = plan(*jobs, task("b/fish", monday + timedelta(days=6), role="animals"))
    found = [e for e in planned_entries(p, RULES, {}) if monday <= e.day < monday + timedelta(days=7)]
    assert len(found) == 12
    assert "b/fish" in {e.key for e in found}
    assert sum(e.alarm_minutes is not None for e in found) == 7


def test_what_stood_in_a_week_keeps_its_place_when_more_comes() -> None:
    monday = date(2026, 3, 9)
    light = [task(f"a/n{n}", monday, role="care") for n in range(11)]
    first, log = export(plan(*light))
    assert len(own(first)) == 11
    heavy = [task(f"b/n{n}", monday, role="animals") for n in range(5)]
    assert {r.key for r in own_rows(export(plan(*light, *heavy), log)[0])} == set()


def test_what_was_done_makes_room_when_more_days_of_its_week_ring() -> None:
    monday = date(2026, 3, 9)
    first, log = export(plan(*(task(f"a/n{n}", monday) for n in range(11))))
    assert len(own(first)) == 11
    done = [task(f"a/n{n}", monday, state=State.DONE, closed_on=monday) for n in range(11)]
    daily = [task(f"b/n{n}", monday + timedelta(days=n), calendar=False) for n in range(7)]
    _, log = export(plan(*done, on=monday), log)
    for jobs in ((*done, *daily), daily):
        revision, _ = export(plan(*jobs, on=monday), log, journal="j3")
        assert sum(monday <= r.entry.day < monday + timedelta(days=7) for r in revision.entries if r.row.state != "cancelled") == 12
