"""What stands below the jobs of a day: what changed, what is good to know, what comes soon, and the commands to type."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from planner.judge.kinds.done import DoneAsked
from planner.plan.day_jobs import Day, Job
from planner.plan.texts import shown_amount
from planner.rulebook.endings import ended_by_tick
from planner.rulebook.shapes import Rulebook
from planner.rulebook.what_jobs_do import acts_of, only_forbids
from planner.show.terminal.agenda import NEXT_TASKS, next_tasks
from planner.show.terminal.joblines import as_printed, job_words, maybe_words, really_done, tick_rest
from planner.show.terminal.taskcard import Sheet
from planner.show.words.causes import cause_words
from planner.show.words.conditions import condition_words, need_to_tick
from planner.show.words.together import yielded_of
from planner.show.words.words import Line, Page, Role, Span, away_words, days_words, listed, short_day, takes_words, uncapped, wrap
from planner.terms.amounts import numbers_words
from planner.terms.causes import Cause
from planner.terms.records import CLOSED, URGENT, Answer, Plan, State, Task, Trace
from planner.terms.texts import joined

LABEL = 13
LEFT_TO_THE_PLAN = frozenset({"on_your_word", "none_wished"})
"""What a page of the day need not say again each day."""
NOT_PLANNED = frozenset({"left_out", "no_stage"})
"""Wishes that the plan cannot meet. `plan` and `stock` tell them always; a page of the day while the first phase goes on, and whenever animals are about to be chosen."""
FORBIDDEN = frozenset({"adds_ammonia", "feeds"})
"""What an order that only forbids keeps away."""


def write_entry(page: Page, label: str, text: str, role: Role = "", label_role: Role = "strong") -> None:
    """A text with its label at the side."""
    page.labelled(label, text, 0, LABEL, role, label_role)


def write_tail(sheet: Sheet, day: Day, rules: Rulebook, said: set[str], alarmed: bool = False, soon: int = NEXT_TASKS, asked: bool = True) -> list[Line]:
    """What stands below the jobs. `soon`: how many of the coming ones. `asked`: whether a terminal can ask before something weighty is ticked. `alarmed`: what is good to know waits for `plan`, but for lines
    of the journal that cannot be read: a reading on which the alarm hangs may be among them."""
    page, plan = Page(sheet.page.width), sheet.plan
    page.lines.append(())
    changed = changed_words(day, page.width) if not alarmed else ""
    if changed:
        write_entry(page, "Changed", changed)
        page.gap()
    notices = [n for n in notices_of_day(plan, said) if kind_of(n) != "may_be_false" and (not alarmed or kind_of(n) == "damaged_line")]  # whether alarms may be false stands at the head
    for n, notice in enumerate(notices):
        write_entry(page, "" if n else "Good to know", sheet.typed(cause_words(notice, plan.units)), label_role="")
    if not alarmed:
        page.gap()
        _soon(sheet, page, day, rules, said, soon)
    page.gap()
    _commands(page, sheet, as_printed(day, rules)[0], rules, alarmed, asked)
    return page.lines


def notices_of_day(plan: Plan, said: set[str]) -> list[str | Cause]:
    """What a page of the day has still to say; an alarm says its own in `said`."""
    buying = (bool(plan.phases) and plan.phases[0].opened is None) or any(t.animals for t in plan.tasks if t.state in URGENT)
    kinds = LEFT_TO_THE_PLAN if buying else LEFT_TO_THE_PLAN | NOT_PLANNED
    return [n for n in plan.notices if n and n not in said and kind_of(n) not in kinds and not (isinstance(n, Cause) and n.kind == "alarm" and n.text("told") in said)]


def kind_of(notice: str | Cause) -> str:
    return notice.kind if isinstance(notice, Cause) else ""


def changed_words(day: Day, width: int) -> str:
    """What the last day and its entries changed, as much as one line holds."""
    since, plan = day.since, day.plan
    told = [f"finished: “{p.title}”" for p in since.opened]
    told += ["some of what was on hold may go on" if plan.holds else "nothing is on hold any more"] if since.lifted and not since.raised else []
    first = plan.waiting_for[0].gate if plan.waiting_for else ""
    moved = [m for m in since.moved if m.days and (p := plan.phase(m.id.removeprefix("gate/"))) is not None and p.opened is None and p.role != "without_end"]
    for m in sorted(moved, key=lambda m: (m.id != f"gate/{first}", -abs(m.days or 0)))[:1]:
        phase = plan.phase(m.id.removeprefix("gate/"))
        assert phase is not None and m.days and m.after
        title = "filter ready" if phase.role == "proves_filter" else f"“{phase.title}” over"  # "in all": each entry was answered with its own part of it
        told.append(f"{title} {days_words(abs(m.days))} {'later' if m.days > 0 else 'earlier'} in all since {day_of_week(plan.on - timedelta(days=1))}, about {short_day(m.after, plan.on)}")
    kept = ""
    for words in told:
        longer = f"{kept}; {words}" if kept else words[:1].upper() + words[1:]
        if kept and len(longer) + 1 > width - LABEL:
            break
        kept = longer
    return f"{kept}." if kept else ""


def day_of_week(day: date) -> str:
    """`Wed 13`: within a week no month is needed, and no year."""
    return short_day(day, day).rpartition(" ")[0]


def _soon(sheet: Sheet, page: Page, day: Day, rules: Rulebook, said: set[str], most: int) -> None:
    """The next few jobs with their days and minutes, and why one gave way to another of its day."""
    plan = sheet.plan
    forbidden = any(j.standing == "open" and only_forbids(rules.tasks.get(j.task.key)) for j in day.jobs)  # until the readings change
    held = {t.key for t in plan.tasks if t.state == State.ON_HOLD}
    coming = [t for t in next_tasks(plan) if (rule := rules.tasks.get(t.key)) is None or not ((rule.anchor is not None and rule.anchor.task in held) or only_forbids(rule) or (forbidden and t.tentative and acts_of(rule) & FORBIDDEN))][:most]
    maybe = maybe_words(coming, day)
    words = {t.id: maybe[t.id] + job_words(t, rules, plan.units) + (", if that test is clear" if _tested_first(t, coming, rules) else "") for t in coming}
    column = min(page.width - LABEL - 8 - 13, max((len(w) for w in words.values()), default=0))
    before, reasons = "", set[str]()
    for n, task in enumerate(coming):
        when = "today" if task.date == plan.on else day_of_week(task.date) if task.date else ""
        lead = ("Soon" if n == 0 else "").ljust(LABEL) + ("" if when == before else when).ljust(8)
        before = when
        first, *more = wrap(words[task.id], len(lead) + column, " " * len(lead))
        page.lines.append((Span(lead[:LABEL], "strong"), Span(lead[LABEL:]), Span(first[len(lead):].ljust(column)), Span(f"   ({takes_words(task.minutes)})", "soft")))
        page.lines += [(Span(line),) for line in more]
        for why in yielded_of(task) if task.id not in said else ():
            if why not in reasons and why not in said:  # the same reason for several jobs stands once
                reasons.add(why)
                page.say(sheet.typed(why), "soft", LABEL + 8)


def _tested_first(task: Task, coming: Sequence[Task], rules: Rulebook) -> bool:
    """Does a test of its own day decide whether animals come in?"""
    return task.role == "animals" and any(t.date == task.date and (rule := rules.tasks.get(t.key)) is not None and rule.role == "test" and rule.wait is None
                                          and task.key in (rule.not_before, rule.anchor.task if rule.anchor is not None else None) for t in coming)


def _commands(page: Page, sheet: Sheet, jobs: list[Job], rules: Rulebook, danger: bool = False, asked: bool = True) -> None:
    """Three or four short commands, each with what it does, as they work when they are typed. A job that ends an alarm is never offered: what is
    copied is not thought over."""
    measured = [j for j in jobs if really_done(j.task, rules)]
    ticked = [j for j in jobs if not j.task.by_readings and j not in measured and not ended_by_tick(rules, j.task.key)]
    by_readings = [j.number for j in jobs if j.task.by_readings]
    log = (sheet.run("log", ""), f"write down the results of {numbers_words(by_readings)}" if by_readings else "write down what you tested")
    done = " ".join(str(j.number) for j in ticked) + tick_rest([j.task for j in ticked], rules, asked)
    found = [(sheet.run("done", done), "tick what you did")] if ticked else [log] if any(j.task.reads for j in jobs) else []
    if ticked and by_readings:
        found.append(log)
    found += [(sheet.run("done", f"{j.number}{tick_rest([j.task], rules, asked)}"), f"what you really {really_done(j.task, rules)}{_such_as(j.task, rules, sheet.plan.units)}") for j in measured]
    found.append((sheet.run("round", ""), "be asked job by job"))
    if not jobs:
        found.append((sheet.run("plan", ""), "see the whole plan"))
    elif danger or not all(j.known for j in jobs):
        found.append((sheet.run("today", str(jobs[0].number)), f"read all of job {jobs[0].number}"))
    column = max((len(c) + 2 for c, does in found if len(c) + 4 + len(does) <= page.width), default=0)
    column = column if all(column + 2 + len(does) <= page.width for c, does in found if len(c) + 2 <= column) else 0  # each remark behind its own command
    for command, does in found:
        with_words = f"{command}  ".ljust(column) + f"# {does}"  # a shell takes it for a remark
        for line in [with_words] if len(with_words) <= page.width else [command, f"  # {does}"] if "AMOUNT" in command else [command]:
            page.say(line, "soft") if len(line) > page.width else page.lines.append((Span(line, "soft"),))


def _such_as(task: Task, rules: Rulebook, units: str) -> str:
    """How an amount is typed: `, such as 36L`."""
    rule = rules.tasks.get(task.key)
    made = dict(task.amounts).get(rule.writes.amount or "") if rule is not None and rule.writes is not None else None
    return f", such as {shown_amount(made.value, made.unit, units, side=made.side).replace(' ', '')}" if made is not None else ""


def when_next_words(plan: Plan) -> str:
    ahead = [t for t in plan.tasks if t.state in (State.PLANNED, State.WAITING) and t.date is not None and t.date > plan.on]
    if not ahead:
        return "No task is dated ahead." if not plan.holds else "What comes next waits for what is told above."
    first = ahead[0]
    assert first.date is not None
    return f"{'Maybe next' if first.tentative else 'Next'}: {first.title}, {short_day(first.date, plan.on)}, {away_words(first.date, plan.on)}."


def write_waits_until(sheet: Sheet) -> None:
    """With nothing to do: what the next animals of the list wait for beside their day, once the tank is open for animals, else what the next gate
    still asks for beside jobs, which come with days of their own."""
    gate = sheet.plan.phase_as("opens_to_animals")
    open_ = gate is not None and gate.opened is not None
    stage = next((t for t in sheet.plan.tasks if open_ and t.animals and t.state not in CLOSED), None)
    values = [value for why in (stage.because if stage is not None else ()) if isinstance(why, Cause) and why.kind == "open_guards" for _, value in why.values]
    guards = dict.fromkeys(condition_words(g) for value in values if isinstance(value, tuple) for g in value if isinstance(g, Trace))
    if stage is not None and guards:
        write_entry(sheet.page, "Still open", joined("“", stage.title, f"” waits until {listed(guards)}."))
    elif sheet.plan.waiting_for:
        first = sheet.plan.waiting_for[0]
        missing = [need_to_tick(n) for n in first.needs if n.met != Answer.YES and (n.trace.say or not isinstance(n.trace.asked, DoneAsked))]
        if missing:
            write_entry(sheet.page, "Still open", joined("To end “", next((p.title for p in sheet.plan.phases if p.id == first.gate), first.title), f"”: {uncapped(missing[0])}", f"; and {len(missing) - 1} other condition{'s' if len(missing) > 2 else ''}" if len(missing) > 1 else "", "."))


__all__ = ["LABEL", "changed_words", "kind_of", "notices_of_day", "when_next_words", "write_entry", "write_tail", "write_waits_until"]
