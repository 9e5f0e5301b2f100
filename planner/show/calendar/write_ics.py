"""Revised entries as an iCalendar stream. Property order is fixed; nothing here knows the time of writing.

The zone descriptions are our own: those that `icalendar` 7.3 derives put the start of summer time an hour
late (they give the onset in the new offset, where RFC 5545 3.6.5 wants the clock as it stood before), and an
entry that was moved out of the missing hour falls into just that hour.
"""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import icalendar

from planner.files.calendar_log import line_from_row
from planner.files.lost_calendar_log import PRODID, ROW_PROPERTY
from planner.show.calendar.entries import STATUS, Entry, full_text, summary
from planner.show.calendar.revisions import RevisedEntry
from planner.show.calendar.text import TITLE_OCTETS, one_line, shorten

REFRESH = timedelta(hours=6)
UTC_NAMES = frozenset({"UTC", "Etc/UTC", "Etc/UCT", "Etc/Universal", "Etc/Zulu", "UCT", "Universal", "Zulu"})


_Observance = icalendar.TimezoneStandard | icalendar.TimezoneDaylight


class _AtStart(icalendar.vDuration):
    """`PT0S`, the form phones write themselves, where the library would write the equal `P0D`."""

    def to_ical(self) -> bytes:
        return b"PT0S"


def file_from_entries(
    revised: Sequence[RevisedEntry], last_modified: datetime | None, tank_id: str, name: str, feed: str = ""
) -> bytes:
    """See `calendar.calendar_bytes`. A `feed` has an id of its own, and nothing in it by which a lost log could be refilled."""
    calendar = icalendar.Calendar()
    title = shorten(one_line(name) or "newtank", TITLE_OCTETS)
    calendar.add("version", "2.0")
    calendar.add("prodid", PRODID)
    calendar.add("calscale", "GREGORIAN")
    calendar.add("uid", str(uuid.uuid5(uuid.UUID(tank_id), f"calendar/{feed}" if feed else "calendar")))
    # Said to be text by hand: the library writes names that it has no type for without escaping them.
    calendar.add("name", icalendar.vText(title))
    calendar.add("x-wr-calname", icalendar.vText(title))
    if last_modified is not None:
        calendar.add("last-modified", last_modified)
    calendar.add("refresh-interval", REFRESH, parameters={"VALUE": "DURATION"})
    calendar.add("x-published-ttl", icalendar.vDuration(REFRESH))
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
    leaves out moves forward by the length of the gap (RFC 5545 3.3.5 reads such a time the same way); of a
    time that comes twice the first is meant. The end is counted on the clock, so that it never precedes the
    start when clocks go back."""
    if not entry.time:
        return entry.day, entry.day + timedelta(days=1)
    zone = UTC if entry.zone in UTC_NAMES else ZoneInfo(entry.zone)
    hour, minute = int(entry.time[:2]), int(entry.time[3:])
    start = _existing(datetime(entry.day.year, entry.day.month, entry.day.day, hour, minute, tzinfo=zone))
    return start, _existing(start + timedelta(minutes=entry.minutes))


def _existing(local: datetime) -> datetime:
    return local.astimezone(UTC).astimezone(local.tzinfo)


def timezone_from_zone(zone: str, first_year: int, last_year: int) -> icalendar.Timezone:
    """A VTIMEZONE that holds from 1 January of the first year to 31 December of the year after the last. Each
    change of offset is written on its own with the clock as it stood before it (RFC 5545 3.6.5)."""
    info = ZoneInfo(zone)
    described = icalendar.Timezone()
    described.add("tzid", zone)
    begin = datetime(first_year, 1, 1, tzinfo=UTC) - timedelta(days=1)
    end = datetime(last_year + 2, 1, 1, tzinfo=UTC) + timedelta(days=1)
    offset = _offset(info, begin)
    described.add_component(_observance(info, begin, offset, offset))
    moment = begin
    while moment < end:
        later = moment + timedelta(days=1)
        if _offset(info, later) != offset:
            change = _first_moment_after(info, moment, later, offset)
            new = _offset(info, change)
            described.add_component(_observance(info, change, offset, new))
            offset = new
        moment = later
    return described


def _first_moment_after(info: ZoneInfo, low: datetime, high: datetime, offset: timedelta) -> datetime:
    """The first second with another offset between two moments a day apart."""
    while high - low > timedelta(seconds=1):
        middle = low + timedelta(seconds=(high - low) // timedelta(seconds=2))
        if _offset(info, middle) == offset:
            low = middle
        else:
            high = middle
    return high


def _observance(info: ZoneInfo, moment: datetime, before: timedelta, after: timedelta) -> _Observance:
    local = moment.astimezone(info)
    part: _Observance = icalendar.TimezoneDaylight() if local.dst() else icalendar.TimezoneStandard()
    part.add("dtstart", (moment + before).replace(tzinfo=None))
    part.add("tzoffsetfrom", before)
    part.add("tzoffsetto", after)
    part.add("tzname", local.tzname() or str(info))
    return part


def _offset(info: ZoneInfo, moment: datetime) -> timedelta:
    return moment.astimezone(info).utcoffset() or timedelta(0)
