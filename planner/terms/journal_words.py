"""The one vocabulary of the journal: how kinds, waters, readings, doses and events are called, and what people call them."""

from __future__ import annotations

import re
from collections.abc import Mapping

OTHER_EVENTS = {
    "algae_bloom": ("bloom", "algae_spread"),
    "algae_seen": ("algae", "alga", "film", "brown_film", "green_film", "first_algae"),
    "anemone_walks": ("anemone_walking", "anemone_moves", "anemone_wanders", "anemone_deflated", "anemone_dying", "walking_anemone", "anemone_dead", "dead_anemone"),
    "animal_missing": ("missing", "fish_missing", "missing_fish", "fish_gone", "cannot_find_fish", "fish_lost", "disappeared"),
    "bought": ("buy", "purchased", "purchase", "stocked_up"),
    "bleached": ("bleaching", "coral_pale", "pale_coral", "corals_pale", "coral_bleached", "coral_bleaching", "bleached_coral"),
    "brown_dust": ("diatoms", "brown_algae", "brown_sand", "dust_on_sand"),
    "carbon_overdose": ("vodka_overdose", "sugar_overdose", "bacteria_overdose", "carbon_source_overdose", "vinegar_overdose", "too_much_vodka", "too_much_vinegar", "too_much_bacteria"),
    "chemical_splash": ("splash", "splash_in_eye", "eye_splash", "in_the_eye", "swallowed", "swallowed_water", "swallowed_ammonia", "swallowed_bleach", "drank_water", "drank_the_water", "drank_tank_water", "drank", "drunk", "burned_skin", "acid_burn"),
    "cloudy": ("white_cloud", "cloud", "milky", "cloudy_water", "milky_water", "water_cloudy", "bacterial_bloom"),
    "coral_dying": ("coral_white", "white_coral", "tissue_loss", "coral_losing_tissue", "coral_receding", "coral_dead", "coral_dies", "coral_peeling", "coral_white_from_the_base", "white_from_the_base"),
    "copper": ("medicated_copper", "copper_medicine", "copper_given", "treated_with_copper"),
    "cyano": ("cyanobacteria", "slime", "red_slime", "slimy", "slime_algae"),
    "dinoflagellates": ("dinos", "dino", "brown_strings", "brown_slime", "snotty_strings"),
    "electric_shock": ("shock", "a_shock", "got_a_shock", "shocked", "tingle", "tingling", "electrocuted", "current_in_water", "stray_current"),
    "fed": ("food", "feeding", "feed"),
    "filter_lost": ("filter_dried", "media_dried", "rinsed_in_tap", "media_rinsed_in_tap_water", "filter_off", "filter_rinsed", "filter_cleaned_in_tap_water", "filter_rinsed_in_tap_water", "filter_media_dried_out", "filter_stood"),
    "fish_jumped": ("jumped", "jumped_out", "fish_on_floor", "fish_out", "fish_on_the_floor"),
    "flatworms": ("flatworm", "planaria", "red_planaria"),
    "gas": ("chlorine_gas", "fumes", "bleach_and_acid", "mixed_bleach_and_acid", "bad_fumes", "gas_smell"),
    "gasping": ("gasp", "gasps", "fish_gasping", "fish_gasp", "breathing", "fast_breath", "fast_breathing", "breathing_fast", "at_the_surface"),
    "green_water": ("green", "water_green", "yellow_water", "water_yellow"),
    "hair_algae": ("green_hair", "green_hair_algae", "long_algae", "turf_algae", "algae_long"),
    "heater_off": ("heater_broken", "heater_dead", "heater_failed", "heater_stopped", "broken_heater", "no_heat", "heater_out", "heater_defective", "cold_tank", "tank_cold", "water_cold", "heater_exploded"),
    "heater_stuck": ("heater_on", "heater_stuck_on", "overheating", "heater_does_not_switch_off", "heater_will_not_switch_off", "too_hot", "heater_runs_on"),
    "hiding": ("fish_hides", "hides", "coral_closed", "closed_coral", "shy", "fish_hiding", "coral_shut"),
    "ill": ("illness", "lies_on_the_bottom", "lying_on_the_bottom", "on_the_bottom", "lying_on_its_side", "sick", "sickness", "disease", "sick_fish", "fish_sick", "fish_ill"),
    "leak": ("leaking", "drip", "dripping", "flood", "puddle", "damp", "water_on_the_floor", "wet_floor", "crack", "cracked_glass", "glass_cracked", "cracked_pane", "seam_open"),
    "medicated": ("medicine", "medication", "treated", "treatment"),
    "moult": ("empty_shell", "shrimp_shell", "molt", "moulted", "molted", "shell", "empty_shrimp", "empty_shrimp_shell", "molted_shrimp", "moulted_shrimp"),
    "not_eating": ("no_appetite", "fish_not_eating", "does_not_eat", "refuses_food", "will_not_eat", "not_feeding"),
    "overdose": ("overdosed", "alkalinity_overdose", "calcium_overdose", "magnesium_overdose", "doser_ran_on", "dosed_twice", "overdose_alkalinity", "overdose_calcium", "overdose_magnesium", "alk_overdose", "doser_stuck", "too_much_dosed"),
    "overfed": ("overfeeding", "too_much_food", "food_spill", "food_spilled", "feeder_ran_on", "food_overdose"),
    "palytoxin": ("poisoned", "poisoning", "coral_poison", "squirt", "squirted", "zoa_squirt", "zoa_squirted", "zoas_squirted", "zoanthid_squirt", "zoanthid_squirted", "polyp_squirt", "polyp_squirted",
                  "polyps_squirted", "coral_squirt", "coral_squirted", "palythoa_squirt", "palythoa_squirted", "polyp_juice", "coral_juice", "zoa_juice", "metallic_taste", "metal_taste", "taste_of_metal"),
    "pest_anemone": ("pest_anemones", "glass_anemone", "glass_anemones", "small_anemones", "brown_anemones", "aiptasia", "majano"),
    "poisoned_water": ("contamination", "contaminated", "spray", "spill", "paint", "cleaner", "metal", "rust", "soap", "insecticide", "coin", "coin_in_tank", "battery_in_tank", "paint_fumes", "sprayed_cleaner", "medicine_spill", "medicine_overdose", "perfume"),
    "power_cut": ("power", "no_power", "power_out", "power_failure", "blackout", "outage", "power_outage", "no_electricity", "electricity_out", "no_current"),
    "pump_stopped": ("pump_broken", "pump_dead", "pump_failed", "return_pump_stopped", "return_pump_broken", "pump_off", "no_flow", "flow_stopped", "broken_pump", "pump_stuck", "flow_pump_stopped"),
    "skimmer_overflow": ("skimmer_foams", "skimmer_foaming", "skimmer_overflowed", "skimmer_flooded", "skimmer_ran_over", "foam"),
    "smell": ("smells", "stink", "stinks", "rotten_eggs", "rotten_egg_smell", "egg_smell"),
    "smoke": ("burning_smell", "hot_plug", "fire", "smoking", "smell_of_burning", "burnt_smell", "scorched", "melted_plug"),
    "spots": ("white_spots", "white_spot", "ich", "salt_grains", "fish_with_spots", "spots_on_fish", "white_dots", "white_dots_on_fish"),
    "sting": ("stung", "spine", "stung_by_fish", "spine_in_hand", "stung_by_lionfish"),
    "tank_closed": ("closed", "closed_down", "given_up"),
    "tank_moved": ("moved_tank", "shifted", "moved_the_tank", "tank_shifted"),
    "tap_water_in": ("tap_water", "tap_water_in_tank", "chlorine_in_tank", "tap_in_tank"),
    "topup_ran_on": ("top_up_ran_on", "top_up_stuck", "topup_stuck", "auto_topup_stuck", "top_up_flooded", "topup_flooded", "float_stuck", "too_much_top_up", "ato", "ato_overflow", "ato_stuck", "ato_ran_on", "auto_top_up_stuck", "overfilled"),
    "velvet": ("dust", "gold_dust", "fine_dust", "dusty_fish", "dust_on_fish"),
    "wounds": ("wound", "wounded", "cloudy_eye", "swelling", "swollen", "torn_fins", "fin_rot", "string_faeces", "stringy_faeces", "stringy_poo", "white_faeces", "pop_eye", "popeye", "fish_fighting", "fish_fight", "bitten_fish"),
    "wound_on_keeper": ("bite", "bitten", "cut", "cut_hand", "cut_finger", "lump", "lump_on_hand", "sore", "infected_cut", "red_arm"),
}
"""What keepers call the events that the shipped rules listen to."""
OF_THE_ENGINE = frozenset({"bought"})
"""Events to which no rule listens, and the program does."""
EVENTS = frozenset(OTHER_EVENTS) | {"failed"}

