"""What a keeper may see and write down (`note event ...`), and the words for it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from difflib import SequenceMatcher

from planner.terms.journal_words import OTHER_EVENTS as OTHER_WORDS
from planner.terms.journal_words import fold

SMALL_WORDS = frozenset(["a", "an", "and", "are", "at", "does", "from", "had", "has", "have", "i", "in", "into", "is", "it", "its", "like", "my", "no", "not", "of", "off", "on", "one", "out", "the", "then", "there", "to", "too", "up", "was", "we", "were", "will", "with", "you"])
"""Words that tell no event from another."""
DEATH = frozenset(["dead", "death", "died", "dies"])
NO_ANIMAL = frozenset(["bacteria", "coral", "corals", "filter", "heater", "heaters", "pump", "pumps"])


def event_called(word: str, known: Iterable[str]) -> str | None:
    """The event that goes by this word, if the rules know it."""
    known = frozenset(known)
    return word if word in known else next((event for event, words in OTHER_WORDS.items() if word in words and event in known), None)


def event_leading(words: Sequence[str], known: Iterable[str]) -> tuple[str, int] | None:
    """The event that the first of these words name, as many of them as one name takes, and how many that are."""
    known = frozenset(known)
    found = ((event_called(fold(" ".join(words[:n])), known), n) for n in range(len(words), 0, -1))
    return next(((event, n) for event, n in found if event is not None), None)


def speaks_of_death(text: str) -> bool:
    """Whether a folded sentence tells of an animal that died. A coral that dies and a pump that died have events of their own."""
    said = set(text.split("_"))
    return bool(said & DEATH) and not said & NO_ANIMAL


def nearest_first(word: str, known: Iterable[str]) -> list[str]:
    """Known events, the likest to a word first."""
    def likeness(event: str) -> float:
        return max(SequenceMatcher(None, word, name).ratio() for name in (event, *OTHER_WORDS.get(event, ())))

    return sorted(known, key=lambda event: (-likeness(event), event))


def events_sharing(text: str, known: Iterable[str], most: int = 3) -> list[str]:
    """Known events that share words with what a keeper wrote in a sentence, the closest first: a word of the event itself counts
    double, and where one does, those that share only another word are left out. Of equal ones the first in `known` goes first."""
    said = set(text.split("_")) - SMALL_WORDS
    scores = {event: 2 * len(said & set(event.split("_"))) + len(said & {w for other in OTHER_WORDS.get(event, ()) for w in other.split("_")} - set(event.split("_"))) for event in known}
    least = min(2, max(scores.values(), default=0)) or 1
    return sorted((e for e, score in scores.items() if score >= least), key=lambda e: -scores[e])[:most]


__all__ = ["OTHER_WORDS", "event_called", "event_leading", "events_sharing", "nearest_first", "speaks_of_death"]
