"""Zone descriptions (VTIMEZONE), and times that a clock change leaves out or gives twice.

The descriptions are our own: those that `icalendar` 7.3 derives put the start of summer time an hour late (they give the
onset in the new offset, where RFC 5545 3.6.5 wants the clock as it stood before), and end with the last year asked for.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import icalendar

_Observance = icalendar.TimezoneStandard | icalendar.TimezoneDaylight
RULE_YEARS = 6
"""A zone has a rule when it is kept in so many years on end."""
DAYS = ("MO", "TU", "WE", "TH", "FR", "SA", "SU")


@dataclass(frozen=True, slots=True)
class Onset:
    """One change of offset. `clock` is the local time as it stood before; `summer` as the zone data calls it."""

    clock: datetime
    before: timedelta
    after: timedelta
    summer: bool
    name: str

    def repeats_as(self) -> set[str]:
        """The yearly rules (RFC 5545 3.3.10) that this change follows: its weekday counted from the begin of the month, or the last."""
        day = DAYS[self.clock.weekday()]
        counted = {f"{(self.clock.day - 1) // 7 + 1}{day}"}
        if (self.clock + timedelta(days=7)).month != self.clock.month:
            counted.add(f"-1{day}")
        return {f"{self.clock.month} {count} {self.clock:%H%M%S} {self.before} {self.after}" for count in counted}


def timezone_from_zone(zone: str, first_year: int, last_year: int) -> icalendar.Timezone:
    """A VTIMEZONE that holds from the first year on: one part for each of the two changes of a year, with a rule by which it
    recurs, where the zone has one. Where it has none (some follow the moon, some have just been changed) each change is written on its own,
    to the end of the year after the last."""
    info = ZoneInfo(zone)
    described = icalendar.Timezone()
    described.add("tzid", zone)
    begin = datetime(first_year, 1, 1, tzinfo=UTC) - timedelta(days=1)
    onsets = _onsets(info, datetime(first_year - 1, 1, 1, tzinfo=UTC), RULE_YEARS + last_year - first_year)
    pair = _yearly(onsets)
    if pair:
        for onset, rule in pair:
            described.add_component(_part(onset, rule))
        return described
    offset = _offset(info, begin)
    local = begin.astimezone(info)
    described.add_component(_part(Onset((begin + offset).replace(tzinfo=None), offset, offset, bool(local.dst()), local.tzname() or zone)))
    for onset in onsets:
        if begin.year < onset.clock.year <= last_year + 1:
            described.add_component(_part(onset))
    return described


def _yearly(onsets: list[Onset]) -> list[tuple[Onset, str]]:
    """The two changes of a year, each with its rule; nothing unless every year has both by the same rules."""
    years = sorted({o.clock.year for o in onsets})
    by_year = [[o for o in onsets if o.clock.year == year] for year in years]
    if len(years) < RULE_YEARS or any(len(year) != 2 for year in by_year):
        return []
    found = []
    for n in (0, 1):
        rules = set.intersection(*(year[n].repeats_as() for year in by_year))
        if not rules:
            return []
        month, count = min(rules).split()[:2]  # the last of a month where it is also a counted one
        found.append((by_year[0][n], f"FREQ=YEARLY;BYMONTH={month};BYDAY={count}"))
    return found


def _onsets(info: ZoneInfo, begin: datetime, years: int) -> list[Onset]:
    """Every change of offset in so many years from a first of January."""
    found, moment, end = [], begin, datetime(begin.year + years, 1, 1, tzinfo=UTC)
    offset = _offset(info, begin)
    while moment < end:
        later = moment + timedelta(days=1)
        if _offset(info, later) != offset:
            change = _first_moment_after(info, moment, later, offset)
            new, local = _offset(info, change), change.astimezone(info)
            found.append(Onset((change + offset).replace(tzinfo=None), offset, new, bool(local.dst()), local.tzname() or str(info)))
            offset = new
        moment = later
    return found


def _first_moment_after(info: ZoneInfo, low: datetime, high: datetime, offset: timedelta) -> datetime:
    """The first second with another offset between two moments a day apart."""
    while high - low > timedelta(seconds=1):
        middle = low + timedelta(seconds=(high - low) // timedelta(seconds=2))
        if _offset(info, middle) == offset:
            low = middle
        else:
            high = middle
    return high


def _part(onset: Onset, rule: str = "") -> _Observance:
    part: _Observance = icalendar.TimezoneDaylight() if onset.summer else icalendar.TimezoneStandard()
    part.add("dtstart", onset.clock)
    part.add("tzoffsetfrom", onset.before)
    part.add("tzoffsetto", onset.after)
    part.add("tzname", onset.name)
    if rule:
        part.add("rrule", icalendar.vRecur.from_ical(rule))
    return part


def _offset(info: ZoneInfo, moment: datetime) -> timedelta:
    return moment.astimezone(info).utcoffset() or timedelta(0)


def existing(local: datetime) -> datetime:
    """The time that a clock shows: one that a change leaves out is moved forward by the length of the gap."""
    return local.astimezone(UTC).astimezone(local.tzinfo)


def past_the_repeated(local: datetime) -> datetime:
    """The same time, or where it comes twice the first minute after the second pass."""
    while local.replace(fold=0).utcoffset() != local.replace(fold=1).utcoffset():
        local = (local.replace(fold=1).astimezone(UTC) + timedelta(minutes=1)).astimezone(local.tzinfo)
    return local.replace(fold=0)


__all__ = ["existing", "past_the_repeated", "timezone_from_zone"]
