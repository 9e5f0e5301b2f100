"""Charts drawn into a file, as the commands share it."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

import click

from planner.cli.common import finish, must_have_folder, print_problems
from planner.terms.problems import Problem

picture_option = click.option("-o", "--output", type=click.Path(dir_okay=False, path_type=Path), metavar="FILE", help="Draw the charts into FILE.svg or FILE.png.")


def must_be_picture(output: Path | None) -> None:
    """Refuse a picture of another kind, or one whose folder is not there."""
    if output is not None and output.suffix.lower() not in (".svg", ".png"):
        raise click.UsageError(f"a chart is drawn as .svg or .png, and {output.name} is neither.")
    if output is not None:
        must_have_folder(output)


def picture_form(output: Path) -> Literal["svg", "png"]:
    return "svg" if output.suffix.lower() == ".svg" else "png"


def write_picture(output: Path, picture: bytes, problems: tuple[Problem, ...]) -> None:
    """The picture in its file, and what was wrong in the tank's."""
    try:
        output.write_bytes(picture)
    except OSError as error:
        raise click.ClickException(f"{output} cannot be written: {error.strerror or error}.") from None
    print_problems(problems)
    click.echo(f"Written: {output}.")
    finish(problems)


__all__ = ["must_be_picture", "picture_form", "picture_option", "write_picture"]
