"""The calendar file against what did not write it: three other readers, the standard's own rules, zone data.

Readers: `ical` (strict, pydantic), `vobject`, ical.js under Node, `dateutil.tz.tzical` for zone descriptions,
`recurring-ical-events` for expansion; rules: `ical_lint`. What they give is compared with the plan, not with the
writer.
"""

from __future__ import annotations

import io
import json
import os
import shutil
import subprocess
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import icalendar
import pytest
import recurring_ical_events
import vobject
from dateutil.tz import tzical
from ical.calendar_stream import IcsCalendarStream

from planner.files.calendar_log import ExportLog
from planner.show.calendar.calendar import calendar_from_plan, uid_for
from planner.show.calendar.zones import timezone_from_zone
from planner.terms.records import Plan, State
from tests.rulecases import rulebook
from tests.truth.ical_lint import errors, lint
from tests.unit.plan_builder import TANK_ID, phase, plan, task

NOW = datetime(2026, 3, 2, 20, 15, 30, tzinfo=UTC)
BERLIN = ZoneInfo("Europe/Berlin")
RULES = rulebook()


@dataclass(frozen=True, order=True)
class Seen:
    """One entry as a reader gives it; times as UTC."""

    uid: str
    start: str
    end: str
    summary: str
    status: str
    sequence: int
    alarms: int


def _text(moment: date | datetime) -> str:
    return moment.astimezone(UTC).isoformat() if isinstance(moment, datetime) else moment.isoformat()


def read_by_ical(data: bytes) -> list[Seen]:
    (calendar,) = IcsCalendarStream.from_ics(data.decode()).calendars  # type: ignore[attr-defined]
    return sorted(
        Seen(e.uid, _text(e.dtstart), _text(e.dtend), e.summary, str(e.status.value), e.sequence or 0, len(e.alarm))
        for e in calendar.events
    )


def read_by_vobject(data: bytes) -> list[Seen]:
    calendar = vobject.readOne(data.decode())
    calendar.validate(raiseException=True)
    return sorted(
        Seen(e.uid.value, _text(e.dtstart.value), _text(e.dtend.value), e.summary.value, e.status.value,
             int(e.sequence.value), len(e.contents.get("valarm", [])))
        for e in calendar.contents.get("vevent", [])
    )


SCRIPT = """
const ICAL = require(process.argv[1]);
const calendar = new ICAL.Component(ICAL.parse(require('fs').readFileSync(0, 'utf8')));
const zones = {};
for (const z of calendar.getAllSubcomponents('vtimezone')) zones[z.getFirstPropertyValue('tzid')] = new ICAL.Timezone(z);
const text = (event, name) => {
  const property = event.getFirstProperty(name), time = property.getFirstValue();
  if (time.isDate) return time.toString();
  const tzid = property.getParameter('tzid');
  if (tzid) time.zone = zones[tzid];
  return new Date(time.toUnixTime() * 1000).toISOString().slice(0, 19) + '+00:00';
};
console.log(JSON.stringify(calendar.getAllSubcomponents('vevent').map(e => [
  e.getFirstPropertyValue('uid'), text(e, 'dtstart'), text(e, 'dtend'), e.getFirstPropertyValue('summary'),
  e.getFirstPropertyValue('status'), e.getFirstPropertyValue('sequence'), e.getAllSubcomponents('valarm').length])));
"""


def read_by_ical_js(data: bytes) -> list[Seen]:
    node = shutil.which("node")
    places = [Path(p) / "ical.js/dist/ical.es5.cjs" for p in os.environ.get("NODE_PATH", "").split(os.pathsep) if p]
    module = next((p for p in places if p.exists()), None)
    if node is None:
        pytest.skip("Node is not installed")
    if module is None:
        pytest.skip("ical.js is not on NODE_PATH (npm install ical.js@2, then NODE_PATH=.../node_modules)")
    run = subprocess.run([node, "-e", SCRIPT, str(module)], input=data, capture_output=True, check=True, timeout=60)
    return sorted(Seen(*row) for row in json.loads(run.stdout))


READERS = [read_by_ical, read_by_vobject, read_by_ical_js]
each_reader = pytest.mark.parametrize("read", READERS, ids=lambda r: r.__name__.removeprefix("read_by_"))
Reader = Callable[[bytes], list[Seen]]


