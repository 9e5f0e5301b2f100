"""How a tank file is set up, in a few words: the ways that `compare` holds against each other."""

from __future__ import annotations

import unicodedata
from collections.abc import Callable, Sequence
from typing import Any

from planner.files.checked import Checked
from planner.files.tank import Tank, tank_value
from planner.judge.facts import gross_l
from planner.show.words.words import day_words
from planner.terms.amounts import format_amount

SHOWN_CELLS = 48
"""Longest name on a page, in terminal cells."""

SEEDS = {"none": "no bacteria added", "bottled": "bottled bacteria", "media_marine": "media from a marine tank", "media_fresh": "media from a freshwater tank"}
SOURCES = {"ro": "RO water", "distilled": "distilled water", "tap": "treated tap water", "ready_mixed": "ready-mixed water", None: "an undescribed source of water"}


def shown_name(text: str, most: int = SHOWN_CELLS) -> str:
    """One line of text that cannot move the cursor or outgrow its place: signs without a shape become spaces, and what is
    longer than `most` terminal cells is cut."""
    plain = " ".join("".join(" " if unicodedata.category(c) in ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp") else c for c in text).split())
    if cells_of(plain) <= most:
        return plain
    kept, room = "", most - 3
    for char in plain:
        room -= cells_of(char)
        if room < 0:
            break
        kept += char
    return kept.rstrip() + "..."


def cells_of(text: str) -> int:
    """Columns that a terminal gives a text (Unicode Standard Annex 11)."""
    return sum(0 if unicodedata.combining(c) else 2 if unicodedata.east_asian_width(c) in "WF" else 1 for c in text)


def summary(tank: Tank, units: str) -> str:
    """`225 L, dry rock and dosed ammonia, no bacteria added, RO water`."""
    parts = [format_amount(gross_l(tank), "L", units), _start(tank), SEEDS[tank.cycle.seed], SOURCES[tank.water.source]]
    if tank.equipment.quarantine_tank:
        parts.append("a quarantine tank")
    return ", ".join(parts)


def phrases(keys: Sequence[str], before: Tank, after: Tank, marks: tuple[str, str]) -> tuple[str, str]:
    """What these keys say in two tank files; whose value it is, where words would not tell them apart."""
    told = _phrase(keys, before), _phrase(keys, after)
    if told[0] is not None and told[1] is not None and told[0] != told[1]:
        return told[0], told[1]
    return f"the {topic(keys)} of {marks[0]}", f"the {topic(keys)} of {marks[1]}"


def silent_side(keys: Sequence[str], *tanks: Tank) -> int | None:
    """Which of two tank files (0 or 1) leaves unsaid what the other describes, and says nothing else; None if neither does."""
    for key in keys:
        told = [_told_values(key, tank) for tank in tanks]
        for n in (0, 1):
            if told[n].items() < told[1 - n].items():
                return n
    return None


def _told_values(key: str, tank: Tank) -> dict[str, Any]:
    """The parts of a key that the file describes. What is empty because nothing is meant (no days away, say) is left out."""
    if key in _NEED_NO_WORD:
        return {}
    value = tank_value(tank, key)
    if isinstance(value, Checked):
        return {name: str(part) for name in value.model_fields if (part := getattr(value, name)) is not None and name not in _NEED_NO_WORD}
    if isinstance(value, dict):
        return {name: str(part) for name, part in value.items()}
    return {} if value is None else {key: str(value)}


def _begins_filter(keys: Sequence[str]) -> bool:
    return len(keys) > 1 or keys[0] in ("rock.kind", "rock.cured_in", "cycle.ammonia")


def topic(keys: Sequence[str]) -> str:
    """What these keys are about, for a list of things."""
    if _begins_filter(keys):
        return "way to begin the filter"
    return _TOPICS.get(keys[0], keys[0].rpartition(".")[2].replace("_", " "))


def _phrase(keys: Sequence[str], tank: Tank) -> str | None:
    if _begins_filter(keys):
        return _start(tank)
    key = keys[0]
    if key == "journal":
        return None
    value, units = tank_value(tank, key), tank.units
    if key in _PHRASES:
        return _PHRASES[key](tank, value)
    if key in _THINGS:
        if value is None:
            return f"no word on {_article(key)} {_THINGS[key]}"
        if value is False:
            return f"no {_THINGS[key]}"
        return f"{_article(key)} {_THINGS[key]}" + ("" if value is True else f" of {format_amount(value, _UNITS[key], units)}")
    return None


def _article(key: str) -> str:
    return "an" if key == "equipment.ro_rate" else "a"


def _start(tank: Tank) -> str:
    """How the filter is begun."""
    rock, source = tank.rock, tank.cycle.ammonia
    words = {"live": f"live rock cured in {'the tank' if rock.cured_in == 'tank' else 'a bin'}", "cured": "cured rock", "dry": "dry rock", None: "rock that is not described"}[rock.kind]
    return words + {"dosed": " and dosed ammonia", "food": " and food as ammonia", "rock": "", None: ""}[source]


_PHRASES: dict[str, Callable[[Tank, Any], str]] = {
    "rock.mass": lambda tank, value: f"{format_amount(value * 1000, 'g', tank.units)} of rock" if value is not None else "a mass of rock that is not described",
    "cycle.ammonia": lambda tank, _: _start(tank),
    "cycle.seed": lambda _, value: SEEDS[value],
    "cycle.dose": lambda _, value: f"a first dose of {value:g} mg/L as N",
    "water.source": lambda _, value: SOURCES[value],
    "water.mixed_in": lambda _, value: f"water mixed in {'the bare tank' if value == 'tank' else 'a bin'}",
    "water.salt_per_litre": lambda _, value: f"a mix of {value:g} g salt a litre",
    "tank": lambda tank, _: f"a box of {format_amount(gross_l(tank), 'L', tank.units)}",
    "start": lambda _, value: f"a start on {day_words(value)}" if value else "no day of start",
    "water.temperature": lambda tank, value: f"water at {format_amount(value, '°C', tank.units)}",
    "water.salinity": lambda tank, value: f"a salinity of {format_amount(value, 'ppt', tank.units)}",
}
_THINGS = {
    "equipment.bin": "mixing bin", "equipment.ro_rate": "RO unit", "equipment.quarantine_tank": "quarantine tank", "equipment.skimmer": "skimmer",
    "equipment.top_up": "top-up container", "equipment.battery_air": "battery air pump", "equipment.floss": "filter floss",
}
"""What may be there, be missing, or not be described."""
_NEED_NO_WORD = frozenset({"start", "rock.cured_in", "cycle.ammonia", "already", "journal", "wish_list", "glass_mm", "waterline_cm"})
"""Keys that stand for nothing, or are filled in, where they are left out."""
_UNITS = {"equipment.bin": "L", "equipment.ro_rate": "L/day", "equipment.quarantine_tank": "L", "equipment.skimmer": "L/h", "equipment.top_up": "L"}
_TOPICS = {
    "tank": "box", "already": "phases passed on your word", "keeper.away": "days away", "journal": "journal entries", "cycle.seed": "seed", "cycle.dose": "first dose",
    "rock.mass": "mass of rock", "water.source": "source of water", "water.mixed_in": "place of mixing", "water.salt_per_litre": "salt mix", "equipment.bin": "mixing bin",
    "equipment.ro_rate": "RO unit", "equipment.circulation": "pumps", "equipment.battery_air": "battery air pump", "equipment.floss": "filter floss", "equipment.top_up": "top-up container", "start": "day of start",
}

__all__ = ["cells_of", "phrases", "shown_name", "silent_side", "summary", "topic"]
