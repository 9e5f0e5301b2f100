"""Which lives are lived: from a seed a tank file, a temper, kits, a wish list and what goes wrong. One seed, one life."""

from __future__ import annotations

import random
import uuid
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any

WAYS = ("live_tank", "live_bin", "cured_dosed", "dry_dosed", "dry_food", "dry_bottled", "dry_media")
TEMPERS = ("obedient", "forgetful", "impatient", "holiday")
FAULTS = ("none", "leak_test", "power_cut", "heater_stuck", "none", "heater_off", "filter_rinsed", "salty_top_up", "none", "double_dose", "typo", "body", "smell", "ill", "stale_air")
WISHES: tuple[tuple[str, list[tuple[str, int]]], ...] = (
    ("good", [("amphiprion-ocellaris", 2), ("gramma-loreto", 1), ("ecsenius-stigmatura", 1), ("lysmata-amboinensis", 2), ("sarcophyton-glaucum", 1)]),
    ("none", []),
    ("small", [("amphiprion-ocellaris", 2), ("elacatinus-oceanops", 1), ("trochus-maculatus", 4), ("discosoma-spp", 2)]),
    ("bad", [("paracanthurus-hepatus", 1), ("amphiprion-ocellaris", 2), ("synchiropus-splendidus", 1), ("pterois-volitans", 1), ("lysmata-amboinensis", 1), ("entacmaea-quadricolor", 1)]),
    ("corals", [("amphiprion-percula", 1), ("salarias-fasciatus", 1), ("zoanthus-spp", 2), ("caulastraea-furcata", 1), ("montipora-digitata", 1), ("cerithium-litteratum", 5)]),
    ("fish only", [("chromis-viridis", 3), ("pterapogon-kauderni", 2), ("nemateleotris-magnifica", 1), ("pseudocheilinus-hexataenia", 1)]),
)
KITS: tuple[tuple[str, dict[str, dict[str, Any]], float], ...] = (
    ("coarse N", {"ammonia": {"basis": "N", "step": 0.25, "highest": 8}, "nitrite": {"basis": "N", "step": 0.25, "highest": 5}, "nitrate": {"basis": "NO3", "step": 5, "highest": 80}}, 0.12),
    ("coarse ion", {"ammonia": {"basis": "NH3", "step": 0.25, "highest": 8}, "nitrite": {"basis": "NO2", "step": 0.25, "highest": 5}, "nitrate": {"basis": "NO3", "step": 5, "highest": 160}}, 0.12),
    ("fine", {"ammonia": {"basis": "N", "step": 0.02, "highest": 3}, "nitrite": {"basis": "N", "step": 0.01, "highest": 1}, "nitrate": {"basis": "NO3", "step": 1, "highest": 100}}, 0.05),
    ("blank", {"ammonia": {"basis": "N", "step": 0.25, "highest": 8, "blank": 0.25}, "nitrite": {"basis": "NO2", "step": 0.1, "highest": 3}, "nitrate": {"basis": "NO3", "step": 2, "highest": 50}}, 0.12),
    ("very coarse", {"ammonia": {"basis": "N", "step": 0.5, "highest": 5}, "nitrite": {"basis": "N", "step": 0.05, "highest": 1}, "nitrate": {"basis": "NO3", "step": 2, "highest": 100}}, 0.1),
)
BOXES = ((60, 30, 36), (80, 40, 45), (100, 45, 50), (122, 46, 51))


@dataclass
class Life:
    """One life before it is lived."""

    seed: int
    start: date
    days: int
    way: str
    temper: str
    fault: str
    wish: str
    kit: str
    units: str
    litres: float
    rock_kg: float
    tank: dict[str, Any] = field(default_factory=dict)
    kits: dict[str, dict[str, Any]] = field(default_factory=dict)
    colour: float = 0.1
    away: list[tuple[date, date]] = field(default_factory=list)
    fault_day: int = 0

    def clear(self, name: str) -> float:
        """What still counts as nothing on this kit's own scale: its blank, else 0.1 mg/L as N or under half a field."""
        kit = self.kits[name]
        basis = {"N": 1.0, "NH3": 17.031 / 14.007, "NO2": 46.005 / 14.007}[str(kit["basis"])]
        return max(float(kit.get("blank", 0.0)), 0.1 * basis, float(kit["step"]) * 0.49 if float(kit["step"]) / basis < 0.38 else 0.0)

    @property
    def sees_film(self) -> bool:
        """One in nine never notes the film on the glass."""
        return self.seed % 9 != 4

    @property
    def name(self) -> str:
        return f"{self.way}, {self.temper}, {self.kit} kits, {self.wish} list, {self.units}" + (f", {self.fault} on day {self.fault_day}" if self.fault != "none" else "") + ("" if self.sees_film else ", never notes film")


