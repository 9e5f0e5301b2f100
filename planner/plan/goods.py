"""What a beginning tank may have to buy, by id: the words of the shopping list and of a shop's prices.

Animals are not here; they have the ids of the catalogue.
"""

from __future__ import annotations

from planner.frozen import dataclass
from planner.rulebook.task_rule import ShoppingPart


@dataclass(frozen=True, slots=True)
class Good:
    """`measure` is how it is sold: `mass`, `volume` or `each`; `aisle`: where in a shop it stands (`AISLES`)."""

    id: str
    name: str
    measure: str = "each"
    aisle: str = "equipment"


AISLES = {
    "tools": "Tools and household", "water": "Water and salt", "rock": "Rock and sand", "tests": "Tests, scales and chemicals", "equipment": "Equipment",
    "safety": "For your safety", "animals": "Animals",
}
"""Corners of a shop, in the order in which one walks through them."""

GOODS: dict[str, Good] = {
    g.id: g
    for g in (
        Good("spirit_level", "long spirit level", aisle="tools"),
        Good("shims", "thin shims for the stand", aisle="tools"),
        Good("base_mat", "soft mat for a plain glass base", aisle="tools"),
        Good("work_gloves", "work gloves that grip glass", aisle="tools"),
        Good("vinegar", "white vinegar", aisle="tools"),
        Good("tape", "tape that holds on glass", aisle="tools"),
        Good("power_strip", "power strip", aisle="tools"),
        Good("towels", "old towels, a mop, a torch and a new cloth", aisle="tools"),
        Good("dechlorinator", "dechlorinator for chlorine and chloramine", aisle="water"),
        Good("ro_unit", "RO unit (makes nearly pure water)", aisle="water"),
        Good("pure_water", "RO or distilled water", "volume", aisle="water"),
        Good("mixed_water", "ready-mixed salt water", "volume", aisle="water"),
        Good("salt", "salt mix", "mass", aisle="water"),
        Good("rock", "rock", "mass", aisle="rock"),
        Good("dry_rock", "dry rock", "mass", aisle="rock"),
        Good("cured_rock", "cured rock", "mass", aisle="rock"),
        Good("live_rock", "live rock", "mass", aisle="rock"),
        Good("sand", "sand", "mass", aisle="rock"),
        Good("dry_sand", "dry sand", "mass", aisle="rock"),
        Good("live_sand", "live sand", "mass", aisle="rock"),
        Good("rock_cement", "reef cement or epoxy", aisle="rock"),
        Good("bottom_mat", "thin grid or mat for the bottom glass", aisle="rock"),
        Good("mixing_bin", "covered food-grade mixing bin", aisle="water"),
        Good("mixing_pump", "small pump for the mixing bin", aisle="water"),
        Good("mixing_heater", "heater for the mixing bin", aisle="water"),
        Good("rock_bin", "covered food-grade bin for the rock", aisle="rock"),
        Good("rock_pump", "pump for the rock bin", aisle="rock"),
        Good("rock_heater", "heater for the rock bin", aisle="rock"),
        Good("reserve_container", "containers for the reserve of salt water", aisle="water"),
        Good("batch_container", "covered food-grade containers for finished salt water", aisle="water"),
        Good("top_up_container", "container for top-up water", aisle="water"),
        Good("bucket", "bucket for this tank alone", aisle="tools"),
        Good("siphon", "siphon for this tank alone", aisle="tools"),
        Good("jug", "funnel, and jug with marks", aisle="tools"),
        Good("salt_scale", "kitchen scale for salt", aisle="tests"),
        Good("dose_scale", "scale that shows 0.01 g", aisle="tests"),
        Good("ammonia_kit", "ammonia test kit", aisle="tests"),
        Good("nitrite_kit", "nitrite test kit", aisle="tests"),
        Good("nitrate_kit", "nitrate test kit", aisle="tests"),
        Good("alkalinity_kit", "alkalinity test kit", aisle="tests"),
        Good("ph_kit", "pH test kit", aisle="tests"),
        Good("phosphate_kit", "phosphate test kit", aisle="tests"),
        Good("chlorine_kit", "total chlorine test", aisle="tests"),
        Good("tds_meter", "TDS meter (total dissolved solids)", aisle="tests"),
        Good("salinity_meter", "refractometer or conductivity meter", aisle="tests"),
        Good("salinity_standard", "35 ppt salinity standard", aisle="tests"),
        Good("thermometer", "thermometer", aisle="tests"),
        Good("ammonium_chloride", "pure ammonium chloride", "mass", aisle="tests"),
        Good("bicarbonate", "sodium bicarbonate", "mass", aisle="tests"),
        Good("bacteria", "bottle of nitrifying bacteria", aisle="tests"),
        Good("cooling", "chiller, or fans over open water", aisle="equipment"),
        Good("heater", "heater for the tank", aisle="equipment"),
        Good("flow_pump", "pumps for the flow in the tank", aisle="equipment"),
        Good("skimmer", "protein skimmer", aisle="equipment"),
        Good("lamp", "lamp for a reef tank", aisle="equipment"),
        Good("lamp_timer", "timer for the lamp", aisle="equipment"),
        Good("lid", "lid or net that nothing can jump through", aisle="equipment"),
        Good("battery_air", "battery air pump with an air stone", aisle="equipment"),
        Good("floss_carbon", "filter floss and activated carbon", aisle="equipment"),
        Good("quarantine_tank", "quarantine tank with sponge filter, lid, heater and net", aisle="equipment"),
        Good("socket_protection", "RCD or GFCI on every tank socket", aisle="tools"),
        Good("gloves", "long nitrile gloves", aisle="safety"),
        Good("goggles", "wrap-round goggles", aisle="safety"),
        Good("clean_up_crew", "small snails of the clean-up crew", aisle="animals"),
    )
}

BOUGHT_WITH: dict[ShoppingPart, tuple[str, ...]] = {
    "tools": ("spirit_level", "shims", "base_mat", "work_gloves", "vinegar", "tape", "power_strip"),
    "ro": ("ro_unit",),
    "water": ("salt", "salt_scale", "mixing_bin", "mixing_pump", "mixing_heater", "reserve_container", "batch_container", "top_up_container", "bucket", "siphon", "jug", "dechlorinator"),
    "mixed_water": ("mixed_water",),
    "rock": ("rock", "dry_rock", "cured_rock", "live_rock", "sand", "dry_sand", "live_sand", "rock_cement", "bottom_mat"),
    "rock_bin": ("rock_bin", "rock_pump", "rock_heater"),
    "bacteria": ("bacteria",),
    "tests": ("ammonia_kit", "nitrite_kit", "nitrate_kit", "alkalinity_kit", "ph_kit", "phosphate_kit", "chlorine_kit", "tds_meter", "salinity_meter", "salinity_standard", "thermometer", "ammonium_chloride", "dose_scale", "bicarbonate"),
    "equipment": ("cooling", "heater", "flow_pump", "skimmer", "lamp", "lamp_timer", "lid", "battery_air", "floss_carbon"),
    "quarantine": ("quarantine_tank",),
    "safety": ("gloves", "goggles", "towels"),
}
"""What each part of the shopping list may hold (`purchases` settles what this tank needs of it); pure water comes from several."""
PART_OF: dict[str, ShoppingPart] = {good: part for part, goods in BOUGHT_WITH.items() for good in goods}
