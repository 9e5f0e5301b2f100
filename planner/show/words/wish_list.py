"""The judged wish list in words, for the terminal and for paper."""

from __future__ import annotations

from collections.abc import Sequence

from planner.plan.stage_records import StockPlan
from planner.show.words.causes import all_words, cause_words
from planner.show.words.words import listed
from planner.stock.catalogue import Catalogue
from planner.stock.left_out import LeftOut
from planner.stock.suitability import Reason
from planner.stock.verdict import Conflict, Wish
from planner.terms.records import Plan
from planner.terms.texts import TANK_FILE

VERDICTS = {"fits": "fits", "with_conditions": "fits if", "refused": "not in this tank"}


def animal_name(animal_id: str, catalogue: Catalogue | None) -> str:
    """The name in the catalogue; the id where it has none."""
    animal = catalogue.get(animal_id) if catalogue is not None else None
    return animal.name if animal is not None else animal_id


def counted(count: int, name: str, times: str = "x") -> str:
    """`clownfish`, `2 x clownfish`."""
    return name if count == 1 else f"{count} {times} {name}"


def wish_words(wish: Wish, catalogue: Catalogue | None, times: str = "x") -> str:
    return counted(wish.count, animal_name(wish.animal_id, catalogue), times)


def unclear_words(written: str, could: Sequence[str], catalogue: Catalogue) -> str:
    """A wish that names no single animal, with what may be meant."""
    if not could:
        return f"We do not know '{written}'. Check the spelling, or take it off the list."
    return f"'{written}' could be more than one animal. Did you mean {catalogue.choice(could)}? Write the name of the one you mean, or that your shop sells, into {TANK_FILE}."


def reason_words(reason: Reason, units: str) -> str:
    """Why, and what would settle it unless the reason asks for that itself."""
    settles = reason.change is not None and reason.change.kind != "tell_us"
    return cause_words(reason.why, units) + (f" What would help: {cause_words(reason.change, units)}." if reason.change is not None and settles else "")


def left_out_words(left: LeftOut, catalogue: Catalogue | None, units: str) -> str:
    change = "; ".join(all_words(left.smallest_change, units))
    return f"{animal_name(left.animal_id, catalogue)}: {cause_words(left.why, units)}" + (f" What would help: {change}." if change else "")


def change_words(left: LeftOut, units: str) -> str:
    """The smallest change that would admit a wish."""
    return listed(all_words(left.smallest_change, units))


def kindred_words(left: LeftOut, catalogue: Catalogue | None) -> str:
    """What could come in its stead; empty if nothing is known."""
    names = [animal_name(i, catalogue) for i in left.instead]
    return f"Similar animals that would fit: {listed(names)}." if names else ""


def quarrels(stock: StockPlan) -> list[Conflict]:
    """Who cannot live together, without animals that are refused anyway."""
    refused = {a.animal_id for a in stock.verdict.animals if a.verdict == "refused"}
    return [c for c in stock.verdict.conflicts if not refused & set(c.between)]


def stages_provisional(plan: Plan) -> bool:
    """Are the days of all stages provisional, because the gate to animals is shut?"""
    gate = plan.phase_as("opens_to_animals")
    return gate is None or gate.opened is None


__all__ = ["VERDICTS", "animal_name", "change_words", "counted", "kindred_words", "left_out_words", "quarrels", "reason_words", "stages_provisional", "unclear_words", "wish_words"]
