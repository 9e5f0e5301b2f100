"""What became of many tank folders: the table, the counts, and the machine form."""

from __future__ import annotations

from collections.abc import Sequence

from planner.plan.many_tanks import CHANGED, End, Made
from planner.show.json.record_objects import Json, iso, problem_document
from planner.show.words.tank_keys import cells_of
from planner.show.words.words import Line, Page, Role, Span, day_words, wrap
from planner.terms.problems import Problem

DAY, ENDS = 20, 24
"""Columns for the first animal and for the files; the tank has the rest."""
MOST_NAMED = 8


def batch_lines(made: Sequence[Made], total: int, out: str, leftovers: Sequence[str], width: int) -> tuple[Line, ...]:
    """A row a folder: the tank, its first animal, what became of its files, and reasons below it; then the counts. `total` is
    more than there are rows if the run was interrupted; `leftovers` are folders of files that belong to no tank of this run."""
    page = Page(width)
    room = width - DAY - ENDS
    page.lines.append((Span(f"{'tank':{room}}{'first animal':{DAY}}files", "soft"),))
    for one in made:
        _row(page, one, room)
    page.gap()
    page.say(_counts(made, total, out))
    if leftovers:
        more = f" and {len(leftovers) - 5} more" if len(leftovers) > 5 else ""
        page.say(f"Files of earlier runs that were not made again, and may be out of date: {', '.join(leftovers[:5])}{more}.", "strong")
    return tuple(page.lines)


def _row(page: Page, one: Made, room: int) -> None:
    title = f"{one.folder} ({one.name})" if one.name else one.folder
    titles = wrap(title, room - 2 if cells_of(title) == len(title) else (room - 2) // 2, "", "  ")  # signs of other scripts may take two columns
    role: Role = "strong" if one.bug or one.problems else ""
    page.lines.append((Span(titles[0] + " " * (room - cells_of(titles[0])), "strong"), Span(f"{_day(one):{DAY}}"), Span(_ends(one), role)))
    page.lines += [(Span(line, "strong"),) for line in titles[1:]]
    for problem in one.problems:
        page.say(f"{problem.place}: {problem.message}", "soft", 4)
    for warning in one.warnings:
        page.say(warning, "soft", 4)
    if one.changes:
        page.say(f"{CHANGED}: {'; '.join(one.changes)}.", "soft", 4)


def _day(one: Made) -> str:
    if one.first_animal is None:
        return "-" if one.refused else "no date yet"
    return f"{'in since ' if one.animals_in else ''}{day_words(one.first_animal).partition(' ')[2]}"


def _ends(one: Made) -> str:
    if one.bug:
        return "bug of newtank"
    if one.refused:
        return "refused"
    told = [f"{n} {end.value}" for end in End if (n := one.count(end))]
    return "unchanged" if one.count(End.UNCHANGED) == len(one.files) else ", ".join(told)


def _counts(made: Sequence[Made], total: int, out: str) -> str:
    """How many are ready and which have to be mended; then what was written; then, where the run was cut short, what is on disk."""
    unready = [m for m in made if m.refused or m.problems or m.bug]
    on_disk = sum(not m.refused for m in made)
    files = {end: sum(m.count(end) for m in made) for end in End}
    told = [f"{files[End.WRITTEN]} files written", f"{files[End.UNCHANGED]} unchanged"] + ([f"{files[End.REFUSED]} refused"] if files[End.REFUSED] else [])
    first = f"{len(made) - len(unready)} ready" + (f", {len(unready)} to fix: {_few([m.folder for m in unready])}" if unready else "")
    rest = f" Interrupted: the files of {on_disk} tank{'s' if on_disk != 1 else ''} are whole on disk, {total - len(made)} to go. The same command goes on from here." if total > len(made) else ""
    return f"{first}. {', '.join(told)}, in {out}.{rest}"


def _few(names: Sequence[str]) -> str:
    return ", ".join(names[:MOST_NAMED]) + (f" and {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else "")


def batch_document(made: Sequence[Made], total: int, out: str, leftovers: Sequence[str], problems: Sequence[Problem] = ()) -> Json:
    """The machine form: a record for each folder, in order of path. `problems` are those of the shop's file and rules."""
    return {
        "out": out, "folders": total, "finished": len(made) == total, "problems": [problem_document(p) for p in problems],
        "tanks": [{
            "folder": m.folder, "out": m.out, "name": m.name, "id": m.tank_id, "first_animal": iso(m.first_animal), "animals_in": m.animals_in,
            "files": {name: end.value for name, end in m.files}, "problems": [problem_document(p) for p in m.problems], "warnings": list(m.warnings), "changes": list(m.changes), "bug": m.bug,
        } for m in made],
        "leftovers": list(leftovers),
    }


__all__ = ["batch_document", "batch_lines"]
