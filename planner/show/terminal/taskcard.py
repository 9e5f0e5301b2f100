"""One task on a page: in full, in short, or folded away; and the cautions that go with it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import partial

from planner.plan.texts import amount_words as figure_words
from planner.plan.texts import told_amount, typed
from planner.rulebook.provenance import Caution
from planner.show.terminal.agenda import CLOSED
from planner.show.words.causes import PROVISIONAL, all_words, cause_words
from planner.show.words.conditions import need_seen, seen_words
from planner.show.words.explained_terms import Glossary
from planner.show.words.together import yielded_of
from planner.show.words.words import Page, Role, bare_day, late_words, listed, plain_name, short_day, takes_words, window_words
from planner.terms.causes import Cause
from planner.terms.records import Answer, Need, Plan, Quantity, Row, State, Task
from planner.terms.row_words import tell_fact
from planner.terms.texts import Text, joined
from planner.terms.traces import NoReading, NotHappened, NotTicked, NotTried

MARKS = {State.DONE: "[x]", State.SKIPPED: "[-]", State.LATE: "[ ]", State.DUE: "[ ]", State.PLANNED: "[ ]", State.WAITING: "[?]", State.ON_HOLD: "[=]"}
MET = {Answer.YES: "met", Answer.NO: "not yet", Answer.UNKNOWN: "not yet"}
"""What a gate asks for, as a list to tick has it: nobody is helped by the difference between no and not known."""
INDENT = 4
MOST_TERMS = 3
WEIGHTS = {"danger": "Danger", "care": "Care", "note": "Note"}
WEIGHT_ROLES: dict[str, Role] = {"danger": "alarm", "care": "strong", "note": "soft"}
"""How weighty a caution is: people or animals may die, something may be damaged, or it is good to know."""


@dataclass
class Sheet:
    """A page with what was already told on it: cautions stand in full once, terms are explained once."""

    page: Page
    plan: Plan
    cautions: Mapping[str, Caution]
    command: str = "newtank"
    folder: str = ""
    warned: set[str] = field(default_factory=set)
    glossary: Glossary = field(default_factory=Glossary)
    numbers: Mapping[str, int] = field(default_factory=dict)
    """Jobs of today's list by their number, which is shorter to type than an id."""
    explained: int = 0
    tick_rest: str = ""
    """What the command that ticks the job of this sheet has behind it."""
    alone: bool = False
    """Whether one job stands here by itself. On a page of many the way to tick them is told once."""

    def run(self, verb: str, rest: str) -> str:
        """A command line that can be typed as it stands."""
        return " ".join(part for part in (self.command, verb, self.folder, rest) if part)

    def lead_to(self, alert: str) -> str:  # noqa: ARG002  (a sheet of links needs it)
        """The way from an alarm to what it asks for; a sheet on which the jobs stand just below needs none."""
        return ""

    def explain(self, indent: int = 0, most: int = MOST_TERMS) -> None:
        """A line for each term heard since the last time, at most three on a page: `newtank words` has the others."""
        del self.glossary.waiting[min(most, max(0, MOST_TERMS - self.explained)) :]
        self.explained += len(self.glossary.waiting)
        self.glossary.explain(self.page, indent)

    def typed(self, text: str) -> str:
        """A text with its commands as they are typed for this tank."""
        return typed(text.parts, partial(figure_words, units=self.plan.units), self.folder, partial(short_day, on=self.plan.on)) if isinstance(text, Text) else text


def state_words(task: Task, on: date) -> str:
    """What a task is today, in a few words."""
    when = short_day(task.date, on) if task.date else "no date yet"
    match task.state:
        case State.DONE:
            return f"done {bare_day(task.closed_on, on)}" if task.closed_on else "done"
        case State.SKIPPED:
            return f"skipped {bare_day(task.closed_on, on)}" if task.closed_on else "skipped"
        case State.LATE if task.role != "animals":
            return late_words(task, on) or "late"
        case State.DUE:
            return "due today"
        case State.LATE if task.date == on:  # an animal is never late
            return "due today"
        case State.ON_HOLD:
            return "with another test" if task.tested_with else "on hold"
        case State.WAITING:
            return f"about {when}" if task.date else when
        case _:
            return when


def shown_words(need: Need, on: date | None = None) -> str:
    """What the journal shows for a need, in brackets; nothing where it shows nothing. With `on` its days are told as on that day's pages, without
    the lines of the journal, which `why` has."""
    seen = [e for e in need_seen(need) if not (isinstance(e, Row) and e.kind == "done" and need.met == Answer.YES)]  # it is ticked, or it would not be met
    told = list(dict.fromkeys(f"{bare_day(e.day, on)} {tell_fact(e)}" if isinstance(e, Row) and on is not None else seen_words(e) for e in seen if not isinstance(e, NotTicked | NoReading | NotHappened | NotTried)))
    if not told and need.met == Answer.UNKNOWN:
        told = [seen_words(e) for e in seen if isinstance(e, NoReading)][:1]
    return f" (so far: {'; '.join(told)})" if told and need.met != Answer.YES else f" ({'; '.join(told)})" if told else ""


def is_urgent(task: Task) -> bool:
    return task.state in (State.LATE, State.ON_HOLD)


def amount_words(name: str, made: Quantity, units: str) -> str:
    return f"{plain_name(name)}: {told_amount(made, units)}"


