"""One animal and one tank: does it fit, under which conditions, or why not. Causes, never a card of traits.

What the tank file does not say is never taken for a yes: it becomes a condition that asks for it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from planner.stock.animals import CORALS, SKILLS, Animal
from planner.stock.room_and_load import StockFigures
from planner.terms.causes import Amount, Cause, Span, about, cause

Verdict = Literal["fits", "with_conditions", "refused"]
Weight = Literal["refuses", "condition", "note"]
LEVELS = {"first": 0, "some": 1, "seasoned": 2}  # how much a keeper has done before
HAZARDS: dict[str, Weight] = {
    "venom_spines": "condition", "venom_bite": "condition", "tail_blade": "note", "cheek_spine": "note", "strong_bite": "note", "strong_pinch": "note",
    "claw_blow": "condition", "sting": "note", "severe_sting": "condition", "palytoxin": "condition", "poisons_tank": "condition", "poison_flesh": "note",
}
HOT_WATER = Amount(45, "°C")
"""As hot as a sting is rinsed at most."""


@dataclass(frozen=True, slots=True)
class TankForStock:
    """The tank as the stocking rules see it. Net litres of water; lengths in cm; `sand_kind` none, fine, mixed or
    coarse; `light_par` in umol/m2/s where the animal would stand; `experience` first, some or seasoned. None = not told."""

    net_volume_l: float
    length_cm: float | None = None
    width_cm: float | None = None
    sand_kind: str | None = None
    sand_depth_cm: float | None = None
    rock_kg: float | None = None
    lid: bool | None = None
    temperature_c: float | None = None
    light_par: float | None = None
    experience: str | None = None


@dataclass(frozen=True, slots=True)
class Reason:
    """One cause and its weight. `change` is the smallest thing that would settle it, None for a note."""

    code: str
    weight: Weight
    why: Cause
    change: Cause | None = None


def verdict_of(reasons: tuple[Reason, ...]) -> Verdict:
    """The heaviest reason decides."""
    weights = {r.weight for r in reasons}
    return "refused" if "refuses" in weights else "with_conditions" if "condition" in weights else "fits"


def reasons_for(animal: Animal, count: int, tank: TankForStock, figures: StockFigures) -> tuple[Reason, ...]:
    """Every reason for or against `count` (1 or more) of this animal in this tank, refusals first."""
    skill = _skill(animal, tank)
    found = [
        *_room(animal, tank, figures.value("room_grace")),
        *skill,
        *_number(animal, count),
        *_warmth(animal, tank),
        *_sand(animal, tank),
        *_cover(animal, tank, figures),
        *_lid(animal, tank),
        *_light(animal, tank, figures),
        *_guard(animal),
        *_people(animal),
    ]
    if not skill:  # the skill reason says it already
        found.append(Reason("word", "note", cause("word", word=animal.word)))
    order = {"refuses": 0, "condition": 1, "note": 2}
    return tuple(sorted(found, key=lambda r: order[r.weight]))


def _tell_us(code: str, why: Cause, what: str) -> Reason:
    """What the tank file does not say is asked for."""
    return Reason(code, "condition", why, cause("tell_us", what=cause(what)))


def _skill(a: Animal, tank: TankForStock) -> list[Reason]:
    hardness = SKILLS.index(a.skill)
    if hardness == 0:
        return []
    if tank.experience not in LEVELS:
        if hardness == 1:
            return [Reason("skill", "condition", cause("asks_attention", word=a.word))]
        return [_tell_us("skill", cause("untold_experience", word=a.word), "your_experience")]
    level = LEVELS[tank.experience]
    if hardness <= level:
        return []
    if level == 0 and hardness == 1:
        return [Reason("skill", "condition", cause("asks_watchful_keeper", word=a.word))]
    if level > 0 and hardness == level + 1:
        return [Reason("skill", "condition", cause("asks_more_than_most", word=a.word))]
    return [Reason("skill", "refuses", cause("not_to_start_with", word=a.word), cause("tank_of_its_own" if a.skill == "specialist" else "practice_first"))]


def _room(a: Animal, tank: TankForStock, grace: float) -> list[Reason]:
    # The steps of room are round judgements, and a tank a hand's breadth of water below one is the same tank.
    volume_short = tank.net_volume_l < a.room_l * (1 - grace)
    swims_far = a.group == "fish"
    grown, room, run = Amount(a.adult_cm, "cm"), about(a.room_l, "L"), about(a.run_cm, "cm")
    there = about(tank.net_volume_l, "L")
    length = about(tank.length_cm, "cm") if tank.length_cm is not None else None
    run_short = swims_far and tank.length_cm is not None and tank.length_cm < a.run_cm
    if volume_short and run_short and length is not None:
        return [Reason("room", "refuses", cause("room_and_run_short", grown=grown, room=room, run=run, there=there, length=length), cause("longer_tank_with", run=run, room=room))]
    found: list[Reason] = []
    if volume_short:
        found.append(Reason("room", "refuses", cause("room_short", grown=grown, room=room, there=there), cause("tank_with", room=room)))
    if run_short and length is not None:
        found.append(Reason("run", "refuses", cause("run_short", grown=grown, run=run, length=length), cause("longer_tank", run=run)))
    if swims_far and tank.length_cm is None:
        found.append(_tell_us("run", cause("untold_length", run=run), "the_length"))
    return found


def _number(a: Animal, count: int) -> list[Reason]:
    if count < a.least:
        return [Reason("number", "refuses", cause("too_few", least=a.least), cause("wish_for", count=a.least))]
    if a.most and count > a.most:
        return [Reason("number", "refuses", cause("too_many", count=count, most=a.most), cause("wish_for", count=a.most))]
    if count == 2 and a.most == 2:
        return [Reason("pair", "condition", cause("only_a_pair"))]
    return []


def _warmth(a: Animal, tank: TankForStock) -> list[Reason]:
    band = Span(a.temp_low_c, a.temp_high_c, "°C")
    if tank.temperature_c is None:
        return [_tell_us("warmth", cause("untold_temperature", band=band), "the_temperature")]
    off_c = max(a.temp_low_c - tank.temperature_c, tank.temperature_c - a.temp_high_c)
    if off_c <= 0:
        return []
    return [Reason("warmth", "refuses" if off_c > 1 else "condition", cause("too_warm_or_cold", band=band, there=Amount(tank.temperature_c, "°C")), cause("keep_at", band=band))]


def _sand(a: Animal, tank: TankForStock) -> list[Reason]:
    if not a.sand_cm:
        return []
    needed = Amount(a.sand_cm, "cm")
    depth_cm = 0.0 if tank.sand_kind == "none" else tank.sand_depth_cm
    if depth_cm is None:
        return [_tell_us("sand", cause("untold_sand_depth", needed=needed), "the_depth_of_the_sand")]
    found: list[Reason] = []
    change = cause("sand_deep", needed=needed)
    if depth_cm == 0:
        found.append(Reason("sand", "refuses", cause("no_sand", needed=needed), change))
    elif depth_cm < a.sand_cm:
        found.append(Reason("sand", "condition", cause("sand_shallow", needed=needed, there=Amount(depth_cm, "cm")), change))
    if depth_cm and a.sand_cm >= 5:
        if tank.sand_kind is None:
            found.append(_tell_us("grain", cause("untold_grain"), "the_sand"))
        elif tank.sand_kind == "coarse":
            found.append(Reason("grain", "condition", cause("coarse_sand"), cause("fine_sand")))
    return found


def _cover(a: Animal, tank: TankForStock, figures: StockFigures) -> list[Reason]:
    if a.group != "fish" or a.swims not in ("near_rock", "perches"):
        return []
    grazer = a.kind == "dragonet"
    need_kg = figures.value("old_rock_kg") if grazer else figures.value("rock_per_litre") * min(tank.net_volume_l, a.room_l)
    needed, what = about(need_kg, "kg"), cause("grown_in_rock" if grazer else "rock_to_hide_in")
    if tank.rock_kg is None:
        return [_tell_us("cover", cause("untold_rock", needed=needed, what=what), "the_rock")]
    if tank.rock_kg < need_kg:
        why = cause("rock_short", needed=needed, what=what, there=Amount(tank.rock_kg, "kg"))
        return [Reason("cover", "refuses" if grazer else "condition", why, cause("more_rock", needed=needed))]
    return []


def _lid(a: Animal, tank: TankForStock) -> list[Reason]:
    if not a.jumps or tank.lid:
        return []
    if tank.lid is None:
        return [_tell_us("lid", cause("untold_lid"), "about_the_lid")]
    return [Reason("lid", "condition", cause("jumps"), cause("lid_or_net"))]


def _light(a: Animal, tank: TankForStock, figures: StockFigures) -> list[Reason]:
    if a.light == "none":
        return []
    need = figures.value(f"light_{a.light}")
    needed = about(need, "µmol/m²/s")
    if tank.light_par is None:
        return [_tell_us("light", cause("untold_light", needed=needed), "the_light")]
    if tank.light_par >= need:
        return [Reason("light", "note", cause("light_enough", needed=needed, there=round(tank.light_par)))]
    why = cause("light_short", needed=needed, there=round(tank.light_par))
    return [Reason("light", "refuses" if tank.light_par < need / 2 else "condition", why, cause("more_light", needed=needed))]


def _guard(a: Animal) -> list[Reason]:
    if a.group == "anemone":
        return [Reason("pumps", "condition", cause("walks_into_pumps"), cause("guards_on_pumps"))]
    if a.group in CORALS and a.kind == "leather coral":
        return [Reason("carbon", "note", cause("run_carbon"))]
    return []


def _people(a: Animal) -> list[Reason]:
    found = [Reason(f"hazard_{h}", HAZARDS[h], cause(f"hazard_{h}", hot=HOT_WATER) if h == "venom_spines" else cause(f"hazard_{h}")) for h in a.hazards]
    if a.cites:
        found.append(Reason("permit", "note", cause("permit", appendix=a.cites)))
    if a.law:
        found.append(Reason("law", "note", cause("law", law=a.law)))
    return found
