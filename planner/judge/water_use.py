"""What the journal proves of the tank's daily use: alkalinity and what follows from it, nutrients, top-up.

A use is said in one of five ways (`Verdict`), and every reason for not knowing it is a value. Whatever breaks a line of
readings (a large change, a step of salinity) begins the count anew.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal

from planner.files.journal_values import row_unit
from planner.judge.evidence import kit_sd, unread
from planner.judge.facts import Facts, change_fraction, last_reading
from planner.rulebook.shapes import Rulebook
from planner.science import dosing, salts, use
from planner.science.use import Change, Dose, Fit, Sample
from planner.terms.records import Row, Unreadable
from planner.terms.written_amounts import nitrogen_factor

DAY = 86400.0
Verdict = Literal["not_known", "about", "known", "none", "adds"]
Gap = Literal["few_readings", "short", "begun_anew", "no_line", "damaged", "strength_unknown"]
ALKALINE_DOSES = ("bicarbonate", "carbonate", "kalkwasser", "alkalinity", "soda")
GRAMS_PER_DKH_LITRE = {"bicarbonate": dosing.bicarbonate_g(1.0, 1.0), "carbonate": dosing.carbonate_g(1.0, 1.0), "kalkwasser": salts.lime_g(1.0, 1.0)}


@dataclass(frozen=True, slots=True)
class Missing:
    """Why a use is not known: `have` of `want`, and the row or damaged line behind it."""

    gap: Gap
    have: float = 0.0
    want: float = 0.0
    row: Row | Unreadable | None = None


@dataclass(frozen=True, slots=True)
class DailyUse:
    """The use of one thing a day in its own unit (below zero: it rises), as far as it is known. `new_water`: the tested level of
    the new water; None where it was never tested. `level`: (expected, standard error) on the day of the plan."""

    name: str
    verdict: Verdict
    fit: Fit | None
    missing: tuple[Missing, ...]
    samples: tuple[Sample, ...]
    doses: tuple[Dose, ...]
    changes: tuple[Change, ...]
    new_water: float | None
    level: tuple[float, float] | None = None
    doubted: bool = False


def alkalinity_use(facts: Facts, rules: Rulebook) -> DailyUse:
    name = "alkalinity"
    begin, broken = begun(facts, rules, rules.days("use_window"))
    samples = samples_since(name, begin, facts, rules)
    doses, unclear = _doses(begin, facts)
    new, guess = _new_water(name, facts, rules)
    changes = tuple(Change(instant_days(r), change_fraction(r, facts.net_volume_l), new if new is not None else guess[0], guess[1]) for r in changes_since(begin, facts))
    found = _judged(name, samples, doses, changes, new, (rules.number("use_readings"), rules.days("use_span")), broken, unclear, facts, rules)
    return _with_level(found, facts)


def nutrient_use(name: Literal["nitrate", "phosphate"], facts: Facts, rules: Rulebook) -> DailyUse:
    """Below zero as a rule: it rises between changes."""
    begin, broken = begun(facts, rules, rules.days("nutrient_window"))
    samples = samples_since(name, begin, facts, rules)
    new = _tested(name, ("mixing", "source"), facts)
    changes = tuple(Change(instant_days(r), change_fraction(r, facts.net_volume_l), new or 0.0, kit_sd(name, new or 0.0, facts, rules)) for r in changes_since(begin, facts))
    found = _judged(name, samples, (), changes, new, (rules.number("nutrient_readings"), rules.days("nutrient_span")), broken, None, facts, rules)
    return _with_level(found, facts)


# --- top-up


@dataclass(frozen=True, slots=True)
class TopUp:
    """Litres of pure water a day: the usual day, what would be out of the ordinary, the last two days. `salinity_fall`: (ppt a day, its
    standard error) where the readings tell; `lost_l`: the tank water a day that would explain it."""

    usual_l: float
    most_l: float
    last_two: tuple[float, float]
    salinity_fall: tuple[float, float] | None
    lost_l: float

    @property
    def high(self) -> bool:
        return min(self.last_two) > self.most_l

    @property
    def low(self) -> bool:
        return max(self.last_two) < self.usual_l / 2

    @property
    def salt_leaves(self) -> bool:
        """Salinity falls beyond what its instrument may err: tank water goes, and not vapour alone."""
        return self.salinity_fall is not None and self.salinity_fall[0] > 2 * self.salinity_fall[1]


def top_up(facts: Facts, rules: Rulebook) -> TopUp | None:
    """None until enough days have a top-up written (`poured fresh`)."""
    last = facts.on.toordinal()
    window = rules.days("top_up_window")
    days: dict[int, float] = {}
    for row in facts.rows("poured"):
        if row.where == "display" and row.low is not None and row.what.startswith(("fresh", "top")) and last - row.day.toordinal() < window:
            days[row.day.toordinal()] = days.get(row.day.toordinal(), 0.0) + row.low
    if len(days) < rules.days("top_up_days"):
        return None
    first = min(days)
    *before, yesterday, today = (days.get(n, 0.0) for n in range(first, max(days) + 1))
    usual, _ = use.median_and_spread(before or [yesterday])
    begin = facts.now / DAY - window
    fit = use.fit_use(samples_since("salinity", begin, facts, rules)) if not list(changes_since(begin, facts)) else None
    fall = (fit.use, fit.use_se) if fit is not None and fit.readings >= rules.number("use_readings") else None
    salinity = last_reading("salinity", facts)
    lost = use.leak_l_day(facts.net_volume_l, salinity.low, fall[0]) if fall is not None and salinity is not None and salinity.low and salinity.low >= 1 else 0.0
    return TopUp(usual, use.top_up_most(before or [yesterday], rules.number("top_up_over") / 100), (yesterday, today), fall, lost)


# --- parts


def instant_days(row: Row) -> float:
    """Days since the epoch; the middle of what a bare date may mean."""
    return (row.earliest + row.latest) / 2 / DAY


def _as_ion(name: str) -> float:
    return nitrogen_factor(name, "ion") if name == "nitrate" else 1.0


def samples_since(name: str, begin: float, facts: Facts, rules: Rulebook) -> tuple[Sample, ...]:
    """Exact readings of the display; what lies off a kit's scale is an interval, and no number."""
    factor = _as_ion(name)
    rows = [r for r in facts.rows("reading", name) if r.where == "display" and r.low is not None and r.low == r.high and instant_days(r) >= begin]
    return tuple(Sample(instant_days(r), (r.low or 0.0) * factor, kit_sd(name, (r.low or 0.0) * factor, facts, rules)) for r in rows)


