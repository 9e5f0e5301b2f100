"""What the nitrogen cycle is expected to do in this tank, from its own readings: milestones and curves.

The journal becomes doses, changes and kit intervals; `cycle_forecast` weighs its ensemble of plausible tanks against
them. Dates made here never open a gate; they say when its tests can be expected to be good.
"""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date, timedelta
from functools import lru_cache

from planner.files.kept import Kept
from planner.frozen import dataclass
from planner.judge.challenge import dose_rise, first_ammonia
from planner.judge.cycle_inputs import (
    DAY,
    kit_readings,
    last_test,
    middle_d,
    opening_dose,
    policy_from_now,
    policy_of,
    reckoned_start,
    start_of,
    untested_doses,
)
from planner.judge.cycle_shown import reads_clear, reads_falling, shown_milestones
from planner.judge.evidence import clear_level, reading_groups
from planner.judge.facts import Facts, animals_in, change_fraction, end_of_day, view_at
from planner.judge.forecast_cache import forecast_kept
from planner.judge.gates import Verdicts
from planner.rulebook.shapes import Rulebook
from planner.science.cycle.records import Change, CycleForecast, Dose, KitReading, Policy, Quantiles, Start
from planner.terms.records import CurvePoint, Row, index_journal

MILESTONES = ("ammonia_clear", "nitrite_clear", "cycle_done")
HORIZON_D = 120.0
LONGEST_D = 365.0
OPEN_HORIZON_D = 14.0
"""Days that are looked ahead once the cycle gate is open: only what the filter can handle is asked then."""


FIRST_DOSE_D = 1.0
"""What is dosed within so many days of the start is the first dose, in one go or in parts."""
Days = tuple[int | None, int | None, int | None]
"""Quick, likely and slow, in whole days; None beyond the horizon."""


@dataclass(frozen=True, slots=True)
class Expectation:
    """Milestones as (quick, likely, slow) days after `origin` (None: after the cycle's first day); `happened` holds
    those that readings have shown, `reopened` those of them that the newest reading no longer shows (a dose is being
    worked off): their days are the next ones. `late`: not read, not expected within `stall_near` days, and likely later
    than in nine of ten tanks that start like this one; `behind`: those of them that these nine are past already. `start`:
    what the model took this tank for. `slips`: those of the unexplained readings that a second test says are wrong; `surprises`:
    those that no second test has settled. `pace`: the days from the last test to the next, while the filter is not proven."""

    origin: date | None
    offsets: dict[str, Days]
    happened: dict[str, date]
    readings_used: int
    members: int
    basis: str
    curve: tuple[CurvePoint, ...] = ()
    unexplained: tuple[Row, ...] = ()
    model: CycleForecast | None = None
    reopened: frozenset[str] = frozenset()
    late: frozenset[str] = frozenset()
    behind: frozenset[str] = frozenset()
    start: Start | None = None
    slips: tuple[Row, ...] = ()
    surprises: tuple[Row, ...] = ()
    pace: int | None = None


def expect(rules: Rulebook, facts: Facts, verdicts: Verdicts, kept: Kept | None = None) -> Expectation:
    """Milestones and curves; those already shown by readings as they happened. Once the cycle gate is open the model
    runs on for what the filter can handle, and ends with the first animal. A dose before its test brings no day forward: until that test
    the later day of with it and without it stands."""
    found = _expected(rules, facts, verdicts, kept)
    untested = untested_doses(facts) if rules.phase_as("proves_filter") not in verdicts.opened else ()
    if not untested:
        return found
    rows = [r for r in facts.journal.rows if r not in untested]
    without = _expected(rules, replace(facts, journal=index_journal(rows, facts.journal.unreadable, facts.journal.file)), verdicts, kept)
    return replace(found, offsets={name: _later(days, without.offsets[name]) for name, days in found.offsets.items()})