def rich_plan() -> Plan:
    """Every kind of entry, on leap day, at the turn of the year, and on both days on which the clocks change. They have hours of
    their own, but for the days: those ring."""
    return plan(
        task("a/leap", date(2028, 2, 29), time="18:00:00", title="Leap day; test, note"),
        task("a/new-year", date(2026, 12, 31), time="23:50", title="Over midnight"),
        task("a/gap", date(2026, 3, 29), time="02:30", title="In the missing hour"),
        task("a/twice", date(2026, 10, 25), time="02:50", title="In the hour that comes twice"),
        task("a/before-gap", date(2026, 3, 29), time="01:50", title="Before the gap"),
        task("fish/add#1", date(2026, 4, 1), tentative=True, title="\U0001f420 קריאה, " + "塩" * 90, steps=("塩" * 90,)),
        task("fish/hold", date(2026, 4, 2), state=State.ON_HOLD, title="On hold"),
        phase(),
    )


@each_reader
def test_other_readers_find_the_dates_of_the_plan(read: Reader) -> None:
    data, _ = calendar_from_plan(rich_plan(), RULES, ExportLog(), now=NOW)
    seen = {s.uid: s for s in read(data)}

    def utc(*parts: int) -> str:
        return datetime(*parts, tzinfo=UTC).isoformat()  # type: ignore[arg-type, misc]

    # Offsets of Berlin: +01:00, from 29 March 2026 01:00 UTC to 25 October 2026 01:00 UTC +02:00 (EU directive
    # 2000/84/EC, articles 2 and 3: last Sundays of March and October at 01:00 UTC).
    wanted = {
        "a/leap": (utc(2028, 2, 29, 17, 0), utc(2028, 2, 29, 17, 30), 0),
        "a/new-year": (utc(2026, 12, 31, 22, 50), utc(2026, 12, 31, 23, 20), 0),
        "a/gap": (utc(2026, 3, 29, 1, 30), utc(2026, 3, 29, 2, 0), 0),
        # The hour from 02:00 to 03:00 comes twice on that night; the entry stands after both.
        "a/twice": (utc(2026, 10, 25, 2, 0), utc(2026, 10, 25, 2, 30), 0),
        "a/before-gap": (utc(2026, 3, 29, 0, 50), utc(2026, 3, 29, 1, 20), 0),
        "fish/add#1": ("2026-04-01", "2026-04-02", 0),
        "fish/hold": ("2026-04-02", "2026-04-03", 0),
        "phase/cycle": ("2026-04-10", "2026-04-11", 0),
        "day/2026-03-29": (utc(2026, 3, 29, 16, 0), utc(2026, 3, 29, 16, 30), 1),
        "end": (utc(2026, 4, 5, 16, 0), utc(2026, 4, 5, 16, 30), 1),
    }
    assert {key: (seen[uid_for(TANK_ID, key)].start, seen[uid_for(TANK_ID, key)].end,
                  seen[uid_for(TANK_ID, key)].alarms) for key in wanted} == wanted
    assert len(seen) == len(wanted)
    assert seen[uid_for(TANK_ID, "a/leap")].summary == "Leap day; test, note"
    assert seen[uid_for(TANK_ID, "fish/add#1")].summary == "maybe \U0001f420 קריאה"


@each_reader
def test_publish_move_and_cancel_go_through_the_published_life_cycle(read: Reader) -> None:
    """RFC 5546 4.1.1 (publish), 4.1.2 (a new start carries the next SEQUENCE), 4.1.3 (the cancel the one after). The first is the
    minutes from the begin of 2020."""
    log, got, first = ExportLog(), [], int((NOW - datetime(2020, 1, 1, tzinfo=UTC)).total_seconds()) // 60
    for p in (plan(task()), plan(task(day=date(2026, 3, 12))), plan()):
        data, revision = calendar_from_plan(p, RULES, log, now=NOW)
        log = replace(log, rows=log.rows + revision.rows)
        assert lint(data) == []
        seen = next(e for e in read(data) if e.uid == uid_for(TANK_ID, "water/mix-salt"))
        got.append((seen.uid, seen.sequence, seen.status, seen.start, seen.alarms))
    uid = uid_for(TANK_ID, "water/mix-salt")
    assert got == [
        (uid, first, "CONFIRMED", "2026-03-10", 0),
        (uid, first + 1, "CONFIRMED", "2026-03-12", 0),
        (uid, first + 2, "CANCELLED", "2026-03-12", 0),
    ]


@pytest.mark.parametrize("timed", [True, False])
@pytest.mark.parametrize("zone", ["Europe/Berlin", "America/New_York", "Australia/Lord_Howe", "UTC", "Asia/Kolkata"])
def test_the_file_passes_the_strict_lint(zone: str, timed: bool) -> None:
    data, _ = calendar_from_plan(replace(rich_plan(), timezone=zone), RULES, ExportLog(), now=NOW, timed=timed)
    assert lint(data) == []
    assert data.count(b"BEGIN:VEVENT") == 10


