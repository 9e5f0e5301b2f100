"""The days of the tests that a gate or a job waits for: the next one of a reading, the last of several, the one on or after a day, and the
one that shows what grows by itself."""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import date, timedelta
from typing import TYPE_CHECKING

from planner.judge.facts import last_reading
from planner.judge.kinds import KINDS
from planner.plan.dues import Scenario, latest_of
from planner.plan.seen_days import answered, from_on, not_asked_until
from planner.rulebook.nodes import Condition
from planner.rulebook.task_rule import TaskRule
from planner.rulebook.walk import leaves

if TYPE_CHECKING:
    from planner.plan.dates import Dates


def last_looks(dates: Dates, condition: Condition, phase: str, s: Scenario, by: date) -> list[date | None]:
    """The tests that must speak on a day which the rest of a gate waits for: what is read today is too old by then."""
    if condition.all is not None:
        return [d for c in condition.all for d in last_looks(dates, c, phase, s, by)]
    leaf = condition.leaf
    test = leaf.tested() if leaf is not None else None
    hours = KINDS[type(leaf)].fresh_h(leaf, dates.rules) if leaf is not None else None
    if hours is None or test is None:
        return []
    return [first_test_from(dates, *test, phase, s, by - timedelta(days=math.ceil(hours / 24) - 1))]


def first_test_from(dates: Dates, name: str, where: str, phase: str, s: Scenario, day: date) -> date | None:
    """The first test of a reading on or after a day; that day itself where none is planned so far ahead."""
    found: list[date] = []
    for owner, rule in _asked(dates, name, where, phase):
        single = rule.every is None and rule.when is None
        if _of_an_arrival(dates, rule) or (single and (dates.days.closed(f"{owner}/{rule.id}") or answered(dates, rule, owner))):
            continue  # a single test that is made asks for nothing any more
        test = from_on(dates, dates.task_day(f"{owner}/{rule.id}", s), day, rule)
        found += [test] if test is not None else []
    return min(found, default=day)


def seen_grown(dates: Dates, condition: Condition, base: date | None, wait: str | None, phase: str, s: Scenario) -> date | None:
    """When a gate that waits for what grows by itself is expected to be seen open: on the first test at or after the end of the wait. Only a
    test that did not show it makes the wait longer."""
    asked = {test for leaf, _ in leaves(condition) if (test := leaf.tested()) is not None}
    looks = [row.day for name, where in asked if (row := last_reading(name, dates.facts, where)) is not None]
    if base is None or not asked:
        return dates.days.still_to_come(base, wait)
    day = dates.days.still_to_come(base, wait, max([base, *looks]))
    return latest_of([day, *(first_test_from(dates, name, where, phase, s, day) for name, where in sorted(asked))]) if day is not None else None


def next_test(dates: Dates, name: str, where: str, phase: str, s: Scenario, times: int, gap_days: int = 1, since: date | None = None) -> date | None:
    """The day of the next test of a reading, or the last of `times` tests so many days apart, each when its job comes again. With `since` the
    first of them comes on that day or later, and no test counts that ends with an earlier gate."""
    found: list[date] = []
    for owner, rule in _asked(dates, name, where, phase):
        day = latest_of([dates.task_day(f"{owner}/{rule.id}", s), *not_asked_until(dates, rule)])
        if since is not None and ((day := from_on(dates, day, since, rule)) is None or _ends_before(dates, day, rule, owner, phase, s)):
            continue
        if day is not None and not (rule.every is None and rule.when is None and dates.days.closed(f"{owner}/{rule.id}")):
            beat = dates.days.step_on(day, rule)
            last = dates.days.plus(day, (times - 1) * max(gap_days, (beat - day).days if beat is not None else 0))
            found += [last] if last is not None else []
    return min(found) if found else dates.days.plus(max(dates.facts.on, dates.phase_start(phase, s) or dates.facts.on, since or dates.facts.on), (times - 1) * gap_days)


def _asked(dates: Dates, name: str, where: str, phase: str) -> Iterator[tuple[str, TaskRule]]:
    """The tests of a reading that a gate may wait for. A phase that waits for this gate cannot hold the test that opens it."""
    behind = dates.behind(phase)
    for owner in (p for p in dates.phases if p not in behind):
        for rule in dates.phases[owner].tasks:
            if rule.where == where and rule.per_stage is None and name in rule.reads and not dates.is_over(rule, owner) and dates.applies(rule, owner) and dates.is_called(rule, owner):
                yield owner, rule


def _of_an_arrival(dates: Dates, rule: TaskRule) -> bool:
    """Is it the test of an arrival? Those come and go with their animals, so that no gate is dated by them."""
    arrival = dates.rules.tasks.get(rule.not_before or "")
    return arrival is not None and arrival.is_arrival


def _ends_before(dates: Dates, day: date, rule: TaskRule, owner: str, phase: str, s: Scenario) -> bool:
    """Is a test over by this day, with a gate that opens before this phase begins?"""
    until = rule.until or owner
    ends = phase in dates.behind(until) and (rule.until is not None or rule.every is not None or rule.when is not None)
    return ends and (end := dates.gate_day(until, s)) is not None and end < day


__all__ = ["first_test_from", "last_looks", "next_test", "seen_grown"]
