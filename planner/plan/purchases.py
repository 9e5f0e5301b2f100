"""The lines of the shopping list: for each shopping task of the plan what it asks to get, with this tank's own figures."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

from planner.judge.facts import animals_in
from planner.judge.figures import salt_g
from planner.judge.figures.tank import own_heaters
from planner.plan.basket import Basket
from planner.plan.goods import GOODS
from planner.rulebook.task_rule import ShoppingPart
from planner.stock.catalogue import Catalogue

KITS = ("ammonia", "nitrite", "nitrate", "alkalinity", "ph", "phosphate")
QUARANTINE_PPT = 35.0
"""Salinity of the quarantine tank, as the task asks that is known as `quarantine_fill`."""
AS_TOLD = "{type:as in {tank file}|as told to the shop}"
TWO_WEEKS = 14
"""Days of topping up kept at home, as the shopping task asks that buys `top_up`."""


def _shop_tools(basket: Basket) -> None:
    for item in ("spirit_level", "shims", "base_mat", "work_gloves", "vinegar", "tape"):
        basket.add(item, None if item == "shims" else 1, note="not under a base with a floating frame, unless its maker asks for one" if item == "base_mat" else "",
                   unknown="as the stand needs them")
    basket.add("power_strip", 1, note="to screw to the wall; none where there are sockets enough")


def _shop_ro(basket: Basket) -> None:
    rate = basket.tank.equipment.ro_rate_l_d
    basket.add("ro_unit", 1, described=rate is not None, note=f"the first fill takes {basket.words(basket.figure('water_first_fill'), 'L')}")


def _shop_top_up(basket: Basket) -> None:
    day = basket.figure("evaporation_day")
    basket.add("pure_water", None if day is None else TWO_WEEKS * day, unit="L",
             note=f"two weeks of topping up at {basket.words(day, 'L')} a day", unknown="give the sides of the tank")


def _shop_water(basket: Basket) -> None:
    _salt(basket)
    basket.add("salt_scale", 1)
    if basket.tank.water.source == "tap":
        basket.add("dechlorinator", note=f"its label names both; enough for {basket.words(basket.figure('water_two_months'), 'L')} of tap water", unknown="as much as its label names")
    _bin_and_containers(basket)


def _salt(basket: Basket) -> None:
    """Two months of the tank, and what curing and the quarantine tank take on top."""
    grams = basket.figure("salt_two_months")
    first = basket.figure("salt_first_fill")
    told = [f"the first two months with a reserve; {basket.words(first, 'g')} of it for the first fill"]
    if basket.in_use("salt_scale") and grams is not None and first is not None:
        grams, told = grams - first, ["the changes of the first two months, with a reserve"]
    curing = basket.figure("curing_salt") if basket.known("curing_fill") else None
    if curing and grams is not None:
        changes = sum(t.key in basket.rules.tasks_as("curing_change") for t in basket.open)
        grams += curing + changes * curing / 2
        told.append(f"{basket.words(curing + changes * curing / 2, 'g')} for the curing bin with {changes} planned half change{'s' if changes != 1 else ''}")
    litres, setting = basket.tank.equipment.quarantine_l, basket.known("quarantine_fill")
    if setting is not None and grams is not None:
        if litres is None:
            told.append("the quarantine tank takes more: give its size")
        else:
            extra = salt_g(litres, QUARANTINE_PPT, basket.tank)
            grams += extra
            told.append(f"{basket.words(extra, 'g')} to fill the quarantine tank")
    basket.add("salt", grams, unit="g", note="; ".join(told), unknown="not known yet")


def _bin_and_containers(basket: Basket) -> None:
    bin_l, top_up = basket.tank.equipment.bin_l, basket.tank.equipment.top_up
    batch = basket.figure("batch_water")
    basket.add("mixing_bin", 1, size=(bin_l, "L"), described=bin_l is not None,
             note=f"one batch of the first fill is {basket.words(batch, 'L')}" if bin_l is not None else "any size will do; a small one means more batches and days")
    basket.add("mixing_pump", 1)
    basket.add("mixing_heater", 1, size=(basket.figure("bin_heater"), "W"))
    basket.add("reserve_container", size=(basket.figure("reserve_water"), "L"), together=True, note="mixed water kept ready for an emergency",
             unknown="as many as hold it")
    in_tank = basket.tank.water.mixed_in == "tank"
    count, each = basket.figure("big_change_mixes" if in_tank else "mixing_batches"), basket.figure("big_change_batch")
    if count is not None and count > 1 and basket.tank.water.source != "ready_mixed":
        held = basket.figure("container_water") if not in_tank else (count - 1) * each if each is not None else None
        told = f"the big water change is mixed in {count:.0f} batches, and each one waits here for the last" if in_tank else f"the first fill is mixed in {count:.0f} batches, and its water waits here; keep them for the big water change"
        basket.add("batch_container", size=(held, "L"), together=True, note=told, unknown="as many as hold it", in_use=basket.in_use("mixing_bin"), uses=basket.user("mixing_bin"))
    basket.add("top_up_container", 1, size=(basket.figure("top_up_reservoir"), "L"), described=bool(top_up), told=basket.words(top_up, "L") if top_up and not isinstance(top_up, bool) else "",
             note="no larger: all of it at once may not make the tank much less salty")
    basket.add("bucket", 2)
    basket.add("siphon", 1)
    basket.add("jug", 1)


def _shop_mixed(basket: Basket) -> None:
    weekly, big = basket.figure("weekly_change"), basket.figure("big_change_litres")
    rock = basket.figure("rock_water") if basket.known("curing_fill", "soak") else None
    before = f"; before it {basket.words(rock, 'L')} for the rock's bin with its likely changes" if rock else ""
    basket.add("mixed_water", basket.figure("water_first_fill"), unit="L",
             note=f"the first fill alone{before}; with it {basket.words(basket.figure('reserve_water'), 'L')} as a reserve; later {basket.words(weekly, 'L')} for each weekly change, and about {basket.words(big, 'L')} for the big change",
             unknown="give the size of the tank")
    _bin_and_containers(basket)


def _to_write(missing: list[str]) -> str:
    """Where to write what is missing: each `key|in words`."""
    typed, written = (" and ".join(told.split("|")[n] for told in missing) for n in (0, 1))
    return f"{{type:write {typed} in {{tank file}}|write {written} on the log sheet}}"


def _shop_rock(basket: Basket) -> None:
    rock, sand = basket.tank.rock, basket.tank.sand
    item = f"{rock.kind}_rock" if rock.kind else "rock"
    missing = [told for told, value in (("{key:rock.kind}|what kind of rock it is", rock.kind), ("{key:rock.mass}|its mass", rock.mass_kg)) if value is None]
    usual = "" if rock.mass_kg else "about {rock_usual} is usual for your tank; "
    basket.add(item, basket.figure("rock_mass"), unit="g", known_as="rock", note=AS_TOLD if rock.mass_kg else "", unknown=usual + _to_write(missing))
    if sand.kind != "none":
        missing = [told for told, value in (("{key:sand.kind}|what kind of sand it is", sand.kind), ("{key:sand.mass} or {key:sand.depth}|its mass or depth", sand.mass_kg or sand.depth_cm)) if value is None]
        how = AS_TOLD if sand.mass_kg else f"{basket.words(sand.depth_cm, 'cm')} deep over the bottom" if sand.depth_cm else ""
        usual = "" if sand.mass_kg or sand.depth_cm else "{sand_thin} to {sand_thick} for a bed of {sand_depth_low} to {sand_depth_high}; "
        basket.add(f"{sand.kind}_sand" if sand.kind else "sand", basket.figure("sand_mass"), unit="g", known_as="sand",
                 note=how, unknown=usual + _to_write(missing or ["the sides of the tank|the sides of the tank"]))
    basket.add("rock_cement", 1)
    basket.add("bottom_mat", 1)


def _shop_rock_bin(basket: Basket) -> None:
    litres = basket.figure("rock_bin_size")
    of = "the rock" if basket.tank.rock.mass_kg is not None else "{rock_usual} of rock"
    basket.add("rock_bin", 1, size=(litres, "L"), note=f"at least; room for {of} and the water over it" if litres else "")
    basket.add("rock_pump", 1)
    if basket.tank.rock.kind == "live":
        basket.add("rock_heater", 1)


def _shop_bacteria(basket: Basket) -> None:
    basket.add("bacteria", note="bought in the week of the first dose", unknown=f"as much as its label names for {basket.words(basket.facts.net_volume_l, 'L')}")


def _shop_tests(basket: Basket) -> None:
    kits = basket.tank.test_kits
    pure = basket.tank.water.source != "ready_mixed"
    asked = [k for k in KITS if k != "phosphate" or basket.tank.rock.kind not in ("live", "cured")]  # phosphate is tested on dry rock alone
    for reading, item in [*((k, f"{k}_kit") for k in asked), *((("chlorine", "chlorine_kit"), ("tds", "tds_meter")) if pure else ()), ("salinity", "salinity_meter")]:
        rounds = [t for t in basket.open if reading in t.reads and t.date is not None]
        tests = sum(t.date is not None and t.date <= basket.animals_from for t in rounds)
        first = min(rounds, key=lambda t: t.date or date.max) if rounds else None
        told = f"{tests} planned test{'s' if tests != 1 else ''} up to the first animal" if tests else ""
        basket.add(item, 1, uses=first or basket.user("salinity_standard") if item == "tds_meter" else first, described=reading in kits, in_use=bool(basket.facts.rows("reading", reading)), note=told + ("; look how many one kit makes" if tests > 1 and item.endswith("_kit") else ""))
    basket.add("salinity_standard", 1, note="sets the refractometer or meter")
    basket.add("thermometer", 2, note="the second one checks the first")
    basket.add("ammonium_chloride", basket.figure("ammonia_total"), unit="g", note="lasts through the cycle and both proofs")
    basket.add("dose_scale", 1)
    proof = basket.plan.phase_as("proves_filter")
    if proof is not None and proof.opened is not None:
        return
    used, per_degree = basket.figure("alkalinity_budget"), basket.figure("bicarbonate_1dkh")
    grams = used * per_degree if used is not None and per_degree is not None else None
    basket.add("bicarbonate", grams, unit="g", note=f"gives back the {used:.1f} dKH that the cycle may use" if used is not None else "")


def _shop_equipment(basket: Basket) -> None:
    have = basket.tank.equipment
    need, owned = basket.figure("heater_total"), sum(have.heater_w or ())
    room, cold = basket.tank.room.temperature_c, basket.words(basket.figure("cold_room"), "°C")
    hot = room is not None and room >= basket.rules.number("room_warmest_covered" if basket.tank.tank.lid is True else "room_warmest")
    if hot:
        basket.add("cooling", note=f"the room is at {basket.words(room, '°C')}; settle which before anything else is bought",
                   unknown=f"ask the shop, for {basket.words(basket.facts.net_volume_l, 'L')} in this room")
    told = f"a room at {cold} takes {basket.words(need, 'W')}" + ("; none if yours is never cooler than the water" if hot else "") if need is not None else ""
    fit = own_heaters(basket.facts, basket.rules)
    if have.heater_w:
        told += f"; {{tank file}} has {owned:g} W" + {"weak": ", which is too little", "strong": ", which is more than it needs"}.get(fit or "", "")
    basket.add("heater", 2, size=(basket.figure("heater_each"), "W"), described=bool(have.heater_w) and fit != "weak", told=" and ".join(basket.words(w, "W") for w in have.heater_w or ()), note=told, in_use=False if fit == "weak" else None)
    flow = basket.figure("circulation")
    told = "" if have.circulation_l_h is None else f"{{tank file}} has {basket.words(have.circulation_l_h, 'L/h')}" + (", which is too little" if flow is not None and have.circulation_l_h < flow else "")
    too_little = have.circulation_l_h is not None and flow is not None and have.circulation_l_h < flow
    basket.add("flow_pump", size=(flow, "L/h"), together=True, note=told, unknown="as many as give this flow", described=have.circulation_l_h is not None and not too_little, told=basket.words(have.circulation_l_h, "L/h"),
             in_use=False if too_little else None)
    if have.skimmer is not False:
        basket.add("skimmer", 1 if have.skimmer else None, size=(basket.figure("skimming"), "L/h"), described=bool(have.skimmer),
                 note="rated for this flow or more", unknown="{type:write {key:equipment.skimmer=yes/no} in {tank file}|write yes or no for a skimmer on the log sheet}")
    basket.add("lamp", 1, described=have.light is not None, note="corals ask for more light than fish{type:; {do:stock} says how much each needs|}")
    basket.add("lamp_timer", 1)
    basket.add("lid", 1, described=bool(basket.tank.tank.lid))
    basket.add("battery_air", 1, described=bool(have.battery_air), note="moves the water in a power cut; with batteries")
    basket.add("floss_carbon", unknown="as the filter chosen takes them")


def _shop_quarantine(basket: Basket) -> None:
    tank = basket.tank.equipment.quarantine_tank
    basket.add("quarantine_tank", None if tank is None else 1, size=(basket.tank.equipment.quarantine_l, "L"), described=bool(tank),
             note="5 to 20 gal" if basket.tank.units == "us" else "20 to 80 L", unknown="{type:write {key:equipment.quarantine_tank=yes/no} in {tank file}|write yes or no for a quarantine tank on the log sheet}")


def _shop_safety(basket: Basket) -> None:
    basket.add("gloves", 1, note="for rock, corals and chemicals")
    basket.add("goggles", 1, note="for rock, corals and chemicals")
    basket.add("towels", 1, note="a pile beside the tank; yours will do", in_use=basket.in_use("gloves"))


PARTS: dict[ShoppingPart, Callable[[Basket], None]] = {
    "tools": _shop_tools, "ro": _shop_ro, "top_up": _shop_top_up, "water": _shop_water, "mixed_water": _shop_mixed, "rock": _shop_rock, "rock_bin": _shop_rock_bin,
    "bacteria": _shop_bacteria, "tests": _shop_tests, "equipment": _shop_equipment, "quarantine": _shop_quarantine, "safety": _shop_safety,
}


def add_water_and_sockets(basket: Basket) -> None:
    """What no shopping task names: distilled water, and the protection without which nothing may get wet."""
    distilled = basket.known("collect_distilled")
    if distilled is not None:
        basket.add("pure_water", basket.figure("water_two_months"), unit="L", uses=distilled,
                 note=f"two months with changes and topping up; {basket.words(basket.figure('water_to_start'), 'L')} of it to begin with", unknown="give the size of the tank")
    sockets = basket.user("socket_protection")
    if sockets is not None:
        basket.add("socket_protection", note="before any water; a licensed electrician by the local code",
                 unknown="trip each socket first; only what fails the test has to be put right")


def add_animals(basket: Basket, catalogue: Catalogue | None) -> None:
    """The animals of each stage, fish on the day on which they enter quarantine; and the grazers that no list names."""
    basket.source = None
    rules = basket.rules
    entries = {(rules.tasks[t.key].per_stage, t.occurrence): t for t in basket.open if t.animals and rules.tasks[t.key].on_entry}
    there = animals_in(basket.facts, "quarantine")
    for task in basket.open:
        if not task.animals or rules.tasks[task.key].on_entry:
            continue
        entry = entries.get((rules.tasks[task.key].per_stage, task.occurrence))
        for animal_id, count in task.animals:
            animal = catalogue.get(animal_id) if catalogue is not None else None
            wanted = count - there.get(animal_id, 0)
            if wanted > 0:
                basket.add(animal_id, wanted, uses=entry or task, name=animal.name if animal is not None else animal_id,
                         note=f"enters the quarantine tank; moves in with stage {task.occurrence}" if entry is not None else f"stage {task.occurrence} of the {task.phase}")
    if not basket.plan.left_out.issuperset(rules.tasks_as("second_half")) and not basket.ticked("second_half") and basket.plan.phase_as("stocks_crew") is not None:
        first, second = basket.figure("crew_first"), basket.figure("crew_second")
        if basket.ticked("first_half"):
            first = 0.0 if first is not None else None
        if first is not None and second is not None:
            basket.source = basket.known("first_half", "second_half")
            basket.add("clean_up_crew", first + second, name=GOODS["clean_up_crew"].name,
                     note=f"{first:.0f} once a film of algae shows, the rest later" if first else "the second half, when the first one has grazed for weeks")


__all__ = ["PARTS", "add_animals", "add_water_and_sockets"]
