"""Which edition of a printed plan this is, and what changed since the last one. The facts of an edition travel inside its
file, so that the next one can be held against them; without such a file a plan is a first edition."""

from __future__ import annotations

import hashlib
import json
import re
import zlib
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from planner.show.json.record_objects import Json

ATTACHED = "edition.json"
MOST_CHANGES = 6
SHEETS = {"This tank": ("drawing", "there", "road", "sources"), "Shopping": ("shopping",), "Cycle sheet": ("cycle",), "Weekly care": ("care",), "Animals": ("animals",), "Cautions and words": ("cautions", "words", "house_rules", "sources")}
"""The sheets of a printed plan but its first side and its cards, each with the data that it shows."""
_EMBEDDED = re.compile(rb"/Type\s*/EmbeddedFile\b.*?stream\r?\n(.*?)\nendstream", re.DOTALL)
"""A stream may itself end in a carriage return, so none is taken from its end; behind a whole one it does no harm."""


@dataclass(frozen=True, slots=True)
class Edition:
    """`number` counts from 1; `changes` are lines for the first page; `sheets`, and of the cards those of the phases in `cards`, say
    something else than before (all of a first edition, none where nothing changed)."""

    number: int = 1
    changes: tuple[str, ...] = ()
    sheets: tuple[str, ...] = ()
    cards: tuple[str, ...] = ()
    last: str = ""

    @property
    def words(self) -> str:
        return "first edition" if self.number == 1 else f"edition {self.number}"


FIRST = Edition()


def facts_of(data: Json, number: int) -> Json:
    """What an edition says: a digest of each sheet, and the facts by which a change is told."""
    parts = {name: [data[key] for key in keys] for name, keys in SHEETS.items()}
    said = {row["title"]: "finished" if row["done"] else row["likely"] or row["counted"] for stretch in data["road"]["stretches"] for row in stretch["rows"]}
    return {
        "edition": number, "printed": data["printed"], "sheets": {name: _digest(part) for name, part in parts.items() if part and part != [None]},
        "cards": {s["title"]: _digest(s) for s in data["cards"]["sections"]},
        "said": said | {"Water in it": data["wall"]["water"], "Not yet": data["wall"]["not_yet"]["what"]}, "jobs": sorted({c["title"] for s in data["cards"]["sections"] for c in s["cards"]}),
        "shopping": sorted({r["name"] for t in data["shopping"]["trips"] for a in t["aisles"] for r in a["rows"]}),
    }


def next_edition(last: Json | None, data: Json) -> Edition:
    """The edition that this data makes after the last one."""
    if last is None:
        return FIRST
    now = facts_of(data, last["edition"] + 1)
    sheets, cards = (tuple(name for name, digest in now[kind].items() if last[kind].get(name) != digest) for kind in ("sheets", "cards"))
    gone = [name for kind in ("sheets", "cards") for name in last[kind] if name not in now[kind]]
    if not (sheets or cards or gone) and now["said"] == last["said"]:
        return Edition(last["edition"], last=last["printed"])
    changes = [f"{title}: {words}, was {last['said'][title]}" for title, words in now["said"].items() if last["said"].get(title) and words and last["said"][title] != words and words != "finished"]
    finished = [title for title, words in now["said"].items() if words == "finished" and last["said"].get(title) != "finished"]
    told = [*_named("Finished", finished), *changes, *_named("New jobs", set(now["jobs"]) - set(last["jobs"])), *_named("To buy now", set(now["shopping"]) - set(last["shopping"]))]
    kept = told[:MOST_CHANGES] + ([f"and {len(told) - MOST_CHANGES} more"] if len(told) > MOST_CHANGES else [])
    exchange = [*_named("Exchange", (*sheets, *cards)), *_named("Throw away", gone)]
    return Edition(last["edition"] + 1, (*kept, *exchange), sheets, cards, last["printed"])


def _named(label: str, names: Iterable[str]) -> list[str]:
    found = sorted(names)
    return [f"{label}: {', '.join(found[:4])}" + (f" and {len(found) - 4} more" if len(found) > 4 else "")] if found else []


def _digest(part: Any) -> str:
    return hashlib.sha256(json.dumps(part, sort_keys=True, ensure_ascii=True).encode()).hexdigest()[:16]


def facts_in(pdf: bytes) -> Json | None:
    """The facts that a printed plan of ours carries; None for any other file."""
    for found in _EMBEDDED.finditer(pdf):
        for data in (found[1], _inflated(found[1])):
            try:
                told = json.loads(data)
            except (ValueError, UnicodeDecodeError):
                continue
            if isinstance(told, dict) and {"edition", "printed", "sheets", "cards", "said", "jobs", "shopping"} <= told.keys() and isinstance(told["edition"], int):
                return told
    return None


def _inflated(data: bytes) -> bytes:
    try:
        return zlib.decompress(data)
    except zlib.error:
        return b""


__all__ = ["ATTACHED", "FIRST", "SHEETS", "Edition", "facts_in", "facts_of", "next_edition"]
