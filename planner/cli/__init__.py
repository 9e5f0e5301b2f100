"""The command `newtank`. Commands load their own rooms when they run, so that `today` never pays for a calendar."""

from __future__ import annotations

import atexit
import gc
import importlib
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO, Any

import click

from planner import __version__
from planner.terms.problems import nearest

COMMANDS = {
    "start": "setup", "plan": "day", "today": "day", "round": "round", "why": "day", "readings": "day", "forecast": "cycle", "use": "water_use", "supplies": "supplies", "away": "away", "log": "write", "done": "write",
    "skip": "write", "postpone": "write", "note": "write", "undo": "write", "mix": "mix_tank", "rules": "rules", "calendar": "share", "stock": "stock", "compare": "compare", "handout": "handout", "handouts": "handouts", "serve": "serve", "words": "words",
}


HELP = {
    "Every day": {"today": "what to do today, with its cautions", "round": "the evening beside the tank, step by step", "log": "write test results down: ammonia=0.25", "done": "tick jobs: done 1 3",
                  "skip": "say that a job will not be done", "postpone": "put a job off: postpone 2 --to sat", "note": "what else happened: a leak, a dose, a new fish", "undo": "take the last entry back"},
    "The plan": {"plan": "the phases with their dates, and what to buy when", "why": "the reasons, numbers and sources behind a job", "readings": "your test results, and which way they go",
                 "forecast": "how the filter grows, as a chart", "calendar": "the plan for your phone's calendar", "handout": "the plan on paper", "compare": "two ways to set up the same tank"},
    "The tank": {"start": "describe a new tank", "stock": "your animals: who fits, who comes when", "supplies": "what is left of salt, tests and food", "use": "what the tank uses up a day",
                 "away": "what to do before a holiday", "mix": "the sums of mixing, dosing and heating"},
    "Look up": {"words": "what a term means", "rules": "every rule with its numbers and sources"},
    "At the shop": {"serve": "a page for phones on the home network", "handouts": "plans of all tanks in a folder"},
}
"""Each command in a line, for the list of them."""
MEANT = {
    "help": "`newtank --help` lists the commands", "shopping": "`newtank plan` says what to buy when", "shop": "`newtank plan` says what to buy when", "buy": "`newtank plan` says what to buy when",
    "test": "`newtank log` writes a test down", "fish": "`newtank stock` judges the animals you wish for", "animals": "`newtank stock` judges the animals you wish for", "print": "`newtank handout` makes the printed plan",
}
"""Words that a newcomer tries, and where what they want is."""


class ErrorFirst(click.UsageError):
    """A mistake in a command line: what is wrong, then how the command is used."""

    def show(self, file: IO[str] | None = None) -> None:
        file = file or sys.stderr
        click.echo(f"Error: {self.format_message()}", file=file)
        if self.ctx is not None:
            click.echo(f"{self.ctx.get_usage()}\n`{self.ctx.command_path} --help` says more.", file=file)


@contextmanager
def error_first() -> Iterator[None]:
    try:
        yield
    except ErrorFirst:
        raise
    except click.MissingParameter as error:
        word = getattr(error.param, "metavar", None) or ""
        option = next((o for o in getattr(error.param, "opts", ()) if o.startswith("--")), "")
        about = getattr(error.param, "help", None) or ""
        told = f"{option} {word} is missing. {about}".strip() if option else error.format_message()
        raise ErrorFirst(told, error.ctx) from None
    except click.UsageError as error:
        raise ErrorFirst(error.format_message(), error.ctx) from None


class Lazy(click.Group):
    """Finds a command's module by name, and says which command was probably meant."""

    def make_context(self, *args: Any, **extra: Any) -> click.Context:
        with error_first():
            return super().make_context(*args, **extra)

    def invoke(self, ctx: click.Context) -> Any:
        with error_first():
            return super().invoke(ctx)

    def format_commands(self, _ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """The commands by what they are for, each in one whole line."""
        for title, lines in HELP.items():
            with formatter.section(title):
                formatter.write_dl([*lines.items()], col_max=12)

    def list_commands(self, _ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, _ctx: click.Context, name: str) -> click.Command | None:
        if name not in COMMANDS:
            return None
        module = importlib.import_module(f"planner.cli.{COMMANDS[name]}")
        command: click.Command = getattr(module, f"{name}_command")
        return command

    def resolve_command(self, ctx: click.Context, args: list[str]) -> tuple[str | None, click.Command | None, list[str]]:
        name = args[0] if args else ""
        if name and not name.startswith("-") and name not in COMMANDS:
            near = nearest(name, COMMANDS)
            raise click.UsageError(f"there is no command '{name}'." + (f" {MEANT[name.lower()]}." if name.lower() in MEANT else f" Did you mean '{near}'?" if near else " `newtank --help` lists them."), ctx)
        return super().resolve_command(ctx, args)


@click.group(cls=Lazy, invoke_without_command=True, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="newtank")
@click.option("--on", "on_text", metavar="DATE", help="Without a command: pretend that today is DATE (YYYY-MM-DD).")
@click.option("--json", "as_json", is_flag=True, help="Without a command: print one JSON object instead of text.")
@click.pass_context
def newtank(ctx: click.Context, on_text: str | None, as_json: bool) -> None:
    """From an empty glass box to a stocked, stable reef: a dated plan that your test results move.

    Begin with `newtank start my-tank`, then `newtank plan my-tank`. In a tank's folder `newtank` alone shows what to do today.
    """
    if ctx.invoked_subcommand is not None:
        if given := [option for option, value in (("--on DATE", on_text), ("--json", as_json)) if value]:
            raise click.UsageError(f"{given[0]} goes after the command: `newtank {ctx.invoked_subcommand} {given[0]}`.")
        return
    if not Path("tank.yaml").is_file() and not on_text and not as_json:
        click.echo(ctx.get_help())
        return
    from planner.cli.common import load_tank, take_folder
    from planner.cli.day import show_today

    show_today(load_tank(take_folder((), None)[0], on_text), as_json=as_json)


def main() -> None:
    """Run, and turn any bug of ours into a report that can be pasted."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(encoding="utf-8", errors="replace")
    # A command lives for less than a second. Looking for garbage costs a tenth of that on the way and a fifth at its end.
    gc.disable()
    atexit.register(gc.freeze)
    try:
        newtank(prog_name="newtank")
    except BrokenPipeError:
        sys.exit(0)
    except (SystemExit, KeyboardInterrupt):
        raise
    except BaseException:
        # The one place where a bug of ours is met: a report instead of a bare traceback. A panic of the page setter, which
        # is written in another language, is no Exception.
        from planner.cli.bug import bug_report

        click.echo(bug_report(" ".join(sys.argv[1:])), err=True)
        sys.exit(3)
