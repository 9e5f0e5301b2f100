"""What a keeper may see and write down (`note event ...`), and the words for it."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import SequenceMatcher

OTHER_WORDS = {
    "algae_bloom": ("bloom", "hair_algae", "green_hair", "slime", "cyano"),
    "algae_seen": ("algae", "alga", "film", "brown_film", "green_film", "diatoms", "first_algae"),
    "fed": ("food", "feeding", "feed"),
    "ill": ("illness", "sick", "sickness", "disease", "gasping", "gasp", "breathing", "fast_breath", "fast_breathing", "spots", "white_spots", "velvet", "dust"),
    "leak": ("leaking", "drip", "dripping", "flood", "puddle", "damp", "water_on_the_floor", "wet_floor"),
    "medicated": ("medicine", "medication", "treated", "treatment"),
    "palytoxin": ("poisoned", "poisoning", "coral_poison"),
    "power_cut": ("power", "no_power", "power_out", "power_failure", "blackout", "outage", "power_outage"),
    "smell": ("smells", "stink", "stinks", "rotten_eggs"),
    "sting": ("stung", "bite", "bitten"),
    "tank_closed": ("closed", "closed_down", "given_up"),
    "tank_moved": ("moved_tank", "shifted"),
}
"""What keepers call the events that the shipped rules listen to."""


def event_called(word: str, known: Iterable[str]) -> str | None:
    """The event that goes by this word, if the rules know it."""
    known = frozenset(known)
    return word if word in known else next((event for event, words in OTHER_WORDS.items() if word in words and event in known), None)


def nearest_first(word: str, known: Iterable[str]) -> list[str]:
    """Known events, the likest to a word first."""
    def likeness(event: str) -> float:
        return max(SequenceMatcher(None, word, name).ratio() for name in (event, *OTHER_WORDS.get(event, ())))

    return sorted(known, key=lambda event: (-likeness(event), event))


__all__ = ["OTHER_WORDS", "event_called", "nearest_first"]
