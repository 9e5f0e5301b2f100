"""What a beginning tank may have to buy, by id: the words of the shopping list and of a shop's prices.

Animals are not here; they have the ids of the catalogue.
"""

from __future__ import annotations

from dataclasses import dataclass

from planner.rulebook.task_rule import ShoppingPart


@dataclass(frozen=True, slots=True)
class Good:
    """`measure` is how it is sold: `mass`, `volume` or `each`."""

    id: str
    name: str
    measure: str = "each"


GOODS: dict[str, Good] = {
    g.id: g
    for g in (
        Good("spirit_level", "long spirit level"),
        Good("shims", "thin shims for the stand"),
        Good("base_mat", "soft mat for a plain glass base"),
        Good("work_gloves", "work gloves that grip glass"),
        Good("vinegar", "white vinegar"),
        Good("tape", "tape that holds on glass"),
        Good("ro_unit", "RO unit (makes nearly pure water)"),
        Good("pure_water", "RO or distilled water", "volume"),
        Good("mixed_water", "ready-mixed salt water", "volume"),
        Good("salt", "salt mix", "mass"),
        Good("rock", "rock", "mass"),
        Good("dry_rock", "dry rock", "mass"),
        Good("cured_rock", "cured rock", "mass"),
        Good("live_rock", "live rock", "mass"),
        Good("sand", "sand", "mass"),
        Good("dry_sand", "dry sand", "mass"),
        Good("live_sand", "live sand", "mass"),
        Good("rock_cement", "reef cement or epoxy"),
        Good("bottom_mat", "thin grid or mat for the bottom glass"),
        Good("mixing_bin", "covered food-grade mixing bin"),
        Good("mixing_pump", "small pump for the mixing bin"),
        Good("mixing_heater", "heater for the mixing bin"),
        Good("rock_bin", "covered food-grade bin for the rock"),
        Good("rock_pump", "pump for the rock bin"),
        Good("rock_heater", "heater for the rock bin"),
        Good("reserve_container", "containers for the reserve of salt water"),
        Good("batch_container", "covered food-grade containers for finished salt water"),
        Good("top_up_container", "container for top-up water"),
        Good("bucket", "bucket for this tank alone"),
        Good("siphon", "siphon for this tank alone"),
        Good("jug", "funnel, and jug with marks"),
        Good("salt_scale", "kitchen scale for salt"),
        Good("dose_scale", "scale that shows 0.01 g"),
        Good("ammonia_kit", "ammonia test kit"),
        Good("nitrite_kit", "nitrite test kit"),
        Good("nitrate_kit", "nitrate test kit"),
        Good("alkalinity_kit", "alkalinity test kit"),
        Good("ph_kit", "pH test kit"),
        Good("phosphate_kit", "phosphate test kit"),
        Good("chlorine_kit", "total chlorine test"),
        Good("tds_meter", "TDS meter (total dissolved solids)"),
        Good("salinity_meter", "refractometer or conductivity meter"),
        Good("salinity_standard", "35 ppt salinity standard"),
        Good("thermometer", "thermometer"),
        Good("ammonium_chloride", "pure ammonium chloride", "mass"),
        Good("bicarbonate", "sodium bicarbonate", "mass"),
        Good("bacteria", "bottle of nitrifying bacteria"),
        Good("cooling", "chiller, or fans over open water"),
        Good("heater", "heater for the tank"),
        Good("flow_pump", "pumps for the flow in the tank"),
        Good("skimmer", "protein skimmer"),
        Good("lamp", "lamp for a reef tank"),
        Good("lamp_timer", "timer for the lamp"),
        Good("lid", "lid or net that nothing can jump through"),
        Good("battery_air", "battery air pump with an air stone"),
        Good("floss_carbon", "filter floss and activated carbon"),
        Good("quarantine_tank", "quarantine tank with sponge filter, lid, heater and net"),
        Good("socket_protection", "RCD or GFCI on every tank socket"),
        Good("gloves", "long nitrile gloves"),
        Good("goggles", "wrap-round goggles"),
        Good("clean_up_crew", "small snails of the clean-up crew"),
    )
}

BOUGHT_WITH: dict[ShoppingPart, tuple[str, ...]] = {
    "tools": ("spirit_level", "shims", "base_mat", "work_gloves", "vinegar", "tape"),
    "ro": ("ro_unit",),
    "water": ("salt", "salt_scale", "mixing_bin", "mixing_pump", "mixing_heater", "reserve_container", "batch_container", "top_up_container", "bucket", "siphon", "jug"),
    "mixed_water": ("mixed_water",),
    "rock": ("rock", "dry_rock", "cured_rock", "live_rock", "sand", "dry_sand", "live_sand", "rock_cement", "bottom_mat"),
    "rock_bin": ("rock_bin", "rock_pump", "rock_heater"),
    "bacteria": ("bacteria",),
    "tests": ("ammonia_kit", "nitrite_kit", "nitrate_kit", "alkalinity_kit", "ph_kit", "phosphate_kit", "chlorine_kit", "tds_meter", "salinity_meter", "salinity_standard", "thermometer", "ammonium_chloride", "dose_scale", "bicarbonate"),
    "equipment": ("cooling", "heater", "flow_pump", "skimmer", "lamp", "lamp_timer", "lid", "battery_air", "floss_carbon"),
    "quarantine": ("quarantine_tank",),
    "safety": ("gloves", "goggles"),
}
"""What each part of the shopping list may hold (`purchases` settles what this tank needs of it); pure water comes from several."""
PART_OF: dict[str, ShoppingPart] = {good: part for part, goods in BOUGHT_WITH.items() for good in goods}
