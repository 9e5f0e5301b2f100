"""The lines of the shopping list: for each shopping task of the plan what it asks to get, with this tank's own figures."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from planner import salt
from planner.amounts import quantity
from planner.catalogue import Catalogue
from planner.formula import OutOfRange
from planner.gather import Facts, animals_in
from planner.goods import GOODS
from planner.milestones import first_animal, open_tasks
from planner.model import Amount, Plan, Task
from planner.rulebook import Rulebook
from planner.shopfile import Price
from planner.showunits import format_amount
from planner.tankfile import Tank

KITS = ("ammonia", "nitrite", "nitrate", "alkalinity", "ph", "phosphate")
TWO_WEEKS = 14
"""Days of topping up kept at home, as the task `site/shop-top-up` asks."""


@dataclass(frozen=True, slots=True)
class Line:
    """One thing to get. `quantity` is in grams, litres or pieces (`unit`: g, L, each), None where it cannot be known: then
    `unknown` says what to describe or ask. `size` is what each piece, or (`together`) all of them, must do or hold.
    `needed` is the likely day of the step that uses it, provisional while that step stands behind a shut gate.
    `described`: the tank file says that it stands there already; its cost is not in the total."""

    item: str
    name: str
    quantity: float | None
    unit: str
    size: Amount | None
    together: bool
    phase: str
    needed: date | None
    provisional: bool
    note: str
    unknown: str
    described: bool
    price: Price | None
    cost: Decimal | None


class Book:
    """The list in the making. `source` is the shopping task whose lines are being written."""

    def __init__(self, plan: Plan, facts: Facts, rules: Rulebook) -> None:
        self.plan, self.facts, self.rules, self.tank = plan, facts, rules, facts.tank
        self.open = open_tasks(plan)
        self.animals_from = first_animal(plan).likely or date.max
        self.source: Task | None = None
        self.lines: list[Line] = []

    def words(self, value: float | None, unit: str) -> str:
        """An amount in the buyer's units."""
        return "(describe the tank further)" if value is None else format_amount(value, unit, self.plan.units)

    def figure(self, name: str) -> float | None:
        found = quantity(name, self.facts, self.rules)
        return None if found is None else found.value

    def first(self, *keys: str) -> Task | None:
        """The first open task, by likely day, among these."""
        found = [t for t in self.open if t.key in keys and t.date is not None]
        return min(found, key=lambda t: (t.date or date.max, keys.index(t.key))) if found else None

    def add(self, item: str, count: float | None = None, *, unit: str = "each", size: tuple[float | None, str] | None = None, together: bool = False,
            uses: Task | None = None, note: str = "", unknown: str = "", described: bool = False, name: str = "") -> None:
        using = uses or self.source
        amount = Amount(size[0], size[1]) if size is not None and size[0] is not None else None
        self.lines.append(Line(
            item, name or GOODS[item].name, count, unit, amount, together, using.phase if using else "", using.date if using else None,
            using.tentative if using else False, note, "" if count is not None else unknown, described, None, None))


def _shop_ro(book: Book) -> None:
    rate = book.tank.equipment.ro_rate_l_d
    book.add("ro_unit", 1, uses=book.first("water/make-ro"), described=rate is not None, note=f"the first fill takes {book.words(book.figure('water_first_fill'), 'L')}")


def _shop_top_up(book: Book) -> None:
    day = book.figure("evaporation_day")
    book.add("pure_water", None if day is None else TWO_WEEKS * day, unit="L", uses=book.first("start-up/top-up"),
             note=f"two weeks of topping up at {book.words(day, 'L')} a day", unknown="give the sides of the tank")


def _shop_water(book: Book) -> None:
    _salt(book)
    book.add("salt_scale", 1, uses=book.first("water/mix"))
    _bin_and_containers(book)


