"""The numbered list of one day, and what else its page tells beside the plan.

Nothing is remembered between two commands. The numbers are those of the list made from the rows dated before the day;
what came up since is appended in the order of the journal, and a job that was ticked keeps its number until midnight.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, timedelta
from itertools import groupby
from typing import Literal

from planner.files.journal_write import tag_of
from planner.files.kept import Kept
from planner.files.tank import Tank
from planner.frozen import dataclass
from planner.plan.outlines import MakePlan, Outline, Outlines, listed
from planner.plan.standing import Standing, stand_of_filter
from planner.plan.what_moved import gates_moved
from planner.rulebook.shapes import Rulebook
from planner.rulebook.what_jobs_do import only_forbids
from planner.terms.records import URGENT, Hold, Journal, Moved, Phase, Plan, Row, State, Task, index_journal

JobState = Literal["open", "done", "skipped", "held", "put_off", "gone"]


@dataclass(frozen=True, slots=True)
class Job:
    """One line of the day's list. `known`: a job of this kind was ticked before, so its steps are known by heart."""

    number: int
    task: Task
    standing: JobState
    known: bool
    forbids: bool = False
    """Does it only say what not to do? It keeps its number, and stands among what must not happen yet."""


@dataclass(frozen=True, slots=True)
class Since:
    """What is not as the page of last evening had it, beside the phases that yesterday's entries finished. A lifted hold is told as its gate and reason."""

    opened: tuple[Phase, ...] = ()
    raised: tuple[Hold, ...] = ()
    lifted: tuple[tuple[str, str], ...] = ()
    moved: tuple[Moved, ...] = ()


@dataclass(frozen=True, slots=True)
class Day:
    """One day's page: its plan, its numbered jobs, where the filter stands, and what changed since the day before."""

    plan: Plan
    jobs: tuple[Job, ...]
    standing: Standing | None = None
    since: Since = Since()

    def job(self, number: int) -> Job | None:
        return next((j for j in self.jobs if j.number == number), None)


def day_of(tank: Tank, journal: Journal, rules: Rulebook, plan: Plan, make: MakePlan, news: bool = True, kept: Kept | None = None) -> Day:
    """The day of a plan. `make` plans the same tank with another journal or on another day. `news`: also what changed since
    the day before, for which that day is planned too. `kept` spares such plans where they were made before."""
    outlines = Outlines(tank, rules, make, kept)
    jobs = numbered_jobs(journal, rules, plan, outlines)
    yesterday = plan.on - timedelta(days=1)
    since = Since()
    if news:
        outlines.of_plan(journal_before(journal, plan.on + timedelta(days=1)), plan)  # the next morning asks for it
    if news and any(yesterday <= r.day <= plan.on for r in journal.rows):
        since = since_before(outlines.of(journal_before(journal, plan.on), yesterday), plan)  # what the keeper saw last: another day on the page would not add up
    return Day(plan, jobs, stand_of_filter(tank, journal, rules, plan), since)


def numbered_jobs(journal: Journal, rules: Rulebook, plan: Plan, outlines: Outlines) -> tuple[Job, ...]:
    today = [r for r in journal.rows if r.day == plan.on]
    before = journal_before(journal, plan.on)
    found = list((outlines.of(before, plan.on) if today else outlines.of_plan(before, plan)).listed)
    ids = {t.id for t in found}
    ticked = {r.what: r.kind for r in today if r.kind in ("done", "skipped")}
    new = [t for t in plan.tasks if t.id not in ids and (t.state in URGENT or t.id in ticked)]
    # What was ticked, and its next time is dated already.
    gone = [id for id in ticked if id not in ids and plan.task(id) is None and ("#" in id or any(a.alert == id.partition("/")[0] for a in rules.alerts))]
    if gone or len(new) > 1:
        # Only what each entry of the day brought up tells in which order it came.
        for rows in _entries(today)[:-1]:
            for task in (*outlines.of(journal_before(journal, plan.on, rows), plan.on).listed, *_ticked(rows, plan)):
                if task.id not in ids:
                    ids.add(task.id)
                    found.append(task)
    return _numbered(found, journal, rules, plan)