def expect_from(found: Expectation, begin: date | None, rules: Rulebook, facts: Facts, kept: Kept | None = None) -> Expectation:
    """The first estimate of a cycle that begins on this day, with the absences on its way. Once there is ammonia it stays as it is."""
    if found.origin is not None or found.model is None or begin is None:
        return found
    policy = policy_of(rules, facts, begin)
    ahead = tuple((first, last) for first, last in policy.away if last >= 0 and first <= HORIZON_D)
    if not ahead:  # the same for every tank of its kind
        return found
    model = forecast_untested(start_of(facts.tank), opening_dose(rules, facts), replace(policy, away=ahead), clear_level("nitrite", facts.tank, rules)[0], kept)
    return replace(found, offsets=_offsets(model), model=model, members=model.members)


def _later(one: Days, other: Days) -> Days:
    """Of two milestones the later day of each case; beyond the horizon is later than any day."""
    days = [None if a is None or b is None else max(a, b) for a, b in zip(one, other, strict=True)]
    return (days[0], days[1], days[2])


def _expected(rules: Rulebook, facts: Facts, verdicts: Verdicts, kept: Kept | None = None) -> Expectation:
    tank, first = facts.tank, first_ammonia(facts, rules)
    opened, stocked = verdicts.opened.get(rules.phase_as("proves_filter")), bool(animals_in(facts, "display"))
    # What was read once the gate was open moves none of these days, and there may be years of it.
    seen = facts if opened is None else view_at(facts, opened)
    happened, reopened = shown_milestones(rules, seen, first)
    nothing: dict[str, Days] = dict.fromkeys(MILESTONES, (None, None, None))
    if opened is not None:
        happened["cycle_done"] = opened[0]
        if first is None or stocked:
            return Expectation(first.day if first else None, nothing, happened, 0, 0, "the cycle gate is open")
    start, clear = start_of(tank), clear_level("nitrite", tank, rules)[0]
    if first is None:
        model = forecast_untested(start, opening_dose(rules, facts), policy_of(rules, facts), clear, kept)
        return Expectation(None, _offsets(model), happened, 0, model.members, "what is known of such starts, without a reading yet", model=model, start=start)
    zero = (first.earliest + first.latest) / 2
    now_d = max(0.0, (min(facts.now, end_of_day(facts.on, facts.zone)) - zero) / DAY)
    if now_d > LONGEST_D:
        basis = "the cycle gate is open" if opened is not None else "more than a year without a passed cycle: begin anew"
        return Expectation(first.day, nothing, happened, 0, 0, basis)
    doses = [Dose(middle_d(r, zero), dose_rise(r, facts)) for r in facts.rows("dosed", "ammonia") if r.where == "display" and dose_rise(r, facts) > 0]
    if first.kind == "reading":  # nobody wrote down when the rock went in: what the first test found was there by then
        doses.append(Dose(0.0, first.low or 0.0))
    if tank.cycle.ammonia == "food":
        doses += [Dose(middle_d(r, zero), rules.number("food_nitrogen"), "food") for r in facts.rows("event", "fed") if r.where == "display" and r.latest >= zero]
    changes = [Change(middle_d(r, zero), min(0.99, change_fraction(r, facts.net_volume_l))) for r in facts.rows("changed_water")
               if r.where == "display" and r.latest >= zero and change_fraction(r, facts.net_volume_l) > 0]
    readings, rows = kit_readings(facts, rules, zero, first.day)
    start = reckoned_start(start, facts, zero, now_d, rules)
    first_dose = sum(d.rise_mg_n_l for d in doses if d.what == "ammonia" and d.t_d <= FIRST_DOSE_D)
    planned = min(first_dose, opening_dose(rules, facts)) if start.kind == "dosed" else first_dose

    def seen_at(now_d: float, start: Start, policy: Policy | None, horizon_d: float = HORIZON_D) -> CycleForecast:
        return _forecast_once(kept, start, tuple(doses), tuple(changes), tuple(readings), now_d, now_d + horizon_d, policy, clear)

    def shown(model: CycleForecast) -> tuple[dict[str, date], frozenset[str]]:  # what no tank explains proves no milestone either
        return shown_milestones(rules, seen, first, frozenset(rows[i].line for i in model.unexplained)) if model.unexplained else (happened, reopened)

    def days_of(model: CycleForecast, reopened: frozenset[str], now_d: float, start: Start, policy: Policy | None) -> dict[str, Days]:
        return _no_sooner(_offsets(model), start, first_dose, planned, policy or policy_of(rules, facts), clear, kept) | {name: _next_clear(model, name, now_d, clear) for name in reopened}

    pace, policy, proving = None, None, "nitrite_clear" in happened
    if not stocked and opened is None:
        usual, last = rules.days("cycle_test_every"), last_test(facts, verdicts, rules, first.day)
        if not proving:  # as the evening of the last test saw it, so that no night moves the day of the next
            then_d = max(0.0, (end_of_day(last, facts.zone) - zero) / DAY)
            then, as_usual = reckoned_start(start_of(tank), facts, zero, then_d, rules), policy_from_now(rules, facts, verdicts, proving, first.day)
            as_usual = replace(as_usual, first_day_d=(last - first.day).days + usual, first_gap_d=usual)
            told = seen_at(then_d, then, as_usual)
            had, again = shown(told)
            pace = next_test_days(Expectation(first.day, days_of(told, again, then_d, then, as_usual), had, 0, 0, ""), last, usual)
        policy = policy_from_now(rules, facts, verdicts, proving, first.day, pace)
    model = seen_at(now_d, start, policy, OPEN_HORIZON_D if opened is not None else HORIZON_D)
    used = len(model.readings_used)
    basis = f"{used} reading{'s' if used != 1 else ''} of this tank, compared with {model.members} simulated tanks"
    odd = tuple(rows[i] for i in model.unexplained)
    least = rules.number("kit_step_unknown")
    slips = tuple(rows[i] for i in model.mistakes if opened is None and not _both_low(readings[i], model, least))
    surprises = tuple(rows[i] for i in model.unexplained if opened is None and i not in model.mistakes and not _both_low(readings[i], model, least))
    happened, reopened = shown(model)
    happened |= {} if opened is None else {"cycle_done": opened[0]}
    offsets = nothing
    if opened is None:
        offsets = days_of(model, reopened, now_d, start, policy)
    found = Expectation(first.day, offsets, happened, used, model.members, basis, curve_from(model, first.day), odd, model, reopened, start=start, slips=slips, surprises=surprises, pace=pace)
    late = frozenset[str]() if opened is not None or not used else _late(found, rules, facts, clear, kept)
    return replace(found, late=late, behind=frozenset(n for n in late if now_d > _usual_slow_d(found, n, rules, facts, clear, kept)))


