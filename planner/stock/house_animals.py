"""House rules over the livestock files: an animal may be added, and one of ours made to ask for more, never for less.

Each key that may be changed stands here with the way in which it may move. A key that is not named stays ours.
"""

from __future__ import annotations

from dataclasses import fields

from planner.rulebook.shapes import HouseRule
from planner.stock.animals import KEYS, SKILLS, Animal
from planner.stock.entries import Entry
from planner.stock.room_and_load import RoomStep
from planner.terms.problems import Place, Problem

FREE = frozenset({"id", "source", "kind"})
RISES = frozenset({"adult_cm", "run_cm", "load", "gape", "sand_cm", "reach_cm", "age_days"})
GROWS = frozenset({"also", "hazards", "eats", "nips", "rivals", "counts_as", "food"})
LADDERS: dict[str, tuple[str, ...]] = {
    "skill": SKILLS, "manner": ("mild", "bold", "fierce"), "light": ("none", "low", "medium", "high"),
    "cites": ("", "III", "II", "I"), "truce": ("true", "false"), "jumps": ("false", "true"),
}
UNSAID = {"skill": "easy", "manner": "mild", "light": "none", "cites": "", "truce": "true", "jumps": "false", "age_days": "30"}
UNSAID_PAIRS = {"together": ("1", "1"), "temp_c": ("24", "27")}


def tighter_entry(ours: Entry, theirs: Entry, kind: Entry | None, problems: list[Problem]) -> Entry:
    """Their entry over ours, without the keys that would make the animal look safer, smaller or easier than we do.
    Raises ValueError for a text where a number belongs."""
    whole = ours.over(kind) if kind else ours
    refused = [key for key in theirs.keys() if not _may(key, whole, theirs)]  # noqa: SIM118  # an entry is no dict
    for key in refused:
        moved = key in RISES or key in GROWS or key in LADDERS or key in ("together", "temp_c", "word")
        said, at = f"'{key}' of '{ours.text('id')}'", whole.place_of(key)
        if key == "word" or not moved:
            message = f"{said} is looser than at {at}" if moved else f"{said} is ours, at {at}"
        else:
            now, was = (_written(key, e) for e in (theirs, whole))
            message = f"{said} is {now} here, looser than {was} at {at}"
        fix = f"keep our words in '{key}' and write yours after them" if key == "word" else f"keep or tighten '{key}'" if moved else f"take '{key}' out"
        problems.append(Problem(theirs.place_of(key), "loosened", message, fix))
    return theirs.without(refused).over(ours)


def _written(key: str, entry: Entry) -> str:
    """The value of a key as it stands in an entry, or as it counts where it is not written."""
    return ", ".join(entry.words(key, UNSAID_PAIRS.get(key, (UNSAID.get(key) or ("0" if key in RISES else "nothing"),)))) or "nothing"


def _may(key: str, ours: Entry, theirs: Entry) -> bool:
    if key in FREE or key not in KEYS or theirs.words(key) == ours.words(key):  # an unknown key is told by the check of the keys
        return True
    if key in RISES:
        return theirs.number(key) >= ours.number(key, float(UNSAID.get(key, "0")))
    if key in GROWS:
        return set(ours.words(key)) <= set(theirs.words(key))
    if key in LADDERS:
        ladder = LADDERS[key]
        before, after = ours.text(key, UNSAID[key]), theirs.text(key)
        return after in ladder and (before not in ladder or ladder.index(after) >= ladder.index(before))
    if key == "together":
        (least, most), (least_now, most_now) = ((int(n) for n in e.words(key, UNSAID_PAIRS[key])) for e in (ours, theirs))
        return least_now >= least and (most == 0 or 0 < most_now <= most)
    if key == "temp_c":
        (low, high), (low_now, high_now) = ((float(n) for n in e.words(key, UNSAID_PAIRS[key])) for e in (ours, theirs))
        return low <= low_now <= high_now <= high
    if key == "word":
        return " ".join(ours.text(key).split()) in " ".join(theirs.text(key).split())
    return False


