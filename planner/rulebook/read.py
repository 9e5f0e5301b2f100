"""Rule files into one Rulebook: read, validated and put in order. Whether the names in them lead anywhere is checked in
`check`."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from planner.rulebook.nodes import Written
from planner.rulebook.provenance import Caution, Number, Source
from planner.rulebook.shapes import AlertFile, AlertRule, NumbersFile, PhaseRule, Rulebook, TogetherFile, Treadmill
from planner.rulebook.what_jobs_do import Apart
from planner.rulebook.words import Word
from planner.terms.problems import Place, Problem, sort_problems

if TYPE_CHECKING:
    from planner.files.yaml_tree import Places


def shipped(folder: str) -> Path:
    """A folder that travels with the package: inside the wheel, or beside the package in a checkout."""
    inside = Path(__file__).parents[1] / folder
    return inside if inside.is_dir() else Path(__file__).parents[2] / folder


class _Words(Written):
    words: dict[str, Word]


class _Sources(Written):
    sources: dict[str, Source]


class _Cautions(Written):
    cautions: dict[str, Caution]


LISTS: dict[type[Written], str] = {_Sources: "sources", _Cautions: "cautions", _Words: "words"}


def kind_of_file(path: Path, root: Path) -> type[Written] | None:
    """Which shape a rule file has, from where it lies. None: not a rule file (cases, livestock)."""
    name, parent = path.name, path.relative_to(root).parts[0]
    if name.endswith(".cases.yaml") or parent == "livestock":
        return None
    if name == "sources.yaml":
        return _Sources
    if name == "cautions.yaml":
        return _Cautions
    if name == "words.yaml":
        return _Words
    if name == "together.yaml":
        return TogetherFile
    if parent == "alerts":
        return AlertFile
    return NumbersFile if name in ("common.yaml", "numbers.yaml") else PhaseRule


def is_of_animals(path: Path, root: Path) -> bool:
    """A file of the catalogue, of which a book takes the groups."""
    return path.relative_to(root).parts[0] == "livestock" and not path.name.endswith(".cases.yaml")


def groups_of(data: object) -> dict[str, str]:
    """The group of each animal of such a file; the catalogue's own reader tells what is wrong in it."""
    if not isinstance(data, dict) or not isinstance(data.get("group"), str) or not isinstance(data.get("animals"), list):
        return {}
    return {a["id"]: data["group"] for a in data["animals"] if isinstance(a, dict) and isinstance(a.get("id"), str)}


def load_rules(root: Path, texts: Mapping[Path, str] | None = None, figures: Mapping[str, tuple[str, ...]] | None = None) -> tuple[Rulebook, tuple[Problem, ...]]:
    """Every rule file below a folder as one Rulebook, with the problems found. A file that cannot be read is left out
    and reported. `figures`: what texts may name besides numbers, with the numbers on which each rests; a book that is
    checked must be told."""
    from planner.files.yaml_checked import salvage, validate  # not needed for rules that were kept
    from planner.files.yaml_tree import read_yaml

    phases: list[PhaseRule] = []
    alerts: list[AlertRule] = []
    apart: list[Apart] = []
    treadmill: Treadmill | None = None
    numbers: dict[str, Number] = {}
    sources: dict[str, Source] = {}
    cautions: dict[str, Caution] = {}
    words: dict[str, Word] = {}
    groups: dict[str, str] = {}
    places: dict[str, Place] = {}
    problems: list[Problem] = []
    for path in sorted(root.rglob("*.yaml")):
        kind = kind_of_file(path, root)
        if kind is None and not is_of_animals(path, root):
            continue
        name = f"rules/{path.relative_to(root).as_posix()}"
        text = texts[path] if texts is not None and path in texts else path.read_text(encoding="utf-8")
        data, spots, found = read_yaml(text, name)
        problems += found
        if data is None:
            continue
        if kind is None:
            groups |= groups_of(data)
            continue
        if (heading := LISTS.get(kind)) is not None:  # these files are the list itself, without a heading
            data = {heading: data}
            spots = spots.under(heading)
        made, found = validate(kind, data, spots, text.splitlines())
        problems += found
        if made is None:  # one wrong text does not take its whole phase along
            made, _ = salvage(kind, data, spots, text.splitlines())
        if made is None:
            continue

        def spot(*path: str | int, spots: Places = spots, name: str = name) -> Place:
            return spots.get(path) or Place(name)

        for number, value in getattr(made, "numbers", {}).items():
            if number in numbers:
                problems.append(Problem(spot("numbers", number), "number-twice", f"the number '{number}' is given twice, first at {places[f'number/{number}']}",
                                        "give one of them another name"))
            numbers[number] = value
            places[f"number/{number}"] = spot("numbers", number)
        match made:
            case PhaseRule():
                phases.append(made)
                places[made.phase] = spot("phase")
                places[f"after/{made.phase}"] = spot("after")
                places[f"gate/{made.phase}"] = spot("gate")
                places |= {f"{made.phase}/{t.id}": spot("tasks", n) for n, t in enumerate(made.tasks)}
            case AlertFile():
                alerts += made.alerts
                for k, alert in enumerate(made.alerts):
                    places[alert.alert] = spot("alerts", k)
                    places |= {f"{alert.alert}/{t.id}": spot("alerts", k, "tasks", n) for n, t in enumerate(alert.tasks)}
            case TogetherFile():
                apart += made.apart
                treadmill = made.treadmill
                places["together/treadmill"] = spot("treadmill")
                places |= {f"together/{line.id}": spot("apart", n) for n, line in enumerate(made.apart)}
            case _Sources():
                sources |= made.sources
                places |= {f"source/{key}": spot("sources", key) for key in made.sources}
            case _Words():
                words |= made.words
            case _Cautions():
                cautions |= made.cautions
                places |= {f"caution/{key}": spot("cautions", key) for key in made.cautions}
    phases.sort(key=lambda p: (p.order, p.phase))
    alerts.sort(key=lambda a: a.alert)
    tasks = {f"{p.phase}/{t.id}": t for p in phases for t in p.tasks} | {f"{a.alert}/{t.id}": t for a in alerts for t in a.tasks}
    return Rulebook(tuple(phases), tuple(alerts), numbers, sources, cautions, places, tasks, apart=tuple(apart), treadmill=treadmill, figures=figures, words=words, groups=groups), sort_problems(problems)
