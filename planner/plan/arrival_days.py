"""The days of arrivals that no list names: none shares its day with another arrival, and the further ones are let pass."""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING

from planner.plan.dues import Scenario, next_number
from planner.rulebook.task_rule import TaskRule

if TYPE_CHECKING:
    from planner.plan.dates import Dates


def own_day(dates: Dates, day: date | None, rule: TaskRule, owner: str, s: Scenario) -> date | None:
    """Two arrivals share no day: what no list names gives way to the stages of the list and to what stands before it, and
    the second half of the crew to everybody."""
    taken: set[date | None] = set()
    last = rule.known_as == "second_half"
    for phase in dates.verdicts.phases:
        for other in phase.tasks:
            key = f"{phase.phase}/{other.id}"
            if other is rule or other.known_as == "second_half":
                if other is rule and not last:
                    break
                continue
            if other.role == "animals" and other.where == "display" and other.per_stage is None and not dates.days.closed(key) and dates.applies(other, phase.phase) and dates.is_called(other, phase.phase) and not let_pass(dates, other, phase.phase):
                taken.add(dates.task_day(key, s))
        if phase.phase == owner and not last:
            break
    # The first crew that no list names comes before every stage, so that no stage is asked about it.
    if rule.known_as != "first_half":
        taken |= dates.stages.days(s)
    while day is not None and max(day, dates.facts.on) in taken:
        day = dates.days.allowed(max(day, dates.facts.on) + timedelta(days=1), rule)
    return day


def let_pass(dates: Dates, rule: TaskRule, owner: str) -> bool:
    """Further animals that no list names, let pass for as long as one stage waits for the next though others came before them,
    and the test of their day: the keeper has what was wanted. A tank without any is still led to its first ones."""
    if rule.role == "test" and rule.not_before in dates.rules.tasks:
        rule = dates.rules.tasks[rule.not_before]
    if not rule.is_arrival or rule.unless_stages is None or (dates.stages.judged is not None and dates.stages.judged.named):
        return False
    others = [f"{owner}/{other.id}" for other in dates.phases[owner].tasks if other.is_arrival and other is not rule]
    if not any(row.kind == "done" for key in others for _, row in dates.days.closed(key)):
        return False
    key = f"{owner}/{rule.id}"
    day = dates.days.postponed(key, next_number(dates.days.closed(key)), dates.days.plus(dates.base_day(rule, owner, "likely"), dates.days.wait(rule)))
    return day is not None and day < dates.facts.on - timedelta(days=dates.rules.days("stock_gap"))


__all__ = ["let_pass", "own_day"]
