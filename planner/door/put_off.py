"""Tasks that are left out for good, or put off to a later day, as journal rows."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from planner.door import entry_words as words
from planner.door.acts import Act, Desk, act_of, closed_already
from planner.door.questions import named, task_key
from planner.files.journal_form import NewRow
from planner.judge.facts import animals_in
from planner.plan.texts import untold
from planner.plan.usable_days import HORIZON_DAYS
from planner.rulebook.shapes import Rulebook
from planner.terms.days import day_words
from planner.terms.records import CLOSED
from planner.terms.texts import either, joined
from planner.terms.units import Refusal

LEFT_OUT_OFTEN = 4
"""From so many times on, what repeats is more often put off to a slip of a calendar than on purpose (engine's own, no source)."""


def skip_tasks(desk: Desk, ids: Sequence[str], note: str = "") -> Act | Refusal:
    """Tasks that will not be done. What protects people or animals cannot be skipped; animals that stay away need no protection."""
    rows = []
    for id in ids:
        rule, task = desk.rules.tasks[task_key(id)], desk.plan.task(id)
        title = task.title if task is not None else untold(rule.title)
        waiting = rule.is_arrival and bool(animals_in(desk.facts, "quarantine"))  # who leaves its move out leaves it there
        if rule.protects and (waiting or not rule.is_arrival):
            return Refusal("protects", joined(either(f"'{title}' ({id})", f"“{title}”"), " protects people or animals, so it is not skipped"), "do it" if stands_with_its_alarm(id, desk.rules) else either(f"postpone it with `newtank postpone {id} --to DATE`, or do it", "put it off, or do it"))
        if task is not None and task.state in CLOSED:
            return closed_already(task)
        animals = "; ".join(f"{animal} {count}" for animal, count in task.animals) if task is not None and rule.is_arrival else ""
        rows.append(NewRow(desk.stamp.text, "skipped", id, animals, "", rule.where, words.safe_text(note)))
    return act_of(desk, rows)


def postpone_tasks(desk: Desk, ids: Sequence[str], to: date, note: str = "") -> Act | Refusal:
    """Tasks that will be done later, on `to` at the earliest. With a test go those that it reads for today: they are one job, which would
    else stand there again under another name."""
    if to < desk.on:
        return Refusal("day-passed", f"{to} has passed: a task is put off to a day to come", "")
    if to > desk.on + timedelta(days=HORIZON_DAYS):
        return Refusal("day-too-far", f"{to} lies beyond the two years that are planned", "")
    rows, warnings = [], []
    for id in dict.fromkeys((*ids, *(t.id for t in desk.plan.tasks if t.tested_with in ids))):
        rule, task = desk.rules.tasks[task_key(id)], desk.plan.task(id)
        if task is not None and task.state in CLOSED:
            return closed_already(task)
        if stands_with_its_alarm(id, desk.rules):
            return Refusal("of-an-alarm", joined(named(id), " is asked for by an alarm, so it is not put off. It stands on the list until it is done"), "")
        if task is not None and task.date is not None and to < task.date:
            if rule.protects:
                return Refusal("protects", joined(named(id), f" protects people or animals and can only be put off: it is not before {day_words(task.date)}"), "")
            warnings.append(joined(named(id), f" is not due before {day_words(task.date)}, so an earlier day moves nothing."))
        missed = int((to - desk.on).days * 24 / desk.rules.hours(rule.every)) if rule.every in desk.rules.numbers and rule.when is None else 0
        if missed >= LEFT_OUT_OFTEN:
            warnings.append(joined(named(id), f" comes on no day before {day_words(to)}: that leaves it out {missed} times. If the day is a slip, take it back."))
        rows.append(NewRow(desk.stamp.text, "postponed", id, to.isoformat(), "", rule.where, words.safe_text(note)))
    return act_of(desk, rows, warnings=warnings)


def stands_with_its_alarm(id: str, rules: Rulebook) -> bool:
    """No day moves what an alarm asks for: it is due as long as the alarm is up."""
    return any(id.partition("/")[0] == a.alert for a in rules.alerts)


__all__ = ["postpone_tasks", "skip_tasks", "stands_with_its_alarm"]
