"""What the forecast is told and what it tells: plain records, which cost nothing to load and can be kept as they are.

Times are days since the first ammonia. Amounts are mg/L as N.
"""

import math
from dataclasses import replace
from typing import Literal

from planner.frozen import dataclass

SeedKind = Literal["none", "bottled", "media_marine", "media_fresh"]
RockKind = Literal["none", "dry", "cured", "live"]
ALKALINITY_DKH_PER_MG_N = 0.400  # 2 mol H+ per mol N oxidised to nitrite: 2/14.007*2.8


@dataclass(frozen=True, slots=True)
class Water:
    """What the water was like from `t_d` on, until the next of them. alkalinity_dkh None: nobody read it."""

    t_d: float
    temperature_c: float
    salinity_sp: float
    ph: float
    alkalinity_dkh: float | None = None


@dataclass(frozen=True, slots=True)
class Seeding:
    """Bacteria put in at `t_d`, later than on the first day."""

    t_d: float
    seed: SeedKind


@dataclass(frozen=True, slots=True)
class Start:
    """How the tank was set going, on the day of the first ammonia, and what became of its water and its bacteria by hand.

    kind: where the ammonia comes from. seed: bacteria put in. temperature_c 5 to 40, salinity_sp 0 to 45, ph
    6 to 9.5 (as a meter calibrated with NBS buffers reads it), volume_l the net water. rock_kind: `live` and
    `cured` rock bring bacteria and die-off. oxygen_mg_l: dissolved oxygen (6.6 is saturation at 26 degrees C,
    salinity 35). alkalinity_dkh None: nobody read it. waters: what the water was like later, by day. later_seeds:
    bacteria that came after the first day. ValueError outside the ranges.
    """

    kind: Literal["dosed", "food", "rock"] = "dosed"
    seed: SeedKind = "none"
    temperature_c: float = 25.0
    salinity_sp: float = 35.0
    ph: float = 8.2
    volume_l: float = 100.0
    rock_kind: RockKind = "none"
    oxygen_mg_l: float = 6.6
    alkalinity_dkh: float | None = None
    waters: tuple[Water, ...] = ()
    later_seeds: tuple[Seeding, ...] = ()

    def __post_init__(self) -> None:
        if any(t_d < 0 for t_d in (*(w.t_d for w in self.waters), *(s.t_d for s in self.later_seeds))):
            raise ValueError("nothing later than the start comes before it")
        if not 5 <= self.temperature_c <= 40:
            raise ValueError(f"temperature {self.temperature_c:g} degrees C is outside 5 to 40")
        if not 0 <= self.salinity_sp <= 45:
            raise ValueError(f"salinity {self.salinity_sp:g} is outside 0 to 45")
        if not 6 <= self.ph <= 9.5:
            raise ValueError(f"pH {self.ph:g} is outside 6 to 9.5")
        if not self.volume_l > 0 or not self.oxygen_mg_l > 0:
            raise ValueError("volume and oxygen must be positive")

    @property
    def has_die_off(self) -> bool:
        """Whether the rock itself is a source of ammonia."""
        return self.rock_kind in ("live", "cured")

    @property
    def dimensions(self) -> int:
        """How many coordinates a member of this prior has."""
        return 4 + 2 * self.has_die_off + 2 * bool(self.later_seeds)

    def until(self, t_d: float) -> "Start":
        """The same without what came after this day."""
        return replace(self, waters=tuple(w for w in self.waters if w.t_d <= t_d), later_seeds=tuple(s for s in self.later_seeds if s.t_d <= t_d))


@dataclass(frozen=True, slots=True)
class Dose:
    """Nitrogen put in at `t_d`. `food` counts as organic nitrogen that turns into ammonia by and by."""

    t_d: float
    rise_mg_n_l: float
    what: Literal["ammonia", "nitrite", "food"] = "ammonia"


@dataclass(frozen=True, slots=True)
class Change:
    """A water change at `t_d`: the fraction (0 to 1) of the water replaced by nitrogen-free water."""

    t_d: float
    fraction: float


@dataclass(frozen=True, slots=True)
class Load:
    """From `t_d` on animals and feeding give this much ammonia, mg N/L per day (replaces the one before)."""

    t_d: float
    mg_n_l_d: float


@dataclass(frozen=True, slots=True)
class KitReading:
    """One answer of a kit, mg/L as N: the water held between `low` and `high` (inf: off the scale).

    The caller has already converted the kit's basis to N and the colour to an interval (value and half a
    step). `colour`: the value printed beside the colour, where it is not the middle of the interval (or zero,
    for the colour of nothing). At the same instant as a dose it may be from before or after it. ValueError for
    a bad name, a negative time, an empty interval or a colour outside it.
    """

    t_d: float
    name: Literal["ammonia", "nitrite", "nitrate"]
    low: float
    high: float
    colour: float | None = None

    def __post_init__(self) -> None:
        if self.name not in ("ammonia", "nitrite", "nitrate"):
            raise ValueError(f"no kit reading is called {self.name!r}")
        if not self.t_d >= 0:
            raise ValueError("a reading cannot be from before the first ammonia")
        if not self.low <= self.high or math.isinf(self.low) or self.high < 0:
            raise ValueError("a reading needs low <= high, low finite, high not negative")
        if self.colour is not None and not self.low <= self.colour <= self.high:
            raise ValueError("a colour lies inside its own interval")

    @property
    def shows_nothing(self) -> bool:
        """Whether zero lies in the interval."""
        return self.low <= 0.0


