"""What a shell may complete: jobs, tasks, phases, readings, animals. It reads the tank folder as the command would, and says nothing."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import click
from click.shell_completion import CompletionItem

from planner.cli.common import tank_folder
from planner.cli.kept_place import kept_here
from planner.door.entry_words import NOTE_KINDS, known_events
from planner.door.folder import Loaded, read_animals, read_folder, read_rules
from planner.rulebook.read import shipped
from planner.terms.journal_words import DOSES
from planner.terms.readings import READINGS
from planner.terms.records import CLOSED


def jobs(ctx: click.Context, _param: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """Numbers of today's list and ids of open tasks, each with its title."""
    loaded = _tank(ctx)
    if loaded is None:
        return _folders(ctx, incomplete)
    plan = loaded.plan()
    numbered = [(str(j.number), j.task.title) for j in loaded.day(plan, news=False).jobs if j.standing == "open"]
    named = {t.key: t.title for t in plan.tasks if t.state not in CLOSED}
    return _fitting([*numbered, *named.items()], incomplete)


def jobs_and_gates(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem]:
    loaded = _tank(ctx)
    return jobs(ctx, param, incomplete) + (_fitting(((p.phase, p.title) for p in loaded.rules.phases), incomplete) if loaded is not None else [])


def phases(ctx: click.Context, _param: click.Parameter, incomplete: str) -> list[CompletionItem]:
    loaded = _tank(ctx)
    return _fitting(((p.phase, p.title) for p in loaded.rules.phases), incomplete) if loaded is not None else _folders(ctx, incomplete)


def results(ctx: click.Context, _param: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """`ammonia=`, and so on."""
    return _fitting(((f"{name}=", kind.title) for name, kind in READINGS.items()), incomplete) or _folders(ctx, incomplete)


def reading_names(ctx: click.Context, _param: click.Parameter, incomplete: str) -> list[CompletionItem]:
    return _fitting(((name, kind.title) for name, kind in READINGS.items()), incomplete) or _folders(ctx, incomplete)


def facts(ctx: click.Context, _param: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """The kind of a fact first; then animals, substances, events or tasks, as the kind asks for."""
    said = [a for a in ctx.params.get("args") or () if tank_folder(Path(a)) is None]
    loaded = _tank(ctx)
    if not said:
        events = known_events(loaded.rules) if loaded is not None else ()
        return _fitting(((k, "") for k in (*NOTE_KINDS, "failed", *events)), incomplete) or _folders(ctx, incomplete)
    match said[0]:
        case "added" | "moved" | "lost" if len(said) == 1:
            catalogue = read_animals((shipped("rules") / "livestock",))
            return _fitting(((a.id, a.name) for a in sorted(catalogue.animals, key=lambda a: a.id)), incomplete)
        case "dosed" if len(said) == 1:
            return _fitting(((d, "") for d in sorted(DOSES)), incomplete)
        case "event" if len(said) == 1 and loaded is not None:
            return _fitting(((e, "") for e in known_events(loaded.rules)), incomplete)
        case "failed" if loaded is not None:
            return _fitting(((key, "") for key in loaded.rules.tasks), incomplete)
    return []



def terms(_ctx: click.Context, _param: click.Parameter, incomplete: str) -> list[CompletionItem]:
    return _fitting(((w.term, w.says) for w in read_rules().book.words.values()), incomplete)


def _tank(ctx: click.Context) -> Loaded | None:
    """The tank that the words so far speak of; None where there is none to read."""
    args = ctx.params.get("args") or ()
    named = ctx.params.get("tank_dir") or (tank_folder(Path(args[0])) if args else None)
    folder = named if named is not None else Path()
    read = read_folder(folder, kept=kept_here()) if (folder / "tank.yaml").is_file() else None
    return read if isinstance(read, Loaded) else None


def _folders(ctx: click.Context, incomplete: str) -> list[CompletionItem]:
    """Before a tank is named: the shell's own folders."""
    return [CompletionItem(incomplete, type="dir")] if not ctx.params.get("args") else []


def _fitting(found: Iterable[tuple[str, str]], incomplete: str) -> list[CompletionItem]:
    return [CompletionItem(value, help=told) for value, told in dict(found).items() if value.startswith(incomplete)]


__all__ = ["facts", "jobs", "jobs_and_gates", "phases", "reading_names", "results", "terms"]
