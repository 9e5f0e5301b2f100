"""On which day a job of an alarm comes again: what the rows of a day tell of its change of water, its tests and its doses."""

from __future__ import annotations

from planner.judge.facts import share_changed
from planner.judge.figures import FIGURES, quantity
from planner.plan.dates import Dates
from planner.plan.dues import covers
from planner.rulebook.task_rule import TaskRule
from planner.terms.records import Row, Trace


def changed_since(dates: Dates, alert: str, test: Row) -> bool:
    """Was a large change of this alarm ticked after its test of today? Each such change has a test of its own."""
    changes = [f"{alert}/{t.id}" for a in dates.rules.alerts if a.alert == alert for t in a.tasks if t.again is not None or t.enough is not None]
    return test.day == dates.facts.on and any(row.day == test.day and (row.earliest, row.line) > (test.latest, test.line) for key in changes for row in dates.facts.rows("done", key))


def tested_after_change(dates: Dates, rule: TaskRule, alert: str) -> bool:
    """Of an alarm with one large change a day: has the test of today's change been made, an hour after it? It may be the test that raised the alarm,
    after the change of a graver one. What it reads next is tomorrow's."""
    facts, settled = dates.facts, dates.rules.hours("settle_after_dose") * 3600
    if rule.role != "test" or rule.anchor is not None or not any(a.alert == alert and a.changes_daily for a in dates.rules.alerts):
        return False
    changed = [r for r in facts.rows("changed_water") if r.day == facts.on and r.where == rule.where]
    return bool(changed) and all(r.at is not None for r in changed) and all(
        any(r.at is not None and r.where == rule.where and r.earliest >= max(c.latest for c in changed) + settled for r in facts.rows("reading", name)) for name in rule.reads)


def tested_at_once(dates: Dates, rule: TaskRule, change: Row, trace: Trace) -> bool:
    """Was the water changed for a reading, and the same read again since, with nothing that asks for more? Such a test ends no alarm
    if it came within the hour, but the next change waits for tomorrow's: whoever changes and tests in one hour would change half of
    the water every day."""
    newest = max(trace.rows, key=lambda r: r.latest, default=None)
    if rule.writes is None or rule.writes.kind != "changed_water" or newest is None or newest.kind != "reading":
        return False
    return any(r.where == rule.where and r.earliest >= change.latest and r.line != newest.line for r in dates.facts.rows("reading", newest.what))


def cannot_tell(dates: Dates, rule: TaskRule, change: Row, trace: Trace) -> bool:
    """Was the water tested on the day of the last change, and does no test tell what the change left: without hours it may be from before, and
    within the hour it is too soon? Then the next day begins with the test, and only a day later the change stands without one. Otherwise
    a change and a test of each day would ask for another change for ever."""
    names = {row.what for row in trace.rows if row.kind == "reading"}
    if rule.writes is None or rule.writes.kind != "changed_water" or change.kind != "done":
        return False
    settled = change.latest + dates.rules.hours("settle_after_dose") * 3600
    tests = [r for name in names for r in dates.facts.rows("reading", name) if r.where == rule.where and r.day >= change.day]
    timed = change.at is not None
    if any(r.earliest >= settled if timed and r.at is not None else r.day > change.day for r in tests):
        return False
    return any((r.earliest, r.line) > (change.latest, change.line) if timed and r.at is not None else r.day == change.day for r in tests)


def rest_missing(dates: Dates, rule: TaskRule, tick: Row) -> bool:
    """Was a change of an alarm ticked today with less than its amount?"""
    facts, amount = dates.facts, rule.writes.amount if rule.in_parts and rule.writes is not None else None
    made = quantity(amount, facts, dates.rules) if amount in FIGURES else None
    if made is None or tick.kind != "done" or tick.day != facts.on:
        return False
    changed = sum(share_changed(r, facts) for r in facts.rows("changed_water") if r.day == facts.on and r.where == rule.where)
    return changed * facts.net_volume_l < made.value


def dosed_since(dates: Dates, rule: TaskRule, trace: Trace) -> bool:
    """Was the substance given after the newest evidence that asks for it?"""
    assert rule.writes is not None
    row = dates.facts.last(rule.writes.kind, rule.writes.what)
    return row is not None and covers(row, trace)


__all__ = ["cannot_tell", "changed_since", "dosed_since", "rest_missing", "tested_after_change", "tested_at_once"]
