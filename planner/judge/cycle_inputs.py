"""The journal in the words of the cycle's model: how this tank was started, what was put in, what the kits said, and how
the rules will go on feeding and proving it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from typing import Any, Literal

from planner.files.tank import Tank
from planner.judge.challenge import challenge, challenge_mg_n_l
from planner.judge.evidence import clear_level, kit_step, proof_level
from planner.judge.facts import Facts
from planner.judge.figures.cycle import proof_mg_n_l
from planner.judge.gates import Verdicts
from planner.rulebook.kinds.challenge import ChallengeNode
from planner.rulebook.shapes import Rulebook
from planner.rulebook.walk import asked_for
from planner.science.cycle.records import KitReading, Policy, Seeding, SeedKind, Start, Water
from planner.science.dosing import bicarbonate_g
from planner.terms.records import Row

DAY = 86400.0
RECKONED = {"temperature": (0.5, 10.0, 34.0), "salinity": (1.0, 5.0, 42.0), "ph": (0.2, 6.0, 9.0), "alkalinity": (1.0, 0.0, 15.0)}
"""Readings that the model's speed hangs on: the step below which nothing has changed, and the least and most that it knows."""
WARMED_K, WARMED_D = 1.0, 1.0
"""Water colder by more than this than the tank's own temperature is to be warmed, and is warm within this many days (common practice: 1 °C an hour)."""
FIRST_DAY_D = 1.0
A_LITTLE = 1e-6
"""Share of a step: 8.2 less 8.0 is a whole step of 0.2, though binary fractions make it a little less."""
SEEDS_TICKED = ("bottled", "media_marine")
"""Kinds of seed that a task of the rules puts in."""


def start_of(tank: Tank) -> Start:
    """This tank's start in the model's words. Rock cured elsewhere brings bacteria; dry or undescribed rock none."""
    live_here = tank.rock.kind == "live" and tank.rock.cured_in == "tank"
    rocks: dict[str, Literal["none", "dry", "cured", "live"]] = {"live": "live" if live_here else "cured", "cured": "cured", "dry": "dry"}
    rock = rocks.get(tank.rock.kind or "", "none")
    kind: Literal["dosed", "food", "rock"] = "rock" if live_here else "food" if tank.cycle.ammonia == "food" else "dosed"
    return Start(kind, tank.cycle.seed, max(10.0, min(34.0, tank.water.temperature_c)), tank.water.salinity, 8.2, 100.0, rock)


def reckoned_start(start: Start, facts: Facts, zero: float, on_d: float, rules: Rulebook) -> Start:
    """The start with what was read of its water since the first ammonia, or in the two weeks before, and with the seed on the
    day on which it came. Cold water is on the day's list of jobs, and is expected to be warm from tomorrow on, as every job of
    today is expected to be done today; once it is ticked, from the day after the tick on."""
    lines = {name: _line(name, facts, zero) for name in RECKONED}
    cold = lines["temperature"]
    if cold and cold[-1][1] < start.temperature_c - WARMED_K:
        cold.append((max(_warmed_d(facts, zero, on_d, rules), cold[-1][0]) + WARMED_D, start.temperature_c))
    days = sorted({0.0, *(t for line in lines.values() for t, _ in line)})
    waters = [Water(day, _at(lines["temperature"], day, start.temperature_c), _at(lines["salinity"], day, start.salinity_sp), _at(lines["ph"], day, start.ph),
                    _at(lines["alkalinity"], day, start.alkalinity_dkh)) for day in days]
    first = waters[0]
    later = tuple(w for n, w in enumerate(waters[1:], 1) if replace(w, t_d=0.0) != replace(waters[n - 1], t_d=0.0))
    start = replace(start, temperature_c=first.temperature_c, salinity_sp=first.salinity_sp, ph=first.ph, alkalinity_dkh=first.alkalinity_dkh, waters=later)
    return _seeded(start, facts, zero, on_d, rules)


def _warmed_d(facts: Facts, zero: float, on_d: float, rules: Rulebook) -> float:
    """When cold water was warmed: when that was ticked after the newest reading, else today."""
    read = max((r.earliest for r in facts.rows("reading", "temperature") if r.where == "display"), default=0.0)
    return min((middle_d(r, zero) for key in rules.tasks_as("warms") for r in facts.rows("done", key) if r.latest >= read), default=on_d)


