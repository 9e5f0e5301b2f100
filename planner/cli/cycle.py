"""The command that shows the nitrogen cycle so far and ahead."""

from __future__ import annotations

from pathlib import Path

import click

from planner.cli.common import console_width, finish, json_option, load_tank, no_more, print_json, print_problems, take_folder, tank_options


@click.command("forecast")
@click.argument("args", nargs=-1, metavar="[DIR]")
@tank_options
@json_option
def forecast_command(args: tuple[str, ...], tank_dir: Path | None, on_text: str | None, rules_dir: Path | None, as_json: bool) -> None:
    """The nitrogen cycle so far and ahead, with a band, and what it means."""
    folder, rest = take_folder(args, tank_dir)
    no_more(rest)
    loaded = load_tank(folder, on_text, rules_dir)
    plan = loaded.plan()
    if as_json:
        from planner.show.json.record_objects import forecast_document

        print_json({"on": plan.on.isoformat(), **forecast_document(plan.forecast), "sentences": list(plan.forecast.sentences)})
    else:
        from planner.cli.screen import show
        from planner.show.terminal.chart import forecast_page

        print_problems(loaded.problems)
        readings = {name: tuple(r for r in loaded.journal.of("reading", name, loaded.on) if r.where == "display") for name in ("ammonia", "nitrite")}
        show(forecast_page(plan, readings, console_width()).lines)
    finish(loaded.problems)
