"""The command that tells what is left of salt, kits, carbon and food."""

from __future__ import annotations

from pathlib import Path

import click

from planner.cli.common import console_width, folder_alone, json_option, load_tank, print_answer, tank_options, typed_folder


@click.command("supplies")
@click.argument("args", nargs=-1, metavar="[DIR]")
@tank_options
@json_option
def supplies_command(args: tuple[str, ...], tank_dir: Path | None, on_text: str | None, rules_dir: Path | None, as_json: bool) -> None:
    """What is left of salt, pure water, test kits, carbon and food, and the day to order.

    What you buy is a line of the journal: `newtank note bought salt 20kg`, `newtank note bought ammonia_kit 50 tests`.
    """
    folder = folder_alone(args, tank_dir)
    loaded = load_tank(folder, on_text, rules_dir)
    from planner.plan.supplies import supplies
    from planner.show.terminal.supplylist import supply_document, supply_lines

    plan = loaded.plan()
    found = supplies(loaded.facts(), loaded.rules, plan)
    print_answer(as_json, loaded.problems, lambda: supply_document(found, plan), lambda: supply_lines(found, plan, console_width(), typed_folder(loaded.path)))


__all__ = ["supplies_command"]
