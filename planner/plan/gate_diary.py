"""The dates of a plan as the kinds of conditions ask for them: when could what a gate needs be met?"""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING, Any

from planner.judge.kinds import KINDS
from planner.plan.dues import Scenario
from planner.plan.tests_ahead import next_test
from planner.terms.records import Answer, Trace

if TYPE_CHECKING:
    from planner.plan.dates import Dates


class GateDiary:
    """The dates of a book as a kind of condition asks for them, for the gate of one phase in one scenario."""

    def __init__(self, book: Dates, phase: str, s: Scenario) -> None:
        self.book, self.phase, self.s, self.rules = book, phase, s, book.rules

    def of_task(self, key: str) -> list[date | None]:
        rule = self.rules.tasks.get(key)
        here = rule is not None and (self.book.applies(rule, key.partition("/")[0]) or rule.also_done_by)
        return [self.book.task_day(key, self.s)] if here else []

    def of_moment(self, spec: str) -> date | None:
        return self.book.moment_day(spec, self.s) if "/" in spec else self.book.gate_day(spec, self.s)

    def of_test(self, name: str, where: str, times: int, gap_days: int, since: str | None = None) -> date | None:
        return next_test(self.book, name, where, self.phase, self.s, times, gap_days, self.of_moment(since) if since else None)

    def of_clear(self, name: str, wait_days: int) -> list[date | None]:
        event, expectation = f"{name}_clear", self.book.expectation
        told = self.phase == self.rules.phase_as("proves_filter") and event in expectation.offsets and expectation.readings_used
        return [self.plus(self.book.milestone(event, self.phase, self.s), wait_days)] if told else []

    def of_proof(self, wait_days: int) -> date | None:
        return self.plus(self.book.milestone("nitrite_clear", self.phase, self.s), wait_days)

    def plus(self, day: date | None, days: int) -> date | None:
        return self.book.days.plus(day, days)

    def ageless(self, node: Any) -> Trace:
        return KINDS[type(node)].answer(node, replace(self.book.scene, ageless=True))

    def is_called(self, key: str) -> bool:
        rule, owner = self.rules.tasks.get(key), key.partition("/")[0]
        return rule is None or rule.when is None or bool(rule.also_done_by) or owner not in self.book.phases or self.book.when(rule, owner).answer == Answer.YES
