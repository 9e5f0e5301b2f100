"""The questions of `newtank mix` that ask about the box itself: heat, evaporation, weight, flow, RO time.

They take the tank from its folder, or from options that describe one.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import click

from planner.cli.mix import mix_command
from planner.cli.mix_options import F, Sink, bench, rulebook
from planner.files.tank import read_tank
from planner.judge import mix_answers
from planner.judge.figures import quantity
from planner.judge.mix_answers import Worked

# option -> path in a tank file
FIELDS = {
    "length": "tank.length", "width": "tank.width", "height": "tank.height", "glass": "tank.glass", "waterline": "tank.waterline", "volume": "tank.volume",
    "sump": "tank.sump", "rock": "rock.mass", "sand": "sand.mass", "water_temperature": "water.temperature", "salinity": "water.salinity", "room": "room.temperature",
    "floor": "room.floor", "heaters": "equipment.heater", "ro_rate": "equipment.ro_rate",
}
QUESTIONS: dict[str, tuple[str, str, tuple[str, ...], tuple[str, ...]]] = {
    "heater": ("Heat that the tank needs, and two heaters for it", "Heat needed, and two heaters for it.\n\n    newtank mix heater --length 100cm --width 50cm --height 50cm --room 20C", ("heater_total", "heater_each", "monthly_power"), ("mains",)),
    "evaporation": ("Evaporation and the top-up container", "Water lost to the air in a day, and the largest safe top-up container.", ("evaporation_day", "top_up_reservoir"), ("wet_floor",)),
    "warm-up": ("Time to warm up", "Hours that the heaters need from the room's temperature.", ("warm_up",), ("mains",)),
    "ro": ("Time of the RO unit", "Days that the RO unit needs for the first fill.\n\n    newtank mix ro --volume 200L --ro-rate 190L/day", ("water_first_fill", "ro_days"), ("wet_floor", "waste_water")),
    "weight": ("Weight and load on the floor", "What the filled tank weighs and presses on its footprint.", ("net_volume", "gross_volume", "total_weight", "floor_load"), ("weight", "lifting")),
    "flow": ("Flow for this tank", "Flow of the pumps and the skimmer.", ("circulation", "skimming"), ("mains",)),
}


def _options(function: F) -> F:
    for name, path in reversed(FIELDS.items()):
        function = click.option(f"--{name.replace('_', '-')}", name, metavar="AMOUNT", help=f"As `{path}` in a tank file.")(function)
    return click.option("--lid", is_flag=True, help="The tank has a lid.")(function)


def _described(sink: Sink, given: dict[str, Any]) -> Sink:
    """The sink with a tank put together from the options; the sink's own where none is given."""
    blocks: dict[str, dict[str, str]] = {}
    for name, path in FIELDS.items():
        if given[name]:
            block, key = path.split(".")
            blocks.setdefault(block, {})[key] = given[name]
    if given["lid"]:
        blocks.setdefault("tank", {})["lid"] = "yes"
    if not blocks:
        if sink.tank is None:
            raise click.UsageError("describe the tank (--length, --width, --height, or --volume), or name its folder with --tank.")
        return sink
    if "tank" not in blocks:
        raise click.UsageError("describe the tank's size too: --length, --width and --height, or --volume.")
    text = "\n".join(f"{block}:\n" + "\n".join(f"  {key}: {value}" for key, value in keys.items()) for block, keys in blocks.items()) + "\n"
    tank, problems = read_tank(text, "options")
    if problems or tank is None:
        raise click.UsageError("; ".join(f"{p.message}: {p.fix}" for p in problems) + ".")
    return replace(sink, tank=tank, folder=None)


def _add(name: str, title: str, says: str, figures: tuple[str, ...], cautions: tuple[str, ...]) -> None:
    @_options
    @bench
    def command(sink: Sink, **given: Any) -> Worked:
        sink = _described(sink, given)
        facts = sink.facts()
        assert facts is not None
        rules = rulebook()
        made = tuple(q for figure in figures if (q := quantity(figure, facts, rules)) is not None)
        if not made:
            raise click.UsageError("that cannot be worked out from what is described: give length, width and height" + (" and --ro-rate." if name == "ro" else "."))
        return mix_answers.from_quantities(title, made, cautions)

    command.__doc__ = says
    mix_command.command(name)(command)


for _name, (_title, _says, _figures, _cautions) in QUESTIONS.items():
    _add(_name, _title, _says, _figures, _cautions)
