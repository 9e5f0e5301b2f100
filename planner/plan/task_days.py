"""Days that need no other date of the plan: what calendar, absences, waits and the journal say of one task."""

from __future__ import annotations

import math
from datetime import date, timedelta
from functools import cached_property

from dateutil.relativedelta import relativedelta

from planner.files.journal_write import tag_of
from planner.judge.facts import Facts, animals_in
from planner.judge.figures import quantity
from planner.plan.dues import closings, latest_of
from planner.plan.usable_days import HORIZON_DAYS, DayKind, next_day_allowed
from planner.rulebook.shapes import Rulebook
from planner.rulebook.task_rule import TaskRule
from planner.terms.records import Row

LONGER = 1.25


def days_after_absence(facts: Facts, rules: Rulebook) -> int:
    """So many days after a long absence nothing new joins the animals that were alone; an empty tank was not."""
    return rules.days("back_before_animals") if animals_in(facts, "display") or animals_in(facts, "quarantine") else 0


class TaskDays:
    """Usable days, waits and what was done, each worked out once."""

    def __init__(self, rules: Rulebook, facts: Facts) -> None:
        self.rules, self.facts = rules, facts
        self._allowed: dict[tuple[date, DayKind], date | None] = {}
        self._figures: dict[str, int] = {}
        self._closings: dict[str, list[tuple[int, Row]]] = {}
        self.quiet_days, self.long_nights = rules.days("quiet_before_absence"), round(rules.number("long_absence"))
        self.back_days = days_after_absence(facts, rules)

    def plus(self, day: date | None, days: int) -> date | None:
        if day is None or abs(days) > HORIZON_DAYS:
            return None
        return day + timedelta(days=days)

    def allowed(self, day: date | None, rule: TaskRule) -> date | None:
        if day is None:
            return None
        kind: DayKind = "animals" if rule.role == "animals" else "any" if rule.role == "remedy" else rule.day
        if (day, kind) not in self._allowed:
            self._allowed[day, kind] = next_day_allowed(day, kind, self.facts.tank, self.quiet_days, self.long_nights, self.facts.on, self.back_days)
        return self._allowed[day, kind]

    def wait(self, rule: TaskRule) -> int:
        return self.whole_days(rule.wait)

    def whole_days(self, name: str | None) -> int:
        """Whole days of a wait: a number of the rules, or a figure of this tank in days (0 where it cannot be had). Less
        than half a day is the same day."""
        if name is None:
            return 0
        if name in self.rules.numbers:
            return 0 if self.rules.hours(name) < 12 else self.rules.days(name)
        if name not in self._figures:
            made = quantity(name, self.facts, self.rules)
            self._figures[name] = math.ceil(made.value - 1e-9) if made is not None else 0
        return self._figures[name]

    def most_times(self, rule: TaskRule) -> int | None:
        """How often a job comes in all; None where it repeats without a number."""
        return self.whole_days(rule.times) if rule.times is not None else None

    def still_to_come(self, base: date | None, name: str | None, seen: date | None = None) -> date | None:
        """The end of a wait for what grows by itself. Where it was past when somebody last looked (else today), a quarter is put on the wait, as
        often as need be: the day does not slide along with every day on which nothing is written."""
        days = float(self.whole_days(name))
        while base is not None and days >= 1 and math.ceil(days) < ((seen or self.facts.on) - base).days:
            days *= LONGER
        return self.plus(base, math.ceil(days))

    def step_on(self, day: date | None, rule: TaskRule, times: int = 1) -> date | None:
        """`times` intervals after a day. Months end on the last day where the 31st is missing."""
        if day is None or rule.every is None:
            return day
        number = self.rules.numbers.get(rule.every)
        if number is not None and number.unit == "months":
            return day + relativedelta(months=round(number.value) * times)
        return self.plus(day, max(1, self.whole_days(rule.every) if number is None else self.rules.days(rule.every)) * times)

    def closed(self, key: str) -> list[tuple[int, Row]]:
        if key not in self._closings:
            self._closings[key] = closings(key, self.facts)
        return self._closings[key]

    def last_time(self, rule: TaskRule, key: str) -> date | None:
        """The last day done: by tick, by a reading or fact that the task counts, whichever is later."""
        days = [row.day for _, row in self.closed(key)[-1:]]
        if rule.reads:
            days += self.read_on(rule)
        if rule.counts:
            row = self.facts.last(*rule.counts.split(":", 1))
            days += [row.day] if row is not None else []
        return max(days, default=None)

    @cached_property
    def _own_vessels(self) -> frozenset[str]:
        """The tags of the entries that answered the test of a vessel of its own."""
        rows = (row for key, rule in self.rules.tasks.items() if rule.own_sample for row in self.facts.rows("done", key))
        return frozenset(tag for row in rows if (tag := tag_of(row.note)) is not None)

    def read_on(self, rule: TaskRule) -> list[date]:
        """The last day on which everything that a test reads was read, however it came into the journal. What answered the test of a vessel of its own was read there."""
        lasts = []
        for name in rule.reads:
            found = [r.day for r in self.facts.rows("reading", name)[-40:] if r.where == rule.where and (rule.own_sample or tag_of(r.note) not in self._own_vessels)]
            if not found:
                return []
            lasts.append(set(found))
        shared = set.intersection(*lasts) if lasts else set()
        return [max(shared)] if shared else []

    def postponed(self, key: str, n: int, day: date | None) -> date | None:
        for row in reversed(self.facts.rows("postponed", key)):
            number = row.what.partition("#")[2]
            if not number or number == str(n):
                try:
                    return latest_of([day, date.fromisoformat(row.value.strip())]) if day else day
                except ValueError:
                    return day
        return day

    def projected(self, due: date | None, rule: TaskRule) -> date | None:
        return None if due is None else self.allowed(max(due, self.facts.on), rule)
