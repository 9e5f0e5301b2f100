"""How a tank file is set up, in a few words: the ways that `compare` holds against each other."""

from __future__ import annotations

import unicodedata
from collections.abc import Callable, Sequence
from typing import Any

from planner.gather import gross_l
from planner.quantities import format_amount
from planner.tankfile import Tank, tank_value

SHOWN_CELLS = 48
"""Longest name on a page, in terminal cells."""

SEEDS = {"none": "no seed", "bottled": "bottled bacteria", "media_marine": "media from a marine tank", "media_fresh": "media from a freshwater tank"}
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
    """`225 L, dry rock and dosed ammonia, no seed, RO water`."""
    parts = [format_amount(gross_l(tank), "L", units), _start(tank), SEEDS[tank.cycle.seed], SOURCES[tank.water.source]]
    if tank.equipment.quarantine_tank:
        parts.append("a quarantine tank")
    return ", ".join(parts)


def phrase(keys: Sequence[str], tank: Tank, mark: str) -> str:
    """What these keys say in this tank file; where words would not help, whose value it is."""
    if any(key in ("rock.kind", "rock.cured_in") for key in keys) or len(keys) > 1:
        return _start(tank)
    key = keys[0]
    value = tank_value(tank, key) if key != "journal" else None
    maker = _PHRASES.get(key)
    if maker is not None:
        return maker(tank, value)
    units = tank.units
    named = {"equipment.bin": "a mixing bin", "equipment.ro_rate": "an RO unit", "equipment.circulation": "pumps"}
    if key in named:
        return f"{named[key]} of {format_amount(value, _UNITS[key], units)}" if value is not None else f"{named[key]} that is not described"
    if key in _UNITS and value is not None:
        return f"{_LABELS[key]} {format_amount(value, _UNITS[key], units)}"
    if key in _LABELS and value is None:
        return f"{_LABELS[key]} not described"
    return f"the {_BLOCKS.get(key, key.replace('.', ' ').replace('_', ' '))} of {mark}"


def _start(tank: Tank) -> str:
    """How the filter is begun."""
    rock, source = tank.rock, tank.cycle.ammonia
    words = {"live": f"live rock cured in {'the tank' if rock.cured_in == 'tank' else 'a bin'}", "cured": "cured rock", "dry": "dry rock", None: "rock that is not described"}[rock.kind]
    return words + {"dosed": " and dosed ammonia", "food": " and food as ammonia", "rock": "", None: ""}[source]


def _quarantine(_tank: Tank, value: Any) -> str:
    if value is None:
        return "no word on a quarantine tank"
    return "a quarantine tank" if value else "no quarantine tank"


_PHRASES: dict[str, Callable[[Tank, Any], str]] = {
    "rock.mass": lambda tank, value: f"{format_amount(value * 1000, 'g', tank.units)} of rock" if value is not None else "a mass of rock that is not described",
    "cycle.ammonia": lambda tank, _: _start(tank),
    "cycle.seed": lambda _, value: SEEDS[value],
    "cycle.dose": lambda _, value: f"a first dose of {value:g} mg/L as N",
    "water.source": lambda _, value: SOURCES[value],
    "water.mixed_in": lambda _, value: f"water mixed in {'the bare tank' if value == 'tank' else 'a bin'}",
    "water.salt_per_litre": lambda _, value: f"a mix of {value:g} g salt a litre",
    "equipment.quarantine_tank": _quarantine,
    "tank": lambda tank, _: f"a box of {format_amount(gross_l(tank), 'L', tank.units)}",
    "start": lambda _, value: f"a start on {value.isoformat()}" if value else "no day of start",
}
_UNITS = {"water.temperature": "°C", "water.salinity": "ppt", "equipment.bin": "L", "equipment.ro_rate": "L/day", "equipment.circulation": "L/h"}
_LABELS = {"water.temperature": "water at", "water.salinity": "salinity of"}
_BLOCKS = {"sand": "sand", "room": "room", "test_kits": "test kits", "already": "phases passed on your word", "wish_list": "wish list", "keeper.away": "days away",
           "keeper.shopping_days": "shopping days", "keeper.reminder_time": "reminder time", "journal": "journal entries"}

__all__ = ["cells_of", "phrase", "shown_name", "summary"]
