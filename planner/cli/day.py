"""Commands of every day: plan, today, why, readings."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import click

from planner.cli.common import (
    console_width, finish, json_option, load_tank, no_more, print_json, print_problems, read_on, take_folder, tank_options,
)
from planner.cli.screen import show


@click.command("plan")
@click.argument("args", nargs=-1, metavar="[DIR]")
@tank_options
@click.option("--since", "since_text", metavar="DATE", help="Say what moved since DATE, and why.")
@click.option("--until", "until_text", metavar="DATE", help="Show repeating tasks up to DATE (else twelve weeks ahead).")
@click.option("--phase", metavar="ID", help="One phase alone, in full.")
@json_option
def plan_command(args: tuple[str, ...], tank_dir: Path | None, on_text: str | None, rules_dir: Path | None, since_text: str | None,
                 until_text: str | None, phase: str | None, as_json: bool) -> None:
    """The whole dated plan by phase: if quick, likely, if slow; and what each gate still needs."""
    folder, rest = take_folder(args, tank_dir)
    no_more(rest)
    since, until = _day(since_text, "--since"), _day(until_text, "--until")
    loaded = load_tank(folder, on_text, rules_dir)
    plan = loaded.plan(until)
    if phase is not None:
        known = [p.id for p in plan.phases]
        if phase not in known:
            from planner.problems import nearest

            near = nearest(phase, known)
            raise click.UsageError(f"this plan has no phase '{phase}'." + (f" Did you mean '{near}'?" if near else f" It has: {', '.join(known)}."))
    moved, rows = (), ()
    if since is not None:
        from planner.evidence import tell
        from planner.model import index_journal
        from planner.plan import make_plan, what_moved

        old = index_journal([r for r in loaded.journal.rows if r.day <= since], [u for u in loaded.journal.unreadable if u.day and u.day <= since], loaded.journal.file)
        newer = [r for r in loaded.journal.rows if since < r.day <= loaded.on]
        rows = tuple(tell(r) for r in newer)
        because = f"{len(newer)} journal entries from line {newer[0].line} to {newer[-1].line}" if len(newer) > 1 else f"journal line {newer[0].line}: {rows[0]}" if newer else ""
        moved = what_moved(make_plan(loaded.tank, old, loaded.rules, loaded.on, until), plan, because)
    if as_json:
        from planner.show.document import moved_document, plan_document

        document = plan_document(plan, loaded.rules)
        print_json(document | ({"since": since.isoformat(), "moved": moved_document(moved)} if since else {}))
    else:
        from planner.show.checklist import plan_lines, since_lines

        print_problems(loaded.problems)
        if since is not None:
            show(since_lines(plan, since, rows, moved, console_width()))
        else:
            show(plan_lines(plan, loaded.rules, console_width(), phase=phase, folder=_typed(folder)))
    finish(loaded.problems)


@click.command("today")
@click.argument("args", nargs=-1, metavar="[DIR]")
@tank_options
@json_option
def today_command(args: tuple[str, ...], tank_dir: Path | None, on_text: str | None, rules_dir: Path | None, as_json: bool) -> None:
    """What to do today, what is late, what comes next, what the plan waits for, what is on hold."""
    folder, rest = take_folder(args, tank_dir)
    no_more(rest)
    loaded = load_tank(folder, on_text, rules_dir)
    plan = loaded.plan()
    if as_json:
        from planner.show.document import today_document

        print_json(today_document(plan, loaded.rules))
    else:
        from planner.show.checklist import today_lines

        print_problems(loaded.problems)
        show(today_lines(plan, loaded.rules, console_width(), folder=_typed(folder)))
    finish(loaded.problems)


def _day(text: str | None, option: str) -> date | None:
    if text is None:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise click.UsageError(f"{option} '{text}' is not a date. Write it as year-month-day, for example 2026-03-01.") from None


def _typed(folder: Path) -> str:
    """The folder as an argument, or nothing where it is the current one."""
    import shlex

    return "" if folder == Path() else shlex.quote(folder.as_posix())


__all__ = ["plan_command", "read_on", "today_command"]
