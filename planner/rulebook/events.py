"""What a keeper may see and write down (`note event ...`), and the words for it."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import SequenceMatcher

from planner.terms.journal_words import OTHER_EVENTS as OTHER_WORDS


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
