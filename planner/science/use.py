"""What a tank uses of alkalinity (or makes of nitrate) in a day, from dated readings, doses and water changes.

Between events the level falls by `use` a day. A dose adds to it, and a change of share f with new water at c makes it
(1 - f) level + f c. So each reading is linear in two unknowns, the level at the start and the use: weighted least squares
with the kit's own error, and beside it a filter that takes one reading after another and never has to be fitted again.
Times are in days, levels and doses in one unit throughout.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from planner.science.formula import Formula, OutOfRange, require

__all__ = [
    "FORMULAS", "WITHIN_80", "Change", "Dose", "Fit", "Sample", "State", "combined", "fit_use", "follow", "leak_l_day", "median_and_spread", "most_use_held",
    "next_dose", "level_band", "top_up_most", "trough",
]

WITHIN_80 = 1.2816
"""Standard errors on either side that hold four of five (normal law)."""


@dataclass(frozen=True, slots=True)
class Sample:
    """A reading at `t` days with the standard error of its kit."""

    t: float
    value: float
    sd: float


@dataclass(frozen=True, slots=True)
class Dose:
    t: float
    rise: float


@dataclass(frozen=True, slots=True)
class Change:
    """A share of the water (0 to 1) swapped for new water at a level known to within `sd`."""

    t: float
    share: float
    new: float
    sd: float = 0.0


@dataclass(frozen=True, slots=True)
class Fit:
    """The level at t = 0, and `use` a day with its standard error. `misfit` is chi-square per degree of freedom; None with two
    readings, which fit any line."""

    level: float
    use: float
    use_se: float
    readings: int
    span: float
    misfit: float | None

    @property
    def band(self) -> tuple[float, float]:
        """Four of five tanks that read like this use between these two."""
        return self.use - WITHIN_80 * self.use_se, self.use + WITHIN_80 * self.use_se


def _ordered(samples: Sequence[Sample], doses: Sequence[Dose], changes: Sequence[Change]) -> Iterator[Sample | Dose | Change]:
    """By time; at one instant the reading first, since the test comes before the dose."""
    events: list[Sample | Dose | Change] = [*samples, *doses, *changes]
    yield from sorted(events, key=lambda e: e.t)


def fit_use(samples: Sequence[Sample], doses: Sequence[Dose] = (), changes: Sequence[Change] = (), *, dose_error: float = 0.0) -> Fit | None:
    """Use a day by weighted least squares; None from fewer than two readings of different times.

    y = phi level - use b + k, with phi the share of the first water still there, b the days that count, k what came in. The
    readings' errors are those of the kits: with three to five readings their own scatter says nothing. The error of the new
    water is one for all changes, and so is the relative error of the doses: both shift the use, and are added in quadrature.
    Valid: shares 0 to 1. Raises OutOfRange. Source: Gauss-Markov; mass balance of batch dilution.
    """
    fit = _fitted(samples, doses, changes)
    if fit is None:
        return None
    spread = fit.use_se**2
    if any(c.sd for c in changes):
        moved = _fitted(samples, doses, [replace(c, new=c.new + c.sd) for c in changes])
        spread += (moved.use - fit.use) ** 2 if moved is not None else 0.0
    if dose_error and doses:
        moved = _fitted(samples, [replace(d, rise=d.rise * (1 + dose_error)) for d in doses], changes)
        spread += (moved.use - fit.use) ** 2 if moved is not None else 0.0
    return replace(fit, use_se=math.sqrt(spread))


def _fitted(samples: Sequence[Sample], doses: Sequence[Dose], changes: Sequence[Change]) -> Fit | None:
    begin = min((s.t for s in samples), default=0.0)
    rows: list[tuple[float, float, float, float]] = []
    t, phi, b, k = begin, 1.0, 0.0, 0.0
    for event in _ordered(samples, [d for d in doses if d.t >= begin], [c for c in changes if c.t >= begin]):
        b += event.t - t
        t = event.t
        match event:
            case Dose():
                k += event.rise
            case Change():
                kept = 1.0 - require("share changed", event.share, 0.0, 1.0)
                phi, b, k = phi * kept, b * kept, k * kept + event.share * event.new
            case Sample():
                rows.append((phi, -b, event.value - k, 1.0 / require("error of a reading", event.sd, 1e-9, 1e9) ** 2))
    aa, ab, bb = (sum(w * x * y for x, y, w in picked) for picked in (
        [(p, p, w) for p, _, _, w in rows], [(p, q, w) for p, q, _, w in rows], [(q, q, w) for _, q, _, w in rows]))
    az, bz = sum(w * p * z for p, _, z, w in rows), sum(w * q * z for _, q, z, w in rows)
    det = aa * bb - ab * ab
    if len(rows) < 2 or det <= 1e-9 * max(aa * bb, 1e-300):
        return None
    level, use = (bb * az - ab * bz) / det, (aa * bz - ab * az) / det
    chi = sum(w * (z - p * level - q * use) ** 2 for p, q, z, w in rows)
    times = [s.t for s in samples]
    return Fit(level, use, math.sqrt(aa / det), len(rows), max(times) - min(times), chi / (len(rows) - 2) if len(rows) > 2 else None)


@dataclass(frozen=True, slots=True)
class State:
    """Level and use as believed at time `t`, with their covariance."""

    t: float
    level: float
    use: float
    p_level: float
    p_both: float
    p_use: float
    doubted: tuple[Sample, ...] = ()

    @property
    def level_sd(self) -> float:
        return math.sqrt(self.p_level)


DRIFT = 0.02
"""How far the use may wander, per day and root of a day: 0.11 in a month (common practice, no source)."""
WIDENED = 0.2
GATE_SDS = 3.0


def follow(start: State, samples: Sequence[Sample], doses: Sequence[Dose] = (), changes: Sequence[Change] = (), until: float | None = None, *,
           drift: float = DRIFT, dose_error: float = 0.05) -> State:
    """The belief after all events from `start` on, carried to `until`. A reading more than three standard errors off is kept
    apart (`doubted`); a second one that agrees with it sets the level, and the use is believed less.

    Source: Kalman filter of a level with a wandering rate; Q = drift^2 [[dt^3/3, -dt^2/2], [-dt^2/2, dt]].
    """
    state = start
    for event in _ordered(samples, doses, changes):
        if event.t < start.t:
            continue
        state = _carried(state, event.t, drift)
        match event:
            case Dose():
                state = replace(state, level=state.level + event.rise, p_level=state.p_level + (dose_error * event.rise) ** 2)
            case Change():
                kept = 1.0 - require("share changed", event.share, 0.0, 1.0)
                state = replace(state, level=kept * state.level + event.share * event.new, p_level=kept**2 * state.p_level + (event.share * event.sd) ** 2, p_both=kept * state.p_both)
            case Sample():
                state = _taken_in(state, event)
    return state if until is None else _carried(state, max(until, state.t), drift)


def _carried(s: State, t: float, drift: float) -> State:
    dt, q = t - s.t, drift * drift
    if dt <= 0:
        return s
    return replace(s, t=t, level=s.level - s.use * dt, p_level=s.p_level - 2 * dt * s.p_both + dt * dt * s.p_use + q * dt**3 / 3,
                   p_both=s.p_both - dt * s.p_use - q * dt * dt / 2, p_use=s.p_use + q * dt)


def _taken_in(s: State, reading: Sample) -> State:
    r, off = reading.sd**2, reading.value - s.level
    if abs(off) > GATE_SDS * math.sqrt(s.p_level + r):
        before = s.doubted[-1] if s.doubted else None
        if before is None or abs(before.value - s.use * (reading.t - before.t) - reading.value) > GATE_SDS * math.hypot(before.sd, reading.sd):
            return replace(s, doubted=(*s.doubted, reading))
        return State(s.t, reading.value, s.use, r, 0.0, max(s.p_use, WIDENED**2))
    gain, cross = s.p_level / (s.p_level + r), s.p_both / (s.p_level + r)
    return State(s.t, s.level + gain * off, s.use + cross * off, (1 - gain) * s.p_level, (1 - gain) * s.p_both, s.p_use - cross * s.p_both)


def combined(*guesses: tuple[float, float]) -> tuple[float, float]:
    """One value and its error from several independent ones (value, standard error): the inverse-variance mean.

    Valid: errors above 0. Raises OutOfRange. Source: Gauss-Markov.
    """
    weights = [1.0 / require("standard error", sd, 1e-12, 1e12) ** 2 for _, sd in guesses]
    return sum(w * v for w, (v, _) in zip(weights, guesses, strict=True)) / sum(weights), 1.0 / math.sqrt(sum(weights))


# --- doses and changes that hold a level


def next_dose(use: float, given: float | None, *, first_share: float, most_step: float, most: float) -> float:
    """The dose of the coming week, a day: `first_share` of the use to begin with; then towards the use, by at most `most_step`
    (a share) of what is given, and never above `most`. Nothing where nothing is used.

    Valid: shares 0 to 1. Source: the rule of a cautious controller; the figures are common practice.
    """
    if use <= 0:
        return 0.0
    if not given:
        return min(most, require("first share", first_share, 0.0, 1.0) * use)
    step = require("largest step", most_step, 0.0, 1.0) * given
    return min(most, max(0.0, given + max(-step, min(step, use - given))))


def level_band(level: float, level_sd: float, use: float, use_sd: float, dose: float, days: float, sds: float = 2.0) -> tuple[float, float, float]:
    """(low, expected, high) level after `days` at this dose, level and use taken as independent.

    Valid: 0 to 60 days. Raises OutOfRange. Source: propagation of errors.
    """
    days = require("days ahead", days, 0.0, 60.0, "d")
    mid = level + days * (dose - use)
    wide = sds * math.hypot(level_sd, days * use_sd)
    return mid - wide, mid, mid + wide


def trough(new: float, use: float, share: float, days: float = 7.0) -> float:
    """The level just before a change where changes of `share` every `days` are all that brings it back, in the long run.

    Valid: share above 0 to 1. Raises OutOfRange. Source: steady state of batch dilution, new - days use / f.
    """
    return new - days * use / require("share changed", share, 1e-6, 1.0)


def most_use_held(new: float, lowest: float, share: float, days: float = 7.0) -> float:
    """The use a day up to which such changes alone keep the level at or above `lowest`; 0 where they cannot.

    Valid: share 0 to 1. Raises OutOfRange. Source: `trough`, solved for the use.
    """
    return max(0.0, require("share changed", share, 0.0, 1.0) * (new - lowest) / days)


# --- top-up and salinity as signs of a leak


def median_and_spread(values: Sequence[float]) -> tuple[float, float]:
    """The median, and the median distance from it."""
    if not values:
        raise OutOfRange("days of top-up", 0, 1, 1e6)
    mid = _median(values)
    return mid, _median([abs(v - mid) for v in values])


def _median(values: Sequence[float]) -> float:
    held, n = sorted(values), len(values)
    return held[n // 2] if n % 2 else (held[n // 2 - 1] + held[n // 2]) / 2


def top_up_most(values: Sequence[float], share_over: float = 0.5) -> float:
    """Litres a day above which a day's top-up is out of the ordinary: the larger of half as much again and three robust
    standard deviations (1.4826 x the median distance) above the median.

    Source: robust statistics; the half is common practice.
    """
    mid, spread = median_and_spread(values)
    return max((1 + share_over) * mid, mid + 3 * 1.4826 * spread)


def leak_l_day(volume_l: float, salinity: float, fall_ppt_day: float) -> float:
    """Litres of tank water lost a day where salinity falls this fast while fresh water holds the level.

    Valid: salinity 1 to 45 ppt. Raises OutOfRange. Source: mass balance of salt, L = -(dS/dt) V / S.
    """
    return fall_ppt_day * volume_l / require("salinity", salinity, 1.0, 45.0, "ppt")


FORMULAS: dict[str, Formula] = {
    f.name: f
    for f in (
        Formula("follow", "level and use as a filter, Q = 0.02^2 [[dt^3/3, -dt^2/2], [-dt^2/2, dt]]", "Kalman filter of a level with a wandering rate", "any readings"),
    )
}
