"""The daily doses of alkalinity that the journal holds: what is given a day, which dose goes on, and what was given before it."""

from __future__ import annotations

from datetime import date

from planner.judge.facts import Facts, last_reading
from planner.judge.water_use import ALKALINE_DOSES, DAY, dose_rise_dkh, instant_days
from planner.rulebook.shapes import Rulebook


class DailyDoses:
    """The display's doses of alkalinity at one moment, read once; rises in dKH."""

    def __init__(self, facts: Facts, rules: Rulebook) -> None:
        self.facts, self.rules, self.now = facts, rules, facts.now / DAY
        self.ticks = daily_ticks(facts, rules)
        self.rises = [(r, rise) for r in facts.rows("dosed") if r.what in ALKALINE_DOSES and r.where == "display" and (rise := dose_rise_dkh(r, facts.net_volume_l)) is not None]
        self.ticked = [(r, rise) for r, rise in self.rises if (r.earliest, r.where) in self.ticks]

    def a_day(self, days: int = 7) -> float | None:
        """Mean rise of alkalinity a day from the doses of the last days; None where they began less than a week ago, so that no mean says
        what is given. What a remedy gave to lift the level is no daily dose. Of ticked doses the days without one, on which something else
        went first, do not count as days of nothing."""
        lifts = {r.earliest for key, task in self.rules.tasks.items() if task.writes is not None and task.writes.kind == "dosed" and key not in self.rules.tasks_as("daily_dose")
                 for r in self.facts.rows("done", key)}
        doses = [(r, rise) for r, rise in self.rises if r.earliest not in lifts]
        lately = [(r, rise) for r, rise in doses if instant_days(r) >= self.now - days]
        if not any(self.now - 2 * days <= instant_days(r) <= self.now - days for r, _ in doses) or not lately:
            return None
        ticked = all((r.earliest, r.where) in self.ticks for r, _ in lately)
        return sum(rise for _, rise in lately) / (len({r.day for r, _ in lately}) if ticked else days)

    def going(self, days: int = 14) -> tuple[date, float] | None:
        """The daily dose that is going on: the day on which one was last ticked, within the last days, and its dKH. Of a test that grew old
        half was given: the dose before that is the one that goes on."""
        half, given = self.rules.days("dose_half_after"), dict[date, float]()
        for row, rise in self.ticked:
            if row.day < self.facts.on and instant_days(row) >= self.now - days:
                given[row.day] = given.get(row.day, 0.0) + rise
        read = last_reading("alkalinity", self.facts)
        whole = [day for day in given if read is None or (day - read.day).days < half] or list(given)
        return (max(given), given[max(whole)]) if given else None

    def before(self, days: int = 7) -> float | None:
        """The mean of the doses that were ticked in the week before the last one."""
        end = self.now - days
        found = [(r.day, rise) for r, rise in self.ticked if end - days <= instant_days(r) <= end]
        return sum(rise for _, rise in found) / len({day for day, _ in found}) if found else None

    def since_month(self) -> bool:
        """Were doses ticked a month ago, within two weeks?"""
        end = self.now - self.rules.days("dose_tests_first")
        return any(end - 14 <= instant_days(r) <= end for r, _ in self.ticked)


def daily_ticks(facts: Facts, rules: Rulebook) -> frozenset[tuple[float, str]]:
    """When and in which water a dose was ticked that holds alkalinity and lifts none."""
    return frozenset((r.earliest, r.where) for key in rules.tasks_as("daily_dose") for r in facts.rows("done", key))


__all__ = ["DailyDoses", "daily_ticks"]
