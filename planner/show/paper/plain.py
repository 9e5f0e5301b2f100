"""Rule texts as a keeper with a pencil reads them: no commands, no keys, no ids, and days as the paper writes them.

The rules speak to somebody at a keyboard. On paper a command becomes a note on the log sheet, a key of the tank file
becomes what it means, and the id of a task its title.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date
from typing import Any

from planner.rulebook.shapes import Rulebook
from planner.show.words.wish_list import stages_provisional
from planner.show.words.words import short_day
from planner.stock.catalogue import Catalogue
from planner.terms.records import Plan

Plain = Callable[[str], str]

PHRASES = (
    (r"Tick this with `--amount` and the litres really poured", "Write the litres really poured beside the tick"),
    (r"Note it, changed_water with --where (\w+)", r"Note the change of \1 water on the log sheet"),
    (r",? with --where (\w+)", r" as \1 water"),
    (r"Note a bad smell with `newtank note [^`]*`, and slime with `newtank note [^`]*`", "Note a bad smell or slime on the log sheet"),
    (r"once more note `newtank note [^`]*`", "once more note it on the log sheet"),
    (r",? with `newtank note [^`]*`", " on the log sheet"),
    (r"take it back with `newtank undo`", "strike it out on the log sheet"),
    (r"; `newtank [^`]*` says [^.;]*", ""),
    (r"Write rock\.kind, rock\.mass and for live rock rock\.cured_in into the tank file", "Write on the log sheet what kind of rock it is, its mass, and for live rock where it is cured"),
    (r"Change rock\.kind to live in the tank file, and the plan cures it", "Write on the log sheet that the rock is live; the next plan cures it"),
    (r"write rock\.kind dry into the tank file", "write on the log sheet that the rock is dry"),
    (r"write water\.mixed_in bin into the tank file", "write on the log sheet that the salt is mixed in a bin"),
    (r"Write water\.source distilled or ready_mixed into the tank file", "Write distilled or ready-mixed water on the log sheet"),
    (r"Set room\.floor in the tank file so that the plan asks for it", "Write on the log sheet what the floor is, so that the next plan asks for it"),
    (r"Write room\.floor, solid or suspended", "Write on the log sheet whether it is solid or suspended"),
    (r"write rock\.kind\b", "write the answer on the log sheet"),
    (r"Write the id [^.]*?into the tank file\.", "Tell the shop which one is meant."),
    (r"(?:Add some to|Change the list in) the tank file when you want (some|them)", r"Tell the shop when you want \1"),
    (r"([Ww])rite (?:equipment\.)?([\w. ]+?), yes or no, into the tank file", r"\1rite yes or no for a \2 on the log sheet"),
    (r"\b(in)?to the tank file", "on the log sheet"),
    (r"Write into the tank file", "Write on the log sheet"),
    (r"\((?:[\w ]+: )?describe the tank further\)", "(not known yet)"),
    (r"as in the tank file", "as told to the shop"),
    (r"\bthe tank file", "the description of the tank"),
    (r"\bThe tank file", "The description of the tank"),
)
_PHRASES = tuple((re.compile(found), said) for found, said in PHRASES)
_INNER_SIGN = re.compile(r"[`_/#]|--|\w\.[a-z]|\d-\d\d-|\([a-z]+-|tank file|describe the tank")
"""What every text has that must be put into other words; most have nothing of it."""
_SENTENCE = re.compile(r"(?<=[.!?]) +(?=[A-Z`])")
_COMMAND = re.compile(r"`newtank\b|(?<!\w)--(?:amount|at|on|rules|shop|tank|where)\b")
"""What only a keyboard can do. Other signs of this kind are somebody's own words, and stay."""
_ID = r"[a-z][a-z-]*/[a-z][a-z0-9-]*(?:#\d+)?"
_IN_BRACKETS = re.compile(rf" ?\({_ID}(?:(?:,| or| and)? {_ID})*\)")
_TASK = re.compile(rf"(?<![\w/.])(?:task )?({_ID})(?![\w/])")
_KEY = re.compile(r"(?<![\w/.@])(?:room|rock|water|equipment|tank|sand|cycle|light|lights|kits|test_kits)\.(?!ya?ml)([a-z]\w*)\b(?!\()")
_UNDERSCORES = re.compile(r"(?<![\w/.:@])[a-z][a-z0-9]*(?:_[a-z0-9]+)+(?![\w/])")
_ANIMAL = re.compile(r" \(([a-z]+(?:-[a-z0-9]+)+)\)")
_AWAY = re.compile(r"\baway from (\d{4}-\d\d-\d\d) to (\d{4}-\d\d-\d\d)")
_ISO_DAY = re.compile(r"(\b[Oo]n )?\b(\d{4}-\d\d-\d\d)\b")


def plain_words(plan: Plan, rules: Rulebook, fill: Plain, catalogue: Catalogue | None) -> Plain:
    """The translation for one plan: its titles stand for ids, and its state says which days are certain. `fill` puts this
    tank's figures into rule texts."""
    titles = {key: f"“{fill(task.title)}”" for key, task in rules.tasks.items()} | {f"gate/{p.id}": f"the gate “{p.title}”" for p in plan.phases}
    sources = {key: f"{s.authors} {s.year}" if s.year else s.authors for key, s in rules.sources.items()}
    moving = stages_provisional(plan)

    def titled(found: re.Match[str]) -> str:
        return titles.get(found[1].partition("#")[0], found[0])

    def in_words(found: re.Match[str]) -> str:
        try:
            day = date.fromisoformat(found[2])
        except ValueError:
            return found[0]
        if moving and day > plan.on:
            return ("About " if (found[1] or "").startswith("O") else "about ") + short_day(day, plan.on)
        return (found[1] or "") + short_day(day, plan.on)

    def without_animal_id(found: re.Match[str]) -> str:
        return found[0] if catalogue is None or catalogue.get(found[1]) is None else ""

    def plain(text: str) -> str:
        if not _INNER_SIGN.search(text):
            return text
        for pattern, said in _PHRASES:
            text = pattern.sub(said, text)
        if _COMMAND.search(text):
            text = " ".join(s for s in _SENTENCE.split(text) if not _COMMAND.search(s))
        text = _TASK.sub(titled, _IN_BRACKETS.sub("", _ANIMAL.sub(without_animal_id, text)))
        text = _AWAY.sub(lambda m: f"away from {short_day(date.fromisoformat(m[1]), plan.on)} to {short_day(date.fromisoformat(m[2]), plan.on)}", text)
        text = _KEY.sub(lambda m: m[1].replace("_", " "), text)
        return _ISO_DAY.sub(in_words, _UNDERSCORES.sub(lambda m: sources.get(m[0]) or m[0].replace("_", " "), text))

    return plain


def made_plain(data: Any, plain: Plain) -> Any:
    """The same data with every text made plain; a line of a list that said nothing but a command is gone."""
    if isinstance(data, str):
        return plain(data)
    if isinstance(data, dict):
        return {key: made_plain(value, plain) for key, value in data.items()}
    if isinstance(data, list):
        return [made for value in data if (made := made_plain(value, plain)) != "" or value == ""]
    if isinstance(data, tuple):
        return tuple(made_plain(value, plain) for value in data)
    return data


__all__ = ["Plain", "made_plain", "plain_words"]
