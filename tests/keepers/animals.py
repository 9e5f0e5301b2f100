"""Animals of the virtual tank: what they give off, what they bear, and when they die.

The limits are the keepers' own (after 96-hour tests of sea fish and reef practice, widened to what a healthy animal bears
for a day); a whole day at twice a limit kills about half of a group. Nobody here knows what the plan warns of.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field

from tests.keepers.tank import Water

GROUPS = {
    "fish": {"nh3": 0.08, "nitrite": 12.0, "salinity": (26.0, 40.0), "temperature": (21.5, 30.0), "oxygen": 3.2, "salinity_step": 4.0, "alkalinity_step": 4.0},
    "crew": {"nh3": 0.06, "nitrite": 4.0, "salinity": (30.0, 39.0), "temperature": (20.5, 29.5), "oxygen": 2.8, "salinity_step": 2.2, "alkalinity_step": 4.0},
    "shrimp": {"nh3": 0.05, "nitrite": 3.0, "salinity": (31.0, 38.5), "temperature": (21.0, 29.5), "oxygen": 3.0, "salinity_step": 1.8, "alkalinity_step": 3.0},
    "soft": {"nh3": 0.06, "nitrite": 4.0, "salinity": (31.0, 38.5), "temperature": (22.0, 29.5), "oxygen": 2.8, "salinity_step": 2.0, "alkalinity_step": 2.5},
    "stony": {"nh3": 0.04, "nitrite": 3.0, "salinity": (32.0, 38.0), "temperature": (22.5, 29.0), "oxygen": 3.2, "salinity_step": 1.6, "alkalinity_step": 1.6},
}
KINDS = {
    "fish": ("amphiprion", "gramma", "ecsenius", "salarias", "chromis", "chrysiptera", "elacatinus", "gobiodon", "cryptocentrus", "nemateleotris", "pterapogon", "pseudocheilinus",
             "halichoeres", "zebrasoma", "paracanthurus", "ctenochaetus", "centropyge", "pterois", "synchiropus", "siganus", "serranus", "pseudochromis", "fish"),
    "shrimp": ("lysmata", "thor", "stenopus"),
    "soft": ("sarcophyton", "sinularia", "xenia", "discosoma", "zoanthus", "clavularia", "briareum", "rhodactis", "ricordea", "soft-coral", "capnella"),
    "stony": ("euphyllia", "fimbriaphyllia", "caulastraea", "montipora", "acropora", "pocillopora", "stylophora", "duncanopsammia", "entacmaea", "lps-coral", "sps-coral", "tridacna"),
}
NITROGEN = {"zebrasoma": 60.0, "paracanthurus": 70.0, "pterois": 90.0, "siganus": 70.0, "ctenochaetus": 50.0, "centropyge": 14.0, "halichoeres": 14.0, "salarias": 16.0}
"""mg N a day of one animal as fed, where it is not the group's usual figure."""
USUAL = {"fish": 9.0, "crew": 0.5, "shrimp": 2.0, "soft": 0.6, "stony": 0.6}


def group_of(animal: str) -> str:
    genus = animal.split("-")[0] if animal not in ("soft-coral", "lps-coral", "sps-coral") else animal
    return next((group for group, names in KINDS.items() if genus in names), "crew")


@dataclass
class Group:
    """Some animals of one kind in one water."""

    animal: str
    count: int
    group: str
    hurt: float = 0.0
    """0 healthy, 1 dead."""

    @property
    def nitrogen(self) -> float:
        return self.count * NITROGEN.get(self.animal.split("-")[0], USUAL[self.group])


@dataclass
class Stock:
    """All animals of one water, with the hours they suffered by cause."""

    groups: list[Group] = field(default_factory=list)
    harm: dict[str, float] = field(default_factory=dict)
    before: tuple[float, float, float] | None = None

    def __len__(self) -> int:
        return sum(g.count for g in self.groups)

    def add(self, animal: str, count: int) -> None:
        self.groups.append(Group(animal, max(1, count), group_of(animal)))

    def take(self, animal: str, count: int) -> int:
        """Lift animals out; how many there were."""
        taken = 0
        for group in self.groups:
            if group.animal == animal and taken < count:
                part = min(group.count, count - taken)
                group.count -= part
                taken += part
        self.groups = [g for g in self.groups if g.count > 0]
        return taken

    def nitrogen(self, feeding: float) -> float:
        """mg N a day; unfed animals still give off a tenth."""
        return sum(g.nitrogen for g in self.groups) * max(0.1, feeding)

    def suffer(self, water: Water, hours: float, luck: random.Random) -> list[tuple[str, int]]:
        """Let these hours of water act on the animals; who died of it."""
        now = (water.salinity, water.alkalinity, water.temperature)
        steps = tuple(abs(a - b) for a, b in zip(now, self.before or now, strict=True))
        self.before = now
        dead: list[tuple[str, int]] = []
        for group in self.groups:
            wounds = {cause: w for cause, w in trouble(group.group, water, steps).items() if w > 0}
            for cause in wounds:
                self.harm[cause] = self.harm.get(cause, 0.0) + hours
            group.hurt = max(0.0, group.hurt + sum(min(w, 6.0) for w in wounds.values()) * hours / 36 - (hours / 240 if not wounds else 0.0))
            if group.hurt > 0.8:
                died = sum(luck.random() < 0.5 for _ in range(group.count)) if group.hurt < 1.2 else group.count
                if died:
                    dead.append((group.animal, died))
                    group.count -= died
                    group.hurt = 0.5
                    water.rot(died * min(120.0, 6 * group.nitrogen / max(1, group.count + died) + 5))
        self.groups = [g for g in self.groups if g.count > 0]
        return dead


def trouble(group: str, water: Water, steps: tuple[float, ...]) -> dict[str, float]:
    """How far each limit of a group is passed, as a share of the limit; 0 is well."""
    limit = GROUPS[group]
    low, high = limit["salinity"]  # type: ignore[misc]
    cold, warm = limit["temperature"]  # type: ignore[misc]
    return {
        "ammonia": water.free_ammonia / limit["nh3"] - 1,  # type: ignore[operator]
        "nitrite": water.nitrite / limit["nitrite"] - 1,  # type: ignore[operator]
        "salinity": max(low - water.salinity, water.salinity - high) / 2,
        "temperature": max(cold - water.temperature, water.temperature - warm) / 2,
        "oxygen": (limit["oxygen"] - water.oxygen) / 1.5,  # type: ignore[operator]
        "salinity step": (steps[0] - limit["salinity_step"]) * 4,  # type: ignore[operator]
        "alkalinity step": (steps[1] - limit["alkalinity_step"]) * 2,  # type: ignore[operator]
        "chlorine": water.chlorine * 10,
    }
