"""Commands of every day: plan, today, why, readings."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import click

from planner.cli.common import (
    chart_rows,
    console_width,
    finish,
    json_option,
    load_tank,
    no_more,
    print_answer,
    print_problems,
    read_on,
    take_folder,
    tank_options,
    typed_folder,
)
from planner.cli.complete import completing
from planner.cli.picture import must_be_picture, picture_form, picture_option, write_picture
from planner.cli.screen import is_ascii, show
from planner.door.folder import Loaded
from planner.door.which_task import job_named
from planner.plan.day_jobs import Day
from planner.show.words.words import Line
from planner.terms.problems import nearest
from planner.terms.readings import READINGS
from planner.terms.records import CLOSED, Answer, Moved, Plan, State, Task
from planner.terms.units import Refusal


@click.command("plan")
@click.argument("args", nargs=-1, metavar="[DIR] [PHASE]", shell_complete=completing("phases"))
@tank_options
@click.option("--all", "whole", is_flag=True, help="Every phase in full.")
@click.option("--since", "since_text", metavar="DATE", help="Say what moved since DATE, and why.")
@click.option("--until", "until_text", metavar="DATE", help="Show repeating tasks up to DATE (else twelve weeks ahead).")
@click.option("--phase", metavar="PHASE", help="One phase alone, in full; the same as PHASE.")
@json_option
def plan_command(args: tuple[str, ...], tank_dir: Path | None, on_text: str | None, rules_dir: Path | None, whole: bool, since_text: str | None,
                 until_text: str | None, phase: str | None, as_json: bool) -> None:
    """The plan on one screen: where we are, what is next, the road with its dates, what must be bought when.

    With PHASE that phase in full: if quick, likely, if slow, each job with its steps, and what it still needs. --all: all of them.
    """
    folder, rest = take_folder(args, tank_dir)
    if rest and phase is None:
        phase, rest = rest[0], rest[1:]
    no_more(rest)
    since, until = _day(since_text, "--since"), _day(until_text, "--until")
    loaded = load_tank(folder, on_text, rules_dir)
    plan = loaded.plan(until)
    if phase is not None:
        known = [p.id for p in plan.phases]
        if phase.isdigit() and 0 < int(phase) <= len(known):  # "Phase 3 of 14", as the pages count
            phase = known[int(phase) - 1]
        phase = phase if phase in known else next((p.id for p in plan.phases if phase.casefold() in p.title.casefold()), phase)
        if phase not in known:
            near = nearest(phase, known)
            raise click.UsageError(f"this plan has no phase '{phase}'." + (f" Did you mean '{near}'?" if near else f" It has 1 to {len(known)}, or by name: {', '.join(known)}."))
    moved: tuple[Moved, ...] = ()
    rows: tuple[str, ...] = ()
    if since is not None:
        from planner.plan.what_moved import what_moved
        from planner.terms.records import index_journal
        from planner.terms.row_words import tell

        old = index_journal([r for r in loaded.journal.rows if r.day <= since], [u for u in loaded.journal.unreadable if u.day and u.day <= since], loaded.journal.file)
        newer = [r for r in loaded.journal.rows if since < r.day <= loaded.on]
        rows = tuple(tell(r) for r in newer)
        because = f"{len(newer)} journal entries, lines {min(r.line for r in newer)} to {max(r.line for r in newer)}" if len(newer) > 1 else f"journal line {newer[0].line}: {rows[0]}" if newer else ""
        moved = what_moved(replace(loaded, journal=old).plan(until), plan, because)

    def document() -> dict[str, Any]:
        from planner.show.json.plan_document import moved_document, plan_document

        return plan_document(plan, loaded.rules) | ({"since": since.isoformat(), "moved": moved_document(moved)} if since else {})

    def lines() -> Sequence[Line]:
        if since is not None:
            from planner.show.terminal.checklist import since_lines

            return since_lines(plan, since, rows, moved, console_width())
        if phase is None and not whole:
            from planner.plan.standing import stand_of_filter
            from planner.show.terminal.overview import overview_lines

            day = Day(plan, (), stand_of_filter(loaded.tank, loaded.journal, loaded.rules, plan))
            return overview_lines(day, loaded.rules, console_width(), folder=typed_folder(folder))
        from planner.show.terminal.checklist import plan_lines

        return plan_lines(plan, loaded.rules, console_width(), phase=phase, folder=typed_folder(folder))

    print_answer(as_json, loaded.problems, document, lines)


@click.command("today")
@click.argument("args", nargs=-1, metavar="[DIR] [JOB]", shell_complete=completing("jobs"))
@tank_options
@click.option("--steps", is_flag=True, help="The steps and cautions of every job in full.")
@json_option
def today_command(args: tuple[str, ...], tank_dir: Path | None, on_text: str | None, rules_dir: Path | None, steps: bool, as_json: bool) -> None:
    """What to do today, on one screen. With JOB (its number, its name or phase/task) the steps of that job alone.

    `newtank` alone, in a tank's folder, is the same.
    """
    folder, rest = take_folder(args, tank_dir)
    show_today(load_tank(folder, on_text, rules_dir), " ".join(rest), steps, as_json)


def show_today(loaded: Loaded, job: str = "", steps: bool = False, as_json: bool = False) -> None:
    """The page of a day, or one job of it in full."""
    folder, plan = typed_folder(loaded.path), loaded.plan()
    if job:
        if as_json:
            raise click.UsageError("`today JOB` has no JSON of its own; `today --json` holds every task of the day.")
        from planner.show.terminal.today import task_lines

        day = loaded.day(plan, news=False)
        task = _task(plan, job, day, folder)
        listed = next((j for j in day.jobs if j.task.id == task.id), None)
        if listed is not None and listed.standing in ("done", "skipped"):  # the list of the morning has it open
            task = replace(task, state=State.DONE if listed.standing == "done" else State.SKIPPED, closed_on=task.closed_on or plan.on)
        print_problems(loaded.problems)
        show(task_lines(plan, loaded.rules, task, console_width(), folder=folder, number=listed.number if listed is not None else None, asked=sys.stdin.isatty()))
        finish(loaded.problems)
        return

    def document() -> dict[str, Any]:
        from planner.show.json.plan_document import today_document

        return today_document(loaded.day(plan), loaded.rules)

    def lines() -> Sequence[Line]:
        absence = next((a for a in loaded.tank.keeper.away if a.from_day <= loaded.on < a.to_day), None)
        if absence is not None:
            from planner.plan.absence import plan_absence
            from planner.show.terminal.away import home_alone_lines

            return home_alone_lines(plan_absence(absence.from_day, absence.to_day, loaded.facts(), loaded.rules, plan), plan, console_width(), folder)
        from planner.show.terminal.today import today_lines

        return today_lines(loaded.day(plan), loaded.rules, console_width(), folder=folder, steps=steps, back=any(a.to_day == loaded.on for a in loaded.tank.keeper.away), asked=sys.stdin.isatty())

    print_answer(as_json, loaded.problems, document, lines)


@click.command("why")
@click.argument("args", nargs=-1, metavar="[DIR] JOB-or-PHASE", shell_complete=completing("jobs_and_gates"))
@tank_options
@json_option
def why_command(args: tuple[str, ...], tank_dir: Path | None, on_text: str | None, rules_dir: Path | None, as_json: bool) -> None:
    """The reasons behind a job (its number, its name or words of its title) or the end of a phase: rule, numbers with sources, evidence."""
    folder, rest = take_folder(args, tank_dir)
    if not rest:
        raise click.UsageError("name one job or phase, such as `newtank why 1`, `newtank why top up` or `newtank why cycle`.")
    asked = " ".join(rest)
    loaded = load_tank(folder, on_text, rules_dir)
    plan = loaded.plan()
    from planner.show.terminal.reasons import reason_document, reason_lines, why_gate, why_task

    name = asked.removeprefix("gate/")
    if any(p.id == name for p in plan.phases):
        reason = why_gate(plan, loaded.rules, name)
    elif asked.startswith("gate/"):
        raise click.UsageError(f"this plan has no phase '{name}'. It has: {', '.join(p.id for p in plan.phases)}.")
    elif not as_json and (absent := _absent(loaded, plan, asked)):
        print_problems(loaded.problems)
        from planner.show.words.words import Page

        page = Page(console_width())
        page.say(absent)
        show(page.lines)
        finish(loaded.problems)
        return
    else:
        reason = why_task(plan, loaded.rules, _task(plan, asked, loaded.day(plan, news=False), typed_folder(loaded.path)))
    print_answer(as_json, loaded.problems, lambda: reason_document(reason, plan), lambda: reason_lines(reason, plan, console_width(), loaded.rules.words, typed_folder(loaded.path)))


@click.command("readings")
@click.argument("args", nargs=-1, metavar="[DIR] [NAME]...", shell_complete=completing("reading_names"))
@tank_options
@click.option("--all", "all_rows", is_flag=True, help="Every reading, not only the last ten of each kind.")
@picture_option
@json_option
def readings_command(args: tuple[str, ...], tank_dir: Path | None, on_text: str | None, rules_dir: Path | None, all_rows: bool, output: Path | None, as_json: bool) -> None:
    """The readings as tables with trends, and the plan's limits beside them."""
    folder, names = take_folder(args, tank_dir)
    must_be_picture(output)
    for name in names:
        if name not in READINGS:
            near = nearest(name, READINGS)
            raise click.UsageError(f"there is no reading '{name}'." + (f" Did you mean '{near}'?" if near else f" There are: {', '.join(READINGS)}."))
    loaded = load_tank(folder, on_text, rules_dir)
    plan = loaded.plan()
    from planner.judge.conditions import Scene
    from planner.show.terminal.readings_table import reading_series, readings_document, readings_lines

    scene = Scene(loaded.facts(), loaded.rules, {})
    series = reading_series(plan, scene, names)
    if output is not None:
        from planner.show.paper.chart_picture import readings_drawn
        from planner.show.terminal.reading_chart import frame_of

        frames = [(s.where, frame) for s in series if (frame := frame_of(s.rows, plan.on, loaded.tank, loaded.rules, 4)) is not None]
        if not frames:
            raise click.UsageError("there is nothing to draw yet: a chart takes two readings of one kind.")
        write_picture(output, readings_drawn(plan.name, plan.on, frames, picture_form(output)), loaded.problems)
        return

    def lines() -> Sequence[Line]:
        from planner.show.terminal.reading_chart import draw_readings

        # Whoever asks for a reading by name gets its chart; the tables of all of them are long enough.
        charts = {(s.name, s.where): draw_readings(s.rows, plan.on, console_width(), chart_rows(), loaded.tank, loaded.rules, not is_ascii()) for s in series} if names else {}
        return readings_lines(plan, series, console_width(), all_rows, loaded.rules.words, charts, typed_folder(loaded.path))

    print_answer(as_json, loaded.problems, lambda: readings_document(plan, series), lines)


