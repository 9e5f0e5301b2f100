"""The one vocabulary of the journal: how kinds, waters, readings, doses and events are called, and what people call them."""

from __future__ import annotations

import re
from collections.abc import Mapping

OTHER_EVENTS = {
    "algae_bloom": ("bloom", "hair_algae", "green_hair", "slime", "cyano"),
    "algae_seen": ("algae", "alga", "film", "brown_film", "green_film", "diatoms", "first_algae"),
    "fed": ("food", "feeding", "feed"),
    "ill": ("illness", "sick", "sickness", "disease", "gasping", "gasp", "breathing", "fast_breath", "fast_breathing", "spots", "white_spots", "velvet", "dust"),
    "leak": ("leaking", "drip", "dripping", "flood", "puddle", "damp", "water_on_the_floor", "wet_floor"),
    "medicated": ("medicine", "medication", "treated", "treatment"),
    "palytoxin": ("poisoned", "poisoning", "coral_poison"),
    "power_cut": ("power", "no_power", "power_out", "power_failure", "blackout", "outage", "power_outage"),
    "shock": ("electric_shock", "electrocuted", "electrocution", "tingle", "tingling"),
    "smell": ("smells", "stink", "stinks", "rotten_eggs"),
    "sting": ("stung", "bite", "bitten"),
    "tank_closed": ("closed", "closed_down", "given_up"),
    "tank_moved": ("moved_tank", "shifted"),
}
"""What keepers call the events that the shipped rules listen to."""
EVENTS = frozenset(OTHER_EVENTS) | {"failed"}

_DOSES = {
    "ammonia": ("ammonium", "ammonium_chloride", "ammonia_chloride", "ammonium_chlorid", "nh4cl", "salmiac", "sal_ammoniac"),
    "bicarbonate": ("sodium_bicarbonate", "bicarb", "baking_soda", "bicarbonate_of_soda", "sodium_hydrogen_carbonate", "nahco3"),
    "carbonate": ("sodium_carbonate", "soda_ash", "washing_soda", "na2co3"),
    "calcium": ("calcium_chloride", "cacl2"),
    "magnesium": ("magnesium_chloride", "magnesium_sulfate", "magnesium_sulphate", "mgcl2", "epsom_salt"),
    "kalkwasser": ("lime_water", "limewater", "calcium_hydroxide"),
    "bacteria": ("bottled_bacteria", "starter", "seed"),
    "alkalinity": (), "soda": (), "nitrate": (), "nitrite": (), "phosphate": (), "carbon": ("vinegar", "ethanol", "vodka"), "food": (),
    "iodine": ("iodide",), "potassium": (), "strontium": (), "medicine": ("medication",), "salt": (),
}
DOSES = frozenset(_DOSES)
_KINDS = {
    "reading": ("readings", "read", "test", "tested", "result"), "done": ("tick", "ticked"), "skipped": ("skip",), "postponed": ("postpone",),
    "dosed": ("dose",), "changed_water": ("water_change", "waterchange", "water_changed", "change_water"), "poured": ("pour",),
    "added": ("add",), "moved": ("move",), "lost": ("lose", "died"), "event": ("events",), "undo": ("undone",),
}
_WATERS = {
    "display": ("tank", "main", "main_tank", "display_tank"), "quarantine": ("quarantine_tank", "qt", "hospital"), "mixing": ("mixing_bin", "mix"),
    "curing": ("curing_bin", "cure"), "source": ("source_water", "tap", "tap_water", "ro", "ro_water"),
}
_READINGS = {
    "alkalinity": ("alk", "kh", "dkh"), "temperature": ("temp",), "salinity": ("sal", "sg"), "calcium": ("ca",), "magnesium": ("mg",),
    "phosphate": ("po4",), "nitrate": ("no3",), "nitrite": ("no2",), "oxygen": ("o2",),
}


def _turned(words: Mapping[str, tuple[str, ...]]) -> dict[str, str]:
    return {other: word for word, others in words.items() for other in others}


_CALLED = {"kind": _turned(_KINDS), "water": _turned(_WATERS), "reading": _turned(_READINGS), "dosed": _turned(_DOSES), "event": _turned(OTHER_EVENTS)}


def fold(text: str) -> str:
    """Lower case, words joined by one underscore: `Power cut` is `power_cut`."""
    return re.sub(r"[\s_\-]+", "_", text.strip().lower())


def one_word(of: str, text: str) -> str:
    """The word for a kind, a water, a reading, a dose or an event (`of` says which), however it is spelled; folded where nobody knows it."""
    folded = fold(text)
    return _CALLED[of].get(folded, folded)


__all__ = ["DOSES", "EVENTS", "OTHER_EVENTS", "fold", "one_word"]
