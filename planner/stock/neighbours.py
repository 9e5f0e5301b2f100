"""What two animals do to each other: who eats whom, who fights whom, who stings whom; and who is welcome all the same.

A clash is hard when the two cannot share this tank, soft when they can under a condition. Classes decide, not lists
of species: prey classes and mouths, houses (kin that fight) and forms (outlines that are taken for kin).
"""

from __future__ import annotations

from dataclasses import dataclass

from planner.stock.animals import CORALS, Animal
from planner.stock.room_and_load import StockFigures
from planner.terms.causes import Amount, Cause, about, cause

SLENDER = frozenset({"slim", "reed", "thread", "eel"})
SLENDER_MOUTHFUL = 1.5  # a slender fish goes down at half again the length (common practice, no source)
MOVING = frozenset({"fish", "crustacean"})


@dataclass(frozen=True, slots=True)
class Clash:
    """`actor` does it to `other`. `kind`: eats, rivals, stings, anemones. `room_l` is the volume that would end it,
    0 if none would."""

    actor: str
    other: str
    kind: str
    hard: bool
    why: Cause
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
        why = cause("swallows" if hunts else "may_catch", hunter=hunter.name, limit=about(limit_cm, "cm"), prey=prey.name, grown=Amount(prey.adult_cm, "cm"))
        return Clash(hunter.id, prey.id, "eats", hunts, why)
    for words, hard in ((hunter.eats, True), (hunter.nips, False)):
        for word in prey.counts_as:
            if word in words or (word == "little_shrimp" and "shrimp" in words):
                why = cause("eats" if hard else "may_eat", hunter=hunter.name, food=cause(f"prey_{word}"), prey=prey.name)
                return Clash(hunter.id, prey.id, "eats", hard, why)
    return None


def _takes_for_rival(one: Animal, other: Animal) -> str:
    if "house" in one.rivals and one.house == other.house:
        return "taken_for_kin"
    if "form" in one.rivals and one.form == other.form:
        return "taken_for_look_alike"
    return ""


def _rivalry(a: Animal, b: Animal, volume_l: float, figures: StockFigures) -> Clash | None:
    taken, actor, other = _takes_for_rival(a, b), a, b
    if not taken:
        taken, actor, other = _takes_for_rival(b, a), b, a
    if not taken:
        return None
    fight = cause("fights", actor=actor.name, other=other.name, taken=cause(taken))
    if not (a.truce and b.truce):
        return Clash(actor.id, other.id, "rivals", True, cause("fights_anywhere", fight=fight))
    peace_l = figures.value("truce_fierce" if "fierce" in (a.manner, b.manner) else "truce_factor") * max(a.room_l, b.room_l)
    if volume_l >= peace_l:
        why = cause("fights_at_peace", fight=fight, there=about(volume_l, "L"))
        return Clash(actor.id, other.id, "rivals", False, why)
    why = cause("fights_here", fight=fight, peace=about(peace_l, "L"), there=about(volume_l, "L"))
    return Clash(actor.id, other.id, "rivals", True, why, peace_l)


def _sting(a: Animal, b: Animal, length_cm: float | None) -> Clash | None:
    if a.kind == b.kind == "anemone":
        why = cause("anemones_fight", one=a.name, other=b.name)
        return Clash(a.id, b.id, "anemones", True, why)
    latin = (a.latin.split()[0], b.latin.split()[0])
    if latin[0] == latin[1] and a.group in CORALS:
        return None
    reach_cm = max(a.reach_cm, b.reach_cm)
    actor, other = (a, b) if a.reach_cm >= b.reach_cm else (b, a)
    needed_cm = reach_cm + a.adult_cm + b.adult_cm
    if length_cm is not None and needed_cm > length_cm:
        why = cause("stings", actor=actor.name, reach=Amount(reach_cm, "cm"), other=other.name, needed=Amount(needed_cm, "cm"), length=Amount(length_cm, "cm"))
        return Clash(actor.id, other.id, "stings", True, why)
    why = cause("clear_rock", reach=Amount(reach_cm, "cm"), actor=actor.name, other=other.name)
    return Clash(actor.id, other.id, "stings", False, why)
