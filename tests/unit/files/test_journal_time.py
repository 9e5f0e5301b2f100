"""Local times without an offset, checked against Python's own zoneinfo data (IANA) on every day about a change of clocks."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from planner.files.journal_time import Clock
from planner.terms.units import Refusal

# A change of an hour, of half an hour, by night and at midnight, a day that was left out whole, and a zone off the hour.
CHANGES = {"Europe/Berlin": date(2026, 3, 29), "Australia/Lord_Howe": date(2026, 4, 5), "America/Sao_Paulo": date(2018, 11, 4), "Africa/Cairo": date(2026, 4, 24),
           "Pacific/Apia": date(2011, 12, 30), "Asia/Kathmandu": date(2026, 4, 5)}


@pytest.mark.parametrize("name", CHANGES)
def test_a_local_time_is_the_instant_that_its_zone_gives_it(name: str) -> None:
    clock, zone = Clock(ZoneInfo(name)), ZoneInfo(name)
    refused = 0
    for hours in range(-48, 72):
        local = datetime(CHANGES[name].year, CHANGES[name].month, CHANGES[name].day, 0, 30) + timedelta(hours=hours)
        instants = {local.replace(tzinfo=zone, fold=fold).astimezone(UTC) for fold in (0, 1)}
        found = clock.instant(f"{local:%Y-%m-%d %H:%M}")
        if len(instants) == 2:  # it comes twice, or never
            assert isinstance(found, Refusal) and found.code == "ambiguous-time"
            refused += 1
            continue
        assert not isinstance(found, Refusal)
        day, at, earliest, latest = found
        assert (day, earliest, latest, at) == (local.date(), *[next(iter(instants)).timestamp()] * 2, next(iter(instants)))
        assert at is not None and at.replace(tzinfo=None) == local
    assert refused == {"Pacific/Apia": 24, "Asia/Kathmandu": 0}.get(name, 1)


def test_seconds_that_are_nought_change_nothing() -> None:
    clock = Clock(ZoneInfo("Europe/Berlin"))
    assert clock.instant("2026-03-04 18:30") == clock.instant("2026-03-04T18:30:00") == clock.instant("4.3.2026 18:30")


def test_only_sixteen_signs_of_a_date_and_a_time_are_taken_for_one() -> None:
    """`2026-03-04 18300` has them at other places, and a week date of ISO 8601 is no date that people write here."""
    clock = Clock(ZoneInfo("Europe/Berlin"))
    for text in ("2026-03-04 18300", "2026-W10-3T18:30", "2026-03-04x18:30"):
        assert isinstance(clock.instant(text), Refusal), text
