"""The forecast by way of what is kept of it: whole while nothing is new; else the belief after the last reading, since
only the day and the keeper's policy change from one morning to the next. With and without it the results are the same."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict, replace
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from planner.files.kept import Kept, Maker
from planner.science.cycle.records import Band, Change, CycleForecast, Dose, KitReading, Load, Policy, Quantiles, Start

if TYPE_CHECKING:  # the model is loaded only where it must run
    from planner.science.cycle.weigh import Posterior

HOME = Path(__file__).parents[1]
MODEL = Maker((HOME / "judge" / "forecast_cache.py", HOME / "files" / "kept.py", *sorted((HOME / "science" / "cycle").glob("*.py"))), ("numpy",))
"""What makes a forecast out of its inputs."""


def forecast_kept(kept: Kept | None, start: Start, doses: Sequence[Dose], changes: Sequence[Change], readings: Sequence[KitReading], now_d: float,
                  horizon_d: float, policy: Policy | None, clear_mg_n_l: float) -> CycleForecast:
    """`forecast_cycle` of these arguments."""
    inputs = (start, tuple(doses), tuple(changes), tuple(readings), now_d, horizon_d, policy, clear_mg_n_l)
    if kept is not None and (found := forecast_from(kept.find("forecast", MODEL, inputs))) is not None:
        return found
    from planner.science.cycle.forecast import forecast_cycle

    def weigh(*given: Any, **more: Any) -> Posterior:
        return weigh_kept(kept, *given, **more)

    made = forecast_cycle(*inputs, weigh=weigh)
    if kept is not None:
        kept.keep("forecast", MODEL, inputs, asdict(made))
    return made


def weigh_kept(kept: Kept | None, start: Start, doses: Sequence[Dose], changes: Sequence[Change], readings: Sequence[KitReading], *,
               loads: Sequence[Load], count: int) -> Posterior:
    """`condition` of these arguments. What was put in after the last reading has no part in it."""
    from planner.science.cycle.prior import members_from_z
    from planner.science.cycle.weigh import CONDITIONING_STEP_D

    end = max((CONDITIONING_STEP_D, *(r.t_d for r in readings)))
    put_in = tuple(x for x in doses if x.t_d <= end), tuple(x for x in changes if x.t_d <= end), tuple(x for x in loads if x.t_d <= end)
    # No reading knows on what day a seed comes that is still to come.
    known = replace(start.until(end), later_seeds=tuple(s if s.t_d <= end else replace(s, t_d=math.inf) for s in start.later_seeds))
    inputs = (known, put_in, tuple(readings), count)
    found = None if kept is None else belief_from(start, count, kept.find("belief", MODEL, inputs))
    if found is None:
        made = condition_once(*inputs)
        found = replace(made, members=members_from_z(start, made.z))
        if kept is not None:
            kept.keep("belief", MODEL, inputs, {"z": found.z.tolist(), "effective": found.effective, "used": found.used, "unexplained": found.unexplained, "mistakes": found.mistakes})
    return found


@lru_cache(maxsize=4)
def condition_once(known: Start, put_in: tuple[tuple[Dose, ...], tuple[Change, ...], tuple[Load, ...]], readings: tuple[KitReading, ...], count: int) -> Posterior:
    """`condition`, which the evening of a test and the days after it ask the same thing."""
    from planner.science.cycle.weigh import condition

    doses, changes, loads = put_in
    return condition(known, doses, changes, readings, loads=loads, count=count)


def forecast_from(data: Any) -> CycleForecast | None:
    """The forecast of plain data; None where it is none."""
    try:
        shapes = {name: CycleForecast.__annotations__[name] for name in data}
        made = {Quantiles: _quantiles, Band: _band}
        return CycleForecast(**{name: _shaped(shapes[name], value, made) for name, value in data.items()})
    except (TypeError, KeyError, AttributeError):
        return None


def _shaped(shape: Any, value: Any, made: dict[Any, Any]) -> Any:
    return made[shape](value) if shape in made else tuple(value) if isinstance(value, list) else value


def _quantiles(value: Any) -> Quantiles:
    return Quantiles(**value)


def _band(value: Any) -> Band:
    return Band(**{name: tuple(line) for name, line in value.items()})


def belief_from(start: Start, count: int, data: Any) -> Posterior | None:
    """The belief of plain data; None where it is none for this start."""
    if data is None:
        return None
    import numpy as np

    from planner.science.cycle.prior import members_from_z
    from planner.science.cycle.weigh import Posterior

    try:
        z = np.array(data["z"], dtype=np.float64)
        if z.shape != (count, start.dimensions):
            return None
        return Posterior(z, members_from_z(start, z), data["effective"], tuple(data["used"]), tuple(data["unexplained"]), tuple(data["mistakes"]))
    except (TypeError, KeyError, ValueError):
        return None
