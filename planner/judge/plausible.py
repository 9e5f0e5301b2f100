"""Rows that contradict geometry, or what the rules can ever ask for: a slipped zero in litres makes every dose ten times too large.

They are unknown until the keeper confirms them (`confirmed` in the note): volumes fall back on geometry, nothing is dosed on
them, and a doubtful dose counts as the full one against ceilings and never as proof.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date

from planner.files.journal import is_confirmed
from planner.files.tank import Tank
from planner.judge.challenge import dose_rise
from planner.judge.facts import Facts, gather, measure_water, poured_rows
from planner.judge.figures import quantity
from planner.rulebook.shapes import Rulebook
from planner.science.dosing import n_rise_mg_l
from planner.terms.amounts import format_amount
from planner.terms.records import Journal, Row, Unreadable, index_journal

VOLUME_SLACK = 0.25
"""Litres poured and geometry agree within this share (glass, rock and sand are known no better; common practice, no source)."""
FIX = "correct it, or write `confirmed` in its note if it is right"


def believed(tank: Tank, journal: Journal, rules: Rulebook, on: date) -> Journal:
    """The journal with every doubtful row among those that cannot be read."""
    found = dict(doubts(tank, journal, rules, on))
    if not found:
        return journal
    rows = [r for r in journal.rows if r not in found]
    lines = [Unreadable(r.line, r.day, r.what if r.kind == "dosed" else None, r.where, r.kind, r.latest, wrong, FIX, doubted=True) for r, wrong in found.items() if wrong]
    return index_journal(rows, (*journal.unreadable, *lines), journal.file)


def doubts(tank: Tank, journal: Journal, rules: Rulebook, on: date) -> Iterator[tuple[Row, str]]:
    """Doubtful rows, each with what is wrong; of litres that were poured in parts the last says it for all."""
    poured = poured_rows(journal, on)
    bare = Journal(())
    geometry = measure_water(tank, bare, on).value
    total = sum(r.low or 0.0 for r in poured)
    misfit = bool(poured) and geometry > 0 and abs(total / geometry - 1) > VOLUME_SLACK and not is_confirmed(poured[-1].note)
    if misfit:
        wrong = f"{format_amount(total, 'L', tank.units)} were poured in all, and by its measures this tank holds about {format_amount(geometry, 'L', tank.units)}"
        yield from ((r, "" if r is not poured[-1] else wrong) for r in poured)
    changes = [r for r in journal.of("changed_water", "*", on) if r.where == "display" and r.unit.strip() != "%" and not is_confirmed(r.note)]
    doses = [r for r in journal.of("dosed", "ammonia", on) if r.where == "display" and not is_confirmed(r.note)]
    if not changes and not doses:
        return
    facts = gather(tank, index_journal([r for r in journal.rows if r not in poured]) if misfit else journal, on)
    yield from ((r, f"{format_amount(r.low or 0.0, 'L', tank.units)} were changed in a tank of about {format_amount(facts.net_volume_l, 'L', tank.units)}") for r in changes if (r.low or 0.0) > facts.net_volume_l * (1 + VOLUME_SLACK))
    least, most = asked_rises(facts, rules)
    for row in doses:
        rise = dose_rise(row, facts)
        if most > 0 and rise > 0 and not least / 2 <= rise * 1.005 and rise <= most * 2.01:
            yield row, f"this dose is {rise:.2g} mg/L as N, and the smallest that is ever asked of this tank is {least:.2g}"
        elif most > 0 and rise > most * 2.01:
            yield row, f"this dose is {rise:.2g} mg/L as N, and the largest that is ever asked of this tank is {most:.2g}"


def asked_rises(facts: Facts, rules: Rulebook) -> tuple[float, float]:
    """The smallest and the largest dose of ammonia that a task can ask of this tank, mg/L as N; 0 where none asks."""
    found = []
    for name in sorted({t.writes.amount for t in rules.tasks.values() if t.writes is not None and t.writes.what == "ammonia" and t.writes.amount}):
        asked = quantity(name, replace(facts, list_proof=None), rules)
        if asked is not None:
            found.append(n_rise_mg_l(asked.value, facts.net_volume_l) if asked.unit == "g" else asked.value)
    return (min(found), max(found)) if found else (0.0, 0.0)


__all__ = ["asked_rises", "believed", "doubts"]
