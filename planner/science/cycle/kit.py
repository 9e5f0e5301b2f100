"""What a test kit's answer says about the water: the likelihood of each member under coarse colour steps.

A colour is an interval, "off the scale" a lower bound, "nothing to see" an upper bound. The keeper compares
colours with some error, which grows with the colour; and now and then a reading is simply wrong, so no single
reading may rule everything out: what the model cannot explain counts as such, and is reported.
"""

import math
from collections.abc import Sequence

import numpy as np

from planner.science.cycle.records import KitReading
from planner.science.cycle.run import Track
from planner.science.cycle.step import Floats

RELATIVE_NOISE = 0.10  # share of the true value by which two people differ; common practice
NOISE_OF_SPACING = 0.25  # and a quarter of the distance between the two colours that are compared
OFF_SCALE_SPACING = 0.5  # beyond the last colour: that distance as a share of the bound
LEAST_NOISE_MG_N_L = 0.02
NITRATE_NOISE_MG_N_L = 2.0  # the nitrate that salt and source water brought along is not known
NITRATE_RELATIVE_NOISE = 0.25
MISTAKE_SHARE = 0.01  # one reading in a hundred says nothing about the water
MISTAKE_DENSITY = 0.1  # and then falls on one of about ten colours
NITRITE_FRESH_D = 2.0  # a nitrite zero this near lets a nitrate reading count


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


def reading_probabilities(readings: Sequence[KitReading], true_mg_n_l: Floats) -> Floats:
    """Chance that the keeper reads each of these intervals where the water truly holds its row of `true_mg_n_l`, no mistake made.
    One row per reading: all at once, because the sampler asks for dozens of rows again and again.

    The eye takes the water for more than an edge with a normal error of sd = sqrt(noise^2 + (relative * true)^2);
    noise is a quarter of the distance between the colours on both sides of that edge. Both neighbours thus give
    their edge the same noise, and over a whole card the chances sum to one.
    """
    low = np.array([[r.low] for r in readings])
    high = np.array([[r.high] for r in readings])
    nitrate = np.array([[r.name == "nitrate"] for r in readings])
    nothing = np.array([[r.shows_nothing] for r in readings])
    colour = np.array([[_colour(r)] for r in readings])
    least = np.where(nitrate, NITRATE_NOISE_MG_N_L, LEAST_NOISE_MG_N_L)
    relative = (np.where(nitrate, NITRATE_RELATIVE_NOISE, RELATIVE_NOISE) * true_mg_n_l) ** 2
    # a meter's bare number gets the width that noise has anyway
    width = np.where(nothing, 2 * high, high - low)
    narrow = LEAST_NOISE_MG_N_L * (width < 2 * LEAST_NOISE_MG_N_L)

    def below(edge: Floats, spacing: Floats) -> Floats:
        noise = np.maximum(NOISE_OF_SPACING * spacing, least)
        return normal_cdf((edge - true_mg_n_l) / np.sqrt(noise * noise + relative))

    off_scale = np.isinf(high)
    chance = np.where(off_scale, 1.0, below(high + narrow, np.where(off_scale, 0.0, 2 * (high - colour))))
    spacing = np.where(off_scale, OFF_SCALE_SPACING * low, 2 * (colour - low))
    return np.asarray(np.maximum(chance - np.where(nothing, 0.0, below(low - narrow, spacing)), 0.0))


def _colour(reading: KitReading) -> float:
    """The value beside the colour that was read; zero where no colour stands beside it."""
    if reading.colour is not None:
        return reading.colour
    if reading.shows_nothing or math.isinf(reading.high):
        return 0.0
    return 0.5 * (reading.low + reading.high)


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
    chance = reading_probabilities(
        readings, np.array([levels[r.name][row] for r, row in zip(readings, before, strict=True)])
    )
    open_order = [i for i, row in enumerate(before) if after[i] != row]
    if open_order:
        some = [readings[i] for i in open_order]
        later = np.array([levels[readings[i].name][after[i]] for i in open_order])
        chance[open_order] = 0.5 * (chance[open_order] + reading_probabilities(some, later))
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