def _salt(book: Book) -> None:
    """Two months of the tank, and what curing and the quarantine tank take on top."""
    grams = book.figure("salt_two_months")
    first = book.figure("salt_first_fill")
    told = [f"the first two months with a reserve; {book.words(first, 'g')} of it for the first fill"]
    curing = book.figure("curing_salt") if book.first("rock/curing-bin") else None
    if curing and grams is not None:
        changes = sum(t.key == "rock/cure-weekly" for t in book.open)
        grams += curing + changes * curing / 2
        told.append(f"{book.words(curing + changes * curing / 2, 'g')} for the curing bin with {changes} planned half change{'s' if changes != 1 else ''}")
    litres, setting = book.tank.equipment.quarantine_l, book.first("quarantine/set-up")
    if setting is not None and grams is not None:
        if litres is None:
            told.append("the quarantine tank takes more: give its size")
        else:
            extra = _salt_g(litres, book.tank)
            grams += extra
            told.append(f"{book.words(extra, 'g')} to fill the quarantine tank")
    book.add("salt", grams, unit="g", uses=book.first("rock/curing-bin", "water/mix"), note="; ".join(told), unknown="describe the tank further")


def _salt_g(litres: float, tank: Tank) -> float:
    try:
        return salt.salt_mass_g(litres, 35.0, tank.water.salt_per_litre_g)
    except OutOfRange:
        return 0.0


def _bin_and_containers(book: Book) -> None:
    bin_l, top_up = book.tank.equipment.bin_l, book.tank.equipment.top_up
    mixing = book.first("water/bin-ready", "water/collect-mixed", "water/collect-for-fill", "big-change/mix")
    batch = book.figure("batch_water")
    book.add("mixing_bin", 1, size=(bin_l, "L"), uses=mixing, described=bin_l is not None,
             note=f"one batch of the first fill is {book.words(batch, 'L')}" if bin_l is not None else "any size will do; a small one means more batches and days")
    book.add("mixing_pump", 1, uses=mixing)
    book.add("mixing_heater", 1, uses=mixing)
    book.add("reserve_container", size=(book.figure("reserve_water"), "L"), together=True, uses=book.first("start-up/pumps"), note="mixed water kept ready for an emergency",
             unknown="as many as hold it")
    book.add("top_up_container", 1, size=(book.figure("top_up_reservoir"), "L"), uses=book.first("start-up/top-up"), described=bool(top_up),
             note="no larger: all of it at once may not make the tank much less salty")
    leak = book.first("leak-test/fill", "leak-test/drain")
    book.add("bucket", 2, uses=leak)
    book.add("siphon", 1, uses=leak)
    book.add("jug", 1, uses=leak)


def _shop_mixed(book: Book) -> None:
    weekly, big = book.figure("weekly_change"), book.figure("big_change_litres")
    book.add("mixed_water", book.figure("water_first_fill"), unit="L", uses=book.first("water/collect-mixed", "water/collect-for-fill"),
             note=f"the first fill alone; later {book.words(weekly, 'L')} for each weekly change, and about {book.words(big, 'L')} for the big change", unknown="give the size of the tank")
    _bin_and_containers(book)


def _shop_rock(book: Book) -> None:
    rock, sand = book.tank.rock, book.tank.sand
    laid = book.first("rock/rinse", "rock/receive", "rock/receive-ready", "rock/receive-with-water")
    item = f"{rock.kind}_rock" if rock.kind else "rock"
    missing = [key for key, value in (("rock.kind", rock.kind), ("rock.mass", rock.mass_kg)) if value is None]
    book.add(item, book.figure("rock_mass"), unit="g", uses=laid, note="as in the tank file" if rock.mass_kg else "", unknown=f"write {' and '.join(missing)} into the tank file")
    if sand.kind != "none":
        missing = [key for key, value in (("sand.kind", sand.kind), ("sand.mass or sand.depth", sand.mass_kg or sand.depth_cm)) if value is None]
        how = "as in the tank file" if sand.mass_kg else f"{book.words(sand.depth_cm, 'cm')} deep over the bottom" if sand.depth_cm else ""
        book.add(f"{sand.kind}_sand" if sand.kind else "sand", book.figure("sand_mass"), unit="g", uses=book.first("scape/rinse-sand", "scape/sand", "scape/sand-after-cure"),
                 note=how, unknown=f"write {' and '.join(missing) or 'the sides of the tank'} into the tank file")
    book.add("rock_cement", 1, uses=book.first("scape/rock"))
    book.add("bottom_mat", 1, uses=book.first("water/tank-ready", "scape/base"))


