"""What the catalogue says about one animal, and the words it may use to say it."""

from __future__ import annotations

from dataclasses import dataclass

from planner.terms.problems import Place

GROUPS = (
    "fish", "crustacean", "mollusc", "echinoderm", "worm", "anemone", "soft_coral", "large_polyp", "small_polyp",
    "clam",
)  # fmt: skip
CORALS = frozenset({"soft_coral", "large_polyp", "small_polyp"})
SKILLS = ("easy", "attentive", "seasoned", "specialist")
PREY = frozenset(
    [
        "fish",
        "little_fish",
        "shrimp",
        "little_shrimp",
        "crabs",
        "hermits",
        "snails",
        "clams",
        "mantles",
        "polyps",
        "buttons",
        "anemones",
        "tube_worms",
        "urchins",
        "stars",
    ]
)
WORDS: dict[str, frozenset[str]] = {
    "manner": frozenset({"mild", "bold", "fierce"}),
    "swims": frozenset({"open", "near_rock", "perches", "burrows", "crawls", "stays"}),
    "body": frozenset({"", "eel", "thread", "reed", "slim", "spindle", "perch", "deep", "ball"}),
    "skill": frozenset(SKILLS),
    "light": frozenset({"none", "low", "medium", "high"}),
    "flow": frozenset({"gentle", "middling", "strong"}),
    "cites": frozenset({"", "I", "II", "III"}),
    "rivals": frozenset({"own", "house", "form"}),
    "eats": PREY,
    "nips": PREY,
    "counts_as": PREY,
    "hazards": frozenset(
        [
            "venom_spines",
            "venom_bite",
            "tail_blade",
            "cheek_spine",
            "strong_bite",
            "strong_pinch",
            "claw_blow",
            "sting",
            "severe_sting",
            "palytoxin",
            "poisons_tank",
            "poison_flesh",
        ]
    ),
    "food": frozenset(["drift", "small_life", "film", "leftovers", "light", "sponges"]),
    "truce": frozenset({"true", "false"}),
    "jumps": frozenset({"true", "false"}),
}
TEXTS = frozenset({"id", "name", "latin", "kind", "family", "source", "house", "form", "law", "word"})
LISTS = frozenset({"also", "rivals", "counts_as", "eats", "nips", "houses", "food", "hazards", "together", "temp_c"})
NUMBERS = frozenset({"adult_cm", "gape", "age_days", "sand_cm", "load", "reach_cm", "run_cm"})
KEYS = frozenset(TEXTS | LISTS | NUMBERS | frozenset(WORDS))
NEEDED = ("id", "name", "latin", "kind", "adult_cm", "word")


@dataclass(frozen=True, slots=True)
class Animal:
    """One animal of the catalogue. Lengths in cm, mass in g, `together` = (least, most; 0 = as many as there is
    room for). `eats` is certain, `nips` is a risk; `gape` is the longest fish it swallows as a share of its own
    length. `house` and `form` say whom it takes for a rival; `law` says where it is restricted or guarded, as far as a source was read; `reach_cm` is the clear distance that other corals need.
    `nitrogen_mg_per_day`, `room_l` and `run_cm` follow from the figures of the rules."""

    id: str
    name: str
    latin: str
    also: tuple[str, ...]
    group: str
    kind: str
    family: str
    adult_cm: float
    source: str
    manner: str
    rivals: tuple[str, ...]
    house: str
    form: str
    body: str
    truce: bool
    least: int
    most: int
    swims: str
    counts_as: tuple[str, ...]
    eats: tuple[str, ...]
    nips: tuple[str, ...]
    gape: float
    houses: tuple[str, ...]
    food: tuple[str, ...]
    age_days: int
    skill: str
    light: str
    flow: str
    temp_low_c: float
    temp_high_c: float
    cites: str
    hazards: tuple[str, ...]
    jumps: bool
    sand_cm: float
    reach_cm: float
    law: str
    word: str
    mass_g: float
    nitrogen_mg_per_day: float
    room_l: float
    run_cm: float
    place: Place

    @property
    def grade(self) -> str:
        """Grade of the adult size; everything else about an animal is common practice."""
        return "practice" if self.source == "practice" else "review"
