"""What holds for any plan and any history of exports."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from zoneinfo import ZoneInfo

import vobject
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.files.calendar_log import Exported, ExportLog, append_exported, read_export_log
from planner.show.calendar.calendar import KEEP_DAYS, calendar_from_plan, revise, uid_for
from planner.show.calendar.days import is_of_days
from planner.show.calendar.entries import last_day
from planner.show.calendar.text import one_line, shorten
from planner.terms.records import Plan, State, Task
from tests.rulecases import rulebook
from tests.truth.ical_lint import lint
from tests.unit.plan_builder import ON, TANK_ID, phase, plan, task

NOW = datetime(2026, 3, 2, 20, 15, 30, tzinfo=UTC)
ZONES = ["Europe/Berlin", "America/New_York", "Australia/Lord_Howe", "Africa/Casablanca", "UTC", "Asia/Kathmandu"]
RULES = rulebook()
any_text = st.text(st.characters(), max_size=250)
days = st.dates(ON, last_day(ON))
clocks = st.times().map(lambda t: t.strftime("%H:%M"))


@st.composite
def any_task(draw: st.DrawFn, number: int) -> Task:
    return task(
        f"care/test#{number}", draw(days), title=draw(any_text), steps=(draw(any_text),), cautions=(draw(any_text),),
        time=draw(clocks), minutes=draw(st.integers(0, 3000)), tentative=draw(st.booleans()),
        state=draw(st.sampled_from([State.PLANNED, State.DUE, State.LATE, State.WAITING, State.ON_HOLD])),
    )


@st.composite
def any_plan(draw: st.DrawFn) -> Plan:
    tasks = [draw(any_task(n)) for n in range(1, draw(st.integers(1, 5)) + 1)]
    return plan(*tasks, phase(title=draw(any_text), day=draw(days)), name=draw(any_text),
                timezone=draw(st.sampled_from(ZONES)), reminder_time=draw(clocks))


@settings(max_examples=60, deadline=None)
@given(any_plan(), st.booleans())
def test_any_first_export_is_clean_and_another_reader_finds_the_plans_dates_in_it(p: Plan, timed: bool) -> None:
    data, revision = calendar_from_plan(p, RULES, ExportLog(), now=NOW, timed=timed)
    assert lint(data) == []
    # vobject keeps the zone of the first file it ever read under a TZID; each file is to be read by its own.
    zones = vars(vobject.icalendar)["__tzidMap"]
    for name in [name for name in zones if name in ZONES]:
        del zones[name]
    found = {e.uid.value: e for e in vobject.readOne(data.decode()).contents["vevent"]}
    wanted: dict[str, tuple[date, str]] = {t.id: (t.date, t.time) for t in p.tasks if t.date is not None and not (t.due and t.due < ON)}
    wanted["phase/cycle"] = (p.phases[0].window.likely or ON, "")
    of_days = {r.entry.uid for r in revision.entries if is_of_days(r.entry.key)}
    assert found.keys() - of_days <= {uid_for(TANK_ID, key) for key in wanted}
    for key, (day, clock) in wanted.items():
        if uid_for(TANK_ID, key) not in found:  # no place in a full week
            assert sum(d.isocalendar()[:2] == day.isocalendar()[:2] for d, _ in wanted.values()) + 7 > 12
            continue
        start = found[uid_for(TANK_ID, key)].dtstart.value
        if not isinstance(start, datetime):
            assert start == day
            continue
        local = datetime.combine(day, time.fromisoformat(clock), ZoneInfo(p.timezone))
        assert start.astimezone(UTC) == local.astimezone(UTC)
    again, second = calendar_from_plan(p, RULES, ExportLog(revision.rows), now=NOW + timedelta(days=1), timed=timed)
    assert (second.rows, again) == ((), data)


STATES = [State.PLANNED, State.DUE, State.LATE, State.ON_HOLD, State.SKIPPED, State.DONE, None]
step = st.fixed_dictionaries({
    "tasks": st.lists(st.tuples(st.integers(1, 4), st.integers(0, 40), st.sampled_from(STATES), st.booleans()),
                      max_size=4, unique_by=lambda t: t[0]),
    "idle_days": st.integers(0, 40), "news": st.booleans(), "clock_back": st.booleans(),
})


@settings(max_examples=60, deadline=None)
@given(st.lists(step, min_size=1, max_size=8))
def test_every_importer_that_follows_the_standard_ends_with_the_last_file(steps: list[dict[str, object]]) -> None:
    """RFC 5546 2.1.5: the highest SEQUENCE wins, at equal SEQUENCE the latest DTSTAMP. Beside it an importer that
    looks at LAST-MODIFIED alone. Both hold what the last file says, and numbers and stamps only grow."""
    log, on, mark = ExportLog(), ON, 0
    by_sequence: dict[str, Exported] = {}
    by_stamp: dict[str, Exported] = {}
    for one in steps:
        on += timedelta(days=one["idle_days"])  # type: ignore[arg-type]
        mark += bool(one["news"])
        tasks = [
            task(f"a/t#{n}", ON + timedelta(days=shift), state=state, tentative=tentative and state is State.PLANNED,
                 closed_on=on if state is State.DONE else None)
            for n, shift, state, tentative in one["tasks"]  # type: ignore[attr-defined]
            if state is not None
        ]
        now = datetime.combine(on, time(12), UTC) - timedelta(days=500 if one["clock_back"] else 0)
        revision = revise(plan(*tasks, on=on), RULES, log, now=now, journal=str(mark))
        held = log.latest()
        for row in revision.rows:
            if row.uid in held:
                assert row.sequence >= held[row.uid].sequence
                assert row.stamp > held[row.uid].stamp
                assert row.created == held[row.uid].created
        log = replace(log, rows=log.rows + revision.rows)
        for shown in revision.entries:
            row, before = shown.row, by_sequence.get(shown.row.uid)
            if before is None or (row.sequence, row.stamp) > (before.sequence, before.stamp):
                by_sequence[row.uid] = row
            if row.uid not in by_stamp or row.stamp > by_stamp[row.uid].stamp:
                by_stamp[row.uid] = row
        for shown in revision.entries:
            assert shown.row.sequence < 2**31
            assert by_sequence[shown.entry.uid] == by_stamp[shown.entry.uid] == shown.row
            assert shown.row.start == shown.entry.start
        living = {row.uid for row in log.latest().values() if row.state in ("firm", "provisional") and not (is_of_days(row.key) and row.day < on)}
        assert living <= {shown.entry.uid for shown in revision.entries}
        assert all(entry.entry.alarm_minutes is None for entry in revision.entries if entry.entry.state != "firm")
        assert revise(plan(*tasks, on=on), RULES, log, now=now, journal=str(mark)).rows == ()
    assert all((on - row.stamp.date()).days <= KEEP_DAYS for row in (r.row for r in revision.entries)
               if row.state in ("done", "cancelled"))


@given(any_text, st.integers(4, 120))
def test_any_text_becomes_one_line_that_fits(text: str, octets: int) -> None:
    line = one_line(text)
    assert one_line(line) == line
    assert len(line.splitlines()) <= 1
    assert len(shorten(line, octets).encode()) <= octets


rows = st.builds(
    Exported, uid=st.uuids().map(str), sequence=st.integers(0, 99),
    stamp=st.datetimes(datetime(2026, 1, 1), datetime(2030, 1, 1)).map(lambda d: d.replace(microsecond=0, tzinfo=UTC)),
    created=st.just(NOW), key=st.just("a/b#1"), state=st.sampled_from(["firm", "done", "cancelled", "provisional"]),
    start=days.map(lambda d: f"{d} 18:00 Europe/Berlin"), minutes=st.integers(1, 240),
    earliest=st.none() | days, latest=st.none() | days, journal=st.just("mark"), title=any_text.map(one_line),
    digest=st.text("0123456789abcdef", min_size=16, max_size=16),
)


@settings(max_examples=40, deadline=None)
@given(st.lists(rows, min_size=1, max_size=4), st.integers(0, 600))
def test_a_log_of_any_rows_survives_a_crash_at_any_byte(written: list[Exported], lost: int) -> None:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "calendar-log.csv"
        append_exported(path, written, read_export_log(path))
        assert list(read_export_log(path).rows) == written
        data = path.read_bytes()
        path.write_bytes(data[: max(len(data) - lost, 0)])
        log = read_export_log(path)
        assert list(log.rows) == written[: len(log.rows)]
        append_exported(path, written[-1:], log)
        assert list(read_export_log(path).rows) == [*log.rows, written[-1]]
