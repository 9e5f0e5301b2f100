"""The command that holds several ways of setting up a tank against each other."""

from __future__ import annotations

from pathlib import Path

import click

from planner.cli.common import (
    console_width,
    finish,
    house_option,
    json_option,
    print_answer,
    print_problems,
    read_on,
    read_shop_file,
    tank_folder,
)
from planner.door.folder import Loaded, read_folder, read_rules
from planner.terms.problems import sort_problems

FEWEST = 2


@click.command("compare")
@click.argument("folders", nargs=-1, metavar="DIR DIR...", type=click.Path(path_type=Path))
@click.option("--shop", "shop_file", type=click.Path(exists=True, dir_okay=False, path_type=Path), metavar="SHOP.yaml", help="Prices and house rules of a shop.")
@click.option("--on", "on_text", metavar="DATE", help="Pretend that today is DATE (YYYY-MM-DD).")
@house_option
@json_option
def compare_command(folders: tuple[Path, ...], shop_file: Path | None, on_text: str | None, rules_dir: Path | None, as_json: bool) -> None:
    """The same tank set up in different ways, side by side: dates, quantities, effort, cost; and what makes the difference.

    Copy a tank folder, change tank.yaml in the copy, and compare the two. The first folder is what the others are held against.
    """
    found = _folders(folders)
    on = read_on(on_text) if on_text else None
    shop, problems = read_shop_file(shop_file)
    rules = read_rules(rules_dir or (shop.rules if shop is not None else None))
    problems += rules.problems
    loaded: list[tuple[Path, Loaded]] = []
    for named, folder in zip(folders, found, strict=True):
        read = read_folder(folder, on, rules)
        problems += read.problems
        if isinstance(read, Loaded):
            loaded.append((named, read))
    told = sort_problems(problems)
    if len(loaded) < FEWEST:
        print_problems(told)
        click.echo(f"Only {len(loaded)} of {len(folders)} folders can be planned, and it takes two to compare.", err=True)
        finish(told)
    from planner.plan.comparison import Setup, compare

    comparison = compare([Setup(named.as_posix(), x.tank, x.journal, x.rules, x.on, x.catalogue, x.problems) for named, x in loaded], shop)
    from planner.show.json.comparison import comparison_document
    from planner.show.terminal.comparison import comparison_lines

    print_answer(as_json, told, lambda: comparison_document(comparison, told, shop), lambda: comparison_lines(comparison, console_width(), shop))


def _folders(named: tuple[Path, ...]) -> list[Path]:
    """The tank folders of these names: two or more, each once."""
    if len(named) < FEWEST:
        raise click.UsageError("name two or more tank folders, such as `newtank compare my-tank my-other-tank`.")
    found: list[Path] = []
    for path in named:
        folder = tank_folder(path)
        if folder is None:
            raise click.UsageError(f"there is no tank.yaml in {path}. Name tank folders, or make one with `newtank start my-tank`.")
        if any(folder.resolve() == other.resolve() for other in found):
            raise click.UsageError(f"{path} is named twice. Compare it with another folder; a copy with one thing changed shows what that thing does.")
        found.append(folder)
    return found


__all__ = ["compare_command"]
