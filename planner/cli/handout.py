"""The command that prints the plan: one PDF for one buyer."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from planner.cli.common import (
    console_width,
    finish,
    folder_alone,
    json_option,
    load_tank,
    logo_of,
    must_have_folder,
    print_json,
    print_problems,
    read_shop_file,
    tank_options,
)
from planner.cli.kept_place import kept_here
from planner.files.whole_file import put_whole_file
from planner.show.paper.parts import PARTS
from planner.show.words.causes import cause_words
from planner.show.words.words import visible
from planner.terms.problems import sort_problems

if TYPE_CHECKING:
    from planner.door.folder import Loaded
    from planner.plan.absence import Absence
    from planner.show.paper.handout import Paper
    from planner.terms.records import Plan


@click.command("handout")
@click.argument("args", nargs=-1, metavar="[DIR]")
@tank_options
@click.option("-o", "--output", type=click.Path(dir_okay=False, path_type=Path), required=True, metavar="FILE.pdf", help="The PDF to write.")
@click.option("--shop", "shop_file", type=click.Path(exists=True, dir_okay=False, path_type=Path), metavar="SHOP.yaml", help="Letterhead, prices and house rules of a shop.")
@click.option("--paper", type=click.Choice(["a4", "letter"], case_sensitive=False), help="The paper (else the shop's, else Letter for US units, A4 for others).")
@click.option("--only", multiple=True, type=click.Choice(PARTS), help="Print this part alone; may be given more than once. The sitter's sheet is for the next absence of the tank file.")
@json_option
def handout_command(args: tuple[str, ...], tank_dir: Path | None, on_text: str | None, rules_dir: Path | None, output: Path, shop_file: Path | None, paper: Paper | None,
                    only: tuple[str, ...], as_json: bool) -> None:
    """The plan as a PDF to print and follow with a pencil: a side for the wall, the tank and the road, shopping, a card a
    phase, the cycle sheet, care by week, animals, cautions."""
    folder = folder_alone(args, tank_dir)
    must_have_folder(output)
    shop, wrong = read_shop_file(shop_file)
    if shop_file is not None and shop is None:  # without a name to print there is nothing to go on with
        print_problems(wrong)
        sys.exit(1)
    loaded = load_tank(folder, on_text, rules_dir or (shop.rules if shop is not None else None))
    from planner.plan.make import plan_with_stock
    from planner.show.paper.handout import handout_from_plan

    catalogue = loaded.catalogue
    plan, stock = plan_with_stock(loaded.tank, loaded.journal, loaded.rules, loaded.on, None, loaded.problems, catalogue, kept_here())
    absence = _next_absence(loaded, plan) if "sitter" in only else None
    made = handout_from_plan(plan, loaded.tank, loaded.journal, loaded.rules, stock, catalogue, shop=shop, logo=logo_of(shop), paper=paper, only=only, absence=absence)
    try:
        put_whole_file(output, made.pdf)
    except OSError as error:
        raise click.UsageError(f"{output} cannot be written ({error.strerror}). Close it in other programs, or name another file.") from None
    problems = sort_problems([*wrong, *loaded.problems])
    for notice in stock.about_wishes if stock is not None else ():
        click.echo(visible(cause_words(notice, plan.units)), err=True)
    if as_json:
        from planner.show.json.record_objects import problem_document

        print_json({"on": plan.on.isoformat(), "file": output.as_posix(), "pages": made.pages, "paper": made.paper, "tagged": made.tagged, "warnings": list(made.warnings),
                    "problems": [problem_document(p) for p in problems]})
    else:
        from planner.cli.screen import show
        from planner.show.words.words import Page

        print_problems(problems)
        for warning in made.warnings:
            click.echo(warning, err=True)
        page = Page(console_width())
        page.say(f"{output.as_posix()}: {made.pages} pages, {'Letter' if made.paper == 'letter' else 'A4'}" + (f", with the letterhead of {shop.name}." if shop is not None else "."))
        if not only:
            page.say("Print it on both sides of the sheet; the first sheet is for the wall, the others for a folder.")
        show(page.lines)
    finish(problems)


def _next_absence(loaded: Loaded, plan: Plan) -> Absence:
    """The absence that the sitter's sheet tells of; without one there is nothing to print."""
    from planner.plan.absence import plan_absence

    away = next((a for a in sorted(loaded.tank.keeper.away, key=lambda a: a.from_day) if a.to_day >= loaded.on), None)
    if away is None:
        raise click.UsageError("the tank file names no absence to come, so there is no sitter's sheet. Write it there, under keeper: away: [{from: DATE, to: DATE}].")
    return plan_absence(away.from_day, away.to_day, loaded.facts(), loaded.rules, plan)


__all__ = ["handout_command"]
