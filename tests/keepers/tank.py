"""The virtual tank: what the water does, whatever the plan believes.

Written apart from `planner`, and on purpose by other equations than its forecast. One `Water` is one box of water; the
display, the mixing bin, the curing bin and the quarantine tank are four of them.

Nitrogen in mg/L as N, time in days:

    TAN'      = k pool + load - rA            rA = A M(TAN)  climate,  M = TAN/(0.4 + TAN + TAN^2/40)
    nitrite'  = rA - rN                       rN = N NO2/(0.6 + NO2) climate / (1 + NH3-N/0.25)
    A', N'    = growth (r / supply) - decay, and a trickle of bacteria that blow in
    alkalinity' = -0.3998 rA                  2 eq per mol N (14.007 g/mol), 2.8 dKH per meq/L

`A` and `N` are what each guild could turn over in a day, mg N/L at 25 degrees C. The half-saturations, growth rates and
temperature factors are of the order of wastewater models (from memory: growth 0.2 to 0.5 a day for slow marine guilds,
1.07 to 1.10 per degree); each tank draws its own.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
STEPS_A_DAY = 96
ALK_PER_N = 2 / 14.007 * 2.8
OXYGEN_PER_N = (3.427, 1.142)
"""mg O2 per mg N of either step: 1.5 and 0.5 mol O2 per mol N."""
WH_PER_LITRE_K = 1.137
CALCIUM_PER_DKH = 7.147
"""mg/L of calcium that a skeleton takes with one dKH: half a mole for each equivalent, 40.08 g/mol over 2 * 2.8039 dKH."""
TAN, NO2, NO3, ALK, POOL, AOB, NOB, OXY, TEMP, PO4 = range(10)


@dataclass
class Water:
    """One box of water. `y` is the state that the equations move; the rest stands still or is moved by hands."""

    litres: float
    salinity: float = 35.0
    y: Floats = field(default_factory=lambda: np.array([0, 0, 0, 8.0, 0, 1e-4, 5e-5, 6.7, 25.0, 0.02]))
    growth: tuple[float, float] = (0.38, 0.30)
    decay: float = 0.03
    pool_rate: float = 0.12
    blown_in: float = 2e-5
    load_n: float = 0.0
    """mg N/L a day given off by animals and their food."""
    carbon_dioxide: float = 500.0
    evaporation: float = 0.008
    room: float = 21.0
    heater: float = 25.0
    heater_state: str = "works"
    flow: bool = True
    air: bool = False
    light: float = 0.0
    film: float = 0.0
    chlorine: float = 0.0
    full: float = 0.0
    calcifying: float = 0.0
    """dKH a day that corals and algae take."""
    calcium: float = 420.0
    magnesium: float = 1300.0
    """mg/L as they would be at 35 ppt."""

    def __post_init__(self) -> None:
        self.full = self.full or self.litres

    def __getattr__(self, name: str) -> float:
        places = {"tan": TAN, "nitrite": NO2, "nitrate": NO3, "alkalinity": ALK, "pool": POOL, "aob": AOB, "nob": NOB, "oxygen": OXY, "temperature": TEMP, "phosphate": PO4}
        if name in places and "y" in self.__dict__:
            return float(self.y[places[name]])
        raise AttributeError(name)

    @property
    def ph(self) -> float:
        """From alkalinity and carbon dioxide: 8.23 at 8 dKH and 420 uatm, 0.82 per decade of either (a straight line through
        values of carbonate chemistry at 25 degrees C and salinity 35)."""
        return 8.23 + 0.823 * (math.log10(max(0.3, self.alkalinity) / 8) - math.log10(self.carbon_dioxide / 420))

    @property
    def free_ammonia(self) -> float:
        return self.tan * nh3_share(self.ph, self.temperature)

    def live(self, days: float = 1.0) -> None:
        """Let time pass."""
        steps = max(1, round(days * STEPS_A_DAY))
        h = days / steps
        share = nh3_share(self.ph, self.temperature)
        for _ in range(steps):
            self.y = runge_kutta(self.slopes, self.y, h, share)
        self.calcium -= days * self.calcifying * CALCIUM_PER_DKH
        lost = self.litres * self.evaporation * days
        self.salinity *= self.litres / (self.litres - lost)
        self.litres -= lost
        if self.light > 0 and self.nitrate + self.tan > 0.1:
            self.film = min(1.0, self.film + days * (0.03 + 0.25 * self.film) * self.light * (1 - self.film))

    def slopes(self, y: Floats, share: float) -> Floats:
        """The right-hand side; `share` is the part of ammonia that is NH3, held over a day."""
        tan, no2, _, alk, pool, aob, nob, oxy, temp, _ = y.tolist()
        tan, no2, alk, oxy = max(tan, 0.0), max(no2, 0.0), max(alk, 0.0), max(oxy, 0.0)
        warm = min(temp, 31.0) - 25.0
        if temp > 34:
            warm -= 8 * (temp - 34)
        ph = 8.23 + 0.823 * (math.log10(max(0.3, alk) / 8) - math.log10(self.carbon_dioxide / 420))
        acid = min(1.0, max(0.05, (ph - 6.4) / 1.2))
        common = acid * alk / (alk + 0.6) * math.exp(-((self.salinity - 34) / 14) ** 2) / (1 + 20 * self.chlorine)
        supply_a = tan / (0.4 + tan + tan * tan / 40) * common * oxy / (oxy + 0.6) * 1.09**warm
        supply_n = no2 / (0.6 + no2) * common * oxy / (oxy + 1.0) * 1.07**warm / (1 + tan * share / 0.25)
        used_a, used_n = aob * supply_a, nob * supply_n
        rotting = self.pool_rate * pool
        breath = 0.04 * self.load_n + rotting * 2.5 + used_a * OXYGEN_PER_N[0] + used_n * OXYGEN_PER_N[1]
        saturation = oxygen_saturation(temp, self.salinity)
        exchange = (40.0 if self.flow else 1.5) + (12.0 if self.air else 0.0)
        return np.array([
            rotting + self.load_n - used_a,
            used_a - used_n,
            used_n,
            -ALK_PER_N * used_a - (self.calcifying if alk > 5 else 0.0),
            -rotting,
            (self.growth[0] * supply_a - self.decay) * aob + self.blown_in,
            (self.growth[1] * supply_n - self.decay) * nob + self.blown_in / 2,
            exchange * (saturation - oxy) - breath - (8.0 if self.load_n else 0.2),
            self.warming(temp),
            0.01 * (rotting + self.load_n),
        ])

    def warming(self, temp: float) -> float:
        """Degrees a day: heater, pumps and the wall towards the room. About 25 W/K for 250 L, by the cooling of an open tank."""
        loss = 0.5 * self.full ** (2 / 3)
        pumps = 0.06 * self.full if self.flow else 0.0
        most = 1.0 * self.full
        heat = {"works": most * min(1.0, max(0.0, (self.heater - temp) / 0.3 + 0.3)), "stuck": most, "off": 0.0, "none": 0.0}[self.heater_state]
        return (heat + pumps - loss * (temp - self.room)) * 24 / (WH_PER_LITRE_K * self.full)

    # --- what hands do

    def change(self, litres: float, new: Water) -> None:
        """Siphon out and fill up with other water. Bacteria and what rots stay on the rock."""
        part = min(1.0, max(0.0, litres / self.full))
        for place in (TAN, NO2, NO3, ALK, PO4):
            self.y[place] += part * (new.y[place] - self.y[place])
        self.y[TEMP] += part * (new.y[TEMP] - self.y[TEMP])
        for name in ("salinity", "calcium", "magnesium"):
            setattr(self, name, getattr(self, name) + part * (getattr(new, name) - getattr(self, name)))
        self.litres = min(self.full, self.litres + litres * 0.02)

    def top_up(self, salinity: float = 0.0) -> None:
        """Fill to the mark; salt stays in the tank, water is added."""
        added = self.full - self.litres
        if added > 0:
            self.salinity = (self.salinity * self.litres + salinity * added) / self.full
            self.litres = self.full

    def dose_ammonia(self, milligrams_n: float) -> None:
        self.y[TAN] += milligrams_n / self.litres

    def dose_bicarbonate(self, grams: float) -> None:
        """84.007 g/mol, one equivalent each; 2.8039 dKH per meq/L."""
        self.y[ALK] += grams / 84.007 * 1000 / self.litres * 2.8039

    def rot(self, milligrams_n: float) -> None:
        """A body, a pinch of food, or what dies on rock."""
        self.y[POOL] += milligrams_n / self.litres

    def seed(self, share: float) -> None:
        """Living bacteria, as what they could turn over in a day."""
        self.y[AOB] += share
        self.y[NOB] += share * 0.6

    def copy(self) -> Water:
        twin = Water(self.litres, self.salinity)
        twin.__dict__.update(self.__dict__)
        twin.y = self.y.copy()
        return twin

    def proof(self, rise: float) -> float:
        """What would be left of ammonia and nitrite a day after this rise, mg/L as N. The tank itself is left alone."""
        twin = self.copy()
        twin.dose_ammonia(rise * twin.litres)
        twin.live(1.0)
        return twin.tan + twin.nitrite


def runge_kutta(slopes: object, y: Floats, h: float, share: float) -> Floats:
    """One step of fourth order; what cannot be negative is not."""
    a = slopes(y, share)  # type: ignore[operator]
    b = slopes(y + h / 2 * a, share)  # type: ignore[operator]
    c = slopes(y + h / 2 * b, share)  # type: ignore[operator]
    d = slopes(y + h * c, share)  # type: ignore[operator]
    return np.maximum(y + h / 6 * (a + 2 * b + 2 * c + d), 0.0)


def nh3_share(ph: float, temperature: float) -> float:
    """Part of total ammonia that is NH3 in sea water: pKa 9.25 at 25 degrees C with 0.03 per degree, 0.1 more for salt
    (textbook values, from memory)."""
    return float(1 / (1 + 10 ** (9.35 - 0.03 * (temperature - 25) - ph)))


def oxygen_saturation(temperature: float, salinity: float) -> float:
    """mg/L: a line through 6.66 at 26 degrees C and 35 (handbook value), 0.11 less per degree, 0.035 per ppt."""
    return float(6.66 - 0.11 * (temperature - 26) - 0.035 * (salinity - 35))
