"""`newtank rules`: every rule, number, source and grade; the check of house rules; and what editors need to check files."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import click

from planner.cli.common import console_width, house_option, json_option, print_answer
from planner.door.folder import read_rules, shown_path
from planner.files.whole_file import put_whole_file
from planner.judge.figures import RESTS_ON
from planner.rulebook.check import check_numbers, check_rules
from planner.rulebook.read import load_rules, shipped
from planner.rulebook.shapes import Rulebook
from planner.rulebook.shipped_cache import load_shipped_rules
from planner.terms.problems import Problem, nearest, sort_problems


@click.command("rules")
@click.argument("part", metavar="[PHASE]", required=False)
@click.option("--check", is_flag=True, help="Check the rule files; with --rules also the cases of the folder, and ours against it.")
@click.option("--codes", is_flag=True, help="The codes of problems instead, each with an example.")
@click.option("--phase", metavar="ID", help="One phase or alert alone; the same as naming it.")
@click.option("--schema", type=click.Choice(["tank", "shop", "rules", "livestock"]), help="Print the JSON Schema of a file, for editors.")
@click.option("-o", "--output", type=click.Path(dir_okay=False, path_type=Path), metavar="FILE", help="Write the schema to a file.")
@house_option
@json_option
def rules_command(part: str | None, check: bool, codes: bool, phase: str | None, schema: str | None, output: Path | None, rules_dir: Path | None, as_json: bool) -> None:
    """Lists rules, numbers, sources and grades. What only common practice backs says so; what to aim for among it is printed as "aim for".

    `newtank rules cycle` shows one phase or alert: its tasks, and which of its numbers rest on what.

    With --rules DIR the house rules are marked, each with its place and what the shipped rule says. With --schema an editor
    can complete and check a tank, shop or rule file while you type.
    """
    if schema is not None or output is not None:
        write_schema(schema, output, rules_dir)
        return
    if codes:
        from planner.show.terminal.codelist import codes_document, codes_lines

        print_answer(as_json, (), codes_document, lambda: codes_lines(console_width()))
        return
    phase = phase or part
    rules = read_rules(rules_dir)
    book, problems = rules.book, rules.problems
    known = [*(p.phase for p in book.phases), *(a.alert for a in book.alerts)]
    if phase is not None and phase not in known:
        near = nearest(phase, known)
        raise click.UsageError(f"there is no phase or alert '{phase}'." + (f" Did you mean '{near}'?" if near else f" There are: {', '.join(known)}."))
    ran: tuple[int, int] | None = None
    from planner.stock.catalogue import load_catalogue, stock_numbers

    stock = stock_numbers(load_catalogue(rules.livestock).figures)
    if check:
        found, ran = run_checks(book, rules_dir)
        problems = sort_problems([*problems, *found, *check_numbers(stock, book)])
    from planner.show.terminal.rulelist import check_lines, rules_document, rules_lines

    print_answer(as_json, problems, lambda: rules_document(book, problems, phase),
                 lambda: check_lines(book, problems, console_width(), ran, stock) if check else rules_lines(book, console_width(), phase, stock))


def run_checks(book: Rulebook, house: Path | None) -> tuple[tuple[Problem, ...], tuple[int, int] | None]:
    """Problems of sense; with house rules also their own cases, and the shipped ones where they could show a loosening.
    The second value counts both kinds of cases."""
    found = check_rules(replace(book, figures=RESTS_ON))
    if house is None:
        return found, None
    from planner.plan.rule_cases import cases_below, failed_cases, loosened_cases
    from planner.show.words.conditions import need_line

    own, wrong = cases_below(house, shown_path(house))
    ours, _ = cases_below(shipped("rules"), "rules")
    base, _ = load_rules(shipped("rules"))
    return (*found, *wrong, *failed_cases(own, book, need_line), *loosened_cases(ours, base, book)), (len(own), len(ours))


def write_schema(schema: str | None, output: Path | None, house: Path | None = None) -> None:
    """Print a schema, or write it to a file. Animals of a house may be priced too."""
    if schema is None:
        raise click.UsageError("-o goes with --schema: write for example `newtank rules --schema tank -o tank.schema.json`.")
    from planner.show.json.file_schemas import schema_text

    ours = replace(load_shipped_rules()[0], figures=RESTS_ON) if schema == "rules" else None
    animals: tuple[str, ...] = ()
    if schema == "shop":
        from planner.stock.catalogue import load_catalogue

        animals = tuple(a.id for a in load_catalogue(read_rules(house).livestock).animals)
    text = schema_text(schema, ours, animals)
    if output is None:
        click.echo(text, nl=False)
        return
    try:
        put_whole_file(output, text.encode("utf-8"))
    except OSError:
        raise click.UsageError(f"{output} cannot be written.") from None
    click.echo(f"Written: {output}")
