"""What is asked before something is written: a tick that is more often a slip than a deed, and a row that says too much, contradicts
geometry, or brings ammonia or a medicine to animals."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import TYPE_CHECKING

from planner.files.journal_form import NewRow
from planner.judge.conditions import judge_condition
from planner.judge.facts import animals_in, end_of_day, poured_rows
from planner.judge.plausible import doubts
from planner.judge.proportion import out_of_proportion
from planner.judge.scene import Scene, done_rows
from planner.plan.occurrences import closings
from planner.rulebook.endings import ended_by_tick
from planner.rulebook.task_rule import TaskRule
from planner.terms.amounts import listed
from planner.terms.days import day_words
from planner.terms.journal_words import one_word
from planner.terms.records import CLOSED, Answer, Quantity, Row, State, Task, index_journal
from planner.terms.texts import TaskName, Text, either, joined, run

if TYPE_CHECKING:
    from planner.door.acts import Desk

TANKS = {"display": "the tank", "quarantine": "the quarantine tank"}
"""The waters in which animals live."""
AT_ONCE_S = 3600
"""Seconds after its event in which the end of an alarm is more often a slip than a deed (engine's own, no source)."""


def of_tick(desk: Desk, id: str, together: set[str]) -> Iterator[str]:
    """Of the tick of a task. `together`: the tasks that are ticked in the same breath."""
    yield from _second_tick(desk, id)
    yield from _ends_at_once(desk, task_key(id))
    yield from _too_early(desk, id, together)


def _second_tick(desk: Desk, id: str) -> Iterator[str]:
    """A second tick on one day, or of a task that comes once, is more often a slip than a second deed."""
    for n, row in closings(task_key(id), desk.facts):
        same = n == int(id.partition("#")[2]) if "#" in id else True
        if row.kind == "done" and (same or row.day == desk.stamp.day):
            yield joined(named(task_key(id)), f" is ticked already, {day_words(row.day)} (journal line {row.line}). Is a second tick meant?")
            return


def _ends_at_once(desk: Desk, key: str) -> Iterator[str]:
    """A tick that ends an alarm within the hour of its event. An event without a time of its own may have been within it."""
    end = desk.stamp.when.timestamp() if isinstance(desk.stamp.when, datetime) else None
    for alert, event in ended_by_tick(desk.rules, key):
        rows = [r for name in event.called() for r in desk.facts.rows("event", name) if event.where is None or r.where == event.where]
        fresh = next((r for r in rows if (r.day == desk.stamp.day if end is None else r.earliest <= end < r.latest + AT_ONCE_S)), None)
        if fresh is not None and event.looks is None:  # of several looks no single one is the end
            yield f"“{alert.title}” was noted within the hour (journal line {fresh.line}), and this tick ends the alarm. Is it over already?"
            return


def _too_early(desk: Desk, id: str, together: set[str]) -> Iterator[str]:
    """What is on hold, or comes after something that nobody ticked, is more often a slip than a deed."""
    rule, task = desk.rules.tasks[task_key(id)], desk.plan.task(id)
    if task is not None and task.state == State.ON_HOLD:
        yield joined(named(id), " is on hold", either(joined(" (", run("why", id), " says why)"), ""), ". Was it done all the same?")
    elif task is not None and task.awaited_test is not None:
        yield f"“{task.title}” waits for a test of {awaited_of(task)}. Was it done all the same?"
    elif task is not None and task.state == State.WAITING and task.animals:
        yield joined(named(id), " brings animals, and ", either(joined("a gate before it is still shut (", run("why", id), " says which)"), "the tests before it are not passed yet"), ". Did they come all the same?")
    elif task is None and rule.role == "animals" and not _is_met(desk, rule):
        yield joined(named(id), " is not asked for yet, because what it waits for is not proven", either(joined(" (", run("why", id), " says what)"), ""), ". Was it done all the same?")
    if "adds_ammonia" in rule.acts and rule.where == "quarantine":  # its tick writes no dose, which would be asked about
        yield from _ammonia_meets(desk, "quarantine")
    cause = rule.anchor.task if rule.anchor is not None else None
    if cause is None or cause in together or not any(t.key == cause and t.state not in CLOSED for t in desk.plan.tasks):
        return
    if not any(n.kind == "done" for _, n in closings(cause, desk.facts)) and not done_rows(cause, Scene(desk.facts, desk.rules, {})):
        yield joined(named(id), " comes after ", named(cause), ", which is not ticked. Was it done all the same?")


def _is_met(desk: Desk, rule: TaskRule) -> bool:
    """May animals come by what the journal shows? A job that no plan of this tank has is judged by its own condition."""
    opened = {p.id: (p.opened, end_of_day(p.opened, desk.facts.zone)) for p in desk.plan.phases if p.opened is not None}
    return rule.when is None or judge_condition(rule.when, Scene(desk.facts, desk.rules, opened)).answer == Answer.YES


def collisions(desk: Desk, fact: NewRow) -> Iterator[str]:
    """Ammonia or a medicine and animals never meet in one tank: a row that says they did is asked about before it is written."""
    where = fact.where or "display"
    if where in TANKS and fact.kind == "dosed" and one_word("dosed", fact.what) == "ammonia":
        yield from _ammonia_meets(desk, where)
    elif where != "display":
        return
    elif (what := _medicine(fact)) and animals_in(desk.facts, "display"):
        yield f"{what.capitalize()} in the reef tank, where animals live? It kills snails, shrimps and corals. The quarantine tank is a water of its own. Did it go into the reef tank?"
    elif fact.kind in ("added", "moved"):
        dose = next((r for r in desk.facts.rows("dosed", "ammonia") if r.where == "display" and r.day == desk.stamp.day), None)
        if dose is not None:
            yield f"Ammonia was dosed on the same day (journal line {dose.line}). Did the animal come all the same?"


def _ammonia_meets(desk: Desk, where: str) -> Iterator[str]:
    """Of ammonia in a tank where animals are, came today, or may be by a row that cannot be read."""
    came = next((r for kind in ("added", "moved") for r in desk.facts.rows(kind) if r.where == where and r.day == desk.stamp.day), None)
    hidden = next((line for kind in ("added", "moved") if (line := desk.facts.damaged(kind, None, where)) is not None), None)
    if came is not None:
        yield f"An animal came on the same day (journal line {came.line}), and ammonia kills. Was ammonia dosed all the same?"
    elif animals_in(desk.facts, where):
        yield f"Animals live in {TANKS[where]}, and ammonia kills. Was ammonia dosed all the same?"
    elif hidden is not None:
        yield f"Journal line {hidden.line} cannot be read, so animals may be in {TANKS[where]}, and ammonia kills. Was ammonia dosed all the same?"


def _medicine(fact: NewRow) -> str:
    """What a row says was given against an illness; empty where it says no such thing."""
    if fact.kind == "dosed":
        return word if (word := one_word("dosed", fact.what)) in ("copper", "medicine") else ""
    return {"medicated": "medicine", "copper": "copper"}.get(one_word("event", fact.what), "") if fact.kind == "event" else ""


def doubt_of(desk: Desk, row: Row, planned: Quantity | None = None) -> str | None:
    """The question that a row raises which is out of proportion to what the plan asks for (`planned`) or can ask, or contradicts geometry."""
    asked = out_of_proportion(row, planned, desk.facts, desk.rules)
    if asked is not None or row.kind not in ("poured", "changed_water", "dosed"):
        return asked
    after = index_journal([*desk.journal.rows, row])
    wrong = next((wrong for r, wrong in doubts(desk.tank, after, desk.rules, max(desk.on, row.day)) if r is row and wrong), None)
    if row.kind == "poured" and sum(r.low or 0.0 for r in poured_rows(after, max(desk.on, row.day))) < desk.facts.net_volume_l:
        return None  # a tank is filled in parts: the plan says that it is not full yet
    return f"{wrong[:1].upper()}{wrong[1:]}. Is that right?" if wrong is not None else None


def awaited_of(task: Task) -> str:
    """The readings of the test that a job waits for."""
    names = dict(task.awaited_test.values)["readings"] if task.awaited_test is not None else ()
    return listed(str(n) for n in names) if isinstance(names, tuple) else ""


def named(id: str) -> str:
    """A task by its id where somebody types, by its title elsewhere."""
    return Text(id, (TaskName(task_key(id)),))


def task_key(id: str) -> str:
    return id.partition("#")[0]


__all__ = ["awaited_of", "collisions", "doubt_of", "named", "of_tick", "task_key"]
