"""What a list adds up to: room claimed, nitrogen given, ground covered; against what the tank has."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from planner.stock.animals import CORALS, Animal
from planner.stock.largest_set import Sum
from planner.stock.neighbours import MOVING
from planner.stock.room_and_load import StockFigures
from planner.stock.suitability import Reason, TankForStock
from planner.terms.causes import Cause, about, cause, in_turn


@dataclass(frozen=True, slots=True)
class Wish:
    """So many of one animal of the catalogue, by id. A list's order is the buyer's order of preference."""

    animal_id: str
    count: int = 1


@dataclass(frozen=True, slots=True)
class Item:
    """A wish with its animal and what was found about it alone."""

    wish: Wish
    animal: Animal
    reasons: tuple[Reason, ...]


@dataclass(frozen=True, slots=True)
class ListSums:
    """Sums over the kept wishes: nitrogen in mg/day, and what is said of nitrogen and room."""

    nitrogen_given_mg_per_day: float
    nitrogen_told: Cause
    room_told: Cause


def claim_l(animal: Animal, count: int, figures: StockFigures) -> float:
    """Litres that `count` of a moving animal keep for themselves: a share of their own room, by manner."""
    if animal.group not in MOVING:
        return 0.0
    first_l = figures.value(f"claim_{animal.manner}") * animal.room_l
    return first_l * (1 + figures.value("claim_next") * (count - 1))


def ground_cm2(animal: Animal, count: int) -> float:
    """Ground in cm² for `count` colonies: a disc of the grown colony and half of its clear distance all round."""
    if not animal.reach_cm:
        return 0.0
    return count * math.pi / 4 * (animal.adult_cm + animal.reach_cm) ** 2


def ground_there_cm2(tank: TankForStock, figures: StockFigures) -> float | None:
    """Ground in cm² on which corals can be placed; None if a side was not told."""
    if tank.length_cm is None or tank.width_cm is None:
        return None
    return figures.value("ground_share") * tank.length_cm * tank.width_cm


def limits_of(items: Sequence[Item], tank: TankForStock, handled: float | None, figures: StockFigures) -> list[Sum]:
    """The sums that no kept list may exceed: claims, nitrogen if the filter has shown any, ground if the sides are told."""
    limits = [Sum(tuple(claim_l(i.animal, i.wish.count, figures) for i in items), tank.net_volume_l)]
    if handled is not None:
        limits.append(Sum(tuple(i.animal.nitrogen_mg_per_day * i.wish.count for i in items), handled))
    ground = ground_there_cm2(tank, figures)
    if ground is not None:
        limits.append(Sum(tuple(ground_cm2(i.animal, i.wish.count) for i in items), ground))
    return limits


def list_sums(kept: Sequence[Item], tank: TankForStock, handled: float | None, figures: StockFigures) -> ListSums:
    """The sums of the kept wishes, and what is to be told of nitrogen and of room."""
    nitrogen = sum(x.animal.nitrogen_mg_per_day * x.wish.count for x in kept)
    room_l = max(
        [sum(claim_l(x.animal, x.wish.count, figures) for x in kept), *(x.animal.room_l for x in kept)],
        default=0.0,
    )
    room = [cause("room_together", room=about(room_l, "L"), there=about(tank.net_volume_l, "L"))]
    if any(x.animal.group in CORALS for x in kept) and ground_there_cm2(tank, figures) is None:
        room.append(cause("untold_ground"))
    return ListSums(nitrogen, nitrogen_told(nitrogen, handled), in_turn(room))


def nitrogen_told(given: float, handled: float | None, already: float = 0.0) -> Cause:
    """What is to be told of nitrogen, all in mg/day; `handled` is what the filter is asked to prove, None if that is not known.
    With animals in, which give `already` of it, nothing is proven by dosing any more."""
    fed = about(given, "mg")
    if already > 0:
        return cause("nitrogen_already", given=fed, already=already)
    if handled is None:
        return cause("nitrogen_unproven", given=fed)
    return cause("nitrogen_within" if given <= handled else "nitrogen_beyond", given=fed, handled=about(handled, "mg"))
