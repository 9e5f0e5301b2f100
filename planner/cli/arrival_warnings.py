"""What has to be said when animals are written down. A fact is never refused; a mistake is named while it can be mended."""

from __future__ import annotations

from planner.cli.entry import Pen, Refused
from planner.judge.arrivals import read_arrivals
from planner.judge.facts import animals_in, gather
from planner.plan.stages import SORTS, tank_for_stock
from planner.show.words.causes import cause_words
from planner.stock.catalogue import Catalogue
from planner.stock.stages.why import sort_of
from planner.stock.verdict import Wish, judge_wishes


def warn_of_arrival(pen: Pen, catalogue: Catalogue, name: str, count: int) -> None:
    """Animals that come into the display: shut gates and holds, the time since the last ones, and whether they can be kept."""
    loaded = pen.loaded
    animal = catalogue.get(name) or catalogue.find(name).animal
    sort = SORTS[sort_of(animal)] if animal is not None else "fish"
    gate = pen.before.phase("animals")
    if gate is not None and gate.opened is None:
        pen.warnings.append("The gate to animals is not open: the water is not proven for them. What happened is written; `newtank today` says what to do now.")
    held = [h.because for h in pen.before.holds if h.gate in ("animals", sort)]
    if held:
        pen.warnings.append(f"New animals are on hold: {held[0]} What happened is written; `newtank today` says what to do now.")
    facts = gather(loaded.tank, loaded.journal, loaded.on)
    last, gap = read_arrivals(facts, catalogue).last_day, round(catalogue.figures.value("stage_gap"))
    if last is not None and 0 < (days := (pen.stamp.day - last).days) < gap:
        pen.warnings.append(f"The last animals came {days} day{'s' if days != 1 else ''} ago; {gap} days and clear tests lie between two stages. Test ammonia and nitrite daily for a week.")
    if animal is None:
        return
    living = [Wish(a.id, n) for what, n in animals_in(facts, "display").items() if (a := catalogue.find(what).animal) is not None]
    judged = judge_wishes(tank_for_stock(facts), [*living, Wish(animal.id, count)], catalogue, None)
    mine = next((a for a in judged.animals if a.animal_id == animal.id), None)
    reasons = [r.why for r in mine.reasons if r.weight == "refuses"] if mine is not None and mine.verdict == "refused" else []
    reasons += [c.why for c in judged.conflicts if animal.id in c.between]
    if reasons:
        pen.warnings.append(f"{animal.name[:1].upper()}{animal.name[1:]} cannot stay in this tank: {cause_words(reasons[0], loaded.tank.units)} Ask the shop to take it back; never release it.")


def check_loss(pen: Pen, catalogue: Catalogue, name: str, count: int, where: str) -> None:
    """More cannot be lost than lived there, where the journal knows of any."""
    facts = gather(pen.loaded.tank, pen.loaded.journal, pen.loaded.on)
    found = catalogue.find(name).animal
    alive = sum(n for what, n in animals_in(facts, where).items() if what == name or (found is not None and catalogue.find(what).animal is found))
    if 0 < alive < count:
        raise Refused(f"{count} x {name} cannot have been lost: the journal knows of {alive} in the {where}. Write the number that was lost, or first note those that are missing with `newtank note added {name} N --at DATE`")
    if alive == 0:
        pen.warnings.append(f"The journal knows of no {name} in the {where}. If it lived in another water, say so with --where.")


__all__ = ["check_loss", "warn_of_arrival"]
