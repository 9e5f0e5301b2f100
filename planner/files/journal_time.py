"""When a journal row happened: dates and times as we write them, or as a spreadsheet has rewritten them, where only one
reading is possible. What may mean two days or two instants is asked about."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, timedelta, timezone, tzinfo

from planner.terms.days import YEARS
from planner.terms.units import Refusal
from planner.terms.written_amounts import one_of

_ISO = re.compile(r"([0-9]{4})-([0-9]{2})-([0-9]{2})")
_SLASHED = re.compile(r"([0-9]{1,4})([/.\-])([0-9]{1,2})\2([0-9]{1,4})")
_TIME_OF_DAY = re.compile(r"([0-9]{1,2}):([0-9]{2})(?::([0-9]{2})(?:\.[0-9]+)?)?\s*([ap]m)?\s*(z|utc|[+\-][0-9]{2}:?[0-9]{2})?", re.I)

Instant = tuple[date, datetime | None, float, float]
"""The day as written, the time if one is given, and the instants between which it lies, as POSIX seconds."""


class Clock:
    """Local days and times of one zone. The bounds of a day are remembered: a journal has many rows a day."""

    def __init__(self, zone: tzinfo) -> None:
        self.zone = zone
        self._days: dict[date, tuple[float, float]] = {}
        self._steady: dict[date, timezone | None] = {}

    def instant(self, text: str) -> Instant | Refusal:
        """When it happened: a day, the time if one is given, and the two instants it lies between."""
        if len(text) > 16 and text[4] == text[7] == "-" and text[-2:] < "60":  # Python takes an offset of 01:60 for one of two hours
            try:  # nearly every row: a time with its offset, as the commands write it
                exact = datetime.fromisoformat(text)
            except ValueError:
                pass
            else:
                if exact.tzinfo is not None and exact.year in YEARS:
                    stamp = exact.timestamp()
                    return exact.date(), exact, stamp, stamp
        elif len(text) == 16 and text[4] == text[7] == "-" and text[10] in " T" and text[13] == ":":
            try:  # a local time, as people write it by hand
                local = datetime.fromisoformat(text)
            except ValueError:
                pass
            else:
                its_day = local.date()
                if 1990 <= local.year <= 2199 and (offset := self._offset_of(its_day)) is not None:
                    stamp = self._day_bounds(its_day)[0] + local.hour * 3600 + local.minute * 60
                    return its_day, local.replace(tzinfo=offset), stamp, stamp
        day_text, clock_text = _split_when(text)
        day = read_day(day_text)
        if isinstance(day, Refusal):
            return day
        if not clock_text:
            earliest, latest = self._day_bounds(day)
            return day, None, earliest, latest
        at = self._at(day, clock_text, text)
        if isinstance(at, Refusal):
            return at
        stamp = at.timestamp()
        return at.date(), at, stamp, stamp

    def _day_bounds(self, day: date) -> tuple[float, float]:
        found = self._days.get(day)
        if found is None:
            midnight = datetime(day.year, day.month, day.day, tzinfo=self.zone)
            found = self._days[day] = (midnight.timestamp(), (midnight + timedelta(days=1)).timestamp())
        return found

    def _offset_of(self, day: date) -> timezone | None:
        """The offset of a whole day; None on a day whose clocks are changed."""
        if day not in self._steady:
            first, last = (datetime(day.year, day.month, day.day, tzinfo=self.zone) + timedelta(days=n) for n in (0, 1))
            before, after = first.utcoffset(), last.utcoffset()
            self._steady[day] = timezone(before) if before is not None and before == after else None
        return self._steady[day]

    def _at(self, day: date, clock: str, text: str) -> datetime | Refusal:
        parts = _TIME_OF_DAY.fullmatch(clock.strip())
        wanted = f"write it as `{day.isoformat()}T18:00+01:00`, or the date alone"
        if parts is None:
            return Refusal("not-a-time", f"{text!r} has no time that can be read", wanted)
        hour = int(parts[1])
        if parts[4]:
            if not 1 <= hour <= 12:
                return Refusal("not-a-time", f"{clock!r} is no time of day", wanted)
            hour = hour % 12 + (12 if parts[4].lower() == "pm" else 0)
        try:
            zone = _offset(parts[5]) if parts[5] else self.zone
            at = datetime(day.year, day.month, day.day, hour, int(parts[2]), int(parts[3] or 0), tzinfo=zone)
        except ValueError:
            return Refusal("not-a-time", f"{clock!r} is no time of day", wanted)
        if parts[5]:
            return at
        first, second = at.replace(fold=0), at.replace(fold=1)
        if first.utcoffset() != second.utcoffset():
            return Refusal(
                "ambiguous-time",
                f"at {clock} on that day the clocks were changed, so the time needs its offset",
                f"write one of {one_of([_print_at(first), _print_at(second)])}",
            )
        return at.replace(tzinfo=timezone(first.utcoffset() or timedelta()))


def _split_when(text: str) -> tuple[str, str]:
    found = re.match(r"([0-9]{1,4}[-/.][0-9]{1,2}[-/.][0-9]{1,4})[T ,]?\s*(.*)", text, re.I)
    return (found[1], found[2]) if found else (text, "")


def earliest_day(text: str) -> date | None:
    """The first day that a `when` may mean, whether or not the rest of it can be read."""
    return min(_possible_days(_split_when(text)[0]) or (), default=None)


def read_day(text: str) -> date | Refusal:
    """A date as we write it, or as a spreadsheet may have rewritten it, where only one reading is possible."""
    iso = "write it as year-month-day, such as `2026-03-04`"
    if not text:
        return Refusal("date-missing", "there is no date", iso)
    found = _possible_days(text)
    if found is None:
        return Refusal("not-a-date", f"{text!r} is not a date", iso)
    if len(found) == 1:
        return found[0]
    if found:
        return Refusal(
            "ambiguous-date",
            f"{text} may be {' or '.join(d.isoformat() for d in found)}",
            f"write {one_of([d.isoformat() for d in found])}",
        )
    return Refusal("not-a-date", f"{text} is not in the calendar", iso)


def _possible_days(text: str) -> list[date] | None:
    """Every day that a date may mean; None if it has no form of a date."""
    parts = _ISO.fullmatch(text)
    if parts:
        options = [_day(int(parts[1]), int(parts[2]), int(parts[3]))]
    elif parts := _SLASHED.fullmatch(text):
        a, sign, b, c = int(parts[1]), parts[2], int(parts[3]), int(parts[4])
        if len(parts[1]) == 4:
            options = [_day(a, b, c)]
        elif len(parts[4]) == 4:
            # Points are written only where the day comes first; strokes and hyphens everywhere.
            options = [_day(c, b, a)] if sign == "." else [_day(c, b, a), _day(c, a, b)]
        elif len(parts[4]) == 2 and len(parts[1]) <= 2:
            options = [
                _day(2000 + c, b, a),
                _day(2000 + c, a, b),
                _day(2000 + a, b, c) if sign == "-" else None,
            ]
        else:
            options = []
    else:
        return None
    return sorted({day for day in options if day is not None})


def _day(year: int, month: int, day: int) -> date | None:
    try:
        return date(year, month, day) if year in YEARS else None
    except ValueError:
        return None


def _offset(text: str) -> tzinfo:
    if text.lower() in ("z", "utc"):
        return UTC
    hours, minutes = int(text[1:3]), int(text[-2:])
    if minutes > 59:
        raise ValueError(text)
    delta = timedelta(hours=hours, minutes=minutes)
    return timezone(-delta if text[0] == "-" else delta)


def _print_at(at: datetime) -> str:
    return at.isoformat(timespec="minutes")


__all__ = ["Clock", "Instant", "earliest_day", "read_day"]
