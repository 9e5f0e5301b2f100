"""What a plan still takes until the first animal is in: litres, salt, ammonia, tests, water changes and hours of work.

Counted are the open tasks of the plan up to that likely day, with the plan's own figures. What only a reading can ask for
(a second dose, an extra change) is not foreseen, so every figure is the least to reckon with.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import date

from planner.files.tank import Tank
from planner.judge.facts import gather
from planner.judge.figures import quantity, salt_g
from planner.plan.milestones import gate_window, next_animal, open_tasks
from planner.rulebook.shapes import PhaseRole, Rulebook
from planner.rulebook.task_rule import KnownTask
from planner.terms.records import Journal, Plan

HOW = {
    "salt_water_l": "first fill with its spare + curing bin and its planned changes + big change + weekly changes + quarantine tank of known size",
    "fresh_water_l": "pure water for topping up, evaporation a day x days, and for soaking dry rock",
    "salt_g": "salt for that salt water; none where it is bought ready mixed",
    "ammonium_chloride_g": "the planned doses; what tests ask for beyond them comes on top",
    "carried_l": "water poured in + water taken out, by hand, hose or pump: leak test in and out, first fill in, soaking or curing water in and out, every change out "
                 "and in, topping up, quarantine tank; bought water once more for the way home",
    "tests": "planned rounds of tests",
    "readings": "single readings in those rounds",
    "water_changes": "planned changes, each batch of the big one counted, curing bin included",
    "changed_l": "litres of those changes",
    "hours": "minutes named in the tasks, batches counted one by one",
}


@dataclass(frozen=True, slots=True)
class Effort:
    """Litres, grams, counts and hours from the day of the plan `until` the likely day of the first animal (None: no such day,
    then everything that is dated counts). How each is counted stands in `HOW`."""

    until: date | None
    salt_water_l: float
    fresh_water_l: float
    salt_g: float
    ammonium_chloride_g: float
    carried_l: float
    tests: int
    readings: int
    water_changes: int
    changed_l: float
    hours: float


def effort_of(plan: Plan, tank: Tank, journal: Journal, rules: Rulebook) -> Effort:
    """Everything counted. The plan must reach as far as the first animal (`until` of `make_plan`)."""
    facts = gather(tank, journal, plan.on)
    until = next_animal(plan).likely or gate_window(plan, "opens_to_animals").likely
    tasks = [t for t in open_tasks(plan) if t.date is not None and (until is None or t.date <= until)]
    times = Counter(t.key for t in tasks)

    def litres(name: str) -> float:
        found = quantity(name, facts, rules)
        return found.value if found is not None else 0.0

    def days(name: KnownTask) -> int:
        return sum(times[key] for key in rules.tasks_as(name))

    def each(key: str) -> int:
        figure = rules.tasks[key].each_batch
        return max(1, round(litres(figure))) if figure is not None else 1

    def opened(role: PhaseRole) -> bool:
        found = plan.phase_as(role)
        return found is None or found.opened is not None

    leak = litres("leak_water") * days("leak_fill")
    made = 0.0 if opened("makes_water") else litres("water_first_fill")
    filled = 0.0 if opened("fills_tank") else litres("water_first_fill")
    soak = litres("curing_water") * days("soak")
    curing = litres("curing_water") * days("curing_fill")
    big, each_change = (litres("big_change_litres"), litres("big_change_now")) if days("big_change") else (0.0, 0.0)
    cure_changes, weekly_changes = days("curing_change"), days("weekly_change")
    changed = big + cure_changes * litres("curing_change") + weekly_changes * litres("weekly_change")
    apart = days("quarantine_fill") * (tank.equipment.quarantine_l or 0.0)
    topped = days("top_up") * litres("evaporation_day")

    later = curing + changed + apart
    grams = 0.0
    if tank.water.source != "ready_mixed":
        grams = (0.0 if opened("makes_water") else litres("salt_first_fill")) + salt_g(later, tank.water.salinity, tank)
    bought = {"distilled": made + later + soak + topped, "ready_mixed": made + later + soak + topped, "tap": topped}.get(tank.water.source or "", 0.0)
    minutes = sum(t.minutes * each(t.key) for t in tasks)
    rounds = [t for t in tasks if t.role == "test" and t.reads]
    doses = sum(q.value for t in tasks if t.writes == ("dosed", "ammonia") for _, q in t.amounts if q.unit == "g")
    return Effort(
        until, made + later, soak + topped, grams, doses, 2 * leak + filled + 2 * soak + 2 * curing + 2 * changed + apart + topped + bought,
        len(rounds), sum(len(t.reads) for t in rounds), (round(big / each_change) if each_change else 0) + cure_changes + weekly_changes, changed, minutes / 60)


__all__ = ["HOW", "Effort", "effort_of"]
