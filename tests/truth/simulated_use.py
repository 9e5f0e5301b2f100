"""Tanks that use alkalinity, simulated hour by hour, apart from the planner: the truth against which its estimate is held.

A bucket of water loses a little every hour, more by day than by night; doses and changes come at odd hours; the keeper's kit
has an error of its own and shows whole steps only. Nothing of `planner` is imported here.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass

HOURS = 24


@dataclass(frozen=True, slots=True)
class SimulatedTank:
    """`readings` (day, value); `doses` (day, rise); `changes` (day, share, level of the new water); the true use a day."""

    readings: tuple[tuple[float, float], ...]
    doses: tuple[tuple[float, float], ...]
    changes: tuple[tuple[float, float, float], ...]
    use: float
    kit_sd: float


def simulate(seed: int, *, days: int | None = None, readings: int | None = None, use: float | None = None, inputs: bool = True) -> SimulatedTank:
    """One tank by its seed; what is not given is drawn."""
    draw = random.Random(seed)
    days = days or draw.randint(14, 28)
    count = readings or draw.randint(5, 10)
    use = draw.uniform(0.0, 0.7) if use is None else use
    step, kit_sd = draw.choice([(0.1, 0.15), (0.5, 0.3), (0.5, 0.2)])
    scatter = math.sqrt(kit_sd**2 - step**2 / 12)
    end = days * HOURS
    tests = sorted({0, end, *(draw.randrange(1, end) for _ in range(count - 2))})
    change_at = {week * 7 * HOURS + draw.randrange(-20, 20): (draw.uniform(0.05, 0.25), draw.uniform(7.5, 11.0)) for week in range(1, days // 7 + 1)} if inputs else {}
    starts = draw.randrange(0, end) if inputs else end
    dose_at = {h: draw.uniform(0.5, 1.1) * use for h in range(starts, end) if h % HOURS == 9}
    level = draw.uniform(7.0, 10.0)
    seen, doses, changes = [], [], []
    for hour in range(end + 1):
        if hour in tests:
            seen.append((hour / HOURS, round(draw.gauss(level, scatter) / step) * step))
        if hour in dose_at:
            level += dose_at[hour]
            doses.append((hour / HOURS + 0.001, dose_at[hour]))
        if hour in change_at:
            share, new = change_at[hour]
            level = level * (1 - share) + new * share
            changes.append((hour / HOURS + 0.002, share, new))
        level -= use / HOURS * (1 + 0.6 * math.sin(2 * math.pi * (hour % HOURS - 8) / HOURS))
    return SimulatedTank(tuple(seen), tuple(doses), tuple(changes), use, kit_sd)
