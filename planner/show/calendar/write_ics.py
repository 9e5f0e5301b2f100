"""Revised entries as an iCalendar stream. Property order is fixed; nothing here knows the time of writing.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import icalendar

from planner.files.calendar_log import line_from_row
from planner.files.lost_calendar_log import CALENDAR_PROPERTY, PRETENDED_PROPERTY, PRODID, ROW_PROPERTY, ROWS_PROPERTY, calendar_uid
from planner.show.calendar.entries import STATUS, Entry, full_text, summary
from planner.show.calendar.revisions import RevisedEntry
from planner.show.calendar.text import NAME_OCTETS, one_line, shorten
from planner.show.calendar.zones import existing, past_the_repeated, timezone_from_zone

REFRESH = timedelta(hours=6)
UTC_NAMES = frozenset({"UTC", "Etc/UTC", "Etc/UCT", "Etc/Universal", "Etc/Zulu", "UCT", "Universal", "Zulu"})


class _AtStart(icalendar.vDuration):
    """`PT0S`, the form phones write themselves, where the library would write the equal `P0D`."""

    def to_ical(self) -> bytes:
        return b"PT0S"


def file_from_entries(
    revised: Sequence[RevisedEntry], last_modified: datetime | None, tank_id: str, name: str, *, feed: str = "", pretended: bool = False, rows_until: datetime | None = None
) -> bytes:
    """See `calendar.calendar_bytes`. A `feed` has an id of its own, and nothing in it by which a lost log could be refilled. A
    `pretended` file says so, so that none of its numbers is ever taken for real. `rows_until`: how far the journal goes, where the numbers ran ahead of it."""
    calendar = icalendar.Calendar()
    title = shorten(one_line(name) or "newtank", NAME_OCTETS)
    calendar.add("version", "2.0")
    calendar.add("prodid", PRODID)
    calendar.add("calscale", "GREGORIAN")
    calendar.add(CALENDAR_PROPERTY, icalendar.vText(calendar_uid(tank_id, feed)))
    # Said to be text by hand: the library writes names that it has no type for without escaping them.
    calendar.add("name", icalendar.vText(title))
    calendar.add("x-wr-calname", icalendar.vText(title))
    if last_modified is not None:
        calendar.add("last-modified", last_modified)
    calendar.add("refresh-interval", REFRESH, parameters={"VALUE": "DURATION"})
    calendar.add("x-published-ttl", icalendar.vDuration(REFRESH))
    if pretended:
        calendar.add(PRETENDED_PROPERTY, icalendar.vText("yes"))
    if rows_until is not None:
        calendar.add(ROWS_PROPERTY, icalendar.vText(f"{rows_until:%Y%m%dT%H%M%SZ}"))
    for zone in sorted({r.entry.zone for r in revised if r.entry.time and r.entry.zone not in UTC_NAMES}):
        days = [r.entry.day for r in revised if r.entry.time and r.entry.zone == zone]
        calendar.add_component(timezone_from_zone(zone, min(days).year, max(days).year))
    for one in revised:
        calendar.add_component(_event_from(one, logged=not feed))
    return bytes(calendar.to_ical(sorted=False))


def _event_from(revised: RevisedEntry, logged: bool) -> icalendar.Event:
    entry, row = revised.entry, revised.row
    event = icalendar.Event()
    event.add("uid", entry.uid)
    event.add("dtstamp", row.stamp)
    event.add("last-modified", row.stamp)
    if logged:
        event.add("created", row.created)
    event.add("sequence", row.sequence)
    start, end = span_of_entry(entry)
    event.add("dtstart", start)
    event.add("dtend", end)
    event.add("summary", summary(entry))
    event.add("description", full_text(entry))
    event.add("status", STATUS[entry.state])
    event.add("transp", "TRANSPARENT")
    if one_line(entry.category):
        event.add("categories", [one_line(entry.category)])
    if logged:
        event.add(ROW_PROPERTY, icalendar.vText(line_from_row(row).rstrip("\n")))
    if entry.alarm_minutes is not None:
        alarm = icalendar.Alarm()
        alarm.add("action", "DISPLAY")
        alarm.add("description", summary(entry))
        before = timedelta(minutes=-entry.alarm_minutes)
        alarm.add("trigger", before if before else _AtStart(before))
        event.add_component(alarm)
    return event


def span_of_entry(entry: Entry) -> tuple[date, date] | tuple[datetime, datetime]:
    """Start and exclusive end: two dates, or two times in the entry's zone. A time that a clock change
    leaves out moves forward by the length of the gap (RFC 5545 3.3.5 reads such a time the same way); one that
    comes twice moves past the hour that does, because readers differ in which of the two they take. The end is
    counted on the clock, so that it never precedes the start when clocks go back."""
    if not entry.time:
        return entry.day, entry.day + timedelta(days=1)
    zone = UTC if entry.zone in UTC_NAMES else ZoneInfo(entry.zone)
    hour, minute = int(entry.time[:2]), int(entry.time[3:])
    start = past_the_repeated(existing(datetime(entry.day.year, entry.day.month, entry.day.day, hour, minute, tzinfo=zone)))
    return start, past_the_repeated(existing(start + timedelta(minutes=entry.minutes)))
