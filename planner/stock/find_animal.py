"""Which animal a buyer means: by its id, a name, a word of one, or a near misspelling."""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from planner.stock.animals import Animal

LEAST_BEGINNING = 4
"""Letters that a word has at least for longer ones to be meant by it."""


@dataclass(frozen=True, slots=True)
class Found:
    """Answer to a lookup. `how` is id, name, near (a misspelling with one clear reading), ambiguous or unknown;
    `animal` is None for the last two, and `candidates` lists ids, best first."""

    how: str
    animal: Animal | None
    candidates: tuple[str, ...]


@dataclass(frozen=True)
class Names:
    """All names of these animals."""

    animals: tuple[Animal, ...]

    @cached_property
    def by_id(self) -> dict[str, Animal]:
        return {a.id: a for a in self.animals}

    @cached_property
    def by_name(self) -> dict[str, tuple[str, ...]]:
        by_name: dict[str, list[str]] = {}
        for a in self.animals:
            for word in {bare_name(w) for w in (a.id, a.name, a.latin, *a.also)}:
                by_name.setdefault(word, []).append(a.id)
        return {word: tuple(ids) for word, ids in by_name.items()}

    @cached_property
    def words(self) -> dict[str, tuple[frozenset[str], ...]]:
        """Of each animal the words of each of its names, in the singular and the plural."""
        return {a.id: tuple(_words_of(name) for name in (a.name, a.latin, a.kind, a.family, *a.also)) for a in self.animals}

    def find(self, text: str) -> Found:
        """The animal meant by an id, a common or scientific name, an older name, or a near misspelling of one."""
        exact = self.by_id.get(text)
        if exact is not None:
            return Found("id", exact, (exact.id,))
        word = bare_name(text)
        singular = word.removesuffix("s")
        for asked in (word, singular, f"{word}s"):
            ids = self.by_name.get(asked, ())
            if len(ids) == 1:
                return Found("name", self.by_id.get(ids[0]), ids)
            if ids:
                return Found("ambiguous", None, ids)
        if not word:
            return Found("unknown", None, ())
        inside = self._with_words(set(singular.split())) or self._with_words({singular.replace(" ", "")})  # "clown fish"
        inside.sort(key=lambda animal: not self._ends_with(animal, singular))  # a hammer coral is a coral, and a coral beauty a fish
        if len(inside) > 1 and len(singular) >= LEAST_BEGINNING:  # who says "clown" means a clownfish more often than a clown goby
            inside = list(dict.fromkeys([*self._beginning(singular), *inside]))
        if inside:
            only = self.by_id.get(inside[0]) if len(inside) == 1 else None
            if only is not None and len(singular.split()) == 1:
                ends = [w for n in (only.name, *only.also) for w in (n.split()[0], n.split()[-1])]
                if not {word, singular} & {w for name in (only.kind, only.latin, *ends) for w in bare_name(name).split()}:
                    only = None  # "reef" is no hermit crab, though one is called a scarlet reef hermit
            return Found("name" if only else "ambiguous", only, tuple(inside))
        # "soft coral" names a group of the catalogue and is no misspelt "sun coral".
        group = tuple(a.id for a in self.animals if bare_name(a.group.replace("_", " ")) == singular)
        return Found("ambiguous", None, group) if group else self._near(word)

    def among(self, text: str, ids: Sequence[str]) -> list[str]:
        """Which of these animals is called so, name and id together too; else those of which a name has this in it."""
        word = bare_name(text)
        called = {a.id: {bare_name(n) for n in (a.id, a.name, a.latin, f"{a.name} {a.id}", *a.also)} for i in ids if (a := self.by_id.get(i)) is not None}
        for asked in filter(None, (word, word.removesuffix("s"))):
            found = [i for i, names in called.items() if asked in names] or [i for i, names in called.items() if any(asked in name for name in names)]
            if found:
                return found
        return []

    def _with_words(self, wanted: set[str]) -> list[str]:
        """Animals of which one name has all these words."""
        return [animal for animal, names in self.words.items() if any(wanted <= words for words in names)]

    def _ends_with(self, animal: str, word: str) -> bool:
        """Is the word what the animal is, and not what it is like? In English names that is the last one."""
        found = self.by_id[animal]
        return any(bare_name(name).endswith(word) for name in (found.name, *found.also))

    def _beginning(self, word: str) -> list[str]:
        """Animals of which one name has a longer word that begins so."""
        return [animal for animal, names in self.words.items() if any(w.startswith(word) and w not in (word, f"{word}s") for words in names for w in words)]

    def _near(self, word: str) -> Found:
        close = difflib.get_close_matches(word, self.by_name, n=6, cutoff=0.72)
        ids = tuple(dict.fromkeys(i for name in close for i in self.by_name[name]))
        if not ids:
            return Found("unknown", None, ())
        best = difflib.SequenceMatcher(None, word, close[0]).ratio()
        second = next(
            (difflib.SequenceMatcher(None, word, n).ratio() for n in close[1:] if self.by_name[n] != self.by_name[close[0]]),
            0.0,
        )
        clear = best >= 0.82 and best - second >= 0.04 and len(self.by_name[close[0]]) == 1
        return Found("near", self.by_id.get(ids[0]), ids) if clear else Found("ambiguous", None, ids)


def bare_name(text: str) -> str:
    """A name in small letters, without marks: as it is compared."""
    kept = "".join(c if c.isalnum() else " " for c in text.lower().replace("'", "").replace("’", ""))
    return " ".join(kept.split())


def _words_of(name: str) -> frozenset[str]:
    words = bare_name(name).split()
    return frozenset((*words, *(w[:-1] for w in words if w.endswith("s"))))


__all__ = ["Found", "Names", "bare_name"]
