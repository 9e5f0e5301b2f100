"""The nitrogen cycle of a new tank: an ensemble carried through doses, water changes and a dosing policy.

Times are days since the first ammonia (first dose, or live rock put in). Everything is mg/L as N. The
equations and their sources are in `nitrogen_step`. Nothing here is random.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from planner.science.cycle.policy import PolicyState
from planner.science.cycle.records import ALKALINITY_DKH_PER_MG_N, Change, Dose, Load, Policy
from planner.science.cycle.step import (
    DEFAULT_STEP_D,
    GROWTH_CEILING_C,
    REFERENCE_TEMPERATURE_C,
    Floats,
    Kinetics,
    Members,
    Stepper,
    decay_per_d,
    effective_growth_per_d,
    nh3_fraction_from_ph,
)

__all__ = [
    "ALKALINITY_DKH_PER_MG_N",
    "DEFAULT_STEP_D",
    "GROWTH_CEILING_C",
    "REFERENCE_TEMPERATURE_C",
    "Change",
    "Dose",
    "Floats",
    "Kinetics",
    "Load",
    "Members",
    "Policy",
    "Track",
    "clear_days",
    "decay_per_d",
    "effective_growth_per_d",
    "integrate",
    "nh3_fraction_from_ph",
]

_SAME_INSTANT_D = 1e-9


@dataclass(frozen=True, slots=True)
class Track:
    """What `integrate` computed, m rows of time by n members.

    An instant with events has two rows, before and after. `dosed` marks, on the row before, the members that
    were given ammonia, nitrite or food there. `oxidised` is ammonia turned to nitrite since the start.
    `policy_dose_mg_n_l` and `cycle_done_d` (inf = not by the end) are zeros and infs without a policy.
    """

    t_d: Floats  # (m,)
    ammonia: Floats  # (m, n)
    nitrite: Floats
    nitrate: Floats
    oxidised: Floats
    bacteria: Floats  # (m, 2, n)
    dosed: NDArray[np.bool_]  # (m, n)
    pool: Floats  # (n,) at the end
    policy_dose_mg_n_l: Floats  # (n,)
    cycle_done_d: Floats  # (n,)

    def row_before(self, t_d: float) -> int:
        """The first row at this instant (before its events); the instant must be one of the track's."""
        row = int(np.searchsorted(self.t_d, t_d - _SAME_INSTANT_D))
        if row >= len(self.t_d) or abs(self.t_d[row] - t_d) > 10 * _SAME_INSTANT_D:
            raise ValueError(f"the track holds no row at day {t_d:g}")
        return row

    def rows_after(self, times_d: Floats) -> NDArray[np.intp]:
        """The last row at each of these instants (after its events); they must lie on the track."""
        return np.searchsorted(self.t_d, times_d + _SAME_INSTANT_D, side="right") - 1


def _instants(
    end_d: float, step_d: float, marks: Sequence[float], policy_from_d: float | None
) -> tuple[list[float], set[int]]:
    """The grid of the run (multiples of the step and every marked time) and the policy's whole days."""
    count = math.ceil(end_d / step_d - _SAME_INSTANT_D)
    times = [i * step_d for i in range(count)] + [end_d]
    times += [t for t in marks if 0 <= t <= end_d]
    days: set[int] = set()
    if policy_from_d is not None:
        days = set(range(math.ceil(policy_from_d - _SAME_INSTANT_D), math.floor(end_d) + 1))
        times += [float(day) for day in days]
    grid: list[float] = []
    for t in sorted(times):
        if not grid or t - grid[-1] > _SAME_INSTANT_D:
            grid.append(t)
    return grid, days


