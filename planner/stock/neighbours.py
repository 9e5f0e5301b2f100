"""What two animals do to each other: who eats whom, who fights whom, who stings whom; and who is welcome all the same.

A clash is hard when the two cannot share this tank, soft when they can under a condition. Classes decide, not lists
of species: prey classes and mouths, houses (kin that fight) and forms (outlines that are taken for kin).
"""

from __future__ import annotations

from dataclasses import dataclass

from planner.stock.animals import CORALS, Animal
from planner.stock.room_and_load import StockFigures

SLENDER = frozenset({"slim", "reed", "thread", "eel"})
SLENDER_MOUTHFUL = 1.5  # a slender fish goes down at half again the length (common practice, no source)
MOVING = frozenset({"fish", "crustacean"})
PREY_WORDS = {
    "shrimp": "shrimp", "little_shrimp": "tiny shrimp", "crabs": "crabs", "hermits": "hermit crabs", "snails": "snails",
    "clams": "clams", "mantles": "the flesh of clams", "polyps": "coral polyps", "buttons": "button polyps",
    "anemones": "anemones", "tube_worms": "fan worms", "urchins": "urchins", "stars": "stars",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Clash:
    """`actor` does it to `other`. `kind`: eats, rivals, stings, anemones. `room_l` is the volume that would end it,
    0 if none would."""

    actor: str
    other: str
    kind: str
    hard: bool
    why: str
    room_l: float = 0.0


def welcomes(host: Animal, guest: Animal) -> bool:
    """True if `host` shelters `guest` (an anemone its clownfish, a pistol shrimp its goby)."""
    return guest.id in host.houses or guest.kind in host.houses


def clashes_between(a: Animal, b: Animal, volume_l: float, length_cm: float | None, figures: StockFigures) -> tuple[Clash, ...]:
    """All clashes of two different animals in a tank of `volume_l` net litres and `length_cm` (None = not told)."""
    found: list[Clash] = []
    if not (welcomes(a, b) or welcomes(b, a)):
        for hunter, prey in ((a, b), (b, a)):
            clash = _meal(hunter, prey)
            if clash is not None:
                found.append(clash)
    if a.group in MOVING and a.group == b.group:
        clash = _rivalry(a, b, volume_l, figures)
        if clash is not None:
            found.append(clash)
    elif a.reach_cm and b.reach_cm:
        clash = _sting(a, b, length_cm)
        if clash is not None:
            found.append(clash)
    return tuple(found)


def _swallow_cm(hunter: Animal, prey: Animal) -> float:
    slender = hunter.group == "fish" and prey.body in SLENDER
    return hunter.adult_cm * hunter.gape * (SLENDER_MOUTHFUL if slender else 1.0)


def _meal(hunter: Animal, prey: Animal) -> Clash | None:
    if prey.group == "fish":
        fish_words = ("fish", "little_fish")
        hunts, tries = (any(w in words for w in fish_words) for words in (hunter.eats, hunter.nips))
        limit_cm = _swallow_cm(hunter, prey)
        if not (hunts or tries) or prey.adult_cm > limit_cm:
            return None
        sure = "swallows" if hunts else "may catch"
        why = f"A grown {hunter.name} {sure} fish of this build up to about {limit_cm:.0f} cm, and the {prey.name} stays at {prey.adult_cm:g} cm."
        return Clash(hunter.id, prey.id, "eats", hunts, why)
    for words, hard in ((hunter.eats, True), (hunter.nips, False)):
        for word in prey.counts_as:
            if word in words or (word == "little_shrimp" and "shrimp" in words):
                verb = "eats" if hard else "may eat or nip"
                why = f"The {hunter.name} {verb} {PREY_WORDS[word]}, and the {prey.name} is that to it."
                return Clash(hunter.id, prey.id, "eats", hard, why)
    return None


def _takes_for_rival(one: Animal, other: Animal) -> str:
    if "house" in one.rivals and one.house == other.house:
        return "kin"
    if "form" in one.rivals and one.form == other.form:
        return "a look-alike"
    return ""


def _rivalry(a: Animal, b: Animal, volume_l: float, figures: StockFigures) -> Clash | None:
    taken, actor, other = _takes_for_rival(a, b), a, b
    if not taken:
        taken, actor, other = _takes_for_rival(b, a), b, a
    if not taken:
        return None
    start = f"The {actor.name} takes the {other.name} for {taken} and fights it"
    if not (a.truce and b.truce):
        return Clash(actor.id, other.id, "rivals", True, f"{start}, in a tank of any size.")
    peace_l = figures.value("truce_fierce" if "fierce" in (a.manner, b.manner) else "truce_factor") * max(a.room_l, b.room_l)
    if volume_l >= peace_l:
        why = f"{start}; in {volume_l:.0f} L each can hold its own corner if the gentler one goes in first."
        return Clash(actor.id, other.id, "rivals", False, why)
    why = f"{start}; it takes about {peace_l:.0f} L for both to keep out of each other's way, and here are {volume_l:.0f} L."
    return Clash(actor.id, other.id, "rivals", True, why, peace_l)


def _sting(a: Animal, b: Animal, length_cm: float | None) -> Clash | None:
    if a.kind == b.kind == "anemone":
        why = f"The {a.name} and the {b.name} fight with stings and with what they give off into the water."
        return Clash(a.id, b.id, "anemones", True, why)
    latin = (a.latin.split()[0], b.latin.split()[0])
    if latin[0] == latin[1] and a.group in CORALS:
        return None
    reach_cm = max(a.reach_cm, b.reach_cm)
    actor, other = (a, b) if a.reach_cm >= b.reach_cm else (b, a)
    needed_cm = reach_cm + a.adult_cm + b.adult_cm
    if length_cm is not None and needed_cm > length_cm:
        why = f"The {actor.name} stings {reach_cm:g} cm far; beside a grown {other.name} that takes {needed_cm:g} cm, and the tank is {length_cm:g} cm long."
        return Clash(actor.id, other.id, "stings", True, why)
    why = f"Leave {reach_cm:g} cm of clear rock between the {actor.name} and the {other.name}."
    return Clash(actor.id, other.id, "stings", False, why)
