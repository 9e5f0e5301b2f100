"""The next day allowed: absences, shopping days, and no animal shortly before an absence. One monotone function,
bounded at two years."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Literal

from planner.files.tank import Tank

HORIZON_DAYS = 731
FRIDAY = 4
DayKind = Literal["any", "home", "shopping", "working", "animals"]


def next_day_allowed(day: date, kind: DayKind, tank: Tank, quiet_days: int, long_absence_nights: int, on: date, back_days: int = 0) -> date | None:
    """The first day at or after `day` that suits. `any`: no limit. `home`: not away. `shopping`: at home, on a
    shopping day. `working`: at home, from Monday to Friday, when offices answer. `animals`: at home, and no absence of `long_absence_nights` or more begins within `quiet_days` after, nor ended less than `back_days` before.
    Never earlier than `day`, and a later `day` never gives an earlier answer. None beyond two years from `on`."""
    last = on + timedelta(days=HORIZON_DAYS)
    if kind == "any":
        return day if day <= last else None
    days = tank.keeper.shopping_weekdays
    while day <= last:
        away = next((a for a in tank.keeper.away if a.from_day <= day <= a.to_day), None)
        if away is not None:
            day = away.to_day + timedelta(days=1)
            continue
        if kind == "animals":
            soon = next((a for a in tank.keeper.away
                         if a.nights >= long_absence_nights and day < a.from_day <= day + timedelta(days=quiet_days)), None)
            if soon is not None:
                day = soon.to_day + timedelta(days=1)
                continue
            back = next((a for a in tank.keeper.away if a.nights >= long_absence_nights and a.to_day < day < a.to_day + timedelta(days=back_days)), None)
            if back is not None:
                day = back.to_day + timedelta(days=back_days)
                continue
        if kind == "working" and day.weekday() > FRIDAY:
            day += timedelta(days=1)
            continue
        if kind in ("shopping", "animals") and days and day.weekday() not in days:
            day += timedelta(days=1)
            continue
        return day
    return None
