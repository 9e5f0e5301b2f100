"""What is believed about a tank before any test: how fast nitrifiers grow, and how many there are at first.

The prior lives in standard-normal coordinates z: every kind of start is one transform from z to members, so
that the sampler in `conditioning` is the same for all. Coordinates: ammonia oxidisers' growth, nitrite
oxidisers' growth, ammonia oxidisers' biomass, nitrite oxidisers' biomass; with live or cured rock the nitrogen of its
die-off and the rate of its release; and with seed that comes later what it brings of both guilds.
"""

import math

import numpy as np

from planner.science.cycle.records import SeedKind, Start, Water
from planner.science.cycle.step import Floats, Kinetics, Members, alkalinity_factor, nh3_fraction_from_ph, ph_factor

# Growth at 25 degrees C: between marine cultures (0.5 for ammonia, 0.96 for nitrite oxidisers, as collected by
# Zakem et al.) and slow biofilm sets; with the biomass below, the median un-seeded tank at 25 degrees C is
# clear of nitrite near 38 days (Manthe & Malone 1987, Aquac. Eng. 6:227: 35 d; practice 28 to 60 d).
GROWTH_PER_D = (0.53, 0.44)
GROWTH_LOG_SD = (0.30, 0.28)
GROWTH_MOST_PER_D = 5.0  # seven deviations out: no nitrifier doubles every three hours, and the integrator needs a bound
UNSEEDED_MG_N_L = (0.0067, 0.006)  # X0/Y: 1e-3 and 3e-4 mg COD/L over yields of 0.15 and 0.05
UNSEEDED_LOG_SD = 1.4
BOTTLED_EARLY_LOG_SD = 2.4  # only towards more bacteria: the median stays that of no seed
BOTTLED_SHARED = 0.8  # a bottle is alive or dead for both guilds
MEDIA_MG_N_L = (0.30, 0.25)  # brings both dates to 0.2 to 0.5 of the un-seeded ones; common practice
MEDIA_LOG_SD = 1.2
# Fresh-water biofilm dropped into salt water: about zero activity from 25 ppt on, a tenth at 15
# (Kinyage, Pedersen & Pedersen 2019).
FRESH_MEDIA_WORTHLESS_SP = 25.0
ROCK_MG_N_L = {"live": (0.15, 0.12), "cured": (0.5, 0.4)}
ROCK_LOG_SD = 1.3
DIE_OFF_MG_N_L = {"live": 3.0, "cured": 0.4}  # nitrogen set free in all, per litre of tank; common practice
DIE_OFF_LOG_SD = 0.8
RELEASE_PER_D = 0.20
RELEASE_LOG_SD = 0.4
FOOD_RELEASE_PER_D = 0.30  # food left in the water; common practice


def kinetics_from_start(start: Start) -> Kinetics:
    """The constants that all members share in this tank when it is set going."""
    return _kinetics(Water(0.0, start.temperature_c, start.salinity_sp, start.ph, start.alkalinity_dkh), start.oxygen_mg_l)


def climate_from_start(start: Start) -> tuple[tuple[float, Kinetics], ...]:
    """The constants as they change with the water, by day."""
    return tuple((water.t_d, _kinetics(water, start.oxygen_mg_l)) for water in start.waters)


def kinetics_at(start: Start, t_d: float) -> Kinetics:
    """The constants on a day."""
    return next((k for since, k in reversed(climate_from_start(start)) if since <= t_d), kinetics_from_start(start))


def _kinetics(water: Water, oxygen_mg_l: float) -> Kinetics:
    left = ph_factor(water.ph)
    return Kinetics(
        oxygen_mg_l=oxygen_mg_l,
        temperature_c=water.temperature_c,
        nh3_fraction=nh3_fraction_from_ph(water.ph, water.temperature_c, water.salinity_sp),
        left_a=left * alkalinity_factor(water.alkalinity_dkh),
        left_n=left,
    )


