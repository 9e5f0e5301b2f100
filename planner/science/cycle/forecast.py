"""The nitrogen-cycle forecast of one tank: when ammonia and nitrite clear, and what happens until then.

Belief after the readings (`conditioning`) is carried forward under the keeper's policy, and summed up as
quantiles. Days count from the first ammonia (first dose, or live rock put in). Amounts are mg/L as N.
"""

import math
from collections.abc import Sequence

import numpy as np

from planner.science.cycle.prior import climate_from_start, kinetics_at, kinetics_from_start
from planner.science.cycle.records import Band, Change, CycleForecast, Dose, KitReading, Load, Policy, Quantiles, Start
from planner.science.cycle.run import (
    ALKALINITY_DKH_PER_MG_N,
    Floats,
    Track,
    clear_days,
    decay_per_d,
    effective_growth_per_d,
    integrate,
)
from planner.science.cycle.weigh import DEFAULT_MEMBERS, Posterior, Weigh, condition

LEVELS = (0.1, 0.5, 0.9)
UNFED_D = 7.0


def quantiles(values: Floats) -> Quantiles:
    """The 10, 50 and 90 % points of equally weighted values; infinite points become None."""
    ladder = np.sort(values)
    picked = [float(ladder[math.ceil(level * len(ladder)) - 1]) for level in LEVELS]
    found = [None if math.isinf(value) else value for value in picked]
    return Quantiles(found[0], found[1], found[2])


def forecast_cycle(
    start: Start,
    doses: Sequence[Dose],
    changes: Sequence[Change],
    readings: Sequence[KitReading],
    now_d: float,
    horizon_d: float,
    policy: Policy | None,
    clear_mg_n_l: float,
    *,
    loads: Sequence[Load] = (),
    members: int = DEFAULT_MEMBERS,
    weigh: Weigh = condition,
) -> CycleForecast:
    """Curves and event dates for this tank. Pure and deterministic.

    start: how it was set going. doses, changes, loads: what was (and surely will be) put in, by day. readings:
    kit answers up to `now_d` (later ones are unseen). From the first whole day at or after now_d the keeper
    follows `policy` (None: nothing more is given); from the day that ends with now_d, if that is its first. horizon_d: last day of the forecast, counted from the start.
    clear_mg_n_l: what counts as clear. `weigh`: where the belief after the readings comes from, if not straight from
    `condition`: it must be the same. ValueError if the horizon is not after now or clear is not positive.
    """
    if not 0 <= now_d < horizon_d:
        raise ValueError("now_d must be at least 0 and before horizon_d")
    if not clear_mg_n_l > 0:
        raise ValueError("clear_mg_n_l must be positive")
    seen = [i for i, r in enumerate(readings) if r.t_d <= now_d]
    days = np.arange(math.floor(horizon_d) + 1)
    belief, track = carry_belief(
        start,
        doses,
        changes,
        [readings[i] for i in seen],
        now_d,
        horizon_d,
        policy,
        loads=loads,
        members=members,
        weigh=weigh,
    )
    kinetics = kinetics_at(start, now_d)
    rows = track.rows_after(days.astype(np.float64))
    ammonia_clear, nitrite_clear = clear_days(track, clear_mg_n_l)
    now_row = int(track.rows_after(np.array([now_d]))[0])
    column = np.arange(members)
    end_rows = track.rows_after(np.minimum(track.cycle_done_d, track.t_d[-1]))
    used_now = track.oxidised[now_row]
    growth = effective_growth_per_d(belief.members, kinetics)
    capacity = growth * track.bacteria[now_row]
    unfed = capacity * np.exp(-decay_per_d(kinetics) * UNFED_D)
    return CycleForecast(
        ammonia_clear=quantiles(ammonia_clear),
        nitrite_clear=quantiles(nitrite_clear),
        cycle_done=quantiles(track.cycle_done_d),
        days=tuple(int(day) for day in days),
        ammonia=_band(track.ammonia[rows]),
        nitrite=_band(track.nitrite[rows]),
        nitrate=_band(track.nitrate[rows]),
        alkalinity_to_come_dkh=quantiles(
            np.maximum(track.oxidised[end_rows, column] - used_now, 0.0) * ALKALINITY_DKH_PER_MG_N
        ),
        capacity_mg_n_l_d=quantiles(capacity.min(axis=0)),
        capacity_unfed_week_mg_n_l_d=quantiles(unfed.min(axis=0)),
        readings_used=tuple(seen[i] for i in belief.used),
        unexplained=tuple(seen[i] for i in belief.unexplained),
        mistakes=tuple(seen[i] for i in belief.mistakes),
        members=members,
    )


def carry_belief(
    start: Start,
    doses: Sequence[Dose],
    changes: Sequence[Change],
    readings: Sequence[KitReading],
    now_d: float,
    horizon_d: float,
    policy: Policy | None,
    *,
    loads: Sequence[Load] = (),
    members: int = DEFAULT_MEMBERS,
    weigh: Weigh = condition,
) -> tuple[Posterior, Track]:
    """The members after the readings, and their way from day 0 to the horizon under the policy.

    The track holds a row for `now_d` and for every whole day. Arguments as in `forecast_cycle`.
    """
    belief = weigh(start, doses, changes, readings, loads=loads, count=members)
    track = integrate(
        belief.members,
        kinetics_from_start(start),
        horizon_d,
        doses=[x for x in doses if x.t_d <= horizon_d],
        changes=[x for x in changes if x.t_d <= horizon_d],
        loads=[x for x in loads if x.t_d <= horizon_d],
        at_d=[now_d, *range(math.floor(horizon_d) + 1)],
        policy=policy,
        policy_from_d=now_d if policy is None else min(now_d, max(policy.first_day_d, now_d - 1.0)),
        climate=climate_from_start(start),
    )
    return belief, track


def _band(levels: Floats) -> Band:
    ladder = np.sort(levels, axis=1)
    lines = [
        tuple(np.maximum(ladder[:, math.ceil(level * levels.shape[1]) - 1], 0.0).tolist()) for level in LEVELS
    ]
    return Band(lines[0], lines[1], lines[2])