def integrate(
    members: Members,
    kinetics: Kinetics,
    end_d: float,
    *,
    doses: Sequence[Dose] = (),
    changes: Sequence[Change] = (),
    loads: Sequence[Load] = (),
    at_d: Sequence[float] = (),
    policy: Policy | None = None,
    policy_from_d: float = 0.0,
    step_d: float = DEFAULT_STEP_D,
    only_at_d: bool = False,
    climate: Sequence[tuple[float, Kinetics]] = (),
) -> Track:
    """Carries every member from day 0 to `end_d`; events fall at their exact times, and so do `at_d`.

    `climate`: the constants from such a day on, `kinetics` until the first of them. What the members' `inocula` name is put in on its day.
    At one instant the order is water change, load, dose, policy. From the first whole day at or after
    `policy_from_d` on, each member also follows the policy. Second order in `step_d` (days, at most 1; at the default, a third, the largest difference from a tight solver stays under 1 % of a dose).
    `only_at_d` keeps just the rows at `at_d` (cheaper; no dates can be read off it).
    Raises ValueError for times before day 0, negative amounts, or a fraction outside 0 to 1.
    """
    if not end_d > 0 or not 0 < step_d <= 1:
        raise ValueError("end_d must be positive and step_d above 0 and at most 1 day")
    if any(d.t_d < 0 or not d.rise_mg_n_l >= 0 for d in doses):
        raise ValueError("a dose needs a time from day 0 on and a rise of at least 0")
    if any(c.t_d < 0 or not 0 <= c.fraction <= 1 for c in changes):
        raise ValueError("a change needs a time from day 0 on and a fraction from 0 to 1")
    if any(load.t_d < 0 or not load.mg_n_l_d >= 0 for load in loads):
        raise ValueError("a load needs a time from day 0 on and cannot be negative")
    later: list[tuple[float, Kinetics | Floats]] = sorted([*((t, k) for t, k in climate), *members.inocula], key=lambda x: x[0], reverse=True)
    marks = [*(d.t_d for d in doses), *(c.t_d for c in changes), *(x.t_d for x in loads)]
    grid, days = _instants(end_d, step_d, [*marks, *at_d, *(t for t, _ in later)], None if policy is None else policy_from_d)
    event_times = sorted(set(marks))
    n = members.count
    waiting = sorted(at_d, reverse=True)
    rows = len(grid) + len(event_times) + len(days) + 1
    times = np.empty(rows)
    dissolved = np.empty((rows, 2, n))
    nitrate, oxidised = np.empty((rows, n)), np.empty((rows, n))
    bacteria = np.empty((rows, 2, n))
    dosed = np.zeros((rows, n), dtype=np.bool_)
    state = Stepper(members, kinetics)
    acts = PolicyState(policy or Policy(), members.pool_mg_n_l)
    row = 0
    for i, t in enumerate(grid):
        if i:
            state.advance(t - grid[i - 1])
        while later and later[-1][0] <= t + _SAME_INSTANT_D:
            change = later.pop()[1]
            if isinstance(change, Kinetics):
                state.change_climate(change)
            else:
                state.add_bacteria(change)
        wanted = not only_at_d
        while waiting and waiting[-1] <= t + _SAME_INSTANT_D:
            waiting.pop()
            wanted = True
        if wanted:
            times[row], dissolved[row], nitrate[row] = t, state.dissolved, state.nitrate
            oxidised[row], bacteria[row] = state.oxidised, state.bacteria
            row += 1
        touched = False
        if event_times and event_times[0] <= t + _SAME_INSTANT_D:
            while event_times and event_times[0] <= t + _SAME_INSTANT_D:
                event_times.pop(0)
            touched = True
            dosed[row - 1] = _apply(state, acts, t, doses, changes, loads)
        day = round(t)
        if day in days and abs(t - day) <= _SAME_INSTANT_D:
            released = members.pool_mg_n_l * -np.expm1(-members.pool_rate_per_d * t)
            given, food = acts.dose_mg_n_l(day, state.dissolved[0], state.dissolved[1], state.oxidised, released)
            if np.any(given) or np.any(food):
                state.dissolved[0] += given
                state.add_to_pool(food)
                dosed[row - 1] |= given + food > 0
                touched = True
        if touched and wanted:
            times[row], dissolved[row], nitrate[row] = t, state.dissolved, state.nitrate
            oxidised[row], bacteria[row] = state.oxidised, state.bacteria
            row += 1
    return Track(
        times[:row],
        dissolved[:row, 0],
        dissolved[:row, 1],
        nitrate[:row],
        oxidised[:row],
        bacteria[:row],
        dosed[:row],
        state.pool,
        acts.to_come,
        acts.done_d,
    )


def _apply(
    state: Stepper,
    acts: PolicyState,
    t: float,
    doses: Sequence[Dose],
    changes: Sequence[Change],
    loads: Sequence[Load],
) -> bool:
    """Applies the journal's events of this instant; says whether nitrogen was added."""
    added = False
    for change in changes:
        if abs(change.t_d - t) <= _SAME_INSTANT_D:
            state.change_water(change.fraction)
    for load in loads:
        if abs(load.t_d - t) <= _SAME_INSTANT_D:
            state.load_mg_n_l_d = load.mg_n_l_d
    for dose in doses:
        if abs(dose.t_d - t) <= _SAME_INSTANT_D:
            added = added or dose.rise_mg_n_l > 0
            if dose.what == "food":
                state.add_to_pool(dose.rise_mg_n_l)
            else:
                state.dissolved[0 if dose.what == "ammonia" else 1] += dose.rise_mg_n_l
            if dose.what != "nitrite":
                acts.note_dose(dose.rise_mg_n_l)
    return added


def clear_days(track: Track, clear_mg_n_l: float) -> tuple[Floats, Floats]:
    """The day on which each member's ammonia, and its nitrite, is clear for good until the next dose.

    "Clear" is `clear_mg_n_l` or less from that day to the next dose (or the end of the run). Neither counts
    before there was anything to clear: ammonia must have been above the limit, and so must nitrite, unless
    ammonia has been cleared without nitrite ever showing. inf where it does not happen by the end.
    """
    ammonia = _first_lasting(track, track.ammonia, clear_mg_n_l, None)
    nitrite = _first_lasting(track, track.nitrite, clear_mg_n_l, ammonia)
    return ammonia, nitrite


def _first_lasting(track: Track, level: Floats, clear: float, or_from: Floats | None) -> Floats:
    below = level <= clear
    lasting = below.copy()
    for row in range(len(track.t_d) - 2, -1, -1):
        lasting[row] &= lasting[row + 1] | track.dosed[row]
    shown = np.logical_or.accumulate(~below, axis=0)
    if or_from is not None:
        shown |= track.t_d[:, None] >= or_from - _SAME_INSTANT_D
    counts = lasting & shown
    first = np.argmax(counts, axis=0)
    column = np.arange(level.shape[1])
    happened = counts[first, column]
    earlier = np.maximum(first - 1, 0)
    high, low = level[earlier, column], np.maximum(level[first, column], 1e-12)
    span = track.t_d[first] - track.t_d[earlier]
    # Near exhaustion the fall is exponential, so the crossing is placed on the logarithm.
    crosses = happened & (high > clear) & (high > low)
    share = np.ones_like(high)
    share[crosses] = np.log(high[crosses] / clear) / np.log(high[crosses] / low[crosses])
    return np.where(happened, track.t_d[earlier] + span * np.clip(share, 0.0, 1.0), np.inf)