def _added_bacteria(start: Start) -> list[tuple[tuple[float, float], float]]:
    """Each inoculum beyond what blows in: median biomass of both guilds, and the sd of its logarithm."""
    added: list[tuple[tuple[float, float], float]] = []
    if start.seed == "media_marine":
        added.append((MEDIA_MG_N_L, MEDIA_LOG_SD))
    if start.seed == "media_fresh" and start.salinity_sp < FRESH_MEDIA_WORTHLESS_SP:
        alive = 1.0 - start.salinity_sp / FRESH_MEDIA_WORTHLESS_SP
        added.append(((MEDIA_MG_N_L[0] * alive, MEDIA_MG_N_L[1] * alive), MEDIA_LOG_SD))
    if start.has_die_off:
        added.append((ROCK_MG_N_L[start.rock_kind], ROCK_LOG_SD))
    return added


def members_from_z(start: Start, z: Floats) -> Members:
    """The members at these standard-normal coordinates, shape (n, start.dimensions).

    ValueError if the shape does not fit the start.
    """
    if z.ndim != 2 or z.shape[1] != start.dimensions:
        raise ValueError(f"this start has {start.dimensions} coordinates, not {z.shape[-1]}")
    growth = np.array(GROWTH_PER_D)[:, None] * np.exp(np.array(GROWTH_LOG_SD)[:, None] * z[:, 0:2].T)
    growth = np.minimum(growth, GROWTH_MOST_PER_D)
    quantity = z[:, 2:4].T
    added = _added_bacteria(start)
    median = np.array(UNSEEDED_MG_N_L)[:, None]
    if added:
        median = median + np.array([pair for pair, _ in added]).sum(axis=0)[:, None]
        spread = quantity * min(sd for _, sd in added)
    elif start.seed == "bottled":
        tied = _tied(quantity)
        spread = tied * np.where(tied > 0, BOTTLED_EARLY_LOG_SD, UNSEEDED_LOG_SD)
    else:
        spread = quantity * UNSEEDED_LOG_SD
    bacteria = median * np.exp(spread)
    n = len(z)
    if start.has_die_off:
        pool = DIE_OFF_MG_N_L[start.rock_kind] * np.exp(DIE_OFF_LOG_SD * z[:, 4])
        release = RELEASE_PER_D * np.exp(RELEASE_LOG_SD * z[:, 5])
    else:
        pool, release = np.zeros(n), np.full(n, FOOD_RELEASE_PER_D)
    apart = z[:, 4 + 2 * start.has_die_off:].T
    inocula = tuple((s.t_d, _inoculum(s.seed, start.salinity_sp, apart)) for s in start.later_seeds)
    return Members(np.ascontiguousarray(growth), bacteria, pool, release, inocula)


def _inoculum(seed: SeedKind, salinity_sp: float, quantity: Floats) -> Floats:
    """What a seed brings of both guilds when it comes later: the same as at the start, less what was there without it."""
    if seed == "bottled":
        tied = _tied(quantity)
        unseeded = np.array(UNSEEDED_MG_N_L)[:, None]
        return np.asarray(unseeded * np.maximum(np.exp(tied * BOTTLED_EARLY_LOG_SD) - np.exp(tied * UNSEEDED_LOG_SD), 0.0))
    alive = {"media_marine": 1.0, "media_fresh": max(0.0, 1.0 - salinity_sp / FRESH_MEDIA_WORTHLESS_SP)}.get(seed, 0.0)
    return np.asarray(np.array(MEDIA_MG_N_L)[:, None] * alive * np.exp(quantity * MEDIA_LOG_SD))


def _tied(quantity: Floats) -> Floats:
    """A bottle is alive or dead for both guilds at once."""
    own = math.sqrt(1.0 - BOTTLED_SHARED**2)
    return np.stack([quantity[0], BOTTLED_SHARED * quantity[0] + own * quantity[1]])