WIDER_EVENTS = {"ill": ("gasping", "spots", "velvet", "wounds"), "algae_bloom": ("cyano", "hair_algae"), "algae_seen": ("brown_dust",), "medicated": ("copper",)}
"""Events that count as another one too: who listens for an illness hears of spots."""

_DOSES = {
    "ammonia": ("ammonium", "ammonium_chloride", "ammonia_chloride", "ammonium_chlorid", "nh4cl", "salmiac", "sal_ammoniac"),
    "bicarbonate": ("sodium_bicarbonate", "bicarb", "baking_soda", "bicarbonate_of_soda", "sodium_hydrogen_carbonate", "nahco3"),
    "carbonate": ("sodium_carbonate", "soda_ash", "washing_soda", "na2co3"),
    "calcium": ("calcium_chloride", "cacl2"),
    "magnesium": ("magnesium_chloride", "magnesium_sulfate", "magnesium_sulphate", "mgcl2", "epsom_salt"),
    "kalkwasser": ("lime_water", "limewater", "calcium_hydroxide"),
    "bacteria": ("bottled_bacteria", "starter", "seed"),
    "alkalinity": (), "soda": (), "nitrate": (), "nitrite": (), "phosphate": (), "carbon": ("vinegar", "ethanol", "vodka"), "food": (),
    "iodine": ("iodide",), "potassium": (), "strontium": (), "medicine": ("medication",), "salt": (),
    "copper": ("copper_sulfate", "copper_sulphate", "cuso4", "chelated_copper", "ionic_copper", "copper_medicine"),
}
DOSES = frozenset(_DOSES)
_KINDS = {
    "reading": ("readings", "read", "test", "tested", "result"), "done": ("tick", "ticked"), "skipped": ("skip",), "postponed": ("postpone",),
    "dosed": ("dose",), "changed_water": ("water_change", "waterchange", "water_changed", "change_water"), "poured": ("pour",),
    "added": ("add",), "moved": ("move",), "lost": ("lose", "died"), "event": ("events",), "undo": ("undone",),
}
_WATERS = {
    "display": ("tank", "main", "main_tank", "display_tank"), "quarantine": ("quarantine_tank", "qt", "hospital"), "mixing": ("mixing_bin", "mix"),
    "curing": ("curing_bin", "cure"), "source": ("source_water", "tap", "tap_water", "ro", "ro_water"),
}
_READINGS = {
    "alkalinity": ("alk", "kh", "dkh"), "temperature": ("temp",), "salinity": ("sal", "sg"), "calcium": ("ca",), "magnesium": ("mg",),
    "phosphate": ("po4",), "nitrate": ("no3",), "nitrite": ("no2",), "oxygen": ("o2",),
}


def _turned(words: Mapping[str, tuple[str, ...]]) -> dict[str, str]:
    return {other: word for word, others in words.items() for other in others}


_CALLED = {"kind": _turned(_KINDS), "water": _turned(_WATERS), "reading": _turned(_READINGS), "dosed": _turned(_DOSES), "event": _turned(OTHER_EVENTS)}


def fold(text: str) -> str:
    """Lower case, words joined by one underscore: `Power cut` is `power_cut`."""
    return re.sub(r"[\s_\-]+", "_", text.strip().lower())


def one_word(of: str, text: str) -> str:
    """The word for a kind, a water, a reading, a dose or an event (`of` says which), however it is spelled; folded where nobody knows it."""
    folded = fold(text)
    return _CALLED[of].get(folded, folded)


__all__ = ["DOSES", "EVENTS", "OF_THE_ENGINE", "OTHER_EVENTS", "WIDER_EVENTS", "fold", "one_word"]
