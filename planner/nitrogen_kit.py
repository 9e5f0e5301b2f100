"""What a test kit's answer says about the water: the likelihood of each member under coarse colour steps.

A colour is an interval, "off the scale" a lower bound, "nothing to see" an upper bound. The keeper compares
colours with some error, which grows with the colour; and now and then a reading is simply wrong, so no single
reading may rule everything out: what the model cannot explain counts as such, and is reported.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from planner.nitrogen import Track
from planner.nitrogen_step import Floats

RELATIVE_NOISE = 0.10  # share of the true value by which two people differ; common practice
NOISE_OF_WIDTH = 0.25  # and a quarter of the interval's width
LEAST_NOISE_MG_N_L = 0.02
NITRATE_NOISE_MG_N_L = 2.0  # the nitrate that salt and source water brought along is not known
NITRATE_RELATIVE_NOISE = 0.25
MISTAKE_SHARE = 0.01  # one reading in a hundred says nothing about the water
MISTAKE_DENSITY = 0.1  # and then falls on one of about ten colours
NITRITE_FRESH_D = 2.0  # a nitrite zero this near lets a nitrate reading count


@dataclass(frozen=True, slots=True)
class KitReading:
    """One answer of a kit, mg/L as N: the water held between `low` and `high` (inf: off the scale).

    The caller has already converted the kit's basis to N and the colour to an interval (value and half a
    step). At the same instant as a dose it may be from before or after it. ValueError for a bad name,
    a negative time or an empty interval.
    """

    t_d: float
    name: Literal["ammonia", "nitrite", "nitrate"]
    low: float
    high: float

    def __post_init__(self) -> None:
        if self.name not in ("ammonia", "nitrite", "nitrate"):
            raise ValueError(f"no kit reading is called {self.name!r}")
        if not self.t_d >= 0:
            raise ValueError("a reading cannot be from before the first ammonia")
        if not self.low <= self.high or math.isinf(self.low) or self.high < 0:
            raise ValueError("a reading needs low <= high, low finite, high not negative")

    @property
    def shows_nothing(self) -> bool:
        """Whether zero lies in the interval."""
        return self.low <= 0.0


def usable(readings: Sequence[KitReading]) -> tuple[int, ...]:
    """Positions of the readings that may speak: nitrate only beside a nitrite reading of nothing.

    Most nitrate kits reduce nitrate to nitrite first and show the nitrite that is there as a large false
    nitrate, so nitrate is ignored unless the nearest nitrite reading within two days shows nothing.
    """
    nitrites = [r for r in readings if r.name == "nitrite"]
    kept: list[int] = []
    for index, reading in enumerate(readings):
        if reading.name == "nitrate":
            near = [r for r in nitrites if abs(r.t_d - reading.t_d) <= NITRITE_FRESH_D]
            if not near:
                continue
            gap = min(abs(r.t_d - reading.t_d) for r in near)
            if not all(r.shows_nothing for r in near if abs(r.t_d - reading.t_d) <= gap):
                continue
        kept.append(index)
    return tuple(kept)


def reading_probability(reading: KitReading, true_mg_n_l: Floats) -> Floats:
    """Chance that the keeper reads this interval where the water truly holds `true_mg_n_l`, no mistake made.

    Normal error with sd = sqrt(noise^2 + (relative * true)^2), noise a quarter of the interval's width.
    """
    return np.asarray(_interval_probability([reading], true_mg_n_l[None, :])[0])


def _interval_probability(readings: Sequence[KitReading], true_mg_n_l: Floats) -> Floats:
    """One row per reading: all at once, because the sampler asks for dozens of rows again and again."""
    low = np.array([[r.low] for r in readings])
    high = np.array([[r.high] for r in readings])
    nitrate = np.array([[r.name == "nitrate"] for r in readings])
    wide = np.where(np.isinf(high), 0.5 * low, high - low)
    noise = np.maximum(NOISE_OF_WIDTH * wide, np.where(nitrate, NITRATE_NOISE_MG_N_L, LEAST_NOISE_MG_N_L))
    sd = np.hypot(noise, np.where(nitrate, NITRATE_RELATIVE_NOISE, RELATIVE_NOISE) * true_mg_n_l)
    # a meter's bare number gets the width that noise has anyway
    narrow = LEAST_NOISE_MG_N_L * (high - low < 2 * LEAST_NOISE_MG_N_L)
    nothing = np.array([[r.shows_nothing] for r in readings])
    upper = normal_cdf((high + narrow - true_mg_n_l) / sd)
    lower = np.where(nothing, 0.0, normal_cdf((low - narrow - true_mg_n_l) / sd))
    return np.asarray(np.maximum(upper - lower, 0.0))


def normal_cdf(x: Floats) -> Floats:
    """Standard normal distribution function, absolute error below 1e-7.

    Abramowitz & Stegun 1964, Handbook of Mathematical Functions, 26.2.17.
    """
    x = np.clip(x, -30.0, 30.0)
    t = 1.0 / (1.0 + 0.2316419 * np.abs(x))
    poly = t * (0.319381530 + t * (-0.356563782 + t * (1.781477937 + t * (-1.821255978 + t * 1.330274429))))
    tail = poly * np.exp(-0.5 * x * x) * 0.3989422804014327
    return np.asarray(np.where(x >= 0, 1.0 - tail, tail))


def probabilities(readings: Sequence[KitReading], track: Track) -> Floats:
    """`reading_probability` of each reading (rows) for each member of the track (columns); at least one reading.

    Beside a dose or a change at the very same instant (a journal of bare dates) the order is not known: the
    reading may be from before or after, and counts as either with equal chance.
    """
    levels = {"ammonia": track.ammonia, "nitrite": track.nitrite, "nitrate": track.nitrate}
    before = [track.row_before(r.t_d) for r in readings]
    after = track.rows_after(np.array([r.t_d for r in readings]))
    chance = _interval_probability(
        readings, np.array([levels[r.name][row] for r, row in zip(readings, before, strict=True)])
    )
    open_order = [i for i, row in enumerate(before) if after[i] != row]
    if open_order:
        some = [readings[i] for i in open_order]
        later = np.array([levels[readings[i].name][after[i]] for i in open_order])
        chance[open_order] = 0.5 * (chance[open_order] + _interval_probability(some, later))
    return chance


def log_likelihood(probability: Floats) -> Floats:
    """Log-likelihood of each member (columns), with a small chance that any reading was a mistake."""
    mixed = (1.0 - MISTAKE_SHARE) * probability + MISTAKE_SHARE * MISTAKE_DENSITY
    return np.asarray(np.log(mixed).sum(axis=0))


def mistake_share(probability: Floats, weights: Floats) -> Floats:
    """Per reading (rows): how much of the weighted belief takes it for a mistake rather than for the water."""
    mistake = MISTAKE_SHARE * MISTAKE_DENSITY
    share = mistake / ((1.0 - MISTAKE_SHARE) * probability + mistake)
    return np.asarray(share @ weights)
