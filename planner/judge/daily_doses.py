"""The daily doses of alkalinity that the journal holds: what is given a day, which dose goes on, and what was given before it."""

from __future__ import annotations

from datetime import date

from planner.judge.facts import Facts, last_reading
from planner.judge.water_use import ALKALINE_DOSES, DAY, dose_rise_dkh, instant_days
from planner.rulebook.shapes import Rulebook
from planner.terms.records import Row


def given_a_day(facts: Facts, rules: Rulebook, days: int = 7) -> float | None:
    """Mean rise of alkalinity a day from the daily doses of the last days, dKH; None where they began less than a week ago, so that no
    mean says what is given. What a remedy gave to lift the level is no daily dose. Of ticked doses the days without one, on which
    something else went first, do not count as days of nothing."""
    lifts = {r.earliest for key, task in rules.tasks.items() if task.writes is not None and task.writes.kind == "dosed" and key not in rules.tasks_as("daily_dose") for r in facts.rows("done", key)}
    doses = [(r, rise) for r, rise in _rises(facts) if r.earliest not in lifts]
    now, ticks = facts.now / DAY, daily_ticks(facts, rules)
    lately = [(r, rise) for r, rise in doses if instant_days(r) >= now - days]
    if not any(now - 2 * days <= instant_days(r) <= now - days for r, _ in doses) or not lately:
        return None
    ticked = all((r.earliest, r.where) in ticks for r, _ in lately)
    return sum(rise for _, rise in lately) / (len({r.day for r, _ in lately}) if ticked else days)


def going_dose(facts: Facts, rules: Rulebook, days: int = 14) -> tuple[date, float] | None:
    """The daily dose that is going on: the day on which one was last ticked, within the last days, and its dKH. Of a test that grew old
    half was given: the dose before that is the one that goes on."""
    ticks, half = daily_ticks(facts, rules), rules.days("dose_half_after")
    given: dict[date, float] = {}
    for row, rise in _rises(facts):
        if (row.earliest, row.where) in ticks and row.day < facts.on and instant_days(row) >= facts.now / DAY - days:
            given[row.day] = given.get(row.day, 0.0) + rise
    read = last_reading("alkalinity", facts)
    whole = [day for day in given if read is None or (day - read.day).days < half] or list(given)
    return (max(given), given[max(whole)]) if given else None


def given_before(facts: Facts, rules: Rulebook, days: int = 7) -> float | None:
    """The mean of the daily doses that were ticked in the week before the last one, dKH."""
    ticks, end = daily_ticks(facts, rules), facts.now / DAY - days
    before = [(r.day, rise) for r, rise in _rises(facts) if (r.earliest, r.where) in ticks and end - days <= instant_days(r) <= end]
    return sum(rise for _, rise in before) / len({day for day, _ in before}) if before else None


def _rises(facts: Facts) -> list[tuple[Row, float]]:
    return [(r, rise) for r in facts.rows("dosed") if r.what in ALKALINE_DOSES and r.where == "display" and (rise := dose_rise_dkh(r, facts.net_volume_l)) is not None]


def doses_since_month(facts: Facts, rules: Rulebook) -> bool:
    """Were daily doses ticked a month ago, within two weeks?"""
    ticks, end = daily_ticks(facts, rules), facts.now / DAY - rules.days("dose_tests_first")
    return any((r.earliest, r.where) in ticks and end - 14 <= instant_days(r) <= end for r, _ in _rises(facts))


def daily_ticks(facts: Facts, rules: Rulebook) -> frozenset[tuple[float, str]]:
    """When and in which water a dose was ticked that holds alkalinity and lifts none."""
    return frozenset((r.earliest, r.where) for key in rules.tasks_as("daily_dose") for r in facts.rows("done", key))


__all__ = ["daily_ticks", "doses_since_month", "given_a_day", "given_before", "going_dose"]
