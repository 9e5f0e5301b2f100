"""What the nitrogen cycle is expected to do in this tank, from its own readings: milestones and curves.

The journal becomes doses, changes and kit intervals; `cycle_forecast` weighs its ensemble of plausible tanks against
them. Dates made here never open a gate; they say when its tests can be expected to be good.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache
from typing import Literal

from planner.conditions import Scene, judge_reading
from planner.cycle_forecast import CycleForecast, Quantiles, forecast_cycle
from planner.evidence import clear_level, dose_rise, kit_step
from planner.gates import Verdicts
from planner.gather import Facts, animals_in, change_fraction, end_of_day
from planner.model import Answer, CurvePoint, Row
from planner.nitrogen import Change, Dose, Policy
from planner.nitrogen_kit import KitReading
from planner.nitrogen_prior import Start
from planner.rulebook import ReadingNode, Rulebook
from planner.tankfile import Tank

MILESTONES = ("ammonia_clear", "nitrite_clear", "cycle_done")
HORIZON_D = 120.0
LONGEST_D = 365.0
DAY = 86400.0


@dataclass(frozen=True, slots=True)
class Expectation:
    """Milestones as (quick, likely, slow) days after `origin` (None: after the cycle's first day); `happened` holds
    those that readings have shown. `curves` is empty once the cycle gate is open."""

    origin: date | None
    offsets: dict[str, tuple[int | None, int | None, int | None]]
    happened: dict[str, date]
    readings_used: int
    members: int
    basis: str
    curve: tuple[CurvePoint, ...] = ()
    unexplained: tuple[Row, ...] = ()
    model: CycleForecast | None = None


def start_of(tank: Tank) -> Start:
    """This tank's start in the model's words. Rock cured elsewhere brings bacteria; dry or undescribed rock none."""
    live_here = tank.rock.kind == "live" and tank.rock.cured_in == "tank"
    rocks: dict[str, Literal["none", "dry", "cured", "live"]] = {"live": "live" if live_here else "cured", "cured": "cured", "dry": "dry"}
    rock = rocks.get(tank.rock.kind or "", "none")
    kind: Literal["dosed", "food", "rock"] = "rock" if live_here else "food" if tank.cycle.ammonia == "food" else "dosed"
    return Start(kind, tank.cycle.seed, max(10.0, min(34.0, tank.water.temperature_c)), tank.water.salinity, 8.2, 100.0, rock)


def policy_of(rules: Rulebook, tank: Tank) -> Policy:
    """The rules' own dosing and testing, as the model's members follow it."""
    light = tank.rock.kind == "live" or bool(tank.wish_list)
    return Policy(
        redose_mg_n_l=rules.number("redose_rise"), ammonia_below_mg_n_l=rules.number("redose_below"), nitrite_below_mg_n_l=rules.number("nitrite_pause"),
        test_every_d=rules.days("cycle_test_every"), total_mg_n_l=tank.cycle.dose_mg_n_l if start_of(tank).kind == "dosed" else 0.0, until_clear=True,
        challenge_mg_n_l=rules.number("challenge_least" if light else "challenge_full"), pass_mg_n_l=rules.number("kit_step_unknown"))


def first_ammonia(facts: Facts) -> Row | None:
    """The row with which the cycle began: the first dose, or the rock in the tank where live rock cures there."""
    rows = [r for r in facts.rows("dosed", "ammonia") if r.where == "display"]
    if facts.tank.rock.kind == "live" and facts.tank.rock.cured_in == "tank":
        rows += facts.rows("done", "scape/rock-in") or facts.rows("done", "scape/rock")
        rows += [r for r in facts.rows("reading", "ammonia") if r.where == "display"][:1]
    if facts.tank.cycle.ammonia == "food":
        rows += facts.rows("event", "fed")
    return min(rows, key=lambda r: (r.day, r.latest), default=None)


def middle_d(row: Row, zero: float) -> float:
    """When a row happened, in days after the first ammonia: a bare date counts as its midday."""
    return max(0.0, ((row.earliest + row.latest) / 2 - zero) / DAY)


def kit_readings(facts: Facts, rules: Rulebook, zero: float, begin: date) -> tuple[list[KitReading], list[Row]]:
    """Readings of the display as intervals in mg/L as N: half a colour step to each side, off-scale as a bound."""
    found: list[tuple[KitReading, Row]] = []
    for name in ("ammonia", "nitrite", "nitrate"):
        step = kit_step(name, facts.tank, rules)
        half = (step if math.isfinite(step) else rules.number("nitrate_step_unknown")) / 2
        for row in facts.rows("reading", name):
            if row.where != "display" or row.low is None or row.high is None or row.day < begin or row.latest < zero:
                continue
            if row.value.lstrip().startswith(("<", ">")):
                low, high = row.low, row.high
            else:
                low, high = max(0.0, row.low - half), row.high + half
            found.append((KitReading(middle_d(row, zero), name, low, high), row))
    found.sort(key=lambda pair: (pair[0].t_d, pair[0].name, pair[0].low))
    return [k for k, _ in found], [r for _, r in found]


def expect(rules: Rulebook, facts: Facts, verdicts: Verdicts) -> Expectation:
    """Milestones and curves; those already shown by readings as they happened."""
    tank, first = facts.tank, first_ammonia(facts)
    opened = verdicts.opened.get("cycle")
    happened = _happened(rules, facts, verdicts, first)
    if opened is not None:
        nothing = (None, None, None)
        return Expectation(first.day if first else None, dict.fromkeys(MILESTONES, nothing), happened, 0, 0, "the cycle gate is open")
    start = start_of(tank)
    if first is None:
        model = forecast_untested(start, tank.cycle.dose_mg_n_l if start.kind == "dosed" else 0.0, policy_of(rules, tank), clear_level("nitrite", tank, rules)[0])
        return Expectation(None, _offsets(model), happened, 0, model.members, "what is known of such starts, without a reading yet", model=model)
    zero = (first.earliest + first.latest) / 2
    now_d = max(0.0, (min(facts.now, end_of_day(facts.on, facts.zone)) - zero) / DAY)
    if now_d > LONGEST_D:
        return Expectation(first.day, dict.fromkeys(MILESTONES, (None, None, None)), happened, 0, 0, "more than a year without a passed cycle: begin anew")
    doses = [Dose(middle_d(r, zero), dose_rise(r, facts)) for r in facts.rows("dosed", "ammonia") if r.where == "display" and dose_rise(r, facts) > 0]
    changes = [Change(middle_d(r, zero), min(0.99, change_fraction(r, facts.net_volume_l))) for r in facts.rows("changed_water")
               if r.where == "display" and r.latest >= zero and change_fraction(r, facts.net_volume_l) > 0]
    readings, rows = kit_readings(facts, rules, zero, first.day)
    policy = policy_of(rules, tank) if not animals_in(facts, "display") else None
    model = forecast_cycle(start, doses, changes, readings, now_d, now_d + HORIZON_D, policy, clear_level("nitrite", tank, rules)[0])
    curve = curve_from(model, first.day)
    used = len(model.readings_used)
    basis = f"{used} reading{'s' if used != 1 else ''} of this tank, weighed against {model.members} plausible tanks"
    return Expectation(first.day, _offsets(model), happened, used, model.members, basis, curve, tuple(rows[i] for i in model.unexplained), model)


@lru_cache(maxsize=64)
def forecast_untested(start: Start, dose_mg_n_l: float, policy: Policy, clear_mg_n_l: float) -> CycleForecast:
    """What is believed before anything happened: the same for every tank of one kind, so worked out once."""
    opening = [Dose(0.0, dose_mg_n_l)] if dose_mg_n_l > 0 else []
    return forecast_cycle(start, opening, [], [], 0.0, HORIZON_D, policy, clear_mg_n_l)


def _happened(rules: Rulebook, facts: Facts, verdicts: Verdicts, first: Row | None) -> dict[str, date]:
    happened: dict[str, date] = {}
    scene = Scene(facts, rules, verdicts.opened)
    for name in ("ammonia", "nitrite") if first is not None else ():
        trace = judge_reading(ReadingNode(name=name, clear=True, any_age=True), scene)
        rows = [r for r in trace.rows if first is not None and r.latest > first.latest]
        if trace.answer == Answer.YES and rows and (name == "ammonia" or "ammonia_clear" in happened):
            happened[f"{name}_clear"] = rows[0].day
    if (opened := verdicts.opened.get("cycle")) is not None:
        happened["cycle_done"] = opened[0]
    return happened


def _offsets(model: CycleForecast) -> dict[str, tuple[int | None, int | None, int | None]]:
    return {name: _whole(getattr(model, name)) for name in MILESTONES}


def _whole(q: Quantiles) -> tuple[int | None, int | None, int | None]:
    days = [None if d is None else math.ceil(d - 1e-6) for d in (q.p10, q.p50, q.p90)]
    return (days[0], days[1], days[2])


def curve_from(model: CycleForecast, origin: date) -> tuple[CurvePoint, ...]:
    """The curves day by day, mg/L as N, counted from the day `origin` of the first ammonia."""
    def band(curve: object, i: int) -> tuple[float, float, float]:
        return (round(curve.p10[i], 4), round(curve.p50[i], 4), round(curve.p90[i], 4))  # type: ignore[attr-defined]

    return tuple(CurvePoint(origin + timedelta(days=day), band(model.ammonia, i), band(model.nitrite, i), band(model.nitrate, i)) for i, day in enumerate(model.days))


def next_test_days(expectation: Expectation, on: date, usual: int) -> int:
    """Days to the next test: daily when a milestone is near, half again the usual far from any, else as usual."""
    origin = expectation.origin
    if origin is None or not expectation.offsets:
        return usual
    near = []
    for name in ("ammonia_clear", "nitrite_clear"):
        low, _likely, high = expectation.offsets.get(name, (None, None, None))
        if name in expectation.happened or low is None:
            continue
        first, last = origin + timedelta(days=low), origin + timedelta(days=high if high is not None else low + 14)
        if first - timedelta(days=1) <= on <= last + timedelta(days=1) and (last - first).days <= 8:
            return 1
        near.append((first - on).days)
    return usual + 1 if near and min(near) > 7 else usual
