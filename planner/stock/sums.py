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
    nitrogen_text: str
    room_text: str


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
    """The sums of the kept wishes, with one sentence on nitrogen and one on room."""
    nitrogen = sum(x.animal.nitrogen_mg_per_day * x.wish.count for x in kept)
    room_l = max(
        [sum(claim_l(x.animal, x.wish.count, figures) for x in kept), *(x.animal.room_l for x in kept)],
        default=0.0,
    )
    room_text = f"Together they need about {room_l:.0f} L of room when grown, and the tank holds {tank.net_volume_l:.0f} L of water."
    if any(x.animal.group in CORALS for x in kept) and ground_there_cm2(tank, figures) is None:
        room_text += " Tell us the tank's length and width, so that we can see whether all corals find ground."
    return ListSums(nitrogen, nitrogen_text(nitrogen, handled), room_text)


def nitrogen_text(given: float, handled: float | None, already: float = 0.0) -> str:
    """One sentence on nitrogen, all in mg/day; `handled` is what the filter is asked to prove, None if that is not known.
    With animals in, which give `already` of it, nothing is proven by dosing any more."""
    text = f"Fed as usual, these animals give about {given:.0f} mg of nitrogen a day"
    if already > 0:
        return f"{text}; those that are in give {f'{already:.0f}' if already >= 0.95 else 'less than 1'} mg of it."
    if handled is None:
        return f"{text}; how much the filter handles is not known before it has passed its challenge."
    if given <= handled:
        return f"{text}, and the proof before the first animal asks the filter for {handled:.0f} mg."
    return f"{text}, more than the {handled:.0f} mg that the filter has to prove."
