"""Our repeating care, written as single entries, read back from the calendar by another reader and compared with the
recurrence rules of python-dateutil (an independent implementation of RFC 5545, 3.3.10)."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from dateutil.rrule import MONTHLY, WEEKLY, rrule
from ical.calendar_stream import IcsCalendarStream

from planner.files.calendar_log import ExportLog
from planner.plan.make import make_plan
from planner.show.calendar.calendar import calendar_from_plan
from planner.terms.records import Plan
from tests.engine_desk import journal_of, tank_with
from tests.rulecases import rulebook

ID = "1b0d3c5e-7f7a-4c0e-9d55-2f6a0a4f3b11"
OPENED = [f"2027-12-31,reading,{name},display," for name in (
    "ammonia,0,mg/L", "nitrite,0,mg/L", "nitrate,10,mg/L", "ph,8.1,pH", "alkalinity,8,dKH", "salinity,35,ppt", "temperature,25.5,C")]


def plan_ahead(*rows: str, on: str = "2027-12-31", until: str = "2028-06-30") -> Plan:
    """A tank that opened for animals on the last day of 2027; 2028 is a leap year."""
    tank = tank_with(id=ID, start="2027-10-01", already={"big-change": "2027-12-30"})
    return make_plan(tank, journal_of(*OPENED, *rows), rulebook(), date.fromisoformat(on), date.fromisoformat(until))


def days_in_calendar(plan: Plan, title: str) -> list[date]:
    """The days of the entries whose title begins so, as the `ical` library reads them."""
    data, _ = calendar_from_plan(plan, rulebook(), ExportLog(), now=None)
    events = IcsCalendarStream.calendar_from_ics(data.decode()).events
    return sorted(e.dtstart.date() if hasattr(e.dtstart, "date") else e.dtstart for e in events if (e.summary or "").startswith(title))


def short(key: str) -> str:
    return rulebook().tasks[key].short


@pytest.mark.parametrize(("on", "beside"), [("2027-12-31", (date(2027, 12, 31), date(2028, 1, 7))), ("2028-02-14", (date(2028, 2, 25), date(2028, 3, 3)))])
def test_weekly_tests_stand_on_the_days_of_the_weekly_rule_across_new_year_and_leap_day(on: str, beside: tuple[date, date]) -> None:
    """Four weeks are written ahead; 29 February lies between two of them, and shifts nothing."""
    found = days_in_calendar(plan_ahead(on=on), short("care/weekly-tests"))
    assert len([day for day in found if day > beside[0]]) >= 3 and beside[1] in found
    assert found == [d.date() for d in rrule(WEEKLY, dtstart=found[0], until=found[-1])]
    assert len(found) >= 4


def test_monthly_checks_from_the_31st_fall_on_the_last_day_of_shorter_months() -> None:
    plan = plan_ahead("2028-01-31,done,care/trip-test#1,,,display,", on="2028-01-31")
    found = [t.date for t in plan.tasks if t.key == "care/trip-test" and t.closed_on is None and t.date is not None]
    # RFC 5545 says the same with BYMONTHDAY=-1; a rule on the 31st alone would skip the short months.
    last_days = [d.date() for d in rrule(MONTHLY, dtstart=date(2028, 2, 1), until=found[-1] + timedelta(days=1), bymonthday=-1)]
    assert found[0] == date(2028, 2, 29) == last_days[0]
    assert days_in_calendar(plan, short("care/trip-test")) == found[:1]
