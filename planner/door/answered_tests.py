"""What a reading ticks: the open tests that ask for it, the water that it speaks of, and the tests that it answers."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date

from planner.files.journal_write import tag_of
from planner.files.tank import Tank
from planner.rulebook.shapes import Rulebook
from planner.rulebook.task_rule import TaskRule
from planner.terms.records import URGENT, WATERS, Journal, Plan, Row, Task

NEVER_DONE, UNTIMED = float("-inf"), -1e18
"""Of a task that was never ticked, and of one whose tick has no hour."""
USUAL_DAYS = 14
"""A water tested so lately for the same thing may be meant again."""


def open_tests(plan: Plan, day: date) -> tuple[Task, ...]:
    """What asks for readings, tests and remedies, and is due or late and was so on `day`."""
    return tuple(t for t in plan.tasks if t.reads and t.state in URGENT and t.due is not None and t.due <= day)


def choose_water(names: Sequence[str], plan: Plan, day: date, journal: Journal | None = None) -> tuple[str, ...]:
    """The water that readings without --where speak of: that of the open test that asks for them; the display where no
    test asks, or several do and one of them is the display's. More than one answer: only the keeper can tell. That also
    holds where another water is asked for, but the display was tested for the same within the last weeks."""
    asking: dict[str, set[str]] = {}
    for task in open_tests(plan, day):
        if heard := set(task.reads) & set(names):
            asking.setdefault(task.where, set()).update(heard)
    if not asking or "display" in asking:
        return ("display",)
    whole = [w for w in WATERS if asking.get(w, set()) >= set(names)]
    usual = journal is not None and any(
        (day - row.day).days <= USUAL_DAYS for name in names for row in journal.of("reading", name, day)[-40:] if row.where == "display")
    if usual:
        return ("display", *(w for w in WATERS if w in asking))
    if len(whole) == 1:
        return (whole[0],)
    return tuple(w for w in WATERS if w in asking or (w == "display" and not whole))


def of_another_vessel(plan: Plan, rules: Rulebook, day: date, meant: Task) -> tuple[Task, ...]:
    """The open tests that ask for readings of the same name in the same water, where one of the two is of a vessel of its own: only the keeper knows which vessel was read."""
    def own(task: Task) -> bool:
        return (rule := rules.tasks.get(task.key)) is not None and rule.own_sample

    return tuple(t for t in open_tests(plan, day) if t.id != meant.id and t.where == meant.where and set(t.reads) & set(meant.reads) and (own(t) or own(meant)))


def fulfilled(plan: Plan, rules: Rulebook, journal: Journal, new: Sequence[Row], tank: Tank | None = None, asks: Callable[[str], bool] = lambda _: True, meant: str = "") -> tuple[tuple[Task, date], ...]:
    """Open tests whose readings are all there on one day in their water, with that day. At least one is new. No reading ticks
    a remedy: nobody has aired the water by testing it. A test that
    follows another task is not fulfilled by readings from before it was done. One reading answers one job: the test of a
    diluted sample if it is that, else the one that asks for the most, then one that follows what was done, then the oldest;
    and with it the tests for which that job reads, each by its own readings. Tests
    that look after one thing that was done, a day and a week after it, are one test once both are due. The test of an alarm that
    stands beside a change of water looks after that change. `asks`: does an alarm still ask for its change once these readings are written?
    `meant`: the id of the job at which they were read, which says of which vessel they are."""
    found: list[tuple[Task, date]] = []
    job_meant = plan.task(meant) if meant else None
    for day in sorted({r.day for r in new}):
        spent = {id(r) for r in new if r.day != day}
        old = _not_ticked(journal, rules, day)
        since = {t.id: max(_done_at(rules.tasks.get(t.key), rules, journal, day), _hours_later(t, rules, journal, day), _changed_at(t, plan, rules, journal, day, asks)) for t in plan.tasks if t.reads}
        others = {t.id for t in of_another_vessel(plan, rules, day, job_meant)} if job_meant is not None else set()
        diluted = {t.id for t in open_tests(plan, day) if (rule := rules.tasks.get(t.key)) is not None and rule.diluted}
        for job in sorted((t for t in open_tests(plan, day) if t.by_readings), key=lambda t: (t.id not in diluted, -len(t.reads), -since[t.id], t.due, t.id)):
            answered: set[int] = set()
            if job.id in others or _cause_unticked(rules.tasks.get(job.key), rules, since[job.id]):
                continue
            for task in (job, *(t for t in plan.tasks if t.tested_with == job.id)):
                fits = [r for r in (*new, *old) if id(r) not in spent and r.what in task.reads and r.where == task.where
                        and r.latest >= since[task.id] and (task.id not in diluted or _is_diluted(r, tank))]
                if any(r in new for r in fits) and _own_reads(task, rules) <= {r.what for r in fits} and task.id not in {t.id for t, _ in found}:
                    found.append((task, day))
                    found += [(other, day) for other in open_tests(plan, day) if _of_one_series(task, other, rules) and other.id not in {t.id for t, _ in found}]
                    answered |= {id(r) for r in fits}
            spent |= answered
    return tuple(found)


def _own_reads(task: Task, rules: Rulebook) -> set[str]:
    """What a test asks for itself, without what it reads for others."""
    rule = rules.tasks.get(task.key)
    return set(task.reads) if rule is None else set(task.reads).intersection(rule.reads)


def _of_one_series(one: Task, other: Task, rules: Rulebook) -> bool:
    """Do both follow the same thing that was done, so that what answers the first answers the other?"""
    a, b = (rules.tasks.get(t.key) for t in (one, other))
    if a is None or b is None or a.anchor is None or b.anchor is None or a.anchor.task is None or a.wait is None or b.wait is None:
        return False
    return a.anchor.task == b.anchor.task and one.occurrence == other.occurrence and one.where == other.where and set(other.reads) <= set(one.reads)


def _is_diluted(row: Row, tank: Tank | None) -> bool:
    """A reading of a diluted sample: its note says so, or it is a figure beyond the end of the kit's scale."""
    kit = tank.test_kits.get(row.what) if tank is not None else None
    highest = kit.highest_internal(row.what) if kit is not None else None
    beyond = highest is not None and (row.low or 0.0) > highest * 1.000001
    return beyond or "dilut" in row.note.lower()