def _line(name: str, facts: Facts, zero: float) -> list[tuple[float, float]]:
    """What a reading was from which day on. It counts from halfway after the one before, the last until further notice; less
    than its step is the kit's own unrest and moves nothing. What bicarbonate lifts counts from the dose on."""
    step, least, most = RECKONED[name]
    rows = [(r, r.low) for r in facts.rows("reading", name) if r.where == "display" and r.low is not None and r.latest >= zero - 14 * DAY]
    if name == "alkalinity" and rows:
        rows += [(r, bicarbonate_dkh(r, facts)) for r in facts.rows("dosed", "bicarbonate") if r.where == "display" and r.latest >= rows[0][0].latest]
        rows.sort(key=lambda pair: (pair[0].earliest + pair[0].latest, pair[0].line))
    line: list[tuple[float, float]] = []
    before, value, used = 0.0, 0.0, None
    for row, figure in rows:
        lifts = row.kind == "dosed"
        value = value + figure if lifts else figure
        day = ((row.earliest + row.latest) / 2 - zero) / DAY
        since = day if lifts or used is None else (before + day) / 2
        before = day
        if used is None or abs(value - used) >= step * (1 - A_LITTLE):
            used = round(max(least, min(most, round(value / step) * step)), 6)
            line.append((max(0.0, since), used))
    return line


def _at(line: Sequence[tuple[float, float]], day: float, unread: Any) -> Any:
    """The value on a day; the first reading speaks of the days before it too."""
    return next((value for since, value in reversed(line) if since <= day), line[0][1] if line else unread)


def bicarbonate_dkh(row: Row, facts: Facts) -> float:
    """The rise that a dose of bicarbonate made. A mass is taken as pure sodium bicarbonate."""
    if row.low is None:
        return 0.0
    return row.low if row.unit.strip().lower() == "dkh" else row.low / bicarbonate_g(facts.net_volume_l, 1.0)


def _seeded(start: Start, facts: Facts, zero: float, on_d: float, rules: Rulebook) -> Start:
    """With the seed as it came: of the first day it belongs to the start. While the task of the tank's own seed is open, it
    is expected on the day of the plan."""
    tasks = [key for key in rules.tasks_as("seed_in") if start.seed != "none"]
    rows = [(r, start.seed) for key in tasks for r in facts.rows("done", key)]
    skipped = any(facts.rows("skipped", key) for key in tasks)
    came = [(middle_d(r, zero), seed) for r, seed in rows]
    if start.seed in SEEDS_TICKED and not came and not skipped:
        came = [(on_d, start.seed)]
    came += [(middle_d(r, zero), "bottled") for r in facts.rows("dosed", "bacteria") if r.where == "display"]
    early = [seed for t_d, seed in came if t_d <= FIRST_DAY_D]
    own = start.seed != "none" and (start.seed in early or start.seed not in SEEDS_TICKED)
    seed: SeedKind = start.seed if own else "bottled" if "bottled" in early else "none"
    return replace(start, seed=seed, later_seeds=tuple(Seeding(t_d, kind) for t_d, kind in sorted(came) if t_d > FIRST_DAY_D))


def opening_dose(rules: Rulebook, facts: Facts) -> float:
    """The first dose of this tank, mg/L as N: the small one where live rock was cured elsewhere, none where rock or food begins the cycle."""
    if start_of(facts.tank).kind != "dosed":
        return 0.0
    return rules.number("challenge_least") if facts.tank.rock.kind == "live" else facts.tank.cycle.dose_mg_n_l


def policy_of(rules: Rulebook, facts: Facts, origin: date | None = None) -> Policy:
    """The rules' own dosing and testing, as the model's members follow it; with the absences to come where the first day of the cycle is known."""
    tank, kind = facts.tank, start_of(facts.tank).kind
    return Policy(
        redose_mg_n_l=rules.number("redose_rise"), ammonia_below_mg_n_l=rules.number("redose_below"), nitrite_below_mg_n_l=rules.number("nitrite_pause"),
        test_every_d=rules.days("cycle_test_every"), total_mg_n_l=opening_dose(rules, facts), until_clear=True,
        challenge_mg_n_l=proof_mg_n_l(facts, rules), pass_mg_n_l=rules.number("kit_step_unknown"),
        clear_levels=(clear_level("ammonia", tank, rules)[0], clear_level("nitrite", tank, rules)[0]), proof_levels=(proof_level("ammonia", tank, rules), proof_level("nitrite", tank, rules)),
        food_mg_n_l=rules.number("food_nitrogen") if kind == "food" else 0.0, food_below_mg_n_l=rules.number("ammonia_pause"), food_shows_d=rules.days("food_shows"),
        opens_with_proof=kind == "dosed" and tank.rock.kind == "live",
        away=() if origin is None else tuple(((a.from_day - origin).days, (a.to_day - origin).days) for a in tank.keeper.away if a.to_day >= facts.on))


