"""The days on which something is expected to be seen by a look, and tests that are off the page until then or need no tick any more."""

from __future__ import annotations

import math
from datetime import date, timedelta
from typing import TYPE_CHECKING

from planner.judge.kinds import KINDS
from planner.plan.dues import Scenario
from planner.rulebook.nodes import Condition
from planner.rulebook.task_rule import TaskRule
from planner.terms.records import Answer

if TYPE_CHECKING:
    from planner.plan.dates import Dates


def sight_day(book: Dates, base: date | None, wait: str | None, look: str | None, s: Scenario) -> date | None:
    """When what grows by itself is expected to be seen: on the first look at or after the end of its wait. Only a look that shows nothing puts it off."""
    rule, owner = book.rules.tasks.get(look or ""), (look or "").partition("/")[0]
    if base is None or look is None or rule is None or owner not in book.phases or book.is_over(rule, owner) or not book.applies(rule, owner):
        return book.days.still_to_come(base, wait)
    day = book.days.still_to_come(base, wait, max(base, book.days.last_time(rule, look) or base))
    return from_on(book, book.task_day(look, s), day, rule) or day


def from_on(book: Dates, first: date | None, day: date | None, rule: TaskRule) -> date | None:
    """The first occurrence at or after a day of what comes first on another; None where it does not come so late."""
    while first is not None and day is not None and first < day and rule.every is not None:
        first = book.days.allowed(book.days.step_on(first, rule), rule)
    return first if first is not None and day is not None and first >= day else None


def not_asked_until(book: Dates, rule: TaskRule) -> list[date | None]:
    """The day before which a test is not asked for, because its `unless` is yes: while that lasts, else today at least."""
    return [] if rule.unless is None or book.judged(rule.unless).answer != Answer.YES else [_lasts_until(book, rule.unless)]


def _lasts_until(book: Dates, condition: Condition) -> date:
    """The day on which a yes ends by itself; tomorrow where nothing tells."""
    found, leaf, trace = book.facts.on + timedelta(days=1), condition.leaf, book.judged(condition)
    hours = KINDS[type(leaf)].fresh_h(leaf, book.rules) if leaf is not None else None
    if hours is not None and trace.rows:
        found = max(found, trace.rows[-1].day + timedelta(days=math.floor(hours / 24)))
    return max([found, *(_lasts_until(book, c) for c in condition.any or () if book.judged(c).answer == Answer.YES)])


def answered(book: Dates, rule: TaskRule, owner: str) -> bool:
    """A single test that needs no tick any more: its gate is open, or its readings came in on or after its day."""
    if book.verdicts.gates[owner].opened is not None:
        return True
    if not _reads_its_dose(book, rule):
        return False
    read = book.days.read_on(rule)
    due = book.first_due(rule, owner, "likely")
    return bool(read and due is not None and owner in book.verdicts.started and read[0] >= due)


def _reads_its_dose(book: Dates, rule: TaskRule) -> bool:
    """What was read before a dose of ammonia says nothing of it. Without hours a reading of its day counts."""
    key = rule.anchor.task if rule.anchor is not None else None
    cause = book.rules.tasks.get(key) if key is not None else None
    if key is None or cause is None or "adds_ammonia" not in cause.acts:
        return True
    facts = book.days.facts
    given = [row for k in (key, *cause.also_done_by) for row in facts.rows("done", k)]
    return bool(given) and all(any(r.where == rule.where and r.latest >= given[-1].earliest for r in facts.rows("reading", name)) for name in rule.reads)


__all__ = ["answered", "from_on", "not_asked_until", "sight_day"]
