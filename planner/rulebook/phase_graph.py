"""The phases as a graph: what waits for what."""

from __future__ import annotations

from planner.rulebook.shapes import PhaseRule, Rulebook


def descendants(gate: str, phases: tuple[PhaseRule, ...]) -> frozenset[str]:
    """Every phase that waits, directly or not, for this gate."""
    found: set[str] = set()
    grown = True
    while grown:
        grown = False
        for phase in phases:
            if phase.phase not in found and any(b == gate or b in found for b in (*phase.after, *phase.beside)):
                found.add(phase.phase)
                grown = True
    return frozenset(found)


def proof_to_animals(book: Rulebook) -> tuple[str, ...]:
    """The phases behind the proof of the filter, up to the one that opens the tank for animals, in order."""
    last = book.phase_as("opens_to_animals")
    behind = descendants(book.phase_as("proves_filter"), book.phases)
    return tuple(p.phase for p in sorted(book.phases, key=lambda p: (p.order, p.phase)) if p.phase in behind and (p.phase == last or last in descendants(p.phase, book.phases)))


__all__ = ["descendants", "proof_to_animals"]
