"""The livestock catalogue: `rules/livestock/*.yaml` becomes typed animals; lookup by any name a buyer may write.

A file has one group, its kinds (what animals of a kind share) and its animals (where each differs). A later folder
overlays an earlier one by id: it may add animals and change them, but not make them look safer, less protected or
easier than we do. Everything is read as text, so no value changes its type behind the author's back.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path

from planner.files.yaml_tree import line_of
from planner.rulebook.provenance import Number
from planner.rulebook.shapes import HouseRule
from planner.stock.animals import GROUPS, KEYS, NEEDED, NUMBERS, WORDS, Animal
from planner.stock.entries import Entry, read_entry, without_collection
from planner.stock.find_animal import Found, Names, bare_name
from planner.stock.house_animals import asks_less, first_changed, house_animal, house_numbers, tighter_entry, tighter_number, tighter_steps
from planner.stock.room_and_load import (
    NEEDED_FIGURES,
    Figure,
    RoomStep,
    StockFigures,
    mass_from_length_g,
    nitrogen_from_load_mg_per_day,
    nitrogen_from_mass_mg_per_day,
    room_from_size,
)
from planner.terms.amounts import listed
from planner.terms.problems import Place, Problem, nearest, sort_problems


@dataclass(frozen=True)
class Catalogue:
    """All animals in the order of the files, the figures, what was wrong in the files, and what house rules did."""

    animals: tuple[Animal, ...]
    figures: StockFigures
    problems: tuple[Problem, ...]
    house: tuple[HouseRule, ...] = ()

    @cached_property
    def _names(self) -> Names:
        return Names(self.animals)

    def get(self, animal_id: str) -> Animal | None:
        """The animal with this id, or None."""
        return self._names.by_id.get(animal_id)

    def find(self, text: str) -> Found:
        """The animal meant by an id, a common or scientific name, an older name, or a near misspelling of one."""
        return self._names.find(text)

    def among(self, text: str, ids: Sequence[str]) -> list[str]:
        """Which of these animals a name or a part of one means."""
        return self._names.among(text, ids)

    def choice(self, could: Sequence[str], most: int = 4, *, ids: bool = True) -> str:
        """What may be meant, common names first: `ocellaris clownfish (amphiprion-ocellaris) or tomato clownfish (...)`."""
        told = [(f"{a.name} ({a.id})" if ids else a.name) if (a := self.get(i)) is not None else i for i in could[:most]] + ([f"one of {len(could) - most} more"] if len(could) > most else [])
        return listed(told, "or")


def load_catalogue(folders: Sequence[Path]) -> Catalogue:
    """Reads the folders in order, later ones overlaying earlier ones by id. Mistakes are collected in `problems`;
    an animal that cannot be read is left out and reported."""
    with without_collection():
        return _load(folders)


def _load(folders: Sequence[Path]) -> Catalogue:
    entries: dict[str, tuple[str, Entry]] = {}
    shipped: dict[str, Entry] = {}
    added: set[str] = set()
    kinds: dict[tuple[str, str], Entry] = {}
    numbers: dict[str, Entry] = {}
    steps: tuple[RoomStep, ...] = ()
    problems: list[Problem] = []
    our_numbers: dict[str, Entry] = {}
    for depth, folder in enumerate(folders):
        if depth == 1:
            our_numbers = dict(numbers)
        here: dict[str, Place] = {}
        for path in sorted(folder.glob("*.yaml")):
            file = path.as_posix() if depth else f"rules/livestock/{path.name}"
            tree: Entry | None = None if path.name == "sources.yaml" else read_entry(path, problems, file)
            if tree is None:
                continue
            if path.name == "numbers.yaml":
                steps = tighter_steps(steps, _steps(tree, problems), tree.place, problems)
                for name, number in tree.block("numbers", problems):
                    numbers[name] = tighter_number(name, numbers.get(name), number, problems)
                continue
            group = tree.text("group")
            if group not in GROUPS:
                problems.append(_problem(tree.place, "bad_group", f"unknown group '{group}'", nearest(group, GROUPS)))
                continue
            for name, kind in tree.block("kinds", problems):
                if depth and (group, name) in kinds and kind.same(kinds[group, name]):
                    continue
                if depth and (group, name) in kinds:
                    message = f"the kind '{name}' is ours already; what you change in it would change all its animals"
                    problems.append(Problem(kind.place, "loosened", message, "change the animals one by one"))
                    continue
                kinds[group, name] = kind
            for entry in tree.listed("animals", problems):
                animal_id = entry.text("id")
                if animal_id in here:
                    problems.append(_problem(entry.place, "twice", f"animal '{animal_id}' stands here twice, first at {here[animal_id]}", None))
                    continue
                here[animal_id] = entry.place
                if depth and animal_id in entries:
                    its_group, ours = entries[animal_id]
                    if its_group != group or entry.text("kind", ours.text("kind")) != ours.text("kind"):
                        problems.append(_problem(entry.place, "loosened", f"'{animal_id}' cannot change its group or kind", None))
                        continue
                    shipped.setdefault(animal_id, ours)
                    try:
                        entry = tighter_entry(ours, entry, kinds.get((group, ours.text("kind"))), problems)
                    except ValueError as error:
                        problems.append(_problem(entry.place, "bad_animal", f"'{animal_id}': {error.args[0]}", None))
                        continue
                elif depth and (twin := _twin(entry, entries, added)) is not None:
                    message = f"'{animal_id}' is called like our '{twin.text('id')}' at {shipped.get(twin.text('id'), twin).place}"
                    problems.append(Problem(entry.place, "loosened", message, f"change '{twin.text('id')}', or give the animal a name of its own"))
                    continue
                if depth and animal_id not in entries:
                    added.add(animal_id)
                entries[animal_id] = (group, entry)
    figures = _figures(numbers, steps, problems)
    animals: list[Animal] = []
    house = house_numbers(our_numbers, numbers)
    for group, own in entries.values():
        if own.missing(NEEDED, problems):
            continue
        shared = kinds.get((group, own.text("kind")))
        if shared is None:
            problems.append(_problem(own.place, "bad_kind", f"unknown kind '{own.text('kind')}'", None))
            continue
        try:
            animal = _animal(group, own.over(shared), figures)
            if animal.id in shipped:
                before = _animal(group, shipped[animal.id].over(shared), figures)
                if less := asks_less(before, animal):
                    said, place = first_changed(shipped[animal.id], own)
                    message = f"{said} '{animal.id}' gets less than at {before.place}: {less}"
                    problems.append(Problem(place, "loosened", message, "keep or raise it"))
                    animal = before
                elif (told := house_animal(before, animal)) is not None:
                    house.append(told)
            elif animal.id in added:
                house.append(HouseRule(f"animal/{animal.id}", animal.place, animal.name))
            animals.append(animal)
        except (ValueError, KeyError) as error:
            message = f"'{own.text('id')}': {error.args[0]}"
            problems.append(_problem(own.place, "bad_animal", message, None))
            if own.text("id") in shipped:  # ours stays
                animals.append(_animal(group, shipped[own.text("id")].over(shared), figures))
    for written in (*kinds.values(), *(e for _, e in entries.values())):
        written.check(KEYS, WORDS, NUMBERS, problems)
    return Catalogue(tuple(animals), figures, sort_problems(_with_lines(problems)), tuple(sorted(house, key=lambda r: (r.id, r.place))))


def _with_lines(problems: Sequence[Problem]) -> list[Problem]:
    """The problems with the line that each is about; files are read again only where there is one."""
    lines = {file: Path(file).read_text(encoding="utf-8-sig", errors="replace").splitlines() for file in {p.place.file for p in problems} if Path(file).is_file()}
    return [replace(p, source_line=line_of(lines.get(p.place.file, []), p.place.line)) for p in problems]


def _problem(place: Place, code: str, message: str, known: str | None) -> Problem:
    fix = f"write '{known}'" if known else "correct or remove it"
    return Problem(place, code, message, fix)


def _steps(tree: Entry, problems: list[Problem]) -> tuple[RoomStep, ...]:
    try:
        return tuple(sorted((RoomStep(float(a), float(b)) for a, b in tree.pairs("steps")), key=lambda s: s.length_cm))
    except ValueError:
        problems.append(_problem(tree.place, "bad_steps", "steps are pairs of length and volume", None))
        return ()


def _figures(numbers: dict[str, Entry], steps: tuple[RoomStep, ...], problems: list[Problem]) -> StockFigures:
    figures: list[Figure] = []
    values: dict[str, float] = {}
    for name, entry in numbers.items():
        try:
            values[name] = float(entry.text("value"))
        except ValueError:
            problems.append(_problem(entry.place, "bad_number", f"'{name}' has no number in 'value'", None))
            continue
        unit, grade, source, where, note, says = (entry.text(key) for key in ("unit", "grade", "source", "where", "note", "says"))
        try:
            published = tuple(float(x) for x in entry.words("range_published"))
        except ValueError:
            problems.append(_problem(entry.place, "bad_number", f"'{name}' has no two numbers in 'range_published'", None))
            continue
        figures.append(Figure(name, values[name], unit, grade, source, where, note, says, published, entry.text("of")))
    for name in sorted(NEEDED_FIGURES - values.keys()):
        problems.append(Problem(Place("numbers.yaml"), "no_number", f"the figure '{name}' is missing", "add it"))
    return StockFigures(tuple(figures), steps, values.__getitem__)


def stock_numbers(figures: StockFigures) -> dict[str, Number]:
    """The figures of the catalogue as numbers of the rules, for lists and checks; nothing is checked here."""
    return {f.name: Number.model_construct(
        value=f.value, unit=f.unit, grade=f.grade or "practice", source=f.source or None, where=f.where, note=f.note, says=f.says or None,
        range_published=f.published or None, of=f.of, range=None, protects=None) for f in figures.figures}


def _twin(entry: Entry, entries: dict[str, tuple[str, Entry]], added: set[str]) -> Entry | None:
    """The animal of ours that a new entry names again by any of its names: under another id it would escape our facts."""
    words = {bare_name(w) for w in (entry.text("id"), entry.text("name"), entry.text("latin"), *entry.words("also"))}
    for id, (_, ours) in entries.items():
        if id not in added and words & {bare_name(w) for w in (id, ours.text("name"), ours.text("latin"), *ours.words("also"))}:
            return ours
    return None


def _animal(group: str, entry: Entry, figures: StockFigures) -> Animal:
    number = entry.number
    adult_cm, manner, swims, body = (number("adult_cm"), entry.text("manner", "mild"), entry.text("swims", "stays"), entry.text("body"))
    if adult_cm <= 0:
        raise ValueError("adult_cm must be above zero")
    least, most = (int(x) for x in entry.words("together", ("1", "1")))
    low_c, high_c = (float(x) for x in entry.words("temp_c", ("24", "27")))
    if group == "fish":
        mass_g = mass_from_length_g(adult_cm, figures.value(f"mass_{body}"))
        nitrogen = nitrogen_from_mass_mg_per_day(mass_g, figures)
    else:
        mass_g = 0.0
        nitrogen = nitrogen_from_load_mg_per_day(number("load"), figures)
    moves = group in ("fish", "crustacean")
    room = room_from_size(adult_cm, swims, manner, moves, least, number("run_cm"), figures)
    return Animal(
        entry.text("id"), entry.text("name"), entry.text("latin"), entry.words("also"), group, entry.text("kind"),
        entry.text("family"), adult_cm, entry.text("source", "practice"), manner, entry.words("rivals"),
        entry.text("house"), entry.text("form"), body, entry.text("truce", "true") == "true", least, most, swims,
        entry.words("counts_as"), entry.words("eats"), entry.words("nips"), number("gape"), entry.words("houses"),
        entry.words("food"), int(number("age_days", 30.0)), entry.text("skill", "easy"), entry.text("light", "none"),
        entry.text("flow", "middling"), low_c, high_c, entry.text("cites"), entry.words("hazards"),
        entry.text("jumps") == "true", number("sand_cm"), number("reach_cm"), entry.text("law"), entry.text("word"), mass_g, nitrogen,
        room.volume_l, room.length_cm, entry.place,
    )  # fmt: skip
