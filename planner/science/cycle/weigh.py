"""Beliefs about one tank after its readings: a population of members that agree with the kit.

The prior is a standard normal in the coordinates of `nitrogen_prior`. Weighing one prior ensemble against
many readings leaves a handful of members with all the weight, so the population is moved: adaptive importance
sampling, where each round draws from a Student distribution fitted to the members weighted so far, and all
rounds are weighed against the mixture of everything drawn from (Cornuet et al. 2012, Scand. J. Stat. 39:798).
The base draws are fixed: the same journal gives the same population, to the bit.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from planner.science.cycle.kit import log_likelihood, mistake_share, probabilities, usable
from planner.science.cycle.prior import climate_from_start, kinetics_from_start, members_from_z
from planner.science.cycle.records import Change, Dose, KitReading, Load, Start
from planner.science.cycle.run import Track, decay_per_d, effective_growth_per_d, integrate
from planner.science.cycle.step import Floats, Members

SEED = 20_240_229
# The draws are the same for every tank, so their own unevenness bends all forecasts the same way: 512 of them put
# up to a fifth too many tanks into one tenth of the band. With these numbers it is under a tenth too many.
FIRST_ROUND = 4096
LATER_ROUND = 1024
MOST_ROUNDS = 8
WANTED_EFFECTIVE = 1000.0
LEAST_EFFECTIVE_PER_DIMENSION = 6.0  # with fewer to fit a round to, the weights are tempered first
STUDENT_DEGREES = 6.0
WIDENING = 1.1  # of the fitted spread, so that the next round reaches beyond what is known
DEFAULT_MEMBERS = 1000
# Coarser than the forecast: its error, a few hundredths of a mg/L at worst, is far below a colour step.
CONDITIONING_STEP_D = 0.5
ONE_DOSE_MG_N_L, NITRITE_SHOWS_MG_N_L = 2.0, 0.5  # for sorting only
SLOWEST_PER_D = 0.02  # likewise: net growth below this is taken for this
_PRIMES = (2, 3, 5, 7, 11, 13, 17, 19)
TRUST_IN_DOUBT = 0.5  # power of the likelihood while a reading stands that no member explains and no second test has settled


@dataclass(frozen=True, slots=True)
class Posterior:
    """Equally weighted positions among the members drawn, after the readings.

    z (n, d): coordinates, repeats included. members: the same as tanks. effective: effective sample size of
    all members drawn. used / unexplained / mistakes: positions among the readings: taken into account (not so nitrate
    while nitrite is there); those that no member explains (they are also in `used`, but pull on nothing); and those of
    them that the next test of the same name says are wrong. While one of them is not settled so, belief is wider.
    """

    z: Floats
    members: Members
    effective: float
    used: tuple[int, ...]
    unexplained: tuple[int, ...]
    mistakes: tuple[int, ...] = ()


Weigh = Callable[..., Posterior]
"""`condition`, or what gives the same from where it was kept."""


@cache
def _spread_normals(dimensions: int, first: int, count: int) -> Floats:
    """A Halton sequence with one seeded shift, as standard-normal coordinates, shape (count, dimensions)."""
    shift = np.random.default_rng(SEED).random(len(_PRIMES))
    inverse = NormalDist().inv_cdf
    columns = []
    for prime, offset in zip(_PRIMES[:dimensions], shift, strict=False):
        index = np.arange(first + 1, first + count + 1)
        value, scale = np.zeros(count), 1.0
        while np.any(index):
            scale /= prime
            value += scale * (index % prime)
            index //= prime
        uniform = np.clip((value + offset) % 1.0, 1e-9, 1 - 1e-9)
        columns.append(np.array([inverse(u) for u in uniform.tolist()]))
    normals = np.stack(columns, axis=1)
    normals.setflags(write=False)
    return normals


@cache
def _student_draws(dimensions: int, round_number: int) -> Floats:
    """Base draws of one later round: standard multivariate Student coordinates."""
    normals = _spread_normals(dimensions, FIRST_ROUND + round_number * LATER_ROUND, LATER_ROUND)
    chi2 = np.random.default_rng([SEED, round_number]).chisquare(STUDENT_DEGREES, LATER_ROUND)
    draws = np.asarray(normals / np.sqrt(chi2 / STUDENT_DEGREES)[:, None])
    draws.setflags(write=False)
    return draws


@dataclass(frozen=True, slots=True)
class _Proposal:
    """A multivariate Student distribution; its density leaves out the constant all proposals share."""

    mean: Floats
    root: Floats  # Cholesky factor of the spread

    def log_density(self, z: Floats) -> Floats:
        d = len(self.mean)
        away = np.linalg.solve(self.root, (z - self.mean).T)
        square = np.sum(away * away, axis=0)
        log_det = float(np.sum(np.log(np.diag(self.root))))
        return np.asarray(
            -0.5 * (STUDENT_DEGREES + d) * np.log1p(square / STUDENT_DEGREES) - log_det + _student_constant(d)
        )


@cache
def _student_constant(d: int) -> float:
    v = STUDENT_DEGREES
    return math.lgamma(0.5 * (v + d)) - math.lgamma(0.5 * v) - 0.5 * d * math.log(v * math.pi)


def _log_prior(z: Floats) -> Floats:
    return np.asarray(-0.5 * np.sum(z * z, axis=1) - 0.5 * z.shape[1] * np.log(2 * np.pi))


def _weights(log_weight: Floats, power: float = 1.0) -> Floats:
    raised = np.exp(power * (log_weight - log_weight.max()))
    return np.asarray(raised / raised.sum())


def effective_size(weights: Floats) -> float:
    """Kish's effective sample size of weights that sum to one."""
    return float(1.0 / np.sum(weights * weights))


