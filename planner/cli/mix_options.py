"""What the questions of `newtank mix` share: the tank at hand, if any, amounts as written, and how an answer is printed."""

from __future__ import annotations

import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeVar

import click

from planner.cli.common import console_width, print_json, print_problems, read_on, today_in
from planner.cli.screen import show
from planner.door.folder import cannot_read, journal_bytes, shown_path
from planner.files.journal import read_journal
from planner.files.read_file import is_there, read_plain_file
from planner.files.tank import Tank, read_tank
from planner.judge.facts import Facts, gather, zone_of
from planner.judge.mix_answers import Worked
from planner.rulebook.shapes import Rulebook
from planner.rulebook.shipped_cache import load_shipped_rules
from planner.science.formula import OutOfRange
from planner.terms.problems import Problem
from planner.terms.units import Refusal
from planner.terms.written_amounts import parse_amount, system_of

F = TypeVar("F", bound=Callable[..., Any])


@dataclass(frozen=True, slots=True)
class Sink:
    """What the bench knows: the tank, if there is one, how to print, and the problems told so far, with which the command ends."""

    tank: Tank | None
    folder: Path | None
    units: str
    on_text: str | None
    problems: list[Problem] = field(default_factory=list)

    def facts(self) -> Facts | None:
        if self.tank is None:
            return None
        path = (self.folder or Path()) / "journal.csv"
        journal, problems = read_journal(journal_bytes(path), shown_path(path), self.tank, zone_of(self.tank))
        print_problems(problems)
        self.problems.extend(problems)
        return gather(self.tank, journal, read_on(self.on_text) if self.on_text else today_in(self.tank))

    def volume_l(self, words: tuple[str, ...]) -> float:
        """Litres as written, else the tank's net volume."""
        if words:
            return amount(" ".join(words), "volume")
        facts = self.facts()
        if facts is None:
            raise click.UsageError("give the litres, such as `60L` (there is no tank.yaml here that could say).")
        return facts.net_volume_l

    def salinity(self, text: str | None) -> float:
        return amount(text, "salinity") if text else self.tank.water.salinity if self.tank else 35.0

    def temperature_c(self, text: str | None) -> float:
        return amount(text, "temperature") if text else self.tank.water.temperature_c if self.tank else 25.0

    def salt_per_litre_g(self, text: str | None) -> float:
        if text:
            return amount(text, "salt")
        return self.tank.water.salt_per_litre_g if self.tank else 38.0

    def nitrogen(self, text: str, name: str) -> float:
        """mg/L as N; plain mg/L only where the tank's kit says what it counts."""
        kit = self.tank.test_kits.get(name) if self.tank else None
        return amount(text, name, kit.basis if kit else None)


def amount(text: str, dimension: str, basis: str | None = None) -> float:
    """A number in the internal unit, or a usage error that says what was wanted."""
    found = parse_amount(text, dimension, basis=basis)
    if isinstance(found, Refusal):
        raise click.UsageError(f"{found.message}: {found.fix}.")
    return found.value


def _typed(rest: Mapping[str, Any]) -> list[str]:
    """What was typed after the question, each answer in one text."""
    return [v if isinstance(v, str) else " ".join(map(str, v)) for v in rest.values() if isinstance(v, str | tuple)]


def bench(function: F) -> F:
    """The options that every question takes; the function gets a Sink and returns what it worked out."""

    def run(tank_dir: Path | None, units: str | None, on_text: str | None, as_json: bool, **rest: Any) -> None:
        context = click.get_current_context()
        folder = tank_dir or context.find_object(Path) or (Path() if is_there(Path("tank.yaml")) else None)
        tank, problems = _tank(folder)
        sink = Sink(tank, folder, units or (tank.units if tank else system_of(_typed(rest)) or "metric"), on_text, [*problems])
        try:
            worked: Worked = function(sink, **rest)
        except OutOfRange as error:
            raise click.UsageError(f"{error}.") from None
        book = rulebook()
        if as_json:
            from planner.show.terminal.mix_page import bench_document

            print_json(bench_document(worked, book.cautions))
        else:
            from planner.show.terminal.mix_page import bench_lines

            show(bench_lines(worked, sink.units, console_width(), book.cautions, book.words))
        if sink.problems:
            sys.exit(1)

    run.__doc__, run.__name__ = function.__doc__, function.__name__
    run.__click_params__ = list(getattr(function, "__click_params__", []))  # type: ignore[attr-defined]
    for option in (
        click.option("--json", "as_json", is_flag=True, help="Print one JSON object instead of text."),
        click.option("--on", "on_text", metavar="DATE", help="Pretend that today is DATE (litres poured up to then count)."),
        click.option("--units", type=click.Choice(["metric", "us"]), help="Units of the answer (else the tank file's)."),
        click.option("--tank", "tank_dir", type=click.Path(path_type=Path), metavar="DIR", help="The tank folder, if any."),
    ):
        run = option(run)
    return run  # type: ignore[return-value]


def _tank(folder: Path | None) -> tuple[Tank | None, tuple[Problem, ...]]:
    """The tank of a folder and the problems of its file, which are printed at once."""
    if folder is None:
        return None, ()
    path = folder / "tank.yaml"
    if not is_there(path):
        raise click.UsageError(f"there is no tank.yaml in {folder}.")
    try:
        tank, problems = read_tank(read_plain_file(path), shown_path(path))
    except OSError as error:
        tank, problems = None, (cannot_read(path, error),)
    print_problems(problems)
    if tank is None:
        sys.exit(1)
    return tank, problems


def rulebook() -> Rulebook:
    return load_shipped_rules()[0]


def salinity_a_day(given: str | None) -> float:
    """The most that salinity may move in a day: as given, else as the rules say."""
    return amount(given, "salinity") if given else rulebook().number("salinity_step_day")


__all__ = ["F", "Sink", "amount", "bench", "rulebook", "salinity_a_day"]