def _shop_rock_bin(book: Book) -> None:
    using = book.first("rock/soak", "rock/curing-bin")
    litres = book.figure("curing_water")
    book.add("rock_bin", 1, size=(litres, "L"), uses=using, note="at least; it holds the rock under water for weeks" if litres else "give rock.mass to know its size")
    book.add("rock_pump", 1, uses=using)
    if book.tank.rock.kind == "live":
        book.add("rock_heater", 1, uses=using)


def _shop_bacteria(book: Book) -> None:
    book.add("bacteria", uses=book.first("cycle/bottle"), note="bought in the week of the first dose", unknown=f"as much as its label names for {book.words(book.facts.net_volume_l, 'L')}")


def _shop_tests(book: Book) -> None:
    kits = book.tank.test_kits
    pure = book.tank.water.source != "ready_mixed"
    for reading, item in [*((k, f"{k}_kit") for k in KITS), *((("chlorine", "chlorine_kit"), ("tds", "tds_meter")) if pure else ()), ("salinity", "salinity_meter")]:
        rounds = [t for t in book.open if reading in t.reads and t.date is not None]
        tests = sum(t.date is not None and t.date <= book.animals_from for t in rounds)
        first = min(rounds, key=lambda t: t.date or date.max) if rounds else None
        told = f"{tests} planned test{'s' if tests != 1 else ''} up to the first animal" if tests else ""
        book.add(item, 1, uses=first, described=reading in kits, note=told + ("; look how many one kit makes" if tests > 1 and item.endswith("_kit") else ""))
    book.add("salinity_standard", 1, uses=book.first("water/set-instrument"), note="sets the refractometer or meter")
    book.add("thermometer", 2, uses=book.first("start-up/heater"), note="the second one checks the first")
    dosing = book.first("cycle/first-dose", "cycle/small-dose", "cycle/challenge-dose")
    book.add("ammonium_chloride", book.figure("ammonia_total"), unit="g", uses=dosing, note="lasts through the cycle and both proofs")
    book.add("dose_scale", 1, uses=dosing)
    used, per_degree = book.figure("alkalinity_budget"), book.figure("bicarbonate_1dkh")
    grams = used * per_degree if used is not None and per_degree is not None else None
    book.add("bicarbonate", grams, unit="g", uses=dosing, note=f"gives back the {used:.1f} dKH that the cycle may use" if used is not None else "")


def _shop_equipment(book: Book) -> None:
    have = book.tank.equipment
    heating = book.first("start-up/heater", "water/tank-ready")
    need, owned = book.figure("heater_total"), sum(have.heater_w or ())
    told = f"a cold day takes {book.words(need, 'W')}" if need is not None else ""
    if have.heater_w:
        told += f"; the tank file has {owned:g} W" + (", which is too little" if need is not None and owned < need else "")
    book.add("heater", 2, size=(book.figure("heater_each"), "W"), uses=heating, described=bool(have.heater_w) and (need is None or owned >= need), note=told)
    flow = book.figure("circulation")
    told = "" if have.circulation_l_h is None else f"the tank file has {book.words(have.circulation_l_h, 'L/h')}" + (", which is too little" if flow is not None and have.circulation_l_h < flow else "")
    book.add("flow_pump", size=(flow, "L/h"), together=True, uses=book.first("start-up/pumps"), note=told, unknown="as many as give this flow",
             described=have.circulation_l_h is not None and (flow is None or have.circulation_l_h >= flow))
    if have.skimmer is not False:
        book.add("skimmer", 1 if have.skimmer else None, size=(book.figure("skimming"), "L/h"), uses=book.first("start-up/skimmer"), described=bool(have.skimmer),
                 note="rated for this flow or more", unknown="write equipment.skimmer, yes or no, into the tank file")
    book.add("lamp", 1, uses=book.first("lights/first-light"), described=have.light is not None, note="corals ask for more light than fish; `newtank stock` says how much each needs")
    book.add("lamp_timer", 1, uses=book.first("lights/first-light"))
    book.add("lid", 1, uses=book.first("scape/fill", "scape/level-water"), described=bool(book.tank.tank.lid))
    book.add("battery_air", 1, uses=book.first("start-up/pumps"), described=bool(have.battery_air), note="moves the water in a power cut; with batteries")
    book.add("floss_carbon", uses=book.first("start-up/pumps"), unknown="as the filter chosen takes them")


