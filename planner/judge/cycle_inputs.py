"""The journal in the words of the cycle's model: how this tank was started, what was put in, what the kits said, and how
the rules will go on feeding and proving it."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date
from typing import Literal

from planner.files.tank import Tank
from planner.judge.challenge import challenge, challenge_mg_n_l
from planner.judge.evidence import kit_step
from planner.judge.facts import Facts
from planner.judge.figures.cycle import proof_mg_n_l
from planner.judge.gates import Verdicts
from planner.rulebook.kinds.challenge import ChallengeNode
from planner.rulebook.shapes import Rulebook
from planner.rulebook.walk import asked_for
from planner.science.cycle.records import KitReading, Policy, Start
from planner.terms.records import Row

DAY = 86400.0
RECKONED = (("temperature", 0.5), ("salinity", 1.0), ("ph", 0.1))
"""Readings that the model takes as one figure for the whole cycle, with the step to which their mean is rounded."""


def start_of(tank: Tank) -> Start:
    """This tank's start in the model's words. Rock cured elsewhere brings bacteria; dry or undescribed rock none."""
    live_here = tank.rock.kind == "live" and tank.rock.cured_in == "tank"
    rocks: dict[str, Literal["none", "dry", "cured", "live"]] = {"live": "live" if live_here else "cured", "cured": "cured", "dry": "dry"}
    rock = rocks.get(tank.rock.kind or "", "none")
    kind: Literal["dosed", "food", "rock"] = "rock" if live_here else "food" if tank.cycle.ammonia == "food" else "dosed"
    return Start(kind, tank.cycle.seed, max(10.0, min(34.0, tank.water.temperature_c)), tank.water.salinity, 8.2, 100.0, rock)


def reckoned_start(start: Start, facts: Facts, zero: float) -> Start:
    """The start with the mean temperature, salinity and pH that were read since the first ammonia, or in the two weeks
    before. A reading counts from halfway after the one before to halfway before the next, the last until now."""
    found = {}
    for name, step in RECKONED:
        rows = [r for r in facts.rows("reading", name) if r.where == "display" and r.low is not None and r.latest >= zero - 14 * DAY]
        rows = rows[max((n for n, r in enumerate(rows) if r.latest < zero), default=0):]
        if rows:
            times = [max(zero, (r.earliest + r.latest) / 2) for r in rows]
            edges = [zero, *((a + b) / 2 for a, b in zip(times, times[1:], strict=False)), max(facts.now, times[-1] + 1.0)]
            weights = [max(b - a, 1.0) for a, b in zip(edges, edges[1:], strict=False)]
            mean = sum(w * (r.low or 0.0) for w, r in zip(weights, rows, strict=True)) / sum(weights)
            found[name] = round(mean / step) * step
    return replace(
        start, temperature_c=max(10.0, min(34.0, found.get("temperature", start.temperature_c))),
        salinity_sp=max(5.0, min(42.0, found.get("salinity", start.salinity_sp))), ph=max(7.0, min(9.0, found.get("ph", start.ph))))


def policy_of(rules: Rulebook, facts: Facts) -> Policy:
    """The rules' own dosing and testing, as the model's members follow it."""
    tank = facts.tank
    food = start_of(tank).kind == "food"
    return Policy(
        redose_mg_n_l=rules.number("food_nitrogen" if food else "redose_rise"), ammonia_below_mg_n_l=rules.number("ammonia_pause" if food else "redose_below"), nitrite_below_mg_n_l=rules.number("nitrite_pause"),
        test_every_d=rules.days("cycle_test_every"), total_mg_n_l=tank.cycle.dose_mg_n_l if start_of(tank).kind == "dosed" else 0.0, until_clear=True,
        challenge_mg_n_l=proof_mg_n_l(facts, rules), pass_mg_n_l=rules.number("kit_step_unknown"))


def policy_from_now(rules: Rulebook, facts: Facts, verdicts: Verdicts, proving: bool) -> Policy:
    """The policy with the proofs that are still missing. `proving`: nitrite has been clear, so tests are daily now."""
    policy = policy_of(rules, facts)
    phase = next((p for p in verdicts.phases if p.role == "proves_filter"), None)
    nodes = [] if phase is None else [n for n in asked_for(phase.gate.opens_when) if isinstance(n, ChallengeNode) and challenge_mg_n_l(n, facts, rules) == policy.challenge_mg_n_l]
    missing = policy.passes_needed
    if phase is not None and nodes:
        seen = replace(facts, floor=verdicts.gates[phase.phase].floor)
        missing = max(1, nodes[0].times - challenge(nodes[0], seen, rules).passed)
    return replace(policy, passes_needed=missing, test_every_d=1 if proving else policy.test_every_d)


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
