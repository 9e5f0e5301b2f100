"""The command that judges and stages the wish list."""

from __future__ import annotations

from pathlib import Path

import click

from planner.cli.common import console_width, finish, folder_alone, json_option, load_tank, print_answer, print_problems, tank_options
from planner.cli.kept_place import kept_here
from planner.terms.problems import sort_problems


@click.command("stock")
@click.argument("args", nargs=-1, metavar="[DIR]")
@tank_options
@json_option
def stock_command(args: tuple[str, ...], tank_dir: Path | None, on_text: str | None, rules_dir: Path | None, as_json: bool) -> None:
    """Judge the wish list: who fits, who cannot live together, and the best order to add them."""
    folder = folder_alone(args, tank_dir)
    loaded = load_tank(folder, on_text, rules_dir)
    if not loaded.tank.wish_list and not as_json:
        print_problems(loaded.problems)
        click.echo("Your description (tank.yaml) has no wish list yet. Add one, for example:\n\nwish_list:\n  - animal: ocellaris clownfish\n    count: 2")
        finish(loaded.problems)
        return
    from planner.plan.make import plan_with_stock
    from planner.show.terminal.stocklist import stock_document, stock_page
    from planner.stock.catalogue import load_catalogue

    catalogue = load_catalogue(loaded.livestock)
    plan, stock = plan_with_stock(loaded.tank, loaded.journal, loaded.rules, loaded.on, None, loaded.problems, catalogue, kept_here())
    assert stock is not None  # there is a catalogue
    problems = sort_problems([*loaded.problems, *catalogue.problems])
    print_answer(as_json, problems, lambda: stock_document(stock, plan), lambda: stock_page(stock, plan, catalogue, console_width()).lines)