def changes_since(begin: float, facts: Facts) -> Iterator[Row]:
    return (r for r in facts.rows("changed_water") if r.where == "display" and r.low is not None and instant_days(r) >= begin)


def _doses(begin: float, facts: Facts) -> tuple[tuple[Dose, ...], Row | None]:
    """Doses of alkalinity as rises in dKH, and the first whose strength cannot be told."""
    found: list[Dose] = []
    unclear: Row | None = None
    for row in facts.rows("dosed"):
        if row.what not in ALKALINE_DOSES or row.where != "display" or instant_days(row) < begin:
            continue
        rise = dose_rise_dkh(row, facts.net_volume_l)
        if rise is None:
            unclear = unclear or row
        else:
            found.append(Dose(instant_days(row), rise))
    return tuple(found), unclear


def dose_rise_dkh(row: Row, litres: float) -> float | None:
    """What a dose of alkalinity raised; None where the salt or the strength of a liquid is not known."""
    unit = row_unit(row)
    if row.low is None:
        return None
    if unit == "dKH":
        return row.low
    grams = GRAMS_PER_DKH_LITRE.get(row.what)
    return row.low / (grams * litres) if unit == "g" and grams is not None else None


def _new_water(name: str, facts: Facts, rules: Rulebook) -> tuple[float | None, tuple[float, float]]:
    """What new water was tested at, or None; and what is taken, with its error."""
    tested = _tested(name, ("mixing",), facts)
    if tested is not None:
        return tested, (tested, kit_sd(name, tested, facts, rules))
    return None, (rules.number("new_water_alkalinity"), rules.number("new_water_alkalinity_error"))


