"""Where the filter stands, in four steps, and what its next meal waits for: values that a face puts into words."""

from __future__ import annotations

import math
from typing import Literal

from planner.files.tank import Tank
from planner.frozen import dataclass
from planner.judge.conditions import may_hold_animals
from planner.judge.evidence import most_below, zero_test
from planner.judge.facts import Facts, gather, last_meal, last_reading
from planner.judge.kinds import reading
from planner.judge.plausible import believed
from planner.judge.scene import Scene
from planner.rulebook.kinds.reading import ReadingNode
from planner.rulebook.shapes import Rulebook
from planner.rulebook.walk import asked_for
from planner.rulebook.what_jobs_do import acts_of
from planner.terms.records import URGENT, Answer, Journal, Phase, Plan, Row
from planner.terms.written_amounts import nitrogen_factor

FilterStep = Literal["not_fed", "fed", "nitrite", "ammonia_clear", "both_clear"]
STEPS = 4


@dataclass(frozen=True, slots=True)
class NextMeal:
    """The filter is fed again once the kit reads `most` or less. `basis`: what the kit counts (`N` where nobody said);
    `read`: the reading that is above it."""

    most: float
    basis: str
    read: Row


@dataclass(frozen=True, slots=True)
class Standing:
    """`number` of `STEPS`, what shows it, the `day` of the cycle, and what the next meal waits for. `animals`: one is in, or may be, so
    that no ammonia is given however little the kit reads. `trace`: the last test read nitrite, too little to count."""

    phase: Phase
    step: FilterStep
    number: int
    day: int | None
    meal: NextMeal | None
    animals: bool = False
    trace: bool = False


def stand_of_filter(tank: Tank, journal: Journal, rules: Rulebook, plan: Plan) -> Standing | None:
    """None unless the phase that proves the filter goes on."""
    phase = plan.phase_as("proves_filter")
    if phase is None or phase.opened is not None or phase.started is None or phase.started > plan.on:
        return None
    facts = gather(tank, believed(tank, journal, rules, plan.on), plan.on)
    scene = Scene(facts, rules, {p.id: (p.opened, math.inf) for p in plan.phases if p.opened is not None})
    clear = {n: reading.answer(ReadingNode.model_construct(name=n, clear=True, any_age=True), scene).answer for n in ("ammonia", "nitrite")}
    events = plan.forecast.events
    fed = next((p.day for p in plan.forecast.curve), None)
    step: FilterStep
    if plan.forecast.members == 0 or (plan.forecast.readings_used == 0 and last_meal(facts) is None):
        step = "not_fed"
    elif "nitrite_clear" in events and events["nitrite_clear"].happened is not None:
        step = "both_clear"
    elif "ammonia_clear" in events and events["ammonia_clear"].happened is not None:
        step = "ammonia_clear"
    else:
        # A test that a dose spoils, or that disagrees, takes nothing back of what was seen before it.
        read = last_reading("nitrite", facts) if clear["nitrite"] == Answer.UNKNOWN else None
        shows = clear["nitrite"] == Answer.NO or (read is not None and zero_test("nitrite", tank, rules)(read) == Answer.NO)
        step = "nitrite" if shows else "fed"
    number = {"not_fed": 1, "fed": 1, "nitrite": 2, "ammonia_clear": 3, "both_clear": 4}[step]
    day = (plan.on - fed).days if fed is not None and step != "not_fed" and fed <= plan.on else None
    inhabited = may_hold_animals("display", scene)
    return Standing(phase, step, number, day, _next_meal(plan, rules, facts) if not inhabited else None, inhabited, nitrite_shows(facts))


def nitrite_shows(facts: Facts) -> bool:
    """Did the last test read any nitrite at all? What counts as the kit's zero may be its lowest step, which its reader saw."""
    read = last_reading("nitrite", facts)
    return read is not None and (read.low or 0.0) > 0


def _next_meal(plan: Plan, rules: Rulebook, facts: Facts) -> NextMeal | None:
    """The reading that the next dose of ammonia waits for; None where it does not wait for a reading alone."""
    read = last_reading("ammonia", facts)
    if read is None or read.low is None or facts.last("dosed", "ammonia") is None:
        return None
    for key, rule in rules.tasks.items():
        if "adds_ammonia" not in acts_of(rule) or rule.where != "display" or rule.when is None or any(t.key == key and t.state in URGENT for t in plan.tasks):
            continue
        for node in asked_for(rule.when):
            if isinstance(node, ReadingNode) and node.name == "ammonia" and node.where == "display" and node.below and not node.clear and read.low >= rules.number(node.below):
                return _in_kit_unit(rules.number(node.below), read, facts)
    return None


def _in_kit_unit(below: float, read: Row, facts: Facts) -> NextMeal:
    kit = facts.tank.test_kits.get("ammonia")
    basis = kit.basis if kit is not None and kit.basis is not None else "N"
    most = most_below(below, kit)
    return NextMeal(most if most > 0 else below * nitrogen_factor("ammonia", basis), basis, read)


__all__ = ["STEPS", "FilterStep", "NextMeal", "Standing", "stand_of_filter", "nitrite_shows"]
