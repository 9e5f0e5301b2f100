"""The sheet of terms: what each thing is called, and what the word means for somebody who has not met it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from functools import lru_cache

from planner.rulebook.kinds.node import Written
from planner.rulebook.texts import PlainText


class Word(Written):
    """`term` is the word that we use, `says` its line of explanation, `also` other ways to write it, `avoid` words that no
    text of ours uses for it. `on_pages`: explained where a page uses it, not only when somebody asks."""

    term: PlainText
    says: PlainText
    also: tuple[str, ...] = ()
    avoid: tuple[str, ...] = ()
    on_pages: bool = True

    def is_in(self, text: str, lowered: str) -> bool:
        """Does the text use the word? `lowered` is the same in small letters."""
        return any(_stands(said, text, lowered) for said in (self.term, *self.also))


def _stands(said: str, text: str, lowered: str) -> bool:
    """Does the word stand there by itself? One with a capital, such as SG, means nothing in small letters. Looking for the letters
    first is many times faster than an expression that ignores case, and a printed plan is long."""
    small = said.lower()
    at = lowered.find(small)
    if at >= 0 and len(lowered) != len(text):  # a sign that has two in small letters
        return _whole(said).search(text) is not None
    while at >= 0:
        if (said == small or text.startswith(said, at)) and not _in_word(text[at - 1 : at], "_-") and not _in_word(text[at + len(small) : at + len(small) + 1], "_"):
            return True
        at = lowered.find(small, at + 1)
    return False


def _in_word(sign: str, others: str) -> bool:
    return sign.isalnum() or (sign != "" and sign in others)


@lru_cache(maxsize=512)
def _whole(said: str) -> re.Pattern[str]:
    return re.compile(rf"(?<![\w-]){re.escape(said)}(?!\w)", 0 if said != said.lower() else re.IGNORECASE)


def words_in(texts: Iterable[str], words: Mapping[str, Word]) -> tuple[Word, ...]:
    """The words that these texts use, in the order of the sheet."""
    heard = [(text, text.lower()) for text in texts]
    return tuple(word for word in words.values() if word.on_pages and any(word.is_in(*text) for text in heard))


def find_word(asked: str, words: Mapping[str, Word]) -> Word | None:
    """The word that somebody asks about, under any of its names, also one that we avoid."""
    wanted = _plain(asked)
    return next((w for w in words.values() if wanted in {_plain(said) for said in (w.term, *w.also, *w.avoid)}), None)


def _plain(said: str) -> str:
    return " ".join(said.lower().replace("-", " ").split())


__all__ = ["Word", "find_word", "words_in"]
