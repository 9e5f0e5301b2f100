"""The command that shows the nitrogen cycle so far and ahead."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import click

from planner.cli.common import (
    chart_rows,
    console_width,
    folder_alone,
    json_option,
    load_tank,
    print_answer,
    tank_options,
)
from planner.cli.picture import must_be_picture, picture_form, picture_option, write_picture
from planner.cli.screen import is_ascii
from planner.show.words.words import Line


@click.command("forecast")
@click.argument("args", nargs=-1, metavar="[DIR]")
@tank_options
@picture_option
@json_option
def forecast_command(args: tuple[str, ...], tank_dir: Path | None, on_text: str | None, rules_dir: Path | None, output: Path | None, as_json: bool) -> None:
    """The nitrogen cycle so far and ahead, with a band, and what it means; in the units of your own kits."""
    folder = folder_alone(args, tank_dir)
    must_be_picture(output)
    loaded = load_tank(folder, on_text, rules_dir)
    plan = loaded.plan()
    readings = {name: tuple(r for r in loaded.journal.of("reading", name, loaded.on) if r.where == "display") for name in ("ammonia", "nitrite")}
    if output is not None:
        from planner.show.paper.chart_picture import charts_drawn
        from planner.show.terminal.chart import scale_of

        if not plan.forecast.curve:
            raise click.UsageError("there is no curve to draw yet: the cycle is neither begun nor dated.")
        write_picture(output, charts_drawn(plan, readings, {name: scale_of(name, loaded.tank, loaded.rules) for name in readings}, picture_form(output)), loaded.problems)
        return

    def document() -> dict[str, Any]:
        from planner.show.json.record_objects import forecast_document

        return {"on": plan.on.isoformat(), **forecast_document(plan.forecast), "sentences": list(plan.forecast.sentences)}

    def lines() -> Sequence[Line]:
        from planner.show.terminal.chart import forecast_page, scale_of

        scales = {name: scale_of(name, loaded.tank, loaded.rules) for name in readings}
        return forecast_page(plan, readings, console_width(), scales, chart_rows(), not is_ascii()).lines

    print_answer(as_json, loaded.problems, document, lines)