def policy_from_now(rules: Rulebook, facts: Facts, verdicts: Verdicts, proving: bool, origin: date, pace: int | None = None) -> Policy:
    """The policy with the proofs that are still missing, from the next test on. `proving`: nitrite has been clear, so tests are
    daily now. `origin`: the first day of the cycle. `pace`: the days from the last test to the next, where the plan has others than usual."""
    policy = policy_of(rules, facts, origin)
    if _fed(facts):  # food ends with the first weighed dose
        policy = replace(policy, food_mg_n_l=0.0)
    if any(r.low is not None and r.low > policy.pass_mg_n_l for name in ("ammonia", "nitrite") for r in facts.rows("reading", name) if r.where == "display"):
        policy = replace(policy, food_shows_d=0)
    phase = next((p for p in verdicts.phases if p.role == "proves_filter"), None)
    nodes = [] if phase is None else [n for n in asked_for(phase.gate.opens_when) if isinstance(n, ChallengeNode) and challenge_mg_n_l(n, facts, rules) == policy.challenge_mg_n_l]
    missing = policy.passes_needed
    if phase is not None and nodes:
        seen = replace(facts, floor=verdicts.gates[phase.phase].floor)
        missing = max(1, nodes[0].times - challenge(nodes[0], seen, rules).passed)
    every = 1 if proving else policy.test_every_d
    gap = every if pace is None else pace
    today, last = (facts.on - origin).days, last_test(facts, verdicts, rules, origin)
    then = (first_day_home(max(facts.on, last + timedelta(days=gap)), facts) - origin).days
    # A test of today may still be followed by its dose, if it allows one and the last is long enough ago. What is still to be done today is not put off until it is past.
    allowed = all(r.low is None or r.low < limit for name, limit in (("ammonia", policy.ammonia_below_mg_n_l), ("nitrite", policy.nitrite_below_mg_n_l))
                  for r in facts.rows("reading", name) if r.where == "display" and r.day == facts.on)
    doses_today = allowed and facts.on in _tested(facts) and facts.on - max(_fed(facts), default=date.min) >= timedelta(days=rules.days("redose_every"))
    return replace(policy, passes_needed=missing, test_every_d=every, first_day_d=today if doses_today else then, first_gap_d=then - today if doses_today else every, opens_with_proof=False)


def first_day_home(day: date, facts: Facts) -> date:
    """The first day from this one on that the keeper is at home: nobody tests or doses in an absence."""
    for away in sorted(facts.tank.keeper.away, key=lambda a: a.from_day):
        if away.from_day <= day <= away.to_day:
            day = away.to_day + timedelta(days=1)
    return day


def last_test(facts: Facts, verdicts: Verdicts, rules: Rulebook, origin: date) -> date:
    """The day from which the next test counts: of the last test or dose, else the one on which the phase with the tests began
    (rock may have begun the cycle before)."""
    return max((*_fed(facts), *_tested(facts)), default=max(origin, verdicts.started.get(rules.phase_as("proves_filter"), facts.on)))


def _tested(facts: Facts) -> list[date]:
    return [r.day for r in facts.rows("reading", "ammonia") if r.where == "display"]


def _fed(facts: Facts) -> list[date]:
    return [r.day for r in facts.rows("dosed", "ammonia") if r.where == "display"]


def untested_doses(facts: Facts) -> tuple[Row, ...]:
    """The doses of ammonia since the last test of it, but for those of the first day: between two of them belongs a test."""
    read = max((r.latest for r in facts.rows("reading", "ammonia") if r.where == "display"), default=float("-inf"))
    doses = [r for r in facts.rows("dosed", "ammonia") if r.where == "display" and r.earliest > read]
    return tuple(r for r in doses if r.day > doses[0].day)


def middle_d(row: Row, zero: float) -> float:
    """When a row happened, in days after the first ammonia: a bare date counts as its midday."""
    return max(0.0, ((row.earliest + row.latest) / 2 - zero) / DAY)


def kit_readings(facts: Facts, rules: Rulebook, zero: float, begin: date) -> tuple[list[KitReading], list[Row]]:
    """Readings of the display as intervals in mg/L as N, off-scale as a bound: half a colour step to each side, and no less
    than the way to the neighbouring colours of a card, which stand further apart the higher they are. A diluted sample
    multiplies its error, so the same holds beyond the card. A meter's fine steps stay as they are."""
    found: list[tuple[KitReading, Row]] = []
    for name in ("ammonia", "nitrite", "nitrate"):
        step = kit_step(name, facts.tank, rules)
        half = (step if math.isfinite(step) else rules.number("nitrate_step_unknown")) / 2
        coarse = rules.number("kit_coarse") / 100 if 2 * half >= rules.number("kit_card_step") else 0.0
        for row in facts.rows("reading", name):
            if row.where != "display" or row.low is None or row.high is None or row.day < begin or row.latest < zero:
                continue
            if row.value.lstrip().startswith(("<", ">")):
                low, high = row.low, row.high
            else:
                low, high = max(0.0, row.low - max(half, coarse * row.low)), row.high + max(half, 2 * coarse * row.high)
            colour = row.low if row.low == row.high and low > 0 else None
            found.append((KitReading(middle_d(row, zero), name, low, high, colour), row))
    found.sort(key=lambda pair: (pair[0].t_d, pair[0].name, pair[0].low))
    return [k for k, _ in found], [r for _, r in found]
