"""The command that tells what the tank uses in a day."""

from __future__ import annotations

from pathlib import Path

import click

from planner.cli.common import console_width, folder_alone, json_option, load_tank, print_answer, tank_options, typed_folder


@click.command("use")
@click.argument("args", nargs=-1, metavar="[DIR]")
@tank_options
@json_option
def use_command(args: tuple[str, ...], tank_dir: Path | None, on_text: str | None, rules_dir: Path | None, as_json: bool) -> None:
    """What the tank uses a day, how well that is known, and the dose that follows from it."""
    folder = folder_alone(args, tank_dir)
    loaded = load_tank(folder, on_text, rules_dir)
    from planner.judge.calcium_use import builds_skeletons, calcium_from, taken_by_nitrate
    from planner.judge.dose_plan import plan_dose
    from planner.judge.water_use import alkalinity_use, nutrient_use, top_up
    from planner.show.terminal.uselist import Uses, use_document, use_lines
    from planner.terms.records import CLOSED

    plan, rules, facts = loaded.plan(), loaded.rules, loaded.facts()
    alkalinity = alkalinity_use(facts, rules)
    uses = Uses(alkalinity, calcium_from(alkalinity, facts, rules), nutrient_use("nitrate", facts, rules), nutrient_use("phosphate", facts, rules), top_up(facts, rules),
                plan_dose(alkalinity, facts, rules, {t.phase for t in plan.tasks if t.state not in CLOSED}), builds_skeletons(facts, rules), taken_by_nitrate(facts, rules))
    print_answer(as_json, loaded.problems, lambda: use_document(uses, plan), lambda: use_lines(uses, plan, console_width(), typed_folder(loaded.path)))


__all__ = ["use_command"]
