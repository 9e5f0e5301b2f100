"""The dose that holds alkalinity, and its partner of calcium: never before the use is known, small at first, and ending of itself."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Literal

from planner.judge.facts import Facts, change_fraction, last_reading
from planner.judge.water_use import DailyUse, given_a_day, going_dose
from planner.judge.weekly_change import weekly_share
from planner.rulebook.shapes import Rulebook
from planner.rulebook.what_jobs_do import RANKS
from planner.science import dosing, reef_air, salts, use
from planner.science.formula import OutOfRange

State = Literal["not_known", "nothing_used", "changes_hold", "lift_first", "stopped", "dose"]
Stop = Literal["no_reading", "alarm", "large_change", "too_high", "chalk"]
STOPPING_RANKS = frozenset(RANKS[: RANKS.index("ph") + 1])
"""While one of these alarms is up nothing is dosed: what endangers life goes first, and salinity and pH move the same reading."""
DAYS_AHEAD = 7


@dataclass(frozen=True, slots=True)
class DosePlan:
    """`dose_dkh` a day for the coming week, as grams of sodium bicarbonate; `calcium_g` of the dihydrate, `calcium_anhydrous_g` of
    the salt without water, one or the other. `ahead`: the level in a week, low, expected and high. `held_use`: what water
    changes alone make up for a day, `trough`: where they alone would let the level sink."""

    state: State
    held_use: float
    trough: float | None
    share: float
    given_dkh: float = 0.0
    dose_dkh: float = 0.0
    bicarbonate_g: float = 0.0
    calcium_g: float = 0.0
    calcium_anhydrous_g: float = 0.0
    ahead: tuple[float, float, float] | None = None
    stops: tuple[tuple[Stop, str], ...] = ()
    halved: bool = False
    capped: bool = False
    test_early: bool = False
    chalk: bool = False


def plan_dose(alkalinity: DailyUse, facts: Facts, rules: Rulebook, up: Collection[str] = ()) -> DosePlan:
    """`up`: the alarms that stand. Where a plan settles its day they hold the dose back by its own lines."""
    share = min(1.0, weekly_share(facts, rules))
    new = alkalinity.new_water if alkalinity.new_water is not None else rules.number("new_water_alkalinity")
    lowest = rules.number("alkalinity_aim_low")
    held = use.most_use_held(new, lowest, share)
    fit = alkalinity.fit
    used = max(0.0, fit.use) if fit is not None else 0.0
    trough = use.trough(new, used, share) if fit is not None and share > 0 else None
    given = given_a_day(facts, rules)

    def ends(state: State, *stops: tuple[Stop, str]) -> DosePlan:
        return DosePlan(state, held, trough, share, given or 0.0, stops=stops)

    if alkalinity.verdict == "none":
        return ends("nothing_used")
    # A dose that holds the level makes its readings flat, and of flat readings nothing more can be known: it goes on as it is.
    going = going_dose(facts, rules) if alkalinity.verdict in ("about", "not_known") else None
    if fit is None or alkalinity.level is None or (alkalinity.verdict != "known" and going is None):
        return ends("not_known")
    if going is None and used <= held:
        return ends("changes_hold")
    stops = tuple(_stops(facts, rules, up))
    level, level_sd = alkalinity.level
    if stops:
        return ends("stopped", *stops)
    if level < lowest - 1:
        return ends("lift_first")
    most = rules.number("dose_day_most")
    dose = min(most, going) if going is not None else use.next_dose(used, given, first_share=rules.number("dose_first_share") / 100, most_step=rules.number("dose_step_most") / 100, most=most)
    halved = _days_since_reading(facts) >= rules.days("dose_half_after")
    dose = dose / 2 if halved else dose
    ahead = use.level_band(level, level_sd, going if going is not None else used, fit.use_se, dose, DAYS_AHEAD)
    if ahead[2] > rules.number("alkalinity_aim") + 1 and ahead[1] > level:
        return ends("stopped", ("too_high", ""))
    chalk = _saturation(ahead[2], facts)
    if chalk is not None and chalk > rules.number("chalk_refuse"):
        return ends("stopped", ("chalk", ""))
    litres = facts.net_volume_l
    calcium = salts.calcium_with_alkalinity_mg_l(dose)
    return DosePlan("dose", held, trough, share, given or 0.0, dose, dosing.bicarbonate_g(litres, dose), dosing.calcium_chloride_g(litres, calcium), salts.calcium_anhydrous_g(litres, calcium),
                    ahead, halved=halved, chalk=chalk is not None and chalk > rules.number("chalk_warn"), capped=used > most, test_early=ahead[0] < rules.number("alarm_alkalinity_low"))


def _saturation(alkalinity: float, facts: Facts) -> float | None:
    """Saturation of chalk at the highest level expected, by the last calcium and pH; None where either was never read."""
    calcium, ph, warm, salt = (last_reading(name, facts) for name in ("calcium", "ph", "temperature", "salinity"))
    if calcium is None or ph is None or not calcium.low or not ph.low:
        return None
    try:
        return reef_air.aragonite_saturation(alkalinity, calcium.low, ph.low, warm.low if warm is not None and warm.low else 25.0, salt.low if salt is not None and salt.low else 35.0)
    except OutOfRange:
        return None


def _days_since_reading(facts: Facts) -> float:
    row = last_reading("alkalinity", facts)
    return (facts.on - row.day).days if row is not None else float("inf")


def _stops(facts: Facts, rules: Rulebook, up: Collection[str]) -> list[tuple[Stop, str]]:
    found: list[tuple[Stop, str]] = []
    if _days_since_reading(facts) >= rules.days("dose_stop_after"):
        found.append(("no_reading", ""))
    found += [("alarm", a.title) for a in rules.alerts if a.alert in up and a.place in STOPPING_RANKS]
    large = rules.number("large_change") / 100
    if any(r.day == facts.on and r.where == "display" and change_fraction(r, facts.net_volume_l) >= large for r in facts.rows("changed_water")):
        found.append(("large_change", ""))
    return found


__all__ = ["DosePlan", "State", "Stop", "plan_dose"]
