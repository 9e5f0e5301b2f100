"""Which folders a batch works on: every tank folder below one, told apart from its output, links and look-alikes."""

from __future__ import annotations

import os
import tempfile
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

import click

from planner.cli.handouts_tank import NOTED
from planner.door.folder import cannot_write, shown_path
from planner.files.read_file import read_plain_file
from planner.files.tank import read_tank
from planner.files.whole_file import sweep
from planner.plan.many_tanks import FILES, output_paths, twins
from planner.terms.problems import Place, Problem


@dataclass(frozen=True, slots=True)
class Found:
    """A folder as found, relative to the one that was named; the place of its files below the output; and why it cannot be
    taken, if so."""

    path: PurePosixPath
    output: PurePosixPath
    problems: tuple[Problem, ...] = ()

    @property
    def shown(self) -> str:
        return "." if not self.path.parts else str(self.path)


def find_tanks(folder: Path, out: Path) -> tuple[Found, ...]:
    """Every folder with a tank file, `folder` itself included, in order of path; links are not followed and the output is
    not entered. Folders that cannot be taken come with the reason."""
    paths: list[PurePosixPath] = []
    wrong: dict[PurePosixPath, tuple[Problem, ...]] = {}

    def refuse(path: Path, code: str, message: str, fix: str) -> None:
        place = PurePosixPath(path.relative_to(folder).as_posix())
        paths.append(place)
        wrong[place] = (Problem(Place(shown_path(path)), code, message, fix),)

    def unreadable(error: OSError) -> None:
        path = Path(str(error.filename))
        place = PurePosixPath(path.relative_to(folder).as_posix())
        paths.append(place)
        wrong[place] = (cannot_write(path, error),)

    for name, inner, files in os.walk(folder, onerror=unreadable):
        here = Path(name)
        for link in [d for d in inner if (here / d).is_symlink() and (here / d / "tank.yaml").exists() and not (here / d).resolve().is_relative_to(folder.resolve())]:
            refuse(here / link, "folder-is-link", "this tank folder is a link to another place, which is not followed", "Move the folder itself here, or name its own place.")
        inner[:] = sorted(d for d in inner if not _same(here / d, out))
        if "tank.yaml" in files or "tank.yaml" in inner:
            if (here / "tank.yaml").is_file():
                paths.append(PurePosixPath(here.relative_to(folder).as_posix()))
            else:
                refuse(here, "not-a-file", "the tank.yaml here is no plain file", "Put the tank file itself here.")
        elif near := _look_alike(files):
            refuse(here, "misnamed", f"here lies '{near}', but a tank file is called tank.yaml", f"Rename it to tank.yaml, or move '{near}' away.")
    wrong |= _twins(folder, [p for p in paths if p not in wrong])
    outputs = output_paths(paths)
    return tuple(sorted((Found(p, o, wrong.get(p, ())) for p, o in zip(paths, outputs, strict=True)), key=lambda f: f.path.parts))


def _look_alike(files: list[str]) -> str | None:
    """A file that was probably meant as the tank file."""
    return next((f for f in sorted(files) if f.lower() in ("tank.yml", "tank.yaml", "tank.yaml.txt", "tank.txt")), None)


def _twins(folder: Path, paths: list[PurePosixPath]) -> dict[PurePosixPath, tuple[Problem, ...]]:
    """Folders with one id would share the entries of one calendar: all of them are refused, each naming the others."""
    ids: list[tuple[str, str | None]] = []
    for path in paths:
        try:
            tank = read_tank(read_plain_file(folder / path / "tank.yaml"), "tank.yaml")[0]
        except OSError:  # said when its turn comes
            tank = None
        ids.append((str(path), tank.id if tank else None))
    return {
        PurePosixPath(one): (Problem(
            Place(shown_path(folder / one / "tank.yaml")), "id-twice", f"the same id stands in {_listed(folder, others)}, and phones would mix up the calendars",
            "Keep the id in the folder that was exported first, and give every other tank one of its own: `newtank calendar` prints one where the line is missing."),)
        for one, others in twins(ids).items()
    }


def _listed(folder: Path, others: tuple[str, ...]) -> str:
    shown = [shown_path(folder / other / "tank.yaml") for other in others]
    return ", ".join(shown[:3]) + (f" and {len(shown) - 3} more" if len(shown) > 3 else "")


def _same(one: Path, other: Path) -> bool:
    try:
        return one.samefile(other)
    except OSError:
        return False


def prepare_output(folder: Path, out: Path) -> frozenset[PurePosixPath]:
    """Make the output folder, sweep away what a run that was cut off left in it, and say which folders in it hold files of
    earlier runs. A usage error if it cannot be an output."""
    source, target = folder.resolve(), out.resolve()
    if source == target or target in source.parents:
        raise click.UsageError(f"--out {out} holds the tank folders themselves. Name another folder, such as `--out {Path(out, 'handouts')}`.")
    try:
        out.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=out):
            pass
    except OSError as error:
        raise click.UsageError(f"nothing can be written into {out}: {error.strerror or error}. Name another folder with --out.") from None
    made = set()
    for name, _, files in os.walk(out):
        here = Path(name)
        if "tank.yaml" in files:
            raise click.UsageError(f"there is a tank in --out {out} ({here.relative_to(out) / 'tank.yaml'}). Keep tanks and their handouts in different folders.")
        if NOTED in files:
            made.add(PurePosixPath(here.relative_to(out).as_posix()))
        if any(f.endswith(".tmp") for f in files):
            for own in (*FILES, NOTED):
                sweep(here / own)
    return frozenset(made)


__all__ = ["Found", "find_tanks", "prepare_output"]
