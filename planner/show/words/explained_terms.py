"""Words of the trade, each with its line of explanation, shown once where it first appears. The sheet itself is data,
`rules/words.yaml`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from planner.rulebook.words import Word, words_in
from planner.show.words.words import Page


@dataclass
class Glossary:
    """Remembers what was explained on this page."""

    words: Mapping[str, Word] = field(default_factory=dict)
    told: set[str] = field(default_factory=set)
    waiting: list[Word] = field(default_factory=list)

    def hear(self, *texts: str) -> None:
        """Note the terms in these texts that have no line yet."""
        for word in words_in(texts, self.words):
            if word.term not in self.told:
                self.told.add(word.term)
                self.waiting.append(word)

    def explain(self, page: Page, indent: int = 0) -> None:
        """Write a line for each term heard since the last time."""
        for word in self.waiting:
            page.labelled("meaning", word_line(word), indent, role="soft")
        self.waiting.clear()


def word_line(word: Word) -> str:
    return f"{word.term}: {word.says}."


__all__ = ["Glossary", "word_line"]