def _tempered(log_weight: Floats, wanted: float) -> Floats:
    """The weights, flattened just as far as a fit needs."""
    weights = _weights(log_weight)
    if effective_size(weights) >= wanted:
        return weights
    low, high = 0.0, 1.0
    for _ in range(20):
        power = 0.5 * (low + high)
        if effective_size(_weights(log_weight, power)) >= wanted:
            low = power
        else:
            high = power
    return _weights(log_weight, low)


def _fit(z: Floats, log_weight: Floats) -> _Proposal:
    weights = _tempered(log_weight, LEAST_EFFECTIVE_PER_DIMENSION * z.shape[1])
    mean = weights @ z
    away = z - mean
    spread = (away * weights[:, None]).T @ away * WIDENING**2
    root = np.linalg.cholesky(spread + 1e-4 * np.eye(z.shape[1]))
    return _Proposal(mean, np.asarray(root, dtype=np.float64))


def condition(
    start: Start,
    doses: Sequence[Dose],
    changes: Sequence[Change],
    readings: Sequence[KitReading],
    *,
    loads: Sequence[Load] = (),
    count: int = DEFAULT_MEMBERS,
    step_d: float = CONDITIONING_STEP_D,
) -> Posterior:
    """The population for this start, given what was put in and taken out and what the kits said.

    Without a reading it is the prior itself. Times in days since the first ammonia. Deterministic.
    """
    kinetics, climate = kinetics_from_start(start), climate_from_start(start)
    used = usable(readings)
    order = sorted(used, key=lambda i: (readings[i].t_d, readings[i].name, readings[i].low, readings[i].high))
    heard = [readings[i] for i in order]
    d = start.dimensions
    z = _spread_normals(d, 0, FIRST_ROUND)
    if not heard:
        z = z[_spread_over_dates(start, z, np.full(FIRST_ROUND, 1.0 / FIRST_ROUND), count)]
        return Posterior(z, members_from_z(start, z), float(FIRST_ROUND), (), ())
    end = max(max(r.t_d for r in heard), step_d)

    def weigh(z: Floats) -> Floats:
        track: Track = integrate(
            members_from_z(start, z),
            kinetics,
            end,
            doses=[x for x in doses if x.t_d <= end],
            changes=[x for x in changes if x.t_d <= end],
            loads=[x for x in loads if x.t_d <= end],
            at_d=[r.t_d for r in heard],
            step_d=step_d,
            only_at_d=True,
            climate=climate,
        )
        return probabilities(heard, track)

    chance = weigh(z)
    proposals: list[_Proposal] = []
    log_weight = log_likelihood(chance)
    while effective_size(_weights(log_weight)) < WANTED_EFFECTIVE and len(proposals) < MOST_ROUNDS - 1:
        proposal = _fit(z, log_weight)
        fresh = proposal.mean + _student_draws(d, len(proposals)) @ proposal.root.T
        proposals.append(proposal)
        z = np.concatenate([z, fresh])
        chance = np.concatenate([chance, weigh(fresh)], axis=1)
        prior = _log_prior(z)
        log_weight = prior + log_likelihood(chance) - _log_mixture(z, prior, proposals)
    weights = _weights(log_weight)
    doubtful = mistake_share(chance, weights) > 0.5
    wrong = [bad and _settled(n, heard, doubtful) for n, bad in enumerate(doubtful)]
    if any(bad and not wrong[n] for n, bad in enumerate(doubtful)):
        weights = _weights(log_weight - (1.0 - TRUST_IN_DOUBT) * log_likelihood(chance))
    z_chosen = z[_spread_over_dates(start, z, weights, count)]
    unexplained, mistakes = (tuple(sorted(i for i, bad in zip(order, which, strict=True) if bad)) for which in (doubtful, wrong))
    return Posterior(
        z_chosen, members_from_z(start, z_chosen), effective_size(weights), used, unexplained, mistakes
    )


