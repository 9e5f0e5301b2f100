"""The room: the waters, the animals in them, the faults that happen, and what each act of the keeper does to all that."""

from __future__ import annotations

import random
from dataclasses import dataclass, field

from tests.keepers.animals import Stock
from tests.keepers.tank import ALK, AOB, NO3, NOB, PO4, POOL, TAN, TEMP, Water

NITROGEN_IN_SALT = 14.007 / 53.49
"""g N in each g of ammonium chloride, NH4Cl 53.49 g/mol."""


@dataclass
class Room:
    """Everything that is not on paper."""

    litres: float
    rock: str
    rock_kg: float
    target: float
    warm_to: float
    luck: random.Random
    bin_litres: float
    tap_chlorine: float = 0.0
    waters: dict[str, Water] = field(default_factory=dict)
    stock: dict[str, Stock] = field(default_factory=lambda: {"display": Stock(), "quarantine": Stock()})
    lost: list[tuple[str, int, str]] = field(default_factory=list)
    """animals that died since the keeper last looked: name, number, water"""
    filled: bool = False
    rock_in: bool = False
    heating: bool = False
    feeding: float = 1.0
    light_hours: float = 0.0
    smelly: bool = False

    def __post_init__(self) -> None:
        luck = self.luck
        speed = luck.lognormvariate(0, 0.12)
        display = self._box(self.litres, (0.42 * speed, 0.36 * speed))
        quarantine = self._box(40.0, (0.42 * speed, 0.36 * speed))
        mixing, curing, source = self._box(self.bin_litres, (0.3, 0.25)), self._box(60.0, (0.42 * speed, 0.36 * speed)), self._box(20.0, (0.3, 0.25))
        mixing.y[ALK] = luck.uniform(7.8, 9.8)
        source.salinity, source.y[ALK], source.chlorine = 0.0, 0.5, self.tap_chlorine
        self.waters = {"display": display, "mixing": mixing, "curing": curing, "quarantine": quarantine, "source": source}
        self.warm_to += luck.uniform(-0.3, 0.3)
        self.drying = luck.uniform(0.003, 0.009)

    def _box(self, litres: float, growth: tuple[float, float]) -> Water:
        made = Water(litres, self.target, growth=growth, heater=self.warm_to)
        made.carbon_dioxide = self.luck.uniform(420, 750)
        made.room = self.luck.uniform(19, 23)
        made.evaporation = 0.0  # covered bins lose nothing
        made.y[ALK] = self.luck.uniform(7.6, 9.2)
        return made

    @property
    def display(self) -> Water:
        return self.waters["display"]

    # --- time

    def live(self) -> None:
        """One day for every water, in quarters, so that animals suffer by the hour and not by the evening."""
        for where, water in self.waters.items():
            stock = self.stock.get(where)
            water.evaporation = self.drying if (where == "display" and self.filled) or where == "quarantine" else 0.0
            if where == "quarantine":
                water.top_up()
            if where == "curing":
                water.y[TEMP] = 24.0
            for _ in range(4):
                if stock is not None:
                    water.load_n = stock.nitrogen(self.feeding) / water.litres
                    water.calcifying = 0.004 * sum(g.count for g in stock.groups if g.group in ("stony", "soft"))
                water.live(0.25)
                if stock is not None and len(stock):
                    for animal, count in stock.suffer(water, 6.0, self.luck):
                        self.lost.append((animal, count, where))
        self.display.light = min(1.0, self.light_hours / 8)
        if self.display.carbon_dioxide > 900:
            self.display.carbon_dioxide *= 0.97
        self.smelly = self.display.pool > 6 or self.waters["curing"].pool > 14

    # --- what the journal says was done

    def act(self, kind: str, what: str, value: str, unit: str, where: str) -> None:
        """The physical side of one fact row."""
        water = self.waters.get(where, self.display)
        amount = float(value.lstrip("<>")) if value and kind != "event" and kind not in ("done", "postponed") else 0.0
        if kind == "dosed" and what == "ammonia":
            water.dose_ammonia(amount * 1000 * NITROGEN_IN_SALT if unit == "g" else amount * water.litres)
        elif kind == "dosed" and what == "bicarbonate":
            water.dose_bicarbonate(amount)
        elif kind == "dosed" and what in ("calcium", "magnesium"):  # written as the rise in mg/L
            setattr(water, what, getattr(water, what) + amount)
        elif kind == "changed_water" and where in ("display", "quarantine"):
            litres = amount / 100 * water.full if unit == "%" else amount * (3.7854 if unit == "gal" else 1.0)
            water.change(litres, self.fresh(water))
        elif kind == "changed_water" and where == "curing":
            water.change(water.full / 2, self.fresh(water))
        elif kind == "added":
            self.stock.setdefault(where, Stock()).add(what, int(amount or 1))
        elif kind == "moved":
            taken = self.stock["quarantine"].take(what, int(amount or 1))
            self.stock["display"].add(what, taken or int(amount or 1))
        elif kind == "event" and what == "fed":
            water.rot(21.6 * water.full / 100)  # 0.3 g of food for 100 L, 45 % protein, 0.16 g of nitrogen in each

    def fresh(self, water: Water) -> Water:
        """New salt water, mixed to the target, matched in temperature as every rule asks."""
        new = self.waters["mixing"].copy()
        new.y[TAN] = new.y[NO3] = 0.0
        new.y[PO4] = 0.01
        new.y[TEMP] = water.temperature + self.luck.uniform(-0.7, 0.7)
        new.salinity = self.target + self.luck.uniform(-0.4, 0.4)
        return new

    # --- what a tick stands for without a row

    def tick(self, key: str) -> None:
        """The physical side of a task that writes no fact."""
        phase, _, name = key.partition("/")
        display, mixing, curing, quarantine = (self.waters[w] for w in ("display", "mixing", "curing", "quarantine"))
        match phase, name:
            case "water", "mix":
                self._mixed(self.target * self.luck.uniform(0.88, 0.95))
            case "water", "trim" | "correct":
                self._mixed(self.target + self.luck.uniform(-0.25, 0.25))
            case "water", "collect-mixed" | "collect-for-fill":
                self._mixed(self.target + self.luck.uniform(-0.5, 0.5))
            case "water", "treat-tap":
                self.waters["source"].chlorine = 0.0
            case "rock", "receive":
                curing.rot(25 * curing.full * self.luck.lognormvariate(0, 0.3))
                curing.seed(0.8)
            case "rock", "soak":
                curing.y[PO4] = self.luck.uniform(0.1, 0.8)
            case "rock", "soak-change":
                curing.y[PO4] *= 0.45
            case "rock", "scrub":
                curing.y[POOL] *= 0.5
            case "rock", "cure-change" | "cure-weekly":
                curing.change(30, self.fresh(curing))
            case "scape", "rock":
                self._rock_goes_in()
            case "scape", "fill" | "level-water":
                self.filled = True
                if name == "fill":
                    display.salinity = mixing.salinity
                display.top_up(self.target)
            case "start-up", "heater":
                self.heating, display.heater_state = True, "works"
            case _, "top-up" | "look":
                display.top_up()
            case "start-up" | "animals" | "salinity-low", "correct-salinity" | "salinity-trim" | "raise":
                self._move_salinity()
            case "salinity-high", "lower":
                display.top_up()
                self._move_salinity()
            case "quarantine-salinity", "right":
                quarantine.top_up()
                quarantine.salinity += max(-1.0, min(1.0, 35.0 - quarantine.salinity))
            case "cycle", "live-rock-care":
                display.y[POOL] *= 0.8
            case "cycle" | "quarantine", "seed":
                self.waters["quarantine" if phase == "quarantine" else "display"].seed(self.luck.uniform(0.3, 1.2))
            case "quarantine", "move-sponge":
                # A sponge holds about a twentieth of what lives on rock, sand and sponges of the display.
                share = 0.05 * display.litres / quarantine.litres
                quarantine.y[AOB] += share * display.y[AOB]
                quarantine.y[NOB] += share * display.y[NOB]
            case "cycle", "bottle":
                if self.luck.random() < 0.6:
                    display.seed(self.luck.uniform(0.01, 0.15))
            case "quarantine", "prove-1" | "prove-2" | "feed" | "keep-alive":
                quarantine.dose_ammonia((2.0 if name == "feed" else 1.0) * quarantine.full)
            case "heat" | "heat-severe" | "warm" | "start-up", "cool":
                display.heater_state, display.room = "works", min(display.room, 24.0)
                display.y[TEMP] -= min(2.0, max(0.0, display.temperature - 26.0))
            case "cold" | "start-up", "warm":
                display.heater_state = "works"
                display.y[TEMP] += min(2.0, max(0.0, 25.0 - display.temperature))
            case "ph-low" | "ph-severe" | "power-cut-stocked", "air":
                display.carbon_dioxide, display.air = min(display.carbon_dioxide, 500.0), True
            case "power-cut-stocked" | "power-cut-empty", "restart":
                display.flow, display.heater_state = True, "works"
            case "lights", "first-light":
                self.light_hours = 5.0
            case "lights", "longer":
                self.light_hours = min(10.0, self.light_hours + 1)
            case "lights", "step-back":
                self.light_hours = max(4.0, self.light_hours - 2)
                display.film *= 0.5

    def _mixed(self, salinity: float) -> None:
        """New salt water in the bin, or in the bare tank that serves as one."""
        self.waters["mixing"].salinity = salinity
        if not self.filled:
            self.display.salinity = salinity

    def _move_salinity(self) -> None:
        self.display.salinity += max(-1.0, min(1.0, self.target - self.display.salinity))

    def _rock_goes_in(self) -> None:
        """Rock brings what lives and what dies on it: milligrams of nitrogen and bacteria per kilogram."""
        if self.rock_in:
            return
        self.rock_in = True
        share, wild = self.rock_kg / self.litres, self.luck.lognormvariate(0, 0.35)
        curing = self.waters["curing"]
        match self.rock:
            case "live_tank":
                self.display.rot(min(60.0, 90 * share * wild) * self.litres)
                self.display.seed(4.0 * share * wild)
            case "live_bin":
                self.display.rot(min(0.3, curing.pool) * self.litres)
                self.display.seed(max(curing.aob, 4.0 * share))
            case "cured":
                self.display.rot(2.0 * share * self.litres)
                self.display.seed(2.5 * share * wild)
            case _:
                self.display.seed(0.004 * wild)
