"""`newtank mix`: the water bench, with a question a sub-command. It works anywhere; in a tank folder it takes the
tank's volume, salinity, salt and units where none are given."""

from __future__ import annotations

from pathlib import Path

import click

from planner.cli.mix_options import F, Sink, amount, bench, salinity_a_day
from planner.files.read_file import is_there
from planner.judge import mix_answers
from planner.judge.mix_answers import Worked
from planner.terms.problems import nearest
from planner.terms.written_amounts import MOLECULES, nitrogen_factor


class MixGroup(click.Group):
    """Lets a tank folder stand before the question, as with every other command."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        if args and is_there(Path(args[0]) / "tank.yaml"):
            ctx.obj = Path(args.pop(0))
        return super().parse_args(ctx, args)

    def resolve_command(self, ctx: click.Context, args: list[str]) -> tuple[str | None, click.Command | None, list[str]]:
        name = args[0] if args else ""
        if name and not name.startswith("-") and name not in self.commands:
            near = nearest(name, self.commands)
            raise click.UsageError(f"the bench has no question '{name}'." + (f" Did you mean '{near}'?" if near else f" It has: {', '.join(sorted(self.commands))}."), ctx)
        return super().resolve_command(ctx, args)


@click.group("mix", cls=MixGroup)
def mix_command() -> None:
    """The water bench: salt, salinity, doses, water changes, heat. Amounts carry their unit: 60L, "33 ppt", "1.026 SG 25/25"."""


volume_argument = click.argument("volume", nargs=-1, metavar="[VOLUME]")
purity_option = click.option("--purity", default="100 %", show_default=True, help="Purity of the salt.")


@mix_command.command("salt")
@volume_argument
@click.option("--to", "target", metavar="SALINITY", help="Salinity wanted (else the tank's, else 35 ppt).")
@click.option("--from", "now", metavar="SALINITY", help="Salinity of the water now (else fresh water).")
@click.option("--salt-per-litre", metavar="G/L", help="Grams of your mix per finished litre at 35 ppt.")
@bench
def salt(sink: Sink, volume: tuple[str, ...], target: str | None, now: str | None, salt_per_litre: str | None) -> Worked:
    """Salt for a volume.

    newtank mix salt 60L
    """
    return mix_answers.salt_for(sink.volume_l(volume), sink.salinity(target), salinity_now=amount(now, "salinity") if now else 0.0,
                              salt_per_litre_g=sink.salt_per_litre_g(salt_per_litre))


@mix_command.command("salinity")
@click.argument("value", nargs=-1, required=True, metavar="SALINITY")
@click.option("--temperature", metavar="T", help="Temperature for density and grams per litre (else 25 °C).")
@bench
def salinity(_sink: Sink, value: tuple[str, ...], temperature: str | None) -> Worked:
    """One salinity in every unit.

    newtank mix salinity "1.026 SG 25/25"
    """
    return mix_answers.salinity_everywhere(amount(" ".join(value), "salinity"), amount(temperature, "temperature") if temperature else 25.0)


@mix_command.command("hydrometer")
@click.argument("reading", type=float)
@click.option("--pair", type=click.Choice(list(mix_answers.SG_PAIRS_C)), default="25/25", show_default=True, help="Pair of temperatures printed on it.")
@click.option("--temperature", required=True, metavar="T", help="Temperature of the water it floats in.")
@bench
def hydrometer(_sink: Sink, reading: float, pair: str, temperature: str) -> Worked:
    """Salinity from a hydrometer read in colder or warmer water."""
    return mix_answers.salinity_by_hydrometer(reading, pair, amount(temperature, "temperature"))


@mix_command.command("raise")
@volume_argument
@click.option("--from", "now", required=True, metavar="SALINITY")
@click.option("--to", "target", metavar="SALINITY", help="Else the tank's, else 35 ppt.")
@click.option("--per-day", metavar="SALINITY", help="Most in a day (else the rules' limit).")
@click.option("--salt-per-litre", metavar="G/L", help="Grams of your mix per finished litre at 35 ppt.")
@bench
def raise_(sink: Sink, volume: tuple[str, ...], now: str, target: str | None, per_day: str | None, salt_per_litre: str | None) -> Worked:
    """Raise salinity day by day.

    newtank mix raise 165L --from "33 ppt"
    """
    return mix_answers.raise_salinity(sink.volume_l(volume), amount(now, "salinity"), sink.salinity(target), per_day=salinity_a_day(per_day),
                                    salt_per_litre_g=sink.salt_per_litre_g(salt_per_litre))


@mix_command.command("lower")
@volume_argument
@click.option("--from", "now", required=True, metavar="SALINITY")
@click.option("--to", "target", metavar="SALINITY", help="Else the tank's, else 35 ppt.")
@click.option("--per-day", metavar="SALINITY", help="Most in a day (else the rules' limit).")
@click.option("--new-water", default="0 ppt", show_default=True, metavar="SALINITY", help="Salinity of the water that goes in.")
@bench
def lower(sink: Sink, volume: tuple[str, ...], now: str, target: str | None, per_day: str | None, new_water: str) -> Worked:
    """Lower salinity day by day.

    newtank mix lower 165L --from "37 ppt"
    """
    return mix_answers.lower_salinity(sink.volume_l(volume), amount(now, "salinity"), sink.salinity(target), per_day=salinity_a_day(per_day),
                                    new_water=amount(new_water, "salinity"))


@mix_command.command("ammonia")
@volume_argument
@click.option("--rise", metavar="AMOUNT", help='Rise wanted, such as "2 mg/L as N" (else the tank\'s dose).')
@click.option("--solution", metavar="PERCENT", help="Plain ammonia solution of this strength by mass, instead of ammonium chloride.")
@purity_option
@bench
def ammonia(sink: Sink, volume: tuple[str, ...], rise: str | None, solution: str | None, purity: str) -> Worked:
    """Ammonia for the cycle.

    newtank mix ammonia 165L --rise "2 mg/L as N"
    """
    if rise is None and sink.tank is None:
        raise click.UsageError('give the rise, such as --rise "2 mg/L as N".')
    wanted = sink.nitrogen(rise, "ammonia") if rise else sink.tank.cycle.dose_mg_n_l if sink.tank else 0.0
    return mix_answers.ammonia_dose(sink.volume_l(volume), wanted, purity=amount(purity, "percent") / 100,
                                  solution_percent=amount(solution, "percent") if solution else None)


@mix_command.command("free-ammonia")
@click.argument("total", nargs=-1, required=True, metavar="AMMONIA")
@click.option("--ph", required=True, type=float)
@click.option("--temperature", metavar="T", help="Else the tank's, else 25 °C.")
@click.option("--salinity", metavar="SALINITY", help="Else the tank's, else 35 ppt.")
@bench
def free_ammonia(sink: Sink, total: tuple[str, ...], ph: float, temperature: str | None, salinity: str | None) -> Worked:
    """Free ammonia in a reading.

    newtank mix free-ammonia "0.5 mg/L as N" --ph 8.2 --temperature 26C
    """
    return mix_answers.free_ammonia_of(sink.nitrogen(" ".join(total), "ammonia"), ph, sink.temperature_c(temperature), sink.salinity(salinity))


@mix_command.command("nitrogen")
@click.argument("name", type=click.Choice(["ammonia", "nitrite", "nitrate"]))
@click.argument("value", nargs=-1, required=True, metavar="AMOUNT")
@bench
def nitrogen(sink: Sink, name: str, value: tuple[str, ...]) -> Worked:
    """A reading on every basis.

    newtank mix nitrogen nitrate "40 mg/L NO3"
    """
    return mix_answers.nitrogen_everywhere(name, sink.nitrogen(" ".join(value), name))


@mix_command.command("alkalinity")
@click.argument("value", nargs=-1, required=True, metavar="ALKALINITY")
@bench
def alkalinity(_sink: Sink, value: tuple[str, ...]) -> Worked:
    """An alkalinity in every unit.

    newtank mix alkalinity "8 dKH"
    """
    return mix_answers.alkalinity_everywhere(amount(" ".join(value), "alkalinity"))


def _rise(rise: str | None, now: str | None, target: str | None, dimension: str) -> float:
    """A rise as given, or from two readings."""
    if rise is not None:
        return amount(rise, dimension)
    if now is None or target is None:
        raise click.UsageError("give --rise, or both --from and --to.")
    return amount(target, dimension) - amount(now, dimension)


rise_options = (click.option("--rise", metavar="AMOUNT"), click.option("--from", "now", metavar="AMOUNT"), click.option("--to", "target", metavar="AMOUNT"))


def with_rise(function: F) -> F:
    for option in rise_options:
        function = option(function)
    return function


@mix_command.command("bicarbonate")
@volume_argument
@with_rise
@click.option("--carbonate", is_flag=True, help="Sodium carbonate instead of bicarbonate.")
@click.option("--per-day", metavar="ALKALINITY", help="Spread over days with at most this rise in each.")
@purity_option
@bench
def bicarbonate(sink: Sink, volume: tuple[str, ...], rise: str | None, now: str | None, target: str | None, carbonate: bool, per_day: str | None, purity: str) -> Worked:
    """Bicarbonate for alkalinity.

    newtank mix bicarbonate 165L --rise "1 dKH"
    """
    return mix_answers.alkalinity_dose(sink.volume_l(volume), _rise(rise, now, target, "alkalinity"), carbonate=carbonate, purity=amount(purity, "percent") / 100,
                                     per_day=amount(per_day, "alkalinity") if per_day else None)


@mix_command.command("calcium")
@volume_argument
@with_rise
@purity_option
@bench
def calcium(sink: Sink, volume: tuple[str, ...], rise: str | None, now: str | None, target: str | None, purity: str) -> Worked:
    """Calcium chloride for calcium.

    newtank mix calcium 165L --rise "20 mg/L"
    """
    return mix_answers.mineral_dose("calcium", sink.volume_l(volume), _rise(rise, now, target, "concentration"), purity=amount(purity, "percent") / 100)


@mix_command.command("magnesium")
@volume_argument
@with_rise
@purity_option
@bench
def magnesium(sink: Sink, volume: tuple[str, ...], rise: str | None, now: str | None, target: str | None, purity: str) -> Worked:
    """Magnesium chloride for magnesium.

    newtank mix magnesium 165L --rise "50 mg/L"
    """
    return mix_answers.mineral_dose("magnesium", sink.volume_l(volume), _rise(rise, now, target, "concentration"), purity=amount(purity, "percent") / 100)


@mix_command.command("change")
@volume_argument
@click.option("--from", "now", required=True, metavar="AMOUNT")
@click.option("--to", "target", required=True, metavar="AMOUNT")
@click.option("--of", "what", type=click.Choice(["nitrate", "ammonia", "nitrite", "phosphate", "salinity"]), default="nitrate", show_default=True)
@click.option("--new-water", metavar="AMOUNT", help="The same in the new water (else 0).")
@click.option("--bin", "bin_text", metavar="VOLUME", help="What one batch holds (else the tank file's bin).")
@bench
def change(sink: Sink, volume: tuple[str, ...], now: str, target: str, what: str, new_water: str | None, bin_text: str | None) -> Worked:
    """Water changes.

    newtank mix change 165L --from "40 mg/L NO3" --to "10 mg/L NO3" --bin 60L
    """
    unit, factor = {"phosphate": "mg/L", "salinity": "ppt"}.get(what, "mg/L as N"), 1.0
    if what in MOLECULES and (ion := _basis_written(now, what)) is not None:
        unit, factor = f"mg/L as {ion}", nitrogen_factor(what, ion)

    def read(text: str) -> float:
        return factor * (sink.nitrogen(text, what) if what in MOLECULES else amount(text, what))

    bin_l = amount(bin_text, "volume") if bin_text else sink.tank.equipment.bin_l if sink.tank else None
    return mix_answers.water_change(sink.volume_l(volume), read(now), read(target), unit, new_water=read(new_water) if new_water else 0.0, bin_l=bin_l)


def _basis_written(text: str, name: str) -> str | None:
    """The molecule that an amount names, so that the answer speaks of the same; None where it counts nitrogen."""
    return next((b for b in MOLECULES[name] if b.lower() in text.lower() and "-n" not in text.lower()), None)


@mix_command.command("oxygen")
@click.option("--temperature", metavar="T", help="Else the tank's, else 25 °C.")
@click.option("--salinity", metavar="SALINITY", help="Else the tank's, else 35 ppt.")
@bench
def oxygen(sink: Sink, temperature: str | None, salinity: str | None) -> Worked:
    """Oxygen that water in balance with the air holds.

    newtank mix oxygen --temperature 26C
    """
    return mix_answers.oxygen_at(sink.salinity(salinity), sink.temperature_c(temperature))


__all__ = ["mix_command"]
