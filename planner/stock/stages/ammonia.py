"""What a new stage does to the ammonia: the load that a filter takes, and the free ammonia expected after each stage.

The same two-step model as the forecast's, from the day on which the proof was passed. Of the ammonia side only two
things matter: how fast these bacteria grow (`nitrogen_prior` says how that differs from tank to tank), and how many
there are. So a tank here is one growth rate, with the fewest bacteria that pass the proof, and no more than regular
feeding keeps alive until the first animal. Then they live on what the animals give: they fade by day, and grow with
the load. The slow case is the slowest tenth of the growth rates.

Amounts are mg/L as N, loads mg/L as N per day, free ammonia mg/L as NH3 by the upper published value, as in warnings.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from copy import copy
from dataclasses import dataclass
from functools import lru_cache
from statistics import NormalDist

import numpy as np

from planner.science.ammonia import nh3_fraction_upper, species_mg_l_from_n
from planner.science.cycle.prior import GROWTH_LOG_SD, GROWTH_PER_D, kinetics_from_start
from planner.science.cycle.records import Start
from planner.science.cycle.step import Floats, Kinetics, Members, Stepper, effective_growth_per_d

TANKS = 30  # growth rates, evenly spaced in probability
SLOW = 0.1
PROOF_STEP_D = 0.25
STEP_D = 0.5
STEADY_STEP_D = 4.0  # long after a stage nothing moves fast
LONG_POOL = 1e6  # a pool this large, let go this slowly, is a constant load for each tank by itself
LEAST_BACTERIA = 1e-3
CLEAN_D = 14


@dataclass(frozen=True, slots=True)
class Proof:
    """What the filter has shown, and how it is kept until animals come. `dose_mg_n_l`: gone on two days within 24 h each,
    down to `left_mg_n_l` (one step of the kit). Then fed `feed_mg_n_l` at least every `feed_every_d` days. All above 0."""

    dose_mg_n_l: float
    left_mg_n_l: float
    feed_mg_n_l: float
    feed_every_d: float


@dataclass(frozen=True, slots=True)
class Water:
    """The water that counts. Litres above 0; pH as an ordinary meter reads it, 6 to 9.5; 5 to 35 °C; salinity 5 to 40."""

    net_l: float
    ph: float
    temperature_c: float
    salinity: float

    @property
    def nh3_per_n(self) -> float:
        """Free ammonia, mg/L as NH3, in 1 mg/L as N of total ammonia; the upper published value."""
        return nh3_fraction_upper(self.ph, self.temperature_c, self.salinity) * species_mg_l_from_n(1.0, "NH3")

    @property
    def kinetics(self) -> Kinetics:
        return kinetics_from_start(Start(temperature_c=self.temperature_c, salinity_sp=self.salinity, ph=self.ph))


@dataclass(frozen=True, slots=True)
class Strength:
    """The slow tank as the stage search counts it. `start`: its bacteria on the last day of feeding, in mg/L as N; of
    them exp(-decay d) is left after d days. `fed_per_load`: what 1 mg/L a day of animals has added to them by the next
    stage. `most` mg/L a day in all is what `strengths` take with free ammonia within the limit; both ascend."""

    start: float
    decay_per_d: float
    fed_per_load: float
    strengths: tuple[float, ...]
    most: tuple[float, ...]

    def room(self, before: float, days: float, up_to: float) -> float:
        """The load in mg/L a day that may be added `days` (0 or more) after the feeding ended, with `before` mg/L a day (0 or
        more) in since one gap at least, and at most `up_to` ever; below 0 where even that is too much. Never falls as
        `before` grows: what more would leave less room is taken off now. Never rises with `days`."""
        left = self.start * math.exp(-self.decay_per_d * max(0.0, days))
        end = max(before, up_to)
        corners = [(s - left) / self.fed_per_load for s in self.strengths]
        loads = [before, *(x for x in corners if before < x < end), end]
        return min(float(np.interp(left + self.fed_per_load * x, self.strengths, self.most)) - x for x in loads)


@dataclass(frozen=True, slots=True)
class Rise:
    """The highest reading after a stage in quick, middling and slow tanks (10, 50, 90 % of them stay at or below)."""

    total_mg_n_l: tuple[float, float, float]
    nh3_mg_l: tuple[float, float, float]


def growth_rates(quantiles: Sequence[float]) -> Floats:
    """Growth of ammonia oxidisers, per day at 25 °C, at these quantiles (0 to 1) of what is believed."""
    z = np.array([NormalDist().inv_cdf(q) for q in quantiles])
    return np.asarray(GROWTH_PER_D[0] * np.exp(GROWTH_LOG_SD[0] * z))


def _stepper(growth: Floats, bacteria: Floats, kinetics: Kinetics, load: Floats | None = None) -> Stepper:
    n = len(growth)
    pool = np.zeros(n) if load is None else load * LONG_POOL
    members = Members(np.stack([growth, np.full(n, GROWTH_PER_D[1])]), np.stack([bacteria, np.ones(n)]), pool, np.full(n, 1 / LONG_POOL))
    return Stepper(members, kinetics)


@lru_cache(maxsize=32)
def _proven(proof: Proof, kinetics: Kinetics, quantiles: tuple[float, ...]) -> Floats:
    """Bacteria (mg/L as N) of tanks at these quantiles after the proof and the feeding: the fewest that pass it, and no
    more than the feeding keeps alive just before the next feed."""
    tried = np.geomspace(0.02, 60.0, 90)
    growth, bacteria = np.meshgrid(growth_rates(quantiles), tried)
    tanks = _stepper(growth.ravel(), bacteria.ravel(), kinetics)
    passed = np.ones(growth.size, dtype=bool)
    for _ in range(2):
        tanks.dissolved[0] += proof.dose_mg_n_l
        for _ in range(round(1 / PROOF_STEP_D)):
            tanks.advance(PROOF_STEP_D)
        passed &= tanks.dissolved[0] <= proof.left_mg_n_l
    first = np.argmax(passed.reshape(growth.shape) | (bacteria == tried[-1]), axis=0)
    after = tanks.bacteria[0].reshape(growth.shape)[first, np.arange(len(quantiles))]
    kept = math.exp(-kinetics.decay_a_per_d * proof.feed_every_d)
    return np.asarray(np.minimum(after, proof.feed_mg_n_l * kept / (1 - kept)))


def slow_strength(proof: Proof | None, water: Water, limit_nh3_mg_l: float, settle_d: int, gap_d: int) -> Strength:
    """The slow tank's table. `limit_nh3_mg_l` above 0 (mg/L as NH3) is not passed within `settle_d` days of a stage;
    stages are `gap_d` days or more apart. `proof` None: it was never passed, and only what animals feed counts."""
    return _table(proof, water.kinetics, limit_nh3_mg_l / water.nh3_per_n, settle_d, gap_d)


@lru_cache(maxsize=32)
def _table(proof: Proof | None, kinetics: Kinetics, limit_mg_n_l: float, settle_d: int, gap_d: int) -> Strength:
    slow = growth_rates([SLOW])
    start = float(_proven(proof, kinetics, (SLOW,))[0]) if proof is not None else 0.0
    decay = kinetics.decay_a_per_d
    strengths = np.concatenate([[LEAST_BACTERIA], np.geomspace(0.05, 40.0, 24)])
    loads = np.concatenate([[0.0], np.geomspace(0.004, 8.0, 60)])
    bacteria, load = (x.ravel() for x in np.meshgrid(strengths, loads, indexing="ij"))
    tanks = _stepper(np.full(bacteria.size, slow[0]), bacteria, kinetics, load)
    tanks.dissolved[0] = min(resting_mg_n_l(kinetics), limit_mg_n_l)
    highest = tanks.dissolved[0].copy()
    for _ in range(round(settle_d / STEP_D)):
        tanks.advance(STEP_D)
        np.maximum(highest, tanks.dissolved[0], out=highest)
    rows = highest.reshape(len(strengths), len(loads))
    most = [float(np.interp(limit_mg_n_l, row, loads)) for row in rows]
    return Strength(start, decay, (1 - math.exp(-decay * gap_d)) / decay, tuple(strengths.tolist()), tuple(np.maximum.accumulate(most).tolist()))


def resting_mg_n_l(kinetics: Kinetics) -> float:
    """Total ammonia (mg/L as N) that stands in the slow tank under any steady load: growth just makes good the decay."""
    members = Members(np.array([growth_rates([SLOW])[0], GROWTH_PER_D[1]])[:, None], np.ones((2, 1)), np.zeros(1), np.ones(1))
    growth = float(effective_growth_per_d(members, kinetics)[0, 0])
    return kinetics.half_saturation_a_mg_n_l * kinetics.decay_a_per_d / (growth - kinetics.decay_a_per_d)


@dataclass(frozen=True, slots=True)
class Ahead:
    """Tanks of all growth rates on one day of the plan, with what they hold. Nothing changes it; `live` gives the next."""

    water: Water
    tanks: Stepper

    def live(self, days: float, load_mg_per_day: float, step_d: float = STEADY_STEP_D) -> Ahead:
        """The same tanks `days` (0 or more) later, under this load of the whole tank."""
        return self._lived(days, load_mg_per_day, step_d)[0]

    def _lived(self, days: float, load_mg_per_day: float, step_d: float) -> tuple[Ahead, Floats]:
        tanks = copy(self.tanks)  # a step puts new arrays in the place of the old ones and writes into none
        tanks.load_mg_n_l_d = load_mg_per_day / self.water.net_l
        highest = tanks.dissolved[0].copy()
        steps = math.ceil(days / step_d - 1e-9)
        for _ in range(steps):
            tanks.advance(days / steps)
            np.maximum(highest, tanks.dissolved[0], out=highest)
        return Ahead(self.water, tanks), highest


def tanks_ahead(proof: Proof | None, water: Water, first_load_mg_per_day: float = 0.0) -> Ahead:
    """The tanks on the day on which their feeding ends. Without a proof the bacteria are those that
    `first_load_mg_per_day` (0 or more) has fed for a fortnight."""
    kinetics = water.kinetics
    quantiles = tuple((i + 0.5) / TANKS for i in range(TANKS))
    if proof is not None:
        bacteria = _proven(proof, kinetics, quantiles)
    else:
        decay = kinetics.decay_a_per_d
        bacteria = np.full(TANKS, max(LEAST_BACTERIA, first_load_mg_per_day / water.net_l * (1 - math.exp(-CLEAN_D * decay)) / decay))
    return Ahead(water, _stepper(growth_rates(quantiles), bacteria, kinetics))


def nh3_after_stage(ahead: Ahead, load_mg_per_day: float, days: float = 14) -> tuple[Rise, Ahead]:
    """The highest total ammonia (mg/L as N) and free ammonia (mg/L as NH3) in the `days` (above 0) after a stage that
    brings the load of the whole tank to `load_mg_per_day` (0 or more), in quick, middling and slow tanks; and the tanks
    at the end of these days."""
    after, highest = ahead._lived(days, load_mg_per_day, STEP_D)
    ladder = np.sort(highest)
    low, middle, high = (float(ladder[math.ceil(q * len(ladder)) - 1]) for q in (SLOW, 0.5, 1 - SLOW))
    share = ahead.water.nh3_per_n
    return Rise((low, middle, high), (low * share, middle * share, high * share)), after
