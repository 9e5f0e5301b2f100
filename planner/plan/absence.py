"""An absence: for how many nights this tank may be alone and which limit says so, what is done before by day, and the return."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

from planner.judge.facts import Facts, animals_in, first_animal
from planner.judge.figures import quantity
from planner.rulebook.shapes import Rulebook
from planner.science.trouble import topup_reservoir_days
from planner.terms.records import CLOSED, Plan, Task

Limit = Literal["alarm", "quarantine", "age", "one_heater", "no_top_up", "top_up", "food"]
Visits = Literal["none", "every_second_day", "daily"]
LONG_NIGHTS = 14
AGES = (30, 91, 182)
"""Days since the first animal: a month, a quarter and half a year."""
BEFORE = {
    14: "Nothing new from here on: no animals, no new device, no new setting.",
    7: "Run the top-up, the feeder and any dosing exactly as they shall run while you are away. Watch them every day.",
    4: "Change water, floss and carbon, and empty the skimmer's cup. Test ammonia, nitrite, alkalinity and salinity.",
    2: "Only look from here on. Clean no pump and move no rock.",
    0: "Close lid and net, check timers and plugs, fill the top-up container, feed half. Take a photograph of how the tank looks when all is well. Leave your telephone number.",
}
"""What is done before leaving, by how many days before. The pages of those days say it too."""
RETURN = (
    "Count the animals, smell the water, look at the floor.", "Measure temperature and salinity, and test ammonia, nitrite, alkalinity and pH, before you feed or top up.",
    "Look first at the top-up; it goes wrong most often.", "Change a tenth of the water.", "Feed half for two days.", "Log the full set of tests within a day. New animals wait a week, and for one clean set.",
)
"""What is done on the return, in this order."""
RETURN_SHORT = (RETURN[0], RETURN[2])
"""The same after a night or two."""


@dataclass(frozen=True, slots=True)
class NightLimit:
    """Why the tank may be alone for so many nights and no more. `name`: the alarm, where it is one. `days`: for so long animals will have
    been in, and `more_from`: from so many on it may be longer; None at the longest."""

    why: Limit
    nights: int
    name: str = ""
    days: int | None = None
    more_from: int | None = None


@dataclass(frozen=True, slots=True)
class Absence:
    """`limits`, the tightest first. `before`: (day, what), with days that have passed already on the day of the plan.
    `open_jobs`: what of the plan is due while nobody is there."""

    first: date
    last: date
    nights: int
    animals: int
    limits: tuple[NightLimit, ...]
    visits: Visits
    experienced: bool
    before: tuple[tuple[date, int], ...]
    passed: tuple[int, ...]
    alarms: tuple[str, ...]
    open_jobs: tuple[Task, ...]
    portion: float

    @property
    def alone(self) -> int:
        """Nights without anybody."""
        return self.limits[0].nights


def plan_absence(first: date, last: date, facts: Facts, rules: Rulebook, plan: Plan) -> Absence:
    """`first` and `last`: the days on which the keeper leaves and is back."""
    nights = (last - first).days
    up = {t.phase for t in plan.tasks if t.state not in CLOSED and not t.tentative}
    alarms = tuple(a.title for a in rules.alerts if a.alert in up)
    limits = tuple(sorted(_limits(first, facts, rules, alarms), key=lambda limit: limit.nights))
    in_tank = sum(animals_in(facts, "display").values())
    alone = limits[0].nights
    visits: Visits = "none" if nights <= alone else "every_second_day" if alone >= 3 else "daily"
    days = [(first - timedelta(days=n), n) for n in BEFORE]
    jobs = tuple(t for t in plan.tasks if t.date is not None and first <= t.date < last and t.state not in CLOSED and not t.tentative and t.role != "care")
    return Absence(first, last, nights, in_tank, limits, visits, nights > LONG_NIGHTS, tuple((max(day, facts.on), n) for day, n in days), tuple(n for day, n in days if day < facts.on), alarms, jobs,
                   rules.number("away_portion") / 100)


def _limits(leaving: date, facts: Facts, rules: Rulebook, alarms: tuple[str, ...]) -> Iterator[NightLimit]:
    def number(name: str) -> int:
        return round(rules.number(name))

    tank = facts.tank
    if not animals_in(facts, "display") and not animals_in(facts, "quarantine"):
        yield NightLimit("age", number("nights_cycling"))
    else:
        came = first_animal(facts)
        age = (leaving - came.day).days if came is not None else 0
        two = tank.equipment.heater_w is not None and len(tank.equipment.heater_w) >= 2
        topped = bool(tank.equipment.top_up)
        if animals_in(facts, "quarantine"):
            yield NightLimit("quarantine", 0)
        young = number("nights_first_month") if age < AGES[0] else number("nights_three_months") if age < AGES[1] else number("nights_half_year") if age < AGES[2] else number("nights_later")
        yield NightLimit("age", young, days=age, more_from=next((limit for limit in AGES if age < limit), None))
        if age >= 91 and not two:
            yield NightLimit("one_heater", number("nights_three_months"))
        if age >= 91 and not topped:
            yield NightLimit("no_top_up", number("nights_three_months"))
        yield NightLimit("food", number("nights_fasting_later" if age >= 182 else "nights_fasting"))
    yield from (NightLimit("alarm", 0, title) for title in alarms[:1])
    if (days := _top_up_days(facts, rules)) is not None:
        yield NightLimit("top_up" if tank.equipment.top_up else "no_top_up", days)


def _top_up_days(facts: Facts, rules: Rulebook) -> int | None:
    """Whole days for which the top-up container lasts, or without one the water until salinity is 1 ppt up."""
    evaporation = quantity("evaporation_day", facts, rules)
    if evaporation is None or evaporation.value <= 0:
        return None
    held = facts.tank.equipment.top_up
    if held is True:
        return int(topup_reservoir_days(facts.net_volume_l, facts.tank.water.salinity, evaporation.value, rules.number("top_up_drop")))
    litres = held if held and not isinstance(held, bool) else 0.0
    spare = facts.net_volume_l / (facts.tank.water.salinity + 1)
    return int((litres + (0.0 if litres else spare)) / evaporation.value)


__all__ = ["BEFORE", "RETURN", "RETURN_SHORT", "Absence", "NightLimit", "Visits", "plan_absence"]
