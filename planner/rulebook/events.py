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


FILLERS = frozenset(["a", "an", "and", "cat", "cats", "child", "daughter", "dog", "dogs", "husband", "i", "is", "are", "am", "has", "have", "had", "he", "his", "her", "kid", "my", "of", "our", "pet", "partner", "she",
                     "somebody", "someone", "son", "tank", "the", "there", "toddler", "we", "wife", "you", "your", "got", "it", "its", "was", "were", "fish", "one", "water", "aquarium", "from", "in", "to"])
"""Words with which a sentence begins that name no event. Whole names go first, such as `fish on the floor`."""
IN_DANGER = frozenset(["shock", "shocked", "electrocuted", "swallowed", "swallow", "drank", "drunk", "drinks", "drinking", "ate", "child", "kid", "toddler", "baby", "son", "daughter", "breathe", "breathing", "unconscious",
                       "fainted", "collapsed", "choking", "burned", "burnt", "eye", "eyes", "poisoned"])
FIRST_OF_ALL = "If somebody is in danger, call the emergency number first. After a shock, switch off before you touch anybody. After something was swallowed or is in an eye, call a poison centre, for a pet a vet."
"""The usual advice of emergency services, common practice without a source."""
NO_PERSON = frozenset(["coral", "corals", "fish", "shrimp"])


def speaks_of_danger(text: str) -> bool:
    """Whether a folded sentence may tell of a person or a pet in danger. A fish that breathes fast is none."""
    said = set(text.split("_"))
    return bool(said & IN_DANGER) and not (said & NO_PERSON and said & IN_DANGER <= {"breathing", "breathe", "eye", "eyes", "ate"})


def event_called(word: str, known: Iterable[str]) -> str | None:
    """The event that goes by this word, if the rules know it."""
    known = frozenset(known)
    return word if word in known else next((event for event, words in OTHER_WORDS.items() if word in words and event in known), None)


def event_leading(words: Sequence[str], known: Iterable[str]) -> tuple[str, int, int] | None:
    """The event that these words name after any that say nothing of it, as many of them as one name takes; with the places where its
    name begins and ends."""
    known = frozenset(known)
    for begin in range(len(words)):
        for end in range(len(words), begin, -1):
            if (event := event_called(fold(" ".join(words[begin:end])), known)) is not None:
                return event, begin, end
        if fold(words[begin]) not in FILLERS:
            return None
    return None


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


__all__ = ["FIRST_OF_ALL", "OTHER_WORDS", "event_called", "event_leading", "events_sharing", "nearest_first", "speaks_of_danger", "speaks_of_death"]