def carried_on(jobs: Sequence[Job], journal: Journal, rules: Rulebook, plan: Plan) -> tuple[Job, ...]:
    """A day's list after another entry: what came up is appended."""
    return _numbered([j.task for j in jobs], journal, rules, plan)


def _numbered(found: Sequence[Task], journal: Journal, rules: Rulebook, plan: Plan) -> tuple[Job, ...]:
    ids = {t.id for t in found}
    today = [r for r in journal.rows if r.day == plan.on]
    ticked = {r.what: r.kind for r in today if r.kind in ("done", "skipped")}
    known = {r.what.partition("#")[0] for r in journal.rows if r.kind == "done" and r.day <= plan.on}
    came = [t for t in listed(plan, rules) if t.id not in ids]
    ids.update(t.id for t in came)
    whole = [*found, *came, *(t for t in _ticked(today, plan) if t.id not in ids)]
    return tuple(_job(n, task, plan, ticked, known, rules) for n, task in enumerate(whole, 1))


def _ticked(rows: Iterable[Row], plan: Plan) -> list[Task]:
    """The jobs that these rows tick, each once: what was ticked before it stood on the list is told as done, too."""
    return list({t.id: t for r in rows if r.kind in ("done", "skipped") and (t := plan.task(r.what)) is not None}.values())


def _job(number: int, task: Task, plan: Plan, ticked: dict[str, str], known: set[str], rules: Rulebook) -> Job:
    now, forbids = plan.task(task.id), only_forbids(rules.tasks.get(task.key))
    if task.id in ticked or (now is not None and now.state in (State.DONE, State.SKIPPED)):
        skipped = ticked.get(task.id) == "skipped" or (now is not None and now.state == State.SKIPPED)
        return Job(number, task, "skipped" if skipped else "done", True, forbids)
    if now is None:
        return Job(number, task, "gone", task.key in known, forbids)
    standing: JobState = "open" if now.state in URGENT else "held" if now.state == State.ON_HOLD else "put_off"
    # Once it was done in vain it asks for something else than the steps that are known by heart.
    return Job(number, now, standing, task.key in known and not any(y.way == "in_vain" for y in now.yielded), forbids)


def journal_before(journal: Journal, day: date, today: Sequence[Row] = ()) -> Journal:
    """The journal as far as it was written before a day, and these rows of it."""
    kept = set(today)
    rows = [r for r in journal.rows if r.day < day or r in kept]
    return index_journal(rows, [u for u in journal.unreadable if u.day is None or u.day < day], journal.file)


def _entries(today: Iterable[Row]) -> list[list[Row]]:
    """The rows of a day after each of its entries: one longer list for each, in the order of the file."""
    found: list[list[Row]] = []
    for _, rows in groupby(sorted(today, key=lambda r: r.line), key=lambda r: tag_of(r.note) or f"line {r.line}"):
        found.append([*(found[-1] if found else []), *rows])
    return found


def since_before(before: Outline, after: Plan) -> Since:
    """The difference between the plan of last evening and that of today."""
    yesterday = after.on - timedelta(days=1)
    held, holds = set(before.holds), {(h.gate, h.because) for h in after.holds}
    return Since(
        tuple(p for p in after.phases if p.opened is not None and (f"gate/{p.id}" in before.gates or p.opened == yesterday)),
        tuple(h for h in after.holds if (h.gate, h.because) not in held), tuple(h for h in before.holds if h not in holds), gates_moved(before.gates, after))


__all__ = ["Day", "Job", "JobState", "MakePlan", "Since", "carried_on", "day_of", "journal_before", "numbered_jobs", "since_before"]