def asks_less(before: Animal, after: Animal) -> str:
    """What of its room or load is less than ours, with both values; empty if nothing is."""
    figures = (("a free run of", before.run_cm, after.run_cm, "cm"), ("room of", before.room_l, after.room_l, "L"), ("a load of", before.nitrogen_mg_per_day, after.nitrogen_mg_per_day, "mg of nitrogen a day"))
    return ", ".join(f"{word} {now:.3g} instead of {was:.3g} {unit}" for word, was, now, unit in figures if now < was)


def first_changed(ours: Entry, theirs: Entry) -> tuple[str, Place]:
    """The first value of a house entry that is not ours, in words, and where it stands."""
    changed = sorted((theirs.place_of(key), key) for key in theirs.keys() if theirs.words(key) != ours.words(key))  # noqa: SIM118  # an entry is no dict
    return (f"with '{changed[0][1]}' {_written(changed[0][1], theirs)}", changed[0][0]) if changed else ("here", theirs.place)


def tighter_number(name: str, ours: Entry | None, theirs: Entry, problems: list[Problem]) -> Entry:
    """A house number in place of ours: stricter where `protects` says which way that is; else ours stays."""
    if ours is None:
        return theirs
    way = ours.text("protects")
    try:
        before, after = ours.number("value"), theirs.number("value")
    except ValueError as error:
        problems.append(Problem(theirs.place, "bad_number", f"'{name}': {error.args[0]}", "correct or remove it"))
        return ours
    if after == before:
        return ours
    if way not in ("higher_is_stricter", "lower_is_stricter"):
        problems.append(Problem(theirs.place, "loosened", f"'{name}' is {after:g} here and {before:g} at {ours.place}; nothing says which way is safer", f"keep {before:g}"))
        return ours
    if (after > before) != (way == "higher_is_stricter"):
        message = f"'{name}' is {after:g} here and {before:g} at {ours.place}, which protects animals"
        problems.append(Problem(theirs.place, "loosened", message, f"keep {before:g}, or choose a stricter figure"))
        return ours
    backing = ("grade", "source", "where", "says", "range_published", "of", "note")  # what ours cites does not back another value
    return theirs.without(("unit", "protects")).over(ours.without(backing))


def tighter_steps(ours: tuple[RoomStep, ...], theirs: tuple[RoomStep, ...], place: Place, problems: list[Problem]) -> tuple[RoomStep, ...]:
    """House steps in place of ours: the same lengths, each with as much water or more. Finer steps would let an animal
    that lies between two of ours do with less."""
    if not ours or not theirs:
        return theirs or ours
    if [s.length_cm for s in ours] == [s.length_cm for s in theirs] and all(a.volume_l <= b.volume_l for a, b in zip(ours, theirs, strict=True)):
        return theirs
    problems.append(Problem(place, "loosened", "these steps have other lengths than ours, or give less water", "keep our lengths, and give each as much water or more"))
    return ours


def house_animal(before: Animal, after: Animal) -> HouseRule | None:
    """What a house changed in an animal of ours; None if nothing."""
    changed = [f.name for f in fields(Animal) if f.name != "place" and getattr(before, f.name) != getattr(after, f.name)]
    if not changed:
        return None
    now, was = (", ".join(f"{name} {_told(getattr(animal, name))}" for name in changed) for animal in (after, before))
    return HouseRule(f"animal/{after.id}", after.place, now, was, before.place)


def house_numbers(ours: dict[str, Entry], theirs: dict[str, Entry]) -> list[HouseRule]:
    """The figures that a house changed."""
    return [HouseRule(f"number/{name}", theirs[name].place, f"{theirs[name].text('value')} {old.text('unit')}".rstrip(), f"{old.text('value')} {old.text('unit')}".rstrip(), old.place)
            for name, old in ours.items() if theirs[name].text("value") != old.text("value")]


def _told(value: object) -> str:
    if isinstance(value, tuple):
        return " and ".join(map(str, value)) or "none"
    return f"{value:g}" if isinstance(value, float) else str(value)


__all__ = ["asks_less", "first_changed", "house_animal", "house_numbers", "tighter_entry", "tighter_number", "tighter_steps"]
