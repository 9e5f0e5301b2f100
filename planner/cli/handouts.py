"""Plan, calendar and printed plan of every tank folder below one: a shop's work of the day in one command."""

from __future__ import annotations

import gc
import os
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

import click

from planner.cli.common import console_width, house_option, json_option, print_json, print_problems, read_on, read_shop_file
from planner.cli.handouts_folders import Found, find_tanks, prepare_output
from planner.cli.handouts_pool import run_all
from planner.cli.handouts_tank import Job, Settings, make_tank, program_mark
from planner.cli.screen import show
from planner.door.folder import read_rules, shown_path
from planner.plan.many_tanks import Made, exit_code
from planner.rulebook.read import shipped
from planner.show.terminal.tanks_table import batch_document, batch_lines
from planner.show.words.words import visible
from planner.terms.problems import sort_problems

if TYPE_CHECKING:
    from planner.show.paper.handout import Paper


Runner = Callable[[Sequence[Job]], Iterator[tuple[int, Made]]]


@click.command("handouts")
@click.argument("folder", type=click.Path(exists=True, file_okay=False, path_type=Path), metavar="FOLDER")
@click.option("--out", type=click.Path(file_okay=False, path_type=Path), required=True, metavar="DIR", help="Where the files go, a folder for each tank.")
@click.option("--on", "on_text", metavar="DATE", help="Pretend that today is DATE (YYYY-MM-DD).")
@click.option("--paper", type=click.Choice(["a4", "letter"], case_sensitive=False), help="The paper (else the shop's, else Letter for US units, A4 for others).")
@click.option("--shop", "shop_file", type=click.Path(exists=True, dir_okay=False, path_type=Path), metavar="SHOP.yaml", help="Letterhead, prices and house rules of a shop.")
@house_option
@click.option("--jobs", type=click.IntRange(1), metavar="N", help="Tanks at a time (else as many as there are processors, at most 4).")
@click.option("--changed", is_flag=True, help="Go on from the last edition in DIR: print only what changed, and say on page 1 what.")
@click.option("--scheduler", metavar="ADDRESS", help="Hand the tanks to a Dask cluster, such as tcp://host:8786 (needs newtank[cluster]).")
@json_option
def handouts_command(folder: Path, out: Path, on_text: str | None, paper: Paper | None, shop_file: Path | None, rules_dir: Path | None, jobs: int | None,
                     changed: bool, scheduler: str | None, as_json: bool) -> None:
    """Plan, calendar and printed plan for every tank folder below FOLDER.

    Each tank gets plan.json, calendar.ics and handout.pdf in a folder of its own below DIR, named like its own. A folder with
    mistakes never stops the others. Run it again at any time, also after an interrupt: only what changed is written.
    With --changed a plan that says the same as its last edition is left alone, and beside each new edition changed.pdf holds
    page 1 and the sheets to exchange.
    """
    gc.enable()  # other commands end before their garbage matters
    on = read_on(on_text) if on_text else None
    shop, wrong = read_shop_file(shop_file)
    rules_dir = rules_dir or (shop.rules if shop else None)
    wrong = sort_problems([*wrong, *read_rules(rules_dir).problems])
    if shop_file and shop is None:
        print_problems(wrong)
        sys.exit(1)
    earlier = prepare_output(folder, out)
    found = find_tanks(folder, out)
    if not found:
        raise click.UsageError(f"there is no tank.yaml in or below {folder}. Make a tank folder there with `newtank start {folder / 'my-tank'}`.")
    if scheduler is not None and jobs is not None:
        raise click.UsageError("--jobs counts processes of this machine, and --scheduler uses those of a cluster. Give one of them.")
    mark = partial(program_mark, [shipped("rules"), *([rules_dir] if rules_dir else [])], [f for f in (shop_file, shop.logo if shop else None) if f])
    settings = Settings(datetime.now(UTC), on, rules_dir, shop_file, paper, mark(), changed)
    made, finished = _make_all(folder, out, found, settings, _runner(scheduler, settings.program, mark, jobs or _processors()))
    current = {f.output for f, m in zip(found, made, strict=True) if m is not None and not m.refused}
    leftovers = [shown_path(out / path) for path in sorted(earlier - current)] if finished else []
    done = [m for m in made if m is not None]
    if as_json:
        print_json(batch_document(done, len(found), shown_path(out), leftovers, wrong))
    else:
        print_problems((*wrong, *(p for m in done for p in m.problems)))
        show(batch_lines(done, len(found), shown_path(out), leftovers, console_width()))
    for one in done:
        for warning in one.warnings:
            click.echo(visible(f"{one.folder}: {warning}"), err=True)
        if one.bug:
            click.echo(visible(one.bug), err=True)
    sys.exit(exit_code(done) or (0 if finished and not wrong else 1))


def _make_all(folder: Path, out: Path, found: Sequence[Found], settings: Settings, run: Runner) -> tuple[list[Made | None], bool]:
    """What became of each folder, None for those that an interrupt left undone; and whether all were reached."""
    made: list[Made | None] = [Made(f.shown, shown_path(out / f.output), problems=f.problems) if f.problems else None for f in found]
    places = [n for n, f in enumerate(found) if not f.problems]
    jobs = [Job(folder / found[n].path, out / found[n].output, found[n].shown, shown_path(out / found[n].output), settings) for n in places]
    try:
        with _progress(len(jobs)) as step:
            for n, result in run(jobs):
                made[places[n]] = result
                step()
    except KeyboardInterrupt:
        return made, False
    return made, True


def _runner(scheduler: str | None, program: str, mark: Callable[[], str], processes: int) -> Runner:
    """Who does the work: processes of this machine, or a cluster."""
    if scheduler is None:
        return lambda jobs: run_all(make_tank, jobs, min(processes, len(jobs)), _lost)
    from planner.cli.handouts_cluster import run_on_cluster

    return lambda jobs: run_on_cluster(make_tank, jobs, scheduler, program, mark, _lost)


def _lost(job: Job) -> Made:
    return Made(job.shown, job.shown_output, bug=f"newtank has a bug: the process that worked on {job.shown} ended without a word. Please send this line and the folder "
                "to whoever gave you newtank, or free some memory and run the command again.")


def _processors() -> int:
    """As many as there are, at most four: each process takes a third of a gigabyte."""
    return min(4, len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1)


class Step(Protocol):
    def __call__(self) -> None: ...


@contextmanager
def _progress(total: int) -> Iterator[Step]:
    """A bar on the terminal while there is one; it goes away when the work is done."""
    if not sys.stderr.isatty() or os.environ.get("TERM") == "dumb":
        yield lambda: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn
    from rich.theme import Theme

    # Weight alone, as on every page of ours.
    plain = Theme({"bar.back": "dim", "bar.complete": "bold", "bar.finished": "bold", "progress.download": "none", "progress.remaining": "dim"})
    columns = (TextColumn("handouts"), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    with Progress(*columns, console=Console(stderr=True, theme=plain), transient=True) as bar:
        task = bar.add_task("", total=total)
        yield lambda: bar.advance(task)


__all__ = ["handouts_command"]