def _not_ticked(journal: Journal, rules: Rulebook, day: date) -> list[Row]:
    """Readings of a day that no test was ticked with: those that share the tag of a tick have answered theirs."""
    ticked = {(tag, name) for row in journal.of("done", "*", day) if row.day == day and (tag := tag_of(row.note)) is not None
              and (rule := rules.tasks.get(row.what.partition("#")[0])) is not None for name in rule.reads}
    return [r for r in journal.of("reading", "*", day) if r.day == day and (tag_of(r.note), r.what) not in ticked]


def _cause_unticked(rule: TaskRule | None, rules: Rulebook, done_at: float) -> bool:
    """A test that follows a dose of ammonia nobody ticked, or another test: what it reads says nothing of that, and a tick here would hide that it is open."""
    cause = rules.tasks.get(rule.anchor.task) if rule is not None and rule.anchor is not None and rule.anchor.task is not None else None
    return cause is not None and ("adds_ammonia" in cause.acts or cause.role == "test") and done_at == NEVER_DONE


def _done_at(rule: TaskRule | None, rules: Rulebook, journal: Journal, day: date) -> float:
    """The instant at which the task that a test hangs on was done; a bare date says nothing of the hour."""
    if rule is None or rule.anchor is None or rule.anchor.task is None:
        return NEVER_DONE
    cause = rules.tasks.get(rule.anchor.task)
    rows = [row for key in (rule.anchor.task, *(cause.also_done_by if cause is not None else ())) for row in journal.of("done", key, day)]
    return max((row.earliest if row.at is not None else UNTIMED for row in rows), default=NEVER_DONE)