def _both_low(reading: KitReading, model: CycleForecast, step: float) -> bool:
    """A reading within a step of nothing, where the model too goes down to two steps: a tail longer than the kit shows,
    and no slip of the keeper's."""
    curve: tuple[float, ...] = getattr(model, reading.name).p10
    return reading.high <= step and curve[min(round(reading.t_d), len(curve) - 1)] <= 2 * step


@lru_cache(maxsize=16)
def _forecast_once(kept: Kept | None, start: Start, doses: tuple[Dose, ...], changes: tuple[Change, ...], readings: tuple[KitReading, ...], now_d: float, horizon_d: float,
                   policy: Policy | None, clear_mg_n_l: float) -> CycleForecast:
    """`forecast_kept`, which an evening's pages ask the same thing."""
    return forecast_kept(kept, start, doses, changes, readings, now_d, horizon_d, policy, clear_mg_n_l)


@lru_cache(maxsize=64)
def forecast_untested(start: Start, dose_mg_n_l: float, policy: Policy, clear_mg_n_l: float, kept: Kept | None = None) -> CycleForecast:
    """What is believed before anything happened: the same for every tank of one kind, so worked out once."""
    opening = [Dose(0.0, dose_mg_n_l)] if dose_mg_n_l > 0 else []
    return forecast_kept(kept, start, opening, [], [], 0.0, HORIZON_D, policy, clear_mg_n_l)


def _offsets(model: CycleForecast) -> dict[str, Days]:
    return {name: _whole(getattr(model, name)) for name in MILESTONES}


def _whole(q: Quantiles) -> Days:
    days = [None if d is None else math.ceil(d - 1e-6) for d in (q.p10, q.p50, q.p90)]
    return (days[0], days[1], days[2])


