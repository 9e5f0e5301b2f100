"""What a keeper does, as journal rows: a test result, a tick with the fact that it stands for. What is left out stands in `put_off`.

Pure functions of a desk (the tank, its journal, its rules, the plan before the entry, and when it happened) and of what was
asked for. Each gives an `Act`, or a `Refusal` that says why nothing can be written. Commands and other programs share them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from functools import cached_property, partial
from typing import TYPE_CHECKING, Literal

from planner.door import entry_words as words
from planner.door.answered_tests import fulfilled, of_another_vessel, too_early
from planner.door.collisions import collisions
from planner.files.journal import confirmed
from planner.files.journal_form import NewRow
from planner.files.tank import Tank
from planner.judge.alerts import judge_alert
from planner.judge.conditions import Scene, judge_condition, may_hold_animals
from planner.judge.facts import Facts, animals_in, end_of_day, gather, poured_rows
from planner.judge.plausible import doubts
from planner.judge.proportion import out_of_proportion
from planner.judge.scene import done_rows
from planner.plan.occurrences import closings
from planner.rulebook.endings import ended_by_tick
from planner.rulebook.shapes import Rulebook
from planner.rulebook.task_rule import TaskRule, Writes
from planner.terms.amounts import listed
from planner.terms.causes import Cause
from planner.terms.days import day_words
from planner.terms.journal_words import one_word
from planner.terms.readings import question_reading, unusual_reading
from planner.terms.records import CLOSED, URGENT, Answer, Journal, Plan, Quantity, Row, State, Task, index_journal
from planner.terms.texts import TaskName, Text, either, joined, run
from planner.terms.units import Refusal

if TYPE_CHECKING:  # loaded only where there is a wish list
    from planner.stock.catalogue import Catalogue

ASKED_TWICE = frozenset({"display", "quarantine", "mixing"})
"""Waters that are meant for animals. Tap, RO and curing water are often outside what is usual in a tank."""


DOUBTED = " It counts until another test says otherwise: do what the plan says of it, and test again at once."

AT_ONCE_S = 3600
"""Seconds after its event in which the end of an alarm is more often a slip than a deed (engine's own, no source)."""


@dataclass(frozen=True)
class Desk:
    """What an entry is made from. `plan` is the plan of the day before anything is written; `catalogue` is there where a
    wish list asks for it."""

    tank: Tank
    journal: Journal
    rules: Rulebook
    on: date
    plan: Plan
    stamp: words.Stamp
    catalogue: Catalogue | None

    @cached_property
    def facts(self) -> Facts:
        return gather(self.tank, self.journal, self.on)


@dataclass(frozen=True, slots=True)
class Act:
    """Entries to be written together; questions to which the keeper must say yes first; and what else has to be said."""

    entries: tuple[words.Entry, ...]
    questions: tuple[str, ...] = ()
    warnings: tuple[str | Cause, ...] = ()

    @property
    def amounts(self) -> tuple[str, ...]:
        """How much of what was done, as it will stand in the journal."""
        return tuple(f"{e.new.value} {e.new.unit}".strip() for e in self.entries if e.new.value)


# --- test results


def read_results(desk: Desk, results: Iterable[tuple[str, str, str, str]], note: str = "") -> list[words.Entry] | Refusal:
    """Test results as (name, value, unit, water)."""
    read = []
    for name, value, unit, water in results:
        entry = words.reading_row(name, value, unit, desk.stamp, water, note, desk.tank, desk.facts.zone)
        if isinstance(entry, Refusal):
            return entry
        read.append(entry)
    return read


def log_readings(desk: Desk, read: Sequence[words.Entry], meant: str = "") -> Act | Refusal:
    """Readings, and a tick for each open test that they answer in full. What is far from usual is asked about first; in a water
    with animals it is written and doubted, since it may be true, and then no question may stand before the alarm. `meant`: the id of the job at which they were read."""
    rows = [e.row for e in read]
    unusual = [(r, told) for r in rows if r.where in ASKED_TWICE and (told := unusual_reading(r.what, r.low or 0.0, r.high or 0.0, r.value, r.unit)) is not None]
    stocked = {where for where in {r.where for r, _ in unusual} if may_hold_animals(where, Scene(desk.facts, desk.rules, {}))}
    doubted = [joined(told, DOUBTED, either(" `newtank undo` takes back a slip.", "")) for r, told in unusual if r.where in stocked]
    asked = [question_reading(r.what, r.low or 0.0, r.high or 0.0, r.value, r.unit) or "" for r, _ in unusual if r.where not in stocked]
    found = _ticked(desk, rows, meant)
    ticks = [NewRow(desk.stamp.text if day == desk.stamp.day else day.isoformat(), "done", task.id, "", "", task.where) for task, day in found]
    asked += [] if meant else vessel_questions(desk, read)
    early = too_early(desk.plan, desk.rules, desk.journal, rows)
    if early is not None:
        again = datetime.fromtimestamp(early, desk.facts.zone)
        doubted.append(f"This test came too soon after the water change to tell what the change left. Test again at {again:%H:%M} or later.")
    return act_of(desk, ticks, read, asked, doubted)


def _ticked(desk: Desk, rows: Sequence[Row], meant: str = "") -> tuple[tuple[Task, date], ...]:
    return fulfilled(desk.plan, desk.rules, desk.journal, rows, desk.tank, partial(_asks_after, desk, rows), meant)


def vessel_questions(desk: Desk, read: Sequence[words.Entry]) -> list[str]:
    """Readings that would tick the test of one vessel while another waits for the same: asked about, since the one would pass for the other."""
    found = _ticked(desk, [e.row for e in read])
    ticked = {task.id for task, _ in found}
    return [joined("“", other.title, "” asks for the same readings", either(joined(", and ", run("round"), " takes each by itself"), ""), ". Are these the results of “", task.title, "”?") for task, day in found
            for other in of_another_vessel(desk.plan, desk.rules, day, task) if other.id not in ticked]


def _asks_after(desk: Desk, rows: Sequence[Row], alert: str) -> bool:
    """Does an alarm still ask for its remedy once these rows are written? A first good reading waits for a second one alone."""
    facts = gather(desk.tank, index_journal((*desk.journal.rows, *rows), desk.journal.unreadable, desk.journal.file), desk.on)
    rule = next(a for a in desk.rules.alerts if a.alert == alert)
    trace = judge_alert(rule, Scene(facts, desk.rules, {}))
    return trace is not None and trace.gap is None


# --- ticks


def tick_tasks(desk: Desk, ids: Sequence[str], where: str | None = None, note: str = "", amounts: Mapping[str, str] | None = None,
               together: Sequence[str] = ()) -> Act | Refusal:
    """Ticks, and the facts that the tasks stand for. `amounts` holds how much it was, by id, where it was not as planned. A
    task whose fact needs an amount that the plan has not is refused with the code `amount-missing` and its id in `at`. `together`: ids that are ticked in the same breath."""
    rows: list[NewRow] = []
    asked: dict[int, Quantity] = {}
    questions: list[str] = []
    warnings: list[str | Cause] = []
    for id in ids:
        rule, task = desk.rules.tasks[task_key(id)], desk.plan.task(id)
        place, amount = where or rule.where, (amounts or {}).get(id)
        questions += (*_second_tick(desk, id), *_ends_at_once(desk, task_key(id)), *_too_early(desk, id, task, {task_key(other) for other in (*ids, *together)}))
        rows.append(NewRow(desk.stamp.text, "done", id, "", "", place, words.safe_text(note)))
        facts: Iterable[NewRow | Refusal] = ()
        planned = None
        if task is not None and task.animals:
            facts = _stage_rows(desk, task, place, amount)
            planned = Quantity("", task.animals[0][1], "", "", (), "") if len(task.animals) == 1 else None
        elif rule.writes is not None and (task is None or task.writes is not None):
            planned = _planned(desk, id, rule)
            facts = _moved_rows(desk, place) if rule.writes.kind == "moved" and amount is None else ()
            facts = facts or [words.fact_row(rule.writes, place, desk.stamp, planned, amount)]
        for fact in facts:
            if isinstance(fact, Refusal):
                return Refusal(fact.code, fact.message, fact.fix, (id,))
            if planned is not None:
                asked[len(rows)] = planned
            rows.append(fact)
            questions += collisions(desk, fact)
        warnings += _of_tick(desk, id, task, place)
    return act_of(desk, rows, (), questions, warnings, asked)


def tick_of_dose(desk: Desk, fact: words.Entry) -> NewRow | None:
    """The tick of the open job of which a noted dose is the deed, or the plan would order the same dose again tomorrow."""
    row = fact.row
    if row.kind != "dosed":
        return None
    given = ("dosed", one_word("dosed", row.what))
    asked = next((t for t in desk.plan.tasks if t.state in URGENT and t.writes == given and t.where == row.where and t.due is not None and t.due <= row.day), None)
    return NewRow(fact.new.when, "done", asked.id, "", "", row.where) if asked is not None else None


def _planned(desk: Desk, id: str, rule: TaskRule) -> Quantity | None:
    """The amount as the keeper reads it on the page: the plan knows what the judged wish list asks for, and what was merged into one job."""
    name = rule.writes.amount if rule.writes is not None else None
    same = [t for t in desk.plan.tasks if t.key == task_key(id) and name in dict(t.amounts)]
    shown = next((t for t in same if t.id == id), same[0] if same else None)
    return dict(shown.amounts)[name] if shown is not None and name is not None else words.planned_amount(rule, desk.facts, desk.rules)


def writes_an_amount(desk: Desk, id: str) -> bool:
    """Whether the tick of a task writes a fact that may have an amount."""
    writes = desk.rules.tasks[task_key(id)].writes
    return writes is not None and writes.kind != "event"


def _of_tick(desk: Desk, id: str, task: Task | None, where: str) -> Iterator[str | Cause]:
    rule = desk.rules.tasks[task_key(id)]
    if task is not None and task.animals and desk.catalogue is not None and where == "display":
        from planner.door.animal_warnings import of_arrival

        yield from of_arrival(desk, desk.catalogue, *task.animals[0])
    if task is not None and task.awaited_test is not None:
        yield f"The plan wanted a test of {_awaited(task)} before this. Test {_awaited(task)} an hour after the dose, and give no more before that."
    elif task is not None and task.state == State.WAITING and not task.animals:
        yield joined("“", task.title, "” was not asked for yet, because something before it is still open. It is written as it happened.", either(joined(" What it waits for: ", run("why", id), "."), ""))
    if task is None and rule.only_when is not None and judge_condition(rule.only_when, Scene(desk.facts, desk.rules, {})).answer == Answer.NO:
        yield joined(named(id), " is no task of this tank: it is for one of another kind. It is written as it happened", either(joined("; ", run("undo"), " takes it back."), "."))
    if rule.reads and rule.role == "test":
        yield joined(named(id), " is a test, and a tick is no result", either(joined(": gates open on readings. Give them with ", run("log", " ".join(f"{n}=VALUE" for n in rule.reads)), "."), ". Enter what you read."))
    if rule.role == "animals" and rule.writes is None:
        yield joined("Say which animals came, so that the plan counts them", either(joined(": ", run("note", "added ANIMAL COUNT"), "."), "."))


def _ends_at_once(desk: Desk, key: str) -> Iterator[str]:
    """A tick that ends an alarm within the hour of its event. An event without a time of its own may have been within it."""
    end = desk.stamp.when.timestamp() if isinstance(desk.stamp.when, datetime) else None
    for alert, event in ended_by_tick(desk.rules, key):
        rows = [r for name in event.called() for r in desk.facts.rows("event", name) if event.where is None or r.where == event.where]
        fresh = next((r for r in rows if (r.day == desk.stamp.day if end is None else r.earliest <= end < r.latest + AT_ONCE_S)), None)
        if fresh is not None and event.looks is None:  # of several looks no single one is the end
            yield f"“{alert.title}” was noted within the hour (journal line {fresh.line}), and this tick ends the alarm. Is it over already?"
            return


def _too_early(desk: Desk, id: str, task: Task | None, together: set[str]) -> Iterator[str]:
    """What is on hold, or comes after something that nobody ticked, is more often a slip than a deed."""
    rule = desk.rules.tasks[task_key(id)]
    if task is not None and task.state == State.ON_HOLD:
        yield joined(named(id), " is on hold", either(joined(" (", run("why", id), " says why)"), ""), ". Was it done all the same?")
    elif task is not None and task.awaited_test is not None:
        yield f"“{task.title}” waits for a test of {_awaited(task)}. Was it done all the same?"
    elif task is not None and task.state == State.WAITING and task.animals:
        yield joined(named(id), " brings animals, and ", either(joined("a gate before it is still shut (", run("why", id), " says which)"), "the tests before it are not passed yet"), ". Did they come all the same?")
    elif task is None and rule.role == "animals" and not _is_met(desk, rule):
        yield joined(named(id), " is not asked for yet, because what it waits for is not proven", either(joined(" (", run("why", id), " says what)"), ""), ". Was it done all the same?")
    cause = rule.anchor.task if rule.anchor is not None else None
    if cause is None or cause in together or not any(t.key == cause and t.state not in CLOSED for t in desk.plan.tasks):
        return
    if not any(n.kind == "done" for _, n in closings(cause, desk.facts)) and not done_rows(cause, Scene(desk.facts, desk.rules, {})):
        yield joined(named(id), " comes after ", named(cause), ", which is not ticked. Was it done all the same?")


def _is_met(desk: Desk, rule: TaskRule) -> bool:
    """May animals come by what the journal shows? A job that no plan of this tank has is judged by its own condition."""
    opened = {p.id: (p.opened, end_of_day(p.opened, desk.facts.zone)) for p in desk.plan.phases if p.opened is not None}
    return rule.when is None or judge_condition(rule.when, Scene(desk.facts, desk.rules, opened)).answer == Answer.YES


def _awaited(task: Task) -> str:
    """The readings of the test that a job waits for."""
    names = dict(task.awaited_test.values)["readings"] if task.awaited_test is not None else ()
    return listed(str(n) for n in names) if isinstance(names, tuple) else ""


def _stage_rows(desk: Desk, task: Task, where: str, amount: str | None) -> Iterator[NewRow | Refusal]:
    """One row for each animal of a stage: moved if it waits in the quarantine tank, else added. With an amount the one
    animal of the stage came in another number."""
    waiting = animals_in(desk.facts, "quarantine")
    if amount is not None and len(task.animals) > 1:
        yield Refusal("amount-unclear", joined(named(task.id), " brings several animals, so one ", either("--amount", "amount"), " does not say which"), either("write each down: `newtank note added ANIMAL COUNT`", "write each down under “More”"))
        return
    for animal_id, count in task.animals:
        there = {name for name in waiting if desk.catalogue is not None and (a := desk.catalogue.find(name).animal) is not None and a.id == animal_id}
        kind: Literal["added", "moved"] = "moved" if there else "added"
        yield words.fact_row(Writes(kind=kind, what=min(there, default=animal_id)), where, desk.stamp, None, amount or str(count))


def _moved_rows(desk: Desk, where: str) -> list[NewRow | Refusal]:
    """One row for each animal in quarantine that no stage brings over: moved under another name it would stay there as well."""
    staged = {id for t in desk.plan.tasks if t.state not in CLOSED for id, _ in t.animals}

    def known(name: str) -> str:
        found = desk.catalogue.find(name).animal if desk.catalogue is not None else None
        return found.id if found is not None else name

    return [words.fact_row(Writes(kind="moved", what=name), where, desk.stamp, None, str(n)) for name, n in animals_in(desk.facts, "quarantine").items() if known(name) not in staged]


def _second_tick(desk: Desk, id: str) -> Iterator[str]:
    """A second tick on one day, or of a task that comes once, is more often a slip than a second deed."""
    for n, row in closings(task_key(id), desk.facts):
        same = n == int(id.partition("#")[2]) if "#" in id else True
        if row.kind == "done" and (same or row.day == desk.stamp.day):
            yield joined(named(task_key(id)), f" is ticked already, {day_words(row.day)} (journal line {row.line}). Is a second tick meant?")
            return


def act_of(desk: Desk, rows: Iterable[NewRow], before: Sequence[words.Entry] = (), questions: Iterable[str] = (), warnings: Iterable[str | Cause] = (),
         asked: Mapping[int, Quantity] | None = None) -> Act | Refusal:
    """An act of these entries and rows, once the journal's reader would take every row in. `asked`: what the plan asks for, by the place of a row."""
    found = list(before)
    for n, row in enumerate(rows):
        entry = words.checked(row, desk.tank, desk.facts.zone)
        if isinstance(entry, Refusal):
            return entry
        doubt = doubt_of(desk, entry.row, (asked or {}).get(n))
        if doubt is not None:
            questions = (*questions, doubt)
            entry = words.Entry(replace(entry.new, note=confirmed(entry.new.note)), replace(entry.row, note=confirmed(entry.row.note)))
        found.append(entry)
    return Act(tuple(found), tuple(questions), tuple(warnings))


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


def closed_already(task: Task) -> Refusal:
    return Refusal("closed-already", joined("“", task.title, f"” is {task.state.value} already"), either("`newtank undo` takes the last entry back", "take the entry back if that was a slip"))


def named(id: str) -> str:
    """A task by its id where somebody types, by its title elsewhere."""
    return Text(id, (TaskName(task_key(id)),))


def task_key(id: str) -> str:
    return id.partition("#")[0]


__all__ = ["Act", "Desk", "act_of", "closed_already", "collisions", "doubt_of", "log_readings", "named", "read_results", "task_key", "tick_of_dose", "tick_tasks", "vessel_questions", "writes_an_amount"]