def make_life(seed: int, days: int) -> Life:
    """The life of a seed. Ways, tempers and faults go round, so that few lives already show all; the rest is drawn."""
    luck = random.Random(f"life {seed}")
    way, temper = WAYS[seed % len(WAYS)], TEMPERS[seed % len(TEMPERS)]
    fault = FAULTS[seed % len(FAULTS)]
    wish, wanted = WISHES[(seed // 2) % len(WISHES)]
    kit, kits, colour = KITS[seed % len(KITS)]
    units = "us" if seed % 3 == 1 else "metric"
    length, width, height = luck.choice(BOXES)
    gross = length * width * (height - 3) / 1000
    rock_kg = round(gross / (12 if way.startswith("live") else 9), 1)
    start = date(2026, 1, 5) + timedelta(days=luck.randrange(300))
    away: list[tuple[date, date]] = []
    if temper == "holiday":
        first = start + timedelta(days=luck.randrange(25, 75))
        away = [(first, first + timedelta(days=luck.randrange(3, 12)))]
        second = away[0][1] + timedelta(days=luck.randrange(30, 60))
        away.append((second, second + timedelta(days=luck.randrange(4, 15))))
    made = Life(seed, start, days, way, temper, fault, wish, kit, units, gross * 0.93 - rock_kg / 2.4, rock_kg, kits=dict(kits), colour=colour, away=away,
                fault_day=5 if fault == "leak_test" else luck.randrange(35, 125))
    made.kits |= {"alkalinity": {"step": luck.choice([0.5, 1.0])}, "ph": {"step": luck.choice([0.1, 0.2])}}
    made.tank = _tank_file(made, wanted, (length, width, height), luck)
    return made


def _tank_file(life: Life, wanted: list[tuple[str, int]], box: tuple[int, int, int], luck: random.Random) -> dict[str, Any]:
    us = life.units == "us"
    kind = "live" if life.way.startswith("live") else "cured" if life.way.startswith("cured") else "dry"
    rock: dict[str, Any] = {"kind": kind, "mass": f"{life.rock_kg * 2.2046:.0f} lb" if us else f"{life.rock_kg:g} kg"}
    if kind == "live":
        rock["cured_in"] = life.way.removeprefix("live_")
    cycle: dict[str, Any] = {"ammonia": "rock" if life.way == "live_tank" else "food" if life.way == "dry_food" else "dosed",
                             "seed": {"dry_bottled": "bottled", "dry_media": "media_marine"}.get(life.way, "none")}
    if life.way == "live_bin":
        cycle["ammonia"] = luck.choice(["rock", "dosed"])
    source = luck.choice(["ro", "ro", "distilled", "ready_mixed"] + (["tap"] if life.seed % 5 == 2 else []))
    mixed_in = "tank" if source != "ready_mixed" and luck.random() < 0.3 else "bin"
    length, width, height = box
    size = {k: f"{v / 2.54:.1f} in" if us else f"{v} cm" for k, v in zip(("length", "width", "height"), (length, width, height), strict=True)}
    water: dict[str, Any] = {"source": source, "salinity": "1.0264 SG 25/25" if us else "35 ppt", "temperature": "78 °F" if us else "25.5 °C"}
    if source != "ready_mixed":
        water["mixed_in"] = mixed_in
    return {
        "id": str(uuid.UUID(int=random.Random(life.seed).getrandbits(128), version=4)),
        "name": f"Life {life.seed}", "start": life.start, "timezone": "America/Chicago" if us else "Europe/Berlin", "units": life.units,
        "tank": {**size, "glass": "0.3 in" if us else "8 mm", "waterline": "1 in" if us else "3 cm", "lid": True},
        "rock": rock, "sand": {"kind": "dry", "depth": "1 in" if us else "2.5 cm"}, "cycle": cycle, "water": water,
        "equipment": {"heater": ["100 W", "100 W"], "circulation": "2500 L/h", "skimmer": luck.random() < 0.5, "light": "300 PAR" if life.wish == "corals" else "120 PAR", "bin": "20 gal" if us else "60 L",
                      "ro_rate": "50 gal/day" if us else "150 L/day", "battery_air": luck.random() < 0.7, "quarantine_tank": luck.random() < 0.25},
        "room": {"temperature": "70 °F" if us else "21 °C", "floor": "solid"},
        "test_kits": life.kits,
        "keeper": {"reminder_time": "18:00", "shopping_days": ["saturday"] if luck.random() < 0.7 else ["saturday", "wednesday"],
                   **({"away": [{"from": a, "to": b} for a, b in life.away]} if life.away else {})},
        **({"wish_list": [{"animal": a, "count": n} for a, n in wanted]} if wanted else {}),
    }