def _tested(name: str, waters: tuple[str, ...], facts: Facts) -> float | None:
    row = next((r for where in waters if (r := last_reading(name, facts, where)) is not None), None)
    return None if row is None or row.low is None else row.low * _as_ion(name)


def begun(facts: Facts, rules: Rulebook, days: int) -> tuple[float, Missing | None]:
    """The first moment that counts, and what began the count anew."""
    begin, broken = facts.now / DAY - days, None
    most = rules.number("use_change_most") / 100
    for row in changes_since(begin, facts):
        if change_fraction(row, facts.net_volume_l) > most * 1.000001:
            begin, broken = instant_days(row), Missing("begun_anew", row=row)
    before: Row | None = None
    for row in facts.rows("reading", "salinity"):
        if row.where != "display" or row.low is None:
            continue
        if before is not None and abs(row.low - (before.low or 0.0)) > rules.number("use_salinity_step") * 1.000001 and instant_days(row) > begin:
            begin, broken = instant_days(row), Missing("begun_anew", row=row)
        before = row
    return begin, broken


def _judged(name: str, samples: tuple[Sample, ...], doses: tuple[Dose, ...], changes: tuple[Change, ...], new: float | None, least: tuple[float, float],
            broken: Missing | None, unclear: Row | None, facts: Facts, rules: Rulebook) -> DailyUse:
    fit = use.fit_use(samples, doses, changes, dose_error=rules.number("use_dose_error") / 100)
    missing: list[Missing] = []
    if (line := unread(name, "display", facts, rules)) is not None:
        missing.append(Missing("damaged", row=line))
    if unclear is not None:
        missing.append(Missing("strength_unknown", row=unclear))
    if len(samples) < least[0]:
        missing.append(Missing("few_readings", len(samples), least[0]))
    elif fit is None or fit.span < least[1]:
        missing.append(Missing("short", fit.span if fit is not None else 0.0, least[1]))
    if fit is not None and fit.misfit is not None and fit.misfit > rules.number("use_misfit"):
        missing.append(Missing("no_line", fit.misfit, rules.number("use_misfit")))
    if missing and broken is not None:
        missing.append(broken)
    verdict: Verdict = "not_known" if missing or fit is None else _said(name, fit, rules)
    return DailyUse(name, verdict, fit, tuple(missing), samples, doses, changes, new)


def _said(name: str, fit: Fit, rules: Rulebook) -> Verdict:
    if name != "alkalinity":  # rising or falling beyond its error, or level
        return "none" if abs(fit.use) <= 2 * fit.use_se else "known"
    if fit.use < -2 * fit.use_se:
        return "adds"
    if fit.use + 2 * fit.use_se < rules.number("use_nothing"):
        return "none"
    if fit.use > 0 and fit.use_se <= fit.use * rules.number("use_error_known") / 100 and fit.span >= rules.days("use_span_known"):
        return "known"
    return "about" if fit.use > 2 * fit.use_se else "not_known"


def _with_level(found: DailyUse, facts: Facts) -> DailyUse:
    """The level expected on the day of the plan, by the filter that takes one reading after another."""
    if not found.samples:
        return found
    first, *later = found.samples
    state = use.follow(use.State(first.t, first.value, 0.1 if found.name == "alkalinity" else 0.0, first.sd**2, 0.0, 0.3**2), later, found.doses, found.changes, facts.now / DAY)
    return replace(found, level=(state.level, state.level_sd), doubted=bool(state.doubted))


__all__ = ["ALKALINE_DOSES", "DAY", "DailyUse", "Missing", "TopUp", "Verdict", "alkalinity_use", "begun", "changes_since", "dose_rise_dkh", "instant_days", "nutrient_use", "samples_since", "top_up"]
