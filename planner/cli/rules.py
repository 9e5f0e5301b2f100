"""`newtank rules`: every rule, number, source and grade; and the check of rule files."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from planner.cli.common import console_width, json_option, print_json, print_problems
from planner.cli.screen import show
from planner.problems import nearest
from planner.rulecheck import check_rules
from planner.rulefiles import load_rules, shipped


@click.command("rules")
@click.option("--check", is_flag=True, help="Check the rule files, and report every problem with its line.")
@click.option("--phase", metavar="ID", help="One phase or alert alone.")
@click.option("--rules", "rules_dir", type=click.Path(exists=True, file_okay=False, path_type=Path), metavar="DIR", help="A rules folder instead of the shipped one.")
@json_option
def rules_command(check: bool, phase: str | None, rules_dir: Path | None, as_json: bool) -> None:
    """Lists rules, numbers, sources and grades. What only common practice backs is printed as "aim for"."""
    book, problems = load_rules(rules_dir or shipped("rules"))
    problems = (*problems, *check_rules(book)) if check else problems
    known = [*(p.phase for p in book.phases), *(a.alert for a in book.alerts)]
    if phase is not None and phase not in known:
        near = nearest(phase, known)
        raise click.UsageError(f"there is no phase or alert '{phase}'." + (f" Did you mean '{near}'?" if near else f" There are: {', '.join(known)}."))
    from planner.show.rulelist import check_lines, rules_document, rules_lines

    if as_json:
        print_json(rules_document(book, problems, phase))
    elif check:
        print_problems(problems)
        show(check_lines(book, problems, console_width()))
    else:
        print_problems(problems)
        show(rules_lines(book, console_width(), phase))
    sys.exit(1 if problems else 0)