def too_early(plan: Plan, rules: Rulebook, journal: Journal, new: Sequence[Row]) -> float | None:
    """From when on a test tells what a large change of an alarm left, where a new reading is from before that."""
    for row in new:
        for task in open_tests(plan, row.day):
            wait = _mixes_for(task, rules)
            if row.at is not None and wait and task.where == row.where and row.what in _own_reads(task, rules):
                tells = _changed_at(task, plan, rules, journal, row.day, lambda _: False)
                if tells - wait <= row.earliest < tells:
                    return tells
    return None


def tells_from(test: Task, rules: Rulebook, journal: Journal, day: date) -> float | None:
    """The instant from which a test of an alarm tells what the last change of the day left; None without a change that has its hour."""
    wait = max(_mixes_for(test, rules), rules.hours(later) * 3600 if (rule := rules.tasks.get(test.key)) is not None and (later := rule.later) is not None else 0.0)
    rows = [row for row in journal.of("changed_water", "*", day) if row.day == day and row.where == test.where]
    return rows[-1].earliest + wait if test.by_readings and wait and rows and rows[-1].at is not None else None


def _mixes_for(test: Task, rules: Rulebook) -> float:
    """Seconds that the test of an alarm waits after its large change."""
    waits = {t.again or "settle_after_dose" for a in rules.alerts if a.alert == test.phase for t in a.tasks if t.again is not None or t.enough is not None}
    return max((rules.hours(name) * 3600 for name in waits), default=0.0)


def _hours_later(test: Task, rules: Rulebook, journal: Journal, day: date) -> float:
    """The instant from which a test counts that follows another one so many hours after the last change of water."""
    rule = rules.tasks.get(test.key)
    if rule is None or rule.later is None or rule.anchor is None or rule.anchor.task is None:
        return NEVER_DONE
    return max((row.earliest + rules.hours(rule.later) * 3600 for row in journal.of("changed_water", "*", day) if row.at is not None and row.where == test.where), default=NEVER_DONE)


def _changed_at(test: Task, plan: Plan, rules: Rulebook, journal: Journal, day: date, asks: Callable[[str], bool]) -> float:
    """The instant from which a test of an alarm counts, where the alarm asks for a change of water on the same day: the last change, and
    never while the change is open. What was read before it would tick the test of what it did."""
    def changes(task: Task) -> bool:
        rule = rules.tasks.get(task.key)
        return task.phase == test.phase and task.where == test.where and task.role == "remedy" and rule is not None and rule.writes is not None and rule.writes.kind == "changed_water"

    rule, alert = rules.tasks.get(test.key), next((a for a in rules.alerts if a.alert == test.phase), None)
    if test.role != "test" or rule is None or rule.wait is not None or alert is None or not any(map(changes, plan.tasks)):
        return NEVER_DONE
    read_today = any(r.day == day and r.where == test.where for name in rule.reads for r in journal.of("reading", name, day))
    changed_today = any(r.day == day and r.where == test.where for r in journal.of("changed_water", "*", day))
    if alert.changes_daily and not read_today and not changed_today:
        return NEVER_DONE  # the alarm stood in the morning, and its first test of a day comes before the change
    # Where a test after the first part tells what it left, a rest that is still open takes nothing from it.
    if any(changes(t) and t.state in URGENT and t.date is not None and t.date <= day and not (rules.tasks[t.key].enough is None and any(y.way == "in_part" for y in t.yielded))
           for t in plan.tasks) and asks(test.phase):
        return float("inf")
    # The water has to mix: a test within the hour after a large change tells nothing of what it left.
    wait = _mixes_for(test, rules)
    return max((row.earliest + wait if row.at is not None else UNTIMED for row in journal.of("changed_water", "*", day) if row.day == day and row.where == test.where), default=NEVER_DONE)


__all__ = ["choose_water", "fulfilled", "of_another_vessel", "open_tests", "tells_from", "too_early"]
