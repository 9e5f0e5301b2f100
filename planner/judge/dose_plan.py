"""The dose that holds alkalinity, and its partner of calcium: never before the use is known, small at first, and ending of itself."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Literal

from planner.judge.calcium_use import builds_skeletons, groups_kept, taken_by_nitrate
from planner.judge.daily_doses import DailyDoses
from planner.judge.evidence import HOUR
from planner.judge.facts import Facts, change_fraction, last_reading, reaches
from planner.judge.water_use import DailyUse
from planner.judge.weekly_change import STONY, weekly_share
from planner.rulebook.shapes import Rulebook
from planner.rulebook.what_jobs_do import RANKS
from planner.science import dosing, reef_air, salts, use
from planner.science.formula import OutOfRange
from planner.terms.records import Row

State = Literal["not_known", "nothing_used", "changes_hold", "lift_first", "stopped", "dose"]
Stop = Literal["no_reading", "alarm", "large_change", "test_first", "too_high", "chalk"]
STOPPING_RANKS = frozenset(RANKS[: RANKS.index("ph") + 1])
"""While one of these alarms is up nothing is dosed: what endangers life goes first, and salinity and pH move the same reading."""
DAYS_AHEAD = 7


@dataclass(frozen=True, slots=True)
class DosePlan:
    """`dose_dkh` a day for the coming week, as grams of sodium bicarbonate; `calcium_g` of the dihydrate, `calcium_anhydrous_g` of
    the salt without water, one or the other, 0 where no calcium is dosed. `ahead`: the level in a week, low, expected and high. `held_use`: what water
    changes alone make up for a day, `trough`: where they alone would let the level sink, `lowest`: where it may. `goes_on`: it is the last
    dose, whatever the use, because that is not known. `rests`: daily doses were given, and today there is none. `test_due`: the dose wants a test
    that it did not have."""

    state: State
    held_use: float
    trough: float | None
    share: float
    lowest: float
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
    goes_on: bool = False
    rests: bool = False
    test_due: bool = False


def plan_dose(alkalinity: DailyUse, facts: Facts, rules: Rulebook, up: Collection[str] = ()) -> DosePlan:
    """`up`: the alarms that stand. Where a plan settles its day they hold the dose back by its own lines."""
    share = min(1.0, weekly_share(facts, rules))
    new = alkalinity.new_water if alkalinity.new_water is not None else rules.number("new_water_alkalinity")
    lowest = rules.number("alkalinity_aim_low" if STONY & groups_kept(facts, rules) else "alkalinity_aim_low_soft")
    held = use.most_use_held(new, lowest, share)
    fit = alkalinity.fit
    used = max(0.0, fit.use) if fit is not None else 0.0
    trough = use.trough(new, used, share) if fit is not None and share > 0 else None
    doses = DailyDoses(facts, rules)
    given, last = doses.a_day(), doses.going()
    rests = last is not None and (facts.on - last[0]).days <= DAYS_AHEAD
    often = used > rules.number("dose_test_use") or not doses.since_month()
    test_due = often and _days_since_reading(facts) >= rules.days("dose_test_every")

    def ends(state: State, *stops: tuple[Stop, str]) -> DosePlan:
        # A dose that goes on nowhere because nobody knows the use any more wants tests until it is known again.
        unknown = state == "not_known" and last is not None
        wants = any(kind == "test_first" for kind, _ in stops) or (unknown and _days_since_reading(facts) >= rules.days("dose_test_soon"))
        return DosePlan(state, held, trough, share, lowest, given or 0.0, stops=stops, rests=rests or unknown, test_due=wants)

    if alkalinity.verdict == "none":
        return ends("nothing_used")
    # A dose that holds the level makes its readings flat, and of flat readings nothing more can be known: it goes on as it is.
    going = last[1] if last is not None and alkalinity.verdict in ("about", "not_known") else None
    if fit is None or alkalinity.level is None or (alkalinity.verdict != "known" and going is None):
        return ends("not_known")
    if alkalinity.verdict != "not_known" and used <= held:
        return ends("changes_hold")
    stops = tuple(_stops(facts, rules, up))
    level, level_sd = alkalinity.level
    if stops:
        return ends("stopped", *stops)
    if level < lowest - 1:
        return ends("lift_first")
    most = rules.number("dose_day_most")
    dose = min(most, going) if going is not None else _next_dose(used, given, doses.before() if given else last[1] if last is not None else None, rules)
    halved = _days_since_reading(facts) >= rules.days("dose_half_after")
    dose = dose / 2 if halved else dose
    ahead = use.level_band(level, level_sd, going if going is not None else used, fit.use_se, dose, DAYS_AHEAD)
    # Of a dose that goes on, the use is taken to be the dose, so that no level rises: there the last reading decides.
    ceiling, read = rules.number("alkalinity_aim") + 1, last_reading("alkalinity", facts)
    if (read is not None and (read.low or 0.0) > ceiling) if going is not None else (ahead[2] > ceiling and ahead[1] > level):
        return ends("stopped", ("too_high", ""))
    early = ahead[0] < rules.number("alarm_alkalinity_low")
    chalk = _saturation(ahead[2], facts)
    if chalk is not None and chalk > rules.number("chalk_refuse"):
        return ends("stopped", ("chalk", ""))
    litres = facts.net_volume_l
    # What goes into nitrate takes no calcium, and without a reading nobody knows whether any is missing.
    wanted = builds_skeletons(facts, rules) and last_reading("calcium", facts) is not None
    calcium = salts.calcium_with_alkalinity_mg_l(max(0.0, dose - taken_by_nitrate(facts, rules))) if wanted else 0.0
    return DosePlan("dose", held, trough, share, lowest, given or 0.0, dose, dosing.bicarbonate_g(litres, dose), dosing.calcium_chloride_g(litres, calcium), salts.calcium_anhydrous_g(litres, calcium),
                    ahead, halved=halved, chalk=chalk is not None and chalk > rules.number("chalk_warn"), capped=used > most, test_early=early,
                    goes_on=going is not None, test_due=test_due or (early and _days_since_reading(facts) >= rules.days("dose_test_soon")))


def _next_dose(used: float, given: float | None, before: float | None, rules: Rulebook) -> float:
    """Towards the use, by a quarter a week at most: beside the mean of the last seven days also against the week before, or a dose that
    grew every day would grow by more than half in a week."""
    step, most = rules.number("dose_step_most") / 100, rules.number("dose_day_most")
    dose = use.next_dose(used, given, first_share=rules.number("dose_first_share") / 100, most_step=step, most=most)
    return dose if before is None else min(dose, max((1 - step) * (given or 0.0), (1 + step) * before))


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
    if (change := _large_change(facts, rules)) is not None and change.day == facts.on:
        found.append(("large_change", ""))
    elif _unread_change(facts, rules):
        found.append(("test_first", ""))
    return found


def _large_change(facts: Facts, rules: Rulebook) -> Row | None:
    """The last change of the display that moves alkalinity by itself."""
    large = rules.number("large_change")
    return next((r for r in reversed(facts.rows("changed_water")) if r.where == "display" and reaches(change_fraction(r, facts.net_volume_l), large)), None)


def _unread_change(facts: Facts, rules: Rulebook) -> bool:
    """Was no test of alkalinity made since that change, on a later day or long enough after it?"""
    change, read = _large_change(facts, rules), last_reading("alkalinity", facts)
    return change is not None and (read is None or not (read.day > change.day or read.earliest - change.latest >= rules.hours("ions_after_change") * HOUR))


__all__ = ["DosePlan", "State", "Stop", "plan_dose"]
