"""Size, room and nitrogen of an animal from the catalogue's figures. Numbers in, numbers out.

Every figure comes from `rules/livestock/numbers.yaml` through `StockFigures`; nothing is hard-coded here.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

MG_PER_G = 1000.0
NEEDED_FIGURES = frozenset(
    [
        "adult_share",
        "run_open",
        "run_near_rock",
        "run_perches",
        "run_burrows",
        "run_crawls",
        "run_stays",
        "floor_open",
        "floor_near_rock",
        "floor_perches",
        "floor_burrows",
        "floor_crawls",
        "floor_stays",
        "manner_bold",
        "manner_fierce",
        "floor_bold",
        "floor_fierce",
        "claim_mild",
        "claim_bold",
        "claim_fierce",
        "claim_next",
        "truce_factor",
        "truce_fierce",
        "ground_share",
        "rock_per_litre",
        "old_rock_kg",
        "light_low",
        "light_medium",
        "light_high",
        "mass_eel",
        "mass_thread",
        "mass_reed",
        "mass_slim",
        "mass_spindle",
        "mass_perch",
        "mass_deep",
        "mass_ball",
        "feed_share",
        "metabolic_exponent",
        "protein_share",
        "nitrogen_per_protein",
        "wait_soft_coral",
        "wait_large_polyp",
        "wait_small_polyp",
        "wait_anemone",
        "wait_clam",
        "wait_dragonet",
        "stage_gap",
        "stage_fish",
        "stage_corals",
        "stage_crew",
        "first_fish",
        "stage_share",
        "stage_free_ammonia",
        "settle_days",
        "ration_least",
        "order_wait",
        "first_small",
        "room_grace",
        "quarantine_days",
        "quarantine_pause",
        "fallow_days",
    ]
)
REFERENCE_MASS_G = 10.0  # the load of an invertebrate is given in fish of this mass


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure of the stocking rules with its provenance; `value` in `unit`."""

    name: str
    value: float
    unit: str
    grade: str
    source: str
    where: str
    note: str
    says: str = ""
    published: tuple[float, ...] = ()
    of: str = ""


@dataclass(frozen=True, slots=True)
class RoomStep:
    """One of our tank steps: a tank of this length is planned with this volume."""

    length_cm: float
    volume_l: float


@dataclass(frozen=True, slots=True)
class StockFigures:
    """All figures of the stocking rules, looked up by name, and the tank steps in ascending length."""

    figures: tuple[Figure, ...]
    steps: tuple[RoomStep, ...]
    value: Callable[[str], float]
    """The value of a figure. Raises KeyError for a name that the file does not have: a bug of ours, since
    `catalogue.load_catalogue` checks that all are there."""


def mass_from_length_g(length_cm: float, shape_factor_g_per_cm3: float) -> float:
    """Mass in g of an animal of `length_cm` (total length, over 0). M = k L^3, k by body shape (practice, checked
    against published length and weight relations in the truth tests)."""
    if length_cm <= 0:
        raise ValueError("a length must be above zero")
    return float(shape_factor_g_per_cm3 * length_cm**3)


def feed_from_mass_g_per_day(mass_g: float, figures: StockFigures) -> float:
    """Dry food in g/day of one fish of `mass_g` (over 0).

    Feed = feed_share x 10 g x (M / 10 g)^metabolic_exponent (exponent Barneche & Allen 2018; feed is practice).
    """
    if mass_g <= 0:
        raise ValueError("a mass must be above zero")
    relative: float = (mass_g / REFERENCE_MASS_G) ** figures.value("metabolic_exponent")
    return figures.value("feed_share") * REFERENCE_MASS_G * relative


def nitrogen_from_mass_mg_per_day(mass_g: float, figures: StockFigures) -> float:
    """Ammonia nitrogen in mg/day that one fish of `mass_g` (over 0) gives when fed.

    Nitrogen = feed x protein_share x 0.092 (ammonia production from feed, Timmons & Ebeling 2007; protein is practice).
    """
    at = figures.value
    return feed_from_mass_g_per_day(mass_g, figures) * at("protein_share") * at("nitrogen_per_protein") * MG_PER_G


def nitrogen_from_load_mg_per_day(load: float, figures: StockFigures) -> float:
    """Ammonia nitrogen in mg/day of an invertebrate whose load is given in 10 g fish (0 or more)."""
    return load * nitrogen_from_mass_mg_per_day(REFERENCE_MASS_G, figures)


def step_from_length(length_cm: float, steps: tuple[RoomStep, ...]) -> RoomStep:
    """The smallest step at least `length_cm` long. Beyond the last one the volume grows with the length cubed."""
    for step in steps:
        if length_cm <= step.length_cm:
            return step
    last = steps[-1]
    return RoomStep(round(length_cm), round(last.volume_l * (length_cm / last.length_cm) ** 3))


def room_from_size(adult_cm: float, swims: str, manner: str, moves: bool, group_least: int, own_run_cm: float, figures: StockFigures) -> RoomStep:
    """The tank an animal needs: see the head of `rules/livestock/numbers.yaml` for the rule.

    `adult_cm` over 0; `moves` is true for fish and crustaceans, whose manner counts; `own_run_cm` above 0 replaces
    the computed length.
    """
    at = figures.value
    if own_run_cm > 0:
        return step_from_length(own_run_cm, figures.steps)
    run_cm = adult_cm * at(f"run_{swims}")
    floor_cm = at(f"floor_{swims}")
    if moves and manner != "mild":
        run_cm *= at(f"manner_{manner}")
        floor_cm = max(floor_cm, at(f"floor_{manner}"))
    step = step_from_length(max(run_cm, floor_cm), figures.steps)
    if moves and group_least >= 3 and step in figures.steps[:-1]:
        step = figures.steps[figures.steps.index(step) + 1]
    return step