def _settled(n: int, heard: Sequence[KitReading], doubtful: NDArray[np.bool_]) -> bool:
    """Does the next test of the same name agree with the members that this one contradicts?"""
    after = [k for k, r in enumerate(heard) if k != n and r.name == heard[n].name and r.t_d >= heard[n].t_d]
    return bool(after) and not doubtful[min(after, key=lambda k: (heard[k].t_d, k))]


def _log_mixture(z: Floats, log_prior: Floats, proposals: Sequence[_Proposal]) -> Floats:
    """Log density of the mixture from which all rounds together were drawn, the prior's round included."""
    total = FIRST_ROUND + LATER_ROUND * len(proposals)
    parts = [np.log(FIRST_ROUND / total) + log_prior]
    parts += [np.log(LATER_ROUND / total) + p.log_density(z) for p in proposals]
    return np.asarray(np.logaddexp.reduce(np.array(parts), axis=0))


def _spread_over_dates(start: Start, z: Floats, weights: Floats, count: int) -> NDArray[np.intp]:
    """Positions drawn in proportion to their weight, evenly over members sorted from quick to slow.

    Sorted by the closed form of exponential growth, ln(1 + dose/bacteria)/growth: until nitrite shows, and from there until a dose of it is gone.
    This only puts tanks of like dates side by side, so that few members stand well for many.
    """
    members, kinetics = members_from_z(start, z), kinetics_from_start(start)
    decay = decay_per_d(kinetics)
    growth = np.maximum(effective_growth_per_d(members, kinetics) - decay, SLOWEST_PER_D)
    shows = np.log1p(NITRITE_SHOWS_MG_N_L / members.bacteria_mg_n_l[0]) / growth[0]
    second_guild = np.maximum(members.bacteria_mg_n_l[1] * np.exp(-decay[1] * shows), 1e-200)
    order = np.argsort(shows + np.log1p(ONE_DOSE_MG_N_L / second_guild) / growth[1], kind="stable")
    return np.asarray(order[_systematic(weights[order], count)])


def _systematic(weights: Floats, count: int) -> NDArray[np.intp]:
    """Positions drawn in proportion to their weight at even spacing; no chance in it."""
    ladder = (np.arange(count) + 0.5) / count
    return np.minimum(np.searchsorted(np.cumsum(weights), ladder), len(weights) - 1)