def _no_sooner(offsets: dict[str, Days], start: Start, first_dose: float, planned: float, policy: Policy, clear: float, kept: Kept | None) -> dict[str, Days]:
    """The milestones of an overdose, none of them sooner than with the planned dose: in the model a larger dose also grows a larger filter,
    which nobody has shown to pass its proof the sooner for it. Doses in mg/L as N."""
    if first_dose <= planned:
        return offsets
    as_planned, as_dosed = (_offsets(forecast_untested(start, dose, policy, clear, kept)) for dose in (planned, first_dose))
    return {name: tuple(day if day is None or wanted is None or had is None else day + max(0, wanted - had)  # type: ignore[misc]
                        for day, wanted, had in zip(offsets[name], as_planned[name], as_dosed[name], strict=True)) for name in offsets}


def _next_clear(model: CycleForecast, name: str, now_d: float, clear: float) -> Days:
    """The first days from now on that the curves put at the kit's zero: the low, the likely and the high curve."""
    band = model.ammonia if name == "ammonia_clear" else model.nitrite
    low, likely, high = (next((d for d in model.days if d >= now_d - 1 and curve[d] <= clear), None) for curve in (band.p10, band.p50, band.p90))
    return (low, likely, high)


def _late(found: Expectation, rules: Rulebook, facts: Facts, clear: float, kept: Kept | None) -> frozenset[str]:
    """Milestones that a test of this week shows not to be there, and that are likely to come later than in nine of ten
    tanks with this start. Before `stall_no_nitrite` days nothing is late."""
    assert found.origin is not None
    if (facts.on - found.origin).days < rules.days("stall_no_nitrite"):
        return frozenset()
    late = set()
    for name in ("ammonia_clear", "nitrite_clear"):
        likely = found.offsets[name][1]
        reading = name.removesuffix("_clear")
        newest = next(reading_groups(reading, "display", facts, rules), None)
        fresh = newest is not None and facts.now - newest.earliest <= rules.hours("cycle_weekly") * 3600
        if name in found.happened or newest is None or not fresh or reads_clear(reading, newest, facts, rules):
            continue
        if reads_falling(reading, facts, rules):
            continue
        far = likely is None or (found.origin + timedelta(days=likely) - facts.on).days > rules.days("stall_near")
        if far and (likely is None or likely > _usual_slow_d(found, name, rules, facts, clear, kept)):
            late.add(name)
    return frozenset(late)


def _usual_slow_d(found: Expectation, name: str, rules: Rulebook, facts: Facts, clear: float, kept: Kept | None) -> float:
    """The day by which nine of ten tanks with this start have a milestone, before any reading."""
    start = found.start or start_of(facts.tank)
    usual = forecast_untested(start, opening_dose(rules, facts), policy_of(rules, facts), clear, kept)
    slow: float | None = getattr(usual, name).p90
    return HORIZON_D if slow is None else slow


def curve_from(model: CycleForecast, origin: date) -> tuple[CurvePoint, ...]:
    """The curves day by day, mg/L as N, counted from the day `origin` of the first ammonia."""
    def band(curve: object, i: int) -> tuple[float, float, float]:
        return (round(curve.p10[i], 4), round(curve.p50[i], 4), round(curve.p90[i], 4))  # type: ignore[attr-defined]

    return tuple(CurvePoint(origin + timedelta(days=day), band(model.ammonia, i), band(model.nitrite, i), band(model.nitrate, i)) for i, day in enumerate(model.days))


def next_test_days(expectation: Expectation, on: date, usual: int) -> int:
    """Days to the next test: daily when a milestone is near and its date known to a week, and while the filter is being
    proven; one or two more than usual where the next is more than one or two weeks off; else as usual."""
    origin = expectation.origin
    if origin is None or not expectation.offsets:
        return usual
    if "nitrite_clear" in expectation.happened:
        return 1
    away = []
    for name in ("ammonia_clear", "nitrite_clear"):
        low, _likely, high = expectation.offsets.get(name, (None, None, None))
        if name in expectation.happened or low is None:
            continue
        first, last = origin + timedelta(days=low), origin + timedelta(days=high if high is not None else low + 14)
        if first - timedelta(days=1) <= on <= last + timedelta(days=1) and (last - first).days <= 8:
            return 1
        away.append((first - on).days)
    return usual + (2 if min(away) > 14 else 1 if min(away) > 7 else 0) if away else usual
