"""One animal and one tank: does it fit, under which conditions, or why not. Sentences, never a card of traits.

What the tank file does not say is never taken for a yes: it becomes a condition that asks for it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from planner.stock.animals import CORALS, SKILLS, Animal
from planner.stock.room_and_load import StockFigures

Verdict = Literal["fits", "with_conditions", "refused"]
Weight = Literal["refuses", "condition", "note"]
LEVELS = {"first": 0, "some": 1, "seasoned": 2}  # how much a keeper has done before
COUNT_WORDS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
HAZARDS: dict[str, tuple[Weight, str]] = {
    "venom_spines": ("condition", "Its spines inject venom: keep hands away, use a net of stiff mesh or a box, and after a sting rinse with hot water as hot as is bearable (45 °C at most, tried with the other hand) and see a doctor."),
    "venom_bite": ("condition", "Its bite carries venom: never hold it in the hand; see a doctor if a bite swells."),
    "tail_blade": ("note", "It carries a blade at the tail: use a box instead of a net, and keep fingers clear."),
    "cheek_spine": ("note", "Spines on its cheeks catch in nets: use a box."),
    "strong_bite": ("note", "It can bite a finger to the bone: no hand feeding."),
    "strong_pinch": ("note", "Its claws can hurt: wear gloves when it is near."),
    "claw_blow": ("condition", "The blow of its claw wounds people and cracks thin glass: no bare hand in this tank."),
    "sting": ("note", "It stings bare skin: wear gloves, and see a doctor if you react strongly."),
    "severe_sting": ("condition", "Its sting is severe and some people react dangerously: gloves and long sleeves, and a doctor at once if breathing becomes hard."),
    "palytoxin": ("condition", "It may hold palytoxin, one of the strongest poisons known: gloves and goggles, never boil, scrub, dry or cut it, air the room, and call a poison centre or a doctor for fever, cramps or trouble breathing after contact."),
    "poisons_tank": ("condition", "Injured or frightened to death it can poison the whole tank: guard every pump intake, keep carbon ready and enough mixed water for a large change."),
    "poison_flesh": ("note", "Its flesh is poisonous to eat; a dead one goes into the bin, out of reach of pets."),
}  # fmt: skip
PERMIT = (
    "Listed in CITES appendix {appendix} (index of 2017): papers may be needed to buy it abroad or to travel with it; keep the "
    "receipt and check your local law, which may go further. Never release it."
)


@dataclass(frozen=True, slots=True)
class TankForStock:
    """The tank as the stocking rules see it. Net litres of water; lengths in cm; `sand_kind` none, fine, mixed or
    coarse; `light_par` in umol/m2/s where the animal would stand; `experience` first, some or seasoned. None = not told."""

    net_volume_l: float
    length_cm: float | None = None
    width_cm: float | None = None
    height_cm: float | None = None
    sand_kind: str | None = None
    sand_depth_cm: float | None = None
    rock_kg: float | None = None
    lid: bool | None = None
    temperature_c: float | None = None
    light_par: float | None = None
    experience: str | None = None


@dataclass(frozen=True, slots=True)
class Reason:
    """One sentence and its weight. `change` is the smallest thing that would settle it, empty for a note."""

    code: str
    weight: Weight
    text: str
    change: str = ""


def verdict_of(reasons: tuple[Reason, ...]) -> Verdict:
    """The heaviest reason decides."""
    weights = {r.weight for r in reasons}
    return "refused" if "refuses" in weights else "with_conditions" if "condition" in weights else "fits"


def how_many(count: int) -> str:
    return COUNT_WORDS[count] if 0 <= count < len(COUNT_WORDS) else str(count)


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
        found.append(Reason("word", "note", animal.word))
    order = {"refuses": 0, "condition": 1, "note": 2}
    return tuple(sorted(found, key=lambda r: order[r.weight]))


def _skill(a: Animal, tank: TankForStock) -> list[Reason]:
    hardness = SKILLS.index(a.skill)
    if hardness == 0:
        return []
    if tank.experience not in LEVELS:
        if hardness == 1:
            return [Reason("skill", "condition", f"It asks for some attention. {a.word}")]
        text = f"Tell us how long you have kept marine animals: this is none for a first tank. {a.word}"
        return [Reason("skill", "condition", text, "tell us your experience")]
    level = LEVELS[tank.experience]
    if hardness <= level:
        return []
    if level == 0 and hardness == 1:
        return [Reason("skill", "condition", f"It asks for a watchful keeper. {a.word}")]
    if level > 0 and hardness == level + 1:
        return [Reason("skill", "condition", f"It asks for more than most animals you have kept. {a.word}")]
    later = "a tank of its own, planned around it" if a.skill == "specialist" else "a year or two of practice with easier animals"
    return [Reason("skill", "refuses", f"We would not start with it. {a.word}", later)]


def _room(a: Animal, tank: TankForStock, grace: float) -> list[Reason]:
    # The steps of room are round judgements, and a tank a hand's breadth of water below one is the same tank.
    volume_short = tank.net_volume_l < a.room_l * (1 - grace)
    swims_far = a.group == "fish"
    run_short = swims_far and tank.length_cm is not None and tank.length_cm < a.run_cm
    start = f"Grown to {a.adult_cm:g} cm it needs"
    if volume_short and run_short:
        text = (
            f"{start} about {a.room_l:.0f} L of water and {a.run_cm:.0f} cm of length to swim; here are {tank.net_volume_l:.0f} L and {tank.length_cm:.0f} cm."
        )
        return [Reason("room", "refuses", text, f"a tank {a.run_cm:.0f} cm long with {a.room_l:.0f} L of water")]
    found: list[Reason] = []
    if volume_short:
        text = f"{start} about {a.room_l:.0f} L of water; here are {tank.net_volume_l:.0f} L."
        found.append(Reason("room", "refuses", text, f"a tank with {a.room_l:.0f} L of water"))
    if run_short:
        text = f"{start} {a.run_cm:.0f} cm of length to swim; the tank has {tank.length_cm:.0f} cm."
        found.append(Reason("run", "refuses", text, f"a tank {a.run_cm:.0f} cm long"))
    if swims_far and tank.length_cm is None:
        text = f"Tell us the length of the tank: it needs {a.run_cm:.0f} cm to swim."
        found.append(Reason("run", "condition", text, "tell us the length"))
    return found


def _number(a: Animal, count: int) -> list[Reason]:
    if count < a.least:
        text = f"It is unhappy in small company: keep at least {how_many(a.least)}."
        return [Reason("number", "refuses", text, f"wish for {how_many(a.least)}")]
    if a.most and count > a.most:
        text = f"{how_many(count).capitalize()} would fight in one tank; keep at most {how_many(a.most)}."
        return [Reason("number", "refuses", text, f"wish for {how_many(a.most)}")]
    if count == 2 and a.most == 2:
        return [
            Reason(
                "pair",
                "condition",
                "Two live in peace only as a pair: buy a proven one, or two young ones from one brood.",
            )
        ]
    return []


def _warmth(a: Animal, tank: TankForStock) -> list[Reason]:
    band = f"{a.temp_low_c:g} to {a.temp_high_c:g} °C"
    if tank.temperature_c is None:
        return [
            Reason(
                "warmth",
                "condition",
                f"Tell us the temperature: it lives at {band}.",
                "tell us the temperature",
            )
        ]
    off_c = max(a.temp_low_c - tank.temperature_c, tank.temperature_c - a.temp_high_c)
    if off_c <= 0:
        return []
    text = f"It lives at {band} and the tank stands at {tank.temperature_c:g} °C."
    return [Reason("warmth", "refuses" if off_c > 1 else "condition", text, f"keep the tank at {band}")]


def _sand(a: Animal, tank: TankForStock) -> list[Reason]:
    if not a.sand_cm:
        return []
    depth_cm = 0.0 if tank.sand_kind == "none" else tank.sand_depth_cm
    if depth_cm is None:
        return [
            Reason(
                "sand",
                "condition",
                f"Tell us how deep the sand is: it needs {a.sand_cm:g} cm.",
                "tell us the depth of the sand",
            )
        ]
    found: list[Reason] = []
    change = f"sand {a.sand_cm:g} cm deep, at least in one corner"
    if depth_cm == 0:
        found.append(Reason("sand", "refuses", f"It needs sand {a.sand_cm:g} cm deep, and there is none.", change))
    elif depth_cm < a.sand_cm:
        text = f"It needs sand {a.sand_cm:g} cm deep and there are {depth_cm:g} cm: bank it up in one corner."
        found.append(Reason("sand", "condition", text, change))
    if depth_cm and a.sand_cm >= 5:
        if tank.sand_kind is None:
            found.append(
                Reason(
                    "grain",
                    "condition",
                    "Tell us what sand it is: coarse grain grazes animals that bury themselves.",
                    "tell us the sand",
                )
            )
        elif tank.sand_kind == "coarse":
            found.append(Reason("grain", "condition", "Coarse sand grazes its skin: give it fine sand.", "fine sand"))
    return found


def _cover(a: Animal, tank: TankForStock, figures: StockFigures) -> list[Reason]:
    if a.group != "fish" or a.swims not in ("near_rock", "perches"):
        return []
    grazer = a.kind == "dragonet"
    need_kg = figures.value("old_rock_kg") if grazer else figures.value("rock_per_litre") * min(tank.net_volume_l, a.room_l)
    what = "grown-in rock that breeds its food" if grazer else "rock to hide in"
    if tank.rock_kg is None:
        return [
            Reason(
                "cover",
                "condition",
                f"Tell us how much rock there is: it needs about {need_kg:.0f} kg of {what}.",
                "tell us the rock",
            )
        ]
    if tank.rock_kg < need_kg:
        text = f"It needs about {need_kg:.0f} kg of {what}; here are {tank.rock_kg:g} kg."
        return [Reason("cover", "refuses" if grazer else "condition", text, f"{need_kg:.0f} kg of rock")]
    return []


def _lid(a: Animal, tank: TankForStock) -> list[Reason]:
    if not a.jumps or tank.lid:
        return []
    if tank.lid is None:
        return [
            Reason(
                "lid",
                "condition",
                "Tell us whether the tank has a lid or a net: it jumps.",
                "tell us about the lid",
            )
        ]
    return [Reason("lid", "condition", "It jumps: only under a closed lid or a fine net.", "a lid or a net")]


def _light(a: Animal, tank: TankForStock, figures: StockFigures) -> list[Reason]:
    if a.light == "none":
        return []
    need = figures.value(f"light_{a.light}")
    if tank.light_par is None:
        text = f"Tell us how strong the light is: it needs about {need:.0f} µmol/m²/s of growing light where it stands."
        return [Reason("light", "condition", text, "tell us the light")]
    if tank.light_par >= need:
        return []
    text = f"It needs about {need:.0f} µmol/m²/s of growing light and gets {tank.light_par:.0f}."
    return [
        Reason(
            "light",
            "refuses" if tank.light_par < need / 2 else "condition",
            text,
            f"light of {need:.0f} µmol/m²/s",
        )
    ]


def _guard(a: Animal) -> list[Reason]:
    if a.group == "anemone":
        return [
            Reason(
                "pumps",
                "condition",
                "Every pump and overflow needs a guard before it moves in: it walks, and a loose one is shredded.",
                "guards on all pumps",
            )
        ]
    if a.group in CORALS and a.kind == "leather coral":
        return [
            Reason(
                "carbon",
                "note",
                "Run carbon, changed every few weeks, when stony corals live in the same water.",
            )
        ]
    return []


def _people(a: Animal) -> list[Reason]:
    found = [Reason(f"hazard_{h}", *HAZARDS[h]) for h in a.hazards]
    if a.cites:
        found.append(Reason("permit", "note", PERMIT.format(appendix=a.cites)))
    if a.law:
        found.append(Reason("law", "note", f"{a.law} Check your local law before you buy, and never release it."))
    return found
