"""How often a job comes, in words: paper says it once, because a list of dates is wrong at the first slip."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import date, timedelta
from itertools import pairwise

from planner.plan.milestones import first_animal
from planner.rulebook.shapes import Rulebook
from planner.show.words.words import short_day
from planner.terms.records import Plan, Task

WEEK, MONTH, YEAR = 7, 30, 365
"""Days; a month and a year as intervals of the rules count them (the nearest of either is meant)."""


def interval_days(task: Task, later: Sequence[Task], rules: Rulebook) -> int | None:
    """Days from one time to the next: as the plan has them, else as the rule says. None for what comes once."""
    days = [t.date for t in (task, *later) if t.date is not None]
    gaps = Counter((b - a).days for a, b in pairwise(days) if b > a)
    if gaps:
        most = max(gaps.values())
        return min(gap for gap, count in gaps.items() if count == most)
    rule = rules.tasks.get(task.key)
    return rules.days(rule.every) if rule is not None and rule.every in rules.numbers else None


def interval_words(days: int) -> str:
    """`every day`, `every 5 days`, `every 2 weeks`, `every 3 months`, `every year`."""
    for length, name in ((YEAR, "year"), (MONTH, "month"), (WEEK, "week"), (1, "day")):
        count = round(days / length)
        if count and abs(days - count * length) <= (0 if length < MONTH else count * 2):
            return f"every {name}" if count == 1 else f"every {count} {name}s"
    return f"every {days} days"


def often_words(task: Task, later: Sequence[Task], plan: Plan, rules: Rulebook) -> str:
    """`every day`, until its own phase is finished, or `every day until “Retest everything” is finished`, or until the animals come; empty for what comes
    once."""
    every = every_words(task, later, rules)
    if not every and (batches := _batches(task, rules)) > 1:
        return f"{batches} times"
    if every and ends_at_animals(task, rules):
        first = first_animal(plan).likely  # chores are listed only so far ahead: the last of them is not the last
        return f"{every} until the day before the first animal" + (f" (about {short_day(first - timedelta(days=1), plan.on)})" if first is not None else "")
    if every and (rule := rules.tasks.get(task.key)) is not None and rule.times is not None:
        return f"{len(later) + 1} times, {every}" if later else ""
    phase = plan.phase(_until(task, rules)) if every else None
    end = "" if phase is None or phase.role == "without_end" or phase.id == task.phase else f" until “{phase.title}” is finished"
    return every + end


def every_words(task: Task, later: Sequence[Task], rules: Rulebook) -> str:
    """How often alone: `every 2 days`; empty for what comes once."""
    days = interval_days(task, later, rules)
    return "" if days is None or task.animals or of_stages(task, later) or not (later or _repeats(task, rules)) else interval_words(days)


def _batches(task: Task, rules: Rulebook) -> int:
    """Of a job that comes once for each batch: how many there are; 0 for every other."""
    rule = rules.tasks.get(task.key)
    return round(next((made.value for name, made in task.amounts if rule is not None and name == rule.each_batch), 0))


def ends_at_animals(task: Task, rules: Rulebook) -> bool:
    """Does it stop before the first animal, and not with a phase?"""
    rule = rules.tasks.get(task.key)
    return rule is not None and rule.every is not None and rule.unless is not None and any(part.animal is not None for part in (rule.unless, *(rule.unless.any or ())))


def of_stages(task: Task, later: Sequence[Task]) -> bool:
    """Does it come again for other animals, which its title names, and not by an interval?"""
    return any(other.title != task.title for other in later)


def _repeats(task: Task, rules: Rulebook) -> bool:
    rule = rules.tasks.get(task.key)
    return rule is not None and rule.every is not None


def _until(task: Task, rules: Rulebook) -> str:
    rule = rules.tasks.get(task.key)
    return (rule.until if rule is not None else None) or task.phase


def first_day(tasks: Sequence[Task]) -> date | None:
    return min((t.date for t in tasks if t.date is not None), default=None)


__all__ = ["ends_at_animals", "every_words", "first_day", "interval_days", "interval_words", "of_stages", "often_words"]
