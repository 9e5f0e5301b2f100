"""What has to be said when animals are written down. A fact is never refused; a mistake is named while it can be mended."""

from __future__ import annotations

from collections.abc import Iterator

from planner.door.acts import Desk
from planner.judge.animals_in_journal import read_arrivals
from planner.judge.facts import animals_in
from planner.plan.stage_records import SORTS
from planner.plan.stages import tank_for_stock
from planner.stock.catalogue import Catalogue
from planner.stock.stages.why import sort_of
from planner.stock.verdict import Wish, judge_wishes
from planner.terms.causes import Cause, cause
from planner.terms.texts import either, joined, run
from planner.terms.units import Refusal

WRITTEN = joined(" What happened is always written down. Then ", either(run("today"), "today’s page"), " says what to do.")


def of_arrival(desk: Desk, catalogue: Catalogue, name: str, count: int) -> Iterator[str | Cause]:
    """Animals that come into the display: shut gates and holds, the time since the last ones, and whether they can be kept."""
    animal = catalogue.get(name) or catalogue.find(name).animal
    sort = desk.plan.phase_as(f"stocks_{SORTS[sort_of(animal)] if animal is not None else 'fish'}")
    gate = desk.plan.phase_as("opens_to_animals")
    if gate is not None and gate.opened is None:
        yield joined("The tank is not open to animals yet: its water has not passed the tests.", WRITTEN)
    held = [h.because for h in desk.plan.holds if h.gate in {p.id for p in (gate, sort) if p is not None}]
    if held:
        yield joined("New animals are on hold: ", held[0], WRITTEN)
    last, gap = read_arrivals(desk.facts, catalogue).last_day, round(catalogue.figures.value("stage_gap"))
    if last is not None and 0 < (days := (desk.stamp.day - last).days) < gap:
        yield f"The last animals came {days} day{'s' if days != 1 else ''} ago; {gap} days and clear tests lie between two stages. Test ammonia and nitrite daily for a week."
    if animal is None:
        return
    living = [Wish(a.id, n) for what, n in animals_in(desk.facts, "display").items() if (a := catalogue.find(what).animal) is not None]
    judged = judge_wishes(tank_for_stock(desk.facts), [*living, Wish(animal.id, count)], catalogue, None)
    mine = next((a for a in judged.animals if a.animal_id == animal.id), None)
    reasons = [r.why for r in mine.reasons if r.weight == "refuses"] if mine is not None and mine.verdict == "refused" else []
    reasons += [c.why for c in judged.conflicts if animal.id in c.between]
    if reasons:
        yield cause("cannot_stay_here", name=f"{animal.name[:1].upper()}{animal.name[1:]}", why=reasons[0])


def of_loss(desk: Desk, catalogue: Catalogue, name: str, count: int, where: str) -> str | Refusal | None:
    """More cannot be lost than lived there, where the journal knows of any; what has to be said where it knows of none."""
    found = catalogue.find(name).animal
    called = either(name, found.name if found is not None else name)
    alive = sum(n for what, n in animals_in(desk.facts, where).items() if what == name or (found is not None and catalogue.find(what).animal is found))
    if 0 < alive < count:
        return Refusal("more-than-lived", joined(f"{count} x ", called, f" cannot have been lost: the journal knows of {alive} in the {where}"),
                       joined("write the number that was lost, or first note those that are missing", either(f" with `newtank note added {name} N --at DATE`", "")))
    return joined("The journal knows of no ", called, f" in the {where}. ", either("If it lived in another water, say so with --where.", "Did it live there?")) if alive == 0 else None


__all__ = ["of_arrival", "of_loss"]
