"""A house rule in words: what a shop changed or added, where it stands, and what the shipped rule says."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

from planner.rulebook.shapes import HouseRule, Rulebook
from planner.show.words.words import plain_name

_PARTS = {"needs_too": "a condition that must hold too for", "holds": "a hold on", "stuck": "advice for"}
_LONGEST = 160


def subject_of(rule: HouseRule, called: Callable[[str], str] = lambda id: id if id.startswith("gate/") else f"task {id}") -> str:
    """What the rule is about, in words; `called` names a task or a gate."""
    id, _, key = rule.id.partition("#")
    kind, slash, name = id.partition("/")
    if kind == "gate":
        return f"{_PARTS[key]} {called(id)}" if key in _PARTS else f"{key} of {called(id)}"
    if kind in ("number", "caution", "source", "animal") and slash:
        said = plain_name(name) if kind == "number" else f"{kind} {name}"
        return f"{key} of {said}" if key else said
    thing = called(id) if slash else id
    return f"{plain_name(key)} of {thing}" if key else thing


def house_words(rule: HouseRule) -> str:
    """`mix wait: 48 h; the shipped rule says 24 h (rules/setup/water.yaml:29:5)`."""
    said = f"{subject_of(rule)}: {_short(rule.now)}"
    if not rule.was:
        return f"{said} (added)"
    return f"{said}; the shipped rule says {_short(rule.was)} ({rule.shipped})"


def house_about(book: Rulebook, ids: Iterable[str]) -> tuple[HouseRule, ...]:
    """The house rules about these ids and the keys below them."""
    wanted = set(ids)
    return tuple(rule for rule in book.house if rule.id in wanted or rule.id.partition("#")[0] in wanted)


def house_document(rule: HouseRule) -> dict[str, Any]:
    """The same as an object; `shipped` is empty where something was added."""
    return {"id": rule.id, "change": "changed" if rule.was else "added", "rule": str(rule.place), "now": rule.now, "was": rule.was, "shipped": str(rule.shipped or "")}


def _short(text: str) -> str:
    return text if len(text) <= _LONGEST else text[: _LONGEST - 3].rstrip() + "..."


__all__ = ["house_about", "house_document", "house_words", "subject_of"]