@pytest.mark.parametrize("zone", [
    "Europe/Berlin", "Australia/Lord_Howe", "Africa/Casablanca", "Europe/Dublin", *(pytest.param(zone, marks=pytest.mark.slow) for zone in (
        "America/New_York", "Australia/Sydney", "America/Santiago", "Asia/Kolkata", "Pacific/Chatham", "Africa/Cairo", "Europe/London", "America/Havana")),
])
def test_the_zone_description_gives_the_offset_of_the_zone_data_at_every_half_hour(zone: str) -> None:
    """Read by dateutil, which follows RFC 5545 3.6.5; compared with the zone data for two whole years, and where the zone
    has a rule two years on."""
    part = timezone_from_zone(zone, 2026, 2027).to_ical(sorted=False).decode()
    described, real = tzical(io.StringIO(part)).get(zone), ZoneInfo(zone)
    years = 4 if "RRULE" in part else 2
    moment, end, wrong = datetime(2026, 1, 1, tzinfo=UTC), datetime(2026 + years, 1, 1, tzinfo=UTC), []
    while moment < end:
        local = moment.astimezone(real)
        if not local.fold and local.replace(tzinfo=described).utcoffset() != local.utcoffset():
            wrong.append(local.isoformat())
        moment += timedelta(minutes=30)
    assert wrong == []


def test_an_expanded_month_shows_exactly_the_entries_planned_in_it() -> None:
    data, _ = calendar_from_plan(rich_plan(), RULES, ExportLog(), now=NOW)
    expanded = recurring_ical_events.of(icalendar.Calendar.from_ical(data))
    assert [str(e["SUMMARY"]) for e in expanded.between(date(2028, 2, 29), date(2028, 3, 1))] == [
        "Leap day; test, note"]
    march = sorted(str(e["SUMMARY"]) for e in expanded.between(date(2026, 3, 1), date(2026, 4, 1)))
    assert march == ["Before the gap", "In the missing hour", "Reef: 2 jobs, 60 min"]
    new_year = expanded.between(datetime(2027, 1, 1), datetime(2027, 1, 2))
    assert [str(e["SUMMARY"]) for e in new_year] == ["Over midnight"]


@pytest.mark.parametrize(("timed", "wanted"), [
    (True, datetime(2026, 3, 10, 18, 0, tzinfo=BERLIN)), (False, datetime(2026, 3, 9, 18, 0))])
def test_the_alarm_rings_at_the_reminder_hour(timed: bool, wanted: datetime) -> None:
    """Computed by the alarm arithmetic of `icalendar`; an all-day alarm counts from midnight (RFC 5545 3.8.6.3)."""
    data, _ = calendar_from_plan(plan(task()), RULES, ExportLog(), now=NOW, timed=timed)
    event = next(e for e in icalendar.Calendar.from_ical(data).events if str(e["SUMMARY"]).startswith("Reef: "))
    (alarm,) = icalendar.Alarms(event).times
    assert alarm.trigger.replace(tzinfo=wanted.tzinfo) == wanted


# --- the lint itself: each damage has to be found --------------------------------------------------------------

CLEAN = "\r\n".join([
    "BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//bench//EN", "BEGIN:VTIMEZONE", "TZID:Here", "BEGIN:STANDARD",
    "DTSTART:20260101T000000", "TZOFFSETFROM:+0100", "TZOFFSETTO:+0100", "END:STANDARD", "END:VTIMEZONE",
    "BEGIN:VEVENT", "UID:one", "DTSTAMP:20260301T120000Z", "DTSTART;VALUE=DATE:20260310", "DTEND;VALUE=DATE:20260311",
    r"SUMMARY:Water\, salt\; rock", "STATUS:CONFIRMED", "SEQUENCE:0", "RRULE:FREQ=DAILY;UNTIL=20260320",
    "EXDATE;VALUE=DATE:20260312", "BEGIN:VALARM", "ACTION:DISPLAY", "DESCRIPTION:Salt", "TRIGGER:-PT15H", "END:VALARM",
    "END:VEVENT", "BEGIN:VEVENT", "UID:two", "DTSTAMP:20260301T120000Z", "DTSTART;TZID=Here:20260310T180000",
    "DTEND;TZID=Here:20260310T183000", "SUMMARY:Kühl 塩", "RRULE:FREQ=WEEKLY;UNTIL=20260401T170000Z", "END:VEVENT",
    "END:VCALENDAR", "",
]).encode()