def _shop_quarantine(book: Book) -> None:
    tank = book.tank.equipment.quarantine_tank
    book.add("quarantine_tank", None if tank is None else 1, size=(book.tank.equipment.quarantine_l, "L"), uses=book.first("quarantine/set-up"), described=bool(tank),
             note=f"{book.words(20, 'L')} to {book.words(80, 'L')}", unknown="write equipment.quarantine_tank, yes or no, into the tank file")


def _shop_safety(book: Book) -> None:
    using = book.first("rock/rinse", "rock/curing-bin", "rock/receive", "rock/receive-ready", "rock/receive-with-water")
    book.add("gloves", 1, uses=using, note="for rock, corals and chemicals")
    book.add("goggles", 1, uses=using, note="for rock, corals and chemicals")


BY_TASK = {
    "site/shop-ro": _shop_ro, "site/shop-top-up": _shop_top_up, "site/shop-water": _shop_water, "site/shop-mixed": _shop_mixed, "site/shop-rock": _shop_rock,
    "site/shop-rock-bin": _shop_rock_bin, "site/shop-bacteria": _shop_bacteria, "site/shop-tests": _shop_tests, "site/shop-equipment": _shop_equipment,
    "site/shop-quarantine": _shop_quarantine, "site/shop-safety": _shop_safety,
}


def add_water_and_sockets(book: Book) -> None:
    """What no shopping task names: distilled water, and the protection without which nothing may get wet."""
    distilled = book.first("water/collect-distilled")
    if distilled is not None:
        book.add("pure_water", book.figure("water_two_months"), unit="L", uses=distilled,
                 note=f"two months with changes and topping up; {book.words(book.figure('water_first_fill'), 'L')} of it for the first fill", unknown="give the size of the tank")
    sockets = book.first("site/rcd")
    if sockets is not None:
        book.add("socket_protection", uses=sockets, note="before any water; a licensed electrician by the local code",
                 unknown="trip each socket first; only what fails the test has to be put right")


def add_animals(book: Book, catalogue: Catalogue | None) -> None:
    """The animals of each stage, fish on the day on which they enter quarantine; and the grazers that no list names."""
    book.source = None
    entries = {t.occurrence: t for t in book.open if t.key == "quarantine/batch"}
    there = animals_in(book.facts, "quarantine")
    grazers = False
    for task in book.open:
        if not task.animals or task.phase == "quarantine":
            continue
        entry = entries.get(task.occurrence) if task.phase == "fish" else None
        for animal_id, count in task.animals:
            animal = catalogue.get(animal_id) if catalogue is not None else None
            grazers = grazers or (animal is not None and animal.group == "mollusc" and "film" in animal.food)
            wanted = count - there.get(animal_id, 0)
            if wanted > 0:
                book.add(animal_id, wanted, uses=entry or task, name=animal.name if animal is not None else animal_id,
                         note=f"enters the quarantine tank; moves in with stage {task.occurrence}" if entry is not None else f"stage {task.occurrence} of the {task.phase}")
    if not grazers and not book.facts.rows("done", "crew/second-half") and book.plan.phase("crew") is not None:
        first, second = book.figure("crew_first"), book.figure("crew_second")
        if book.facts.rows("done", "crew/first-half"):
            first = 0.0 if first is not None else None
        if first is not None and second is not None:
            book.source = book.first("crew/first-half", "crew/second-half")
            book.add("clean_up_crew", first + second, name=GOODS["clean_up_crew"].name,
                     note=f"{first:.0f} once a film of algae shows, the rest later" if first else "the second half, when the first one has grazed for weeks")


__all__ = ["BY_TASK", "Book", "Line", "add_animals", "add_water_and_sockets"]