@dataclass(frozen=True, slots=True)
class Policy:
    """Dosing and challenge by test. Amounts in mg/L as N; the numbers are common practice, no source.

    redose_mg_n_l is given on a test day (every `test_every_d` days from `first_day_d` on, and none earlier) when ammonia is below
    `ammonia_below_mg_n_l` and nitrite below `nitrite_below_mg_n_l`, until `total_mg_n_l` has been given in
    all. Then, when both read clear, `challenge_mg_n_l` is given and judged 24 h later;
    `passes_needed` challenges in a row end the cycle. A failed one is followed by a feed as soon as that is allowed, and by
    daily tests until the next, which waits for clear readings; a feed as large as a challenge is judged as one by them. After
    the end the filter is fed `redose_mg_n_l` on test days if `keep_fed`. With `until_clear` feeding goes on past the
    total for as long as either still reads above `pass_mg_n_l`. `first_gap_d`: days from the first test day to the
    second, where those are not as many as usual.

    `clear_levels`, `proof_levels`: what the keeper's kits call clear of ammonia and of nitrite, and what they may show at most a day
    after a challenge; None: `pass_mg_n_l`.

    Where rock sets ammonia free itself, that counts towards the total, and nothing is given before its
    ammonia has come and half of it gone again, or for 14 days. With `food_mg_n_l` that much is thrown in as food on test days until the
    first challenge, while ammonia is below `food_below_mg_n_l`; none is given before something was read above `pass_mg_n_l`, or for
    `food_shows_d` days, because food has to rot first. `opens_with_proof`: what is dosed on day 0 is the first challenge. `away`: from and to
    which days nobody tests, feeds or looks.
    """

    redose_mg_n_l: float = 1.0
    ammonia_below_mg_n_l: float = 0.5
    nitrite_below_mg_n_l: float = 5.0
    test_every_d: int = 2
    total_mg_n_l: float = 8.0
    challenge_mg_n_l: float = 2.0
    pass_mg_n_l: float = 0.25
    passes_needed: int = 2
    keep_fed: bool = True
    until_clear: bool = False
    first_day_d: int = 0
    first_gap_d: int | None = None
    clear_levels: tuple[float, float] | None = None
    proof_levels: tuple[float, float] | None = None
    food_mg_n_l: float = 0.0
    food_below_mg_n_l: float = 4.0
    food_shows_d: int = 10
    opens_with_proof: bool = False
    away: tuple[tuple[int, int], ...] = ()

    def tests_on(self, day: int) -> bool:
        """Is this whole day a test day?"""
        gap = self.test_every_d if self.first_gap_d is None else self.first_gap_d
        since = day - self.first_day_d - gap
        return since == -gap or (since >= 0 and since % self.test_every_d == 0)

    def __post_init__(self) -> None:
        if min(self.redose_mg_n_l, self.challenge_mg_n_l, self.total_mg_n_l, self.food_mg_n_l) < 0:
            raise ValueError("doses cannot be negative")
        if self.test_every_d < 1 or self.passes_needed < 1:
            raise ValueError("test_every_d and passes_needed must be at least 1")


@dataclass(frozen=True, slots=True)
class Quantiles:
    """The 10, 50 and 90 % points; None where that point lies beyond the horizon."""

    p10: float | None
    p50: float | None
    p90: float | None


@dataclass(frozen=True, slots=True)
class Band:
    """One curve, a value per day of `CycleForecast.days`, mg/L as N."""

    p10: tuple[float, ...]
    p50: tuple[float, ...]
    p90: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class CycleForecast:
    """The forecast. Event days since the first ammonia; `cycle_done` is the policy's last challenge passed.

    alkalinity_to_come_dkh: from now to the end of the cycle (or the horizon). capacity_mg_n_l_d: what the slower guild can
    take now at ample supply; capacity_unfed_week_mg_n_l_d: the same after seven days without food. readings_used and
    unexplained: positions in the readings given; mistakes: those of the unexplained that a second test says are wrong.
    """

    ammonia_clear: Quantiles
    nitrite_clear: Quantiles
    cycle_done: Quantiles
    days: tuple[int, ...]
    ammonia: Band
    nitrite: Band
    nitrate: Band
    alkalinity_to_come_dkh: Quantiles
    capacity_mg_n_l_d: Quantiles
    capacity_unfed_week_mg_n_l_d: Quantiles
    readings_used: tuple[int, ...]
    unexplained: tuple[int, ...]
    mistakes: tuple[int, ...]
    members: int