def _absent(loaded: Loaded, plan: Plan, word: str) -> str:
    """Why a task of the rules is not in this plan now; "" for one that is, or that no rule has."""
    from planner.judge.conditions import Scene, judge_condition
    from planner.plan.texts import text_filler
    from planner.show.words.conditions import condition_words

    key = word.partition("#")[0]
    rule = loaded.rules.tasks.get(key)
    if rule is None or any(t.key == key for t in plan.tasks):
        return ""
    opened = {p.id: (p.opened, float("inf")) for p in plan.phases if p.opened is not None}
    scene = Scene(loaded.facts(), loaded.rules, opened)
    fill = text_filler(loaded.tank, loaded.journal, loaded.rules, loaded.on)
    named = f"'{fill(rule.title)}' ({key}) is not in the plan of this day"
    if rule.only_when is not None and judge_condition(rule.only_when, scene).answer != Answer.YES:
        return f"{named}: it is for another kind of tank."
    if rule.unless_stages is not None and any(t.animals for t in plan.tasks):
        return f"{named}: the stages of the wish list stand in its place."
    if rule.when is not None:
        trace = judge_condition(rule.when, scene)
        missing = [condition_words(p) for p in (trace.parts or (trace,)) if p.answer != Answer.YES]
        if missing:
            return f"{named}. It comes up once this holds: {'; '.join(missing)}."
    return f"{named}: what it belongs to has not come up, or is over."


def _task(plan: Plan, word: str, day: Day, folder: str) -> Task:
    """The task of that number or name: the occurrence named, else the open one, else the last."""
    named = job_named(word, day, _keys(plan), folder)
    if isinstance(named, Refusal):
        raise click.UsageError(f"{named.message}. {named.fix}")
    if not isinstance(named, str):
        return named.task
    found = plan.task(named) or next((t for t in plan.tasks if t.key == named and t.state not in CLOSED), None)
    found = found or next((t for t in reversed(plan.tasks) if t.key == named), None)
    if found is None:
        numbers = [str(t.occurrence) for t in plan.tasks if t.key == named.partition("#")[0]]
        raise click.UsageError(f"there is no '{named}'; that task has the numbers {', '.join(numbers)}.")
    return found


def _keys(plan: Plan) -> list[str]:
    return sorted({t.key for t in plan.tasks})


def _day(text: str | None, option: str) -> date | None:
    return read_on(text, option) if text is not None else None


__all__ = ["plan_command", "readings_command", "show_today", "today_command", "why_command"]