def write_full(sheet: Sheet, task: Task, later: Sequence[Task] = ()) -> None:
    """What, how much, how, what to watch, the caution where the risk is, why, and what follows."""
    page, plan = sheet.page, sheet.plan
    page.gap()
    page.item(MARKS[task.state], task.title, state_words(task, plan.on), role="strong", right_role="strong" if is_urgent(task) else "")
    facts = [f"about {takes_words(task.minutes)}"] if task.minutes else []
    if task.where != "display":
        facts.append(f"in the {task.where} water")
    if task.due and late_words(task, plan.on):
        facts.insert(0, f"was due {short_day(task.due, plan.on)}")
    if task.state in (State.WAITING, State.PLANNED, State.ON_HOLD):
        facts.insert(0, window_words(task.window, plan.on))
    if facts:
        page.labelled("takes" if task.state == State.DUE else "when", ", ".join(facts), INDENT)
    if (test := task.awaited_test) is not None:
        page.labelled("", sheet.typed(joined("Only if ", cause_words(test, plan.units), " allows it.")), INDENT)
    elif task.depends_on and "provisional" not in sheet.warned:  # once a page
        sheet.warned.add("provisional")
        page.labelled("", "The day may move: something before it is still open.", INDENT)
    for n, (name, made) in enumerate(task.amounts):
        page.labelled("how much" if n == 0 else "", amount_words(name, made, plan.units), INDENT)
    write_cautions(sheet, task.cautions, INDENT)
    steps = all_words(task.steps, plan.units)
    for n, step in enumerate(steps, 1):
        page.labelled("how" if n == 1 else "", f"{n}. {sheet.typed(step)}", INDENT, hang=len(f"{n}. "))
    for n, watch in enumerate(task.watch):
        page.labelled("watch" if n == 0 else "", sheet.typed(watch), INDENT)
    for told in yielded_of(task):
        page.labelled("today", sheet.typed(told), INDENT, label_role="strong")
    for n, reason in enumerate(r for r in task.because if not (isinstance(r, Cause) and r.kind in PROVISIONAL)):
        page.labelled("why" if n == 0 else "", cause_words(reason, plan.units), INDENT)
    if task.house:
        page.labelled("from", "a house rule", INDENT, role="soft")
    if later:
        page.labelled("again", _later_words(later, plan.on), INDENT)
    if task.state not in CLOSED and test is None and (task.by_readings or sheet.alone):  # what a test has still to allow is offered to nobody
        page.labelled("tick" if not task.by_readings else "write", tick_command(sheet, task), INDENT)
    sheet.glossary.hear(task.title, *steps, *task.watch, *(amount_words(n, q, plan.units) for n, q in task.amounts))
    sheet.explain(INDENT)


def write_short(sheet: Sheet, task: Task, later: Sequence[Task] = ()) -> None:
    """One line and the amounts; a day that may move is called so, and why it gave way."""
    page, plan = sheet.page, sheet.plan
    more = [amount_words(n, q, plan.units) for n, q in task.amounts]
    more += ["house rule"] if task.house else []
    title = task.title + (f" ({'; '.join(more)})" if more else "")
    page.item(MARKS[task.state], title, state_words(task, plan.on), right_role="strong" if is_urgent(task) else "soft")
    for told in yielded_of(task):
        page.labelled("", sheet.typed(told), INDENT, 0)
    if later:
        page.labelled("", "again " + _later_words(later, plan.on), INDENT, 0, role="soft")
    sheet.glossary.hear(title)


def write_closed(sheet: Sheet, tasks: Iterable[Task]) -> None:
    """Everything ticked or skipped, folded into one paragraph."""
    by_key: dict[str, list[Task]] = {}
    for task in tasks:
        by_key.setdefault(task.key, []).append(task)
    done: list[str] = []
    skipped: list[str] = []
    for group in by_key.values():
        last = group[-1]
        times = f", {len(group)} times" if len(group) > 1 else ""
        when = f" ({bare_day(last.closed_on, sheet.plan.on)}{times})" if last.closed_on else ""
        (skipped if last.state == State.SKIPPED else done).append(last.title + when)
    if done:
        sheet.page.item("[x]", "done: " + "; ".join(done), role="soft")
    if skipped:
        sheet.page.item("[-]", "skipped: " + "; ".join(skipped), role="soft")


def write_cautions(sheet: Sheet, keys: Iterable[str], indent: int, number: int | None = None) -> None:
    """Each caution in full the first time, by its title afterwards; what may kill is told by that word. `number`: the job of a list that it
    guards, or it is read as the end of the job above."""
    lead = "" if number is None else f"{number:>3}: "
    indent, column = indent - len(lead), 10 + len(lead)
    again: dict[str, list[str]] = {}
    for key in keys:
        caution = sheet.cautions.get(key)
        if caution is None:
            continue
        if key in sheet.warned:
            again.setdefault(caution.weight, []).append(caution.title)
            continue
        sheet.warned.add(key)
        sheet.page.labelled(lead + WEIGHTS[caution.weight], f"{caution.title}. {caution.text} {caution.defer}", indent, column, label_role=WEIGHT_ROLES[caution.weight])
        sheet.glossary.hear(caution.text, caution.defer)
    for weight, titles in again.items():
        sheet.page.labelled(lead + WEIGHTS[weight], "as said above: " + "; ".join(titles) + ".", indent, column, label_role=WEIGHT_ROLES[weight])


def tick_command(sheet: Sheet, task: Task) -> str:
    """The exact command that records this task."""
    where = f" --where {task.where}" if task.where != "display" else ""
    if task.by_readings:
        return sheet.run("log", " ".join(f"{name}=VALUE" for name in task.reads) + where)
    return sheet.run("done", str(sheet.numbers.get(task.id, f'"{task.title}"')) + sheet.tick_rest)


def _later_words(later: Sequence[Task], on: date) -> str:
    days = [bare_day(t.date, on) for t in later if t.date]
    if len(days) <= 4:
        return listed(days)
    return f"{', '.join(days[:3])} and so on ({len(days) - 3} more until {days[-1]})"
