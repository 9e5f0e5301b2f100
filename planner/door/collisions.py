"""What a row must not say of one water without being asked about: ammonia or a medicine where animals live."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from planner.files.journal_form import NewRow
from planner.judge.facts import animals_in
from planner.terms.journal_words import one_word

if TYPE_CHECKING:
    from planner.door.acts import Desk


def collisions(desk: Desk, fact: NewRow) -> Iterator[str]:
    """Ammonia or a medicine and animals never meet in one tank: a row that says they did is asked about before it is written."""
    if fact.where not in ("display", ""):
        return
    day = desk.stamp.day
    if fact.kind == "dosed" and one_word("dosed", fact.what) == "ammonia":
        living = animals_in(desk.facts, "display")
        came = next((r for kind in ("added", "moved") for r in desk.facts.rows(kind) if r.where == "display" and r.day == day), None)
        hidden = next((line for kind in ("added", "moved") if (line := desk.facts.damaged(kind, None, "display")) is not None), None)
        if came is not None:
            yield f"An animal came on the same day (journal line {came.line}), and ammonia kills. Was ammonia dosed all the same?"
        elif living:
            yield "Animals live in the tank, and ammonia kills. Was ammonia dosed all the same?"
        elif hidden is not None:
            yield f"Journal line {hidden.line} cannot be read, so animals may be in the tank, and ammonia kills. Was ammonia dosed all the same?"
    elif (what := _medicine(fact)) and animals_in(desk.facts, "display"):
        yield f"{what.capitalize()} in the reef tank, where animals live? It kills snails, shrimps and corals. The quarantine tank is a water of its own. Did it go into the reef tank?"
    elif fact.kind in ("added", "moved"):
        dose = next((r for r in desk.facts.rows("dosed", "ammonia") if r.where == "display" and r.day == day), None)
        if dose is not None:
            yield f"Ammonia was dosed on the same day (journal line {dose.line}). Did the animal come all the same?"


def _medicine(fact: NewRow) -> str:
    """What a row says was given against an illness; empty where it says no such thing."""
    if fact.kind == "dosed":
        return word if (word := one_word("dosed", fact.what)) in ("copper", "medicine") else ""
    return {"medicated": "medicine", "copper": "copper"}.get(one_word("event", fact.what), "") if fact.kind == "event" else ""


__all__ = ["collisions"]