DAMAGE: list[tuple[str, bytes, bytes, str]] = [
    ("an unfolded long line", b"SUMMARY:Water", b"SUMMARY:" + b"W" * 80, "long-line"),
    ("LF alone", b"\r\n", b"\n", "line-ends"),
    ("no DTSTAMP", b"UID:one\r\nDTSTAMP:20260301T120000Z", b"UID:one", "dtstamp-missing"),
    ("DTSTAMP in local time", b"DTSTAMP:20260301T120000Z", b"DTSTAMP:20260301T120000", "not-utc"),
    ("no VTIMEZONE", b"TZID:Here", b"TZID:There", "no-timezone"),
    ("the UID twice", b"UID:two", b"UID:one", "uid-twice"),
    ("UNTIL in UTC on a date", b"UNTIL=20260320", b"UNTIL=20260320T000000Z", "until-type"),
    ("UNTIL as a date on a zoned start", b"UNTIL=20260401T170000Z", b"UNTIL=20260401", "until-type"),
    ("UNTIL in local time on a zoned start", b"UNTIL=20260401T170000Z", b"UNTIL=20260401T170000", "until-type"),
    ("UNTIL beside COUNT", b"UNTIL=20260320", b"UNTIL=20260320;COUNT=3", "rule"),
    ("DTEND before DTSTART", b"DTEND;VALUE=DATE:20260311", b"DTEND;VALUE=DATE:20260309", "end-before-start"),
    ("DTEND on DTSTART", b"DTEND;VALUE=DATE:20260311", b"DTEND;VALUE=DATE:20260310", "end-before-start"),
    ("DTEND of another type", b"DTEND;VALUE=DATE:20260311", b"DTEND:20260311T000000Z", "type-differs"),
    ("an unknown STATUS", b"STATUS:CONFIRMED", b"STATUS:LIKELY", "status"),
    ("no UID", b"UID:one\r\n", b"", "uid-missing"),
    ("a UID with a host in it", b"UID:one", b"UID:one@example.org", "uid-form"),
    ("a raw line break in a text", b"SUMMARY:Water", b"SUMMARY:Water\r\nand salt", "no-property"),
    ("an unescaped comma", rb"\, salt", b", salt", "escape"),
    ("an unescaped semicolon", rb"\; rock", b"; rock", "escape"),
    ("a fold inside a character", "K\u00fchl".encode(), b"K\xc3\r\n \xbchl", "split-character"),
    ("a byte-order mark", b"BEGIN:VCALENDAR", b"\xef\xbb\xbfBEGIN:VCALENDAR", "bom"),
    ("an alarm without ACTION", b"ACTION:DISPLAY\r\n", b"", "action-missing"),
    ("a date without VALUE=DATE", b"DTSTART;VALUE=DATE:20260310", b"DTSTART:20260310", "value-type"),
    ("RECURRENCE-ID of another type", b"SEQUENCE:0", b"RECURRENCE-ID:20260310T000000Z", "type-differs"),
    ("EXDATE of another type", b"EXDATE;VALUE=DATE:20260312", b"EXDATE:20260312T000000Z", "type-differs"),
    ("no END:VCALENDAR", b"END:VCALENDAR\r\n", b"", "not-ended"),
    ("a file cut in the middle", b"UID:two" + CLEAN.split(b"UID:two")[1], b"UID:t", "cut"),
    ("METHOD", b"VERSION:2.0", b"VERSION:2.0\r\nMETHOD:PUBLISH", "method"),
    ("an alarm after the start", b"TRIGGER:-PT15H", b"TRIGGER:PT9H", "alarm-after-start"),
    ("a trigger without a number", b"TRIGGER:-PT15H", b"TRIGGER:P", "trigger"),
    ("an absolute trigger without its type", b"TRIGGER:-PT15H", b"TRIGGER:20260309T090000Z", "trigger"),
    ("an alarm on a tentative entry", b"STATUS:CONFIRMED", b"STATUS:TENTATIVE", "alarm-uncertain"),
    ("REFRESH-INTERVAL without its type", b"VERSION:2.0", b"VERSION:2.0\r\nREFRESH-INTERVAL:PT6H", "value-type"),
    ("a control character", b"Water", b"Wa\x07ter", "control"),
    ("a property after a component", b"END:VALARM\r\n", b"END:VALARM\r\nURL:x\r\n", "late-property"),
    ("a day that is none", b"DTSTART;VALUE=DATE:20260310", b"DTSTART;VALUE=DATE:20260230", "value-type"),
]


def test_a_clean_file_has_no_findings() -> None:
    assert lint(CLEAN) == []


@pytest.mark.parametrize(("old", "new", "code"), [d[1:] for d in DAMAGE], ids=[d[0] for d in DAMAGE])
def test_the_lint_finds(old: bytes, new: bytes, code: str) -> None:
    assert old in CLEAN
    found = lint(CLEAN.replace(old, new, 1 if old != b"\r\n" else -1))
    assert code in [f.code for f in found]
    warning = code in ("long-line", "split-character")
    assert [f.warning for f in found if f.code == code] == [warning] * sum(f.code == code for f in found)


def test_every_cut_of_a_file_is_an_error() -> None:
    for length in range(0, len(CLEAN) - 1, 7):
        assert errors(CLEAN[:length]), length
