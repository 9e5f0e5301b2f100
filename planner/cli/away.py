"""The command for an absence."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import click

from planner.cli.common import console_width, json_option, load_tank, no_more, print_answer, take_folder, tank_options


@click.command("away")
@click.argument("args", nargs=-1, metavar="[DIR] FROM TO")
@tank_options
@json_option
def away_command(args: tuple[str, ...], tank_dir: Path | None, on_text: str | None, rules_dir: Path | None, as_json: bool) -> None:
    """An absence FROM one day TO another: how long this tank may be alone, what to do before, the sitter's sheet, the return."""
    folder, rest = take_folder(args, tank_dir)
    if len(rest) < 2:
        raise click.UsageError("say when you leave and when you are back, such as `newtank away 2026-07-03 2026-07-10`.")
    no_more(rest[2:])
    first, last = (_day(text) for text in rest[:2])
    if last <= first:
        raise click.UsageError("the second day is the one on which you are back, and lies after the first.")
    loaded = load_tank(folder, on_text, rules_dir)
    if last < loaded.on:
        raise click.UsageError(f"{last.isoformat()} has passed.")
    from planner.plan.absence import plan_absence
    from planner.show.terminal.away import away_document, away_lines

    plan = loaded.plan()
    found = plan_absence(first, last, loaded.facts(), loaded.rules, plan)
    described = any(a.from_day <= first and last <= a.to_day for a in loaded.tank.keeper.away)
    print_answer(as_json, loaded.problems, lambda: away_document(found, plan), lambda: away_lines(found, plan, console_width(), described=described))


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise click.UsageError(f"'{text}' is not a date. Write it as year-month-day, for example 2026-07-03.") from None


__all__ = ["away_command"]
